"""What is printed beside a grade: where on the lens a target is seen, and at what chin-up.

For one design over the scene of one case. Nothing here enters the hours. A posture printed is the
middle of a window, as a grade asks for one: at the edge of a window the last half degree before
blur would be described, and nobody lives there.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from engine.case.results import ClearRange, OptionTarget, RowResult, Scales
from engine.kernel.posture import (
    View,
    any_posture,
    blur_of,
    chin_ups_deg,
    window_samples,
)
from engine.optics.accommodation import clear_range_cm
from engine.optics.workstation import iso11226_head, rula_neck
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.scene import Scene, Wearers
    from engine.kernel.search import Shares
    from engine.lenses.families import Field
    from engine.lenses.lens import Lens
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

ROWS = ("top", "centre", "bottom")
_SIDEWAYS_STEP_DEG = 0.5
_ROUNDING = 1e-9


def window_middles(works: Bools, *, chin_up_deg: Floats, free_deg: Floats, samples: int) -> Indices:
    """Return the posture told of each point: the middle of the window nearest to the free one.

    That is the free posture itself where half a window on either side of it works. Where no run
    of postures is as wide as a window, it is the posture nearest to the free one that works.

    Parameters
        works: (points, postures). chin_up_deg: (postures,). free_deg: (points,).
        samples: how many postures in a row a window takes.

    Returns (points,) indices of postures; -1 where none works.

    >>> works = np.array([[False, True, True, True, True, False]])
    >>> chin_up = np.arange(6.0)
    >>> window_middles(works, chin_up_deg=chin_up, free_deg=np.zeros(1), samples=3).tolist()
    [2]
    """
    wide = runs(works, samples)
    middles = np.zeros_like(works)
    middles[:, samples // 2 : samples // 2 + wide.shape[1]] = wide
    possible = np.where(middles.any(axis=1, keepdims=True), middles, works)
    away = np.where(possible, np.abs(chin_up_deg - free_deg[:, None]), np.inf)
    return np.where(possible.any(axis=1), np.argmin(away, axis=1), -1)


def runs(works: Bools, samples: int) -> Bools:
    """Tell at which posture so many in a row that work begin, (points, postures - samples + 1)."""
    width = 1
    while width < samples:
        step = min(width, samples - width)
        works = works[:, :-step] & works[:, step:]
        width += step
    return works


class Closeup:
    """The scene of one case at every scanned chin-up; made once, used for every design."""

    def __init__(self, scene: Scene, names: tuple[str, ...], judgements: Judgements) -> None:
        """Take the names of the targets, in order."""
        self.scene, self.names, self.judgements = scene, names, judgements
        low, high = judgements.scan_chin_up_min_deg, judgements.scan_chin_up_max_deg
        self._chin_up_deg = chin_ups_deg(low=low, high=high, judgements=judgements)
        self._views: dict[tuple[str, bool], View] = {}
        last = int(scene.row.max(initial=0))
        self._row_numbers = dict(zip((0, last // 2, last), ROWS, strict=False))

    def view(self, through_lens: bool) -> View:
        """Return every point at every scanned chin-up."""
        return self._view("scan", self._chin_up_deg, through_lens)

    def free_view(self, through_lens: bool) -> View:
        """Return every point at its own free posture."""
        return self._view("free", self.free_chin_up_deg[:, None], through_lens)

    def _view(self, name: str, chin_up_deg: Floats, through_lens: bool) -> View:
        """Return a view at some chin-ups, made once."""
        key = name, through_lens
        if key not in self._views:
            self._views[key] = View(
                self.scene,
                chin_up_deg=chin_up_deg,
                band=any_posture(self.judgements),
                through_lens=through_lens,
            )
        return self._views[key]

    def targets(self, lens: Lens, shares: Shares) -> tuple[OptionTarget, ...]:
        """Return the targets through one design, with the shares the search found."""
        through = _Through(self, lens)
        return tuple(
            through.target(index, name=name, shares=shares) for index, name in enumerate(self.names)
        )

    @cached_property
    def free_chin_up_deg(self) -> Floats:
        """Chin-up of the free posture for each point, (points,)."""
        return self.scene.free_chin_up_deg

    @cached_property
    def printed(self) -> Indices:
        """The points that are printed, of all targets."""
        return np.array([point for each in self.rows for _, point in each], dtype=np.intp)

    @cached_property
    def rows(self) -> list[list[tuple[str, int]]]:
        """Of each target the names of its printed rows, with the point of each."""
        return [self._rows_of(target) for target in range(len(self.names))]

    @cached_property
    def centres(self) -> list[int]:
        """The point in the middle of each target."""
        return [next(point for row, point in each if row == "centre") for each in self.rows]

    def _rows_of(self, target: int) -> list[tuple[str, int]]:
        """Return row names of a target and the point in the middle column of each."""
        scene = self.scene
        points = np.flatnonzero((scene.point_target == target) & scene.middle)
        if scene.row[points[0]] < 0:
            return [("centre", int(points[0]))]
        return [
            (self._row_numbers[int(scene.row[point])], int(point))
            for point in points
            if int(scene.row[point]) in self._row_numbers
        ]


class _Through:
    """One design over a closeup."""

    def __init__(self, closeup: Closeup, lens: Lens) -> None:
        self.closeup, self.lens, self.scene = closeup, lens, closeup.scene
        self.view = closeup.view(lens.kind.is_lens)
        self.wearers = self.view.wearers
        self.field = lens.family.field(self.view.points, self.wearers)
        self.usable = self.view.usable(lens.kind, self.field)
        self.demand_d = self.scene.demand_d[:, None]
        self.limit_d = self.scene.limit_d[self.scene.point_target][:, None]

    @cached_property
    def clear(self) -> Bools:
        """Where points are clear with the eyes focusing at their best, (points, postures)."""
        blur_d = self._blur_d(self.field, self.wearers, self.demand_d)
        clear: Bools = self.usable & (blur_d <= self.limit_d + _ROUNDING)
        return clear

    @cached_property
    def relaxed(self) -> Bools:
        """Where the printed points are clear with the eyes at rest, (printed, postures)."""
        points, limit_d = self.closeup.printed, self.closeup.judgements.relaxed_blur_d + _ROUNDING
        blur = self._blur_d(
            self.field.at(points), self.wearers.take(points), self.demand_d[points], at_rest=True
        )
        relaxed: Bools = self.usable[points] & (blur <= limit_d)
        return relaxed

    def _blur_d(
        self, field: Field, wearers: Wearers, demand_d: Floats, *, at_rest: bool = False
    ) -> Floats:
        """Return blur at points: what the lens has there, and who looks at them (as columns)."""
        return blur_of(
            field,
            free_d=self.lens.free_d,
            demand_d=demand_d,
            accommodation_d=np.zeros_like(demand_d) if at_rest else wearers.usable_d,
            weight=wearers.astigmatism_weight,
        )

    @cached_property
    def _power_and_astigmatism_d(self) -> tuple[Floats, Floats]:
        """What the lens adds and its astigmatism, (points, postures) each."""
        shape, power_d = self.usable.shape, self.field.power_d(self.lens.free_d)
        return np.broadcast_to(power_d, shape), np.broadcast_to(self.field.astigmatism_d, shape)

    @cached_property
    def blur_at_free_d(self) -> Floats:
        """Blur in the free posture, nan off the lens or on a line, (points,)."""
        view = self.closeup.free_view(self.lens.kind.is_lens)
        found = self.lens.family.field(view.points, view.wearers)
        blur = self._blur_d(found, view.wearers, self.demand_d)
        usable = view.usable(self.lens.kind, found)
        return np.where(usable, blur, np.nan)[:, 0]

    @cached_property
    def _clear_at(self) -> dict[int, int]:
        """The scanned posture that is printed of each point where it is clear."""
        return self._printed(self.clear[self.closeup.printed])

    @cached_property
    def _relaxed_at(self) -> dict[int, int]:
        """The same where it is clear with the eyes at rest."""
        return self._printed(self.relaxed)

    def _printed(self, mask: Bools) -> dict[int, int]:
        """Choose the posture of each printed point, among those of a mask, where there is one."""
        points = self.closeup.printed
        middles = window_middles(
            mask,
            chin_up_deg=self.view.chin_up_deg[0],
            free_deg=self.closeup.free_chin_up_deg[points],
            samples=window_samples(self.closeup.judgements),
        )
        found = zip(points.tolist(), middles.tolist(), strict=True)
        return {point: at for point, at in found if at >= 0}

    def target(self, index: int, *, name: str, shares: Shares) -> OptionTarget:
        """Return one target; shares: of all of them, in each grade."""
        rows, centre = self.closeup.rows[index], self.closeup.centres[index]
        at = self._clear_at.get(centre)
        points = self.scene.point_target == index
        together = (self.clear[points] * self.scene.share[points][:, None]).sum(axis=0)
        eye_deg = self._clear_eye_turn_deg.get(centre)
        return OptionTarget(
            target=name,
            comfortable_share=float(shares.comfortable[index]),
            awkward_share=float(shares.awkward[index]),
            blurred_share=float(shares.blurred[index]),
            not_served_share=float(shares.not_served[index]),
            one_posture_share=float(together.max()),
            clear_width_cm=None if eye_deg is None else self._width_cm(centre, eye_deg),
            head_turn_deg=None if eye_deg is None else self._head_turn_deg(points, eye_deg),
            clear_range_cm=None if at is None else self._clear_range(centre, at),
            vertical_imbalance_pd=None if at is None else self._imbalance_pd(centre, at),
            scales=self._scales(at),
            rows=tuple(self._row(row, point) for row, point in rows),
        )

    def _row(self, name: str, point: int) -> RowResult:
        """Return one printed row of a target: its posture, and where it is on the lens."""
        at, relaxed = self._clear_at.get(point), self._relaxed_at.get(point)
        chin_up_deg, blur_d = self.view.chin_up_deg[0], self.blur_at_free_d[point]
        y_mm = self.view.points.y_mm
        return RowResult(
            row=name,
            chin_up_deg=None if at is None else float(chin_up_deg[at]),
            relaxed_chin_up_deg=None if relaxed is None else float(chin_up_deg[relaxed]),
            free_chin_up_deg=float(self.closeup.free_chin_up_deg[point]),
            gaze_down_deg=None if at is None else float(self.view.gaze_down_deg[point, at]),
            drop_mm=None if at is None or not self.lens.kind.is_lens else float(-y_mm[point, at]),
            blur_at_free_d=None if np.isnan(blur_d) else float(blur_d),
        )

    @cached_property
    def _clear_eye_turn_deg(self) -> dict[int, float]:
        """How far the eye can turn sideways before a clear centre blurs, to 30 deg, by point."""
        centres = [point for point in self.closeup.centres if point in self._clear_at]
        if not centres:
            return {}
        most = self.closeup.judgements.awkward_eye_sideways_deg
        turns = np.arange(0.0, most + _ROUNDING, _SIDEWAYS_STEP_DEG)
        points = np.repeat(centres, len(turns))
        at = np.repeat([self._clear_at[point] for point in centres], len(turns))
        view = View(
            self.scene.points_at(points),
            chin_up_deg=self.view.chin_up_deg[0][at][:, None],
            band=any_posture(self.closeup.judgements),
            through_lens=self.lens.kind.is_lens,
            eye_azimuth_deg=np.tile(turns, len(centres)),
        )
        found = self.lens.family.field(view.points, view.wearers)
        blur = self._blur_d(found, view.wearers, self.demand_d[points])
        clear = view.usable(self.lens.kind, found) & (blur <= self.limit_d[points] + _ROUNDING)
        return {
            point: float(turns[-1] if np.all(one) else turns[max(int(np.argmin(one)) - 1, 0)])
            for point, one in zip(centres, clear.reshape(len(centres), -1), strict=True)
        }

    def _width_cm(self, point: int, eye_deg: float) -> float:
        """Return how wide the clear part is at a point, to both sides of the eye together."""
        level = np.hypot(self.scene.forward_mm[point], self.scene.right_mm[point])
        return float(2.0 * level / MM_PER_CM * np.tan(np.radians(eye_deg)))

    def _head_turn_deg(self, points: Bools, eye_deg: float) -> float:
        """Return the least turn of the head that lets the eye reach the edges of a target."""
        sideways = np.arctan2(self.scene.right_mm[points], self.scene.forward_mm[points])
        return max(float(np.degrees(np.abs(sideways).max())) - eye_deg, 0.0)

    def _clear_range(self, point: int, at: int) -> ClearRange:
        """Return the clear distances through the lens where a point is seen in a posture."""
        target = self.scene.point_target[point]
        power_d, astigmatism_d = (one[point, at] for one in self._power_and_astigmatism_d)
        weighted = astigmatism_d * self.wearers.astigmatism_weight[point, 0]
        room = np.sqrt(max(float(self.limit_d[point, 0]) ** 2 - weighted**2, 0.0))
        chart_d = self.wearers.chart_d[point, 0] if self.scene.is_far[target] else 0.0
        near, far = clear_range_cm(
            added_power_d=power_d + chart_d,
            usable_d=self.wearers.usable_d[point, 0],
            tolerance_d=room,
        )
        return ClearRange(near=_finite(float(near)), far=_finite(float(far)))

    @cached_property
    def _imbalance(self) -> Floats:
        return self.view.imbalance_pd(self.lens.kind)

    def _imbalance_pd(self, point: int, at: int) -> float | None:
        return float(self._imbalance[point, at]) if self.lens.kind.is_lens else None

    def _scales(self, at: int | None) -> Scales:
        if at is None:
            return Scales(iso11226=None, rula=None)
        return _scales_of(-float(self.view.chin_up_deg[0, at]))


@lru_cache(maxsize=512)
def _scales_of(flexion_deg: float) -> Scales:
    """Return what posture scales call one of the scanned flexions."""
    return Scales(
        iso11226=str(iso11226_head(flexion_deg=flexion_deg)),
        rula=int(rula_neck(flexion_deg=flexion_deg)),
    )


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None
