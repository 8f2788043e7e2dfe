"""What to measure or ask next: the assumed value whose doubt moves the chosen lens's hours most.

Each assumed value is moved by its spread (assumed_spreads.csv) both ways, the lens is held fixed,
and all these cases go through the engine's search in one batch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from app.shell.words import hours
from engine import tables
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.case.scene import scene_of
from engine.errors import InputRefusedError
from engine.kernel.search import Views, shares
from engine.lenses.kinds import KINDS
from engine.tables import Judgements

POINTS_A_SIDE = 5.0
"""Points over a screen here, 25 for the engine's 81: the sentence needs hours to a tenth."""
_LENGTHS = ("distance_cm", "text_height_mm")
"""What cannot be nothing or less."""
WHAT = {
    "distance_cm": "Tape the distance of the {name} from the bridge of the nose",
    "top_above_eye_cm": "Tape the top edge of the {name} against the height of the eyes",
    "centre_above_eye_cm": "Tape the middle of the {name} against the height of the eyes",
    "tilt_deg": "Look at the tilt of the {name}",
    "text_height_mm": "Measure the capitals on the {name}",
    "fitting_height_mm": "Measure the fitting height",
    "pantoscopic_deg": "Measure the pantoscopic tilt",
    "vertex_mm": "Measure the vertex distance",
}


@dataclass(frozen=True)
class Doubt:
    """One assumed value and what its doubt does to the comfortable hours."""

    field: str
    name: str
    value: float
    spread: float
    unit: str
    change_h: float


def next_question(case: Case, option: OptionResult, *, assumed_paths: Sequence[str]) -> str | None:
    """One sentence, or nothing where no assumed value moves the answer."""
    worst = max(doubts(case, option, assumed_paths=assumed_paths),
                key=lambda doubt: doubt.change_h, default=None)  # fmt: skip
    if worst is None or worst.change_h < Judgements.standard().next_question_h:
        return None
    what = WHAT[worst.field].format(name=worst.name)
    value = f"{worst.value:g}".replace("-", "−")
    return (
        f"{what}. Assumed is {value} {worst.unit}; {worst.spread:g} {worst.unit} either way "
        f"changes the comfortable hours by about {hours(worst.change_h)} h."
    )


def doubts(case: Case, option: OptionResult, *, assumed_paths: Sequence[str]) -> list[Doubt]:
    """Every assumed value with a published or judged spread, and its effect."""
    found = list(_moved(case, assumed_paths))
    try:
        all_hours = comfortable_hours([case, *_of_pairs(found)], option)
    except InputRefusedError:  # at one of them a target could not stand
        found = [one for one in found if all(_can_stand(moved) for moved in one[1])]
        all_hours = comfortable_hours([case, *_of_pairs(found)], option)
    doubts = []
    for index, (doubt, _) in enumerate(found):
        lower, upper = all_hours[1 + 2 * index : 3 + 2 * index]
        change = max(abs(lower - all_hours[0]), abs(upper - all_hours[0]))
        doubts.append(Doubt(**{**doubt, "change_h": float(change)}))
    return doubts


def comfortable_hours(cases: Sequence[Case], option: OptionResult) -> list[float]:
    """Comfortable hours of one lens for several cases at once."""
    judgements = replace(Judgements.standard(), points_a_side=POINTS_A_SIDE)
    kind = KINDS[option.kind]
    add_d = cases[0].wearer.add_d or 0.0
    family, free_d = kind.worn(option.design, add_d=add_d, judgements=judgements)
    scene = scene_of(cases, judgements=judgements)
    found = shares(Views(scene, judgements), kind, family, np.full(len(cases), free_d))
    return [float(value) for value in scene.hours(found.comfortable)]


def _of_pairs(found: Sequence[tuple[dict[str, Any], tuple[Case, Case]]]) -> list[Case]:
    return [moved for _, pair in found for moved in pair]


def _can_stand(case: Case) -> bool:
    try:
        scene_of([case], judgements=Judgements.standard())
    except InputRefusedError:
        return False
    return True


def _moved(case: Case, paths: Sequence[str]) -> Iterator[tuple[dict[str, Any], tuple[Case, Case]]]:
    for path in paths:
        part, *_, field = path.split(".")
        index = int(path.split(".")[1]) if part == "targets" else None
        holder = case.fit if index is None else case.targets[index]
        applies = "fit" if index is None else case.targets[index].kind
        row = _spread(field, applies) if part in ("targets", "fit") else None
        value = getattr(holder, field, None)
        if field == "fitting_height_mm":
            value = min(case.fit.heights_mm)
        if row is None or value is None:
            continue
        spread = float(row["spread"])
        if field in _LENGTHS and value <= spread:
            continue
        pair = tuple(_with(case, index, field, value + way * spread) for way in (-1, 1))
        name = "" if index is None else case.targets[index].name
        yield (
            {"field": field, "name": name, "value": value, "spread": spread, "unit": row["unit"]},
            (pair[0], pair[1]),
        )


def _spread(field: str, applies_to: str) -> Any:
    for row in tables.rows("assumed_spreads"):
        if (row["id"], row["applies_to"]) == (field, applies_to):
            return row
    return None


def _with(case: Case, index: int | None, field: str, value: float) -> Case:
    """The case with one value moved; not validated again, so a limit itself can be tried."""
    if index is None:
        return case.model_copy(update={"fit": case.fit.model_copy(update={field: value})})
    targets = list(case.targets)
    targets[index] = targets[index].model_copy(update={field: value})
    return case.model_copy(update={"targets": tuple(targets)})
