"""What a reader's system asks for: forced colours, a dark ground, wide letters, room to hit."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from PIL import Image
from selenium.webdriver.common.by import By

from app.shell.wishes import LEAST_PX
from tests.browser import seen, walk
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.walk import open_folds, turn_to

PAGES = {
    "Interview": "The day through each lens",
    "Desk": "What the desk can do",
    "Order": "Before it can be sent",
    "Collection": "Focimeter and marks",
    "Kept cases": "On this computer",
    "Home check": "Home check",
    "Team": "Who is in the team",
    "Evidence": "Claims",
}
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
LOOK = """
const of = e => { const s = getComputedStyle(e);
  return [s.backgroundColor, s.borderTopColor, s.borderTopWidth, s.outlineWidth].join(' '); };
const marks = on => [...document.querySelectorAll('[data-testid=stRadioOption]')]
  .filter(e => e.querySelector('input').checked === on)
  .map(e => of(e.querySelector(':scope > div > div')));
const ground = getComputedStyle(document.querySelector('[data-testid=stApp]')).backgroundColor;
const slider = document.querySelector('[data-testid=stSlider] [role=group] > div');
const thumb = slider.querySelector('input[type=range]').parentElement.parentElement;
const knob = document.querySelector('[role=switch]').closest('label')
  .querySelector(':scope > div > div');
const links = [...document.querySelectorAll('[data-testid=stTopNavLink]')];
return { forced: matchMedia('(forced-colors: active)').matches, ground,
  chosen: marks(true), others: marks(false),
  track: getComputedStyle(slider.firstElementChild).borderTopWidth,
  thumb: getComputedStyle(thumb).backgroundColor, knob: getComputedStyle(knob).backgroundColor,
  here: links.filter(e => e.ariaCurrent === 'page')
    .map(e => getComputedStyle(e).borderBottomColor),
  elsewhere: links.filter(e => e.ariaCurrent !== 'page')
    .map(e => getComputedStyle(e).borderBottomColor) };
"""


PICTURES = ".lg-picture svg, .lg-pair svg, [data-testid=stVegaLiteChart]"


def grounds(page: Browser) -> list[float]:
    """The lightness, 0 to 1, of the ground of each picture: what most of its pixels have."""
    found = []
    for picture in page.driver.find_elements(By.CSS_SELECTOR, PICTURES):
        page.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", picture)
        drawn = Image.open(io.BytesIO(picture.screenshot_as_png)).convert("L")
        found.append(float(np.median(np.asarray(drawn))) / 255)
    return found


def wish(page: Browser, **features: str) -> None:
    """Let the system ask for something; names have `_` for `-`."""
    asked = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": asked})
    page.settle()


@pytest.fixture(scope="module")
def filled(served: Served) -> Iterator[Browser]:
    with browser(size=DESKTOP) as page:
        walk.example(page, served)
        yield page


@pytest.fixture(params=PAGES)
def page(request: pytest.FixtureRequest, filled: Browser) -> Iterator[Browser]:
    """One page after the other, with everything folded opened."""
    wish(filled)
    filled.resize(DESKTOP)
    turn_to(filled, request.param, until=PAGES[request.param])
    open_folds(filled)
    yield filled
    wish(filled)
    filled.resize(DESKTOP)


def test_a_page_is_hit_reflows_spreads_and_is_dark_where_it_is_asked_to(page: Browser) -> None:
    """In one test, for a page is opened once."""
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


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_what_is_chosen_can_be_told_in_forced_colours(filled: Browser, colours: str) -> None:
    wish(filled)
    turn_to(filled, "Interview", until=PAGES["Interview"])
    open_folds(filled)
    wish(filled, forced_colors="active", prefers_color_scheme=colours)
    look = filled.driver.execute_script(LOOK)
    wish(filled)
    assert look["forced"]
    assert look["chosen"]
    assert look["others"]
    assert not set(look["chosen"]) & set(look["others"])
    assert look["track"] == "1px"
    assert look["ground"] not in (look["thumb"], look["knob"])
    assert len(look["here"]) == 1
    assert set(look["elsewhere"]) == {look["ground"]}
    assert look["here"][0] != look["ground"]


def test_more_contrast_makes_soft_words_full_ink(filled: Browser) -> None:
    turn_to(filled, "Interview", until=PAGES["Interview"])
    soft = "return getComputedStyle(document.querySelector('.lg-counts')).color"
    ink = "return getComputedStyle(document.querySelector('.lg-answer')).color"
    for colours in ("light", "dark"):
        wish(filled, prefers_color_scheme=colours)
        seen.theme(filled, colours)
        ask = filled.driver.execute_script
        assert ask(soft) != ask(ink)
        wish(filled, prefers_color_scheme=colours, prefers_contrast="more")
        assert ask(soft) == ask(ink)
    wish(filled)


def test_the_menu_shuts_once_a_page_is_chosen_at_a_zoom_of_200_percent(
    served: Served, desktop: Browser
) -> None:
    desktop.resize((DESKTOP[0] // 2, DESKTOP[1] // 2))
    desktop.enter(served, until="Interview")
    turn_to(desktop, "Evidence", until=PAGES["Evidence"])
    turn_to(desktop, "Kept cases", until=PAGES["Kept cases"])
