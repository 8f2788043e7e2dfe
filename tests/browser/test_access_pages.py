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
from tests.browser.walk import cut_labels, paste

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
NARROWER = (1024, 800)
"""Two columns, with less room for the words of a button."""
RING_PX = 150
"""A ring 2 px wide round the smallest mark, the thumb of a slider of 12 px, has as many."""


@pytest.fixture(scope="module")
def filled(served: Served) -> Iterator[Browser]:
    """A browser whose draft has an answer on every page; the cases it keeps are deleted."""
    forget_cases(served)
    draft = walk.example_draft(served)
    for texts in ({"Label of your choice": "A12"}, {"Distance": "66"}):
        walk.drafted(served, texts, draft=draft, then="Save")
    walk.drafted(
        served, {"Refractive index": "9", "Boxed lens width": "52"}, name="order", draft=draft
    )
    walk.drafted(served, READ, name="collection", draft=draft)
    with browser(size=DESKTOP) as page:
        page.open(served.page(f"?{draft}"), until=PAGES["Interview"])
        yield page
    forget_cases(served)


@pytest.fixture(scope="module", params=PAGES)
def shown(request: pytest.FixtureRequest, filled: Browser) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    name = request.param
    page = access.unfolded(filled, name, words=PAGES[name])
    if name == "Collection":  # refused, the reading leaves the last good lines
        paste(page, {"Right: base up": "much"})
        page.wait_for_text(". Allowed: ")
        assert PAGES[name] in page.text()
    return name, page


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


def test_the_words_of_a_button_wrap(filled: Browser) -> None:
    access.unfolded(filled, "Interview", words="Take single-vision computer")
    filled.resize(NARROWER)
    filled.settle()
    assert cut_labels(filled) == []


class TestPages(access.Clean):
    """The pages about one wearer."""

    pictures: ClassVar[dict[str, int]] = {"Interview": 4, "Desk": 1, "Evidence": 0}
    """At least so many with a text of their own; on Evidence the words below say the same."""
