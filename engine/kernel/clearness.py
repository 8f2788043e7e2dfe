"""Say plainly which points some window of postures makes clear: the way that is read.

`compiled` says the same, faster, where the extra `fast` is there.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.scene import Scene
    from engine.kernel.posture import PartOfView, View
    from engine.lenses.families import Family, Field
    from engine.lenses.kinds import Kind

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_ROUNDING = 1e-9
_MOST_TAKEN = 0.6
"""Above this share of the points judging all of them is quicker than taking some out."""


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
    """The points of a view that any window of postures reaches; no lens makes the others clear."""

    def __init__(self, view: View, *, samples: Indices) -> None:
        """samples: (wearers,) how many postures in a row a window takes."""
        self.scene, self._view = view.scene, view
        legible = self.scene.legible[self.scene.point_target]
        wide = samples[self.scene.point_wearer]
        self._parts: list[tuple[int, Indices, PartOfView]] = []
        for one in np.unique(samples).tolist():
            reached = np.any(runs(view.within, one), axis=1) & legible & (wide == one)
            which = np.flatnonzero(reached)
            if which.size:
                self._parts.append((one, which, view.at(which)))

    def of_others(self, scene: Scene) -> Windows:
        """The same of wearers who differ in add and in what they focus, in nothing else."""
        found = copy(self)
        found.scene = scene
        found._view = self._view.of_others(scene.wearers)
        found._parts = [
            (samples, which, part.of_others(scene.wearers)) for samples, which, part in self._parts
        ]
        return found

    def clear_points(self, asked: Columns) -> Bools:
        """Whether some window is clear, (points, columns): the powers, by each of the ratios."""
        scene, powers = self.scene, asked.powers[self.scene.point_wearer]
        some = ~np.isnan(powers)
        found = np.zeros((len(powers), powers.shape[1] * len(asked.ratios)), dtype=bool)
        wanted: Bools = np.any(some, axis=1)
        if asked.known is not None:
            found[asked.known] = np.tile(some[asked.known], len(asked.ratios))
            wanted &= ~asked.known
        for samples, reached, part in self._parts:
            which, view = reached[wanted[reached]], part
            if not which.size:
                continue
            if which.size > _MOST_TAKEN * len(reached):
                which = reached
            else:
                view = self._view.at(which)
            field = asked.family.field(view.points, view.wearers)
            held = Clearness(
                field,
                usable=view.usable(asked.kind, field),
                demand_d=scene.demand_d[which][:, None],
                weight=view.wearers.astigmatism_weight,
                samples=samples,
            )
            for at, ratio in enumerate(asked.ratios):
                columns = slice(at * powers.shape[1], (at + 1) * powers.shape[1])
                found[which, columns] |= wanted[which][:, None] & held.points(
                    powers[which],
                    accommodation_d=view.wearers.usable_d,
                    limit_d=ratio * scene.limit_d[scene.point_target[which]][:, None],
                )
        return found


class Clearness:
    """A field held against what is seen through it, to be asked for one free power after another.

    Blur is the length of defocus and weighted astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (w a)^2) for the defocus. demand_d, weight: (points, 1); usable: (points,
    postures).
    """

    def __init__(
        self, field: Field, *, usable: Bools, demand_d: Floats, weight: Floats, samples: int
    ) -> None:
        """samples: how many postures in a row a window takes."""
        self._field, self._demand_d, self._samples = field, demand_d, samples
        self._usable = usable
        self._weighted_sq = field.astigmatism_d * weight
        self._weighted_sq *= self._weighted_sq

    def points(self, powers: Floats, *, accommodation_d: Floats, limit_d: Floats) -> Bools:
        """Whether some window is clear with each free power, (points, powers).

        powers: (points, powers); accommodation_d, limit_d: (points, 1).
        """
        left = limit_d**2 - self._weighted_sq
        possible = left >= -_ROUNDING
        room = np.sqrt(np.abs(left, out=left), out=left)
        most, least = self._field.offset_d + room, self._field.offset_d - room
        needed = self._demand_d - accommodation_d - _ROUNDING
        bearable = self._demand_d + _ROUNDING
        if self._field.everywhere:
            clear: Bools = possible & (most >= needed - powers) & (least <= bearable - powers)
            clear &= np.any(runs(self._usable, self._samples), axis=1)[:, None]
            return clear
        possible = possible & self._usable
        held = self._field.held
        own = None if held is None else held & (most >= needed) & (least <= bearable)
        found = np.empty(powers.shape, dtype=bool)
        for column in range(powers.shape[1]):
            power = powers[:, [column]]
            works = most >= needed - power
            works &= least <= bearable - power
            if held is not None and own is not None:
                works &= ~held
                works |= own
            works &= possible
            found[:, column] = runs(works, self._samples).any(axis=1)
        found &= ~np.isnan(powers)
        return found


def runs(works: Bools, samples: int) -> Bools:
    """Runs of so many postures in a row that all work, by doubling: (points, postures - ...)."""
    width = 1
    while width < samples:
        step = min(width, samples - width)
        works = works[:, :-step] & works[:, step:]
        width += step
    return works
