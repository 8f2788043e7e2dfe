"""Nothing a person told leaves the pages: one walk through all of them, then a look everywhere.

The program runs in a home of its own and is watched from inside. Everything typed, uploaded and
saved carries a mark that occurs nowhere else; afterwards every byte it wrote, every line it said,
every address and every call to a network is searched for the mark.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from app.form import case_of_answers, questions
from app.shell import words
from engine.files.case_json import case_to_json
from tests.browser.apart import Apart, apart
from tests.browser.harness import Browser, browser
from tests.browser.test_flows_wearer import into_the_frame
from tests.browser.test_home_file import RESULT, do
from tests.browser.walk import EXAMPLE, example, paste, retype, turn_to
from tests.home_visits import READER, presses

MARK = "Zqxv"
"""In no word of any language, no file of the program and no random token by any likely chance."""
NUMBERS = ("54.7319", "61.2739", "66.4817")
"""Measured values that nobody else would write: an age, a distance at home, a distance."""
AGE = "Age (years)"
FIELDS = "[data-testid=stMain] input[type=text]:not([role=combobox]), [data-testid=stMain] textarea"
PASTE = """
const [where, mark, texts, done] = arguments, tried = new Set(), held = [];
const next = () => [...document.querySelectorAll(where)].find(one =>
  one.offsetParent && !tried.has(one) && !one.value.includes(mark));
(async () => {
  for (let one = next(); one; one = next()) {
    const text = texts[tried.size];
    tried.add(one);
    held.push(await lgPaste(one, text));
  }
  done(held);
})();
"""
"""Paste a text into each field that shows and holds none of them; say which held it."""
MOST_FIELDS = 200
"""Room for the fields of a page: one without a text of its own fails the walk."""
PASSES = 2
"""An answer shows fields more, a row for another activity, which are filled as well."""
UNFOLD = """
const closed = document.querySelectorAll('[data-testid=stExpander] details:not([open]) summary');
closed.forEach(one => one.click());
return closed.length;
"""
PRESS = """
const found = [...document.querySelectorAll(arguments[1] + ' :is(button, label)')];
const meant = found.filter(b => b.innerText.trim().startsWith(arguments[0]) && !b.disabled);
meant.forEach(one => (one.querySelector('input[type=checkbox]') || one).click());
return meant.length;
"""
LARGE = 2_500_000
"""Bytes; above 1 MB the page library's default is to park an upload on the disk."""
PAGES = ("", "desk", "order", "collection", "cases", "home", "team", "evidence")


def hostile(number: int) -> str:
    """What would call a stranger if it were ever taken for Markdown or markup."""
    mark = f"{MARK}{number}"
    return f"![{mark}](http://{mark}.invalid/a)<img src=//{mark}.invalid/b>"


@dataclass
class Walk:
    """What was seen on the way."""

    program: Apart
    page: Browser
    downloads: Path
    addresses: set[str] = field(default_factory=set)
    rendered: list[str] = field(default_factory=list)
    refused: dict[str, int] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    held: set[Path] = field(default_factory=set)
    requests: list[str] = field(default_factory=list)
    open_files: set[str] = field(default_factory=set)
    fields: int = 0

    def to(self, name: str) -> None:
        """Turn to a page by the menu and open everything that can be unfolded on it."""
        turn_to(self.page, words.PAGES[name or "interview"], until="")
        self.show(name)

    def show(self, name: str) -> None:
        """Open everything that can be unfolded on the page that shows, and look."""
        self.unfold()
        self.look(name)

    def unfold(self) -> None:
        """Open every part that is folded, until none is left."""
        unfolded = 0
        while unfolded < 2:
            self.page.settle()
            unfolded = 0 if self.page.driver.execute_script(UNFOLD) else unfolded + 1

    def look(self, name: str) -> None:
        """Note the address, and anything drawn that came from a mark."""
        self.page.settle()
        self.addresses.add(self.page.driver.current_url)
        self.open_files.update(self.program.held_open())
        self.rendered += self.page.driver.execute_script(
            "return [...document.querySelectorAll('*')].filter(e => e.tagName === 'IMG' &&"
            " e.closest('[data-testid=stMain]') || ['src', 'href', 'srcset', 'data', 'action']"
            ".some(a => (e.getAttribute(a) || '').toLowerCase().includes(arguments[0])))"
            ".map(e => arguments[1] + ': ' + e.outerHTML.slice(0, 200))",
            MARK.lower(),
            name,
        )

    def fill(self, name: str) -> None:
        """Paste something hostile into every field of the page that shows, later ones too."""
        drawn = "return Boolean(document.querySelector(arguments[0])?.offsetParent)"
        script = self.page.driver.execute_script
        self.page.wait_for(lambda: script(drawn, FIELDS), f"a field on {name}")
        for _ in range(PASSES):
            texts = [hostile(self.fields + at) for at in range(MOST_FIELDS)]
            held = self.page.driver.execute_async_script(PASTE, FIELDS, MARK, texts)
            assert all(held), (name, held)
            self.fields += len(held)
            self.page.settle()
        if name != "cases":
            self.page.wait_for_text(f"![{MARK}")
        self.look(name)
        self.refused[name] = len(self.page.driver.find_elements(By.CSS_SELECTOR, ".lg-refused"))

    def give(self, name: str, content: bytes, *, until: str) -> None:
        """Upload a file and wait for what the page says."""
        path = self.downloads / name
        path.write_bytes(content)
        self.page.wait_for(
            lambda: bool(self.page.driver.find_elements(By.CSS_SELECTOR, "input[type=file]")),
            "an uploader",
        )
        self.page.driver.find_element(By.CSS_SELECTOR, "input[type=file]").send_keys(str(path))
        self.page.wait_for_text(until)
        self.look(name)

    def press(self, label: str, *, within: str = "[data-testid=stMain]") -> None:
        """Press every button whose words begin so, downloads included."""
        script = self.page.driver.execute_script
        self.page.wait_for(lambda: bool(script(PRESS, label, within)), f"{label} to press")
        self.page.settle()

    def where_it_is_kept(self) -> set[Path]:
        """Files of the program that hold a mark."""
        marks = [MARK.encode(), *map(str.encode, NUMBERS)]
        marks += [MARK.encode("utf-16-le"), MARK.lower().encode()]
        return {
            path
            for path, content in self.program.files()
            if self.downloads not in path.parents and any(mark in content for mark in marks)
        }


def hostile_everywhere(walk: Walk) -> None:
    """Hostile texts in every field of the pages that ask about one wearer."""
    example(walk.page, walk.program.served)
    walk.show("interview")
    for name in ("order", "desk", ""):
        walk.to(name)
        walk.fill(name or "interview")
    walk.press(EXAMPLE)


def ordered_and_saved(walk: Walk) -> None:
    """A case with marks in it is saved; an order with marks and a laboratory's list is printed."""
    label = {"Label of your choice": f"{MARK} label"}
    paste(walk.page, {AGE: NUMBERS[0], "Distance (cm)": NUMBERS[2], **label})
    walk.press("Save")
    walk.page.wait_for_text(f"Case {MARK} label: saved")
    walk.to("order")
    named = ("Coating", "Tint", "Remake terms", "Reference on the sheets")
    paste(walk.page, {name: f"{MARK} {number}" for number, name in enumerate(named)})
    rows = "design,kind,degressions_d,reference,minimum_height_mm,verification_power\n"
    rows += f"{MARK} desk,office,0.75,lower_limbus,16,on_order\n{hostile(900)},office,1,x,1,near\n"
    walk.give("list.csv", rows.encode(), until="Usable designs: 1.")
    walk.press("Order sheet")
    walk.press("Wearer")
    walk.press("Keep this order")
    walk.page.wait_for_text("Save the case below")
    walk.press("Save")
    walk.page.wait_for_text(f"Case {MARK} label: saved")
    walk.to("collection")
    walk.fill("collection")


def kept_cases(walk: Walk) -> None:
    """Files with the mark, opened and refused; the case handed on and compared."""
    walk.to("cases")
    walk.fill("cases")
    walk.page.wait_for_text("kept cases has this in its label")
    retype(walk.page, "Search the labels", MARK)
    walk.page.wait_for_text("Hand it on as a file")
    walk.show("cases")
    for ending in ("Every save", "This save", "Prescription"):
        walk.press(ending)
    case = json.loads(case_to_json(case_of_answers.ask(questions.EXAMPLE).case))
    bad = json.dumps({**case, "label": hostile(901)}).encode()
    walk.give("bad.json", bad, until="The file was not opened")
    named = {**case, "label": f"{MARK} file", "extensions": {"note": [hostile(902)] * 45_000}}
    content = json.dumps(named).encode()
    assert len(content) > LARGE
    walk.give("case.json", content, until="A whole case.")


def home_and_team(walk: Walk) -> None:
    """The home check with odd numbers; a team of pseudonyms with the mark."""
    walk.to("home")
    into_the_frame(walk.page)
    made = presses(READER)
    made[made.index(("s0.distance", "52"))] = ("s0.distance", NUMBERS[1])
    assert do(walk.page, *made) == RESULT
    walk.page.driver.switch_to.default_content()
    walk.look("home result")
    walk.press(words.HOME_SAVE)
    walk.press(words.HOME_SHEET)
    walk.to("team")
    walk.fill("team")
    walk.press("choose a file of rows")
    walk.page.wait_for_text("Download a spreadsheet to fill in")
    header = "ref,age_years,screen_kind,screen_in,hours_screen,present_kind\n"
    rows = f"{MARK}-1,54.7319,monitor,24,6,\n{MARK} x,54,{hostile(903)},24,6,\n"
    walk.give("team.csv", (header + rows).encode(), until="Rows left out")
    walk.press("Download the list")
    large = header + rows * (LARGE // len(rows) + 1)
    walk.give("large.csv", large.encode(), until="More than 10,000 rows")
    walk.to("evidence")


def failures(walk: Walk) -> None:
    """A page, and a button, that fail with everything they were given in the fault's words."""
    walk.to("")
    for function, meet in (
        ("app.draw.result_words.recommendation_line", lambda: retype(walk.page, AGE, "55.7319")),
        ("app.form.keep.save", lambda: walk.press("Save")),
    ):
        walk.program.fail(function)
        meet()
        walk.page.wait_for_text(words.FAULT)
        walk.faults.append(walk.page.driver.page_source)
        walk.look(function)
        walk.program.fail()
        walk.page.go("")
        walk.page.wait_for_text("h comfortable", selector=".st-key-answer")


def deletion(walk: Walk) -> None:
    """The case is deleted, then the answers."""
    walk.held = walk.where_it_is_kept()
    walk.to("cases")
    walk.press("Yes, delete", within="[class*='cases-sure']")
    walk.press("Delete", within=".st-key-delete-case")
    walk.page.wait_for_text("is deleted.")
    walk.page.go("")  # by its address, as it is typed
    walk.show("")
    walk.press("Delete these answers")
    walk.page.wait_for_text(words.DRAFT_DELETED)
    walk.look("after deletion")


PARTS = (
    hostile_everywhere, ordered_and_saved, kept_cases, home_and_team, failures, deletion,
)  # fmt: skip


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Walk]:
    """One walk through all eight pages; the program is stopped at its end."""
    folder = tmp_path_factory.mktemp("apart")
    downloads = folder / "downloads"
    downloads.mkdir()
    with apart(folder) as program, browser(apart=True) as page:
        page.downloads_to(downloads)
        walk = Walk(program, page, downloads)
        for part in PARTS:
            part(walk)
        history = page.driver.execute_cdp_cmd("Page.getNavigationHistory", {})
        visited = {entry["url"] for entry in history["entries"]}
        walk.addresses |= visited - {"about:blank"}  # where its window began
        entries = "return performance.getEntries().map(e => e.name)"
        walk.requests = [*page.requests(), *page.driver.execute_script(entries)]
        program.served.stop()
        yield walk


def test_the_walk_met_every_page_and_its_marks_were_read(walked: Walk) -> None:
    paths = {address.split("?")[0].rsplit("/", 1)[1] for address in walked.addresses}
    assert paths == set(PAGES)
    assert walked.fields > 100
    assert all(
        walked.refused[name] for name in ("interview", "desk", "order", "collection", "team")
    )
    assert sum(MARK.encode() in one.read_bytes() for one in walked.downloads.iterdir()) >= 5


def test_nothing_typed_is_ever_rendered(walked: Walk) -> None:
    assert walked.rendered == []


def test_what_the_process_says_holds_nothing_that_was_told(walked: Walk) -> None:
    said = (walked.program.folder / "said").read_text(encoding="utf-8")
    assert MARK.lower() not in said.lower()
    assert not [number for number in NUMBERS if number in said]
    assert "Traceback" not in said
    lines = [line for line in said.splitlines() if line.strip()]
    assert lines[0].startswith("Levelgaze is at http://127.0.0.1:")
    assert lines[-1] == words.STOPPED
    assert len(lines[1:-1]) == 2, said
    assert all("fault RuntimeError at sitecustomize.py:" in line for line in lines[1:-1])


def test_a_failure_is_told_without_what_it_was_given(walked: Walk) -> None:
    assert len(walked.faults) == 2
    for source in walked.faults:
        assert "RuntimeError" not in source
        assert "told: (" not in source


def test_no_address_holds_what_was_told(walked: Walk) -> None:
    assert len(walked.addresses) >= len(PAGES)
    for url in (*walked.addresses, *walked.requests):
        assert MARK.lower() not in url.lower()
        assert not [number for number in NUMBERS if number in url]


def test_nothing_is_asked_of_another_computer(walked: Walk) -> None:
    home = walked.program.served.address.removeprefix("http://")
    assert len(walked.requests) > 50
    for url in walked.requests:
        scheme, _, rest = url.partition("://")
        assert scheme not in {"http", "https", "ws", "wss", "ftp"} or rest.startswith(home), url
    calls = [note for note in walked.program.notes() if note[0] not in FILES]
    assert [note for note in calls if not note[1].startswith("(('127.0.0.1', ")] == []


FILES = {"open", "sqlite3.connect", "os.mkdir", "os.rename", "tempfile.mkstemp"}
"""What the watcher notes besides calls."""


def test_only_the_kept_cases_hold_it_and_after_deletion_nothing(walked: Walk) -> None:
    folder = walked.program.store.parent
    assert walked.held
    assert {path.parent for path in walked.held} == {folder}
    assert walked.where_it_is_kept() == set()


def test_no_other_file_is_written(walked: Walk) -> None:
    notes = walked.program.notes()
    opened = {seen.removeprefix("file://") for event, seen in notes if event in FILES}
    opened = {seen.split("?mode=")[0] for seen in opened}  # how a database is opened
    opened = {seen for seen in opened if not seen.isdigit()}  # descriptors opened before
    assert str(walked.program.store) in opened
    kept, compiled = str(walked.program.store.parent), "/__pycache__/"
    others = {seen for seen in opened if not seen.startswith(kept) and compiled not in f"{seen}/"}
    assert others <= {"/dev/null"}
    deleted = [name for name in walked.open_files if "(deleted)" in name]
    assert deleted == []
    for name in ("home", "cache", "config", "passing"):
        assert list((walked.program.folder / name).rglob("*")) == []
