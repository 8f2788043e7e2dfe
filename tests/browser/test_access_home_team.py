"""The home check and the team, filled in: axe, contrast, keyboard and zoom.

One browser goes through the home check, and each of its questions is looked at on a phone and in
the dark; then both pages are looked at as the others are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest

from tests.browser import access, seen
from tests.browser.harness import DESKTOP, PHONE, Browser, Served, browser
from tests.browser.home_people import PEOPLE, visit
from tests.browser.seen import WORDS_RATIO
from tests.browser.test_order_collection import open_folds
from tests.browser.test_team import SEARCH_S, computed, press
from tests.browser.walk import retype

PAGES = {"home": "What this check cannot see", "team": "the first end named"}
"""Address and words of each page once it is filled."""
PICTURES = {"home": 1, "team": 3}
"""Pictures and charts of a filled page."""
QUESTIONS = 12


@dataclass
class Found:
    """What was found at each question on the way through the home check."""

    too_wide: list[str] = field(default_factory=list)
    on_a_phone: dict[str, list[object]] = field(default_factory=dict)
    in_the_dark: dict[str, list[object]] = field(default_factory=dict)


@pytest.fixture(scope="module")
def walked(served: Served) -> Iterator[tuple[Browser, Found]]:
    """A browser whose draft has an answer on both pages, and what was found on the way."""
    found = Found()
    with browser(size=DESKTOP) as page:
        page.enter(served, "home", until="Is any of this true now?")
        _on_a_phone(page, "flags", found)
        visit(page, PEOPLE[1], each=lambda step: _look(page, step, found))
        page.wait_for_text(PAGES["home"])
        _on_a_phone(page, "result", found)
        page.go("team", until="Who is in the team")
        retype(page, "50 to 54, at a monitor", "60")
        retype(page, "One pair of screen", "100-180")
        computed(page)
        press(page, "Find what moves it most")
        page.wait_for_text(PAGES["team"], seconds=SEARCH_S)
        page.settle()
        yield page, found


def _look(page: Browser, step: str, found: Found) -> None:
    """axe, and the words drawn, at one question; its folds opened for it in the dark."""
    _on_a_phone(page, step, found)
    seen.theme(page, "dark")
    if step in ("distances", "heights"):
        open_folds(page)
    faint = [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
    found.in_the_dark[step] = [*page.axe(context=f"'{seen.MAIN}'"), *faint]
    seen.theme(page, "light")


def _on_a_phone(page: Browser, step: str, found: Found) -> None:
    page.resize(PHONE)
    page.settle()
    if page.driver.execute_script("return document.body.scrollWidth > innerWidth"):
        found.too_wide.append(step)
    found.on_a_phone[step] = [*page.axe(context=f"'{seen.MAIN}'")]
    page.resize(DESKTOP)
    page.settle()


def test_every_question_of_the_home_check_is_clean_in_the_dark_theme(
    walked: tuple[Browser, Found],
) -> None:
    found = walked[1].in_the_dark
    assert len(found) == QUESTIONS
    assert {step: flaws for step, flaws in found.items() if flaws} == {}


def test_every_question_fits_a_phone_and_passes_axe(walked: tuple[Browser, Found]) -> None:
    found = walked[1].on_a_phone
    assert len(found) == QUESTIONS + 2
    assert {step: flaws for step, flaws in found.items() if flaws} == {}
    assert walked[1].too_wide == []


@pytest.fixture(scope="module", params=PAGES)
def shown(request: pytest.FixtureRequest, walked: tuple[Browser, Found]) -> tuple[str, Browser]:
    """One page, filled, with everything folded opened."""
    name: str = request.param
    at = "home?step=result" if name == "home" else name
    return name, access.unfolded(walked[0], at, words=PAGES[name])


def test_axe_finds_nothing_and_words_stand_out(shown: tuple[str, Browser]) -> None:
    name, page = shown
    access.clean_and_legible(page, pictures=name in PICTURES)


def test_pictures_say_their_numbers(shown: tuple[str, Browser]) -> None:
    name, page = shown
    access.pictures_say_numbers(page, least=PICTURES.get(name, 0))


def test_the_keyboard_goes_in_the_order_of_reading_with_its_focus_seen(
    shown: tuple[str, Browser],
) -> None:
    access.keyboard_in_order_of_reading(shown[1])


def test_nothing_is_lost_at_twice_the_size_on_a_tablet_or_on_a_phone(
    shown: tuple[str, Browser],
) -> None:
    access.nothing_lost_at_other_sizes(shown[1])
