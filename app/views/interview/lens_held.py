"""One thing moved, the lens held as designed: what chin and hours become. Pure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pydantic import ValidationError

from app.views.interview.rows import Row
from engine.answer.options import Solver, lens_of
from engine.answer.plans import Solved
from engine.case.model import Case, Target
from engine.case.read import refusals
from engine.case.results import OptionResult, OptionTarget
from engine.case.scene import scene_of
from engine.desk.advice import height_field
from engine.kernel.search import shares
from engine.tables import Judgements


@dataclass(frozen=True)
class Held:
    """What the held lenses of a row give at another desk.

    Attributes:
        through: the lens worn at the thing looked at, with its targets as they are then.
    """

    through: OptionResult
    comfortable_h: float


def moved(case: Case, index: int, *, up_cm: float, away_cm: float) -> Case:
    """The case with one thing higher and farther away, in cm.

    Raises
        InputRefusedError: it cannot stand there.
    """
    content = {
        **case.targets[index].model_dump(),
        **moved_fields(case.targets[index], up_cm, away_cm),
    }
    try:
        target = Target.model_validate(content)
    except ValidationError as error:
        raise refusals(error)[0] from None
    targets = tuple(target if at == index else one for at, one in enumerate(case.targets))
    return case.model_copy(update={"targets": targets})


def moved_fields(target: Target, up_cm: float, away_cm: float) -> dict[str, float]:
    """The fields that a move changes, with their new values."""
    changed = {}
    if up_cm:
        name = height_field(target)
        changed[name] = round(getattr(target, name) + up_cm, 1) + 0.0
    if away_cm:
        changed["distance_cm"] = round(target.distance_cm + away_cm, 1)
    return changed


def held(case: Case, row: Row, *, looked_at: str) -> Held:
    """The lenses of a row, unchanged, at the desk of a case."""
    judgements = Judgements.standard()
    scene = scene_of([case], judgements=judgements)
    solver = Solver(case, scene, judgements)
    through = row.seen_through(looked_at, case)
    hours = 0.0
    for option, activities in row.pairs:
        lens = lens_of(option, case, scene.wearers)
        found = shares(solver.views, lens.kind, lens.family, np.array([lens.free_d]))
        names = [target.name for target in case.targets]
        parts = np.stack([found.comfortable, found.strained, found.not_served, found.reserve])
        solved = Solved(
            option=option.option,
            kind=option.kind,
            design=option.design,
            plus_d=0.0,
            covers_distance=option.covers_distance,
            shares={name: tuple(map(float, parts[:, at])) for at, name in enumerate(names)},
            one_posture={},
        )
        hours += sum(
            solved.hours_in(activity).comfortable
            for activity in case.activities
            if not activities or activity.name in activities
        )
        if option.option == through.option:
            through = option.model_copy(update={"targets": solver.closeup.targets(lens, found)})
    return Held(through, hours)


def usable(target: OptionTarget) -> bool:
    """Whether most of a target can be used, sharp or not."""
    return target.not_served_share < 0.5
