"""Desks and wearers as they might really be: seeded draws of every measuring error.

A draw changes what was measured; the lens stays as it was ordered. Spreads are rows of
measuring_errors.csv.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.case.scene import Scene, Wearers
from engine.case.targets import look_hours
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.model import Case
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

SLOPE_LOPSIDED = 1.0 / 7.0
"""The published range, 0.28 to 0.56, is not centred on 0.40 but a seventh of its half higher."""


@dataclass(frozen=True)
class Spreads:
    """How far each input may be off; the names are the ids of measuring_errors.csv."""

    eye_height: float
    lean: float
    own_distance: float
    own_height: float
    fitting_height: float
    slip: float
    head_zero: float
    slope: float
    usable: float
    blur: float
    zone_width: float
    profile: float
    rotation_centre: float
    looks: float

    @classmethod
    def standard(cls) -> Spreads:
        """As shipped in measuring_errors.csv."""
        return _standard_spreads()

    @classmethod
    def none(cls) -> Spreads:
        """No error at all; a start for `dataclasses.replace`."""
        return cls(**{field.name: 0.0 for field in fields(cls)})


@lru_cache(maxsize=1)
def _standard_spreads() -> Spreads:
    table = tables.by_id("measuring_errors")
    return Spreads(**{field.name: float(table[field.name]["spread"]) for field in fields(Spreads)})


@dataclass(frozen=True)
class Draws:
    """Errors of a number of draws, each (draws,) or (draws, targets) or (draws, looks).

    Signs: eye_height_cm raises the eyes; lean_cm takes the eyes away; own_distance_cm and
    own_height_cm add to the target's; lens_down_mm lowers the lens; head_zero_deg, usable_d,
    profile_mm and rotation_centre_mm are added; blur, zone_width are factors; slope is the slope.
    """

    eye_height_cm: Floats
    lean_cm: Floats
    own_distance_cm: Floats
    own_height_cm: Floats
    lens_down_mm: Floats
    head_zero_deg: Floats
    slope: Floats
    usable_d: Floats
    blur: Floats
    zone_width: Floats
    profile_mm: Floats
    rotation_centre_mm: Floats
    looks: Floats

    def __len__(self) -> int:
        return len(self.lean_cm)

    def some(self, which: slice) -> Draws:
        """A part of the draws."""
        return Draws(**{name: values[which] for name, values in vars(self).items()})


def draw(case: Case, *, count: int, seed: int, spreads: Spreads, judgements: Judgements) -> Draws:
    """Draw errors for a case; the same seed gives the same draws.

    judgements: the slope of the free posture in the middle of its range, and how focusing and
        blur tolerance go together.
    """
    together, slope = judgements.focus_blur_correlation, judgements.free_posture_slope
    chance = np.random.default_rng(seed)
    targets = len(case.targets)
    looks = sum(len(activity.looks) for activity in case.activities)
    normal, uniform = chance.standard_normal, chance.uniform
    focus = normal(count)
    other = np.sqrt(1.0 - together**2) * normal(count)
    tolerance = together * focus + other
    return Draws(
        eye_height_cm=spreads.eye_height * normal(count),
        lean_cm=spreads.lean * normal(count),
        own_distance_cm=spreads.own_distance * normal((count, targets)),
        own_height_cm=spreads.own_height * normal((count, targets)),
        lens_down_mm=spreads.fitting_height * normal(count) + spreads.slip * uniform(0, 1, count),
        head_zero_deg=spreads.head_zero * normal(count),
        slope=slope + spreads.slope * (uniform(-1, 1, count) + SLOPE_LOPSIDED),
        usable_d=spreads.usable * focus,
        blur=np.exp(spreads.blur * tolerance),
        zone_width=np.exp(spreads.zone_width * normal(count)),
        profile_mm=spreads.profile * normal(count),
        rotation_centre_mm=spreads.rotation_centre * normal(count),
        looks=1.0 + spreads.looks * uniform(-1, 1, (count, looks)),
    )


def no_errors(case: Case, *, count: int, judgements: Judgements) -> Draws:
    """Draws without any error, to be changed one by one."""
    return draw(case, count=count, seed=0, spreads=Spreads.none(), judgements=judgements)


def drawn_scene(scene: Scene, draws: Draws) -> Scene:
    """The scene of one case once for each draw, moved by its errors."""
    count, targets, points = len(draws), len(scene.target_wearer), len(scene.point_target)
    target_of = np.tile(scene.point_target, count)
    draw_of = np.repeat(np.arange(count), points)
    forward, right, up = _moved(scene, draws)
    stop = scene.wearers.stop_mm[0] + draws.rotation_centre_mm
    reach = np.sqrt(forward**2 + right**2 + up**2)
    return Scene(
        wearers=_drawn_wearers(scene.wearers, draws),
        target_wearer=np.repeat(np.arange(count), targets),
        target_hours=np.tile(scene.target_hours, count),
        seated_hours=np.tile(scene.seated_hours, count),
        limit_d=np.tile(scene.limit_d, count) * np.repeat(draws.blur, targets),
        is_far=np.tile(scene.is_far, count),
        legible=np.tile(scene.legible, count),
        point_target=target_of + targets * draw_of,
        share=np.tile(scene.share, count),
        row=np.tile(scene.row, count),
        middle=np.tile(scene.middle, count),
        forward_mm=forward.ravel(),
        right_mm=right.ravel(),
        up_mm=up.ravel(),
        demand_d=(1e3 / (reach - stop[:, None])).ravel(),
    )


def activity_hours(case: Case, draws: Draws) -> Floats:
    """Hours a day on each target in each activity: (draws, activities, targets)."""
    names = {target.name: place for place, target in enumerate(case.targets)}
    hours = np.zeros((len(draws), len(case.activities), len(case.targets)))
    column = 0
    for place, activity in enumerate(case.activities):
        for name, spent in look_hours(activity).items():
            hours[:, place, names[name]] = spent * draws.looks[:, column]
            column += 1
        total = hours[:, place].sum(axis=1, keepdims=True)
        counts = total > 0.0  # the least number above 0 may leave none of itself to its parts
        hours[:, place] *= np.divide(activity.hours, total, out=np.zeros_like(total), where=counts)
    return hours


def _moved(scene: Scene, draws: Draws) -> tuple[Floats, Floats, Floats]:
    """Points from the moved eye, each (draws, points): a target moves as a whole."""
    target = scene.point_target
    starts = np.searchsorted(target, np.arange(len(scene.target_wearer)))
    ends = np.append(starts[1:], len(target))
    centre = np.array([_centre(scene, a, b) for a, b in zip(starts, ends, strict=True)])
    sight = centre / np.linalg.norm(centre, axis=1, keepdims=True)
    along = MM_PER_CM * draws.own_distance_cm[:, target]
    shift = along[..., None] * sight[target]
    forward = scene.forward_mm + shift[..., 0] + MM_PER_CM * draws.lean_cm[:, None]
    forward = forward + draws.rotation_centre_mm[:, None]
    right = scene.right_mm + shift[..., 1]
    up = scene.up_mm + shift[..., 2] + MM_PER_CM * draws.own_height_cm[:, target]
    up = up - MM_PER_CM * draws.eye_height_cm[:, None]
    return forward, np.broadcast_to(right, up.shape), up


def _centre(scene: Scene, start: int, end: int) -> Floats:
    """The point in the middle row and column of a target."""
    middle = np.flatnonzero(scene.middle[start:end]) + start
    point = middle[len(middle) // 2]
    return np.array([scene.forward_mm[point], scene.right_mm[point], scene.up_mm[point]])


def _drawn_wearers(wearers: Wearers, draws: Draws) -> Wearers:
    spread = wearers.take(np.zeros(len(draws), dtype=np.intp))
    return replace(
        spread,
        usable_d=np.maximum(spread.usable_d + draws.usable_d, 0.0),
        stop_mm=spread.stop_mm + draws.rotation_centre_mm,
        slope=draws.slope,
        head_zero_deg=draws.head_zero_deg,
        lens_down_mm=draws.lens_down_mm,
        zone_width=draws.zone_width,
        profile_down_mm=draws.profile_mm,
    )
