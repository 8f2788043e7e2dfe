"""The evidence page in a real browser: read on a phone, with its table opened."""

from __future__ import annotations

import pytest
from selenium.webdriver.common.by import By

from tests.browser import seen
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.walk import sideways


@pytest.fixture
def evidence(shared: Browser, served: Served) -> Browser:
    """The page, as the last test left it."""
    if not shared.place.startswith("/evidence"):
        shared.enter(served, "evidence", until="Claims")
    return shared


def test_nothing_is_cut_off_on_a_phone(evidence: Browser) -> None:
    phone = evidence
    phone.resize(PHONE)
    phone.settle()
    phone.driver.find_element(By.CSS_SELECTOR, "[data-testid='stExpander'] summary").click()
    phone.settle()
    phone.wait_for_text("Farthest comfortable lift of the chin")
    assert sideways(phone) <= 0
    wide = phone.driver.execute_script(
        "return [...document.querySelectorAll('.lg-claims p, .lg-quiet')]"
        ".filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"
    )
    assert wide == []


def test_what_a_study_found_is_seen_in_the_dark(evidence: Browser) -> None:
    desktop = evidence
    desktop.wait_for_text("Predicted and found")
    for colours in ("light", "dark"):
        seen.theme(desktop, colours)
        box = desktop.driver.execute_script(
            "const dot = document.querySelector('.lg-claims circle');"
            "dot.scrollIntoView({block: 'center', behavior: 'instant'});"
            "const d = dot.getBoundingClientRect();"
            "const p = dot.closest('svg').getBoundingClientRect();"
            "return [p.x, p.y, d.x + d.width / 2 - p.x, d.y + d.height / 2 - p.y]"
        )
        shot = seen.pixels(desktop, tuple(box))
        found = float(seen.contrast(shot[-1, -1], shot[0, 0]))
        assert found >= seen.MARKS_RATIO, (colours, found)
    seen.theme(desktop, "light")
