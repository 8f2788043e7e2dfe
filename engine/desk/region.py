"""Where a screen may go at its present tilt, and the limits that end it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.desk.places import Place, obstacle, place_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from engine.case.model import Case
    from engine.tables import Judgements

_DISTANCES = 31
_STEP_CM = 2.0
_HALVINGS = 5
"""Halvings of a step: the edge of the region is known to better than a millimetre."""


@dataclass(frozen=True)
class Column:
    """The allowed heights at one distance."""

    distance_cm: float
    low_cm: float
    high_cm: float


@dataclass(frozen=True)
class Region:
    """Where a screen may go.

    Attributes:
        columns: nearest first; none where it may go nowhere.
        limits: what ends it above, below, nearer and farther, each once; see `obstacle`.
    """

    columns: tuple[Column, ...]
    limits: tuple[str, ...]


def region(case: Case, index: int, *, stop_mm: float, judgements: Judgements) -> Region:
    """Return where a screen may go at its tilt: the allowed heights, distance by distance."""
    target, most = case.targets[index], judgements.desk_move_max_cm
    now = place_of(target, stop_mm=stop_mm)
    near = max(judgements.desk_distance_min_cm, now.distance_cm - most)
    far = min(judgements.desk_distance_max_cm, now.distance_cm + most)

    def limit(height: float, distance: float) -> str | None:
        place = Place(height, distance, now.tilt_deg)
        return obstacle(target, place, stop_mm=stop_mm, judgements=judgements)

    steps = np.arange(-most, most + _STEP_CM / 2, _STEP_CM)
    heights = [now.centre_above_eye_cm + float(step) for step in steps]
    columns = []
    for distance in np.linspace(near, far, _DISTANCES) if near < far else ():
        may = [height for height in heights if limit(height, float(distance)) is None]
        if may:
            low, high = (
                _edge(limit, may[at], way, float(distance)) for at, way in ((0, -1), (-1, 1))
            )
            columns.append(Column(float(distance), low, high))
    return Region(tuple(columns), _ends(limit, columns))


def _edge(
    limit: Callable[[float, float], str | None], inside: float, way: int, distance: float
) -> float:
    """Return the end of the allowed heights beyond one that is allowed."""
    step = _STEP_CM
    for _ in range(_HALVINGS):
        step /= 2
        if limit(inside + way * step, distance) is None:
            inside += way * step
    return inside


def _ends(limit: Callable[[float, float], str | None], columns: list[Column]) -> tuple[str, ...]:
    """Return the limits just beyond the highest, the lowest, the nearest and the farthest place."""
    if not columns:
        return ()
    just, near, far = 2 * _STEP_CM, columns[0], columns[-1]
    high = max(columns, key=lambda column: column.high_cm)
    low = min(columns, key=lambda column: column.low_cm)
    found = (
        limit(high.high_cm + just, high.distance_cm),
        limit(low.low_cm - just, low.distance_cm),
        limit(near.high_cm, near.distance_cm - just),
        limit(far.high_cm, far.distance_cm + just),
    )
    return tuple(dict.fromkeys(name for name in found if name))
