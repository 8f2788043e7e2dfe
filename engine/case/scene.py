"""Desks and wearers as arrays: what the kernel works on, for one wearer or for thousands.

A scene lists wearers; targets, each belonging to a wearer; and points, each belonging to a target
(81 over a screen or page, one for a far target). `advise` makes a scene of one case, the roster
one of a chunk of rows, and the map of screen places one of a place each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.case.targets import (
    centre_above_eye_cm,
    detail_arcmin,
    look_hours,
    placing,
    size_cm,
    tilt_deg,
)
from engine.optics import accommodation, workstation
from engine.optics.accommodation import Calibration, blur_limit_d

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.model import Activity, Case, Target
    from engine.case.results import Basis
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]
    Bools = NDArray[np.bool_]

NO_ACCOMMODATION = "pseudophakia"
_OF_POINTS = (
    "point_target",
    "share",
    "row",
    "middle",
    "forward_mm",
    "right_mm",
    "up_mm",
    "demand_d",
)


@dataclass(frozen=True)
class Wearers:
    """One value a wearer, shape (wearers,); see `Scene`.

    Attributes:
        add_d: prescribed add, nan where none is known.
        usable_d: usable accommodation.
        vertical_power_d: mean power of the two 90-degree meridians.
        vertical_difference_d: difference of those powers between the eyes.
        unaided_power_d, unaided_astigmatism_d: what no glasses leave of the prescription.
        stop_mm: lens to centre of rotation. tilt_deg: pantoscopic tilt.
        lowest_mm, highest_mm: lowest and highest lens point inside the frame (y up).
        half_width_mm: half the width inside the frame.
        fitting_height_mm: the lower of the two eyes'.
        slope: share of the declination the free head takes.
        head_zero_deg: error of the zero of the head (chin_up read too low by it).
        lens_down_mm: how far the lens sits below where it was marked.
        zone_width: factor on the width of the zones of a progressive surface.
        blur_tolerance: factor on the usual blur limit, from taped ranges; 1 where none was taped.
        profile_down_mm: how far the power of a progressive surface sits lower than computed.
    """

    add_d: Floats
    usable_d: Floats
    vertical_power_d: Floats
    vertical_difference_d: Floats
    unaided_power_d: Floats
    unaided_astigmatism_d: Floats
    stop_mm: Floats
    tilt_deg: Floats
    lowest_mm: Floats
    highest_mm: Floats
    half_width_mm: Floats
    fitting_height_mm: Floats
    slope: Floats
    head_zero_deg: Floats
    lens_down_mm: Floats
    zone_width: Floats
    blur_tolerance: Floats
    profile_down_mm: Floats

    def take(self, which: Indices) -> Wearers:
        """The wearers at these positions, in this order."""
        return Wearers(**{name: values[which] for name, values in vars(self).items()})

    def as_columns(self) -> Wearers:
        """The same values as columns, (wearers, 1), to stand against postures."""
        return Wearers(**{name: values[:, None] for name, values in vars(self).items()})


@dataclass(frozen=True)
class Scene:
    """Wearers, targets and points as arrays.

    Attributes:
        wearers: one value a wearer.
        target_wearer: (targets,) the wearer each target belongs to, ascending.
        target_hours: (targets,) hours a day spent on it. seated_hours: those of activities that
            need no clear distance, the only ones a pair without clear distance is worn for.
        limit_d: (targets,) blur limit. is_far: (targets,) judged as a far target.
        legible: (targets,) large enough to be served by a lens at all.
        point_target: (points,) the target each point belongs to, ascending.
        share: (points,) share of its target; mirrored columns stand once with both shares.
        row: (points,) row in the target, 0 the top; -1 for a far target.
        middle: (points,) stands in the middle column.
        forward_mm, right_mm, up_mm: (points,) from the centre of rotation, head at zero.
        demand_d: (points,) demand at the lens.
    """

    wearers: Wearers
    target_wearer: Indices
    target_hours: Floats
    seated_hours: Floats
    limit_d: Floats
    is_far: Bools
    legible: Bools
    point_target: Indices
    share: Floats
    row: Indices
    middle: Bools
    forward_mm: Floats
    right_mm: Floats
    up_mm: Floats
    demand_d: Floats

    @property
    def point_wearer(self) -> Indices:
        """The wearer of each point, (points,)."""
        return self.target_wearer[self.point_target]

    @property
    def free_chin_up_deg(self) -> Floats:
        """Chin-up of the free posture for each point, (points,)."""
        level = np.hypot(self.forward_mm, self.right_mm)
        return workstation.free_chin_up_deg(
            declination_deg=workstation.declination_deg(
                below_eye_cm=-self.up_mm, horizontal_cm=level
            ),
            slope=self.wearers.slope[self.point_wearer],
        )

    def by_target(self, values: Floats) -> Floats:
        """Weighted share of each target's points: (points, ...) to (targets, ...)."""
        weighted = values * self.share.reshape((-1,) + (1,) * (values.ndim - 1))
        starts = np.searchsorted(self.point_target, np.arange(len(self.target_wearer)))
        return np.add.reduceat(weighted, starts, axis=0)

    def hours(self, shares: Floats, *, seated_only: bool = False) -> Floats:
        """Hours a day of each wearer from the shares of the targets: (targets, ...) to wearers."""
        hours = self.seated_hours if seated_only else self.target_hours
        weighted = shares * hours.reshape((-1,) + (1,) * (shares.ndim - 1))
        starts = np.searchsorted(self.target_wearer, np.arange(len(self.wearers.add_d)))
        return np.add.reduceat(weighted, starts, axis=0)

    def points_at(self, which: Indices | Bools) -> Scene:
        """The same scene with some of its points (or one repeated); shares are left as they are."""
        return replace(self, **{name: getattr(self, name)[which] for name in _OF_POINTS})

    def of_wearers(self, which: Bools) -> Scene:
        """The part of the scene that belongs to some of the wearers."""
        targets = which[self.target_wearer]
        points = targets[self.point_target]
        part = self.points_at(points)
        return replace(
            part,
            wearers=self.wearers.take(np.flatnonzero(which)),
            target_wearer=(np.cumsum(which) - 1)[self.target_wearer[targets]],
            target_hours=self.target_hours[targets],
            seated_hours=self.seated_hours[targets],
            limit_d=self.limit_d[targets],
            is_far=self.is_far[targets],
            legible=self.legible[targets],
            point_target=(np.cumsum(targets) - 1)[part.point_target],
        )


def usable_of(case: Case, *, judgements: Judgements) -> tuple[float, Basis]:
    """Usable accommodation of a wearer in D and what it rests on; see accommodation."""
    wearer = case.wearer
    if NO_ACCOMMODATION in wearer.conditions:
        return 0.0, "condition"
    fitted = calibration_of(case)
    if fitted is not None:
        return fitted.usable_d, "measured_range"
    fraction = wearer.usable_fraction
    value, basis = accommodation.usable_accommodation_d(
        age_years=wearer.age_years,
        add_d=wearer.add_d,
        amplitude_d=wearer.amplitude_d,
        usable_fraction=judgements.usable_fraction if fraction is None else fraction,
        near_test_distance_cm=wearer.near_test_distance_cm,
        vertex_mm=case.fit.vertex_mm,
        vertical_power_d=wearer.vertical_power_d,
        amplitude_through_lenses=wearer.amplitude_through_lenses,
    )
    return value, basis  # type: ignore[return-value]


def calibration_of(case: Case) -> Calibration | None:
    """What the taped ranges say together; the tolerance is a factor on the usual blur limit.

    Ranges count alike; more of them narrow the deviations.
    """
    found = [taped.fitted() for taped in case.measured_ranges]
    if not found:
        return None
    usual = [float(blur_limit_d(text_arcmin=taped.text_arcmin)) for taped in case.measured_ranges]
    factors = [one.tolerance_d / limit for one, limit in zip(found, usual, strict=True)]
    spreads = [one.tolerance_sd_d / limit for one, limit in zip(found, usual, strict=True)]
    count = len(found)
    return Calibration(
        usable_d=sum(one.usable_d for one in found) / count,
        tolerance_d=sum(factors) / count,
        usable_sd_d=float(np.linalg.norm([one.usable_sd_d for one in found])) / count,
        tolerance_sd_d=float(np.linalg.norm(spreads)) / count,
    )


def _tolerance_of(case: Case) -> float:
    fitted = calibration_of(case)
    return 1.0 if fitted is None else fitted.tolerance_d


def wearers_of(cases: Sequence[Case], *, judgements: Judgements) -> Wearers:
    """The wearers of some cases."""
    margin = judgements.frame_margin_mm
    rows = []
    for case in cases:
        wearer, fit = case.wearer, case.fit
        eyes = (wearer.right, wearer.left)
        rows.append(
            {
                "add_d": np.nan if wearer.add_d is None else wearer.add_d,
                "usable_d": usable_of(case, judgements=judgements)[0],
                "vertical_power_d": wearer.vertical_power_d,
                "vertical_difference_d": wearer.vertical_difference_d,
                "unaided_power_d": -sum(eye.spherical_equivalent_d for eye in eyes) / 2,
                "unaided_astigmatism_d": max(abs(eye.cylinder_d) for eye in eyes),
                "stop_mm": fit.vertex_mm + judgements.stop_beyond_vertex_mm,
                "tilt_deg": fit.pantoscopic_deg,
                "lowest_mm": margin - min(fit.heights_mm),
                "highest_mm": fit.lens_depth_mm - max(fit.heights_mm) - margin,
                "half_width_mm": fit.lens_width_mm / 2 - margin,
                "fitting_height_mm": min(fit.heights_mm),
                "slope": judgements.free_posture_slope,
                "head_zero_deg": 0.0,
                "lens_down_mm": 0.0,
                "zone_width": 1.0,
                "blur_tolerance": _tolerance_of(case),
                "profile_down_mm": 0.0,
            }
        )
    return Wearers(**{name: np.array([row[name] for row in rows], dtype=float) for name in rows[0]})


def scene_of(cases: Sequence[Case], *, judgements: Judgements) -> Scene:
    """The scene of some cases, in order.

    Raises
        InputRefusedError: a target that cannot stand where it was taped.
    """
    wearers = wearers_of(cases, judgements=judgements)
    parts: list[dict[str, Floats]] = []
    names = ("wearer", "hours", "seated", "limit", "arcmin")
    found: dict[str, list[float]] = {name: [] for name in names}
    far: list[bool] = []
    for index, case in enumerate(cases):
        noticeable_d = float(wearers.blur_tolerance[index]) * judgements.blur_limit_base_d
        for number, target in enumerate(case.targets):
            with placing(number, target):
                parts.append(
                    _points(target, stop_mm=wearers.stop_mm[index], n=int(judgements.points_a_side))
                )
            arcmin = detail_arcmin(target)
            found["wearer"].append(index)
            found["hours"].append(_hours_on(case.activities, target.name))
            seated = [activity for activity in case.activities if not activity.needs]
            found["seated"].append(_hours_on(seated, target.name))
            found["arcmin"].append(arcmin)
            limit_d = blur_limit_d(text_arcmin=arcmin, noticeable_d=noticeable_d)
            found["limit"].append(float(limit_d))
            far.append(target.kind == "far")
    counts = [len(part["share"]) for part in parts]
    joined = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    is_far = np.array(far)
    return Scene(
        wearers=wearers,
        target_wearer=np.array(found["wearer"], dtype=np.intp),
        target_hours=np.array(found["hours"]),
        seated_hours=np.array(found["seated"]),
        limit_d=np.array(found["limit"]),
        is_far=is_far,
        legible=is_far | (np.array(found["arcmin"]) >= judgements.illegible_arcmin),
        point_target=np.repeat(np.arange(len(parts)), counts),
        share=joined["share"],
        row=joined["row"].astype(np.intp),
        middle=joined["middle"].astype(bool),
        forward_mm=joined["forward"],
        right_mm=joined["right"],
        up_mm=joined["up"],
        demand_d=joined["demand"],
    )


def _hours_on(activities: Sequence[Activity], name: str) -> float:
    return sum(look_hours(activity).get(name, 0.0) for activity in activities)


def _points(target: Target, *, stop_mm: float, n: int) -> dict[str, Floats]:
    """The points of a target; a centred face keeps its right half, with the share of both."""
    face = target.kind != "far"
    width, height = size_cm(target)
    forward, right, up = workstation.face_points_mm(
        distance_cm=target.distance_cm,
        centre_above_eye_cm=centre_above_eye_cm(target, stop_mm=stop_mm),
        width_cm=width,
        height_cm=height,
        stop_mm=stop_mm,
        tilt_deg=tilt_deg(target),
        offset_cm=target.offset_cm,
        n=n if face else 1,
    )
    forward, right, up = np.broadcast_arrays(forward, right, up)
    row, column = np.indices(forward.shape)
    middle = column == forward.shape[1] // 2
    count = np.ones(forward.shape)
    keep = np.ones(forward.shape, dtype=bool)
    if target.offset_cm == 0.0:
        keep = column >= forward.shape[1] // 2
        count = np.where(middle, 1.0, 2.0)
    reach = np.sqrt(forward**2 + right**2 + up**2)
    whole = {
        "forward": forward,
        "right": right,
        "up": up,
        "demand": workstation.demand_d(eye_to_point_mm=reach, stop_mm=stop_mm),
        "share": count / forward.size,
        "row": row if face else np.full(row.shape, -1),
        "middle": middle,
    }
    return {name: values[keep] for name, values in whole.items()}
