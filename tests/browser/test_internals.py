"""The parts our style selects are on the pages: a part renamed by the library loses its look."""

from __future__ import annotations

from app.shell import internals
from tests.browser.harness import PHONE, Browser, Served
from tests.browser.test_interview import field, load_example

SEEN = "return [...document.querySelectorAll('[data-testid]')].map(one => one.dataset.testid)"


def test_every_part_the_style_selects_is_on_the_pages(served: Served, desktop: Browser) -> None:
    page, seen = desktop, set[str]()

    def look() -> None:
        seen.update(page.driver.execute_script(SEEN))

    page.open(served.address)
    load_example(page)
    page.wait_for(lambda: page.has("stSlider"), "the sliders")
    look()
    page.open(f"{served.address.rstrip('/')}/cases")
    field(page, "Search").send_keys("5")
    page.wait_for(lambda: page.has("InputInstructions"), "the hint while typing")
    look()
    page.resize(PHONE)
    page.wait_for(lambda: page.has("stExpandSidebarButton"), "the way to the other pages")
    look()
    assert set(internals.PARTS) <= seen
