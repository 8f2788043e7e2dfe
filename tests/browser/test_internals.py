"""The parts our style selects are on the pages: a part renamed by the library loses its look."""

from __future__ import annotations

from app.shell import internals
from tests.browser import walk
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.walk import box, turn_to

SEEN = "return [...document.querySelectorAll('[data-testid]')].map(one => one.dataset.testid)"


def test_every_part_the_style_selects_is_on_the_pages(served: Served, desktop: Browser) -> None:
    page, seen = desktop, set[str]()

    def look() -> None:
        seen.update(page.driver.execute_script(SEEN))

    walk.example(page, served)
    page.wait_for(lambda: page.has("stSlider"), "the sliders")
    look()
    turn_to(page, "Kept cases", until="On this computer")
    box(page, "Search").send_keys("5")
    page.wait_for(lambda: page.has("InputInstructions"), "the hint while typing")
    look()
    page.resize(PHONE)
    page.wait_for(lambda: page.has("stExpandSidebarButton"), "the way to the other pages")
    look()
    assert set(internals.PARTS) <= seen
