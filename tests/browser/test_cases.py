"""A case saved, changed, compared and opened by keyboard, in a real browser."""

from __future__ import annotations

from selenium.webdriver.common.keys import Keys

from tests.browser import walk
from tests.browser.harness import Browser, Served
from tests.browser.walk import answer, box, keys, retype, tab_to, wait_answered

LABEL = "Label of your choice"


def save_example(page: Browser, served: Served, label: str) -> None:
    """The invented wearer, saved by keyboard."""
    walk.example(page, served)
    wait_answered(page)
    tab_to(page, LABEL, most=120)
    keys(page, label)
    page.settle()
    tab_to(page, "Save", most=5)
    keys(page, Keys.ENTER)
    page.settle()
    page.wait_for_text(f"Case {label}: saved")


def to_cases(page: Browser) -> None:
    """Follow the link of the panel by keyboard."""
    tab_to(page, "Kept cases, and files", most=10)
    keys(page, Keys.ENTER)
    page.wait_for_text("On this computer")
    page.settle()


def test_save_change_compare_and_open_by_keyboard(keeping, shared):
    save_example(shared, keeping, "A12")
    retype(shared, "Distance", "70")
    shared.wait_for_text("unsaved changes since")
    assert "unsaved changes since" in answer(shared)
    wait_answered(shared)
    shared.driver.execute_script("arguments[0].focus()", box(shared, LABEL))
    tab_to(shared, "Save", most=5)
    keys(shared, Keys.ENTER)
    shared.wait_for_text("Case A12: saved")
    shared.settle()
    to_cases(shared)
    shared.wait_for_text("What changed between two saves")
    assert "main screen: distance, cm" in shared.text()
    assert "+5" in shared.text()
    tab_to(shared, "Open in the Interview", most=30)
    keys(shared, Keys.ENTER)
    shared.wait_for(
        lambda: box(shared, "Distance").get_attribute("value") == "70", "the opened case"
    )
    assert "draft=" in shared.driver.current_url
    assert "A12" not in shared.place
    assert shared.outside_requests() == []
