"""The evidence page in a real browser: read at both widths, opened, narrowed by keyboard."""

from __future__ import annotations

from selenium.webdriver.common.by import By

from tests.browser.harness import Browser, Served

WIDEST = "return document.documentElement.scrollWidth - innerWidth"


def opened(page: Browser, served: Served) -> None:
    page.enter(served, "evidence", until="Claims")
    page.settle()


def test_nothing_is_cut_off_on_a_phone(served: Served, phone: Browser) -> None:
    opened(phone, served)
    phone.driver.find_element(By.CSS_SELECTOR, "[data-testid='stExpander'] summary").click()
    phone.settle()
    phone.wait_for_text("Comfortable chin up max")
    assert phone.driver.execute_script(WIDEST) <= 0
    wide = phone.driver.execute_script(
        "return [...document.querySelectorAll('.lg-claims p, .lg-quiet')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"
    )
    assert wide == []


def test_axe_finds_nothing_in_the_page(served: Served, desktop: Browser) -> None:
    desktop.resize((1280, 7000))
    opened(desktop, served)
    desktop.driver.find_element(By.CSS_SELECTOR, "[data-testid='stExpander'] summary").click()
    desktop.settle()
    assert desktop.axe(context="'[data-testid=stMainBlockContainer]'") == []
