"""Say plainly which points some window of postures makes clear: the way that is read.

`compiled` says the same, faster, where the extra `fast` is there. Only postures that are part of a
window within the band are looked at, one after another in long arrays: nothing else can matter.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.kernel.posture import imbalance_pd
from engine.lenses.families import Points

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.scene import Scene, Wearers
    from engine.kernel.posture import View
    from engine.lenses.families import Family, Field
    from engine.lenses.kinds import Kind

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_ROUNDING = 1e-9
_MOST_TAKEN = 0.6
"""Above this share of the postures judging all of them is quicker than taking some out."""


@dataclass(frozen=True)
class Columns:
    """What is asked of a family of lenses: some free powers, and how much blur may be.

    Attributes:
        powers: (wearers, powers) nan where a wearer has no such lens.
        known: (points,) clear anyway; None where none is known to be.
        ratios: factors on the blur limit, rising; every power is asked with each.
    """

    kind: Kind
    family: Family
    powers: Floats
    known: Bools | None = None
    ratios: tuple[float, ...] = (1.0,)


class Windows:
    """The postures of a view that are part of a window within its band, point after point.

    Attributes:
        point: (postures,) the point each is of. reached: (points,) has any.
    """

    def __init__(self, view: View, *, samples: int) -> None:
        """samples: how many postures in a row a window takes."""
        self.scene, self._band, self._samples = view.scene, view.band, samples
        inside = spread_runs(runs(view.within, samples), samples)
        points, postures = inside.shape
        flat = np.flatnonzero(inside.ravel(order="C"))
        self.point, posture = np.divmod(flat, postures)
        self.reached = np.zeros(points, dtype=bool)
        self.reached[self.point] = True
        number = self.point * (postures + 1) + posture
        self._whole = number[samples - 1 :] - number[: len(number) - samples + 1] == samples - 1
        self._points = view.points.one_by_one(self.point, posture)
        self._of_point = self.scene.point_wearer
        self.wearers = self.scene.wearers.spread(self._of_point[self.point])

    def of_others(self, scene: Scene) -> Windows:
        """The same of wearers who differ in add and in what they focus, in nothing else."""
        found: Windows = object.__new__(Windows)
        found.__dict__.update(self.__dict__)
        found.scene = scene
        found.wearers = scene.wearers.spread(self._of_point[self.point])
        return found

    def clear_points(self, asked: Columns) -> Bools:
        """Whether some window is clear, (points, columns): the powers, by each of the ratios."""
        scene, powers = self.scene, asked.powers
        wanted = np.logical_and(self.reached, scene.legible[scene.point_target])
        wanted &= ~np.isnan(powers).all(axis=1)[self._of_point]
        found = np.zeros((len(wanted), powers.shape[1] * len(asked.ratios)), dtype=bool)
        if asked.known is not None:
            wanted &= ~asked.known
            has: Bools = ~np.isnan(powers[self._of_point[asked.known]])
            found[asked.known] = np.tile(has, len(asked.ratios))
        if wanted.any():
            self._look(asked, wanted, found)
        return found

    def _look(self, asked: Columns, wanted: Bools, found: Bools) -> None:
        points, wearers, point, whole = self._points, self.wearers, self.point, self._whole
        which = np.flatnonzero(wanted[point])
        if which.size <= _MOST_TAKEN * point.size:
            points, wearers, point = points.at(which), wearers.take(which), point[which]
            whole = whole[which[: len(which) - self._samples + 1]]
        field = asked.family.field(points, wearers)
        usable = self._usable(asked.kind, field, points, wearers)
        if field.everywhere:
            some = wanted.copy()
            if usable is not None:
                some[:] = False
                some[point[self._starts(usable, whole)]] = True
            at = np.flatnonzero(some & wanted)
            alike = asked.family.field(points, self.scene.wearers.spread(self._of_point[at]))
            for column, clear in enumerate(self._sharp(alike, asked, at)):
                found[at[clear[:, 0]], column] = True
            return
        for column, clear in enumerate(self._sharp(field, asked, point)):
            works = clear[:, 0]
            if usable is not None:
                works &= usable
            at = point[self._starts(works, whole)]
            found[at[wanted[at]], column] = True

    def _usable(self, kind: Kind, field: Field, points: Points, wearers: Wearers) -> Bools | None:
        """Postures off the lines and without too much imbalance, (postures,); None where all."""
        usable = None if field.usable is None else field.usable[:, 0]
        if kind.is_lens and np.any(self.scene.wearers.vertical_difference_d > 0.0):
            found = imbalance_pd(points, wearers, kind) <= self._band.imbalance_pd + _ROUNDING
            usable = found[:, 0] if usable is None else usable & found[:, 0]
        return usable

    def _starts(self, works: Bools, whole: Bools) -> Indices:
        """First posture of every window that works throughout."""
        return np.flatnonzero(runs(works[None, :], self._samples)[0] & whole)

    def _sharp(self, field: Field, asked: Columns, point: Indices) -> list[Bools]:
        """Whether each posture is sharp in each column, (postures, 1) each; point: of each."""
        scene, wearer = self.scene, self._of_point[point]
        limit_d = scene.limit_d[scene.point_target[point]][:, None]
        return [
            clear
            for ratio in asked.ratios
            for clear in sharp_with(
                field,
                asked.powers[wearer],
                accommodation_d=scene.wearers.usable_d[wearer][:, None],
                demand_d=scene.demand_d[point][:, None],
                limit_d=ratio * limit_d,
            )
        ]


def sharp_with(
    field: Field, powers: Floats, *, accommodation_d: Floats, demand_d: Floats, limit_d: Floats
) -> list[Bools]:
    """Whether blur is within the limit with each free power, (points, postures) each.

    Blur is the length of defocus and half the astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (a/2)^2) for the defocus.

    powers: (points, powers), nothing is sharp with nan; the rest (points, 1).
    """
    left = limit_d**2 - (field.astigmatism_d / 2) ** 2
    possible = left >= -_ROUNDING
    room = np.sqrt(np.abs(left, out=left), out=left)
    most, least = field.offset_d + room, field.offset_d - room
    needed, bearable = demand_d - accommodation_d - _ROUNDING, demand_d + _ROUNDING
    held = field.held
    own = None if held is None else held & (most >= needed) & (least <= bearable)
    found = []
    for power in powers.T[:, :, None]:
        works = most >= needed - power
        works &= least <= bearable - power
        if held is not None and own is not None:
            works &= ~held
            works |= own & ~np.isnan(power)
        works &= possible
        found.append(works)
    return found


def runs(works: Bools, samples: int) -> Bools:
    """Runs of so many postures in a row that all work, by doubling: (points, postures - ...)."""
    width = 1
    while width < samples:
        step = min(width, samples - width)
        works = works[:, :-step] & works[:, step:]
        width += step
    return works


def spread_runs(starts: Bools, samples: int) -> Bools:
    """Postures that are part of a run, from those at which one starts: undoes what `runs` cuts."""
    points, count = starts.shape
    inside = np.zeros((count + samples - 1, points), dtype=bool).T
    inside[:, :count] = starts
    width = 1
    while width < samples:
        step = min(width, samples - width)
        inside[:, step:] |= inside[:, :-step]
        width += step
    return inside
