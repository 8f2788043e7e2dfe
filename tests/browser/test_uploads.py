"""Files at the uploaders in a real browser: refused with a sentence, and the page goes on.

The ways a file can be damaged are all tried in `tests/test_faults_uploads.py`; here the same pages
get real files: what the page library itself refuses, a file given again after another page, and
what stands on the screen before and after.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from app.form import case_of_answers, questions
from app.shell import words
from engine.files.exchange import LARGEST_UPLOAD_BYTES, case_to_json, prescription_to_fhir
from tests.browser.harness import Browser, Served, start_app
from tests.browser.test_interview import load_example
from tests.browser.test_team import HEADER, press
from tests.browser.walk import box, retype
from tests.upload_damages import HOSTILE, LIST, PNG, RANDOM, ROWS, ZIP

CASE = case_of_answers.ask(questions.EXAMPLE).case
MEGABYTE = 2**20
REFUSED = ".lg-refused[role=alert]"


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A program with an empty store of its own, whose words are read when it has stopped."""
    program = start_app(store=tmp_path_factory.mktemp("kept") / "cases.sqlite3")
    yield program
    program.stop()
    assert "Traceback" not in "".join(program.said)
    assert "fault " not in "".join(program.said)


def give(page: Browser, path: Path, content: bytes) -> None:
    """Hand the page a real file."""
    path.write_bytes(content)
    where = (By.CSS_SELECTOR, "input[type=file]")
    page.wait_for(lambda: bool(page.driver.find_elements(*where)), "an uploader")
    page.driver.find_element(*where).send_keys(str(path))
    page.settle()


def alert(page: Browser, words_: str) -> None:
    """Wait for a refusal that says so; nothing failed and nothing was rendered."""
    script = "return [...document.querySelectorAll(arguments[0])].map(one => one.innerText)"
    told = page.driver.execute_script
    page.wait_for(lambda: any(words_ in one for one in told(script, REFUSED)), words_)
    whole(page)


def whole(page: Browser) -> None:
    """No failure, no picture and no link from a file."""
    assert words.FAULT not in page.text()
    assert not page.has("stException")
    assert page.driver.find_elements(By.CSS_SELECTOR, "[data-testid=stMain] img") == []
    assert page.driver.find_elements(By.CSS_SELECTOR, "a[href*='example.invalid']") == []
    assert page.outside_requests() == []


def turn(page: Browser, name: str, *, until: str) -> None:
    """Go to another page as a person does, by the navigation at the top."""
    script = "[...document.querySelectorAll('a')].find(a => a.innerText.trim() === arguments[0])"
    page.wait_for(lambda: bool(page.driver.execute_script(f"return {script}", name)), name)
    page.driver.execute_script(f"{script}.click()", name)
    page.wait_for_text(until)
    page.settle()


def test_a_file_given_again_after_another_page(own: Served, desktop: Browser, tmp_path: Path):
    good = json.dumps({**json.loads(case_to_json(CASE)), "label": "B7"}).encode()
    desktop.enter(own, until="Interview")
    load_example(desktop)
    retype(desktop, "Distance (cm)", "67.5")
    for content, says in (
        (good[:300], "A damaged or cut off file"),
        (ZIP, "JSON in UTF-8"),
        (good.decode().encode("utf-16"), "JSON in UTF-8"),
        (json.dumps({**json.loads(good), "label": HOSTILE}).encode(), "![x](http://example"),
    ):
        turn(desktop, "Kept cases", until="Open a file")
        give(desktop, tmp_path / "case.json", content)
        alert(desktop, says)
        turn(desktop, "Interview", until="Age (years)")
        assert box(desktop, "Distance (cm)").get_attribute("value") == "67.5"
    turn(desktop, "Kept cases", until="Open a file")
    assert "The file was not opened" not in desktop.text()
    give(desktop, tmp_path / "case.json", good)
    desktop.wait_for_text("A whole case.")
    give(desktop, tmp_path / "other.json", b"")
    alert(desktop, "An empty file")
    give(desktop, tmp_path / "case.json", good)
    desktop.wait_for_text("A whole case.")
    press(desktop, "Open the file in the Interview")
    desktop.wait_for(
        lambda: bool(desktop.driver.find_elements(By.CSS_SELECTOR, ".st-key-keep")), ""
    )
    assert box(desktop, "Label of your choice").get_attribute("value") == "B7"
    whole(desktop)


def test_what_the_uploader_itself_refuses_changes_nothing(
    own: Served, desktop: Browser, tmp_path: Path
):
    desktop.enter(own, until="Interview")
    load_example(desktop)
    turn(desktop, "Kept cases", until="Open a file")
    give(desktop, tmp_path / "picture.png", PNG)
    desktop.wait_for_text("image/png files are not allowed.")
    give(desktop, tmp_path / "large.json", b" " * (LARGEST_UPLOAD_BYTES + MEGABYTE))
    desktop.wait_for_text("File must be 5.0MB or smaller.")
    turn(desktop, "Order", until="Lens to order")
    retype(desktop, "Tint, or none", "grey 10")
    press(desktop, "Load a laboratory's list")
    give(desktop, tmp_path / "large.csv", LIST.encode() * 20_000)
    desktop.wait_for_text("File must be 1.0MB or smaller.")
    assert box(desktop, "Tint, or none").get_attribute("value") == "grey 10"
    whole(desktop)


def test_a_list_is_refused_read_and_forgotten(own: Served, desktop: Browser, tmp_path: Path):
    desktop.enter(own, until="Interview")
    load_example(desktop)
    turn(desktop, "Order", until="Lens to order")
    retype(desktop, "Tint, or none", "grey 10")
    press(desktop, "Load a laboratory's list")
    give(desktop, tmp_path / "list.csv", json.dumps(prescription_to_fhir(CASE)).encode())
    alert(desktop, "The list was not loaded. Header: {")
    give(desktop, tmp_path / f"{HOSTILE[:27].replace('/', '')}.csv", RANDOM)
    alert(desktop, "Text in another encoding, or cut off is refused; allowed: a whole text file")
    quoted = HOSTILE.replace('"', "")
    row = f'"{quoted}",office,1,lower_limbus,16,near\n=1+1,office,1,lower_limbus,16,near\n'
    give(desktop, tmp_path / "list.csv", (LIST + row).encode())
    desktop.wait_for_text("Designs that can be used: 1.")
    assert "Values refused: 2; their rows are left out." in desktop.text()
    assert "3\tdesign\t![x](http://example.invalid/a)" in desktop.text()
    desktop.wait_for_text("Design of the loaded list")
    assert box(desktop, "Tint, or none").get_attribute("value") == "grey 10"
    if "Forget the list" not in desktop.text():
        press(desktop, "Load a laboratory's list")
    press(desktop, "Forget the list")
    desktop.wait_for(
        lambda: "Design of the loaded list" not in desktop.text() and desktop.idle(), "no list"
    )
    desktop.settle()
    assert "Designs that can be used" not in desktop.text()
    whole(desktop)


def test_a_team_file_is_refused_and_the_next_one_read(
    own: Served, desktop: Browser, tmp_path: Path
):
    desktop.enter(own, "team", until="Who is in the team")
    retype(desktop, "50 to 54, at a monitor", "12")
    press_label(desktop, "choose a file of rows")
    desktop.wait_for_text("Download a template")
    give(desktop, tmp_path / "team.csv", json.dumps(prescription_to_fhir(CASE)).encode())
    alert(desktop, "The file was not read. header: {")
    give(desktop, tmp_path / "team.csv", ROWS.encode("utf-16"))
    alert(desktop, "Text in another encoding, or cut off is refused".lower()[1:])
    rows = f'{ROWS}A-3,54,"{HOSTILE.replace(chr(34), "")}",24,6,\n{HOSTILE[:20]},54,monitor,24,6,\n'
    give(desktop, tmp_path / "team.csv", rows.encode())
    desktop.wait_for_text("Read: 4 rows, 2 of them good; 2 people")
    assert "row 3\tscreen_kind\t![x](http://example.invalid/a)" in desktop.text()
    assert "row 4\tref\t(not repeated)" in desktop.text()
    give(desktop, tmp_path / "team.csv", f"{HEADER}\n".encode())
    alert(desktop, "a header alone is refused; allowed: at least one row")
    press_label(desktop, "type a table of age bands")
    desktop.wait_for_text("How many people of each age")
    assert box(desktop, "50 to 54, at a monitor").get_attribute("value") == "12"
    whole(desktop)


def press_label(page: Browser, said: str) -> None:
    """Choose one of several."""
    page.driver.execute_script(
        "[...document.querySelectorAll('label')]"
        ".find(one => one.innerText.includes(arguments[0])).click()",
        said,
    )
    page.settle()
