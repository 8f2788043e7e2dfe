"""The interview in a real browser: typed and chosen from by keyboard, on a phone, deleted.

What it says to every answer is asked of the page without a browser, tests/test_app_interview.py.
"""

from __future__ import annotations

import re
import time

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from app.shell import internals
from tests.browser import walk
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.walk import answer, box, keys, tab_to, wait_answered

MOST_TOUCHED = 9


def type_into(page: Browser, name: str, text: str) -> None:
    """Tab to a field, type, and let the page answer."""
    tab_to(page, name)
    keys(page, text)
    page.settle()


@pytest.fixture
def answered(shared: Browser, served: Served) -> Browser:
    """The Interview with an answer: what the last test left, or the invented wearer's."""
    if "h comfortable" not in answer(shared) or not shared.has("stVegaLiteChart"):
        walk.example(shared, served)
    return shared


def test_the_whole_interview_by_keyboard(served, shared, capsys):
    shared.enter(served, until="Interview")
    assert "Type the age" in answer(shared)
    touched = 0
    began = time.monotonic()

    def touch(name: str, text: str) -> None:
        nonlocal touched
        type_into(shared, name, text)
        touched += 1

    touch("Age", "54")
    shared.wait_for(lambda: "Type the add" in answer(shared), "a question for the add")
    touch("Add, or the whole prescription", "2,00")
    first_answer = touched
    shared.wait_for(lambda: "h comfortable" in answer(shared), "a first answer")
    tab_to(shared, "Main screen")
    keys(shared, Keys.ARROW_DOWN)
    shared.settle()
    keys(shared, Keys.ENTER)
    shared.settle()
    touched += 1
    touch("Distance", "65,5")
    touch("Top edge", "+5")
    tab_to(shared, "What is on the desk?")
    keys(shared, "papers")
    shared.settle()
    keys(shared, Keys.ENTER)
    shared.settle()
    touched += 1
    touch("Hours a day", "6")
    keys(shared, Keys.TAB)
    shared.settle()
    touched += 1  # "must the same pair also do": looked at, left at the desk only
    with capsys.disabled():
        print(f"\nfields touched: {first_answer} to a first answer, {touched} to the full six")
        print(f"seconds by keyboard in the test: {time.monotonic() - began:.1f}")
    assert touched <= MOST_TOUCHED
    shared.wait_for(lambda: "of 6 h comfortable" in answer(shared), "six hours")
    said = answer(shared)
    assert re.search(r"\d(\.\d)? of 6 h comfortable", said), said
    assert re.search(r"6 measured, \d+ assumed", said), said
    assert shared.driver.find_elements(By.CSS_SELECTOR, "[data-tag][aria-label='papers']")
    screen = shared.driver.find_element(By.CSS_SELECTOR, "input[aria-label*='Main screen']")
    assert "27-inch screen" in (screen.get_attribute("value") or screen.accessible_name)
    assert shared.outside_requests() == []


def described(page: Browser) -> str:
    """The text of the picture of the chosen lens."""
    return str(
        page.driver.execute_script(
            "const d = document.querySelectorAll('.lg-pair svg desc');"
            "return [...d].map(e => e.textContent).join(' ')"
        )
    )


def test_a_lens_and_the_place_of_the_screen_are_chosen_by_keyboard(served, shared):
    walk.example(shared, served)
    wait_answered(shared)
    pictures = shared.text(".lg-pair")
    tab_to(shared, "Look through", most=80)
    for lens in ("Single-vision computer", "General progressive"):
        keys(shared, Keys.ARROW_RIGHT)
        shared.settle()
        shared.wait_for(lambda lens=lens: lens in described(shared), "another lens")
    assert shared.text(".lg-pair") != pictures
    titles = shared.driver.execute_script(
        "return [...document.querySelectorAll('.lg-pair svg desc')].map(e => e.textContent)"
    )
    assert len(titles) == 2
    assert all(re.search(r"\d+ cm away", text) for text in titles)
    before = described(shared)
    tab_to(shared, "Move it up", most=20)
    for _ in range(9):
        keys(shared, Keys.ARROW_LEFT)
        shared.settle()
    shared.wait_for_text("Here, with the same lens")
    moved = shared.text(".lg-moved")
    assert re.search(r"chin \d+° (up|down), \d(\.\d)? of 6 h comfortable", moved), moved
    there, here = (float(one) for one in re.findall(r"(\d(?:\.\d)?)(?: of 6)? h", moved))
    assert there > here  # lower is easier through a general progressive
    assert described(shared) != before
    assert "its centre 21 cm below" in described(shared)
    tab_to(shared, "Use this position", most=10)
    keys(shared, Keys.ENTER)
    shared.settle()
    shared.wait_for(
        lambda: box(shared, "Top edge").get_attribute("value") == "-4", "the new top edge"
    )
    assert box(shared, "Distance").get_attribute("value") == "65"
    assert "Here, with the same lens" not in shared.text()
    wait_answered(shared)


def test_on_a_phone_the_answer_stays_in_view_and_nothing_runs_off_the_side(answered):
    phone = answered
    phone.resize(PHONE)
    phone.driver.execute_script("document.querySelector('[data-testid=stMain]').scrollTo(0, 1500)")
    phone.settle()
    box = phone.driver.find_element(By.CSS_SELECTOR, ".lg-answer").rect
    top = phone.driver.execute_script(
        "return document.querySelector('.lg-answer').getBoundingClientRect().top"
    )
    assert 0 <= top < 120
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 360
    assert walk.sideways(phone) <= 0
    order = phone.driver.execute_script(
        "const y = s => document.querySelector(s).getBoundingClientRect().top;"
        "return [y('.lg-answer'), y('input[aria-label^=Age]'), y('[data-testid=stVegaLiteChart]'),"
        "y('.lg-pair')]"
    )
    assert order[1] < order[2] < order[3]


def test_deleting_empties_the_form_and_the_address(answered):
    old = answered.driver.current_url
    walk.press(answered, "Delete these answers")
    answered.wait_for_text("The answers are deleted")
    assert box(answered, "Age").get_attribute("value") == ""
    answered.wait_for(lambda: answered.driver.current_url != old, "a new token")
    answered.open(old, until="Interview")
    answered.wait_for_text("deleted or have expired")


def test_all_that_is_chosen_of_a_list_is_in_view(served: Served, shared: Browser) -> None:
    """The page library puts it on one line, most of it scrolled out of sight."""
    shared.enter(served, until="Type the age and the add")
    for words in ("the head must go back", "papers or the phone are blurred", "headaches"):
        walk.choose(shared, "What bothers", words)
    shared.wait_for(lambda: len(chosen_in_view(shared)) == 3, "three in view")
    assert all(chosen_in_view(shared))


def chosen_in_view(page: Browser) -> list[bool]:
    """Tell of everything chosen of the first list whether it can be seen and taken away."""
    return list(
        page.driver.execute_script(
            f"const box = document.querySelector('{internals.MULTISELECT}');"
            "const field = box.querySelector('[role=group], .react-aria-ComboBox');"
            f"return [...box.querySelectorAll('{internals.CHOSEN} button')].filter(one =>"
            " one.getAttribute('aria-label') !== 'Clear all').map(one => {"
            " const r = one.getBoundingClientRect(), f = field.getBoundingClientRect();"
            " return r.left >= f.left && r.right <= f.right && r.bottom <= f.bottom })"
        )
    )
