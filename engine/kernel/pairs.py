"""Keep of a view only the pairs of a point and a posture that a window can take.

They stand one after another: point by point, and the postures of a point in their order. A window
is then a run of neighbours, and what no window can take is never looked at.
"""

from __future__ import annotations

from copy import copy
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.case.scene import when_asked
from engine.kernel.posture import most_imbalance_pd
from engine.lenses.families import Points

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from engine.case.scene import Wearers
    from engine.kernel.posture import View
    from engine.lenses.kinds import Kind
    from engine.lenses.surfaces import Surface, TablePlace

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_ROUNDING = 1e-9


class Rows:
    """Runs of pairs, one for each of some points, as they lie one behind another.

    Attributes:
        count: (rows,) how many pairs each has, 1 or more.
        samples: (rows,) how many in a row a window takes, ascending.
        begins: (pairs,) a window may begin there: so many postures in a row follow.
    """

    def __init__(self, *, count: Indices, samples: Indices, begins: Bools) -> None:
        self.count, self.samples, self.begins = count, samples, begins
        self._first = np.cumsum(count) - count
        self._alike = _alike(samples, self._first, len(begins))

    @classmethod
    def of_postures(cls, posture: Indices, *, count: Indices, samples: Indices) -> Rows:
        """Return rows of numbers of postures, (pairs,), ascending in each; windows have no gaps."""
        found = cls(count=count, samples=samples, begins=np.zeros(len(posture), dtype=bool))
        apart = int(posture.max(initial=0)) + 2
        at = posture + found.spread(apart * np.arange(len(count)))
        for taken, pairs in found._alike:
            last = at[pairs][taken - 1 :]
            found.begins[pairs][: len(last)] = last - at[pairs][: len(last)] == taken - 1
        return found

    def take(self, which: Indices) -> tuple[Rows, Indices]:
        """Return some of the rows, in their order, and which pairs they have."""
        count = self.count[which]
        later = self._first[which] - (np.cumsum(count) - count)
        pairs = np.arange(count.sum()) + np.repeat(later, count)
        begins = self.begins.take(pairs)
        return Rows(count=count, samples=self.samples[which], begins=begins), pairs

    def spread(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return what holds for each row, (rows,) or (rows, 1), for each of its pairs."""
        spread = np.repeat(values.reshape(-1), self.count)
        return spread if values.ndim == 1 else spread[:, None]

    def first(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return what holds at the first pair of each row, (rows, 1); one value stays itself."""
        return values if len(values) == 1 else values.take(self._first, axis=0)

    def sum(self, values: Bools) -> Indices:
        """Count the pairs of each row for which it holds, (rows,); values: (pairs,)."""
        until = np.concatenate([[0], np.cumsum(values)])
        found: Indices = np.diff(until[[*self._first, len(values)]])
        return found

    def any_window(self, works: NDArray[Any]) -> NDArray[Any]:
        """Find which bits stay set throughout some window, (rows,); works: (pairs,) unsigned."""
        if not len(self.count):
            return works[:0]
        wide, width = works, 1
        windows = np.zeros_like(works)
        for taken, pairs in self._alike:
            while 2 * width <= taken:
                wide = wide[:-width] & wide[width:]
                width *= 2
            found = windows[pairs][: max(pairs.stop - pairs.start - taken + 1, 0)]
            late = pairs.start + taken - width
            found[:] = wide[pairs.start :][: len(found)] & wide[late : late + len(found)]
        windows *= self.begins
        return np.bitwise_or.reduceat(windows, self._first)


def _alike(samples: Indices, first: Indices, count: int) -> list[tuple[int, slice]]:
    """Return how many postures windows take, fewest first, each with its slice of the pairs."""
    if not len(samples):
        return []
    starts = [0, *(np.flatnonzero(np.diff(samples)) + 1).tolist()]
    ends = [*first[starts].tolist(), count]
    return [(int(samples[row]), slice(ends[at], ends[at + 1])) for at, row in enumerate(starts)]


class Pairs:
    """The pairs of a view that a window can take.

    Attributes:
        point: (rows,) the point of each row; some window may be clear for each.
        points: their lens points, (pairs, 1), worked out when first asked for.
        wearers: spread over the pairs, (pairs, 1) each.
    """

    def __init__(
        self,
        view: View,
        *,
        point: Indices,
        posture: Indices,
        rows: Rows,
        wearers: Wearers,
        part_of: tuple[Pairs, Indices] | None = None,
    ) -> None:
        """Hold pairs of a view.

        posture: (pairs,) its number. wearers: spread over the points of the view.
        part_of: pairs of which these are some, and their place there.
        """
        self.point, self.rows = point, rows
        self._view, self._posture, self._of_points = view, posture, wearers
        self.wearers = when_asked(wearers, self.spread)
        self.points = _LatePoints(self._points)
        self._part_of = part_of
        self._balanced: dict[str, Bools] = {}

    @classmethod
    def of(cls, view: View, *, samples: Indices) -> Pairs:
        """Return the pairs of a view. samples: (wearers,) postures in a row that a window takes."""
        taken, scene = samples[view.scene.point_wearer], view.scene
        may = view.nearly_within()
        may &= scene.legible[scene.point_target][:, None]
        point = np.flatnonzero(may.sum(axis=1) >= taken)
        point = point[np.argsort(taken[point], kind="stable")]
        count, posture = _postures(may[point])
        rows = Rows.of_postures(posture, count=count, samples=taken[point])
        found = cls(view, point=point, posture=posture, rows=rows, wearers=view.wearers)
        if view.may_pass_sides():
            beside = view.beside(found.points.x_mm, found.spread)[:, 0]
            count = rows.sum(beside)
            point, kept = point[count > 0], np.flatnonzero(beside)
            rows = Rows.of_postures(posture[kept], count=count[count > 0], samples=taken[point])
            found = cls(
                view,
                point=point,
                posture=posture[kept],
                rows=rows,
                wearers=view.wearers,
                part_of=(found, kept),
            )
        wide = rows.sum(rows.begins) > 0
        return found if np.all(wide) else found.take(np.flatnonzero(wide))

    def take(self, which: Indices) -> Pairs:
        """Return the pairs of some of the rows, in their order."""
        rows, pairs = self.rows.take(which)
        return Pairs(
            self._view,
            point=self.point[which],
            posture=self._posture.take(pairs),
            rows=rows,
            wearers=self._of_points,
            part_of=(self, pairs),
        )

    def of_others(self, wearers: Wearers) -> Pairs:
        """Return the same of wearers who differ in add and in what they focus, in nothing else."""
        found = copy(self)
        found._of_points = wearers.spread(self._view.scene.point_wearer)
        found.wearers = when_asked(found._of_points, found.spread)
        return found

    def spread(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return what holds for each point of the view, (points, 1), for each of the pairs."""
        return self.rows.spread(values[self.point])

    def balanced(self, kind: Kind) -> Bools | None:
        """Tell whether each has not too much imbalance, (pairs, 1); None where none can have it."""
        if not (kind.is_lens and np.any(self._view.wearers.vertical_difference_d > 0.0)):
            return None
        if kind.id not in self._balanced:
            found = self._view.imbalance_at(self.points, kind, self.spread)
            most_pd = self.spread(most_imbalance_pd(self._view.band, self._view.wearers))
            self._balanced[kind.id] = found <= most_pd + _ROUNDING
        return self._balanced[kind.id]

    def _points(self) -> Points:
        """Work out the lens points: some of those of the pairs it is part of, where known."""
        if self._part_of is not None and self._part_of[0].points.are_known:
            whole, which = self._part_of
            return whole.points.at(which)
        of_pair = self.rows.spread(self.point)
        gaze = self._view.gaze_at(self._posture, of_pair, self.spread)
        return self._view.points_at(*gaze, self.spread)


class _LatePoints(Points):
    """Lens points that are worked out when first asked for."""

    def __init__(self, make: Callable[[], Points]) -> None:
        self._make = make

    @cached_property
    def _made_points(self) -> Points:
        return self._make()

    @property
    def are_known(self) -> bool:
        """Whether they have been asked for."""
        return "_made_points" in vars(self)

    @property
    def x_mm(self) -> Floats:  # type: ignore[override]
        return self._made_points.x_mm

    @property
    def y_mm(self) -> Floats:  # type: ignore[override]
        return self._made_points.y_mm

    @property
    def widest_mm(self) -> float:
        return self._made_points.widest_mm

    @property
    def place(self) -> TablePlace:
        return self._made_points.place

    def on(self, surface: Surface) -> tuple[Floats, ...]:
        return self._made_points.on(surface)

    def at(self, points: Indices) -> Points:
        return self._made_points.at(points)


def _postures(may: Bools) -> tuple[Indices, Indices]:
    """Count the postures each row may take, (rows,), and return their numbers, row by row."""
    count = may.sum(axis=1)
    at = np.flatnonzero(np.ascontiguousarray(may))
    return count, at - np.repeat(may.shape[1] * np.arange(len(may)), count)
