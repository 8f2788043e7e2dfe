"""Random answers to the home check: desks as people have them, and some as they hardly do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from engine.case.read import build_case
from engine.errors import InputRefusedError
from engine.home.answers import SCREEN_NAMES, HomeAnswers, answers_from, choices
from engine.home.case import case_content

if TYPE_CHECKING:
    import random

LEAST_AGE = "40_44"


def random_answers(chance: random.Random) -> HomeAnswers:
    """Answers of somebody from 40 on whose screens can stand where they were measured."""
    while True:
        answers = answers_from(_content(chance))
        try:
            build_case(case_content(answers))
        except InputRefusedError:
            continue
        return answers


def _content(chance: random.Random) -> dict[str, Any]:
    ages = list(choices("age"))
    content: dict[str, Any] = {
        "flags": [],
        "age": chance.choice(ages[ages.index(LEAST_AGE) :]),
        "glasses": chance.choice(list(choices("glasses"))),
        "screens": [_screen(chance, at) for at in range(chance.choice([1, 1, 2, 3]))],
        "reading": [
            {"what": what, **_perhaps(chance, distance_cm=round(chance.uniform(20, 75), 1))}
            for what in chance.sample(list(choices("reading")), chance.randint(0, 2))
        ],
        "others": chance.sample(list(choices("others")), chance.choice([0, 0, 1, 2])),
        "tell": chance.choice([[], [], [], ["pseudophakia"]]),
        **_perhaps(chance, eyes_above_desk_cm=round(chance.uniform(30, 65), 1)),
    }
    things = [*SCREEN_NAMES[: len(content["screens"])], *content["others"]]
    things += [one["what"] for one in content["reading"]]
    hours = {name: chance.choice([0.0, round(chance.uniform(0, 4), 1)]) for name in things}
    return content | _perhaps(chance, hours=hours)


def _screen(chance: random.Random, at: int) -> dict[str, Any]:
    laptop = chance.random() < 0.25
    return {
        "form": "laptop" if laptop else "screen",
        "size_in": round(chance.uniform(11, 18) if laptop else chance.uniform(17, 43), 1),
        "shape": chance.choice(["usual", "usual", "square", "extra_wide"]),
        "side": "ahead" if at == 0 else chance.choice(["left", "right", "ahead"]),
        "movable": chance.random() < 0.8,
        **_perhaps(chance, distance_cm=round(chance.uniform(35, 110), 1)),
        **_perhaps(chance, top_above_desk_cm=round(chance.uniform(25, 65), 1)),
    }


def _perhaps(chance: random.Random, **told: Any) -> dict[str, Any]:
    """Three times in four what is told, else nothing."""
    return told if chance.random() < 0.75 else {}
