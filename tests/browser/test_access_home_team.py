"""The home check and the team, filled in: axe, contrast, keyboard and zoom.

One browser goes through the home check in the dark theme and looks at each question; then its
result, what it gives out, and both pages are looked at as the others are. Each question in the
light, on a phone, is looked at in tests/browser/test_flows_wearer.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

import pytest

from engine.case.read import build_case
from engine.home.case import case_from_visit_file, read_visit_file
from tests.browser import access, seen
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.home_people import PEOPLE, downloaded, visit
from tests.browser.seen import WORDS_RATIO
from tests.browser.test_team import SEARCH_S, computed
from tests.browser.walk import fill, open_folds, pages_of, turn_to
from tests.home_detector import orders_in, stray_numbers_in, words_of

PAGES = {"Home check": "What this check cannot see", "Team": "the first end named"}
"""Name and words of each page once it is filled."""
QUESTIONS = 12
CARD_PX = 8.56 / 2.54 * 96
"""A bank card in CSS pixels, 96 to the inch."""
PAGE_NUMBERS = (r"chin \d+° (?:up|down)", r", \d+ cm\b", r"\t\d+(?:\.\d)?\n")
"""Numbers of the picture and of the column of hours."""


@pytest.fixture(scope="module")
def visited(served: Served) -> Iterator[tuple[Browser, dict[str, list[object]]]]:
    """A browser at the result of a person with two screens, and the flaws of each question."""
    found: dict[str, list[object]] = {}
    with browser(size=DESKTOP) as page:
        page.enter(served, "home", until="Is any of this true now?")
        seen.theme(page, "dark")
        visit(page, PEOPLE[1], each=lambda step: found.update({step: _flaws(page, step)}))
        page.wait_for_text(PAGES["Home check"])
        seen.theme(page, "light")
        yield page, found


def _flaws(page: Browser, step: str) -> list[object]:
    """axe, and the words drawn, at one question; its folds opened for it."""
    if step in ("distances", "heights"):
        open_folds(page)
    faint = [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
    return [*page.axe(context=f"'{seen.MAIN}'", colours=True), *faint]


def test_every_question_of_the_home_check_is_clean_in_the_dark_theme(
    visited: tuple[Browser, dict[str, list[object]]],
) -> None:
    found = visited[1]
    assert len(found) == QUESTIONS
    assert {step: flaws for step, flaws in found.items() if flaws} == {}


def test_a_person_with_two_screens_reaches_a_result_that_orders_nothing(
    visited: tuple[Browser, dict[str, list[object]]], tmp_path: Path
) -> None:
    page = visited[0]
    said = page.text() + "\n"
    sheet = words_of(downloaded(page, "Get the sheet", tmp_path, "my-desk.html"))
    file = downloaded(page, "Get the file", tmp_path, "my-desk.json")
    for text in (said, sheet, file):
        assert orders_in(text) == []
    for pattern in PAGE_NUMBERS:
        said = re.sub(pattern, "\n", said)
    assert stray_numbers_in(said) == ""
    assert stray_numbers_in(sheet) == ""
    case = build_case(case_from_visit_file(file))
    assert len(case.targets) == len(read_visit_file(file).things)
    assert case.origin["/targets/0/distance_cm"] == "at_home"
    assert page.outside_requests() == []
    address = page.driver.current_url
    _prints_on_one_page_with_a_true_ruler(page, tmp_path / "my-desk.html")
    page.open(address, until=PAGES["Home check"])


def _prints_on_one_page_with_a_true_ruler(page: Browser, sheet: Path) -> None:
    page.driver.get(sheet.as_uri())
    assert pages_of(page, preferCSSPageSize=True) == 1
    wide = page.driver.execute_script(
        "const s = document.querySelector('svg.ruler');"
        "return s.getBoundingClientRect().width / s.viewBox.baseVal.width"
    )
    off = abs(wide * 8.56 / CARD_PX - 1.0)
    assert off <= 0.002, "a fifth of the 1 % at which a ruler is refused"
    assert page.axe() == []


@pytest.fixture(scope="module", params=PAGES)
def shown(
    request: pytest.FixtureRequest, visited: tuple[Browser, dict[str, list[object]]]
) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    name, page = request.param, visited[0]
    if name == "Team":
        turn_to(page, name, until="Who is in the team")
        fill(page, {"50 to 54, at a monitor": "60", "One pair of screen": "100-180"})
        computed(page)
        page.wait_for_text(PAGES[name], seconds=SEARCH_S)
        page.settle()
        open_folds(page)
        return name, page
    page.wait_for_text(PAGES[name])
    open_folds(page)
    return name, page


class TestPages(access.Clean):
    """The home check's result and the team."""

    pictures: ClassVar[dict[str, int]] = {"Home check": 1, "Team": 3}
