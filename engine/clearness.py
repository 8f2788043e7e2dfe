"""Clearness: which points some window of postures makes clear, power after power."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.lens_families import Field

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_ROUNDING = 1e-9


class Clearness:
    """A field held against what is seen through it, to be asked for one free power after another.

    Blur is the length of defocus and half the astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (a/2)^2) for the defocus. demand_d: (points, 1); usable: (points, postures).
    """

    def __init__(self, field: Field, *, usable: Bools, demand_d: Floats, samples: int) -> None:
        """samples: how many postures in a row a window takes."""
        self._field, self._demand_d, self._samples = field, demand_d, samples
        self._usable = usable
        self._astigmatism_sq = (field.astigmatism_d / 2) ** 2
        self._same_everywhere = (
            field.held is None and field.offset_d.shape[1] == field.astigmatism_d.shape[1] == 1
        )

    def points(self, powers: Floats, *, accommodation_d: Floats, limit_d: Floats) -> Bools:
        """Whether some window is clear with each free power, (points, powers).

        powers: (points, powers); accommodation_d, limit_d: (points, 1).
        """
        left = limit_d**2 - self._astigmatism_sq
        possible = left >= -_ROUNDING
        room = np.sqrt(np.abs(left, out=left), out=left)
        most, least = self._field.offset_d + room, self._field.offset_d - room
        needed = self._demand_d - accommodation_d - _ROUNDING
        bearable = self._demand_d + _ROUNDING
        if self._same_everywhere:
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
