"""Places a screen can stand at, and the limits inside which one is ever suggested.

A place is a height of the screen's centre against the eyes, a distance and a tilt. Only places that
harm nobody are suggested: see `obstacle`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.case.scene import stop_mm_of
from engine.case.targets import centre_above_eye_cm, size_cm, text_height_mm
from engine.case.targets import tilt_deg as tilt_of
from engine.optics import workstation
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case, Target
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

STEP_CM = 2.0
"""Finer steps say nothing: eyes come to sit 1.5 cm higher or lower (measuring_errors.csv)."""
TILTS_DEG = (0.0, 5.0, 10.0, 15.0, 20.0)
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Place:
    """Where a screen stands.

    Attributes:
        centre_above_eye_cm: height of its centre against the eyes.
        distance_cm: bridge of the nose to its centre, along the line of sight.
        tilt_deg: top away.
    """

    centre_above_eye_cm: float
    distance_cm: float
    tilt_deg: float

    def raised(self, by_cm: float) -> Place:
        """Return the place so much higher, to a hundredth of a millimetre; by 0 exactly itself."""
        if not by_cm:
            return self
        higher_cm = round(self.centre_above_eye_cm + by_cm, 3)
        return Place(higher_cm, self.distance_cm, self.tilt_deg)


def place_of(target: Target, *, stop_mm: float) -> Place:
    """Return where a screen stands now."""
    return Place(
        centre_above_eye_cm=centre_above_eye_cm(target, stop_mm=stop_mm),
        distance_cm=target.distance_cm,
        tilt_deg=tilt_of(target) or 0.0,
    )


def moved(case: Case, index: int, place: Place) -> Case:
    """Return the case with one of its screens at another place; text keeps its height in mm."""
    target = case.targets[index]
    here = target.model_copy(
        update={
            "top_above_eye_cm": None,
            "centre_above_eye_cm": place.centre_above_eye_cm,
            "distance_cm": place.distance_cm,
            "tilt_deg": place.tilt_deg,
            "text_height_mm": text_height_mm(target),
            "text_arcmin": None,
        }
    )
    return case.with_target(index, here)


def obstacles(
    target: Target, places: Sequence[Place], *, stop_mm: float, judgements: Judgements
) -> list[str | None]:
    """Return what keeps a screen from each of some places; None where it may go there.

    fixed: it cannot be moved. move: farther than 30 cm from where it stands. near, far: nearer
    than 50 or farther than 90 cm. high: the top edge above eye level. low: a part more than 60 deg
    below level. desk: the bottom edge less than 3 cm above the desk. tilt: beyond 20 deg. text:
    farther away, with letters under 16 arcmin. laptop: a laptop is not lowered.
    """
    height, distance, tilt = as_arrays(places)
    found: list[str | None] = [None] * len(places)
    broken = _limits_broken(target, height, distance, tilt, stop_mm=stop_mm, judgements=judgements)
    for name, stands in reversed(list(broken)):  # the first of several is told
        for at in np.flatnonzero(stands).tolist():
            found[at] = name
    return found


def as_arrays(places: Sequence[Place]) -> tuple[Floats, Floats, Floats]:
    """Give heights against the eyes, distances and tilts of places, (places,) each."""
    rows = [(one.centre_above_eye_cm, one.distance_cm, one.tilt_deg) for one in places]
    height, distance, tilt = np.array(rows, dtype=np.float64).reshape(-1, 3).T
    return height, distance, tilt


def _limits_broken(
    target: Target,
    height: Floats,
    distance: Floats,
    tilt: Floats,
    *,
    stop_mm: float,
    judgements: Judgements,
) -> Iterator[tuple[str, Bools]]:
    """Yield each limit with where it is broken, (places,)."""
    now, j = place_of(target, stop_mm=stop_mm), judgements
    is_fixed = not target.movable or target.kind != "screen"
    yield "fixed", np.full(len(height), is_fixed)
    up, away = height - now.centre_above_eye_cm, distance - now.distance_cm
    yield "move", np.hypot(up, away) > j.desk_move_max_cm + _ROUNDING
    yield "laptop", target.laptop & (up < -_ROUNDING)
    yield "near", distance < j.desk_distance_min_cm - _ROUNDING
    yield "far", distance > j.desk_distance_max_cm + _ROUNDING
    half_cm = size_cm(target)[1] / 2
    half, nearer = half_cm * np.cos(np.radians(tilt)), half_cm * np.sin(np.radians(tilt))
    yield "high", height + half > _ROUNDING
    given_cm = target.desk_below_eye_cm
    desk_cm = j.desk_below_eye_cm if given_cm is None else given_cm
    yield "desk", height - half < j.desk_bottom_above_desk_cm - desk_cm - _ROUNDING
    level = np.sqrt(np.maximum((distance + stop_mm / MM_PER_CM) ** 2 - height**2, 1.0))
    lowest_deg = workstation.declination_deg(
        below_eye_cm=half - height, horizontal_cm=np.maximum(level - nearer, 1.0)
    )
    yield "low", lowest_deg > j.desk_below_level_max_deg + _ROUNDING
    tilt_changed = np.abs(tilt - now.tilt_deg) > _ROUNDING
    yield "tilt", tilt_changed & (tilt > j.desk_tilt_max_deg + _ROUNDING)
    farther_cm = np.maximum(distance, now.distance_cm)
    arcmin = workstation.text_arcmin(height_mm=text_height_mm(target), distance_cm=farther_cm)
    yield "text", (away > _ROUNDING) & (arcmin < j.legible_arcmin - _ROUNDING)


def moves(target: Target, *, stop_mm: float, judgements: Judgements) -> list[Place]:
    """Return allowed places by one change: a height, a distance, a tilt, or height and tilt.

    Within each the smallest change comes first.
    """
    now = place_of(target, stop_mm=stop_mm)
    most = judgements.desk_move_max_cm
    steps = _by_size(np.arange(-most, most + STEP_CM / 2, STEP_CM))
    tried = [now.raised(up) for up in steps[1:]]
    tried += [replace(now, distance_cm=now.distance_cm + away) for away in steps[1:]]
    tried += [
        replace(now, tilt_deg=tilt).raised(up)
        for tilt in sorted(TILTS_DEG, key=lambda one: abs(one - now.tilt_deg))
        if abs(tilt - now.tilt_deg) > _ROUNDING
        for up in steps
    ]
    limits = obstacles(target, tried, stop_mm=stop_mm, judgements=judgements)
    return [place for place, limit in zip(tried, limits, strict=True) if limit is None]


def standing(target: Target, places: Sequence[Place], *, stop_mm: float) -> Bools:
    """Tell whether the whole screen stands in front of the glasses at each place, (places,)."""
    height, distance, tilt = as_arrays(places)
    up, right = MM_PER_CM * height, MM_PER_CM * target.offset_cm
    found: Bools = (MM_PER_CM * distance + stop_mm) ** 2 - up**2 - right**2 > 0.0
    width_cm, height_cm = size_cm(target)
    large = found & (np.hypot(width_cm, height_cm) / 2 >= distance)
    if large.any():  # only then can a part of it reach the glasses
        face = workstation.face_points_mm(
            distance_cm=distance[large],
            centre_above_eye_cm=height[large],
            width_cm=width_cm,
            height_cm=height_cm,
            stop_mm=stop_mm,
            tilt_deg=tilt[large],
            offset_cm=target.offset_cm,
        )
        nearest_mm = np.sqrt(face[0] ** 2 + face[1] ** 2 + face[2] ** 2).min(axis=(-2, -1))
        found[large] = nearest_mm > stop_mm
    return found


def _by_size(steps: Iterable[float]) -> list[float]:
    """Return steps with the smallest first, of like ones the one down or nearer."""
    return sorted((float(step) for step in steps), key=lambda step: (abs(step), step))


def seat_raised(case: Case, *, by_cm: float, judgements: Judgements) -> Case:
    """Return the case with the eyes higher: what is on the desk stays, so it is lower and farther.

    Distances are taped along the line of sight, which grows steeper and longer.
    """
    stop_mm = stop_mm_of(case, judgements=judgements)
    targets = tuple(_from_higher_eyes(target, by_cm, stop_mm) for target in case.targets)
    return case.model_copy(update={"targets": targets})


def _from_higher_eyes(target: Target, by_cm: float, stop_mm: float) -> Target:
    """Return a target as eyes see it that sit higher; far ones stay."""
    if target.kind == "far":
        return target
    stop_cm = stop_mm / MM_PER_CM
    height = centre_above_eye_cm(target, stop_mm=stop_mm)
    level = np.sqrt(max((target.distance_cm + stop_cm) ** 2 - height**2, 0.0))
    names = ("top_above_eye_cm", "centre_above_eye_cm")
    changed = {
        name: getattr(target, name) - by_cm for name in names if getattr(target, name) is not None
    }
    changed["distance_cm"] = float(np.hypot(level, height - by_cm)) - stop_cm
    if target.desk_below_eye_cm is not None:
        changed["desk_below_eye_cm"] = target.desk_below_eye_cm + by_cm
    return target.model_copy(update=changed)


def text_enlarged(case: Case, index: int, *, factor: float) -> Case:
    """Return the case with larger text on one of its targets."""
    target = case.targets[index]
    larger = target.model_copy(
        update={"text_height_mm": factor * text_height_mm(target), "text_arcmin": None}
    )
    return case.with_target(index, larger)
