"""Five invented people with different desks, and how each goes through the home check."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from tests.browser.harness import Browser

NEXT, SKIP = "Next", "I cannot tell. Go on"
_MAIN = "[data-testid='stMain']"


@dataclass(frozen=True)
class Person:
    """What one invented person chooses and types, by question; None passes a question over."""

    name: str
    age: str
    glasses: str
    coping: tuple[str, ...]
    screens: tuple[tuple[str, ...], ...]
    sizes: dict[str, str]
    distances: dict[str, str] | None
    heights: dict[str, str] | None
    reading: dict[str, str]
    others: tuple[str, ...]
    hours: dict[str, str] | None
    needs: tuple[str, ...]
    bothers: tuple[str, ...]
    tell: tuple[str, ...] = field(default=())


_NOSE = "From your nose to the middle of your "
_DESK = "From the desk up to "
PEOPLE = (
    Person(
        name="front desk, low screen, a line",
        age="50 to 54",
        glasses="Glasses with one line",
        coping=("I lift my chin", "The bottom part"),
        screens=(("1",),),
        sizes={"main": "22"},
        distances={f"{_NOSE}main": "60"},
        heights={f"{_DESK}your eyes": "47", f"{_DESK}the top edge of your main": "38"},
        reading={"Papers on the desk": "44"},
        others=("People who come",),
        hours={"your main screen": "4", "your papers": "1", "people who come": "1.5"},
        needs=("I use stairs", "I walk about"),
        bothers=("The screen is not clear",),
    ),
    Person(
        name="accounts, two tall screens, all-distance glasses",
        age="55 to 59",
        glasses="All-distance glasses",
        coping=("I lift my chin", "I turn my head", "The bottom part"),
        screens=(("2",), ("To the right",)),
        sizes={"main": "27", "second": "27"},
        distances={f"{_NOSE}main": "68", f"{_NOSE}second": "85"},
        heights={
            f"{_DESK}your eyes": "46",
            f"{_DESK}the top edge of your main": "53",
            f"{_DESK}the top edge of your second": "53",
        },
        reading={"Papers on the desk": "42", "Phone": "38"},
        others=(),
        hours={"your main screen": "5", "your second screen": "2", "your papers": "1"},
        needs=("I drive", "I use stairs"),
        bothers=("My neck", "Only a narrow"),
        tell=("I fell",),
    ),
    Person(
        name="laptop only, distance glasses",
        age="45 to 49",
        glasses="Glasses for far away",
        coping=("I push my chair back", "I take my glasses off"),
        screens=(("A laptop",),),
        sizes={"main": "14"},
        distances={f"{_NOSE}main": "19 in"},
        heights={f"{_DESK}your eyes": "48", f"{_DESK}the top edge of your main": "24"},
        reading={"Phone": ""},
        others=(),
        hours={"your main screen": "6", "your phone": "1"},
        needs=("I drive",),
        bothers=("My eyes are tired",),
    ),
    Person(
        name="drawing office, very wide screen, office glasses, inches",
        age="60 to 64",
        glasses="Office glasses",
        coping=("I lean towards", "The middle"),
        screens=(("Extra wide",), ("My main screen cannot",)),
        sizes={"main": "34"},
        distances={f"{_NOSE}main": "30 in"},
        heights={f"{_DESK}your eyes": "19 in", f"{_DESK}the top edge of your main": "17 in"},
        reading={"Papers on the desk": "20 in"},
        others=("A board",),
        hours={"your main screen": "6", "your papers": "1", "the board": "1"},
        needs=(),
        bothers=("People across the room",),
        tell=("I must wear safety",),
    ),
    Person(
        name="music room, contact lenses, nothing measured",
        age="65 or over",
        glasses="Contact lenses",
        coping=(),
        screens=(("1",),),
        sizes={"main": "24"},
        distances=None,
        heights=None,
        reading={"Tablet": ""},
        others=("Music on a stand", "People across the desk"),
        hours=None,
        needs=("I walk about",),
        bothers=(),
        tell=("My own eye lens",),
    ),
)


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


def type_in(page: Browser, label: str, text: str) -> None:
    """Put a text into the field whose label begins so."""
    where = f"{_MAIN} input[aria-label^='{label}']"
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, where)), label)
    element = page.driver.find_element(By.CSS_SELECTOR, where)
    element.send_keys(Keys.CONTROL, "a")
    element.send_keys(text or Keys.DELETE)
    time.sleep(0.6)
    page.settle()


def asked(page: Browser, step: str) -> None:
    """Wait until a question is shown."""
    head = f".st-key-home_head_{step} h2"
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, head)), step)
    page.settle()


def past_the_flags(page: Browser) -> None:
    """No warning sign."""
    asked(page, "flags")
    click(page, "None of these is true")
    click(page, NEXT)


def visit(page: Browser, person: Person, *, each: Callable[[str], None] | None = None) -> None:
    """The whole check as one person, to the result; `each` sees every question when filled."""

    def go_on(step: str, answers: tuple[str, ...], onward: str = NEXT) -> None:
        asked(page, step)
        for answer in answers:
            click(page, answer)
        if each:
            each(step)
        click(page, onward)

    def typed(step: str, texts: dict[str, str] | None, *, before: str = "") -> None:
        asked(page, step)
        for label, text in (texts or {}).items():
            type_in(page, f"{before}{label}", text)
        if each:
            each(step)
        click(page, NEXT if texts is not None else SKIP)

    past_the_flags(page)
    go_on("age", (person.age,))
    go_on("glasses", (person.glasses,))
    go_on("coping", person.coping)
    asked(page, "screens")
    for answer in person.screens:
        click(page, answer[0])
    for screen, size in person.sizes.items():
        type_in(page, f"Size of your {screen}", size)
    go_on("screens", ())
    typed("distances", person.distances)
    typed("heights", person.heights)
    asked(page, "reading")
    for label, text in person.reading.items():
        click(page, label)
        if text:
            what = label.split(" ")[0].lower()
            type_in(page, f"From your nose to your {what}", text)
    go_on("reading", ())
    go_on("others", person.others)
    typed("hours", person.hours, before="Hours a day at ")
    go_on("needs", person.needs)
    go_on("bothers", person.bothers)
    go_on("tell", person.tell)
    asked(page, "result")


def downloaded(page: Browser, label: str, folder: Path, name: str) -> str:
    """What a download button gives."""
    page.driver.execute_cdp_cmd(
        "Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(folder)}
    )
    click(page, label)
    page.wait_for((folder / name).exists, name)
    time.sleep(0.2)
    return (folder / name).read_text(encoding="utf-8")
