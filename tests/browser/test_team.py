"""The Team page in a real browser: from the coordinator's file to the tables, and gone again."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from tests.browser.harness import Browser, Served
from tests.browser.walk import fill, press, printed, saved_file, upload

HEADER = "ref,age_years,screen_kind,screen_in,hours_screen,present_kind"
FORMULA = '=HYPERLINK("http://example.invalid/";"x")'
SEARCH_S = 400.0
"""Longest search of a small team on a busy machine with two cores."""


KNOWN = {
    "add_d": "2",
    "screen_distance_cm": "65",
    "screen_top_cm": "-2",
    "screen_tilt_deg": "10",
    "text_mm": "3.2",
    "fitting_height_mm": "20",
}
"""What leaves nothing to be drawn, so that a search is short."""


def team_rows(count: int) -> list[str]:
    """Invented people of 44 to 61 at monitors, of whom all is known; every other one gains."""
    known = ",".join(KNOWN.values())
    return [
        f"A-{number:03d},{44 + number % 18},monitor,24,6,{worn},{known}"
        for number, worn in zip(range(count), cycle(["sv_distance", "office"]))
    ]


@pytest.fixture
def folder() -> Iterator[Path]:
    """Where the coordinator's files lie, and where downloads arrive."""
    with tempfile.TemporaryDirectory(prefix="levelgaze-team-") as name:
        yield Path(name)


def opened(page: Browser, served: Served) -> None:
    """The page, ready for a file."""
    page.enter(served, "team", until="Who is in the team")
    page.driver.execute_script(
        "[...document.querySelectorAll('label')]"
        ".find(l => l.innerText.includes('choose a file of rows')).click()"
    )
    page.wait_for_text("Download a spreadsheet to fill in")
    page.settle()


def given(page: Browser, path: Path, content: bytes, *, until: str) -> None:
    """Hand the page a file and wait for what it says."""
    upload(page, path, content)
    page.wait_for_text(until)
    page.settle()


def computed(page: Browser) -> None:
    """Press the button to compute and wait for the policies."""
    press(page, "Compute for", seconds=SEARCH_S)
    page.wait_for(
        lambda: "People helped" in page.text() and page.idle(), "policies", seconds=SEARCH_S
    )
    page.settle()


def downloaded(page: Browser, folder: Path, words: str) -> list[list[str]]:
    """Press a download and read the file that arrives."""
    return list(csv.reader(io.StringIO(saved_file(page, words, folder).read_text("utf-8"))))


@pytest.fixture
def uploader(shared: Browser, served: Served) -> Browser:
    """The page with its uploader, as the last test left it."""
    if not shared.place.startswith("/team") or not shared.has("stFileUploader"):
        opened(shared, served)
    return shared


def test_from_the_file_to_the_table_and_gone(served: Served, shared: Browser, folder: Path):
    rows = io.StringIO()
    writer = csv.writer(rows)
    blank = [""] * len(KNOWN)
    writer.writerow([*HEADER.split(","), *KNOWN])
    writer.writerows(row.split(",") for row in team_rows(40))
    writer.writerow(["A-900", "54", "monitor", "24", "30", "general_progressive", *blank])
    writer.writerow([FORMULA, "54", "monitor", "24", "6", "", *blank])
    writer.writerow(["A-901", "54", FORMULA, "24", "6", "", *blank])
    opened(shared, served)
    given(shared, folder / "in.csv", rows.getvalue().encode(), until="Rows left out")
    said = shared.text()
    assert "Read: 43 rows, 40 of them good; 40 people" in said
    assert "row 42\thours_screen\t30\t" in said
    assert "row 43\tref\t(not repeated)\ta value: copy the cells" in said
    assert "row 44\tscreen_kind\t=HYPERLINK" in said
    listed = downloaded(shared, folder, "rows left out")
    assert [line[2][:12] for line in listed[1:]] == ["30", "(not repeate", "'=HYPERLINK("]
    computed(shared)
    assert "of about 40 people" in shared.text()
    assert shared.driver.find_elements(By.CSS_SELECTOR, "[data-testid='stErrorElementStack']") == []
    table = downloaded(shared, folder, "Download this table")
    assert table[0][:3] == ["Policy", "People", "Eye tests, low"]
    assert len(table) == 6
    assert {line[1] for line in table[1:]} == {"40", "hidden"}
    assert table[1][:2] == ["No change", "40"]
    fill(shared, {"One eye test": "25", "Fixed contribution, each": "60"})
    shared.wait_for_text("no price given: pair of screen glasses")
    address = shared.driver.current_url
    memo = saved_file(shared, "Page for your memo", folder)
    assert "Glasses for screen work: what to pay for" in printed(shared, memo)
    shared.open(address, until="Policies side by side")
    press(shared, "Delete these answers")
    shared.wait_for_text("The answers are deleted")
    shared.settle()
    for place in (shared.driver.current_url, address):
        shared.open(place, until="Who is in the team")
        assert "Policies side by side" not in shared.text()
        assert "Compute for" not in shared.text()
    opened(shared, served)
    assert "Read: 43 rows" not in shared.text()
    assert [url for url in shared.outside_requests() if not url.startswith("file:")] == []


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ((HEADER + '\nA-1,54,monitor,24,6,\nA-2,"5').encode(), "one that was cut off"),
        ((HEADER + "\nA-1,54,monitor,24,6,").encode("utf-16")[:-1], "no text, or a damaged one"),
        ((HEADER + "\n" + "A-1,54,monitor,24,6,\n" * 10_001).encode(), "More than 10,000 rows"),
        (b"name,colour\nx,red\n", "no row with names of columns"),
        (b"\n\n", "An empty file"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(
    uploader: Browser, folder: Path, content: bytes, says: str
):
    upload(uploader, folder / "in.csv", content)
    uploader.wait_for_text(says, selector=".lg-refused[role=alert]")
    assert "The file was not read" in uploader.text()
    assert "Compute for" not in uploader.text()


def test_a_huge_file_is_not_taken(uploader: Browser, folder: Path):
    content = b"A-1,54,monitor,24,6,\n" * (26 * 2**20 // 21)
    given(uploader, folder / "in.csv", content, until="File must be")
    assert "Compute for" not in uploader.text()


def test_a_cut_off_last_row_is_listed(uploader: Browser, folder: Path):
    content = HEADER + "\nA-1,54,monitor,24,6,\nA-2,54,mon"
    given(uploader, folder / "in.csv", content.encode(), until="Rows left out")
    assert "row 3\twhole row\t3 of 6 cells" in uploader.text()
