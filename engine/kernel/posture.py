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
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.lenses.families import Points, side_by_side
from engine.optics.accommodation import blur_d, defocus_d
from engine.optics.spectacles import (
    gaze_tangent,
    lens_point_mm,
    tangent_of_drop,
    vertical_imbalance_pd,
)
from engine.optics.workstation import eye_shift_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from engine.case.scene import Scene, Wearers
    from engine.lenses.families import Field
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]
    Spread = Callable[[NDArray[Any]], NDArray[Any]]


_ROUNDING = 1e-9


class Gaze:
    """Where every point of a scene is seen at some chin-up angles, whatever the lens and the grade.

    Attributes:
        chin_up_deg: (1, postures) or (points, postures).
        tangent: (points, postures) tangent of gaze_down.
        forward_mm: (points, postures) of the eye as the head then stands.
        aside_mm: (points, 1) to either side.
        in_front: of the eye at all.
    """

    def __init__(self, scene: Scene, *, chin_up_deg: Floats, pivot_mm: tuple[float, float]) -> None:
        """Turn the head. chin_up_deg: as the wearer's own head zero reads it.

        pivot_mm: how far the eye is ahead of and above the point the head turns about.
        """
        self.chin_up_deg = np.atleast_2d(chin_up_deg)
        eye_forward_mm, eye_up_mm, tangent = _turned_for(scene, self.chin_up_deg, pivot_mm)
        self.aside_mm = np.abs(scene.right_mm)[:, None]
        self.forward_mm = np.subtract(scene.forward_mm[:, None], eye_forward_mm, order="F")
        level = self.forward_mm * self.forward_mm
        level += self.aside_mm**2
        below = np.subtract(eye_up_mm, scene.up_mm[:, None], order="F")
        below /= np.sqrt(level, out=level)
        self.tangent, self.in_front = _add_angle(below, tangent)
        self.in_front &= self.forward_mm > 0.0

    @cached_property
    def sideways(self) -> Floats:
        """Tangent of the azimuth with the head straight, (points, postures)."""
        sideways: Floats = self.aside_mm / self.forward_mm
        return sideways

    def within(self, chin_up_deg: Floats) -> Gaze:
        """Return the part at some neighbouring chin-up angles of those scanned for all points."""
        first = int(np.argmin(np.abs(self.chin_up_deg[0] - chin_up_deg[0])))
        which = slice(first, first + len(chin_up_deg))
        part: Gaze = object.__new__(Gaze)
        part.chin_up_deg, part.aside_mm = self.chin_up_deg[:, which], self.aside_mm
        part.tangent, part.in_front = self.tangent[:, which], self.in_front[:, which]
        part.forward_mm = self.forward_mm[:, which]
        return part


def turned_head(
    wearers: Wearers, *, chin_up_deg: Floats, pivot_mm: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """Return what turning the head does: how far the eye moves ahead and up, the chin-up's tangent.

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
    """Return what `turned_head` does, for every point: (1 or points, postures)."""
    wearers, of_point = scene.wearers, scene.point_wearer
    if len(chin_up_deg) > 1:
        wearers, of_point = wearers.take(of_point), np.arange(len(of_point))
    turned = turned_head(wearers, chin_up_deg=chin_up_deg, pivot_mm=pivot_mm)
    if len(turned[0]) == 1:
        return turned
    return tuple(side_by_side(one, of_point) for one in turned)


def _add_angle(tangent: Floats, other: Floats) -> tuple[Floats, Bools]:
    """Return the tangent of a sum of two angles, and whether the sum is below a right angle."""
    below_one = 1.0 - tangent * other
    in_front = below_one > _ROUNDING
    if not np.all(in_front):
        below_one[~in_front] = 1.0
    found = tangent + other
    found /= below_one
    return found, in_front


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
    """Return the limits of the comfortable grade."""
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
    """Return the limits of sharp or usable with effort: the awkward and the blurred grade."""
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
    """Return the limits of what is printed beside a grade: any chin-up, eyes within reach."""
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
    """Return the scanned chin-up angles from low to high, on the grid of the scan."""
    step, start = judgements.scan_step_deg, judgements.scan_chin_up_min_deg
    first, last = (
        np.ceil((low - start) / step - _ROUNDING),
        np.floor((high - start) / step + _ROUNDING),
    )
    stop = (judgements.scan_chin_up_max_deg - start) / step
    return start + step * np.arange(max(first, 0.0), min(last, stop) + 1)


def sideways_limits(band: Band, wearers: Wearers) -> tuple[Floats, Floats]:
    """Return the tangents of how far the head turns and the eye may, of each wearer given."""
    head_deg = band.head_turn_deg + band.is_own * wearers.head_turn_more_deg
    eye_deg = band.eye_sideways_deg + band.is_own * wearers.eye_sideways_more_deg
    return np.tan(np.radians(head_deg)), np.tan(np.radians(eye_deg)) + _ROUNDING


def gaze_limits(band: Band, wearers: Wearers, *, is_far: Bools) -> tuple[Floats, Floats]:
    """Return the tangents of the lowest and the highest gaze down, of the wearer of each point.

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
    """Return how far from the free posture a far target is judged, of each wearer given."""
    usual = np.inf if band.far_within_deg is None else band.far_within_deg
    return usual + band.is_own * wearers.far_within_more_deg


def most_imbalance_pd(band: Band, wearers: Wearers) -> Floats:
    """Return the most vertical imbalance, of each wearer given."""
    return band.imbalance_pd + band.is_own * wearers.imbalance_more_pd


class View:
    """The gaze of every point of a scene in the band of a grade, through a lens or bare.

    What is asked of it is worked out when it is first asked for.

    Attributes:
        tangent: (points, postures) tangent of gaze_down.
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
        """Hold the points of a scene against postures.

        chin_up_deg: (postures,) or (points, postures), as the wearer's own head zero reads it.

        eye_azimuth_deg: (points,) sets the sideways turn of the eye instead of leaving it what
        the head turn leaves. gaze: at these angles, where it is known already.
        """
        self._gaze = gaze or Gaze(scene, chin_up_deg=chin_up_deg, pivot_mm=band.pivot_mm)
        self.scene, self.band, self._through_lens = scene, band, through_lens
        self._eye_azimuth_deg = eye_azimuth_deg
        self.chin_up_deg, self.tangent = self._gaze.chin_up_deg, self._gaze.tangent
        self.wearers = scene.wearers.spread(scene.point_wearer)

    @cached_property
    def gaze_down_deg(self) -> Floats:
        """Gaze in the head before the bend by the lens, (points, postures)."""
        return np.degrees(np.arctan(self.tangent))

    @cached_property
    def allowed(self) -> Bools:
        """Inside the band, (points, postures)."""
        return self._between(*self._gaze_limits)

    @cached_property
    def in_frame(self) -> Bools:
        """On the lens, (points, postures)."""
        low, high = self._frame_limits
        in_frame: Bools = (self.tangent >= low) & (self.tangent <= high)
        return in_frame & self.beside(self.points.x_mm, _as_they_are)

    @cached_property
    def within(self) -> Bools:
        """Inside the band and on the lens."""
        inside: Bools = self.allowed & self.in_frame
        return inside

    def nearly_within(self) -> Bools:
        """Tell what is inside the band and on the lens but for its sides, without lens points."""
        (low, high), (lowest, highest) = self._gaze_limits, self._frame_limits
        return self._between(np.maximum(low, lowest), np.minimum(high, highest))

    def may_pass_sides(self) -> bool:
        """Tell whether any gaze inside the band might pass the lens by its sides."""
        if not self._through_lens:
            return False
        wearers, tilt = self.wearers, np.radians(self.wearers.tilt_deg)
        low, _ = gaze_limits(self.band, wearers, is_far=self._is_far)
        _, reach = sideways_limits(self.band, wearers)
        x, _ = lens_point_mm(
            azimuth_tangent=reach,
            gaze_tangent=low,
            stop_mm=wearers.stop_mm,
            upright=np.cos(tilt),
            leaning=np.sin(tilt),
        )
        return not np.all((x >= 0.0) & (x < wearers.half_width_mm))

    def beside(self, x_mm: Floats, spread: Spread) -> Bools:
        """Tell whether lens points lie within the sides of the lens; spread: see `points_at`."""
        if not self._through_lens:
            return np.ones(x_mm.shape, dtype=bool)
        inside: Bools = x_mm <= spread(self.wearers.half_width_mm + _ROUNDING)
        return inside

    @cached_property
    def points(self) -> Points:
        """The lens points, for Family.field."""
        return self.points_at(self.tangent, self._gaze.sideways, _as_they_are)

    def points_at(self, tangent: Floats, sideways: Floats, spread: Spread) -> Points:
        """Return the lens points of some of the gaze.

        spread: puts what holds for each point, (points, 1), beside the tangents given.
        """
        wearers, tilt = self.wearers, np.radians(self.wearers.tilt_deg)
        x, drop = lens_point_mm(
            azimuth_tangent=self._eye_azimuth(sideways, spread),
            gaze_tangent=tangent * spread(self._bend),
            stop_mm=spread(wearers.stop_mm),
            upright=spread(np.cos(tilt)),
            leaning=spread(np.sin(tilt)),
        )
        return Points(
            x_mm=x,
            y_mm=spread(wearers.lens_down_mm) - drop,
            made=spread(wearers.made),
            down_mm=spread(wearers.profile_down_mm),
        )

    def gaze_at(self, posture: Indices, point: Indices, spread: Spread) -> tuple[Floats, Floats]:
        """Return the tangents of gaze_down and azimuth of some pairs, (pairs, 1) each.

        posture, point: (pairs,) numbers of both. spread: see `points_at`.
        """
        at = posture * len(self.tangent) + point
        tangent, forward = (
            one.T.reshape(-1).take(at)[:, None] for one in (self.tangent, self._gaze.forward_mm)
        )
        return tangent, spread(self._gaze.aside_mm) / forward

    @cached_property
    def _bend(self) -> Floats:
        """How much longer the tangent is after the bend by the wearer's own power, (points, 1)."""
        wearers, scene = self.wearers, self.scene
        reach = np.sqrt(scene.forward_mm**2 + scene.right_mm**2 + scene.up_mm**2)[:, None]
        return gaze_tangent(
            direction_tangent=1.0,
            distance_mm=reach - wearers.stop_mm,
            stop_mm=wearers.stop_mm,
            vertical_power_d=wearers.vertical_power_d if self._through_lens else 0.0,
        )

    @cached_property
    def _is_far(self) -> Bools:
        return self.scene.is_far[self.scene.point_target][:, None]

    @cached_property
    def _gaze_limits(self) -> tuple[Floats, Floats]:
        """Least and most tangent inside the band, before the bend: (points, 1) each.

        The limits of gaze hold for what the eye really turns, so after the bend.
        """
        low, high = gaze_limits(self.band, self.wearers, is_far=self._is_far)
        return low / self._bend, high / self._bend

    @cached_property
    def _frame_limits(self) -> tuple[Floats, Floats]:
        """Least and most tangent inside the frame, before the bend: (points, 1) each."""
        wearers = self.wearers
        if not self._through_lens:
            none = np.full_like(wearers.stop_mm, np.inf)
            return -none, none
        low, high = (
            tangent_of_drop(
                drop_mm=wearers.lens_down_mm - one,
                stop_mm=wearers.stop_mm,
                pantoscopic_deg=wearers.tilt_deg,
            )
            for one in (wearers.highest_mm + _ROUNDING, wearers.lowest_mm - _ROUNDING)
        )
        return low / self._bend, high / self._bend

    def _between(self, low: Floats, high: Floats) -> Bools:
        """Tell where the gaze is in the band and its tangent between two, (points, 1) each."""
        head_turn, reach = sideways_limits(self.band, self.wearers)
        if self.band.most_head_turn_deg is not None:
            head_turn = np.tan(np.radians(self.band.most_head_turn_deg))
        inside: Bools = self.tangent >= low
        inside &= self.tangent <= high
        inside &= self._gaze.aside_mm <= _sum_of_angles(head_turn, reach) * self._gaze.forward_mm
        inside &= self._gaze.in_front
        inside &= self._chin_up_in_range()
        return inside

    def _chin_up_in_range(self) -> Bools:
        """Tell which chin-ups the band allows, (points or 1, postures)."""
        least, most = self.band.chin_up_deg
        chin = self.chin_up_deg
        in_range: Bools = (chin >= least - _ROUNDING) & (chin <= most + _ROUNDING)
        if self.band.far_within_deg is not None and np.any(self._is_far):
            free = self.scene.free_chin_up_deg[:, None]
            near_free = np.abs(chin - free) <= far_within_deg(self.band, self.wearers) + _ROUNDING
            in_range = np.where(self._is_far, near_free, in_range)
        return in_range

    def _eye_azimuth(self, sideways: Floats, spread: Spread) -> Floats:
        """Return the tangent of the azimuth left to the eye, by that with the head straight."""
        band, wearers = self.band, self.wearers
        if self._eye_azimuth_deg is not None:
            return spread(np.tan(np.radians(self._eye_azimuth_deg))[:, None])
        head_turn, reach = (spread(one) for one in sideways_limits(band, wearers))
        left_over = _less_angle(sideways, head_turn)
        if band.most_head_turn_deg is not None:
            left_over = np.minimum(left_over, reach)
        if band.is_own and np.any(self.scene.wearers.eyes_first):
            by_eye = np.tan(spread(wearers.eyes_first) * np.arctan(sideways))
            left_over = np.maximum(left_over, np.minimum(by_eye, reach))
        return left_over

    def of_others(self, wearers: Wearers) -> View:
        """Return the view of wearers who differ in add and in what they focus, in nothing else."""
        _ = self.points, self.within  # worked out once for all
        found = copy(self)
        found.scene = replace(self.scene, wearers=wearers)
        found.wearers = wearers.spread(self.scene.point_wearer)
        return found

    def usable(self, kind: Kind, field: Field) -> Bools:
        """Tell which postures are in the band, on the lens, off its lines, not too unbalanced."""
        usable: Bools = self.within if field.usable is None else self.within & field.usable
        if kind.is_lens and np.any(self.scene.wearers.vertical_difference_d > 0.0):
            most_pd = most_imbalance_pd(self.band, self.wearers)
            usable = usable & (self.imbalance_pd(kind) <= most_pd + _ROUNDING)
        return usable

    def imbalance_pd(self, kind: Kind) -> Floats:
        """Return the vertical imbalance at the lens points, (points, postures)."""
        return self.imbalance_at(self.points, kind, _as_they_are)

    def imbalance_at(self, points: Points, kind: Kind, spread: Spread) -> Floats:
        """Return the vertical imbalance at some of the lens points; spread: see `points_at`."""
        wearers = self.wearers
        reference = kind.prism_reference_drop_mm(stop_mm=wearers.stop_mm, tilt_deg=wearers.tilt_deg)
        return vertical_imbalance_pd(
            power_difference_d=spread(wearers.vertical_difference_d),
            height_from_reference_mm=points.y_mm + spread(reference),
        )


def _as_they_are(values: NDArray[Any]) -> NDArray[Any]:
    """Return what holds for each point as it stands beside all postures; see `View.points_at`."""
    return values


def window_samples(judgements: Judgements) -> int:
    """Return how many scanned postures in a row a usual window takes."""
    return round(judgements.window_deg / judgements.scan_step_deg) + 1


def own_window_samples(wearers: Wearers, *, judgements: Judgements) -> Indices:
    """Return the same as `window_samples` for the window of each wearer: (wearers,)."""
    steps = wearers.window_factor * judgements.window_deg / judgements.scan_step_deg
    return np.rint(steps).astype(np.intp) + 1


def blur_of(
    field: Field,
    *,
    free_d: Floats | float,
    demand_d: Floats,
    accommodation_d: Floats,
    weight: Floats,
) -> Floats:
    """Return the blur at every posture with a free power, (points, postures).

    All else is (points, 1) against the field. weight: see `Wearers.astigmatism_weight`.
    """
    power = field.power_d(free_d)
    defocus = defocus_d(demand_d=demand_d, usable_d=accommodation_d, added_power_d=power)
    return blur_d(defocus_d=defocus, astigmatism_d=field.astigmatism_d, weight=weight)


def band_chin_ups_deg(scene: Scene, *, band: Band, judgements: Judgements) -> Floats:
    """Return as few chin-up angles as a band needs."""
    low, high = band.chin_up_deg
    if band.far_within_deg is not None and np.any(scene.is_far):
        far = scene.is_far[scene.point_target]
        free, within = scene.free_chin_up_deg[far], far_within_deg(band, scene.wearers).max()
        low = min(low, float(free.min() - within))
        high = max(high, float(free.max() + within))
    return chin_ups_deg(low=low, high=high, judgements=judgements)


def gaze_for_all(scene: Scene, *, judgements: Judgements) -> Gaze:
    """Return the gaze at the chin-up angles of every grade."""
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
    """Return the view a grade is judged on. gaze: that of all grades, where it is known."""
    chin_up = band_chin_ups_deg(scene, band=band, judgements=judgements)
    return View(
        scene,
        chin_up_deg=chin_up,
        band=band,
        through_lens=through_lens,
        gaze=None if gaze is None else gaze.within(chin_up),
    )


def _sum_of_angles(tangent: Floats | float, other: Floats) -> Floats:
    """Return the tangent of a sum of two angles from 0 on; infinite from a right angle on."""
    below_one = 1.0 - tangent * other
    is_less = below_one > 0.0
    return np.where(is_less, (tangent + other) / np.where(is_less, below_one, 1.0), np.inf)


def _less_angle(tangent: Floats, other: Floats) -> Floats:
    """Return the tangent of an angle less another, by theirs, not below 0."""
    above_one = tangent * other
    above_one += 1.0
    rest = tangent - other
    rest /= above_one
    return np.maximum(rest, 0.0, out=rest)
