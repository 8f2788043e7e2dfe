"""Where a screen may go at its present tilt, and the limits that end it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.desk.places import Place, obstacles, place_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    _Limits = Callable[[Floats, Floats], list[str | None]]

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

    def limits(heights: Floats, distances: Floats) -> list[str | None]:
        spots = zip(heights.tolist(), distances.tolist(), strict=True)
        tried = [Place(height, distance, now.tilt_deg) for height, distance in spots]
        return obstacles(target, tried, stop_mm=stop_mm, judgements=judgements)

    heights = now.centre_above_eye_cm + np.arange(-most, most + _STEP_CM / 2, _STEP_CM)
    distances = np.linspace(near, far, _DISTANCES) if near < far else np.zeros(0)
    tried = np.tile(heights, len(distances)), np.repeat(distances, len(heights))
    may = np.array([one is None for one in limits(*tried)]).reshape(-1, len(heights))
    distances, may = distances[may.any(axis=1)], may[may.any(axis=1)]
    lowest, highest = may.argmax(axis=1), len(heights) - 1 - may[:, ::-1].argmax(axis=1)
    low, high = (
        _edges(limits, heights[inside], way, distances)
        for inside, way in ((lowest, -1), (highest, 1))
    )
    ends = zip(distances.tolist(), low.tolist(), high.tolist(), strict=True)
    columns = tuple(Column(*one) for one in ends)
    return Region(columns, _ends(limits, columns))


def _edges(limits: _Limits, inside: Floats, way: int, distances: Floats) -> Floats:
    """Return the ends of the allowed heights beyond allowed ones, one at each distance."""
    step = _STEP_CM
    for _ in range(_HALVINGS):
        step /= 2
        beyond = inside + way * step
        may = np.array([one is None for one in limits(beyond, distances)], dtype=bool)
        inside = np.where(may, beyond, inside)
    return inside


def _ends(limits: _Limits, columns: Sequence[Column]) -> tuple[str, ...]:
    """Return the limits just beyond the highest, the lowest, the nearest and the farthest place."""
    if not columns:
        return ()
    just, near, far = 2 * _STEP_CM, columns[0], columns[-1]
    high = max(columns, key=lambda column: column.high_cm)
    low = min(columns, key=lambda column: column.low_cm)
    beyond = (
        (high.high_cm + just, high.distance_cm),
        (low.low_cm - just, low.distance_cm),
        (near.high_cm, near.distance_cm - just),
        (far.high_cm, far.distance_cm + just),
    )
    found = limits(*np.array(beyond).T)
    return tuple(dict.fromkeys(name for name in found if name))
