"""Each page before anything is typed, in both themes: what axe finds, and what the picture says."""

from __future__ import annotations

from tests.browser import seen
from tests.browser.harness import Served, browser
from tests.browser.seen import TALL, WORDS_RATIO
from tests.browser.walk import ours

EMPTY = {
    "": "Type the age and the add",
    "desk": "Interview",
    "order": "Go to the Interview",
    "collection": "Interview",
    "cases": "No case is kept yet",
    "team": "Who is in the team",
}
"""What a page says while nothing is known; the home check and the evidence are never empty."""


def test_empty_pages_are_clean_and_say_what_to_do(keeping: Served) -> None:
    flawed = {}
    with browser(size=TALL) as page:
        for name, words in EMPTY.items():
            page.enter(keeping, name, until=words)
            for colours in ("light", "dark"):
                seen.theme(page, colours)
                faint = [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
                found = [*ours(page.axe(colours=colours == "dark")), *faint]
                if found:
                    flawed[name, colours] = found
        assert page.outside_requests() == []
    assert flawed == {}
