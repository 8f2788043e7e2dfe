"""Hours of a case through lenses that are held: of each activity, in each draw.

The one place that turns what is seen of targets into hours of activities.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from engine.case.targets import look_hours
from engine.kernel.clearness import Columns
from engine.kernel.compiled import is_loaded
from engine.kernel.search import Shares, Views, comfortable_shares_of, shares_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case
    from engine.kernel.draws import Draws
    from engine.lenses.lens import Lens

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_ROWS_AT_ONCE, _COMPILED_ROWS_AT_ONCE = 128, 512
"""Draws side by side: their arrays then stay in the cache of a core.

The compiled search keeps no arrays of postures: it takes all draws of a case at once.
"""
LOW, HIGH = 10.0, 90.0
"""Percentiles beside a mean: eight times in ten between them."""


@dataclass(frozen=True)
class HoursHeld:
    """Hours of each activity through one lens.

    Attributes:
        comfortable_h: (draws, activities).
        awkward_h, blurred_h: (activities,) expected.
        as_measured_h: (3, activities) comfortable, awkward and blurred if nothing is off.
        comfortable_share: (draws, targets) of each target.
        measured: what becomes of each target if nothing is off.
    """

    comfortable_share: Floats
    comfortable_h: Floats
    awkward_h: Floats
    blurred_h: Floats
    as_measured_h: Floats
    measured: Shares

    @property
    def sharp_h(self) -> Floats:
        """Expected hours that are sharp, (activities,)."""
        found: Floats = self.comfortable_h.mean(axis=0) + self.awkward_h
        return found


def range_h(in_draws_h: Floats) -> tuple[float, float]:
    """Return the 10th and the 90th percentile of hours in each draw, (draws,)."""
    low, high = np.percentile(in_draws_h, [LOW, HIGH])
    return float(low), float(high)


class Desk:
    """The draws of one case, seen through one lens after another."""

    def __init__(self, draws: Draws) -> None:
        self.draws, self.case, self.judgements = draws, draws.case, draws.judgements

    @cached_property
    def measured(self) -> Views:
        """The case as it was measured."""
        return self._graded_views(slice(0, 1), in_thirds=False)

    @cached_property
    def first_cube(self) -> tuple[Views, ...]:
        """The draws of the first cube, on which designs are chosen, a part at a time."""
        parts = _parts(1, self.draws.first_cube.stop)
        return tuple(self._graded_views(rows) for rows in parts)

    @cached_property
    def all_draws(self) -> tuple[Views, ...]:
        """Every draw, a part at a time; the first cube first."""
        rest = _parts(self.draws.first_cube.stop, len(self.draws))
        others = (Views(self.draws.scene(rows, in_thirds=True), self.judgements) for rows in rest)
        return (*self.first_cube, *others)

    def _graded_views(self, rows: slice, *, in_thirds: bool = True) -> Views:
        """Return views of rows in which every grade will be asked for."""
        scene = self.draws.scene(rows, in_thirds=in_thirds)
        return Views(scene, self.judgements, every_grade=True)

    def hours_of(
        self, lenses: Sequence[tuple[Lens, bool]], *, comfortable: Sequence[Sequence[Bools]] = ()
    ) -> list[HoursHeld]:
        """Return hours of each activity through some lenses, each with whether it covers distance.

        comfortable: for each lens which points are, (points,) in each part of the first cube;
        empty where no search has told.
        """
        held = [lens for lens, _ in lenses]
        first = self._shares(held, self.first_cube, comfortable=comfortable)
        measured = self._shares(held, (self.measured,))
        rest = _comfortable_shares(held, self.all_draws[len(self.first_cube) :])
        return [
            self._hours(covers_distance, in_cube, others, as_measured)
            for (_, covers_distance), in_cube, others, as_measured in zip(
                lenses, first, rest, measured, strict=True
            )
        ]

    def _hours(
        self, covers_distance: bool, first: Shares, rest: Floats, measured: Shares
    ) -> HoursHeld:
        """Add up hours. first: in the first cube. rest: comfortable shares in the other draws."""
        share = np.concatenate([first.comfortable, rest]).reshape(-1, len(self.case.targets))
        comfortable_h = self._in_draws_h(share, covers_distance)
        in_cube = self._graded_h(first, slice(1, self.draws.first_cube.stop), covers_distance)
        lost_h = np.maximum(self.spent_h - comfortable_h.mean(axis=0), 0.0)
        lost_in_cube_h = np.maximum(self.spent_h - in_cube[0], 0.0)
        ratio = np.ones_like(lost_h)
        np.divide(lost_h, lost_in_cube_h, out=ratio, where=lost_in_cube_h > 0.0)
        awkward_h = np.minimum(in_cube[1] * ratio, lost_h)
        return HoursHeld(
            comfortable_share=share,
            comfortable_h=comfortable_h,
            awkward_h=awkward_h,
            blurred_h=np.minimum(in_cube[2] * ratio, lost_h - awkward_h),
            as_measured_h=self._graded_h(measured, slice(0, 1), covers_distance),
            measured=measured,
        )

    def comfortable_h(self, lens: Lens, *, covers_distance: bool) -> Floats:
        """Return the comfortable hours of each activity in each draw, (draws, activities)."""
        (share,) = _comfortable_shares([lens], self.all_draws)
        return self._in_draws_h(share.reshape(-1, len(self.case.targets)), covers_distance)

    def _in_draws_h(self, share: Floats, covers_distance: bool) -> Floats:
        """Return hours of each activity, (draws, activities), from shares, (draws, targets)."""
        looked_h = self.draws.activity_hours[1:]
        return activities_h(self.case, share, looked_h=looked_h, covers_distance=covers_distance)

    @cached_property
    def too_small_h(self) -> Floats:
        """Expected hours a day on detail too small for any lens, of each target, (targets,)."""
        number = len(self.case.targets)
        lost = [
            np.where(views.scene.legible, 0.0, views.scene.target_hours).reshape(-1, number)
            for views in self.all_draws
        ]
        found: Floats = np.concatenate(lost).mean(axis=0)
        return found

    def measured_shares(self, lens: Lens) -> Shares:
        """Return what becomes of each target if nothing is off."""
        (found,) = self._shares([lens], (self.measured,))
        return found

    @cached_property
    def spent_h(self) -> Floats:
        """Hours of each activity, (activities,)."""
        return np.array([activity.hours for activity in self.case.activities])

    def _graded_h(self, found: Shares, rows: slice, covers_distance: bool) -> Floats:
        """Return mean hours of each activity by grade, (3, activities), from shares in rows."""
        looked_h = self.draws.activity_hours[rows]
        return graded_h(self.case, found, looked_h=looked_h, covers_distance=covers_distance)

    def _shares(
        self,
        lenses: Sequence[Lens],
        parts: tuple[Views, ...],
        *,
        comfortable: Sequence[Sequence[Bools]] = (),
    ) -> list[Shares]:
        """Return the shares of each lens in parts of the draws; comfortable: see `hours_of`."""
        every = []
        for at, views in enumerate(parts):
            known = [one[at] if one else None for one in comfortable] or None
            every.append(shares_of(views, _columns(views, lenses), comfortable=known))
        return [
            Shares(
                comfortable=np.concatenate([one.comfortable for one in found]),
                awkward=np.concatenate([one.awkward for one in found]),
                blurred=np.concatenate([one.blurred for one in found]),
            )
            for found in zip(*every, strict=True)
        ]


def comfortable_share_of(draws: Draws, index: int, lens: Lens, *, rows: slice) -> Floats:
    """Return the comfortable share of one target alone in some rows of the draws, (rows,)."""
    parts = (
        Views(draws.scene(part, only=index, in_thirds=True), draws.judgements)
        for part in _parts(rows.start, rows.stop)
    )
    (found,) = _comfortable_shares([lens], parts)
    return found


def _comfortable_shares(lenses: Sequence[Lens], parts: Iterable[Views]) -> list[Floats]:
    """Return the comfortable share of each target in each row, (rows * targets,) a lens."""
    every = [comfortable_shares_of(views, _columns(views, lenses)) for views in parts]
    return [np.concatenate([np.zeros(0), *(one[at] for one in every)]) for at in range(len(lenses))]


def _columns(views: Views, lenses: Sequence[Lens]) -> list[Columns]:
    """Return what is asked of each lens: its free power, the same for every wearer."""
    count = len(views.scene.wearers.add_d)
    return [Columns(one.kind, one.family, np.full((count, 1), one.free_d)) for one in lenses]


def _parts(start: int, stop: int) -> Iterator[slice]:
    """Yield slices of rows as long as are searched at once."""
    step = _COMPILED_ROWS_AT_ONCE if is_loaded() else _ROWS_AT_ONCE
    for first in range(start, stop, step):
        yield slice(first, min(first + step, stop))


def graded_h(case: Case, found: Shares, *, looked_h: Floats, covers_distance: bool) -> Floats:
    """Return the mean comfortable, awkward and blurred hours of each activity, (3, activities).

    found: shares of the targets of every row, (rows * targets,). looked_h: hours on each target in
    each activity, (rows, activities, targets).
    """
    parts = (found.comfortable, found.awkward, found.blurred)
    hours = [
        activities_h(
            case,
            part.reshape(-1, len(case.targets)),
            looked_h=looked_h,
            covers_distance=covers_distance,
            idle=not at,
        )
        for at, part in enumerate(parts)
    ]
    return np.stack([one.mean(axis=0) for one in hours])


def looked_h(case: Case) -> Floats:
    """Return hours on each target in each activity as they were told, (1, activities, targets)."""
    by_name = [look_hours(activity) for activity in case.activities]
    return np.array([[[one.get(t.name, 0.0) for t in case.targets] for one in by_name]])


def activities_h(
    case: Case, by_target: Floats, *, looked_h: Floats, covers_distance: bool, idle: bool = True
) -> Floats:
    """Return hours of each activity, (rows, activities), from shares of targets, (rows, targets).

    An activity that needs clear distance gets none from a pair without it; one without anything
    to look at goes to one grade (idle: to this one) in a pair with it.
    """
    hours: Floats = np.einsum("rat,rt->ra", looked_h, by_target)
    for place, activity in enumerate(case.activities):
        if activity.needs and not covers_distance:
            hours[:, place] = 0.0
        elif not activity.looks:
            hours[:, place] = activity.hours if idle else 0.0
    return hours
