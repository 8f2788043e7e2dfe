"""The lengths and powers of an order by geometry: vertex, centration, heights, blank.

Bare formulas; powers in D, lengths in mm, angles in degrees. Nothing here knows a case.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.prescription import EyePrescription
from engine.spectacles import vertex_power_d

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

EDGING_ALLOWANCE_MM = 2.0
"""Added to the blank for bevel and edge marks (open-exam-prep.com blank size; common practice)."""


def with_added_power(eye: EyePrescription, *, added_d: float) -> EyePrescription:
    """The eye with power added to its sphere; the add itself is left out, prism is carried.

    >>> from engine.prescription import format_eye
    >>> eye = EyePrescription(sphere_d=-1.0, cylinder_d=-0.5, axis_deg=90, add_d=2.0)
    >>> format_eye(with_added_power(eye, added_d=1.25))
    '+0.25 -0.50 x 090'
    """
    return eye.model_copy(update={"sphere_d": eye.sphere_d + added_d + 0.0, "add_d": None})


def at_vertex(eye: EyePrescription, *, from_mm: float, to_mm: float) -> EyePrescription:
    """The eye's power with the same effect at another vertex distance, each meridian by itself.

    Distances from the cornea. Source: effectivity of a thin lens, F / (1 - dF).

    >>> moved = at_vertex(EyePrescription(sphere_d=-10.0), from_mm=12.0, to_mm=14.0)
    >>> round(moved.sphere_d, 2)
    -10.2
    """
    meridians = np.array([eye.sphere_d, eye.sphere_d + eye.cylinder_d])
    first, second = vertex_power_d(power_d=meridians, shift_mm=from_mm - to_mm)
    update = {"sphere_d": float(first), "cylinder_d": float(second - first) + 0.0}
    return eye.model_copy(update=update)


def strongest_meridian_d(eye: EyePrescription) -> float:
    """The larger of the two principal powers, without sign.

    >>> strongest_meridian_d(EyePrescription(sphere_d=3.0, cylinder_d=-7.0, axis_deg=20))
    4.0
    """
    return max(abs(eye.sphere_d), abs(eye.sphere_d + eye.cylinder_d))


def decentration_mm(
    *, lens_width_mm: ArrayLike, bridge_mm: ArrayLike, centration_mm: ArrayLike
) -> NDArray[np.float64]:
    """How far the centre of one lens is moved from its box centre; positive is inward.

    centration_mm: monocular. Source: review card, (A + DBL)/2 - monocular distance (F082).

    >>> float(decentration_mm(lens_width_mm=52, bridge_mm=18, centration_mm=31))
    4.0
    """
    return (_array(lens_width_mm) + _array(bridge_mm)) / 2.0 - _array(centration_mm)


def smallest_blank_mm(
    *, effective_diameter_mm: ArrayLike, inward_mm: ArrayLike, upward_mm: ArrayLike
) -> NDArray[np.float64]:
    """Smallest round uncut lens, centred where it is ordered, that can be cut to the frame.

    Effective diameter + twice the distance from box centre + 2 mm. A rule of thumb: the trace
    decides, and it is generous. Source: open-exam-prep.com (MBS = ED + total decentration +
    allowance); Ocuco 2020 says that no such formula is exact.

    >>> float(smallest_blank_mm(effective_diameter_mm=56, inward_mm=3, upward_mm=4))
    68.0
    """
    moved = np.hypot(_array(inward_mm), _array(upward_mm))
    return _array(effective_diameter_mm) + 2.0 * moved + EDGING_ALLOWANCE_MM


def largest_effective_diameter_mm(
    *, lens_width_mm: ArrayLike, lens_depth_mm: ArrayLike
) -> NDArray[np.float64]:
    """No shape inside its box can have a larger effective diameter: the diagonal of the box.

    >>> float(largest_effective_diameter_mm(lens_width_mm=40, lens_depth_mm=30))
    50.0
    """
    return np.hypot(_array(lens_width_mm), _array(lens_depth_mm))


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
