"""Random visits to the home check, and one invented person to vary."""

from __future__ import annotations

import math
import random
from typing import Any

from engine.home.answers import SCREEN_NAMES, HomeAnswers, answers_from, choices, sideways_cm

MANY = ("coping", "others", "needs", "bothers", "tell")


def invented(**changes: Any) -> HomeAnswers:
    """An invented wearer: one tall screen, all-distance glasses; some answers changed."""
    content: dict[str, Any] = {
        "flags": [],
        "age": "55_59",
        "glasses": "general_progressive",
        "coping": ["chin_up"],
        "lens_part": "bottom",
        "screens": [
            {"size_in": 27.0, "distance_cm": 65.0, "reach": "just", "top_above_desk_cm": 52.0}
        ],
        "eyes_above_desk_cm": 48.0,
        "reading": [{"what": "papers", "distance_cm": 42.0}],
        "others": ["colleague"],
        "hours": {"main screen": 5.0, "papers": 1.0, "colleague": 0.5},
        "needs": ["driving", "stairs"],
        "bothers": ["neck"],
        "tell": [],
    }
    return answers_from({**content, **changes})


def random_session(chance: random.Random) -> HomeAnswers:
    """A whole visit without a warning sign and without a measure that blocks."""
    while True:
        answers = answers_from(_content(chance))
        if not any(_too_steep(answers, at) for at in range(len(answers.screens or ()))):
            return answers


def _too_steep(answers: HomeAnswers, at: int) -> bool:
    """Whether a screen is measured nearer than its height and sideways distance allow."""
    screens, eyes = answers.screens or (), answers.eyes_above_desk_cm
    top, cm = screens[at].top_above_desk_cm, screens[at].distance_cm
    above = 0.0 if top is None or eyes is None else top - eyes
    middle = above - screens[at].size_cm[1] / 2 if above else 0.0
    height = max(abs(above), abs(middle))
    return cm is not None and math.hypot(height, sideways_cm(screens, at)) > 0.9 * cm


def _content(chance: random.Random) -> dict[str, Any]:
    content: dict[str, Any] = {"flags": [], "skipped": []}
    content["age"] = chance.choice(list(choices("age")))
    content["glasses"] = chance.choice(list(choices("glasses")))
    content["lens_part"] = chance.choice([*choices("lens_part"), None])
    for question in MANY:
        offered = list(choices(question))
        content[question] = chance.sample(offered, chance.randint(0, min(3, len(offered))))
    screens = [_screen(chance, at) for at in range(chance.randint(1, 3))]
    content["screens"] = screens
    content["eyes_above_desk_cm"] = round(chance.uniform(32, 62), 1)
    reading = chance.sample(list(choices("reading")), chance.randint(0, 3))
    content["reading"] = [
        {"what": what, "distance_cm": chance.choice([None, round(chance.uniform(25, 60), 1)])}
        for what in reading
    ]
    things = [*SCREEN_NAMES[: len(screens)], *reading, *content["others"]]
    content["hours"] = {name: round(chance.uniform(0, 3), 2) for name in things}
    for step in ("distances", "heights", "glasses", "coping", "hours", "bothers"):
        if chance.random() < 0.15:
            content["skipped"].append(step)
            _empty(content, step)
    return content


def _screen(chance: random.Random, at: int) -> dict[str, Any]:
    laptop = chance.random() < 0.25
    return {
        "form": "laptop" if laptop else "screen",
        "size_in": round(chance.uniform(11, 17) if laptop else chance.uniform(19, 43), 2),
        "shape": chance.choice(["usual", "square", "extra_wide"]),
        "side": "ahead" if at == 0 else chance.choice(["left", "right", "ahead"]),
        "movable": chance.random() < 0.8,
        "distance_cm": round(chance.uniform(38, 110), 2),
        "reach": chance.choice([*choices("reach"), None]),
        "top_above_desk_cm": round(chance.uniform(15, 75), 1),
    }


def _empty(content: dict[str, Any], step: str) -> None:
    if step == "distances":
        for screen in content["screens"]:
            screen["distance_cm"] = screen["reach"] = None
    elif step == "heights":
        content["eyes_above_desk_cm"] = None
        for screen in content["screens"]:
            screen["top_above_desk_cm"] = None
    else:
        content[step] = None
