"""The Desk page in a real browser: reached from the interview, chosen from, tested, taped."""

from __future__ import annotations

import re

from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.harness import Browser, Served
from tests.browser.walk import retype

ANSWER = ".st-key-answer"
TALL = (1280, 6000)
"""Tall enough that no text is outside the window, where contrast is not looked at."""


def press(page: Browser, words: str) -> None:
    """Press the button that says so."""
    page.driver.execute_script(
        "[...document.querySelectorAll('button')].find(b => b.innerText.includes(arguments[0]))"
        ".click()",
        words,
    )


def desk(page: Browser, served: Served) -> None:
    """The Desk page on the invented wearer, reached by the navigation."""
    page.enter(served, until="Interview")
    press(page, "Load an invented wearer")
    page.wait_for(lambda: "h comfortable" in page.text(ANSWER), "an answer")
    page.settle()
    page.go("desk", until="Tape the nearest")


def described(page: Browser) -> str:
    """The map's own text."""
    return str(
        page.driver.execute_script("return document.querySelector('#deskmap-desc').textContent")
    )


def test_the_map_follows_the_lens_chosen_by_keyboard(served, desktop):
    desk(desktop, served)
    assert "No allowed place makes the main screen comfortable" in desktop.text(ANSWER)
    before = described(desktop)
    assert re.search(r"\d+ % of the main screen is comfortable through the present pair", before)
    chooser = desktop.driver.find_element(By.CSS_SELECTOR, "[data-testid=stSelectbox] input")
    chooser.send_keys(Keys.ARROW_DOWN)
    desktop.settle()
    ActionChains(desktop.driver).send_keys(Keys.ARROW_DOWN, Keys.ENTER).perform()
    desktop.wait_for(lambda: described(desktop) != before, "another map")
    desktop.settle()
    assert "through the present pair" not in described(desktop)
    after = described(desktop)
    desktop.open(desktop.driver.current_url, until="Tape the nearest")
    assert described(desktop) == after
    assert desktop.outside_requests() == []


def test_a_higher_seat_by_arrow_key_adds_a_row(served, desktop):
    desk(desktop, served)
    slider = desktop.driver.find_element(By.CSS_SELECTOR, "[data-testid=stSlider] input")
    slider.send_keys(Keys.ARROW_RIGHT)
    slider.send_keys(Keys.ARROW_RIGHT)
    desktop.wait_for_text("seat 2 cm higher")
    assert "footrest" in desktop.text()


def test_the_test_shows_its_progress_and_its_verdict(served, desktop):
    desk(desktop, served)
    if "Test the answer" in desktop.text():  # the interview may have tested it meanwhile
        press(desktop, "Test the answer")
        desktop.wait_for(
            lambda: desktop.has("stProgress") or "it stays the best" in desktop.text(), "progress"
        )
    desktop.wait_for_text("it stays the best")
    assert re.search(r"it stays the best in \d+ %", desktop.text())
    assert "without a move: office lens" in desktop.text(ANSWER)


def test_a_taped_range_is_refused_beside_its_field_then_used(served, desktop):
    desk(desktop, served)
    desktop.driver.execute_script(
        "[...document.querySelectorAll('summary')]"
        ".find(s => s.innerText.includes('Tape the nearest')).click()"
    )
    desktop.settle()
    for name, text in (("Trial added", "1,5"), ("Nearest clear", "40"), ("Farthest clear", "64")):
        retype(desktop, name, text)
    alert = desktop.driver.find_element(By.CSS_SELECTOR, "[role=alert]")
    assert "64 is refused; allowed: at least 67 cm" in alert.text
    retype(desktop, "Farthest clear", "100")
    desktop.wait_for_text("The answer uses 0.50 D of focusing in place of")
    assert not desktop.driver.find_elements(By.CSS_SELECTOR, "[role=alert]")
    assert "Focusing 0.50 D (0.38 to 0.62 D)" in desktop.text()


def test_the_page_is_clean_for_assistive_readers(served, desktop):
    desk(desktop, served)
    desktop.driver.execute_script(
        "document.querySelectorAll('summary').forEach(one => one.click())"
    )
    desktop.resize(TALL)
    desktop.settle()
    assert desktop.axe() == []
    live = desktop.driver.find_elements(By.CSS_SELECTOR, "[data-testid=stMain] [role=status]")
    assert len(live) == 1


def test_on_a_phone_nothing_runs_off_the_page(served, phone):
    desk(phone, served)
    wide = phone.driver.execute_script(
        "return [document.documentElement.scrollWidth, innerWidth, "
        "document.querySelector('[data-testid=stMain]').scrollWidth]"
    )
    assert max(wide) <= 360
    picture = phone.driver.find_element(By.CSS_SELECTOR, ".lg-picture svg").rect
    assert picture["width"] >= 300
