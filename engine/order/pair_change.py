"""The pair worn so far against the pair ordered: what changes, by how much, and what that may mean.

The first thing to look at when a new pair is not liked, so it is looked at before there is one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from engine import tables
from engine.case.model import Part
from engine.case.prescription import EyePrescription, Prescription, format_eye, minus_cylinder
from engine.case.prescription_doubts import largest_difference_d
from engine.order.types import SIDES
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case.model import Case
    from engine.order.types import EyeOrder, Order, Side

_AS_WRITTEN, _FITTED = "as prescribed", "compensated"
_ROUNDING = 1e-9


class OldPair(Part):
    """What was read from the pair worn so far, on the focimeter, with a rule and as it sits."""

    powers: Prescription
    pd_right_mm: float | None = Field(None, strict=True, ge=20, le=42)
    pd_left_mm: float | None = Field(None, strict=True, ge=20, le=42)
    height_right_mm: float | None = Field(None, strict=True, ge=6, le=50)
    height_left_mm: float | None = Field(None, strict=True, ge=6, le=50)
    pantoscopic_deg: float | None = Field(None, strict=True, ge=-5, le=25)


@dataclass(frozen=True)
class PairChange:
    """One thing that is not as it was.

    Attributes:
        id: of the row of pair_changes.csv. side: "both" where it is not of one eye.
        size: how much, in unit, never negative. large: more than the limit of the row.
        says: what to do about it; stands whether it is large or not.
    """

    id: str
    name: str
    side: Side | Literal["both"]
    old: str
    new: str
    size: float
    unit: str
    large: bool
    says: str


def pair_changes(
    *, order: Order, old: OldPair, case: Case, judgements: Judgements | None = None
) -> tuple[PairChange, ...]:
    """Return what changes from the old pair to the ordered one, right before left.

    What is not known of either is left out.

    case: whose present pair the old one is; its corridor is compared.
    """
    judged = judgements or Judgements.standard()
    found = [one for side in SIDES for one in _of_eye(order, old, side, judged)]
    tilt_deg = order.worn_as("pantoscopic_deg")
    found += _length("tilt", "both", old.pantoscopic_deg, tilt_deg)
    present = case.present_pair
    if present is not None:
        found += _length("corridor", "both", present.design.corridor_mm, order.design.corridor_mm)
    return tuple(found)


def axis_turned_deg(one: EyePrescription, other: EyePrescription) -> float:
    """Return how far the axis turns between two lenses, 0 to 90, in the same cylinder form.

    >>> axis_turned_deg(EyePrescription(sphere_d=0, cylinder_d=-1, axis_deg=175),
    ...                 EyePrescription(sphere_d=-1, cylinder_d=1, axis_deg=95))
    10.0
    """
    apart = abs(minus_cylinder(one).axis_deg - minus_cylinder(other).axis_deg) % 180
    return float(min(apart, 180 - apart))


def prism_moved_pd(one: EyePrescription, other: EyePrescription) -> float:
    """Return size of the difference of two prescribed prisms, as vectors, in prism dioptres.

    >>> from engine.case.prescription import Prism
    >>> prism_moved_pd(EyePrescription(sphere_d=0, prism=(Prism(amount_pd=3.0, base="in"),)),
    ...                EyePrescription(sphere_d=0, prism=(Prism(amount_pd=4.0, base="up"),)))
    5.0
    """
    (inward, upward), (other_in, other_up) = _prism(one), _prism(other)
    return hypot(inward - other_in, upward - other_up)


def _of_eye(order: Order, old: OldPair, side: Side, judgements: Judgements) -> Iterator[PairChange]:
    eye = order.eye(side)
    was, new = getattr(old.powers, side), _ordered(order, eye)
    form = order.cylinder_form
    without_near = {"add_d": None, "prism": ()}
    texts = [format_eye(one.model_copy(update=without_near), form=form) for one in (was, new)]
    basis = _AS_WRITTEN if new is eye.prescribed else _FITTED
    yield _change("power", side, *texts, size=largest_difference_d(was, new), basis=basis)
    least_d = judgements.turned_cylinder_min_d
    if min(abs(was.cylinder_d), abs(new.cylinder_d)) >= least_d - _ROUNDING:
        axes = [minus_cylinder(one).axis_deg for one in (was, new)]
        oblique = any(_is_oblique(axis, judgements) for axis in axes)
        turned = axis_turned_deg(was, new)
        yield _change("axis", side, *(f"{axis:03d}" for axis in axes), size=turned, may=oblique)
    if was.add_d is not None and new.add_d is not None:
        adds = [f"{add_d:+.2f}" for add_d in (was.add_d, new.add_d)]
        basis = _AS_WRITTEN if new.add_d == eye.prescribed.add_d else _FITTED
        yield _change("add", side, *adds, size=abs(new.add_d - was.add_d), basis=basis)
    if was.prism or new.prism:
        prisms = [_prism_words(one) for one in (was, new)]
        yield _change("prism", side, *prisms, size=prism_moved_pd(was, new))
    yield from _length("centration", side, getattr(old, f"pd_{side}_mm"), eye.centration_mm)
    if eye.height.name == "fitting height":
        yield from _length("height", side, getattr(old, f"height_{side}_mm"), eye.height.mm)


def _ordered(order: Order, eye: EyeOrder) -> EyePrescription:
    fitted = eye.at_fitted_vertex if order.power_basis == "at_fitted_vertex" else None
    return fitted or eye.prescribed


def _length(
    row: str, side: Side | Literal["both"], old: float | None, new: float | None
) -> Iterator[PairChange]:
    if old is not None and new is not None:
        told = (f"{round(one, 1):g}" for one in (old, new))
        yield _change(row, side, *told, size=abs(new - old))


def _change(
    row: str,
    side: Side | Literal["both"],
    old: str,
    new: str,
    *,
    size: float,
    may: bool = True,
    basis: str = "",
) -> PairChange:
    """Return a change in the words and limit of its row.

    may: whether it can be large at all. basis: what the ordered power is, where it is one.
    """
    known = tables.by_id("pair_changes")[row]
    large = may and size > float(known["limit"]) + _ROUNDING
    name = ", ".join(filter(None, (known["name"], basis)))
    return PairChange(row, name, side, old, new, size, known["unit"], large, known["says"])


def _is_oblique(axis_deg: int, judgements: Judgements) -> bool:
    return abs(axis_deg % 90 - 45) <= judgements.oblique_within_deg


def _prism(eye: EyePrescription) -> tuple[float, float]:
    """Return the prism inward and upward, in prism dioptres; outward and downward are negative."""
    sign = {"in": 1.0, "out": -1.0, "up": 1.0, "down": -1.0}
    parts = [0.0, 0.0]
    for one in eye.prism:
        parts[one.base in ("up", "down")] += sign[one.base] * one.amount_pd
    return parts[0], parts[1]


def _prism_words(eye: EyePrescription) -> str:
    return " ".join(f"{one.amount_pd:.2f} base {one.base}" for one in eye.prism) or "none"
