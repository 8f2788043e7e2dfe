"""The Desk page in a real browser: reached from the interview, chosen from, taped."""

from __future__ import annotations

import re

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser import walk
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.walk import LINE, fill, retype


@pytest.fixture
def desk(shared: Browser, served: Served) -> Browser:
    """The Desk page as the last test left it, or on the invented wearer's answers."""
    if not shared.place.startswith("/desk"):
        walk.example(shared, served, "desk", until="Measure the nearest")
    return shared


def described(page: Browser) -> str:
    """The map's own text."""
    return str(
        page.driver.execute_script("return document.querySelector('#deskmap-desc').textContent")
    )


def test_the_map_follows_the_lens_chosen_by_keyboard(served, shared):
    walk.example(shared, served, "desk", until="Measure the nearest")
    before = described(shared)
    said = re.search(r"About \d+ % of it is comfortable through ([^,]+),", before)
    assert said is not None
    assert f"through {said[1]}" in shared.text(LINE)
    chooser = (By.CSS_SELECTOR, "[data-testid=stSelectbox] input")
    shared.again(
        lambda: shared.driver.find_element(*chooser).send_keys(Keys.ARROW_DOWN), "a list of lenses"
    )
    shared.settle()
    down = (Keys.ARROW_DOWN, Keys.ARROW_DOWN)  # past the present pair and what is put first
    ActionChains(shared.driver).send_keys(*down, Keys.ENTER).perform()
    shared.wait_for(lambda: described(shared) != before, "another map")
    shared.settle()
    assert f"comfortable through {said[1]}," not in described(shared)
    after = described(shared)
    shared.open(shared.driver.current_url, until="Measure the nearest")
    assert described(shared) == after
    assert shared.outside_requests() == []


def test_a_higher_seat_by_arrow_key_adds_a_row(desk):
    slider = (By.CSS_SELECTOR, "[data-testid=stSlider] input")
    for _ in range(2):
        desk.again(
            lambda: desk.driver.find_element(*slider).send_keys(Keys.ARROW_RIGHT), "a slider"
        )
    desk.wait_for_text("seat raised by 2 cm")
    desk.wait_for_text("footrest")


def test_how_sure_the_answer_is_stands_there_without_asking(desk):
    assert re.search(
        r"Of 100 wearers and desks as uncertain as this, \d+ would do clearly better", desk.text()
    )
    assert not [
        one for one in desk.driver.find_elements(By.TAG_NAME, "button") if "Test the" in one.text
    ]


def test_a_taped_range_is_refused_beside_its_field_then_used(desk):
    walk.open_folds(desk)
    fill(desk, {"Trial added": "1,5", "Nearest clear": "40", "Farthest clear": "64"})
    desk.wait_for_text("64 is too near. Allowed: at least 67 cm", selector="[role=alert]")
    retype(desk, "Farthest clear", "100")
    desk.wait_for_text("The answer uses 0.50 D of focusing in place of")
    assert not desk.driver.find_elements(By.CSS_SELECTOR, "[role=alert]")
    assert "Focusing 0.50 D (0.38 to 0.62 D)" in desk.text()


def test_one_line_is_read_aloud_when_it_changes(desk):
    live = desk.driver.find_elements(By.CSS_SELECTOR, "[data-testid=stMain] [role=status]")
    assert len(live) == 1


def test_the_picture_is_wide_enough_on_a_phone(desk):
    desk.resize(PHONE)
    desk.settle()
    picture = desk.driver.find_element(By.CSS_SELECTOR, ".lg-picture svg").rect
    assert picture["width"] >= 300
    assert walk.sideways(desk) <= 0
