"""What looks wrong in a prescription: flagged with its range, computed with all the same.

A doubt never corrects. Where no published limit was found the flag says "common practice, no
source"; such limits are rows of judgements.csv.
"""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from engine.case.prescription import meridian_power_d
from engine.errors import Flag
from engine.tables import rows
from engine.units import signed_power

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case.prescription import EyePrescription, Prescription
    from engine.tables import Judgements

NO_SOURCE = "common practice, no source"
UNEQUAL_EYES_D = 1.00
"""Difference of the eyes from which anisometropia is spoken of (McCarthy 2013)."""
UNEQUAL_EYES_SOURCE = "McCarthy 2013"
_STEP_D = 0.125
_STEP_RESIDUE_D = 0.005
"""An eighth is written 2.12, 2.13 or 2.125."""
_ROUNDING_D = 1e-9
"""Residue of binary fractions: a value at its limit is not beyond it."""


def doubts(
    prescription: Prescription,
    *,
    age_years: float,
    judgements: Judgements,
) -> tuple[Flag, ...]:
    """Return everything about a prescription of a wearer that is worth a second look.

    >>> from engine.case.prescription import EyePrescription, Prescription
    >>> eye = EyePrescription(sphere_d=-1.0)
    >>> from engine.tables import Judgements
    >>> both, judged = Prescription(right=eye, left=eye), Judgements.standard()
    >>> [flag.field for flag in doubts(both, age_years=52, judgements=judged)]
    ['wearer.right.add_d', 'wearer.left.add_d']
    """
    eyes = {"wearer.right": prescription.right, "wearer.left": prescription.left}
    found: list[Flag] = []
    for path, eye in eyes.items():
        found += _off_step(eye, path)
        found += _high_cylinder(eye, path, judgements)
        found += _add_against_age(eye, path, age_years, judgements)
    found += _between_eyes(prescription, judgements)
    found += _unequal_adds(prescription, judgements)
    return tuple(found)


def largest_difference_d(one: EyePrescription, other: EyePrescription) -> float:
    """Return the largest difference of power of two eyes over all meridians, in D.

    The difference of two spherocylinders is a spherocylinder itself; in power vectors its
    strongest meridian is |M| + hypot(J0, J45) (Thibos, Wheeler and Horner 1997).

    >>> from engine.case.prescription import EyePrescription
    >>> largest_difference_d(EyePrescription(sphere_d=-1.0),
    ...                      EyePrescription(sphere_d=-1.0, cylinder_d=-1.5, axis_deg=90))
    1.5
    """
    mean, straight, oblique = _vector_difference(one, other)
    return abs(mean) + hypot(straight, oblique)


def _vector_difference(one: EyePrescription, other: EyePrescription) -> tuple[float, float, float]:
    """Return M, J0 and J45 of one less the other in dioptres, read off four meridians."""
    level, rising, upright, falling = (
        meridian_power_d(one, meridian_deg=angle) - meridian_power_d(other, meridian_deg=angle)
        for angle in (0.0, 45.0, 90.0, 135.0)
    )
    return (level + upright) / 2, (level - upright) / 2, (rising - falling) / 2


def _off_step(eye: EyePrescription, path: str) -> Iterator[Flag]:
    for name in ("sphere_d", "cylinder_d", "add_d"):
        power_d = getattr(eye, name)
        if power_d is None:
            continue
        residue_d = abs(power_d - round(power_d / _STEP_D) * _STEP_D)
        if residue_d > _STEP_RESIDUE_D + _ROUNDING_D:
            yield Flag(f"{path}.{name}", power_d, "steps of 0.25 D, or of an eighth", NO_SOURCE)


def _high_cylinder(eye: EyePrescription, path: str, judgements: Judgements) -> Iterator[Flag]:
    if abs(eye.cylinder_d) > judgements.high_cylinder_d + _ROUNDING_D:
        usual = f"at most {judgements.high_cylinder_d:.2f} D in size"
        yield Flag(f"{path}.cylinder_d", eye.cylinder_d, usual, NO_SOURCE)


def _add_against_age(
    eye: EyePrescription, path: str, age_years: float, judgements: Judgements
) -> Iterator[Flag]:
    where = f"{path}.add_d"
    if not eye.add_d:
        if age_years >= judgements.no_add_age_years:
            usual = f"an add is usual from {judgements.no_add_age_years:g} years"
            yield Flag(where, "none" if eye.add_d is None else 0.0, usual, NO_SOURCE)
        return
    if age_years < judgements.first_add_age_years:
        usual = f"no add before {judgements.first_add_age_years:g} years"
        yield Flag(where, eye.add_d, usual, NO_SOURCE)
        return
    bands = rows("usual_add_by_age")
    band = [row for row in bands if float(row["age_from_years"]) <= age_years] or bands[:1]
    low_d, high_d = float(band[-1]["add_from_d"]), float(band[-1]["add_to_d"])
    outside_d = judgements.add_outside_usual_d
    too_low = low_d - eye.add_d > outside_d + _ROUNDING_D
    too_high = eye.add_d - high_d > outside_d + _ROUNDING_D
    is_before_first = age_years < float(bands[0]["age_from_years"])
    if too_high or (too_low and not is_before_first):
        usual = f"{low_d:.2f} to {high_d:.2f} D, give or take {outside_d:.2f}, at this age"
        yield Flag(where, eye.add_d, usual, band[-1]["source"])


def _between_eyes(both: Prescription, judgements: Judgements) -> Iterator[Flag]:
    """Yield spheres of unlike sign and like size, unlike cylinder forms, unequal powers."""
    right, left = both.right, both.left
    smaller_d = min(abs(right.sphere_d), abs(left.sphere_d))
    sizes_d = abs(abs(right.sphere_d) - abs(left.sphere_d))
    if (
        right.sphere_d * left.sphere_d < 0.0
        and smaller_d >= judgements.opposite_sphere_min_d - _ROUNDING_D
        and sizes_d <= judgements.opposite_sphere_within_d + _ROUNDING_D
    ):
        value = f"right {signed_power(right.sphere_d)}, left {signed_power(left.sphere_d)}"
        usual = "the same sign in both eyes where the sizes are this near"
        yield Flag("wearer.sphere_d", value, usual, NO_SOURCE)
    if right.cylinder_d * left.cylinder_d < 0.0:
        value = f"right {signed_power(right.cylinder_d)}, left {signed_power(left.cylinder_d)}"
        usual = "both eyes in the same cylinder form"
        yield Flag("wearer.cylinder_d", value, usual, NO_SOURCE)
    difference_d = largest_difference_d(right, left)
    if difference_d > UNEQUAL_EYES_D + _ROUNDING_D:
        usual = f"at most {UNEQUAL_EYES_D:.2f} D between the eyes in any meridian"
        yield Flag("wearer.sphere_d", round(difference_d, 3), usual, UNEQUAL_EYES_SOURCE)


def _unequal_adds(both: Prescription, judgements: Judgements) -> Iterator[Flag]:
    adds = both.right.add_d, both.left.add_d
    right_d, left_d = (add_d or 0.0 for add_d in adds)
    if abs(right_d - left_d) > judgements.unequal_adds_d + _ROUNDING_D:
        right, left = ("none" if add_d is None else signed_power(add_d) for add_d in adds)
        value = f"right {right}, left {left}"
        usual = f"adds within {judgements.unequal_adds_d:.2f} D of each other; ask the prescriber"
        yield Flag("wearer.add_d", value, usual, NO_SOURCE)


def eyes_swapped(both: Prescription, *, earlier: Prescription, judgements: Judgements) -> bool:
    """Tell whether a prescription fits an earlier record better with right and left exchanged."""
    as_written = _distance_d(both.right, earlier.right) + _distance_d(both.left, earlier.left)
    exchanged = _distance_d(both.right, earlier.left) + _distance_d(both.left, earlier.right)
    gain_d = as_written - exchanged
    return gain_d >= judgements.swap_gain_d - _ROUNDING_D and exchanged <= as_written / 2


def _distance_d(one: EyePrescription, other: EyePrescription) -> float:
    """Return how far two eyes are from each other as power vectors."""
    return hypot(*_vector_difference(one, other))
