"""What a reader's system asks for: forced colours, more contrast, a menu that shuts.

A dark ground, wide letters and room to hit are looked at on every page, tests/browser/access.py.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.browser import seen, walk
from tests.browser.harness import DESKTOP, Browser, Served, browser
from tests.browser.walk import open_folds, turn_to

THE_DAY = "The day through each lens"
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


def wish(page: Browser, **features: str) -> None:
    """Let the system ask for something; names have `_` for `-`."""
    asked = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": asked})
    page.settle()


@pytest.fixture(scope="module")
def filled(served: Served) -> Iterator[Browser]:
    with browser(size=DESKTOP) as page:
        walk.example(page, served, until=THE_DAY)
        open_folds(page)
        yield page


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_what_is_chosen_can_be_told_in_forced_colours(filled: Browser, colours: str) -> None:
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


def test_the_menu_shuts_once_a_page_is_chosen_at_a_zoom_of_200_percent(filled: Browser) -> None:
    filled.resize((DESKTOP[0] // 2, DESKTOP[1] // 2))
    filled.settle()
    turn_to(filled, "Evidence", until="Claims")
    turn_to(filled, "Kept cases", until="On this computer")
