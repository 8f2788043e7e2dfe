"""Going through the pages as a person does: typing, the menu, files, the printer."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from tests.browser.harness import PHONE, Browser, browser

LINE = ".st-key-answer"
"""The line in view."""
MENU = "[data-testid=stExpandSidebarButton]"


@contextmanager
def window(size: tuple[int, int]) -> Iterator[Browser]:
    """A browser of that size; a narrow one also says that it is a phone, by which menus go."""
    with browser(size=size) as page:
        if size == PHONE:
            said = page.driver.execute_script("return navigator.userAgent")
            system = re.sub(r"\(.*?\)", "(Linux; Android 14; K)", said, count=1)
            agent = system.replace("HeadlessChrome", "Chrome").replace(" Safari", " Mobile Safari")
            page.driver.execute_cdp_cmd("Emulation.setUserAgentOverride", {"userAgent": agent})
        yield page


def box(page: Browser, name: str) -> WebElement:
    """The field of that name, once it is drawn; of two that begin alike the first."""
    where = f'[data-testid=stMain] input[aria-label^="{name}"]'
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, where)), name)
    return page.driver.find_element(By.CSS_SELECTOR, where)


def put(page: Browser, name: str, text: str) -> None:
    """Type in place of what stands there and leave the field."""
    field = box(page, name)
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text or Keys.DELETE, Keys.TAB)
    page.settle()


def retype(page: Browser, name: str, text: str) -> None:
    """Type in place of what is there and stay in the field; the page answers after a pause."""
    field = box(page, name)
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text or Keys.DELETE)
    page.settle()


def pick(page: Browser, group: str, choice: str) -> None:
    """One of the choices in view."""
    path = (
        f'//*[@role=\'radiogroup\' and @aria-label="{group}"]//label[normalize-space(.)="{choice}"]'
    )
    page.driver.find_element(By.XPATH, path).click()
    page.settle()


def choose(page: Browser, label: str, option: str) -> None:
    """Take one of a list: open it, again where a redraw has closed it, and touch the option."""
    field = f'input[role=combobox][aria-label*="{label}"]'
    path = f"//*[@role='option'][contains(., \"{option}\")]"

    def taken() -> bool:
        options = page.driver.find_elements(By.XPATH, path)
        if options:
            options[0].click()
            return True
        page.driver.execute_script(
            "const e = document.querySelector(arguments[0]);"
            "e.scrollIntoView({block: 'center'}); e.focus()",
            field,
        )
        page.driver.find_element(By.CSS_SELECTOR, field).send_keys(Keys.ARROW_DOWN)
        page.settle()
        return False

    page.wait_for(taken, f"{option!r} in the list {label!r}")
    page.settle()


def held(page: Browser, name: str) -> str:
    """What stands in a field."""
    return box(page, name).get_attribute("value") or ""


def holds(page: Browser, **texts: str) -> None:
    """Wait until fields (spaces as underscores) hold these texts."""
    for name, text in texts.items():
        label = name.replace("_", " ")
        page.wait_for(lambda label=label, text=text: held(page, label) == text, f"{label} {text}")


def shown_links(page: Browser, test_id: str) -> dict[str, WebElement]:
    """The links of the navigation that can be seen, by their words."""
    found = page.driver.find_elements(By.CSS_SELECTOR, f"[data-testid={test_id}]")
    return {one.text: one for one in found if one.is_displayed() and one.text}


def turn_to(page: Browser, title: str, *, until: str) -> None:
    """Follow the navigation: along the top, or in the menu of a narrow window."""
    links = shown_links(page, "stTopNavLink")
    narrow = not links
    if narrow:
        page.driver.find_element(By.CSS_SELECTOR, MENU).click()
        page.wait_for(lambda: title in shown_links(page, "stSidebarNavLink"), "the menu")
        links = shown_links(page, "stSidebarNavLink")
    links[title].click()
    page.wait_for_text(until)
    if narrow:
        page.wait_for(lambda: not shown_links(page, "stSidebarNavLink"), "a menu that shuts")
    page.settle()


def press(page: Browser, words: str) -> None:
    """Press the button that says so."""
    path = f"//*[@data-testid='stMain']//button[contains(., \"{words}\")]"
    page.wait_for(lambda: bool(page.driver.find_elements(By.XPATH, path)), words)
    button = page.driver.find_element(By.XPATH, path)
    page.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
    button.click()
    page.settle()


def saved_file(page: Browser, words: str, folder: Path) -> Path:
    """The file a download button gives, whole."""
    before = set(folder.iterdir())
    page.downloads_to(folder)
    press(page, words)

    def new() -> list[Path]:
        return [
            one
            for one in set(folder.iterdir()) - before
            if one.suffix in (".html", ".json", ".csv")
        ]

    page.wait_for(lambda: bool(new()), f"the file of {words!r}")
    return new()[0]


def printed(page: Browser, sheet: Path) -> str:
    """What stands on a sheet, in words; it prints on one page of A4 and asks for nothing."""
    page.driver.get(sheet.as_uri())
    paper = {"paperWidth": 8.27, "paperHeight": 11.69, "generateTaggedPDF": True}
    pdf = page.driver.execute_cdp_cmd("Page.printToPDF", paper)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", base64.b64decode(pdf["data"]))) == 1
    return page.text("main")


def typed_in_address(page: Browser, *texts: str) -> list[str]:
    """Which of these texts stand in the address; the draft's name is random and left out."""
    address = re.sub(r"draft=[\w-]+", "", page.place)
    return [text for text in texts if text in address]


def in_the_window(page: Browser, selector: str) -> bool:
    """True when the first such element is wholly inside the window, sideways."""
    return bool(
        page.driver.execute_script(
            "const r = document.querySelector(arguments[0]).getBoundingClientRect();"
            "return r.left >= 0 && r.right <= innerWidth",
            selector,
        )
    )
