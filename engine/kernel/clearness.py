"""Say plainly which points some window of postures makes clear: the way that is read.

`compiled` says the same, faster, where the extra `fast` is there.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from functools import cached_property
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
        """Find the pairs. samples: (wearers,) how many postures in a row a window takes."""
        self._pairs = Pairs.of(view, samples=samples)
        self._set(view.scene)

    def _set(self, scene: Scene) -> None:
        self.scene, self._wearer = scene, scene.point_wearer
        self._asked = Demands.of(scene, self._pairs)

    def of_others(self, scene: Scene) -> Windows:
        """Return the same of wearers who differ in add and in what they focus, in nothing else."""
        found = copy(self)
        found._pairs = self._pairs.of_others(scene.wearers)
        found._set(scene)
        return found

    def clear_points(self, asked: Columns) -> Bools:
        """Tell whether some window is clear, (points, columns): the powers, by each ratio."""
        some, pairs, demands = ~np.isnan(asked.powers), self._pairs, self._asked
        found = np.zeros((len(self._wearer), some.shape[1] * len(asked.ratios)), dtype=bool)
        wanted = np.any(some, axis=1).take(self._wearer)
        if asked.known is not None:
            known = np.flatnonzero(asked.known)
            found[known] = np.tile(some[self._wearer[known]], len(asked.ratios))
            wanted[known] = False
        here = np.flatnonzero(wanted[pairs.point])
        if not here.size:
            return found
        if here.size <= _MOST_TAKEN * len(pairs.point):
            pairs = pairs.take(here)
            demands = Demands.of(self.scene, pairs)
        lens = Clearness(
            asked.family.field(pairs.points, pairs.wearers),
            demands=demands,
            usable=pairs.balanced(asked.kind),
        )
        powers = asked.powers[self._wearer[pairs.point]]
        found[pairs.point] |= lens.points(powers, ratios=asked.ratios)
        return found


class Demands:
    """What eyes ask of a lens at some points, which have rows of postures.

    Attributes:
        needed_d, bearable_d: least and most power at which there is no defocus, (rows, 1).
        weight: of astigmatism, (rows, 1).
    """

    def __init__(
        self,
        rows: Rows,
        *,
        demand_d: Floats,
        accommodation_d: Floats,
        weight: Floats,
        limit_d: Floats,
    ) -> None:
        """Take values of each row, (rows, 1), see `Scene` and `Wearers`, and allow for rounding."""
        self.rows, self.weight, self._limit_d = rows, weight, limit_d
        self.needed_d = demand_d - accommodation_d - _ROUNDING
        self.bearable_d = demand_d + _ROUNDING
        self._limits: dict[float, Floats] = {}

    @classmethod
    def of(cls, scene: Scene, pairs: Pairs) -> Demands:
        """Return the demands of a scene at some pairs of its points and postures."""
        wearers = scene.wearers.spread(scene.point_wearer[pairs.point])
        return cls(
            pairs.rows,
            demand_d=scene.demand_d[pairs.point][:, None],
            accommodation_d=wearers.usable_d,
            weight=wearers.astigmatism_weight,
            limit_d=scene.limit_d[scene.point_target[pairs.point]][:, None],
        )

    @cached_property
    def of_pairs(self) -> tuple[Floats, Floats, Floats]:
        """The same for each pair, (pairs, 1) each: needed_d, bearable_d, weight."""
        needed, bearable, weight = map(
            self.rows.spread, (self.needed_d, self.bearable_d, self.weight)
        )
        return needed, bearable, weight

    def limit_square(self, ratio: float) -> Floats:
        """Return the square of the blur limit by a ratio, (rows, 1)."""
        return (ratio * self._limit_d) ** 2 + _ROUNDING

    def limit_square_of_pairs(self, ratio: float) -> Floats:
        """Return the same for each pair, (pairs, 1)."""
        if ratio not in self._limits:
            self._limits[ratio] = self.rows.spread(self.limit_square(ratio))
        return self._limits[ratio]


class Clearness:
    """A lens with one power left free, held against what is seen through it.

    Blur is the length of defocus and weighted astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (w a)^2) for the defocus: each pair of a point and a posture is clear with the
    free powers between two. With others it is not, nor with any where the two are nan.
    """

    def __init__(self, field: Field, *, demands: Demands, usable: Bools | None = None) -> None:
        """Hold a field of each pair against demands.

        usable: besides that of the field, (pairs, 1); None where all is.
        """
        self._field, self._demands, self._rows = field, demands, demands.rows
        self._usable = field.usable if usable is None else usable
        if usable is not None and field.usable is not None:
            self._usable = field.usable & usable

    def points(self, powers: Floats, *, ratios: Sequence[float]) -> Bools:
        """Tell whether some window of a row is clear, (rows, columns): powers, by each ratio.

        powers: (rows, powers) nan where there is none. ratios: factors on the blur limit.
        """
        if self._field.everywhere:
            return self._everywhere(powers, ratios)
        works = []
        given = [self._of_pairs(power) for power in powers.T]
        for least, most in map(self._free_powers, ratios):
            for power in given:
                clear = least <= power
                clear &= most >= power
                works.append(clear)
        parts = [self._any_window(works[at : at + _BITS]) for at in range(0, len(works), _BITS)]
        return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=1)

    def _everywhere(self, powers: Floats, ratios: Sequence[float]) -> Bools:
        """Answer `points` for a lens alike everywhere: no posture is better than another."""
        asked = self._demands
        offset_d, astigmatism_d = map(
            self._rows.first, (self._field.offset_d, self._field.astigmatism_d)
        )
        needed_d, bearable_d = asked.needed_d - offset_d, asked.bearable_d - offset_d
        found = []
        for ratio in ratios:
            room_d = _room_d(astigmatism_d * asked.weight, asked.limit_square(ratio))
            found.append((needed_d - room_d <= powers) & (powers <= bearable_d + room_d))
        clear: Bools = np.concatenate(found, axis=1)
        if self._usable is not None:
            clear &= self._any_window([self._usable[:, 0]])
        return clear

    def _free_powers(self, ratio: float) -> tuple[Floats, Floats]:
        """Return least and most free power each pair is clear with, (pairs,); nan where none."""
        field, asked = self._field, self._demands
        needed_d, bearable_d, weight = asked.of_pairs
        if len(field.astigmatism_d) == 1:
            weighted_d = field.astigmatism_d * asked.weight
            room_d = self._rows.spread(_room_d(weighted_d, asked.limit_square(ratio)))
        else:
            weighted_d = field.astigmatism_d * weight
            room_d = _room_d(weighted_d, asked.limit_square_of_pairs(ratio))
        least, most = needed_d - field.offset_d, bearable_d - field.offset_d
        least -= room_d
        most += room_d
        if field.held is not None:
            clear = field.held & (least <= 0.0) & (most >= 0.0)
            np.copyto(least, np.nan, where=field.held)
            np.copyto(least, -np.inf, where=clear)
            np.copyto(most, np.inf, where=clear)
        return least[:, 0], most[:, 0]

    def _of_pairs(self, power: Floats) -> Floats:
        """Return a power of each row, (rows,), for each pair; once where all rows have the same."""
        return power[:1] if np.all(power == power[0]) else self._rows.spread(power)

    def _any_window(self, works: Sequence[Bools]) -> Bools:
        """Tell where some window works throughout, (rows, works).

        works: (pairs,) each, 64 at most.
        """
        kind = np.min_scalar_type((1 << len(works)) - 1)
        bits = works[0].astype(kind)
        for at, one in enumerate(works[1:], start=1):
            bits |= np.left_shift(one, at, dtype=kind)
        if self._usable is not None:
            bits *= self._usable[:, 0]
        windows = self._rows.any_window(bits)[:, None] >> np.arange(len(works), dtype=kind)
        found: Bools = (windows & kind.type(1)) > 0
        return found


def _room_d(weighted_d: Floats, limit_square: Floats) -> Floats:
    """Return what a weighted astigmatism leaves of a limit for the defocus; nan where too much.

    It is worked out in the memory of weighted_d.
    """
    weighted_d *= weighted_d
    left = np.subtract(limit_square, weighted_d, out=weighted_d)
    with np.errstate(invalid="ignore"):
        return np.sqrt(left, out=left)
