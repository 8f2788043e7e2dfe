"""Cautions that hold whatever the lens: one rule for each row of cautions.csv of scope case.

A rule takes the case and the numbers of its row and yields, each time it fires, the values its
sentence names. `cautions` calls the rules and fills the sentences.
"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Any

from engine import tables
from engine.prescription_doubts import largest_difference_d
from engine.scene import NO_ACCOMMODATION
from engine.targets import detail_arcmin
from engine.workstation import text_height_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from engine.case import Case

Values = dict[str, Any]
TOLD_WITH_A_LENS = ("first_multifocal",)
"""Conditions that matter only for some lenses; their rows have the scope option."""
_ROUNDING = 1e-9
"""Residue of binary fractions: a value at its limit is neither over nor under it."""


def over(value: float, limit: float) -> bool:
    """Above a limit by more than binary residue.

    >>> over(0.1 + 0.2, 0.3)
    False
    """
    return value > limit + _ROUNDING


def under(value: float, limit: float) -> bool:
    """Below a limit by more than binary residue.

    >>> under(15.9, 16.0)
    True
    """
    return value < limit - _ROUNDING


def _condition(identity: str) -> Callable[[Case], Iterator[Values]]:
    def fires(case: Case) -> Iterator[Values]:
        if identity in case.wearer.conditions:
            yield {}

    return fires


def _adds_d(case: Case) -> list[float]:
    return [eye.add_d or 0.0 for eye in (case.wearer.right, case.wearer.left)]


def _prism_prescribed(case: Case) -> Iterator[Values]:
    if case.wearer.right.prism or case.wearer.left.prism:
        yield {}


def _unequal_adds(case: Case, limit_d: float) -> Iterator[Values]:
    difference_d = max(_adds_d(case)) - min(_adds_d(case))
    if over(difference_d, limit_d):
        yield {"difference_d": difference_d}


def _very_high_add(case: Case, limit_d: float) -> Iterator[Values]:
    add_d = max(_adds_d(case))
    if not under(add_d, limit_d):
        yield {"add_d": add_d}


def _high_add(case: Case, limit_d: float) -> Iterator[Values]:
    yield from _very_high_add(case, limit_d)


def _no_add_known(case: Case) -> Iterator[Values]:
    if case.wearer.add_d is None:
        yield {}


def _amplitude_late(case: Case, limit_years: float) -> Iterator[Values]:
    wearer = case.wearer
    is_counted = wearer.amplitude_d is not None and NO_ACCOMMODATION not in wearer.conditions
    if is_counted and over(wearer.age_years, limit_years):
        yield {"age_years": wearer.age_years}


def _eyes_unequal_vertical(case: Case, limit_d: float) -> Iterator[Values]:
    difference_d = case.wearer.vertical_difference_d
    if over(difference_d, limit_d):
        yield {"difference_d": difference_d}


def _heights_unequal(case: Case, limit_mm: float) -> Iterator[Values]:
    right_mm, left_mm = case.fit.heights_mm
    if over(abs(right_mm - left_mm), limit_mm):
        yield {"difference_mm": abs(right_mm - left_mm)}


def _anisometropia(case: Case, limit_d: float) -> Iterator[Values]:
    difference_d = largest_difference_d(case.wearer.right, case.wearer.left)
    if over(difference_d, limit_d):
        yield {"difference_d": difference_d}


def _strong_power(case: Case, limit_d: float) -> Iterator[Values]:
    eyes = (case.wearer.right, case.wearer.left)
    powers_d = [eye.sphere_d for eye in eyes] + [eye.sphere_d + eye.cylinder_d for eye in eyes]
    strongest_d = max(powers_d, key=abs)
    if not under(abs(strongest_d), limit_d):
        yield {"power_d": strongest_d, "vertex_mm": case.fit.vertex_mm}


def _texts(case: Case, wanted_arcmin: float) -> Iterator[Values]:
    """What a warning about the text of each screen and page says.

    The size needed is rounded up to a tenth, so that following the advice is enough.
    """
    for target in case.targets:
        if target.kind != "far":
            arcmin, distance_cm = detail_arcmin(target), target.distance_cm
            height_mm = float(text_height_mm(arcmin=wanted_arcmin, distance_cm=distance_cm))
            yield {
                "target": target.name,
                "arcmin": arcmin,
                "distance_cm": distance_cm,
                "needed_mm": ceil(height_mm * 10 - _ROUNDING) / 10,
            }


def _text_small(case: Case, legible_arcmin: float, illegible_arcmin: float) -> Iterator[Values]:
    for values in _texts(case, legible_arcmin):
        arcmin = values["arcmin"]
        if under(arcmin, legible_arcmin) and not under(arcmin, illegible_arcmin):
            yield values


def _text_not_served(
    case: Case, illegible_arcmin: float, legible_arcmin: float
) -> Iterator[Values]:
    for values in _texts(case, legible_arcmin):
        if under(values["arcmin"], illegible_arcmin):
            yield values


CASE_RULES: Mapping[str, Callable[..., Iterator[Values]]] = {
    identity: _condition(identity)
    for identity in tables.by_id("conditions")
    if identity not in TOLD_WITH_A_LENS
} | {
    "prism_prescribed": _prism_prescribed,
    "unequal_adds": _unequal_adds,
    "very_high_add": _very_high_add,
    "high_add": _high_add,
    "no_add_known": _no_add_known,
    "amplitude_late": _amplitude_late,
    "eyes_unequal_vertical": _eyes_unequal_vertical,
    "heights_unequal": _heights_unequal,
    "anisometropia": _anisometropia,
    "strong_power": _strong_power,
    "text_small": _text_small,
    "text_not_served": _text_not_served,
}
"""Every rule by the id of its row."""
