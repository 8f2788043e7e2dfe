"""The home check in a real browser: the keyboard alone, back, reload, no way past a warning sign.

A whole visit, and what it gives out, is in tests/browser/test_access_home_team.py and on a phone in
tests/browser/test_flows_wearer.py; five people without a browser are in tests/test_app_home.py.
"""

from __future__ import annotations

import re

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from app.views.home.sheet import visit_sheet
from engine.home.answers import choices
from engine.home.check import home_result
from tests.browser.harness import Browser
from tests.browser.home_people import NEXT, SKIP, asked, click, past_the_flags
from tests.browser.walk import pages_of, retype
from tests.home_sessions import invented

SIGN = "An eye is red"


def begin(page: Browser, served) -> None:
    page.enter(served, "home", until="Is any of this true now?")


def focused_id(page: Browser) -> str:
    return str(page.driver.execute_script("return document.activeElement.textContent"))


def step_in_address(page: Browser) -> str:
    found = re.search(r"[?&]step=(\w+)", page.driver.current_url)
    return found[1] if found else ""


def test_a_warning_sign_cannot_be_passed(served, shared) -> None:
    begin(shared, served)
    past_the_flags(shared)
    asked(shared, "age")
    address = shared.driver.current_url
    shared.driver.back()
    asked(shared, "flags")
    click(shared, SIGN)
    shared.wait_for_text("needs an eye doctor today")
    assert "Next" not in shared.text()
    for step in ("age", "screens", "tell", "result"):
        shared.driver.get(address.replace("step=age", f"step={step}"))
        shared.wait_for_text("needs an eye doctor today")
        assert "How old" not in shared.text()
        assert "sheet" not in shared.text()
    shared.driver.back()
    shared.wait_for_text("needs an eye doctor today")
    shared.driver.refresh()
    shared.wait_for_text("needs an eye doctor today")
    click(shared, "I ticked that by mistake")
    shared.wait_for(lambda: "Please stop" not in shared.text(), "the way on")


def test_the_sign_stands_over_the_box_that_says_none(served, shared) -> None:
    begin(shared, served)
    click(shared, "None of these is true")
    click(shared, SIGN)
    shared.wait_for_text("Please stop here")


@pytest.mark.parametrize("step", ["age", "heights", "result", "nonsense"])
def test_an_address_alone_leads_to_the_warning_signs(served, shared, step: str) -> None:
    shared.enter(served, f"home?step={step}", until="Is any of this true now?")
    assert step_in_address(shared) == "flags"


def test_no_question_is_left_without_its_answer(served, shared) -> None:
    begin(shared, served)
    click(shared, NEXT)
    shared.wait_for_text("Tick what fits, or the last box.")
    past_the_flags_again = step_in_address(shared)
    assert past_the_flags_again == "flags"
    past_the_flags(shared)
    asked(shared, "age")
    click(shared, NEXT)
    shared.wait_for_text("Choose your age.")
    assert step_in_address(shared) == "age"


def test_back_forward_and_reload_keep_everything(served, shared) -> None:
    begin(shared, served)
    past_the_flags(shared)
    asked(shared, "age")
    click(shared, "60 to 64")
    click(shared, NEXT)
    asked(shared, "glasses")
    click(shared, "Office glasses")
    click(shared, NEXT)
    asked(shared, "coping")
    for step in ("glasses", "age"):
        shared.driver.back()
        asked(shared, step)
        assert step_in_address(shared) == step
    checked = "return document.querySelector('[data-testid=stMain] input:checked')"
    label = f"{checked}.closest('label').innerText"
    assert shared.driver.execute_script(label) == "60 to 64"
    shared.driver.forward()
    asked(shared, "glasses")
    assert "Office glasses" in shared.driver.execute_script(label)
    shared.driver.refresh()
    asked(shared, "glasses")
    assert "Office glasses" in shared.driver.execute_script(label)
    click(shared, NEXT)
    asked(shared, "coping")


def test_the_focus_moves_to_the_new_question(served, shared) -> None:
    begin(shared, served)
    past_the_flags(shared)
    asked(shared, "age")
    shared.wait_for(lambda: "How old are you?" in focused_id(shared), "focus on the question")
    assert "Question 1 of 12" in focused_id(shared)
    click(shared, "60 to 64")
    click(shared, NEXT)
    asked(shared, "glasses")
    shared.wait_for(lambda: "Which glasses" in focused_id(shared), "focus on the question")


def test_the_keyboard_alone_reaches_the_screens(served, shared) -> None:
    def press(*keys: str) -> None:
        ActionChains(shared.driver).send_keys(*keys).perform()

    def tab_to(words: str) -> None:
        for _ in range(40):
            press(Keys.TAB)
            if (shared.driver.switch_to.active_element.accessible_name or "").startswith(words):
                return
        raise AssertionError(f"{words} is not reached")

    begin(shared, served)
    tab_to("None of these is true")
    press(Keys.SPACE)
    shared.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(shared, "age")
    shared.wait_for(lambda: "How old" in focused_id(shared), "focus")
    press(Keys.TAB)
    press(Keys.SPACE)
    shared.settle()
    press(Keys.ARROW_DOWN)
    shared.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(shared, "glasses")
    shared.wait_for(lambda: "Which glasses" in focused_id(shared), "focus")
    press(Keys.TAB)
    press(Keys.SPACE)
    shared.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(shared, "coping")
    shared.wait_for(lambda: "What do you do" in focused_id(shared), "focus")
    tab_to("I lift my chin")
    press(Keys.SPACE)
    shared.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(shared, "screens")
    tab_to("Size of your main screen")
    press("24")
    shared.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(shared, "distances")


def test_measures_that_cannot_be_right_are_named_and_hold_one_back(served, shared) -> None:
    begin(shared, served)
    past_the_flags(shared)
    for step, answer in (("age", "55 to 59"), ("glasses", "I do not know"), ("coping", "I lift")):
        asked(shared, step)
        click(shared, answer)
        click(shared, NEXT)
    asked(shared, "screens")
    retype(shared, "Size of your main", "27")
    click(shared, NEXT)
    asked(shared, "distances")
    retype(shared, "From your nose to the middle of your main", "24")
    shared.wait_for_text("If you meant inches, write 24 in.")
    retype(shared, "From your nose to the middle of your main", "95")
    click(shared, "Yes, easily")
    shared.wait_for_text("Both cannot be right.")
    click(shared, "The paper ruler")
    retype(shared, "A bank card on", "8.2")
    shared.wait_for_text("Your paper ruler is off")
    click(shared, NEXT)
    shared.wait_for_text("One number needs another look.")
    assert step_in_address(shared) == "distances"
    retype(shared, "A bank card on", "8.5")
    retype(shared, "From your nose to the middle of your main", "5 m")
    shared.wait_for_text("5 m does not work here. Please write: 15 to 250 cm.")
    click(shared, SKIP)
    shared.wait_for_text("One number needs another look.")
    assert step_in_address(shared) == "distances"
    retype(shared, "From your nose to the middle of your main", "far away")
    shared.wait_for_text("does not work here")
    retype(shared, "From your nose to the middle of your main", "65,5")
    click(shared, NEXT)
    asked(shared, "heights")
    click(shared, SKIP)
    asked(shared, "reading")
    click(shared, "Papers on the desk")
    retype(shared, "From your nose to your papers", "300")
    shared.wait_for_text("300 does not work here. Please write: 15 to 150 cm.")
    retype(shared, "From your nose to your papers", "120")
    shared.wait_for_text("is farther than an arm.")
    retype(shared, "From your nose to your papers", "40")
    click(shared, NEXT)
    asked(shared, "others")
    click(shared, NEXT)
    asked(shared, "hours")
    retype(shared, "Hours a day at your main", "25")
    shared.wait_for_text("25 does not work here. Please write: 0 to 24 hours.")
    retype(shared, "Hours a day at your main", "20")
    retype(shared, "Hours a day at your papers", "8")
    shared.wait_for_text("24 hours at most for all of them.")


def test_the_longest_sheet_prints_on_one_page(shared, tmp_path) -> None:
    every = {name: list(choices(name)) for name in ("coping", "bothers", "tell", "others", "needs")}
    screen = {"size_in": 27.0, "distance_cm": 85.0, "top_above_desk_cm": 53.0}
    screens = [screen, {**screen, "side": "left"}, {**screen, "side": "right"}]
    reading = [{"what": what, "distance_cm": 40.0} for what in choices("reading")]
    answers = invented(**every, screens=screens, reading=reading, hours=None, skipped=["hours"])
    sheet = tmp_path / "long.html"
    sheet.write_text(visit_sheet(answers, home_result(answers, people=8)), encoding="utf-8")
    shared.driver.get(sheet.as_uri())
    assert pages_of(shared, preferCSSPageSize=True) == 1


def test_deleting_leaves_nothing(served, shared) -> None:
    begin(shared, served)
    past_the_flags(shared)
    asked(shared, "age")
    click(shared, "60 to 64")
    click(shared, "Delete these answers")
    shared.wait_for_text("Is any of this true now?")
    assert not shared.driver.execute_script(
        "return document.querySelectorAll('[data-testid=stMain] input:checked').length"
    )
