"""The team, filled in: axe, contrast, keyboard and zoom. The home check has its own file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

import pytest

from tests.browser import access
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.test_team import SEARCH_S, computed
from tests.browser.walk import fill, open_folds

LAST_WORDS = "first value named"


@pytest.fixture(scope="module")
def shown(served: Served) -> Iterator[tuple[str, Browser]]:
    """The page, filled, with everything folded opened."""
    with browser(size=DESKTOP) as page:
        page.enter(served, "team", until="Who is in the team")
        fill(page, {"50 to 54, at a monitor": "60", "One pair of screen": "100-180"})
        computed(page)
        page.wait_for_text(LAST_WORDS, seconds=SEARCH_S)
        page.settle()
        open_folds(page)
        yield "Team", page


class TestPages(access.Clean):
    """The team."""

    pictures: ClassVar[dict[str, int]] = {"Team": 3}
