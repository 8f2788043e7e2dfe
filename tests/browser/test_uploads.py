"""Files at the uploaders in a real browser: refused with a sentence, and the page goes on.

The ways a file can be damaged are all tried in `tests/test_faults_uploads.py`; here the same pages
get real files: what the page library itself refuses, a file given again after another page, and
what stands on the screen before and after.
"""

from __future__ import annotations

import json
from pathlib import Path

from selenium.webdriver.common.by import By

from app.form import case_of_answers, code_picture, questions
from app.shell import words
from engine.files.case_json import case_to_json
from engine.files.fhir import prescription_to_fhir
from tests.browser import walk
from tests.browser.harness import Browser, Served
from tests.browser.test_team import HEADER
from tests.browser.walk import box, press, retype, turn_to, upload
from tests.upload_damages import HOSTILE, LIST, RANDOM, ROWS

CASE = case_of_answers.ask(questions.EXAMPLE).case
MEGABYTE = 2**20
REFUSED = ".lg-refused[role=alert]"


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


def test_a_file_given_again_after_another_page(keeping: Served, shared: Browser, tmp_path: Path):
    good = json.dumps({**json.loads(case_to_json(CASE)), "label": "B7"}).encode()
    walk.example(shared, keeping)
    retype(shared, "Distance (cm)", "67.5")
    turn_to(shared, "Kept cases", until="Open a file")
    upload(shared, tmp_path / "sheet.pdf", b"%PDF-1.7")
    shared.wait_for_text("application/pdf files are not allowed.")
    upload(shared, tmp_path / "large.json", b" " * (code_picture.LARGEST_MB + 1) * MEGABYTE)
    shared.wait_for_text("File must be 20.0MB or smaller.")
    upload(shared, tmp_path / "case.json", good[:300])
    alert(shared, "A damaged or cut off file")
    turn_to(shared, "Interview", until="Age (years)")
    assert box(shared, "Distance (cm)").get_attribute("value") == "67.5"
    turn_to(shared, "Kept cases", until="Open a file")
    assert "The file was not opened" not in shared.text()
    hostile = json.dumps({**json.loads(good), "label": HOSTILE}).encode()
    upload(shared, tmp_path / "case.json", hostile)
    alert(shared, "![x](http://example")
    upload(shared, tmp_path / "good.json", good)
    shared.wait_for_text("A whole case.")
    upload(shared, tmp_path / "other.json", b"")
    alert(shared, "An empty file")
    upload(shared, tmp_path / "good.json", good)
    shared.wait_for_text("A whole case.")
    press(shared, "Open the file in the Interview")
    shared.wait_for(lambda: bool(shared.driver.find_elements(By.CSS_SELECTOR, ".st-key-keep")), "")
    assert box(shared, "Label of your choice").get_attribute("value") == "B7"
    whole(shared)


def test_a_list_is_refused_read_and_forgotten(keeping: Served, shared: Browser, tmp_path: Path):
    walk.example(shared, keeping)
    turn_to(shared, "Order", until="Lens to order")
    retype(shared, "Tint, or none", "grey 10")
    press(shared, "Load a laboratory's list")
    upload(shared, tmp_path / "large.csv", LIST.encode() * 20_000)
    shared.wait_for_text("File must be 1.0MB or smaller.")
    upload(shared, tmp_path / "list.csv", json.dumps(prescription_to_fhir(CASE)).encode())
    alert(shared, "The list was not loaded. Header: {")
    upload(shared, tmp_path / f"{HOSTILE[:27].replace('/', '')}.csv", RANDOM)
    alert(shared, "Text in another encoding, or cut off cannot be used. Allowed: a whole text file")
    quoted = HOSTILE.replace('"', "")
    row = f'"{quoted}",office,1,lower_limbus,16,near\n=1+1,office,1,lower_limbus,16,near\n'
    upload(shared, tmp_path / "list.csv", (LIST + row).encode())
    shared.wait_for_text("Usable designs: 1.")
    assert "Values that do not fit: 2. Their rows are left out." in shared.text()
    assert "3\tdesign\t![x](http://example.invalid/a)" in shared.text()
    shared.wait_for_text("Design of the loaded list")
    assert box(shared, "Tint, or none").get_attribute("value") == "grey 10"
    if "Forget the list" not in shared.text():
        press(shared, "Load a laboratory's list")
    press(shared, "Forget the list")
    shared.wait_for(
        lambda: "Design of the loaded list" not in shared.text() and shared.idle(), "no list"
    )
    shared.settle()
    assert "Usable designs" not in shared.text()
    whole(shared)


def test_a_team_file_is_refused_and_the_next_one_read(
    keeping: Served, shared: Browser, tmp_path: Path
):
    shared.enter(keeping, "team", until="Who is in the team")
    retype(shared, "50 to 54, at a monitor", "12")
    press_label(shared, "choose a file of rows")
    shared.wait_for_text("Download a spreadsheet to fill in")
    upload(shared, tmp_path / "team.csv", json.dumps(prescription_to_fhir(CASE)).encode())
    alert(shared, "The file was not read. There is no row with names of columns.")
    upload(shared, tmp_path / "team.xlsx", ROWS.encode("utf-16")[:-1])
    alert(shared, "no text, or a damaged one")
    rows = f'{ROWS}A-3,54,"{HOSTILE.replace(chr(34), "")}",24,6,\n{HOSTILE[:20]},54,monitor,24,6,\n'
    upload(shared, tmp_path / "team.csv", rows.encode())
    shared.wait_for_text("Read: 4 rows, 2 of them good; 2 people")
    assert "row 4\tscreen_kind\t![x](http://example.invalid/a)" in shared.text()
    assert "row 5\tref\t(not repeated)" in shared.text()
    upload(shared, tmp_path / "team.csv", f"{HEADER}\n".encode())
    alert(shared, "no row under the header. Needed: at least one row")
    press_label(shared, "type a table of age bands")
    shared.wait_for_text("How many people of each age")
    assert box(shared, "50 to 54, at a monitor").get_attribute("value") == "12"
    whole(shared)


def press_label(page: Browser, said: str) -> None:
    """Choose one of several."""
    page.driver.execute_script(
        "[...document.querySelectorAll('label')]"
        ".find(one => one.innerText.includes(arguments[0])).click()",
        said,
    )
    page.settle()
