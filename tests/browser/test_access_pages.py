"""Each page, filled in: axe, contrast, keyboard and zoom, in the light and the dark theme.

One browser fills every page once; then page after page is looked at. axe passes over words outside
the window, so the window is 6000 px tall.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.common.by import By

from tests.browser import seen
from tests.browser.harness import DESKTOP, PHONE, Browser, browser, start_app
from tests.browser.home_people import PEOPLE, visit
from tests.browser.seen import MARKS_RATIO, TALL, WORDS_RATIO, Stop
from tests.browser.test_cases import type_into_label
from tests.browser.test_interview import load_example, wait_tested
from tests.browser.test_order_collection import READINGS, fill, go, open_folds, ours
from tests.browser.test_team import SEARCH_S, computed, field, press

PAGES = {
    "": "The day through each lens",
    "desk": "Tape the nearest",
    "order": "Not complete",
    "collection": "Not passed",
    "cases": "What changed between two saves",
    "home": "What this check cannot see",
    "team": "the first end named",
    "evidence": "What the model leaves out",
}
"""Address and words of each page once it is filled."""
PICTURES = {"": 4, "desk": 1, "home": 1, "team": 3}
"""Pictures and charts of a filled page."""
READ = ("Right: laboratory's", "Right: power read", "Right: cross below")
"""Readings enough for a failed tolerance."""
TABLET = (768, 1024)
"""Held upright: one column, as on a phone, with room for a row of two fields."""
ZOOMED = (640, 450)
"""A window of 1280 x 900 at a zoom of 200 %, in CSS pixels; each is two pixels of the screen."""
LINES_IN_VIEW = 0.4
"""Most of the height of a zoomed window that stays covered while the page is scrolled."""


DARK_QUESTIONS: dict[str, list[object]] = {}
"""What was found in each question of the home check in the dark theme, on the way through it."""


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser whose draft has an answer on every page, with a store of its own."""
    with pytest.MonkeyPatch.context() as patch:
        folder: Path = tmp_path_factory.mktemp("store")
        patch.setenv("LEVELGAZE_STORE", str(folder / "cases.sqlite3"))
        program = start_app()
    try:
        with browser(size=DESKTOP) as page:
            page.open(program.address, until="Interview")
            load_example(page)
            wait_tested(page)
            _keep_twice(page)
            _fill_order_and_collection(page)
            go(page, "team", until="Who is in the team")
            field(page, "50 to 54, at a monitor", "60")
            field(page, "One pair of screen", "100-180")
            computed(page)
            press(page, "Find what moves it most")
            found = PAGES["team"]
            page.wait_for(lambda: found in page.text() and page.idle(), found, seconds=SEARCH_S)
            go(page, "home", until="Is any of this true now?")
            seen.theme(page, "dark")
            visit(page, PEOPLE[1], each=lambda step: _look(page, step))
            page.wait_for_text(PAGES["home"])
            yield page
    finally:
        program.stop()


def _look(page: Browser, step: str) -> None:
    """axe, and the words drawn, at one question; its folds opened for it."""
    if step in ("distances", "heights"):
        open_folds(page)
    faint = [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
    DARK_QUESTIONS[step] = [*page.axe(context=f"'{seen.MAIN}'"), *faint]


@pytest.mark.usefixtures("filled")
def test_every_question_of_the_home_check_is_clean_in_the_dark_theme() -> None:
    assert len(DARK_QUESTIONS) == 12
    assert {step: found for step, found in DARK_QUESTIONS.items() if found} == {}


def _keep_twice(page: Browser) -> None:
    type_into_label(page, "A12")
    page.wait_for_text("Case A12: saved")
    fill(page, {"Distance": "66"})
    type_into_label(page, "A12")
    page.wait_for_text("Case A12: saved")


def _fill_order_and_collection(page: Browser) -> None:
    go(page, "order", until="Not complete")
    fill(page, {"Refractive index": "9", "Lens width": "52"})
    page.wait_for_text("is refused; allowed")
    fill(page, {"Refractive index": "1.6"})
    go(page, "collection", until="Lensmeter and marks")
    fill(page, {name: READINGS[name] for name in READ})


@pytest.fixture(scope="module", params=PAGES, ids=lambda name: name or "interview")
def shown(request: pytest.FixtureRequest, filled: Browser) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    name: str = request.param
    filled.resize(DESKTOP)
    seen.theme(filled, "light")
    step = "&step=result" if name == "home" else ""
    go(filled, name, until="") if not step else filled.open(
        f"{filled.driver.current_url.split('?')[0].rsplit('/', 1)[0]}/{name}?"
        f"{filled.driver.current_url.split('?')[1]}{step}"
    )
    filled.wait_for_text(PAGES[name])
    open_folds(filled)
    return name, filled


def test_axe_finds_nothing_and_words_stand_out(shown: tuple[str, Browser]) -> None:
    name, page = shown
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
    assert bool(words) == (name in PICTURES)
    seen.theme(page, "light")


def test_pictures_say_their_numbers(shown: tuple[str, Browser]) -> None:
    name, page = shown
    said = page.driver.execute_script(
        "const by = (e, a) => (e.getAttribute(a) || '').split(' ').filter(Boolean)"
        "  .map(i => document.getElementById(i)?.textContent || '').join(' ');"
        f"return [...document.querySelectorAll('{seen.MAIN} svg[role=img],"
        "  [role=graphics-document]')]"
        "  .map(e => e.getAttribute('aria-label') || by(e, 'aria-labelledby'))"
    )
    assert len(said) >= PICTURES.get(name, 0)
    assert [text for text in said if len(re.findall(r"\d", text)) < 2] == []


def test_the_keyboard_goes_in_the_order_of_reading_with_its_focus_seen(
    shown: tuple[str, Browser],
) -> None:
    _, page = shown
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


def test_nothing_is_lost_at_twice_the_size_on_a_tablet_or_on_a_phone(
    shown: tuple[str, Browser],
) -> None:
    _, page = shown
    page.resize(DESKTOP)
    time.sleep(0.3)
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


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_ring_of_focus_can_be_seen_on_every_sort_of_field(
    filled: Browser, colours: str
) -> None:
    filled.resize(DESKTOP)
    go(filled, "", until=PAGES[""])
    open_folds(filled)
    seen.theme(filled, colours)
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
    seen.theme(filled, "light")
    assert {sort: count for sort, count in seen_px.items() if count < RING_PX} == {}


RING_PX = 150
"""A ring 2 px wide round the smallest mark, the thumb of a slider of 12 px, has as many."""
