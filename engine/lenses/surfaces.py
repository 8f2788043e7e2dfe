"""Generic surfaces of a lens whose power changes: solved here, no maker's design.

A surface is w(x, y) in D mm^2 for an add of 1 D, even in x; its added power is the mean of its
two curvatures, P = (w_xx + w_yy) / 2, and its astigmatism A = 2 hypot((w_xx - w_yy) / 2, w_xy).
Both are linear in the add. Lens points are mm from the fitting point, x to the wearer's right,
y up.

The polynomial of a general progressive overshoots above its start line, to -0.03 of the add near
the fitting point; no lens is made to add minus there, so P is pinned at 0 wherever the polynomial
is below it (above the start line, and within 0.4 mm under it by less than 0.004). A is left as
solved.

The functional weighs the error of power and the astigmatism over the lens (linearised variational
formulation; Wang, Gulliver and Santosa 2003, SIAM J Appl Math; Loos, Greiner and Seidel 1998,
Computer-Aided Design 30:595). It obeys Minkwitz by itself.

A lens that is ordered is one of many that are made: every surface has others beside it, which keep
its corridor or its power fall and differ in softness and in the width of their zones as measured
designs do (made_surfaces.csv). Number 0 is the surface itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import chebyshev

from engine import tables
from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from engine.case.model import PowerFall

RADIUS_MM = 30.0
"""The disc the surface is solved on."""
HELD_FROM_MM = 28.0
"""Beyond this radius the value at it is held: a polynomial runs off near its edge."""
_DEGREE = 16
_FIT_STEP_MM = 1.5
TABLE_STEP_MM = 0.25
"""How far apart the values of a table are."""
_TABLE_COLUMNS = int(RADIUS_MM / TABLE_STEP_MM) + 2
_TABLE_ROWS = int(2 * RADIUS_MM / TABLE_STEP_MM) + 2


@dataclass(frozen=True)
class Progression:
    """Where the power of a surface rises and where it should be free of astigmatism.

    Attributes:
        top_mm: height at which the power starts to rise.
        length_mm: length over which it rises from 0 to 1.
        near_half_width_mm, far_half_width_mm: half widths of the weighted near and far zones.
        edge_weight: weight of the rest of the lens; larger spreads the astigmatism.
    """

    top_mm: float
    length_mm: float
    near_half_width_mm: float
    far_half_width_mm: float
    edge_weight: float

    @property
    def near_mm(self) -> float:
        """The height of the near point, at which the power is scaled to 1."""
        return self.top_mm - self.length_mm - 2.0


GENERAL = {
    11.0: Progression(-2.0, 10.0, 5.0, 20.0, 1.0),
    12.5: Progression(-2.0, 13.0, 5.0, 20.0, 1.0),
    14.0: Progression(-2.0, 16.0, 5.0, 20.0, 1.0),
}
"""General progressives by corridor: the drop in mm at which 85 % of the add is reached."""
OFFICE: dict[PowerFall, Progression] = {
    "slow": Progression(10.0, 26.0, 10.0, 12.0, 2.0),
    "quick": Progression(5.0, 22.0, 10.0, 12.0, 2.0),
}
"""Office lenses by how their power falls upwards."""


@dataclass(frozen=True, eq=False)
class Surface:
    """A solved surface: exact curvatures, and a table of them for speed.

    Attributes:
        progression: what was asked for.
        coefficients: (17, 17) Chebyshev coefficients of w in x/30 and y/30.
        made: what is asked of the surfaces that are made where this one is ordered.
    """

    progression: Progression
    coefficients: NDArray[np.float64]
    made: tuple[Progression, ...] = ()

    @cached_property
    def table(self) -> NDArray[np.float64]:
        """P and A of the surface itself, (2, 1, columns, rows)."""
        return _tabulated(self.coefficients)[:, None]

    @cached_property
    def stack(self) -> NDArray[np.float64]:
        """P and A of the surface and of all that are made, (2, 1 + made, columns, rows).

        Solved when first asked for: about 2 ms a surface.
        """
        made = [_tabulated(solve(one).coefficients)[:, None] for one in self.made]
        return np.concatenate([self.table, *made], axis=1)

    def exact(self, *, x_mm: ArrayLike, y_mm: ArrayLike) -> tuple[NDArray[np.float64], ...]:
        """Return power P (0 or more) and astigmatism A per dioptre of add, from the polynomial.

        >>> p, a = general_surface(12.5).exact(x_mm=0.0, y_mm=-17.0)
        >>> round(float(p), 6)
        1.0
        """
        x, y = _held(np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64))
        power, half_cross, oblique = _curvatures(self.coefficients, x, y, grid=False)
        return _pinned(power), 2.0 * np.hypot(half_cross, oblique)

    def lookup(self, *, x_mm: ArrayLike, y_mm: ArrayLike) -> tuple[NDArray[np.float64], ...]:
        """Return power P and astigmatism A per dioptre of add, by the table (bilinear, 0.25 mm).

        Within 0.02 D of `exact` for an add of 2.50 D inside 25 mm (measured: see
        tests/test_surfaces.py).

        >>> p, a = general_surface(12.5).lookup(x_mm=0.0, y_mm=-17.0)
        >>> abs(float(p) - 1.0) < 0.001
        True
        """
        return self.at(table_place(x_mm=x_mm, y_mm=y_mm))

    def at(self, place: TablePlace) -> tuple[NDArray[np.float64], ...]:
        """Return the same at places found before; they are the same for every surface."""
        power, astigmatism = self.stack if place.is_made else self.table
        return place.between(power), place.between(astigmatism)


@dataclass(frozen=True)
class TablePlace:
    """Where points stand in the tables of surfaces.

    Attributes:
        cell: index of the lower left corner. right, up: shares of the way to the other corners.
        is_made: cells lie in the tables of surfaces that are made.
    """

    cell: NDArray[np.intp]
    right: NDArray[np.float64]
    up: NDArray[np.float64]
    is_made: bool

    def between(self, table: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the bilinear value of tables (designs, columns, rows); 0.25 mm apart.

        Transposed, since indices are gathered fastest in the order in which they lie in memory.
        """
        flat, height = table.reshape(-1), table.shape[-1]
        cell, right, up = self.cell.T, self.right.T, self.up.T
        found, side = (
            _between(flat[aside:].take(cell), flat[aside + 1 :].take(cell), up)
            for aside in (0, height)
        )
        return _between(found, side, right).T


def _between(
    values: NDArray[np.float64], others: NDArray[np.float64], share: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return values a share of the way to others; both arrays are used up."""
    others -= values
    others *= share
    values += others
    return values


def table_place(
    *, x_mm: ArrayLike, y_mm: ArrayLike, made: NDArray[np.intp] | None = None
) -> TablePlace:
    """Return the place of lens points in the tables; beyond the held radius that of the held point.

    made: number of the surface that is made at each point, 0 the one computed; None is 0.
    """
    x, y = _held(np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64))
    right, up = np.abs(x) / TABLE_STEP_MM, (y + RADIUS_MM) / TABLE_STEP_MM
    left, low = np.floor(right), np.floor(up)
    right, up = right - left, up - low
    left *= _TABLE_ROWS
    left += low
    cell, is_made = left.astype(np.intp), made is not None and bool(np.any(made))
    if made is not None and is_made:
        cell += made * (_TABLE_ROWS * _TABLE_COLUMNS)
    return TablePlace(cell, right, up, is_made)


@cache
def general_surface(corridor_mm: float) -> Surface:
    """Return the general progressive of a corridor: 11, 12.5 or 14 mm.

    Raises
        InputRefusedError: another corridor.
    """
    if corridor_mm not in GENERAL:
        allowed = ", ".join(f"{corridor:g}" for corridor in GENERAL) + " mm"
        raise InputRefusedError(field="corridor_mm", value=corridor_mm, allowed=allowed)
    return replace(solve(GENERAL[corridor_mm]), made=made_surfaces(f"corridor {corridor_mm:g}"))


@cache
def office_surface(power_fall: PowerFall) -> Surface:
    """Return the office lens whose power falls upwards so: "slow" or "quick".

    Raises
        InputRefusedError: another power fall.
    """
    if power_fall not in OFFICE:
        raise InputRefusedError(field="power_fall", value=power_fall, allowed=" or ".join(OFFICE))
    return replace(solve(OFFICE[power_fall]), made=made_surfaces(f"office {power_fall}"))


def made_surfaces(ordered: str) -> tuple[Progression, ...]:
    """Return what is asked of the surfaces that are made where one is ordered.

    ordered: as in made_surfaces.csv. From the hardest to the softest.

    >>> len(made_surfaces("corridor 12.5"))
    16
    """
    columns = (
        "top_mm", "length_mm", "near_half_width_mm", "far_half_width_mm", "edge_weight_ratio",
    )  # fmt: skip
    return tuple(
        Progression(*(float(row[name]) for name in columns))
        for row in tables.rows("made_surfaces")
        if row["applies_to"] == ordered
    )


def solve(progression: Progression) -> Surface:
    """Solve the least-squares problem of one progression (79 unknowns), by its normal equations."""
    x, y, power, twist, scale = _fit_basis()
    power_weight, astigmatism_weight = _weights(progression, x, y)
    weighted, twist_weight = power_weight[:, None] * power, np.tile(astigmatism_weight, 2)
    normal = weighted.T @ power + twist.T @ (twist_weight[:, None] * twist)
    wanted = _wanted_power(progression, y)
    solution = np.linalg.solve(normal, weighted.T @ wanted)
    # Again for what is left of it: normal equations alone lose half of the digits.
    left = weighted.T @ (wanted - power @ solution) - twist.T @ (twist_weight * (twist @ solution))
    solution += np.linalg.solve(normal, left)
    coefficients = np.zeros((_DEGREE + 1, _DEGREE + 1))
    coefficients[tuple(np.transpose(_terms()))] = solution * scale
    scale_to = _curvatures(coefficients, np.zeros(1), np.array([progression.near_mm]), grid=False)
    return Surface(progression, coefficients / float(scale_to[0][0]))


@cache
def _fit_basis() -> tuple[NDArray[np.float64], ...]:
    """Return what is weighed, the same for every progression; terms are scaled to the same size.

    Points x and y, the power of every term (points, terms), both parts of its astigmatism
    (2 points, terms), and by what each term was scaled.
    """
    x, y = _fit_points()
    across, along, oblique = _second_derivatives(x, y)
    power, twist = (across + along) / 2, np.vstack([across - along, 2.0 * oblique])
    scale = 1.0 / np.sqrt((power**2).sum(axis=0) + (twist**2).sum(axis=0))
    return x, y, power * scale, twist * scale, scale


def _terms() -> list[tuple[int, int]]:
    """Return degrees in x and y: even in x, total at most 16, none that carries no curvature."""
    return [(i, j) for i in range(0, _DEGREE + 1, 2) for j in range(_DEGREE + 1 - i) if i + j >= 2]


def _fit_points() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    steps = np.arange(0.0, RADIUS_MM + 1e-9, _FIT_STEP_MM)
    heights = np.arange(-RADIUS_MM, RADIUS_MM + 1e-9, _FIT_STEP_MM)
    x, y = (axis.ravel() for axis in np.meshgrid(steps, heights, indexing="ij"))
    inside = np.hypot(x, y) <= RADIUS_MM + 1e-9
    return x[inside], y[inside]


def _wanted_power(progression: Progression, y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return power rising from 0 to 1 by the quintic smooth step."""
    t = np.clip((progression.top_mm - y) / progression.length_mm, 0.0, 1.0)
    return t**3 * (t * (6.0 * t - 15.0) + 10.0)


def _weights(
    progression: Progression, x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the weights of the power error and of the astigmatism squared."""
    bottom = progression.top_mm - progression.length_mm
    umbilic = np.exp(-((x / 1.5) ** 2))
    near = np.exp(
        -((np.maximum(0.0, y - bottom) / 2.0) ** 2) - (x / progression.near_half_width_mm) ** 2
    )
    far = np.exp(
        -((np.maximum(0.0, progression.top_mm + 2.0 - y) / 3.0) ** 2)
        - (x / progression.far_half_width_mm) ** 2
    )
    k = progression.edge_weight
    return (
        0.02 * k + 30.0 * umbilic + 4.0 * near + 4.0 * far,
        0.15 * k + 30.0 * umbilic + 2.0 * near + 2.0 * far,
    )


@cache
def _chebyshev_derivatives() -> tuple[NDArray[np.float64], ...]:
    """Return every Chebyshev polynomial to degree 16 and its two derivatives, as coefficients."""
    identity = np.eye(_DEGREE + 1)
    once, twice = (chebyshev.chebder(identity, m, axis=1) for m in (1, 2))
    return identity, np.pad(once, ((0, 0), (0, 1))), np.pad(twice, ((0, 0), (0, 2)))


def _values(t: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return Chebyshev polynomials (and first and second derivatives by x or y in mm) at points."""
    vander = chebyshev.chebvander(t / RADIUS_MM, _DEGREE)
    return [
        vander @ table.T / RADIUS_MM**order for order, table in enumerate(_chebyshev_derivatives())
    ]


def _second_derivatives(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    """Return w_xx, w_yy, w_xy of every term at every point: three (points, terms) arrays."""
    across, along = _values(x), _values(y)
    i, j = (np.array(degrees) for degrees in zip(*_terms(), strict=True))
    return (
        across[2][:, i] * along[0][:, j],
        across[0][:, i] * along[2][:, j],
        across[1][:, i] * along[1][:, j],
    )


def _curvatures(
    coefficients: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    grid: bool,
) -> tuple[NDArray[np.float64], ...]:
    """Return P, (w_xx - w_yy) / 2 and w_xy at points, or on the grid of x and y."""
    across, along = _values(x), _values(y)
    xx, yy, xy = (
        across[m] @ coefficients @ along[n].T
        if grid
        else ((across[m] @ coefficients) * along[n]).sum(axis=-1)
        for m, n in ((2, 0), (0, 2), (1, 1))
    )
    shape = xx.shape if grid else x.shape
    return tuple(found.reshape(shape) for found in ((xx + yy) / 2, (xx - yy) / 2, xy))


def _tabulated(coefficients: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return P and A on the half disc, (2, columns, rows); column 0 the middle, row 0 lowest.

    By columns: postures go along them, so what is looked up one after another is near in memory.
    """
    x = np.arange(0.0, RADIUS_MM + 2 * TABLE_STEP_MM, TABLE_STEP_MM)
    y = np.arange(-RADIUS_MM, RADIUS_MM + 2 * TABLE_STEP_MM, TABLE_STEP_MM)
    power, half_cross, oblique = _curvatures(coefficients, x, y, grid=True)
    return np.array([_pinned(power), 2.0 * np.hypot(half_cross, oblique)])


def _pinned(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return P without the overshoot of the polynomial: never below 0."""
    return np.maximum(power, 0.0)


def _held(
    x: NDArray[np.float64], y: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Draw points beyond the held radius back to it."""
    square = x * x + y * y
    if not square.size or float(square.max()) <= HELD_FROM_MM**2:
        return x, y
    shrink = np.minimum(1.0, HELD_FROM_MM / np.maximum(np.sqrt(square), 1e-12))
    return x * shrink, y * shrink
