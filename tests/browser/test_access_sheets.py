"""Each sheet that can be downloaded: axe, contrast, zoom and keyboard, in both themes.

A sheet is paper: it looks the same in the dark theme. One browser looks at all of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from app.home_file.sheet import sheet_page
from tests.browser import seen
from tests.browser.harness import DESKTOP, PHONE, Browser, browser
from tests.browser.seen import TALL, WORDS_RATIO
from tests.orders import STRONG_DETAILS, content, strong
from tests.test_order_sheets import sheets

NAMES = (
    "order",
    "order with gaps",
    "wearer with dates",
    "letter",
    "question sheet",
)
WITH_WORDS_DRAWN = {"wearer with dates", "question sheet"}
ZOOMED = (640, 450)


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    """The sheets as the pages make them."""
    full, empty = sheets(strong(), STRONG_DETAILS), sheets(content(), {})
    return dict(
        zip(
            NAMES,
            (
                full["order"],
                empty["order"],
                full["wearer"],
                full["letter"],
                sheet_page(),
            ),
            strict=True,
        )
    )


@pytest.fixture(scope="module")
def reader() -> Iterator[Browser]:
    """One browser for all sheets."""
    with browser(size=DESKTOP) as page:
        yield page


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_is_clean_stands_out_and_fits(
    name: str, texts: dict[str, str], reader: Browser, tmp_path: Path
) -> None:
    file = tmp_path / "sheet.html"
    file.write_text(texts[name], encoding="utf-8")
    reader.resize(TALL)
    looks = {}
    for colours in ("light", "dark"):
        seen.prefer(reader, colours)
        reader.driver.get(file.as_uri())
        assert reader.axe(colours=colours == "dark") == [], colours
        said = seen.words_in_pictures(reader)
        assert [one for one in said if one[1] < WORDS_RATIO] == [], colours
        assert bool(said) == (name in WITH_WORDS_DRAWN)
        looks[colours] = seen.pixels(reader, (0, 0, 1280, 1500))
    assert np.array_equal(looks["light"], looks["dark"])
    assert reader.driver.execute_script("return document.documentElement.lang") == "en"
    words = seen.words_of(reader, root="main")
    assert len(words) > 20
    for size, dots in ((ZOOMED, 2), (PHONE, 1)):
        seen.zoom(reader, size, dots=dots)
        assert seen.lost_and_cut(reader, words, root="main") == {}, size
    assert _unreachable(reader) == []
    assert _broken(reader) == []


def _broken(page: Browser) -> list[str]:
    """Words in tables that are broken over lines, as where a column is narrower than its words."""
    return list(
        page.driver.execute_script(
            "const found = [], walk = document.createTreeWalker(document.body, 4);"
            "while (walk.nextNode()) { const n = walk.currentNode;"
            "  if (!n.parentElement.closest('main table')) continue;"
            "  for (const w of n.data.matchAll(/[A-Za-z]{3,}/g)) { const r = new Range();"
            "    r.setStart(n, w.index); r.setEnd(n, w.index + w[0].length);"
            "    if (r.getClientRects().length > 1) found.push(w[0]); } }"
            "return found"
        )
    )


def _unreachable(page: Browser) -> list[str]:
    """Parts that scroll by themselves on a phone but cannot be reached by keyboard, or unnamed."""
    return list(
        page.driver.execute_script(
            "return [...document.querySelectorAll('main *')].filter(e =>"
            "  getComputedStyle(e).overflowX === 'auto' && e.scrollWidth > e.clientWidth + 1"
            "  && !(e.tabIndex === 0 && e.getAttribute('aria-label')))"
            ".map(e => e.outerHTML.slice(0, 80))"
        )
    )
