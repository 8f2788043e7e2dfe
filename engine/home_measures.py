"""When a measure cannot be right: a ruler out of scale, distances that contradict each other."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict

from engine.home_answers import SCREEN_NAMES, Step
from engine.home_text import length, number, say, say_first, thing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.home_answers import HomeAnswers, HomeScreen

LEAST_COSINE = math.cos(math.radians(30.0))
"""A picture tilted back by more than this is not a screen on a desk (judgement of the authors)."""
STEEPEST = 0.9
"""Height and sideways distance together over the taped distance; the limit of `Case`."""


class Doubt(BaseModel):
    """A measure that cannot be right, or hardly.

    Attributes:
        step: the question that asks for it. place: number of the screen or thing, from 0.
        blocks: nothing can be computed with it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    step: Step
    id: str
    text: str
    place: int = 0
    blocks: bool = False


def scale_is_off(*, card_cm: float) -> bool:
    """Whether a ruler is off by more than 1 %, from what it reads along a bank card.

    >>> scale_is_off(card_cm=8.5), scale_is_off(card_cm=8.4)
    (False, True)
    """
    true_cm = number("card_cm")
    return abs(card_cm - true_cm) > number("card_off_share") * true_cm + 1e-9


def check_measures(answers: HomeAnswers) -> tuple[Doubt, ...]:
    """Everything that cannot be right, in the order of the questions."""
    found = [*_ruler(answers)]
    for place, screen in enumerate(answers.screens or ()):
        found += _distance(screen, place)
    found += _heights(answers)
    found += _reading(answers)
    return tuple(found)


def sideways_cm(screens: tuple[HomeScreen, ...], place: int) -> float:
    """How far the middle of a screen stands to the right, the pictures side by side."""
    screen, gap = screens[place], number("screen_gap_cm")
    if screen.side == "ahead":
        return 0.0
    ahead = [one.size_cm[0] for one in screens if one.side == "ahead"]
    away = (ahead[0] if ahead else -gap) / 2 + screen.size_cm[0] / 2 + gap
    return away if screen.side == "right" else -away


def _ruler(answers: HomeAnswers) -> Iterator[Doubt]:
    if answers.ruler != "printed":
        return
    if answers.card_cm is None:
        text = say("doubt_scale_missing")
        yield Doubt(step="distances", id="scale_missing", text=text, blocks=True)
    elif scale_is_off(card_cm=answers.card_cm):
        card = f"{number('card_cm'):g} cm"
        text = say("doubt_scale", card=card)
        yield Doubt(step="distances", id="scale", text=text, blocks=True)


def _distance(screen: HomeScreen, place: int) -> Iterator[Doubt]:
    cm, name = screen.distance_cm, thing(SCREEN_NAMES[place])
    if cm is None:
        return
    if cm < number("inches_below_cm"):
        text = say("doubt_inches", cm=length(cm), number=f"{cm:g}")
        yield Doubt(step="distances", id="inches", text=text, place=place)
    if screen.reach == "touch" and cm > number("touch_most_cm"):
        text = say("doubt_touch", target=name, cm=length(cm))
        yield Doubt(step="distances", id="touch", text=text, place=place)
    if screen.reach == "no" and cm < number("reach_least_cm"):
        text = say("doubt_reach", target=name, cm=length(cm))
        yield Doubt(step="distances", id="reach", text=text, place=place)


def _heights(answers: HomeAnswers) -> Iterator[Doubt]:
    eyes, screens = answers.eyes_above_desk_cm, answers.screens or ()
    if eyes is not None and not number("eyes_low_cm") <= eyes <= number("eyes_high_cm"):
        yield Doubt(step="heights", id="eyes", text=say("doubt_eyes", cm=length(eyes)))
    for place, screen in enumerate(screens):
        top = screen.top_above_desk_cm
        if top is not None and top < LEAST_COSINE * screen.size_cm[1]:
            yield Doubt(step="heights", id="bottom", text=say("doubt_bottom"), place=place)
        if screen.distance_cm is not None and _too_slanted(answers, place):
            text = say("doubt_slant", Target=say_first(thing(SCREEN_NAMES[place])))
            yield Doubt(step="distances", id="slant", text=text, place=place, blocks=True)


def _too_slanted(answers: HomeAnswers, place: int) -> bool:
    screens = answers.screens or ()
    screen, eyes = screens[place], answers.eyes_above_desk_cm
    top = screen.top_above_desk_cm
    height = 0.0
    if top is not None and eyes is not None:
        height = max(abs(top - eyes), abs(top - eyes - screen.size_cm[1] / 2))
    reach = math.hypot(height, sideways_cm(screens, place))
    return screen.distance_cm is not None and reach > STEEPEST * screen.distance_cm


def _reading(answers: HomeAnswers) -> Iterator[Doubt]:
    found = {one.what: one.distance_cm for one in answers.reading or ()}
    for place, cm in enumerate(found.values()):
        if cm is not None and cm > number("page_far_cm"):
            text = say("doubt_page", cm=length(cm))
            yield Doubt(step="reading", id="page", text=text, place=place)
        if cm is not None and cm < number("page_inches_below_cm"):
            text = say("doubt_inches", cm=length(cm), number=f"{cm:g}")
            yield Doubt(step="reading", id="inches", text=text, place=place)
    papers, phone = found.get("papers"), found.get("phone")
    if papers and phone and phone - papers > number("phone_beyond_page_cm"):
        yield Doubt(step="reading", id="phone", text=say("doubt_phone"))
