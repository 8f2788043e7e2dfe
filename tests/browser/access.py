"""What is looked at on every page, once it is filled: axe, contrast, keyboard and zoom.

axe passes over words outside the window, so the window is 9000 px tall.
"""

from __future__ import annotations

import re

from selenium.webdriver.common.by import By

from tests.browser import seen
from tests.browser.harness import DESKTOP, PHONE, Browser
from tests.browser.seen import MARKS_RATIO, WORDS_RATIO, Stop
from tests.browser.test_order_collection import open_folds, ours

TALL = (1280, 9000)
TABLET = (768, 1024)
"""Held upright: one column, as on a phone, with room for a row of two fields."""
ZOOMED = (640, 450)
"""A window of 1280 x 900 at a zoom of 200 %, in CSS pixels; each is two pixels of the screen."""
LINES_IN_VIEW = 0.4
"""Most of the height of a zoomed window that stays covered while the page is scrolled."""


def unfolded(page: Browser, name: str, *, words: str) -> Browser:
    """Return the page at one of its addresses, in the light, with everything folded opened."""
    page.resize(DESKTOP)
    seen.theme(page, "light")
    page.go(name, until=words)
    open_folds(page)
    return page


def clean_and_legible(page: Browser, *, pictures: bool) -> None:
    """Check with axe, and the contrast of words in pictures, in both themes."""
    page.resize(TALL)
    flawed, faint, words = {}, {}, 0
    for colours in ("light", "dark"):
        seen.theme(page, colours)
        found = ours(page.axe())
        said = seen.words_in_pictures(page)
        words += len(said)
        low = [one for one in said if one[1] < WORDS_RATIO]
        flawed |= {colours: found} if found else {}
        faint |= {colours: low} if low else {}
    assert flawed == {}
    assert faint == {}
    assert bool(words) == pictures
    seen.theme(page, "light")


def pictures_say_numbers(page: Browser, *, least: int) -> None:
    """Check that each picture and chart has a text with its numbers."""
    said = page.driver.execute_script(
        "const by = (e, a) => (e.getAttribute(a) || '').split(' ').filter(Boolean)"
        "  .map(i => document.getElementById(i)?.textContent || '').join(' ');"
        f"return [...document.querySelectorAll('{seen.MAIN} svg[role=img],"
        "  [role=graphics-document]')]"
        "  .map(e => e.getAttribute('aria-label') || by(e, 'aria-labelledby'))"
    )
    assert len(said) >= least
    assert [text for text in said if len(re.findall(r"\d", text)) < 2] == []


def keyboard_in_order_of_reading(page: Browser) -> None:
    """Check every stop of the Tab key: order, name, ring in both themes, nothing over it."""
    page.resize(DESKTOP)
    stops = seen.tab_stops(page)
    _reach_all(page, stops)
    assert seen.jumps(stops) == []
    assert [stop.name for stop in stops if not stop.name] == []
    back = seen.tab_stops(page, back=len(stops))
    assert [stop.name for stop in back if stop.inside and stop.covered_px > 0] == []
    seen.theme(page, "dark")
    dim = [stop for stop in seen.tab_stops(page) if stop.ring < MARKS_RATIO]
    dim += [stop for stop in stops if stop.ring < MARKS_RATIO]
    seen.theme(page, "light")
    assert [(stop.kind, stop.name[:40], round(stop.ring, 1)) for stop in dim] == []


def _reach_all(page: Browser, stops: list[Stop]) -> None:
    """Every field and button is reached: one stop each, and one for each group of choices."""
    fields = page.driver.find_elements(
        By.CSS_SELECTOR,
        ", ".join(
            f"{seen.MAIN} {one}"
            for one in (
                "input:not([type=radio]):not([type=file]):not([disabled])",
                "button:not([disabled]):not([tabindex='-1'])",
                "summary",
                "[role=radiogroup]",
                "a[href]",
            )
        ),
    )
    reachable = [one for one in fields if page.driver.execute_script(_CAN_SEE, one)]
    inside = [stop for stop in stops if stop.inside and not stop.kind.endswith("DIV")]
    assert len(inside) >= len(reachable)


_CAN_SEE = "return arguments[0].checkVisibility() && !arguments[0].closest('[inert]')"


def nothing_lost_at_other_sizes(page: Browser) -> None:
    """Check that all words are there at twice the size, on a tablet and on a phone."""
    page.resize(DESKTOP)
    page.settle()
    words = seen.words_of(page)
    found = {}
    for size, dots in ((ZOOMED, 2), (TABLET, 1), (PHONE, 1)):
        seen.zoom(page, size, dots=dots)
        trouble = seen.lost_and_cut(page, words)
        found |= {size: trouble} if trouble else {}
        covered = page.driver.execute_script(
            f"document.querySelector('{seen.MAIN}').scrollTo(0, 900);"
            "const line = document.querySelector('.st-key-answer, [data-testid=stHeader]');"
            "return line.getBoundingClientRect().bottom / innerHeight"
        )
        assert covered <= LINES_IN_VIEW
    page.resize(DESKTOP)
    assert found == {}
