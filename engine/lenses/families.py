"""Families of lenses: what a lens has at a point, with one power left free.

At a lens point a family has a power that is the free power plus an offset (or a power of its own
where the free one does not reach) and an astigmatism, and the point is usable or not. A design is a
family with its free power chosen. The search works on the free power as an interval, so one pass
serves every power.

Lens points are mm from the fitting point, x to the wearer's right, y up; powers are D over the
distance prescription.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from engine.case.model import Design
from engine.lenses.surfaces import TablePlace, general_surface, office_surface, table_place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.model import PowerFall
    from engine.case.scene import Wearers
    from engine.lenses.surfaces import Surface
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_Add = TypeVar("_Add", "float", "Floats")
_Values = TypeVar("_Values", "Floats", "Bools", "Indices")

SEGMENT_HALF_WIDTH_MM = 14.0
"""Half of a flat-top 28 segment."""
SEGMENT_CENTRE_BELOW_LINE_MM = 5.0
"""Optical centre of a flat-top 28 segment below its line (as made; textbooks, from memory)."""
HIGHEST_ADD_D = 4.0
"""Largest added power a design can state (limit of the fields of Design)."""
TRIFOCAL_BAND_MM = 7.0
"""Depth of the middle band of a 7x28 (Brooks and Borish, from memory)."""
_SAME_MM = 1e-9
TRIFOCAL_SHARE = 0.5
"""Intermediate power of a trifocal as a share of the add (Brooks and Borish, from memory)."""


class Points:
    """Lens points (points, postures) the gaze goes through, with what surfaces have there."""

    def __init__(self, *, x_mm: Floats, y_mm: Floats, made: Indices, down_mm: Floats) -> None:
        """Take x_mm, y_mm: (points, postures); made, down_mm: (points, 1), see scene.Wearers."""
        self.x_mm, self.y_mm = x_mm, y_mm
        self._made, self._down_mm = made, down_mm
        self._place: TablePlace | None = None
        self._found: dict[int, tuple[Floats, ...]] = {}

    def on(self, surface: Surface) -> tuple[Floats, ...]:
        """Return power and astigmatism of a surface at the points, per dioptre of add."""
        if id(surface) not in self._found:
            self._found[id(surface)] = surface.at(self.place)
        return self._found[id(surface)]

    def at(self, points: Indices) -> Points:
        """Return some of the points."""
        return _PartOfPoints(self, points)

    @cached_property
    def widest_mm(self) -> float:
        """How far to a side the points go, or some farther."""
        return float(np.abs(self.x_mm).max(initial=0.0))

    @property
    def place(self) -> TablePlace:
        """Where the points stand in the tables of surfaces."""
        if self._place is None:
            y = self.y_mm + self._down_mm
            self._place = table_place(x_mm=self.x_mm, y_mm=y, made=self._made)
        return self._place


class _PartOfPoints(Points):
    """Some of the points, taken when asked for, with what was found of surfaces there."""

    def __init__(self, whole: Points, which: Indices) -> None:
        self._whole, self._which = whole, which
        self._made = side_by_side(whole._made, which)
        self._down_mm = side_by_side(whole._down_mm, which)
        self._place, self._found = None, {}

    @cached_property
    def x_mm(self) -> Floats:  # type: ignore[override]
        return side_by_side(self._whole.x_mm, self._which)

    @cached_property
    def y_mm(self) -> Floats:  # type: ignore[override]
        return side_by_side(self._whole.y_mm, self._which)

    @property
    def widest_mm(self) -> float:
        return self._whole.widest_mm

    @property
    def place(self) -> TablePlace:
        found = self._whole._place
        if self._place is None and found is not None:
            self._place = replace(
                found,
                cell=side_by_side(found.cell, self._which),
                right=side_by_side(found.right, self._which),
                up=side_by_side(found.up, self._which),
            )
        return super().place

    def on(self, surface: Surface) -> tuple[Floats, ...]:
        found = self._whole._found.get(id(surface))
        if found is None:
            return super().on(surface)
        if id(surface) not in self._found:
            self._found[id(surface)] = tuple(side_by_side(one, self._which) for one in found)
        return self._found[id(surface)]


def side_by_side(values: _Values, which: Indices) -> _Values:
    """Return some points of an array (points, postures) side by side in memory, one as it is."""
    return values if values.shape[0] == 1 else values.T.take(which, axis=1).T


@dataclass(frozen=True)
class Field:
    """What a family has at some points, each (points, postures) or broadcastable to it.

    Attributes:
        offset_d: power less the free power; where `held`, the power itself.
        astigmatism_d: astigmatism.
        usable: not on a line; None where all points are.
        held: where the free power does not reach; None where it reaches everywhere.
        everywhere: the same at every point of the lens.
    """

    offset_d: Floats
    astigmatism_d: Floats
    usable: Bools | None = None
    held: Bools | None = None
    everywhere: bool = False

    def at(self, points: Indices) -> Field:
        """Return the field at some of the points."""
        offset, astigmatism = (
            side_by_side(one, points) for one in (self.offset_d, self.astigmatism_d)
        )
        usable, held = (
            None if one is None else side_by_side(one, points) for one in (self.usable, self.held)
        )
        return Field(offset, astigmatism, usable, held, everywhere=self.everywhere)

    def power_d(self, free_d: Floats | float) -> Floats:
        """Return the added power at every point with a free power."""
        free = free_d if self.held is None else np.where(self.held, 0.0, free_d)
        power: Floats = self.offset_d + free
        return power


class Family:
    """Lenses that differ in one free power; what a kind does not say is said here for most."""

    def field(self, points: Points, wearers: Wearers) -> Field:
        """Return the lens at points; the wearers are spread over them, (points, 1) each."""
        raise NotImplementedError

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return orderable free powers, (wearers, n); nan where that wearer cannot order it."""
        raise NotImplementedError

    def design(self, *, add_d: float, free_d: float) -> Design:
        """Return the design with this free power for a wearer of that add (nan where unknown)."""
        raise NotImplementedError

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:
        """Return the sum of the design's powers: how much plus it holds."""
        raise NotImplementedError

    def at_own_add(self) -> Family:
        """Return the family at the add of each wearer; itself where it states no add."""
        return self

    def later(self, *, add_d: Floats, free_d: Floats, judgements: Judgements) -> Floats:  # noqa: ARG002
        """Return how late a design comes among those as good in hours: the least plus is first."""
        return self.plus_d(add_d=add_d, free_d=free_d)

    def is_like(self, design: Design) -> bool:  # noqa: ARG002
        """Tell whether it has what a wearer who likes a design would miss, beside its power."""
        return False


@dataclass(frozen=True)
class _OfAdd(Family):
    """Lenses made to the add of each wearer, or to a stated one."""

    _: KW_ONLY
    stated_add_d: float | None = None

    def at_own_add(self) -> Family:
        """Return the family without a stated add."""
        return replace(self, stated_add_d=None)

    def _add_d(self, add_d: _Add) -> _Add | float:
        """Return the stated add, else the one given."""
        return add_d if self.stated_add_d is None else self.stated_add_d


@dataclass(frozen=True)
class SingleVision(Family):
    """One power over the whole lens."""

    role: str

    def field(self, points: Points, wearers: Wearers) -> Field:  # noqa: ARG002
        """Return no offset, no astigmatism."""
        zero = np.zeros((1, 1))
        return Field(zero, zero, everywhere=True)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return 0 for distance, the add for near, every step up to the add for the computer."""
        add = wearers.add_d[:, None]
        if self.role == "distance":
            return np.zeros_like(add)
        if self.role == "near":
            return np.where(add > 0.0, add, np.nan)
        return _steps(judgements.sv_computer_min_d, add, judgements)

    def design(self, *, add_d: float, free_d: float) -> Design:  # noqa: ARG002
        """Return a design of add_d."""
        return Design(add_d=free_d)

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:  # noqa: ARG002
        """Return the power."""
        return free_d


@dataclass(frozen=True)
class Unaided(Family):
    """No glasses: what the prescription leaves is an added power and an astigmatism."""

    def field(self, points: Points, wearers: Wearers) -> Field:  # noqa: ARG002
        """Return the uncorrected cylinder everywhere."""
        return Field(np.zeros((1, 1)), wearers.unaided_astigmatism_d, everywhere=True)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return minus the spherical equivalent, for like eyes that are short-sighted or plano."""
        power, difference = wearers.unaided_power_d, wearers.vertical_difference_d
        fits = power >= -judgements.bare_far_off_d - _SAME_MM
        fits &= wearers.unaided_astigmatism_d <= judgements.unaided_unequal_d
        fits &= difference <= judgements.unaided_unequal_d
        return np.where(fits, power, np.nan)[:, None]

    def design(self, *, add_d: float, free_d: float) -> Design:  # noqa: ARG002
        """Return a design of add_d: the power the bare eye has over its distance prescription.

        Nothing where that is no added power (a far-sighted eye) or beyond any add.
        """
        return Design(add_d=free_d) if 0.0 <= free_d <= HIGHEST_ADD_D else Design()

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:  # noqa: ARG002
        """Return 0: nothing is ordered."""
        return np.zeros_like(free_d)


@dataclass(frozen=True)
class General(_OfAdd):
    """A general progressive of one corridor, at the prescribed add (or a stated one)."""

    corridor_mm: float

    def field(self, points: Points, wearers: Wearers) -> Field:
        """Return the add times the surface."""
        power, astigmatism = points.on(general_surface(self.corridor_mm))
        add = self._add_d(wearers.add_d)
        return Field(add * power, add * astigmatism)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return 0 alone, where the fitting height takes the corridor and an add is known."""
        needed = self.corridor_mm + judgements.corridor_to_height_mm
        fits = (wearers.fitting_height_mm >= needed) & (wearers.add_d > 0.0)
        return np.where(fits, 0.0, np.nan)[:, None]

    def design(self, *, add_d: float, free_d: float) -> Design:  # noqa: ARG002
        """Return a design of add_d and corridor_mm."""
        return Design(add_d=self._add_d(add_d), corridor_mm=self.corridor_mm)

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:
        """Return the add."""
        return add_d + 0.0 * free_d

    def later(self, *, add_d: Floats, free_d: Floats, judgements: Judgements) -> Floats:  # noqa: ARG002
        """Return how short its corridor is: the longest comes first."""
        return 0.0 * (add_d + free_d) - self.corridor_mm

    def is_like(self, design: Design) -> bool:
        """Return whether it has the corridor of the design."""
        liked_mm = design.corridor_mm
        return liked_mm is not None and abs(self.corridor_mm - liked_mm) < _SAME_MM


@dataclass(frozen=True)
class Office(Family):
    """An office lens of one power fall and degression; the free power is the near power."""

    power_fall: PowerFall
    degression_d: float

    def field(self, points: Points, wearers: Wearers) -> Field:  # noqa: ARG002
        """Return the near power less what the degression has taken away at that height."""
        power, astigmatism = points.on(office_surface(self.power_fall))
        offset_d = self.degression_d * power
        offset_d -= self.degression_d
        return Field(offset_d, self.degression_d * astigmatism)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return near powers from the add less 0.75 up to the add whose top stays over distance."""
        step = judgements.design_step_d
        below = np.arange(judgements.office_near_below_add_d, -step / 2, -step)
        near = wearers.add_d[:, None] - below
        least = max(judgements.office_near_min_d, self.degression_d + judgements.office_top_min_d)
        return np.where(near >= least - 1e-9, near, np.nan)

    def design(self, *, add_d: float, free_d: float) -> Design:  # noqa: ARG002
        """Return a design of near_add_d, degression_d and power_fall."""
        return Design(near_add_d=free_d, degression_d=self.degression_d, power_fall=self.power_fall)

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:  # noqa: ARG002
        """Return near and top power together."""
        return 2.0 * free_d - self.degression_d

    def later(self, *, add_d: Floats, free_d: Floats, judgements: Judgements) -> Floats:
        """Return the near power eased, then a degression to be warned of, then power ahead.

        So the full prescribed near power comes first, and of those the one that sees farthest.
        """
        eased_d = add_d - free_d
        is_low = add_d <= judgements.low_add_d + _SAME_MM
        warned = is_low & (self.degression_d > judgements.office_degression_min_d + _SAME_MM)
        ahead_d = free_d - self.degression_d * (1.0 - self._share_ahead)
        return 100.0 * eased_d + 10.0 * warned + ahead_d

    def is_like(self, design: Design) -> bool:
        """Return whether its power falls as that of the design."""
        return design.power_fall == self.power_fall and design.degression_d == self.degression_d

    @property
    def _share_ahead(self) -> float:
        """The share of the near power's rise that is reached at the fitting point."""
        return float(office_surface(self.power_fall).lookup(x_mm=0.0, y_mm=0.0)[0])


@dataclass(frozen=True)
class Bifocal(_OfAdd):
    """An upper power (free) and a flat-top 28 segment with the add (or a stated one)."""

    line_drop_mm: float
    line_margin_mm: float
    for_desk: bool

    def field(self, points: Points, wearers: Wearers) -> Field:
        """Return the free power outside the segment, the add inside it."""
        inside, usable = _segment(points, self.line_drop_mm, self.line_margin_mm)
        add = self._add_d(wearers.add_d)
        return Field(np.where(inside, add, 0.0), np.zeros((1, 1)), usable, inside)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:
        """Return 0 for general wear; for the desk every step from 0.50 to the add less 0.50."""
        add = wearers.add_d[:, None]
        if not self.for_desk:
            return np.where(add > 0.0, 0.0, np.nan)
        most = add - judgements.bifocal_desk_below_add_d
        return _steps(judgements.bifocal_desk_upper_min_d, most, judgements)

    def design(self, *, add_d: float, free_d: float) -> Design:
        """Return a design of upper_add_d, add_d and line_drop_mm."""
        add = self._add_d(add_d)
        return Design(upper_add_d=free_d, add_d=add, line_drop_mm=self.line_drop_mm)

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:
        """Return both powers together."""
        return add_d + free_d


@dataclass(frozen=True)
class Trifocal(_OfAdd):
    """Distance, a band of half the add, and the add below it."""

    line_drop_mm: float
    line_margin_mm: float

    def field(self, points: Points, wearers: Wearers) -> Field:
        """Return zero, half the add or the add."""
        in_band, off_first = _segment(points, self.line_drop_mm, self.line_margin_mm)
        second = self.line_drop_mm + TRIFOCAL_BAND_MM
        in_near, off_second = _segment(points, second, self.line_margin_mm)
        add = self._add_d(wearers.add_d)
        share = np.where(in_near, 1.0, np.where(in_band, TRIFOCAL_SHARE, 0.0))
        return Field(share * add, np.zeros((1, 1)), off_first & off_second)

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Floats:  # noqa: ARG002
        """Return 0 alone, where there is an add."""
        return np.where(wearers.add_d > 0.0, 0.0, np.nan)[:, None]

    def design(self, *, add_d: float, free_d: float) -> Design:  # noqa: ARG002
        """Return a design of add_d and line_drop_mm."""
        return Design(add_d=self._add_d(add_d), line_drop_mm=self.line_drop_mm)

    def plus_d(self, *, add_d: Floats, free_d: Floats) -> Floats:
        """Return the add."""
        return add_d + 0.0 * free_d


@dataclass(frozen=True)
class OwnPrescription(Family):
    """A pair owned, made to another prescription than the one that holds now; never ordered.

    Attributes:
        family: the pair over its own prescription.
        more_d: its distance power over the one that holds now.
        cylinder_d: what its cylinder leaves.
    """

    family: Family
    more_d: float
    cylinder_d: float

    def at_own_add(self) -> Family:
        """Return the same over the family at the add of each wearer."""
        return replace(self, family=self.family.at_own_add())

    def field(self, points: Points, wearers: Wearers) -> Field:
        """Return the family's field with the difference added; cylinders as if at right angles."""
        found = self.family.field(points, wearers)
        astigmatism_d = np.hypot(found.astigmatism_d, self.cylinder_d)
        return replace(found, offset_d=found.offset_d + self.more_d, astigmatism_d=astigmatism_d)

    def design(self, *, add_d: float, free_d: float) -> Design:
        """Return that of the family: powers over its own prescription."""
        return self.family.design(add_d=add_d, free_d=free_d)


def _segment(points: Points, line_drop_mm: float, margin_mm: float) -> tuple[Bools, Bools]:
    """Tell what is inside a flat-top segment, far enough from its line and sides for a pupil."""
    below = -line_drop_mm - points.y_mm
    if points.widest_mm < SEGMENT_HALF_WIDTH_MM - margin_mm:
        return below > 0.0, np.abs(below) >= margin_mm
    within = SEGMENT_HALF_WIDTH_MM - np.abs(points.x_mm)
    inside = (below > 0.0) & (within > 0.0)
    clear_of_it = (below <= -margin_mm) | (within <= -margin_mm)
    return inside, clear_of_it | ((below >= margin_mm) & (within >= margin_mm))


def _steps(least: float, most: Floats, judgements: Judgements) -> Floats:
    """Return powers from least in quarter steps; nan above most, which is (wearers, 1)."""
    step = judgements.design_step_d
    known = most[~np.isnan(most)]
    count = int((known.max() - least + 1e-9) / step) + 1 if known.size else 1
    powers = least + step * np.arange(max(count, 1))
    return np.where(powers <= most + 1e-9, powers, np.nan)
