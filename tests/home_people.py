"""Five invented people with different desks, and how each goes through the home check.

The visit is the same in a browser and without one: whoever has hands for a page can make it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

NEXT, SKIP = "Next", "I cannot tell. Go on"


class Hands(Protocol):
    """What a visitor does with the home check."""

    def click(self, label: str) -> None:
        """Click the button or choice whose words begin so."""

    def type_in(self, label: str, text: str) -> None:
        """Put a text into the field whose label begins so."""

    def asked(self, step: str) -> None:
        """Make sure that a question is shown."""


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


def past_the_flags(hands: Hands) -> None:
    """Say that there is no warning sign, and go on."""
    hands.asked("flags")
    hands.click("None of these is true")
    hands.click(NEXT)


def visit(hands: Hands, person: Person, *, each: Callable[[str], None] | None = None) -> None:
    """Make the whole check as one person; `each` sees every question when filled."""

    def go_on(step: str, answers: tuple[str, ...], onward: str = NEXT) -> None:
        hands.asked(step)
        for answer in answers:
            hands.click(answer)
        if each:
            each(step)
        hands.click(onward)

    def typed(step: str, texts: dict[str, str] | None, *, before: str = "") -> None:
        hands.asked(step)
        for label, text in (texts or {}).items():
            hands.type_in(f"{before}{label}", text)
        if each:
            each(step)
        hands.click(NEXT if texts is not None else SKIP)

    past_the_flags(hands)
    go_on("age", (person.age,))
    go_on("glasses", (person.glasses,))
    go_on("coping", person.coping)
    hands.asked("screens")
    for answer in person.screens:
        hands.click(answer[0])
    for screen, size in person.sizes.items():
        hands.type_in(f"Size of your {screen}", size)
    go_on("screens", ())
    typed("distances", person.distances)
    typed("heights", person.heights)
    hands.asked("reading")
    for label, text in person.reading.items():
        hands.click(label)
        if text:
            what = label.split(" ")[0].lower()
            hands.type_in(f"From your nose to your {what}", text)
    go_on("reading", ())
    go_on("others", person.others)
    typed("hours", person.hours, before="Hours a day at ")
    go_on("needs", person.needs)
    go_on("bothers", person.bothers)
    go_on("tell", person.tell)
    hands.asked("result")
