"""Each page before anything is typed, in both themes: what axe finds, and what the picture says."""

from __future__ import annotations

from tests.browser import seen
from tests.browser.access import ROOMY
from tests.browser.harness import Served, browser
from tests.browser.seen import TALL, WORDS_RATIO
from tests.browser.walk import ours, turn_to

EMPTY = {
    "Interview": "Type the age and the add",
    "Desk": "Interview",
    "Order": "Go to the Interview",
    "Collection": "Interview",
    "Kept cases": "No case is kept yet",
    "Team": "Who is in the team",
}
"""What a page says while nothing is known; the home check and the evidence are never empty."""


def test_empty_pages_are_clean_and_say_what_to_do(keeping: Served) -> None:
    flawed = {}
    with browser(size=TALL) as page:
        page.enter(keeping)
        for name, words in EMPTY.items():
            turn_to(page, name, until=words)
            for colours in ("light", "dark"):
                seen.theme(page, colours)
                page.resize(ROOMY)
                faint = [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
                page.resize(TALL)
                found = [*ours(page.axe(colours=colours == "dark")), *faint]
                if found:
                    flawed[name, colours] = found
        assert page.outside_requests() == []
    assert flawed == {}
