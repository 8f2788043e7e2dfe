"""The evidence page in a real browser: read on a phone, with its table opened."""

from __future__ import annotations

from selenium.webdriver.common.by import By

from tests.browser.harness import Browser, Served
from tests.browser.walk import sideways


def test_nothing_is_cut_off_on_a_phone(served: Served, phone: Browser) -> None:
    phone.enter(served, "evidence", until="Claims")
    phone.driver.find_element(By.CSS_SELECTOR, "[data-testid='stExpander'] summary").click()
    phone.settle()
    phone.wait_for_text("Farthest comfortable lift of the chin")
    assert sideways(phone) <= 0
    wide = phone.driver.execute_script(
        "return [...document.querySelectorAll('.lg-claims p, .lg-quiet')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"
    )
    assert wide == []
