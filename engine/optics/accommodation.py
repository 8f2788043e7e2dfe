"""What the eye can still focus by itself, what it needs, and how blurred it is otherwise.

Bare formulas: arrays in and out, dioptres (D), centimetres and years in the names. Plus power
is positive; a demand is the vergence an object at the lens plane asks for, also positive.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine.errors import InputRefusedError, Limits
from engine.tables import by_id, rows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STANDARD_TEST_DISTANCE_CM = 40.0
"""Near test distance where none is stated (clinical convention, Bababekova et al. 2011)."""
_HIGHEST_ADD_AT_STANDARD_D = 2.50
"""An add above 100/40 cm can only have been found nearer than 40 cm."""
TAPE_DEVIATIONS = 2.0
"""A value below zero by no more tape deviations than this is zero, not impossible."""
MOST_TOLERANCE_D = 1.5
"""Largest blur tolerance seen: 1.55 D, objectionable criterion, 66 people (ARVO abstract, IOVS)."""
_NOTICEABLE_D = 0.30
"""Noticeable defocus of 0.0 logMAR letters, 4 mm pupil (Atchison et al. 2005)."""
_LETTER_20_20_ARCMIN = 5.0
_NO_POWER_D = 1e-9
"""Below this a power is only the residue of a subtraction; it focuses at infinity."""


def usual_add_d(*, age_years: ArrayLike) -> NDArray[np.float64]:
    """Return the usual near add in D at an age, between midpoints of a table, at most 2.50.

    Held constant below the middle of the first band (47.5 years). Provisional by nature: two
    published tables differ by 0.50 D. Source: reference_tables/usual_add_by_age.csv.

    >>> float(usual_add_d(age_years=55))
    1.875
    """
    table = rows("usual_add_by_age")
    ages = [(float(r["age_from_years"]) + float(r["age_to_years"])) / 2 for r in table]
    adds = [(float(r["add_from_d"]) + float(r["add_to_d"])) / 2 for r in table]
    return np.minimum(_HIGHEST_ADD_AT_STANDARD_D, np.interp(_array(age_years), ages, adds))


def usable_accommodation_d(
    *,
    age_years: float,
    add_d: float | None = None,
    amplitude_d: float | None = None,
    usable_fraction: float = 0.5,
    near_test_distance_cm: float | None = None,
    vertex_mm: float = 13.0,
    vertical_power_d: float = 0.0,
    amplitude_through_lenses: bool = False,
    no_add_from_years: float = 40.0,
) -> tuple[float, str]:
    """Return accommodation in D usable for hours, at the lens plane, and what it rests on.

    The first that applies: the measured amplitude ("amplitude"), what the prescribed add implies
    ("add"), the usual add at the age ("age", provisional). Never negative.
    Sources: half in reserve, Millodot and Millodot 1989; vertex factor (1 - dF)^2, geometry.

    >>> usable_accommodation_d(age_years=54, add_d=2.0)
    (0.5, 'add')
    """
    if amplitude_d is not None:
        ocular = 1.0 if amplitude_through_lenses else (1.0 - vertex_mm / 1e3 * vertical_power_d)
        return max(0.0, float(amplitude_d * usable_fraction * ocular**2)), "amplitude"
    if add_d is not None:
        if near_test_distance_cm is not None:
            test_cm = near_test_distance_cm
        elif add_d > _HIGHEST_ADD_AT_STANDARD_D:
            return 0.0, "add"
        else:
            test_cm = STANDARD_TEST_DISTANCE_CM
        return max(0.0, float(100.0 / test_cm - add_d)), "add"
    if age_years < no_add_from_years:
        return float(usable_fraction * least_amplitude_d(age_years=age_years)), "age"
    return float(100.0 / STANDARD_TEST_DISTANCE_CM - usual_add_d(age_years=age_years)), "age"


def least_amplitude_d(*, age_years: ArrayLike) -> NDArray[np.float64]:
    """Return the least amplitude in D at an age: 15 - 0.25 a year (Hofstetter 1950, from memory).

    >>> float(least_amplitude_d(age_years=30))
    7.5
    """
    return np.maximum(15.0 - 0.25 * _array(age_years), 0.0)


class Calibration(NamedTuple):
    """What a taped range says of one wearer, with one standard deviation of the tape.

    Attributes:
        usable_d: accommodation. tolerance_d: blur accepted, for the text of the test.
    """

    usable_d: float
    tolerance_d: float
    usable_sd_d: float
    tolerance_sd_d: float


def calibrate(
    *,
    trial_add_d: float,
    nearest_clear_cm: float,
    farthest_clear_cm: float,
    tape_error_cm: float | None = None,
) -> Calibration:
    """Work out usable accommodation and blur tolerance from a range taped through a known power.

    At the farthest clear distance the eye is at rest and the power exceeds the demand by the
    tolerance m: 100/far = add - m. At the nearest that stays clear without effort the demand
    exceeds power and accommodation u by m: 100/near = add + u + m. So m = add - 100/far and
    u = 100/near - add - m. Distances from the lens plane; the trial power over the distance
    prescription. tape_error_cm: one standard deviation of a taped distance; None takes that of
    measuring_errors.csv.

    Raises
        InputRefusedError: a pair that no eye gives: nearest not nearer, a far limit nearer than
            the trial power focuses, less than no accommodation (both beyond what the tape
            explains), a tolerance above 1.5 D.

    >>> found = calibrate(trial_add_d=1.5, nearest_clear_cm=40.0, farthest_clear_cm=100.0)
    >>> found.usable_d, found.tolerance_d
    (0.5, 0.5)
    """
    if tape_error_cm is None:
        tape_error_cm = float(by_id("measuring_errors")["own_distance"]["spread"])
    near_d, far_d = 100.0 / nearest_clear_cm, 100.0 / farthest_clear_cm
    far_sd = far_d**2 / 100.0 * tape_error_cm
    both_sd = float(np.hypot(near_d**2 / 100.0 * tape_error_cm, far_sd))
    tolerance_d = trial_add_d - far_d
    usable_d = near_d - trial_add_d - tolerance_d
    if near_d <= far_d:
        limits = Limits(high=farthest_clear_cm, below=True, unit="cm")
        allowed = f"less than the farthest clear distance, {farthest_clear_cm:g} cm"
        raise _impossible("nearest_clear_cm", nearest_clear_cm, allowed, limits)
    if tolerance_d < -TAPE_DEVIATIONS * far_sd:
        if trial_add_d == 0.0:
            allowed = "no end: without a trial power an eye at rest sees clearly at any distance"
            raise _impossible("farthest_clear_cm", farthest_clear_cm, allowed, Limits())
        limits = Limits(100.0 / trial_add_d, unit="cm")
        allowed = f"at least {limits.low:.0f} cm, where the trial power focuses an eye at rest"
        raise _impossible("farthest_clear_cm", farthest_clear_cm, allowed, limits)
    if tolerance_d > MOST_TOLERANCE_D:
        limits = Limits(high=100.0 / (trial_add_d - MOST_TOLERANCE_D), unit="cm")
        allowed = f"at most {limits.high:.0f} cm: more blur than anybody accepts"
        raise _impossible("farthest_clear_cm", farthest_clear_cm, allowed, limits)
    if usable_d < -TAPE_DEVIATIONS * both_sd:
        limits = Limits(high=100.0 / (trial_add_d + tolerance_d), unit="cm")
        allowed = f"at most {limits.high:.0f} cm, clear without any focusing"
        raise _impossible("nearest_clear_cm", nearest_clear_cm, allowed, limits)
    return Calibration(max(usable_d, 0.0), max(tolerance_d, 0.0), both_sd, far_sd)


def _impossible(field: str, value: float, allowed: str, limits: Limits) -> InputRefusedError:
    return InputRefusedError(field=field, value=value, allowed=allowed, limits=limits)


def needed_add_d(*, demand_d: ArrayLike, usable_d: ArrayLike) -> NDArray[np.float64]:
    """Return the added power in D a demand asks for beyond the usable accommodation, at least 0.

    >>> float(needed_add_d(demand_d=2.5, usable_d=0.5))
    2.0
    """
    return np.maximum(0.0, _array(demand_d) - _array(usable_d))


def defocus_d(
    *, demand_d: ArrayLike, usable_d: ArrayLike, added_power_d: ArrayLike
) -> NDArray[np.float64]:
    """Return the defocus in D left after accommodating; 0 inside the clear range, else positive.

    Too little added power leaves demand - usable - added, too much leaves added - demand.

    >>> float(defocus_d(demand_d=1.5, usable_d=0.5, added_power_d=2.0))
    0.5
    """
    demand, added = _array(demand_d), _array(added_power_d)
    return np.maximum(np.maximum(demand - _array(usable_d) - added, added - demand), 0.0)


def blur_d(
    *, defocus_d: ArrayLike, astigmatism_d: ArrayLike, weight: ArrayLike
) -> NDArray[np.float64]:
    """Return the blur in D of a defocus and an astigmatism, as an equal blur by defocus alone.

    weight: what a dioptre of astigmatism counts. A half is the length of the power vector
    (Thibos, Wheeler and Horner 1997); people bear less of it (see `astigmatism_weight`).

    >>> float(blur_d(defocus_d=0.3, astigmatism_d=0.8, weight=0.5))
    0.5
    """
    return np.hypot(_array(defocus_d), _array(astigmatism_d) * _array(weight))


def text_logmar(*, text_arcmin: ArrayLike) -> NDArray[np.float64]:
    """Return the logMAR of text: log10(arcmin / 5); a 20/20 letter is 0.0, larger is positive.

    >>> round(float(text_logmar(text_arcmin=50)), 3)
    1.0
    """
    size: NDArray[np.float64] = np.log10(_array(text_arcmin) / _LETTER_20_20_ARCMIN)
    return size


def blur_limit_d(
    *, text_arcmin: ArrayLike, noticeable_d: ArrayLike = _NOTICEABLE_D
) -> NDArray[np.float64]:
    """Return the blur in D just noticed in text of an angular height, at least noticeable_d.

    0.30 (1 + logMAR), logMAR = log10(arcmin / 5): +70 % from 0.0 to 0.7 logMAR, 4 mm pupil.
    noticeable_d: blur just noticed in letters of 5 arcmin.
    Source: Atchison et al. 2005, Vision Res 45:1967-1974.

    >>> round(float(blur_limit_d(text_arcmin=20)), 3)
    0.481
    """
    larger = np.maximum(text_logmar(text_arcmin=text_arcmin), 0.0)
    return _array(noticeable_d) * (1.0 + larger)


def focus_distance_cm(*, added_power_d: ArrayLike) -> NDArray[np.float64]:
    """Return in cm how far an added power focuses a relaxed eye; inf at 0 or less.

    Source: far point 1/P, textbook optics.

    >>> float(focus_distance_cm(added_power_d=1.25))
    80.0
    """
    added = _array(added_power_d)
    far = np.full(added.shape, np.inf)
    np.divide(100.0, added, out=far, where=added > _NO_POWER_D)
    return far


def clear_range_cm(
    *, added_power_d: ArrayLike, usable_d: ArrayLike, tolerance_d: ArrayLike = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return nearest and farthest clear distance in cm from the lens through an added power.

    The far limit is inf once the added power less the blur tolerance is 0 or less.
    Source: far 1/P, near 1/(P + A) (standard range formula).

    >>> near, far = clear_range_cm(added_power_d=2.0, usable_d=0.5)
    >>> float(near), float(far)
    (40.0, 50.0)
    """
    added, tolerance = _array(added_power_d), _array(tolerance_d)
    near = focus_distance_cm(added_power_d=added + _array(usable_d) + tolerance)
    return near, focus_distance_cm(added_power_d=added - tolerance)


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
