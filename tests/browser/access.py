"""What is looked at on every page, once it is filled: axe, contrast, keyboard, zoom and wishes.

axe passes over words outside the window, so the window is 9000 px tall. The tests are here; each
file that inherits them says in its fixture `shown` which pages it shows.
"""

from __future__ import annotations

import io
import re
from typing import Any, ClassVar

import numpy as np
from PIL import Image
from selenium.webdriver.common.by import By

from app.shell.wishes import LEAST_PX
from tests.browser import seen
from tests.browser.harness import DESKTOP, PHONE, Browser
from tests.browser.seen import MARKS_RATIO, WORDS_RATIO, Stop
from tests.browser.walk import open_folds, ours, turn_to

TALL = (1280, 9000)
ROOMY = (1280, 1500)
"""Room for the highest picture; a window is drawn anew, as large as it is, for each of them."""
TABLET = (768, 1024)
"""Held upright: one column, as on a phone, with room for a row of two fields."""
ZOOMED = (640, 450)
"""A window of 1280 x 900 at a zoom of 200 %, in CSS pixels; each is two pixels of the screen."""
LINES_IN_VIEW = 0.4
"""Most of the height of a zoomed window that stays covered while the page is scrolled."""
NARROW = (320, 640)
"""WCAG 2.2, 1.4.10 Reflow: 320 CSS pixels wide."""
WIDE_LETTERS = (
    "* { line-height: 1.5 !important; letter-spacing: 0.12em !important;"
    " word-spacing: 0.16em !important } p { margin-bottom: 2em !important }"
)
"""WCAG 2.2, 1.4.12 Text Spacing."""
MIDDLE = 0.5
DARK = 0.2
"""Most relative luminance of what words stand on, thumbs of sliders apart, in the dark."""

TOO_SMALL = """
const shown = e => { const r = e.getBoundingClientRect();
  return r.width > 1 && r.height > 1 && getComputedStyle(e).visibility !== 'hidden'; };
const part = e => ({ radio: e.closest('label'), checkbox: e.closest('label'),
  range: e.closest('[role=group] > div') })[e.type] ?? e;
const kinds = ':is(button, input, summary, a[href])';
const all = [...document.querySelectorAll(`[data-testid=stApp] ${kinds}`)].map(part)
  .filter(e => e && shown(e) && !(e.tagName === 'A' && e.closest('p, li')));
const small = all.filter(e => { const r = e.getBoundingClientRect();
  return r.width < arguments[0] || r.height < arguments[0]; });
return [all.length, small.map(e => e.outerHTML.slice(0, 120))];
"""
CUT_OFF = """
return [...document.querySelectorAll('[data-testid=stApp] *')].filter(e => {
  const s = getComputedStyle(e), clips = ['hidden', 'clip'];
  return e.innerText && !e.children.length && e.clientWidth > 2
    && (clips.includes(s.overflowX) || clips.includes(s.overflowY))
    && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1);
}).map(e => e.innerText);
"""
CARDS = "return document.querySelectorAll('.lg-answer, .lg-claims').length"
WIDTHS = """
return ['html', '[data-testid=stMain]'].map(name => document.querySelector(name).scrollWidth);
"""
GROUNDS = """
const light = (r, g, b) => { const [x, y, z] = [r, g, b].map(v => v / 255)
  .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * x + 0.7152 * y + 0.0722 * z; };
return [...document.querySelectorAll('[data-testid=stMain] :is(div, p, li, ul, td, th, table)')]
  .filter(e => e.innerText && e.getBoundingClientRect().width > 20
    && !e.closest('svg, .lg-picture, .lg-pair, .lg-scroll:has(svg), [data-testid=stVegaLiteChart]'))
  .map(e => [getComputedStyle(e).backgroundColor.match(/[\\d.]+/g).map(Number), e])
  .filter(([c]) => c.length === 3 || c[3] > 0.5)
  .filter(([c]) => light(...c) > arguments[0]).map(([, e]) => e.outerHTML.slice(0, 120));
"""
ROWS_CUT = """
return [...document.querySelectorAll('[data-testid=stHorizontalBlock]')]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1)
  .map(e => e.innerText.slice(0, 60));
"""
"""Rows of fields wider than their room: the library hides what is over, with no bar to scroll."""
PICTURES = ".lg-picture svg, .lg-pair svg, [data-testid=stVegaLiteChart]"


def unfolded(page: Browser, title: str, *, words: str) -> Browser:
    """Return the page at one of its pages, in the light, with everything folded opened."""
    page.resize(DESKTOP)
    seen.theme(page, "light")
    if page.text(f"{seen.MAIN} h1") == title:
        page.wait_for_text(words)
    else:
        turn_to(page, title, until=words)
    open_folds(page)
    return page


class Clean:
    """What is looked at on every page that the fixture `shown` shows."""

    pictures: ClassVar[dict[str, int]]
    """Pictures and charts of the pages that have some."""

    def test_axe_finds_nothing_and_words_stand_out(self, shown: tuple[str, Browser]) -> None:
        name, page = shown
        clean_and_legible(page, pictures=name in self.pictures)

    def test_it_is_hit_reflows_spreads_and_is_dark_where_it_is_asked_to(
        self, shown: tuple[str, Browser]
    ) -> None:
        hit_reflows_spreads_and_is_dark(shown[1])

    def test_pictures_say_their_numbers(self, shown: tuple[str, Browser]) -> None:
        name, page = shown
        pictures_say_numbers(page, least=self.pictures.get(name, 0))

    def test_the_keyboard_goes_in_the_order_of_reading_with_its_focus_seen(
        self, shown: tuple[str, Browser]
    ) -> None:
        keyboard_in_order_of_reading(shown[1])

    def test_nothing_is_lost_at_twice_the_size_on_a_tablet_or_on_a_phone(
        self, shown: tuple[str, Browser]
    ) -> None:
        nothing_lost_at_other_sizes(shown[1])


def clean_and_legible(page: Browser, *, pictures: bool) -> None:
    """Check with axe, and the contrast of words in pictures, in both themes."""
    flawed, faint, words = {}, {}, 0
    for colours in ("light", "dark"):
        page.resize(TALL)
        seen.theme(page, colours)
        found = ours(page.axe(colours=colours == "dark"))
        page.resize(ROOMY)
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
    back = seen.stops_back(page)
    assert [stop.name for stop in reversed(back)] == [stop.name for stop in stops]
    assert [stop.name for stop in back if stop.inside and stop.covered_px > 0] == []
    seen.theme(page, "dark")
    dark = seen.rings(page)
    assert [stop.name for stop in dark] == [stop.name for stop in stops]
    dim = [stop for stop in [*stops, *dark] if stop.ring < MARKS_RATIO]
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
        page.settle()
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


def grounds(page: Browser) -> list[float]:
    """The lightness, 0 to 1, of the ground of each picture: what most of its pixels have."""
    found = []
    for picture in page.driver.find_elements(By.CSS_SELECTOR, PICTURES):
        page.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", picture)
        drawn = Image.open(io.BytesIO(picture.screenshot_as_png)).convert("L")
        found.append(float(np.median(np.asarray(drawn))) / 255)
    return found


def hit_reflows_spreads_and_is_dark(page: Browser) -> None:
    """Check the room to hit, both grounds, a narrow window and wide letters."""
    page.resize(DESKTOP)
    ask: Any = page.driver.execute_script
    assert ask("return document.documentElement.lang") == "en"
    many, small = ask(TOO_SMALL, LEAST_PX)
    assert many > 8
    assert small == []
    seen.theme(page, "dark")
    assert ask(GROUNDS, DARK) == []
    assert max(grounds(page), default=0.0) < MIDDLE
    seen.theme(page, "light")
    assert min(grounds(page), default=1.0) > MIDDLE
    if ask(CARDS):
        assert ask(GROUNDS, DARK), "in the light a card is found"
    page.resize(NARROW)
    page.settle()
    assert ask(WIDTHS) == [NARROW[0], NARROW[0]]
    assert ask(ROWS_CUT) == []
    ask(
        "const s = document.createElement('style'); s.id = 'wide'; s.textContent = arguments[0];"
        "document.head.append(s)",
        WIDE_LETTERS,
    )
    try:
        page.settle()
        assert ask(WIDTHS) == [NARROW[0], NARROW[0]]
        assert ask(CUT_OFF) == []
    finally:
        ask("document.getElementById('wide').remove()")
        page.resize(DESKTOP)
