"""The home check in a real browser: clicked, typed into, and what it gives out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.by import By

from tests import home_people
from tests.browser.harness import Browser
from tests.browser.walk import retype
from tests.home_people import NEXT, PEOPLE, SKIP, Person

__all__ = ["NEXT", "PEOPLE", "SKIP", "Person"]
_MAIN = "[data-testid='stMain']"


@dataclass(frozen=True)
class InBrowser:
    """The hands of a visitor with a browser."""

    page: Browser

    def click(self, label: str) -> None:
        """Click the button or choice whose words begin so, once it is there."""
        click(self.page, label)

    def type_in(self, label: str, text: str) -> None:
        """Put a text into the field whose label begins so."""
        retype(self.page, label, text)

    def asked(self, step: str) -> None:
        """Wait until a question is shown."""
        asked(self.page, step)


def past_the_flags(page: Browser) -> None:
    """Say that there is no warning sign, and go on."""
    home_people.past_the_flags(InBrowser(page))


def visit(page: Browser, person: Person, *, each: Callable[[str], None] | None = None) -> None:
    """Make the whole check as one person; `each` sees every question when filled."""
    home_people.visit(InBrowser(page), person, each=each)


def click(page: Browser, label: str) -> None:
    """Click the button or choice whose words begin so, once it is there."""

    def clicked() -> bool:
        for element in page.driver.find_elements(By.CSS_SELECTOR, f"{_MAIN} button, {_MAIN} label"):
            try:
                if element.text.strip().startswith(label) and element.is_displayed():
                    script = "arguments[0].scrollIntoView({block: 'center'})"
                    page.driver.execute_script(script, element)
                    element.click()
                    return True
            except StaleElementReferenceException:
                return False
        return False

    page.wait_for(clicked, f"{label!r} to click")
    page.settle()


def asked(page: Browser, step: str) -> None:
    """Wait until a question is shown."""
    head = f".st-key-home_head_{step} h2"
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, head)), step)
    page.settle()


def downloaded(page: Browser, label: str, folder: Path, name: str) -> str:
    """What a download button gives."""
    page.downloads_to(folder)
    click(page, label)
    page.wait_for((folder / name).exists, name)
    return (folder / name).read_text(encoding="utf-8")
