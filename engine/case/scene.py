"""Desks and wearers as arrays: what the kernel works on, for one wearer or for thousands.

A scene lists wearers; targets, each belonging to a wearer; and points, each belonging to a target
(81 over a screen or page, or a third of them; one for a far target). `advise` makes a scene of one
case, the roster one of a chunk of rows, and the map of screen places one of a place each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from engine.case.targets import (
    centre_above_eye_cm,
    detail_arcmin,
    hours_on,
    placing,
    size_cm,
    tilt_deg,
)
from engine.errors import InputRefusedError
from engine.optics import accommodation, workstation
from engine.optics.accommodation import Calibration, blur_limit_d

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case, Target, Turns
    from engine.case.results import Basis
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]
    Bools = NDArray[np.bool_]

NO_ACCOMMODATION = "pseudophakia"
THIRDS = 3
"""A draw looks at every third point of a face, evenly over it: three draws in a row at them all.

Hours of a draw differ by 0.07 from those of all points, expected hours by less than 0.02; the
draws themselves by 0.9 (eight examples, every lens).
"""
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
        add_d: prescribed add, 0 where none is needed, nan where none is known.
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
        made: number of the surface that is made where a progressive one is ordered; 0 as computed.
        blur_tolerance: factor on the usual blur limit, from taped ranges; 1 where none was taped.
        profile_down_mm: how far the power of a progressive surface sits lower than computed.
        eyes_first: share of a sideways turn the eyes take in any case; 0 for who turns the head.
        head_turn_more_deg, eye_sideways_more_deg: how much farther than usual head and eyes turn in
            comfort. gaze_min_more_deg, gaze_max_more_deg: how much farther down than usual the
            highest and the lowest comfortable gaze lie. far_within_more_deg: how much farther from
            the free posture than usual the chin goes for a far target.
        imbalance_more_pd: how much more vertical imbalance than usual is borne.
        window_factor: how much wider than usual the postures that must be clear in a row are.
        astigmatism_weight: what a dioptre of astigmatism counts against one of defocus.
        chart_d: vergence of the test chart, at which the distance prescription is right.
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
    made: Indices
    blur_tolerance: Floats
    profile_down_mm: Floats
    eyes_first: Floats
    head_turn_more_deg: Floats
    eye_sideways_more_deg: Floats
    gaze_min_more_deg: Floats
    gaze_max_more_deg: Floats
    far_within_more_deg: Floats
    imbalance_more_pd: Floats
    window_factor: Floats
    astigmatism_weight: Floats
    chart_d: Floats

    def take(self, which: Indices) -> Wearers:
        """Return the wearers at these positions, in this order."""
        return Wearers(**{name: values[which] for name, values in vars(self).items()})

    def spread(self, which: Indices) -> Wearers:
        """Return wearers at these positions as columns, (positions, 1), taken when asked for."""
        return when_asked(self, lambda values: values[which][:, None])

    def as_columns(self) -> Wearers:
        """Return the same values as columns, (wearers, 1), to stand against postures."""
        return Wearers(**{name: values[:, None] for name, values in vars(self).items()})


def when_asked(wearers: Wearers, change: Callable[[Any], Any]) -> Wearers:
    """Return wearers with each value changed when it is asked for; most of them never are."""
    return cast("Wearers", _WhenAsked(wearers, change))


class _WhenAsked:
    """Stands for `Wearers`; see `when_asked`."""

    def __init__(self, wearers: Wearers, change: Callable[[Any], Any]) -> None:
        self._wearers, self._change = wearers, change

    def __getattr__(self, name: str) -> Floats:
        found: Floats = self._change(getattr(self._wearers, name))
        setattr(self, name, found)
        return found

    def take(self, which: Indices) -> _WhenAsked:
        """Return those at these positions; see `Wearers.take`."""
        return _WhenAsked(cast("Wearers", self), lambda values: values[which])


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

    def by_target(self, values: Floats | Bools) -> Floats:
        """Return the weighted share of each target's points: (points, ...) to (targets, ...)."""
        weighted = values * self.share.reshape((-1,) + (1,) * (values.ndim - 1))
        starts = np.searchsorted(self.point_target, np.arange(len(self.target_wearer)))
        return np.add.reduceat(weighted, starts, axis=0)

    def hours(self, shares: Floats, *, seated_only: bool = False) -> Floats:
        """Return the hours a day of wearers from shares of targets: (targets, ...) to wearers."""
        hours = self.seated_hours if seated_only else self.target_hours
        weighted = shares * hours.reshape((-1,) + (1,) * (shares.ndim - 1))
        starts = np.searchsorted(self.target_wearer, np.arange(len(self.wearers.add_d)))
        return np.add.reduceat(weighted, starts, axis=0)

    def points_at(self, which: Indices | Bools) -> Scene:
        """Return the scene with some of its points (or one repeated), shares left as they are."""
        return replace(self, **{name: getattr(self, name)[which] for name in _OF_POINTS})

    def of_wearers(self, which: Bools) -> Scene:
        """Return the part of the scene that belongs to some of the wearers."""
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
    """Return the usable accommodation of a wearer in D and what it rests on; see accommodation."""
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
        no_add_from_years=judgements.no_add_from_years,
    )
    return value, basis  # type: ignore[return-value]


def stop_mm_of(case: Case, *, judgements: Judgements) -> float:
    """Return how far behind the lens the centre of rotation of the eye is."""
    return case.fit.vertex_mm + judgements.stop_beyond_vertex_mm


def taken_add_d(case: Case, *, judgements: Judgements) -> float:
    """Return the add that is computed with: the prescribed one, none for the young, else nan."""
    add_d = case.wearer.add_d
    if add_d is not None:
        return add_d
    return 0.0 if case.wearer.age_years < judgements.no_add_from_years else np.nan


def calibration_of(case: Case) -> Calibration | None:
    """Return what the taped ranges say together; the tolerance is a factor on the usual blur limit.

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
    """Return the factor on the usual blur limit; 1 where no range was taped."""
    fitted = calibration_of(case)
    return 1.0 if fitted is None else fitted.tolerance_d


def usual_limits(judgements: Judgements, *, turns: Turns | None = None) -> dict[str, float]:
    """Return what `Wearers` says of a wearer whose own limits are the usual ones.

    turns: what turns first, the head where it is not known.
    """
    return {
        "eyes_first": judgements.eye_turner_eye_share * (turns == "eyes"),
        "head_turn_more_deg": 0.0,
        "eye_sideways_more_deg": 0.0,
        "gaze_min_more_deg": 0.0,
        "gaze_max_more_deg": 0.0,
        "far_within_more_deg": 0.0,
        "imbalance_more_pd": 0.0,
        "window_factor": 1.0,
        "astigmatism_weight": judgements.astigmatism_weight,
    }


def wearers_of(cases: Sequence[Case], *, judgements: Judgements) -> Wearers:
    """Return the wearers of some cases."""
    margin = judgements.frame_margin_mm
    rows = []
    for case in cases:
        wearer, fit = case.wearer, case.fit
        eyes = (wearer.right, wearer.left)
        rows.append(
            {
                "add_d": taken_add_d(case, judgements=judgements),
                "usable_d": usable_of(case, judgements=judgements)[0],
                "vertical_power_d": wearer.vertical_power_d,
                "vertical_difference_d": wearer.vertical_difference_d,
                "unaided_power_d": -sum(eye.spherical_equivalent_d for eye in eyes) / 2,
                "unaided_astigmatism_d": max(abs(eye.cylinder_d) for eye in eyes),
                "stop_mm": stop_mm_of(case, judgements=judgements),
                "tilt_deg": fit.pantoscopic_deg,
                "lowest_mm": margin - min(fit.heights_mm),
                "highest_mm": fit.lens_depth_mm - max(fit.heights_mm) - margin,
                "half_width_mm": fit.lens_width_mm / 2 - margin,
                "fitting_height_mm": min(fit.heights_mm),
                "slope": judgements.free_posture_slope,
                "head_zero_deg": 0.0,
                "lens_down_mm": 0.0,
                "blur_tolerance": _tolerance_of(case),
                "profile_down_mm": 0.0,
                **usual_limits(judgements, turns=wearer.turns),
                "chart_d": 1.0 / wearer.chart_distance_m,
            }
        )
    values = {name: np.array([row[name] for row in rows], dtype=float) for name in rows[0]}
    return Wearers(**values, made=np.zeros(len(rows), dtype=np.intp))


@dataclass(frozen=True)
class Placed:
    """One target as it stands before some wearers; arrays are (of those,).

    Attributes:
        wearers: which. order: its place among the targets of each.
        is_far: one point across the room, no face.
        tilt_deg: top away; None is square to the line of sight.
        third: which third of the points of its face stands for all, 0 to 2; None where all do.
        arcmin: its detail. hours: a day spent on it; seated_hours: see `Scene`.
    """

    wearers: Indices
    order: Indices
    is_far: bool
    distance_cm: Floats
    centre_above_eye_cm: Floats
    offset_cm: Floats
    tilt_deg: Floats | None
    width_cm: Floats
    height_cm: Floats
    arcmin: Floats
    hours: Floats
    seated_hours: Floats
    third: Indices | None = None


@dataclass(frozen=True)
class _Faces:
    """The points of a `Placed`: each (of those, points) or (points,)."""

    forward_mm: Floats
    right_mm: Floats
    up_mm: Floats
    share: Floats
    row: Indices
    middle: Bools


def scene_of(cases: Sequence[Case], *, judgements: Judgements) -> Scene:
    """Return the scene of some cases, in order.

    Raises
        InputRefusedError: a target that cannot stand where it was taped.
    """
    wearers = wearers_of(cases, judgements=judgements)
    groups: dict[tuple[bool, bool, bool], list[tuple[int, int, Target]]] = {}
    for index, case in enumerate(cases):
        for order, target in enumerate(case.targets):
            alike = (target.kind == "far", target.offset_cm == 0.0, tilt_deg(target) is None)
            groups.setdefault(alike, []).append((index, order, target))
    try:
        parts = [_placed(group, cases, wearers) for group in groups.values()]
        return scene_of_targets(wearers, parts, judgements=judgements)
    except InputRefusedError:
        for one in (one for group in groups.values() for one in group):
            with placing(one[1], one[2]):
                part = _placed([one], cases, wearers)
                scene_of_targets(wearers, [part], judgements=judgements)
        raise


def _placed(
    group: Sequence[tuple[int, int, Target]], cases: Sequence[Case], wearers: Wearers
) -> Placed:
    """Put targets of one sort into arrays, each with the number of its case and its place there."""
    targets = [target for *_, target in group]
    sizes = np.array([size_cm(target) for target in targets])
    tilts = [tilt_deg(target) for target in targets]
    days = [cases[index].activities for index, *_ in group]
    seated = [[one for one in day if not one.needs] for day in days]
    return Placed(
        wearers=np.array([index for index, *_ in group], dtype=np.intp),
        order=np.array([order for _, order, _ in group], dtype=np.intp),
        is_far=targets[0].kind == "far",
        distance_cm=np.array([target.distance_cm for target in targets]),
        centre_above_eye_cm=np.array(
            [
                centre_above_eye_cm(target, stop_mm=float(wearers.stop_mm[index]))
                for index, _, target in group
            ]
        ),
        offset_cm=np.array([target.offset_cm for target in targets]),
        tilt_deg=None if None in tilts else np.array(tilts, dtype=float),
        width_cm=sizes[:, 0],
        height_cm=sizes[:, 1],
        arcmin=np.array([detail_arcmin(target) for target in targets]),
        hours=np.array([hours_on(t.name, day) for t, day in zip(targets, days, strict=True)]),
        seated_hours=np.array(
            [hours_on(t.name, day) for t, day in zip(targets, seated, strict=True)]
        ),
    )


def scene_of_targets(
    wearers: Wearers, parts: Sequence[Placed], *, judgements: Judgements, keeps_off_mm: float = 0.0
) -> Scene:
    """Return the scene of targets placed before wearers: the one builder of all scenes.

    keeps_off_mm: a point nearer to the lens is taken as so far from it; 0 refuses one that reaches
    it.

    Raises
        InputRefusedError: a centre that would not be in front of the eye.
    """
    faces = [_faces(part, wearers, n=int(judgements.points_a_side)) for part in parts]
    target_wearer = np.concatenate([part.wearers for part in parts])
    order = np.concatenate([part.order for part in parts])
    by_wearer = np.lexsort((order, target_wearer))
    place = np.empty(len(by_wearer), dtype=np.intp)
    place[by_wearer] = np.arange(len(by_wearer))
    ends = np.cumsum([len(part.wearers) for part in parts])
    unordered = np.concatenate(
        [
            np.repeat(place[end - len(part.wearers) : end], face.share.shape[1])
            for part, face, end in zip(parts, faces, ends, strict=True)
        ]
    )
    points = np.argsort(unordered, kind="stable")

    def of_targets(values: Sequence[Floats | Bools]) -> Any:
        return np.concatenate(values)[by_wearer]

    def of_points(name: str) -> Any:
        spread = [
            np.broadcast_to(getattr(face, name), face.forward_mm.shape).ravel() for face in faces
        ]
        return np.concatenate(spread)[points]

    point_target, target_wearer = unordered[points], target_wearer[by_wearer]
    arcmin = of_targets([part.arcmin for part in parts])
    is_far = of_targets([np.full(len(part.wearers), part.is_far) for part in parts])
    forward, right, up = (of_points(name) for name in ("forward_mm", "right_mm", "up_mm"))
    of_point = target_wearer[point_target]
    away_mm, stop_mm = np.sqrt(forward**2 + right**2 + up**2), wearers.stop_mm[of_point]
    if keeps_off_mm:
        away_mm = np.maximum(away_mm, stop_mm + keeps_off_mm)
    demand_d = workstation.demand_d(eye_to_point_mm=away_mm, stop_mm=stop_mm)
    noticeable_d = wearers.blur_tolerance[target_wearer] * judgements.blur_limit_base_d
    return Scene(
        wearers=wearers,
        target_wearer=target_wearer,
        target_hours=of_targets([part.hours for part in parts]),
        seated_hours=of_targets([part.seated_hours for part in parts]),
        limit_d=blur_limit_d(text_arcmin=arcmin, noticeable_d=noticeable_d),
        is_far=is_far,
        legible=is_far | (arcmin >= judgements.illegible_arcmin),
        point_target=point_target,
        share=of_points("share"),
        row=of_points("row"),
        middle=of_points("middle"),
        forward_mm=forward,
        right_mm=right,
        up_mm=up,
        demand_d=demand_d - np.where(is_far[point_target], wearers.chart_d[of_point], 0.0),
    )


def _faces(part: Placed, wearers: Wearers, *, n: int) -> _Faces:
    """Return the points of each face; centred ones keep the right half, with the share of both."""
    sides = 1 if part.is_far else n
    width, height = (side[:, None, None] for side in (part.width_cm, part.height_cm))
    faces = workstation.face_points_mm(
        distance_cm=part.distance_cm,
        centre_above_eye_cm=part.centre_above_eye_cm,
        width_cm=width,
        height_cm=height,
        stop_mm=wearers.stop_mm[part.wearers],
        tilt_deg=part.tilt_deg,
        offset_cm=part.offset_cm,
        n=sides,
    )
    row, column = (at.ravel() for at in np.indices((sides, sides)))
    aside = column - sides // 2
    centred = bool(np.all(part.offset_cm == 0.0))
    half = np.flatnonzero((aside >= 0) | (not centred))
    keep = half[None, :]
    if part.third is not None and not part.is_far:
        third = (row[half] + np.abs(aside[half])) % THIRDS  # mirrored as a mirrored desk is
        keep = np.stack([half[third == one] for one in range(THIRDS)])[part.third]
    wearer = np.arange(len(part.wearers))[:, None]
    forward, right, up = (face.reshape(-1, sides**2)[wearer, keep] for face in faces)
    middle = aside[keep] == 0
    share = np.where(middle | (not centred), 1.0, 2.0)
    return _Faces(
        forward_mm=forward,
        right_mm=right,
        up_mm=up,
        share=share / share.sum(axis=1, keepdims=True),
        row=np.full(keep.shape, -1) if part.is_far else row[keep],
        middle=middle,
    )
