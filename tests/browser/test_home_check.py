"""The home check in a real browser: an invented person, the keyboard alone, a phone, no way past a
warning sign, and nothing in it that could be ordered. Five people without a browser are in
tests/test_app_home.py."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from app.views.home.sheet import visit_sheet
from engine.case.read import build_case
from engine.home.answers import choices
from engine.home.case import case_from_visit_file, read_visit_file
from engine.home.check import home_result
from tests.browser.harness import Browser
from tests.browser.home_people import (
    NEXT,
    PEOPLE,
    SKIP,
    asked,
    click,
    downloaded,
    past_the_flags,
    visit,
)
from tests.browser.walk import retype
from tests.home_detector import orders_in, stray_numbers_in, words_of
from tests.home_sessions import invented

SIGN = "An eye is red"
CARD_PX = 8.56 / 2.54 * 96
"""A bank card in CSS pixels, 96 to the inch."""
PAGE_NUMBERS = (r"chin \d+° (?:up|down)", r", \d+ cm\b", r"\t\d+(?:\.\d)?\n")
"""Numbers of the picture and of the column of hours."""


def begin(page: Browser, served) -> None:
    page.enter(served, "home", until="Is any of this true now?")


def focused_id(page: Browser) -> str:
    return str(page.driver.execute_script("return document.activeElement.textContent"))


def step_in_address(page: Browser) -> str:
    found = re.search(r"[?&]step=(\w+)", page.driver.current_url)
    return found[1] if found else ""


def test_a_person_with_two_screens_reaches_a_result_that_orders_nothing(
    served, desktop, tmp_path
) -> None:
    person = PEOPLE[1]
    begin(desktop, served)
    visit(desktop, person)
    desktop.wait_for_text("What this check cannot see")
    said = desktop.text() + "\n"
    sheet = words_of(downloaded(desktop, "Get the sheet", tmp_path, "my-desk.html"))
    file = downloaded(desktop, "Get the file", tmp_path, "my-desk.json")
    for text in (said, sheet, file):
        assert orders_in(text) == []
    for pattern in PAGE_NUMBERS:
        said = re.sub(pattern, "\n", said)
    assert stray_numbers_in(said) == ""
    assert stray_numbers_in(sheet) == ""
    case = build_case(case_from_visit_file(file))
    assert len(case.targets) == len(read_visit_file(file).things)
    assert case.origin["/targets/0/distance_cm"] == "at_home"
    assert desktop.outside_requests() == []
    prints_on_one_page_with_a_true_ruler(desktop, tmp_path / "my-desk.html")


def prints_on_one_page_with_a_true_ruler(page: Browser, sheet: Path) -> None:
    page.driver.get(sheet.as_uri())
    assert pages_of(page) == 1
    wide = page.driver.execute_script(
        "const s = document.querySelector('svg.ruler');"
        "return s.getBoundingClientRect().width / s.viewBox.baseVal.width"
    )
    off = abs(wide * 8.56 / CARD_PX - 1.0)
    assert off <= 0.002, "a fifth of the 1 % at which a ruler is refused"
    assert page.axe() == []


def test_a_warning_sign_cannot_be_passed(served, desktop) -> None:
    begin(desktop, served)
    past_the_flags(desktop)
    asked(desktop, "age")
    address = desktop.driver.current_url
    desktop.driver.back()
    asked(desktop, "flags")
    click(desktop, SIGN)
    desktop.wait_for_text("needs an eye doctor today")
    assert "Next" not in desktop.text()
    for step in ("age", "screens", "tell", "result"):
        desktop.driver.get(address.replace("step=age", f"step={step}"))
        desktop.wait_for_text("needs an eye doctor today")
        assert "How old" not in desktop.text()
        assert "sheet" not in desktop.text()
    desktop.driver.back()
    desktop.wait_for_text("needs an eye doctor today")
    desktop.driver.refresh()
    desktop.wait_for_text("needs an eye doctor today")
    click(desktop, "I ticked that by mistake")
    desktop.wait_for(lambda: "Please stop" not in desktop.text(), "the way on")


def test_the_sign_stands_over_the_box_that_says_none(served, desktop) -> None:
    begin(desktop, served)
    click(desktop, "None of these is true")
    click(desktop, SIGN)
    desktop.wait_for_text("Please stop here")


@pytest.mark.parametrize("step", ["age", "heights", "result", "nonsense"])
def test_an_address_alone_leads_to_the_warning_signs(served, desktop, step: str) -> None:
    desktop.enter(served, f"home?step={step}", until="Is any of this true now?")
    assert step_in_address(desktop) == "flags"


def test_no_question_is_left_without_its_answer(served, desktop) -> None:
    begin(desktop, served)
    click(desktop, NEXT)
    desktop.wait_for_text("Tick what fits, or the last box.")
    past_the_flags_again = step_in_address(desktop)
    assert past_the_flags_again == "flags"
    past_the_flags(desktop)
    asked(desktop, "age")
    click(desktop, NEXT)
    desktop.wait_for_text("Choose your age.")
    assert step_in_address(desktop) == "age"


def test_back_forward_and_reload_keep_everything(served, desktop) -> None:
    begin(desktop, served)
    past_the_flags(desktop)
    asked(desktop, "age")
    click(desktop, "60 to 64")
    click(desktop, NEXT)
    asked(desktop, "glasses")
    click(desktop, "Office glasses")
    click(desktop, NEXT)
    asked(desktop, "coping")
    for step in ("glasses", "age"):
        desktop.driver.back()
        asked(desktop, step)
        assert step_in_address(desktop) == step
    checked = "return document.querySelector('[data-testid=stMain] input:checked')"
    label = f"{checked}.closest('label').innerText"
    assert desktop.driver.execute_script(label) == "60 to 64"
    desktop.driver.forward()
    asked(desktop, "glasses")
    assert "Office glasses" in desktop.driver.execute_script(label)
    desktop.driver.refresh()
    asked(desktop, "glasses")
    assert "Office glasses" in desktop.driver.execute_script(label)
    click(desktop, NEXT)
    asked(desktop, "coping")


def test_the_focus_moves_to_the_new_question(served, desktop) -> None:
    begin(desktop, served)
    past_the_flags(desktop)
    asked(desktop, "age")
    desktop.wait_for(lambda: "How old are you?" in focused_id(desktop), "focus on the question")
    assert "Question 1 of 12" in focused_id(desktop)
    click(desktop, "60 to 64")
    click(desktop, NEXT)
    asked(desktop, "glasses")
    desktop.wait_for(lambda: "Which glasses" in focused_id(desktop), "focus on the question")


def test_the_keyboard_alone_reaches_the_screens(served, desktop) -> None:
    def press(*keys: str) -> None:
        ActionChains(desktop.driver).send_keys(*keys).perform()

    def tab_to(words: str) -> None:
        for _ in range(40):
            press(Keys.TAB)
            if (desktop.driver.switch_to.active_element.accessible_name or "").startswith(words):
                return
        raise AssertionError(f"{words} is not reached")

    begin(desktop, served)
    tab_to("None of these is true")
    press(Keys.SPACE)
    desktop.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(desktop, "age")
    desktop.wait_for(lambda: "How old" in focused_id(desktop), "focus")
    press(Keys.TAB)
    press(Keys.SPACE)
    desktop.settle()
    press(Keys.ARROW_DOWN)
    desktop.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(desktop, "glasses")
    desktop.wait_for(lambda: "Which glasses" in focused_id(desktop), "focus")
    press(Keys.TAB)
    press(Keys.SPACE)
    desktop.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(desktop, "coping")
    desktop.wait_for(lambda: "What do you do" in focused_id(desktop), "focus")
    tab_to("I lift my chin")
    press(Keys.SPACE)
    desktop.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(desktop, "screens")
    tab_to("Size of your main screen")
    press("24")
    desktop.settle()
    tab_to("Next")
    press(Keys.ENTER)
    asked(desktop, "distances")


def test_measures_that_cannot_be_right_are_named_and_hold_one_back(served, desktop) -> None:
    begin(desktop, served)
    past_the_flags(desktop)
    for step, answer in (("age", "55 to 59"), ("glasses", "I do not know"), ("coping", "I lift")):
        asked(desktop, step)
        click(desktop, answer)
        click(desktop, NEXT)
    asked(desktop, "screens")
    retype(desktop, "Size of your main", "27")
    click(desktop, NEXT)
    asked(desktop, "distances")
    retype(desktop, "From your nose to the middle of your main", "24")
    desktop.wait_for_text("If you meant inches, write 24 in.")
    retype(desktop, "From your nose to the middle of your main", "95")
    click(desktop, "Yes, easily")
    desktop.wait_for_text("Both cannot be right.")
    click(desktop, "The paper ruler")
    retype(desktop, "A bank card on", "8.2")
    desktop.wait_for_text("Your paper ruler is off")
    click(desktop, NEXT)
    desktop.wait_for_text("One number needs another look.")
    assert step_in_address(desktop) == "distances"
    retype(desktop, "A bank card on", "8.5")
    retype(desktop, "From your nose to the middle of your main", "5 m")
    desktop.wait_for_text("5 m does not work here. Please write: 15 to 250 cm.")
    click(desktop, SKIP)
    desktop.wait_for_text("One number needs another look.")
    assert step_in_address(desktop) == "distances"
    retype(desktop, "From your nose to the middle of your main", "far away")
    desktop.wait_for_text("does not work here")
    retype(desktop, "From your nose to the middle of your main", "65,5")
    click(desktop, NEXT)
    asked(desktop, "heights")
    click(desktop, SKIP)
    asked(desktop, "reading")
    click(desktop, "Papers on the desk")
    retype(desktop, "From your nose to your papers", "300")
    desktop.wait_for_text("300 does not work here. Please write: 15 to 150 cm.")
    retype(desktop, "From your nose to your papers", "120")
    desktop.wait_for_text("is farther than an arm.")
    retype(desktop, "From your nose to your papers", "40")
    click(desktop, NEXT)
    asked(desktop, "others")
    click(desktop, NEXT)
    asked(desktop, "hours")
    retype(desktop, "Hours a day at your main", "25")
    desktop.wait_for_text("25 does not work here. Please write: 0 to 24 hours.")
    retype(desktop, "Hours a day at your main", "20")
    retype(desktop, "Hours a day at your papers", "8")
    desktop.wait_for_text("24 hours at most for all of them.")


def test_the_longest_sheet_prints_on_one_page(desktop, tmp_path) -> None:
    every = {name: list(choices(name)) for name in ("coping", "bothers", "tell", "others", "needs")}
    screen = {"size_in": 27.0, "distance_cm": 85.0, "top_above_desk_cm": 53.0}
    screens = [screen, {**screen, "side": "left"}, {**screen, "side": "right"}]
    reading = [{"what": what, "distance_cm": 40.0} for what in choices("reading")]
    answers = invented(**every, screens=screens, reading=reading, hours=None, skipped=["hours"])
    sheet = tmp_path / "long.html"
    sheet.write_text(visit_sheet(answers, home_result(answers, people=8)), encoding="utf-8")
    desktop.driver.get(sheet.as_uri())
    assert pages_of(desktop) == 1


def pages_of(page: Browser) -> int:
    printed = page.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    return len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(printed["data"])))


def test_deleting_leaves_nothing(served, desktop) -> None:
    begin(desktop, served)
    past_the_flags(desktop)
    asked(desktop, "age")
    click(desktop, "60 to 64")
    click(desktop, "Delete these answers")
    desktop.wait_for_text("Is any of this true now?")
    assert not desktop.driver.execute_script(
        "return document.querySelectorAll('[data-testid=stMain] input:checked').length"
    )
