"""Formulas printed elsewhere that the program does not compute with, to hold its own against.

Bare formulas as in engine.optics: arrays in and out, units in the names. The numbers printed for
them are in textbook_numbers.csv; tests/test_textbook.py runs those through them, and then holds
the engine's formulas against them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import InputRefusedError
from engine.optics.spectacles import vertex_power_d

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_HOFSTETTER = {"min": (15.0, 0.25), "mean": (18.5, 0.30), "max": (25.0, 0.40)}
_EYE_ABOVE_SEAT = {"male": (158.0, 0.3681), "female": (181.1, 0.3479)}
_EYE_ABOVE_FLOOR = {"male": (51.0, 0.6738), "female": (87.0, 0.6441)}
"""Intercept mm and slope on stature, least squares on ANSUR II (US Army 2012)."""


def hofstetter_amplitude_d(*, age_years: ArrayLike, bound: str = "mean") -> NDArray[np.float64]:
    """Return the amplitude of accommodation in D to expect; bound is "min", "mean" or "max".

    Push-up data: optimistic beyond 40. Clamped at 0, where the lines would go negative.
    Source: Hofstetter 1950, Am J Optom.

    >>> float(hofstetter_amplitude_d(age_years=50))
    3.5
    """
    if bound not in _HOFSTETTER:
        raise InputRefusedError(field="bound", value=bound, allowed="min, mean or max")
    start, slope = _HOFSTETTER[bound]
    return np.maximum(0.0, start - slope * _array(age_years))


def acuity_loss_logmar(*, blur_d: ArrayLike) -> NDArray[np.float64]:
    """Return the loss of acuity in logMAR at a blur in D (power-vector length); positive is worse.

    log10(1 + b^2): a simple model for low blur, pupil ignored. Source: Blendowske 2015.

    >>> round(float(acuity_loss_logmar(blur_d=1.0)), 3)
    0.301
    """
    return np.log10(1.0 + _array(blur_d) ** 2)


def acuity_with_astigmatism_logmar(*, astigmatism_d: ArrayLike) -> NDArray[np.float64]:
    """Return the mean acuity in logMAR of presbyopes with an uncorrected astigmatism of 0 to 3 D.

    At the spherical-equivalent focus, 318 eyes. Source: Hoshikawa et al. 2021, Sci Rep 11:6958.

    >>> round(float(acuity_with_astigmatism_logmar(astigmatism_d=1.0)), 3)
    0.026
    """
    astigmatism = _array(astigmatism_d)
    return 0.017 * astigmatism**2 + 0.125 * astigmatism - 0.116


def power_vector_d(
    *, sphere_d: ArrayLike, cylinder_d: ArrayLike, axis_deg: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the power vector (M, J0, J45) in D of a spherocylinder in either form.

    Source: Thibos, Wheeler and Horner 1997, Optom Vis Sci 74:367-375.

    >>> m, j0, j45 = power_vector_d(sphere_d=-1, cylinder_d=-2, axis_deg=180)
    >>> float(m), float(j0), abs(round(float(j45), 9))
    (-2.0, 1.0, 0.0)
    """
    half = -_array(cylinder_d) / 2.0
    double = np.radians(2.0 * _array(axis_deg))
    return _array(sphere_d) - half, half * np.cos(double), half * np.sin(double)


def ocular_accommodation_d(
    *, lens_power_d: ArrayLike, vertex_mm: ArrayLike, object_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the accommodation in D the eye makes through a lens that corrects it for distance.

    object_mm: object to lens, positive. Spectacle-corrected myopes need less than emmetropes,
    hyperopes more. Source: Schwartz, Geometrical and Visual Optics, chapter 8.

    >>> round(float(ocular_accommodation_d(lens_power_d=-7.5, vertex_mm=12, object_mm=113)), 2)
    6.79
    """
    power = _array(lens_power_d)
    vergence = power - 1e3 / _array(object_mm)
    far = vertex_power_d(power_d=power, shift_mm=vertex_mm)
    return far - vertex_power_d(power_d=vergence, shift_mm=vertex_mm)


def tilt_induced_d(
    *, power_d: ArrayLike, tilt_deg: ArrayLike, index: ArrayLike = 1.5
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the sphere and cylinder in D that a tilted spherical lens acts as, straight ahead.

    Axis 180 for pantoscopic tilt, 90 for wrap; the cylinder has the sign of the lens. Thin lens,
    small tilt. Source: Martin's formulas.

    >>> sphere, cylinder = tilt_induced_d(power_d=15.0, tilt_deg=10.0)
    >>> round(float(sphere), 2), round(float(cylinder), 2)
    (15.15, 0.47)
    """
    tilt = np.radians(_array(tilt_deg))
    sphere = _array(power_d) * (1.0 + np.sin(tilt) ** 2 / (2.0 * _array(index)))
    return sphere, sphere * np.tan(tilt) ** 2


def sitting_eye_height_mm(*, stature_mm: ArrayLike, sex: str) -> NDArray[np.float64]:
    """Return the eye height in mm above the seat, sitting erect; sex "male" or "female".

    Residual SD about 21 mm; soldiers of 17 to 58 years. Source: least squares on ANSUR II.

    >>> round(float(sitting_eye_height_mm(stature_mm=1756, sex="male")), 0)
    804.0
    """
    return _on_stature(_EYE_ABOVE_SEAT, stature_mm, sex)


def eye_above_floor_mm(*, stature_mm: ArrayLike, sex: str) -> NDArray[np.float64]:
    """Return the eye height in mm above the floor, barefoot, seat at popliteal height.

    Residual SD about 16.5 mm. Source: least squares on ANSUR II, computed person by person.

    >>> round(float(eye_above_floor_mm(stature_mm=1753, sex="male")), 0)
    1232.0
    """
    return _on_stature(_EYE_ABOVE_FLOOR, stature_mm, sex)


def _on_stature(
    lines: Mapping[str, tuple[float, float]], stature_mm: ArrayLike, sex: str
) -> NDArray[np.float64]:
    if sex not in lines:
        raise InputRefusedError(field="sex", value=sex, allowed=" or ".join(sorted(lines)))
    intercept, slope = lines[sex]
    return intercept + slope * _array(stature_mm)


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
