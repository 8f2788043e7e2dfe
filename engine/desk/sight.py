"""What lenses that are held show at another desk: one thing moved, every pair as it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from pydantic import ValidationError

from engine.answer.options import Solver, lens_of_option
from engine.case.model import Target
from engine.case.read import refusals
from engine.desk.moves import held_h
from engine.kernel.draws import Draws, height_field
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.case.model import Case
    from engine.case.results import OptionResult

Worn = tuple["OptionResult", tuple[str, ...]]
"""A lens and the activities it is worn for."""


@dataclass(frozen=True)
class Held:
    """What held lenses give at another desk.

    Attributes:
        comfortable_h: expected hours of the day.
        through: the lens looked through, with its targets as they are there.
    """

    comfortable_h: float
    through: OptionResult


def shifted_fields(target: Target, *, up_cm: float, away_cm: float) -> dict[str, float]:
    """The fields of a target that a move changes, with their new values, to a millimetre."""
    changed = {}
    if up_cm:
        name = height_field(target)
        changed[name] = round(getattr(target, name) + up_cm, 1) + 0.0
    if away_cm:
        changed["distance_cm"] = round(target.distance_cm + away_cm, 1)
    return changed


def shifted(case: Case, index: int, *, up_cm: float, away_cm: float) -> Case:
    """The case with one thing higher and farther away, in cm.

    Raises
        InputRefusedError: it cannot stand there.
    """
    target = case.targets[index]
    fields = shifted_fields(target, up_cm=up_cm, away_cm=away_cm)
    try:
        there = Target.model_validate({**target.model_dump(), **fields})
    except ValidationError as error:
        raise refusals(error)[0] from None
    targets = tuple(there if at == index else one for at, one in enumerate(case.targets))
    return case.model_copy(update={"targets": targets})


def held(
    there: Case,
    pairs: Sequence[Worn],
    *,
    through: OptionResult,
    like: Case,
    judgements: Judgements | None = None,
) -> Held:
    """Hours of the day through held pairs at another desk, and one of them there.

    pairs: each activity belongs to one of them. like: the case as it stands, whose luck is kept.

    Raises
        InputRefusedError: something cannot stand there.
    """
    judged = judgements or Judgements.standard()
    solver = Solver(there, judged, like=Draws(like, judgements=judged))
    lenses = [
        (lens_of_option(option, there, judgements=judged), option.covers_distance)
        for option, _ in pairs
    ]
    pair_of = {name: at for at, (_, activities) in enumerate(pairs) for name in activities}
    worn = [pair_of[activity.name] for activity in there.activities]
    total_h = float(held_h(lenses, worn, solver.desk).mean())
    lens = lens_of_option(through, there, judgements=judged)
    targets = solver.closeup.targets(lens, solver.desk.measured_shares(lens))
    measured = through.as_measured.model_copy(update={"targets": targets})
    return Held(total_h, through.model_copy(update={"as_measured": measured}))
