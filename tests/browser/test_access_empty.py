"""Each page before anything is typed: what axe finds, and in both themes what the picture says."""

from __future__ import annotations

from tests.browser import seen
from tests.browser.access import ROOMY, hit_reflows_spreads_and_is_dark
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
    """Axe looks in the light; the dark of the same styles it sees on the filled pages."""
    flawed = {}
    with browser(size=TALL) as page:
        page.enter(keeping)
        for name, words in EMPTY.items():
            turn_to(page, name, until=words)
            found = ours(page.axe())
            for colours in ("light", "dark"):
                seen.theme(page, colours)
                page.resize(ROOMY)
                found += [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
                page.resize(TALL)
            seen.theme(page, "light")
            if found:
                flawed[name] = found
        turn_to(page, "Home check", until="Home check")
        hit_reflows_spreads_and_is_dark(page)
        assert page.outside_requests() == []
    assert flawed == {}
