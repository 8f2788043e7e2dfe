"""What the engine finds for answers of the home check, which the file takes from its grid.

Every answer is worked out anew by a crowd of `engine.home.crowd`, of which the grid is made.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.case.read import build_case
from engine.case.scene import NO_ACCOMMODATION, stop_mm_of
from engine.desk import places
from engine.home.answers import lens_of_answer
from engine.home.case import case_content
from engine.home.crowd import (
    CUBES,
    OLDEST,
    Crowd,
    adds_of,
    crowd_with,
    kind_shares,
    moves_cm,
    with_add,
    worn_shares,
)
from engine.home.grid import MOST_KINDS
from engine.home.numbers import number
from engine.kernel.draws import Draws
from engine.lenses.kinds import KINDS
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from engine.case.model import Case
    from engine.home.answers import HomeAnswers

    Floats = NDArray[np.float64]

JUDGED = Judgements.standard()
Step = tuple[float, float]
"""How far a screen is put lower and farther away, in cm."""


@dataclass(frozen=True)
class EngineFound:
    """The engine's answer.

    Attributes:
        means: mean hours of what is worn now (`now`), where that is known, and of every kind.
        at: number of the screen most looked at. before: its mean share now, where known.
        move: the one worth telling.
    """

    crowd: Crowd
    means: dict[str, float]
    at: int
    before: float | None
    move: Step | None

    def gain_h(self, move: Step | None) -> float:
        """What a move brings, hours a day."""
        if move is None or self.before is None:
            return 0.0
        after = share_at(self.crowd, self.at, *move)
        return (after - self.before) * float(self.crowd.hours[self.at])


def engine_found(answers: HomeAnswers) -> EngineFound:
    """The engine's answer to answers of somebody from 40 on."""
    case = build_case(case_content(answers))
    crowd = crowd_of(case, age=answers.age or "", glasses=answers.glasses)
    screens = answers.screens or ()
    at = int(np.argmax(crowd.hours[: len(screens)]))
    means = {
        name: float(mean(crowd, shares) @ crowd.hours)
        for name, shares in kind_shares(crowd).items()
    }
    if not crowd.parts[0].worn:
        return EngineFound(crowd, means, at, None, None)
    now = mean(crowd, worn_shares(crowd, crowd.scene()))
    before = float(now[at])
    move = best_move(crowd, at, before=before) if screens[at].movable else None
    return EngineFound(crowd, means | {"now": float(now @ crowd.hours)}, at, before, move)


def crowd_of(case: Case, *, age: str, glasses: str | None) -> Crowd:
    """The crowd around a case; with an artificial lens in the eye, one of the oldest."""
    if NO_ACCOMMODATION in case.wearer.conditions:
        age, wearer = OLDEST, case.wearer.model_copy(update={"conditions": ()})
        case = case.model_copy(update={"wearer": wearer})
    adds = adds_of(age, judgements=JUDGED)
    return crowd_with(case, adds, glasses=glasses, judgements=JUDGED)


def mean(crowd: Crowd, values: Floats) -> Floats:
    """The mean over a crowd: (parts, people, ...) to (...)."""
    found: Floats = np.tensordot(crowd.weight, values.mean(axis=1), axes=1)
    return found


def worth_asking(
    every: dict[str, float], *, now_h: float, day_h: float, glasses: str | None
) -> list[str]:
    """Kinds that beat the pair worn now and are about as good as the best, best first.

    Only those who wear a line now are asked about one.
    """
    worn = lens_of_answer(glasses)
    knows_a_line = worn is not None and worn.is_lined
    asked = {name: h for name, h in every.items() if knows_a_line or not KINDS[name].is_lined}
    near_h = number("best_within_share") * day_h
    least = max(now_h + number("worth_h"), max(asked.values()) - near_h)
    good = [name for name, hours in asked.items() if hours >= least]
    return sorted(good, key=lambda name: -asked[name])[:MOST_KINDS]


def best_move(crowd: Crowd, at: int, *, before: float) -> Step | None:
    """The smallest move of a screen that brings the most of it; None where none is worth it."""
    tried: dict[Step, float] = {(0, 0): before}
    for step in _allowed(crowd.case, at):
        tried[step] = share_at(crowd, at, *step)
    most = max(tried.values())
    good = [step for step, share in tried.items() if share >= most - number("equal_places_share")]
    best = min(good, key=lambda step: (abs(step[0]) + abs(step[1]), -tried[step]))
    gain_h = (tried[best] - before) * float(crowd.hours[at])
    return best if gain_h >= JUDGED.move_worth_h else None


def share_at(crowd: Crowd, at: int, lower_cm: float, farther_cm: float) -> float:
    """The mean comfortable share of a screen as worn, put lower and farther away."""
    target = crowd.case.targets[at]
    there = target.model_copy(
        update={
            "top_above_eye_cm": (target.top_above_eye_cm or 0.0) - lower_cm,
            "distance_cm": target.distance_cm + farther_cm,
        }
    )
    targets = tuple(there if place == at else one for place, one in enumerate(crowd.case.targets))
    case = crowd.case.model_copy(update={"targets": targets})
    drawn = with_add(case, crowd.draws.case.wearer.add_d or 0.0)
    luck = Draws(drawn, judgements=JUDGED, cubes=CUBES, like=crowd.draws)
    moved = replace(crowd, case=case, draws=luck)
    return float(mean(moved, worn_shares(moved, moved.scene(only=at)))[0])


def _allowed(case: Case, at: int) -> Iterator[Step]:
    """Moves of a screen to where it can and may stand."""
    target = case.targets[at]
    stop_mm = stop_mm_of(case, judgements=JUDGED)
    now = places.place_of(target, stop_mm=stop_mm)
    tried = [
        replace(
            now,
            centre_above_eye_cm=now.centre_above_eye_cm - lower,
            distance_cm=now.distance_cm + farther,
        )
        for lower, farther in moves_cm()
    ]
    limits = places.obstacles(target, tried, stop_mm=stop_mm, judgements=JUDGED)
    stands = places.standing(target, tried, stop_mm=stop_mm)
    for move, limit, is_standing in zip(moves_cm(), limits, stands, strict=True):
        if limit is None and is_standing:
            yield move
