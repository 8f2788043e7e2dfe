"""Work out where on the lens each point is seen at each chin-up, and which points are clear.

Arrays are (points, postures) with the points side by side in memory: runs of postures are then
compared column by column, and one wearer or thousands are handled in the same long strides.

A view is the gaze at some chin-up angles; a window is a run of postures wide enough to live in; a
grade is whether such a window exists. `chin_up` is positive with the neck bent back; `gaze_down` is
the eye in the head before the bend by the lens.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from engine.lenses.families import Points, side_by_side
from engine.optics.accommodation import blur_d, defocus_d
from engine.optics.spectacles import gaze_tangent, lens_drop_mm, lens_side_mm, vertical_imbalance_pd
from engine.optics.workstation import eye_shift_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.scene import Scene, Wearers
    from engine.lenses.families import Field
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]


_ROUNDING = 1e-9


class Gaze:
    """Where every point of a scene is seen at some chin-up angles, whatever the lens and the grade.

    Attributes:
        chin_up_deg: (1, postures) or (points, postures).
        tangent: (points, postures) tangent of gaze_down.
        sideways: tangent of the azimuth with the head straight. in_front: of the eye at all.
    """

    def __init__(self, scene: Scene, *, chin_up_deg: Floats, pivot_mm: tuple[float, float]) -> None:
        """chin_up_deg: as the wearer's own head zero reads it.

        pivot_mm: how far the eye is ahead of and above the point the head turns about.
        """
        self.chin_up_deg = np.atleast_2d(chin_up_deg)
        eye_forward_mm, eye_up_mm, tangent = _turned_for(scene, self.chin_up_deg, pivot_mm)
        forward = np.subtract(scene.forward_mm[:, None], eye_forward_mm, order="F")
        level = np.sqrt(forward * forward + (scene.right_mm**2)[:, None])
        below = np.subtract(eye_up_mm, scene.up_mm[:, None], order="F")
        self.tangent, in_front = _add_angle(below / level, tangent)
        self.in_front = in_front & (forward > 0.0)
        self.sideways = np.abs(scene.right_mm)[:, None] / forward

    def within(self, chin_up_deg: Floats) -> Gaze:
        """The part at some neighbouring chin-up angles of those scanned for all points."""
        first = int(np.argmin(np.abs(self.chin_up_deg[0] - chin_up_deg[0])))
        which = slice(first, first + len(chin_up_deg))
        part: Gaze = object.__new__(Gaze)
        part.chin_up_deg = self.chin_up_deg[:, which]
        part.tangent, part.in_front = self.tangent[:, which], self.in_front[:, which]
        part.sideways = self.sideways[:, which]
        return part


def turned_head(
    wearers: Wearers, *, chin_up_deg: Floats, pivot_mm: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """What turning the head does: how far the eye moves forward and up, the tangent of the chin-up.

    chin_up_deg: (1 or wearers, postures) as the wearer's own head zero reads it. Returns as many
    rows, or one where all wearers are alike.
    """
    zero = wearers.head_zero_deg
    alike = len(chin_up_deg) == 1 and bool(np.all(zero == zero[:1]))
    true_chin_up = chin_up_deg + (zero[:1] if alike else zero)[:, None]
    ahead, below = pivot_mm
    forward, up = eye_shift_mm(chin_up_deg=true_chin_up, pivot_ahead_mm=ahead, pivot_below_mm=below)
    return forward, up, np.tan(np.radians(true_chin_up))


def _turned_for(
    scene: Scene, chin_up_deg: Floats, pivot_mm: tuple[float, float]
) -> tuple[Floats, ...]:
    """As `turned_head`, for every point: (1 or points, postures)."""
    wearers, of_point = scene.wearers, scene.point_wearer
    if len(chin_up_deg) > 1:
        wearers, of_point = wearers.take(of_point), np.arange(len(of_point))
    turned = turned_head(wearers, chin_up_deg=chin_up_deg, pivot_mm=pivot_mm)
    if len(turned[0]) == 1:
        return turned
    return tuple(side_by_side(one, of_point) for one in turned)


def _add_angle(tangent: Floats, other: Floats) -> tuple[Floats, Bools]:
    """Tangent of a sum of two angles, by theirs, and whether it is still within a right angle."""
    below_one = 1.0 - tangent * other
    in_front = below_one > _ROUNDING
    return (tangent + other) / np.where(in_front, below_one, 1.0), in_front


@dataclass(frozen=True)
class Band:
    """The limits a grade sets to posture, in degrees; far targets have limits of their own.

    Attributes:
        chin_up_deg: lowest and highest chin-up.
        far_within_deg: a far target is judged from the free posture, within this; None as above.
        gaze_down_deg, far_gaze_down_deg: lowest and highest gaze in the head.
        head_turn_deg: how far the head turns towards a point; the eye does the rest.
        eye_sideways_deg: how far the eye may turn for that rest.
        most_head_turn_deg: how far the head turns where the eye does not reach; None as above.
        imbalance_pd: most vertical imbalance.
        pivot_mm: how far the eye is ahead of and above the point the head turns about.
        is_own: the wearer's own limits hold in place of the usual ones, and the eyes take their
            own share of a turn even where the head could take it all; see `Wearers`.
    """

    chin_up_deg: tuple[float, float]
    far_within_deg: float | None
    gaze_down_deg: tuple[float, float]
    far_gaze_down_deg: tuple[float, float]
    head_turn_deg: float
    eye_sideways_deg: float
    imbalance_pd: float
    pivot_mm: tuple[float, float]
    is_own: bool = False
    most_head_turn_deg: float | None = None


def comfortable(judgements: Judgements) -> Band:
    """The limits of the comfortable grade."""
    j = judgements
    return Band(
        chin_up_deg=(j.comfortable_chin_up_min_deg, j.comfortable_chin_up_max_deg),
        far_within_deg=j.far_chin_up_within_deg,
        gaze_down_deg=(j.comfortable_gaze_down_min_deg, j.comfortable_gaze_down_max_deg),
        far_gaze_down_deg=(j.far_gaze_down_min_deg, j.comfortable_gaze_down_max_deg),
        head_turn_deg=j.comfortable_head_turn_deg,
        eye_sideways_deg=j.comfortable_eye_sideways_deg,
        imbalance_pd=j.imbalance_comfortable_pd,
        pivot_mm=(j.pivot_ahead_mm, j.pivot_below_mm),
        is_own=True,
    )


def awkward(judgements: Judgements) -> Band:
    """The limits of what is sharp or usable with effort: the awkward and the blurred grade."""
    j = judgements
    gaze = (j.awkward_gaze_down_min_deg, j.awkward_gaze_down_max_deg)
    return Band(
        chin_up_deg=(j.awkward_chin_up_min_deg, j.awkward_chin_up_max_deg),
        far_within_deg=None,
        gaze_down_deg=gaze,
        far_gaze_down_deg=gaze,
        head_turn_deg=j.awkward_head_turn_deg,
        eye_sideways_deg=j.awkward_eye_sideways_deg,
        imbalance_pd=j.imbalance_awkward_pd,
        pivot_mm=(j.pivot_ahead_mm, j.pivot_below_mm),
    )


def any_posture(judgements: Judgements) -> Band:
    """The limits of what is printed beside a grade: any chin-up, eyes within reach."""
    j = judgements
    gaze = (j.awkward_gaze_down_min_deg, j.awkward_gaze_down_max_deg)
    return Band(
        chin_up_deg=(j.scan_chin_up_min_deg, j.scan_chin_up_max_deg),
        far_within_deg=None,
        gaze_down_deg=gaze,
        far_gaze_down_deg=gaze,
        head_turn_deg=j.comfortable_head_turn_deg,
        eye_sideways_deg=j.awkward_eye_sideways_deg,
        imbalance_pd=np.inf,
        pivot_mm=(j.pivot_ahead_mm, j.pivot_below_mm),
        most_head_turn_deg=j.awkward_head_turn_deg,
    )


def chin_ups_deg(*, low: float, high: float, judgements: Judgements) -> Floats:
    """The scanned chin-up angles from low to high, on the grid of the scan."""
    step, start = judgements.scan_step_deg, judgements.scan_chin_up_min_deg
    first, last = (
        np.ceil((low - start) / step - _ROUNDING),
        np.floor((high - start) / step + _ROUNDING),
    )
    stop = (judgements.scan_chin_up_max_deg - start) / step
    return start + step * np.arange(max(first, 0.0), min(last, stop) + 1)


def sideways_limits(band: Band, wearers: Wearers) -> tuple[Floats, Floats]:
    """Tangents of how far the head turns and of how far the eye may, of each wearer given."""
    head_deg = band.head_turn_deg + band.is_own * wearers.head_turn_more_deg
    eye_deg = band.eye_sideways_deg + band.is_own * wearers.eye_sideways_more_deg
    return np.tan(np.radians(head_deg)), np.tan(np.radians(eye_deg)) + _ROUNDING


def gaze_limits(band: Band, wearers: Wearers, *, is_far: Bools) -> tuple[Floats, Floats]:
    """Tangents of the lowest and the highest gaze down, of the wearer of each point.

    is_far: of each point, in the shape of the values of `wearers`.
    """
    low, high = (
        np.where(is_far, np.float64(far), near)
        for far, near in zip(band.far_gaze_down_deg, band.gaze_down_deg, strict=True)
    )
    if band.is_own:
        low, high = low + wearers.gaze_min_more_deg, high + wearers.gaze_max_more_deg
    return np.tan(np.radians(low)) - _ROUNDING, np.tan(np.radians(high)) + _ROUNDING


def far_within_deg(band: Band, wearers: Wearers) -> Floats:
    """How far from the free posture a far target is judged, of each wearer given."""
    usual = np.inf if band.far_within_deg is None else band.far_within_deg
    return usual + band.is_own * wearers.far_within_more_deg


def most_imbalance_pd(band: Band, wearers: Wearers) -> Floats:
    """The most vertical imbalance, of each wearer given."""
    return band.imbalance_pd + band.is_own * wearers.imbalance_more_pd


class View:
    """The gaze of every point of a scene in the band of a grade, through a lens or bare.

    Attributes:
        allowed: (points, postures) inside the band.
        tangent: (points, postures) tangent of gaze_down.
        points: the lens points, for Family.field.
        wearers: the wearers spread over the points, (points, 1) each.
    """

    def __init__(
        self,
        scene: Scene,
        *,
        chin_up_deg: Floats,
        band: Band,
        through_lens: bool,
        eye_azimuth_deg: Floats | None = None,
        gaze: Gaze | None = None,
    ) -> None:
        """chin_up_deg: (postures,) or (points, postures), as the wearer's own head zero reads it.

        eye_azimuth_deg: (points,) sets the sideways turn of the eye instead of leaving it what
        the head turn leaves. gaze: at these angles, where it is known already.
        """
        gaze = gaze or Gaze(scene, chin_up_deg=chin_up_deg, pivot_mm=band.pivot_mm)
        self.scene, self.band = scene, band
        self.chin_up_deg, self.tangent = gaze.chin_up_deg, gaze.tangent
        self.wearers = scene.wearers.spread(scene.point_wearer)
        head_turn, reach = sideways_limits(band, self.wearers)
        left_over = _less_angle(gaze.sideways, head_turn)
        bent = self._bent(through_lens=through_lens)
        least = left_over
        if band.most_head_turn_deg is not None:
            most_turn = np.tan(np.radians(band.most_head_turn_deg))
            least = _less_angle(gaze.sideways, most_turn)
            left_over = np.minimum(left_over, reach)
        self.allowed = gaze.in_front & (least <= reach)
        self.allowed &= self._within_angles(bent)
        if band.is_own and np.any(scene.wearers.eyes_first):
            by_eye = np.tan(self.wearers.eyes_first * np.arctan(gaze.sideways))
            left_over = np.maximum(left_over, np.minimum(by_eye, reach))
        if eye_azimuth_deg is not None:
            left_over = np.tan(np.radians(eye_azimuth_deg))[:, None]
        self._set_lens_points(left_over, bent, through_lens=through_lens)

    @cached_property
    def gaze_down_deg(self) -> Floats:
        """Gaze in the head before the bend by the lens, (points, postures)."""
        return np.degrees(np.arctan(self.tangent))

    def _bent(self, *, through_lens: bool) -> Floats:
        """Tangent of what the eye turns down, after the bend by the wearer's own power."""
        wearers, scene = self.wearers, self.scene
        reach = np.sqrt(scene.forward_mm**2 + scene.right_mm**2 + scene.up_mm**2)[:, None]
        return gaze_tangent(
            direction_tangent=self.tangent,
            distance_mm=reach - wearers.stop_mm,
            stop_mm=wearers.stop_mm,
            vertical_power_d=wearers.vertical_power_d if through_lens else 0.0,
        )

    def _within_angles(self, bent: Floats) -> Bools:
        """The limits of gaze hold for what the eye really turns, so after the bend."""
        is_far = self.scene.is_far[self.scene.point_target][:, None]
        lowest, highest = gaze_limits(self.band, self.wearers, is_far=is_far)
        inside: Bools = (bent >= lowest) & (bent <= highest)
        least, most = self.band.chin_up_deg
        chin = self.chin_up_deg
        in_range = (chin >= least - _ROUNDING) & (chin <= most + _ROUNDING)
        if self.band.far_within_deg is not None:
            free = self.scene.free_chin_up_deg[:, None]
            near_free = np.abs(chin - free) <= far_within_deg(self.band, self.wearers) + _ROUNDING
            in_range = np.where(is_far, near_free, in_range)
        return inside & in_range

    def _set_lens_points(self, sideways: Floats, bent: Floats, *, through_lens: bool) -> None:
        wearers = self.wearers
        place = {"stop_mm": wearers.stop_mm, "pantoscopic_deg": wearers.tilt_deg}
        y = wearers.lens_down_mm - lens_drop_mm(gaze_tangent=bent, **place)
        x = lens_side_mm(azimuth_tangent=sideways, gaze_tangent=bent, **place)
        self.points = Points(x_mm=x, y_mm=y, made=wearers.made, down_mm=wearers.profile_down_mm)
        self.in_frame = np.ones_like(self.allowed)
        if through_lens:
            self.in_frame = (
                (y >= wearers.lowest_mm - _ROUNDING)
                & (y <= wearers.highest_mm + _ROUNDING)
                & (x <= wearers.half_width_mm + _ROUNDING)
            )

    @cached_property
    def within(self) -> Bools:
        """Inside the band and on the lens."""
        inside: Bools = self.allowed & self.in_frame
        return inside

    def at(self, points: Indices) -> PartOfView:
        """The same view of some of the points, in this order."""
        return PartOfView(self, points)

    def of_others(self, wearers: Wearers) -> View:
        """The same view of wearers who differ in add and in what they focus, in nothing else."""
        return _of_others(self, wearers)

    def usable(self, kind: Kind, field: Field) -> Bools:
        """Postures inside the band, on the lens, off its lines and without too much imbalance."""
        return _usable(self, kind, field)

    def imbalance_pd(self, kind: Kind) -> Floats:
        """Vertical imbalance at the lens points, (points, postures)."""
        return imbalance_pd(self.points, self.wearers, kind)


class PartOfView:
    """Some points of a view; what was computed for all of them is taken, not computed again."""

    def __init__(self, view: View, points: Indices) -> None:
        self._view, self._which = view, points
        self.scene, self.band = view.scene.points_at(points), view.band
        self.wearers = view.wearers.take(points)
        self.points = view.points.at(points)

    @cached_property
    def within(self) -> Bools:
        """Inside the band and on the lens."""
        return side_by_side(self._view.within, self._which)

    def usable(self, kind: Kind, field: Field) -> Bools:
        """As that of the whole view."""
        return _usable(self, kind, field)

    def of_others(self, wearers: Wearers) -> PartOfView:
        """As that of the whole view."""
        return _of_others(self, wearers)


_AnyView = TypeVar("_AnyView", View, PartOfView)


def _of_others(view: _AnyView, wearers: Wearers) -> _AnyView:
    found = copy(view)
    found.scene = replace(view.scene, wearers=wearers)
    found.wearers = wearers.spread(view.scene.point_wearer)
    return found


def _usable(view: View | PartOfView, kind: Kind, field: Field) -> Bools:
    usable: Bools = view.within if field.usable is None else view.within & field.usable
    if kind.is_lens and np.any(view.scene.wearers.vertical_difference_d > 0.0):
        found = imbalance_pd(view.points, view.wearers, kind)
        usable = usable & (found <= most_imbalance_pd(view.band, view.wearers) + _ROUNDING)
    return usable


def imbalance_pd(points: Points, wearers: Wearers, kind: Kind) -> Floats:
    """Vertical imbalance at lens points, (points, postures); the wearers are spread over them."""
    reference = kind.prism_reference_drop_mm(stop_mm=wearers.stop_mm, tilt_deg=wearers.tilt_deg)
    return vertical_imbalance_pd(
        power_difference_d=wearers.vertical_difference_d,
        height_from_reference_mm=points.y_mm + reference,
    )


def window_samples(judgements: Judgements) -> int:
    """How many scanned postures in a row a usual window takes."""
    return round(judgements.window_deg / judgements.scan_step_deg) + 1


def own_window_samples(wearers: Wearers, *, judgements: Judgements) -> Indices:
    """As `window_samples`, for the window of each wearer: (wearers,)."""
    steps = wearers.window_factor * judgements.window_deg / judgements.scan_step_deg
    return np.rint(steps).astype(np.intp) + 1


def blur_of(
    field: Field, *, free_d: Floats, demand_d: Floats, accommodation_d: Floats, weight: Floats
) -> Floats:
    """Blur at every posture with a free power; all (points, 1) against the field.

    weight: see `Wearers.astigmatism_weight`.
    """
    power = field.power_d(free_d)
    defocus = defocus_d(demand_d=demand_d, usable_d=accommodation_d, added_power_d=power)
    return blur_d(defocus_d=defocus, astigmatism_d=field.astigmatism_d, weight=weight)


def band_chin_ups_deg(scene: Scene, *, band: Band, judgements: Judgements) -> Floats:
    """As few chin-up angles as a band needs."""
    low, high = band.chin_up_deg
    if band.far_within_deg is not None and np.any(scene.is_far):
        far = scene.is_far[scene.point_target]
        free, within = scene.free_chin_up_deg[far], far_within_deg(band, scene.wearers).max()
        low = min(low, float(free.min() - within))
        high = max(high, float(free.max() + within))
    return chin_ups_deg(low=low, high=high, judgements=judgements)


def gaze_for_all(scene: Scene, *, judgements: Judgements) -> Gaze:
    """The gaze at the chin-up angles of every grade."""
    angles = [
        band_chin_ups_deg(scene, band=band(judgements), judgements=judgements)
        for band in (comfortable, awkward)
    ]
    low, high = (pick(pick(one) for one in angles) for pick in (min, max))
    chin_up = chin_ups_deg(low=low, high=high, judgements=judgements)
    return Gaze(scene, chin_up_deg=chin_up, pivot_mm=comfortable(judgements).pivot_mm)


def view_for_windows(
    scene: Scene,
    *,
    band: Band,
    through_lens: bool,
    judgements: Judgements,
    gaze: Gaze | None = None,
) -> View:
    """The view a grade is judged on. gaze: that of all grades, where it is known."""
    chin_up = band_chin_ups_deg(scene, band=band, judgements=judgements)
    return View(
        scene,
        chin_up_deg=chin_up,
        band=band,
        through_lens=through_lens,
        gaze=None if gaze is None else gaze.within(chin_up),
    )


def _less_angle(tangent: Floats, other: Floats) -> Floats:
    """Tangent of an angle less another, by theirs, not below 0."""
    rest: Floats = np.maximum((tangent - other) / (1.0 + tangent * other), 0.0)
    return rest
