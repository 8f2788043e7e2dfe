"""Each page about one wearer, filled in, and the evidence: axe, contrast, keyboard and zoom.

One browser fills the pages once; then page after page is looked at, in the light and the dark
theme. The team is in tests/browser/test_access_team.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

import pytest

from tests.browser import access, seen, walk
from tests.browser.conftest import forget_cases
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.walk import paste, press, turn_to, wait_answered

PAGES = {
    "Interview": "The day through each lens",
    "Desk": "Measure the nearest",
    "Order": "Out of date: the last order",
    "Collection": "Not passed",
    "Kept cases": "What changed between two saves",
    "Evidence": "What the model leaves out",
}
"""Name and words of each page once it is filled."""
READ = {
    "Right: laboratory's": "+2.50 DS",
    "Right: power read": "+2.75 DS",
    "Right: fitting cross below": "2",
}
"""Readings enough for a failed tolerance."""
RING_PX = 150
"""A ring 2 px wide round the smallest mark, the thumb of a slider of 12 px, has as many."""


@pytest.fixture(scope="module")
def filled(served: Served) -> Iterator[Browser]:
    """A browser whose draft has an answer on every page; the cases it keeps are deleted."""
    forget_cases(served)
    with browser(size=DESKTOP) as page:
        walk.example(page, served)
        wait_answered(page)
        for texts in ({"Label of your choice": "A12"}, {"Distance": "66"}):
            paste(page, texts)
            press(page, "Save")
            page.wait_for_text("Case A12: saved")
        turn_to(page, "Order", until="Not complete")
        paste(page, {"Refractive index": "9", "Boxed lens width": "52"})
        page.wait_for_text(". Allowed: ")
        turn_to(page, "Collection", until="Focimeter and marks")
        paste(page, READ)
        page.wait_for_text("Not passed")
        paste(page, {"Right: base up": "much"})
        page.wait_for_text(". Allowed: ")
        yield page
    forget_cases(served)


@pytest.fixture(scope="module", params=PAGES)
def shown(request: pytest.FixtureRequest, filled: Browser) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    return request.param, access.unfolded(filled, request.param, words=PAGES[request.param])


class TestPages(access.Clean):
    """The pages about one wearer."""

    pictures: ClassVar[dict[str, int]] = {"Interview": 4, "Desk": 1, "Evidence": 0}
    """At least so many with a text of their own; on Evidence the words below say the same."""


def test_the_ring_of_focus_can_be_seen_on_every_sort_of_field(filled: Browser) -> None:
    access.unfolded(filled, "Interview", words=PAGES["Interview"])
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
    assert {sort: count for sort, count in seen_px.items() if count < RING_PX} == {}
