"""Say plainly which points some window of postures makes clear: the way that is read.

`compiled` says the same, faster, where the extra `fast` is there.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.kernel.pairs import Pairs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.scene import Scene
    from engine.kernel.pairs import Rows
    from engine.kernel.posture import View
    from engine.lenses.families import Family, Field
    from engine.lenses.kinds import Kind

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_ROUNDING = 1e-9
_BITS = 64
"""So many columns are looked at together, a bit each."""
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
    """The pairs of a view that any window can take; no lens makes the other points clear."""

    def __init__(self, view: View, *, samples: Indices) -> None:
        """samples: (wearers,) how many postures in a row a window takes."""
        self.scene, self._pairs = view.scene, Pairs(view, samples=samples)

    def of_others(self, scene: Scene) -> Windows:
        """The same of wearers who differ in add and in what they focus, in nothing else."""
        found = copy(self)
        found.scene, found._pairs = scene, self._pairs.of_others(scene.wearers)
        return found

    def clear_points(self, asked: Columns) -> Bools:
        """Whether some window is clear, (points, columns): the powers, by each of the ratios."""
        scene, powers = self.scene, asked.powers[self.scene.point_wearer]
        some = ~np.isnan(powers)
        found = np.zeros((len(powers), powers.shape[1] * len(asked.ratios)), dtype=bool)
        wanted: Bools = some.any(axis=1)
        if asked.known is not None:
            found[asked.known] = np.tile(some[asked.known], len(asked.ratios))
            wanted &= ~asked.known
        pairs, here = self._pairs, wanted[self._pairs.point]
        if not here.any():
            return found
        if here.mean() <= _MOST_TAKEN:
            pairs = pairs.take(here)
        at, wearers = pairs.point, scene.wearers.spread(scene.point_wearer[pairs.point])
        lens = Clearness(
            asked.family.field(pairs.points, pairs.wearers),
            rows=pairs.rows,
            demand_d=scene.demand_d[at][:, None],
            accommodation_d=wearers.usable_d,
            weight=wearers.astigmatism_weight,
            usable=pairs.balanced(asked.kind),
        )
        limit_d = scene.limit_d[scene.point_target[at]][:, None]
        found[at] |= lens.points(powers[at], limits_d=[one * limit_d for one in asked.ratios])
        return found


class Clearness:
    """A lens with one power left free, held against what is seen through it.

    Blur is the length of defocus and weighted astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (w a)^2) for the defocus: each pair of a point and a posture is clear with the
    free powers between two. With others it is not, nor with any where the two are nan.
    """

    def __init__(
        self,
        field: Field,
        *,
        rows: Rows,
        demand_d: Floats,
        accommodation_d: Floats,
        weight: Floats,
        usable: Bools | None = None,
    ) -> None:
        """field, usable: at each pair of the rows. The others: of each row, (rows, 1)."""
        self._field, self._rows = field, rows
        self._needed_d = demand_d - accommodation_d - _ROUNDING
        self._bearable_d = demand_d + _ROUNDING
        self._weight, self._usable = weight, usable
        if field.usable is not None:
            self._usable = field.usable if usable is None else field.usable & usable

    def points(self, powers: Floats, *, limits_d: Sequence[Floats]) -> Bools:
        """Whether some window of each row is clear, (rows, powers by limits).

        powers: (rows, powers) nan where there is none. limits_d: (rows, 1) each.
        """
        if self._field.everywhere:
            return self._everywhere(powers, limits_d)
        works = [
            (least <= power) & (power <= most)
            for least, most in map(self._free_powers, limits_d)
            for power in map(self._of_pairs, powers.T)
        ]
        parts = [self._any_window(works[at : at + _BITS]) for at in range(0, len(works), _BITS)]
        return np.concatenate(parts, axis=1)

    def _everywhere(self, powers: Floats, limits_d: Sequence[Floats]) -> Bools:
        """The same of a lens that is alike everywhere: no posture is better than another."""
        offset_d, astigmatism_d = map(
            self._rows.first, (self._field.offset_d, self._field.astigmatism_d)
        )
        found = []
        for limit_d in limits_d:
            room = self._room_d(astigmatism_d * self._weight, limit_d)
            least, most = self._needed_d - offset_d - room, self._bearable_d - offset_d + room
            found.append((least <= powers) & (powers <= most))
        clear: Bools = np.concatenate(found, axis=1)
        if self._usable is not None:
            clear &= self._any_window([self._usable[:, 0]])
        return clear

    def _free_powers(self, limit_d: Floats) -> tuple[Floats, Floats]:
        """Least and most free power each pair is clear with, (pairs,); nan where none."""
        field, spread = self._field, self._rows.spread
        if len(field.astigmatism_d) == 1:
            room = spread(self._room_d(field.astigmatism_d * self._weight, limit_d))
        else:
            room = self._room_d(field.astigmatism_d * spread(self._weight), spread(limit_d))
        least = spread(self._needed_d) - field.offset_d
        least -= room
        most = spread(self._bearable_d) - field.offset_d
        most += room
        if field.held is not None:
            clear = field.held & (least <= 0.0) & (most >= 0.0)
            np.copyto(least, np.nan, where=field.held)
            np.copyto(least, -np.inf, where=clear)
            np.copyto(most, np.inf, where=clear)
        return least[:, 0], most[:, 0]

    def _room_d(self, weighted_d: Floats, limit_d: Floats) -> Floats:
        """What a weighted astigmatism leaves of the limit for defocus; nan where it is too much."""
        left = limit_d * limit_d + _ROUNDING - weighted_d * weighted_d
        with np.errstate(invalid="ignore"):
            return np.sqrt(left, out=left)

    def _of_pairs(self, power: Floats) -> Floats:
        """A power of each row, (rows,), for each pair; once where all rows have the same."""
        return power[:1] if np.all(power == power[0]) else self._rows.spread(power)

    def _any_window(self, works: Sequence[Bools]) -> Bools:
        """Where some window works throughout, (rows, works); works: (pairs,) each, 64 at most."""
        kind = np.min_scalar_type((1 << len(works)) - 1)
        bits = works[0].astype(kind)
        for at, one in enumerate(works[1:], start=1):
            bits |= np.left_shift(one, at, dtype=kind)
        if self._usable is not None:
            bits *= self._usable[:, 0]
        windows = self._rows.any_window(bits)[:, None] >> np.arange(len(works), dtype=kind)
        return (windows & kind.type(1)) > 0


def runs(works: Bools, samples: int) -> Bools:
    """Runs of so many postures in a row that all work, by doubling: (points, postures - ...)."""
    width = 1
    while width < samples:
        step = min(width, samples - width)
        works = works[:, :-step] & works[:, step:]
        width += step
    return works
