"""Each page about one wearer, filled in, and the evidence: axe, contrast, keyboard and zoom.

One browser fills the pages once; then page after page is looked at, in the light and the dark
theme. The home check and the team are in tests/browser/test_access_home_team.py.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.browser import access, seen
from tests.browser.conftest import forget_cases
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.test_cases import type_into_label
from tests.browser.test_interview import load_example, wait_tested
from tests.browser.test_order_collection import READINGS, fill, open_folds

PAGES = {
    "": "The day through each lens",
    "desk": "Tape the nearest",
    "order": "Not complete",
    "collection": "Not passed",
    "cases": "What changed between two saves",
    "evidence": "What the model leaves out",
}
"""Address and words of each page once it is filled."""
PICTURES = {"": 4, "desk": 1}
"""Pictures and charts of a filled page."""
READ = ("Right: laboratory's", "Right: power read", "Right: cross below")
"""Readings enough for a failed tolerance."""
RING_PX = 150
"""A ring 2 px wide round the smallest mark, the thumb of a slider of 12 px, has as many."""


@pytest.fixture(scope="module")
def filled(served: Served) -> Iterator[Browser]:
    """A browser whose draft has an answer on every page; the cases it keeps are deleted."""
    forget_cases(served)
    with browser(size=DESKTOP) as page:
        page.enter(served, until="Interview")
        load_example(page)
        wait_tested(page)
        _keep_twice(page)
        _fill_order_and_collection(page)
        yield page
    forget_cases(served)


def _keep_twice(page: Browser) -> None:
    type_into_label(page, "A12")
    page.wait_for_text("Case A12: saved")
    fill(page, {"Distance": "66"})
    type_into_label(page, "A12")
    page.wait_for_text("Case A12: saved")


def _fill_order_and_collection(page: Browser) -> None:
    page.go("order", until="Not complete")
    fill(page, {"Refractive index": "9", "Lens width": "52"})
    page.wait_for_text("is refused; allowed")
    fill(page, {"Refractive index": "1.6"})
    page.go("collection", until="Lensmeter and marks")
    fill(page, {name: READINGS[name] for name in READ})


@pytest.fixture(scope="module", params=PAGES, ids=lambda name: name or "interview")
def shown(request: pytest.FixtureRequest, filled: Browser) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    name: str = request.param
    return name, access.unfolded(filled, name, words=PAGES[name])


def test_axe_finds_nothing_and_words_stand_out(shown: tuple[str, Browser]) -> None:
    name, page = shown
    access.clean_and_legible(page, pictures=name in PICTURES)


def test_pictures_say_their_numbers(shown: tuple[str, Browser]) -> None:
    name, page = shown
    access.pictures_say_numbers(page, least=PICTURES.get(name, 0))


def test_the_keyboard_goes_in_the_order_of_reading_with_its_focus_seen(
    shown: tuple[str, Browser],
) -> None:
    access.keyboard_in_order_of_reading(shown[1])


def test_nothing_is_lost_at_twice_the_size_on_a_tablet_or_on_a_phone(
    shown: tuple[str, Browser],
) -> None:
    access.nothing_lost_at_other_sizes(shown[1])


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_ring_of_focus_can_be_seen_on_every_sort_of_field(
    filled: Browser, colours: str
) -> None:
    filled.resize(DESKTOP)
    filled.go("", until=PAGES[""])
    open_folds(filled)
    seen.theme(filled, colours)
    sorts = (
        "input[aria-label^='Age']",
        "[data-testid=stSelectbox] input",
        "[data-testid=stMultiSelect] input",
        "[data-testid=stRadio] input:checked",
        "[data-testid=stCheckbox] input",
        "[data-testid=stCheckbox] input[role=switch]",
        "[data-testid=stSlider] input",
        "summary",
        "[data-testid=stBaseButton-secondary]",
        "[data-testid=stBaseButton-primary]",
        ".lg-scroll",
    )
    seen_px = {sort: seen.ring_seen(filled, f"{seen.MAIN} {sort}") for sort in sorts}
    seen.theme(filled, "light")
    assert {sort: count for sort, count in seen_px.items() if count < RING_PX} == {}
