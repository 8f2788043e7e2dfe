"""What a lens in front of the eye does: power, prism, and where the gaze meets it.

Bare formulas: arrays in and out; powers in dioptres (D), prism in prism dioptres (pd), lengths
in mm, angles in degrees. Down on the lens is positive where a name says drop or depth. The
stop is the centre of rotation of the eye; stop_mm is its distance behind the lens.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def gaze_tangent(
    *,
    direction_tangent: ArrayLike,
    distance_mm: ArrayLike,
    stop_mm: ArrayLike,
    vertical_power_d: ArrayLike,
) -> NDArray[np.float64]:
    """Tangent of the gaze angle behind a lens for an object seen in a given direction.

    direction_tangent: of the object from the centre of rotation, downward positive.
    distance_mm: object to lens, may be inf. A plus lens makes the eye turn further, a minus lens
    less. Single thin lens, centred straight ahead. Source: thin-lens imaging of the stop.

    >>> t = gaze_tangent(direction_tangent=0.2, distance_mm=400, stop_mm=27, vertical_power_d=4)
    >>> round(float(t), 4)
    0.2225
    """
    stop_m = _array(stop_mm) / 1e3
    reach = 1.0 / (1.0 + _array(stop_mm) / _array(distance_mm))
    return _array(direction_tangent) / (1.0 - stop_m * _array(vertical_power_d) * reach)


def lens_drop_mm(
    *, gaze_tangent: ArrayLike, stop_mm: ArrayLike, pantoscopic_deg: ArrayLike
) -> NDArray[np.float64]:
    """Distance in mm down a tilted flat lens at which the gaze meets it; positive is down.

    Zero where the level gaze meets the lens. Source: plane geometry.

    >>> round(float(lens_drop_mm(gaze_tangent=0.5, stop_mm=27, pantoscopic_deg=0)), 2)
    13.5
    """
    tangent = _array(gaze_tangent)
    return _array(stop_mm) * tangent / _bracket(tangent, pantoscopic_deg)


def lens_side_mm(
    *,
    azimuth_tangent: ArrayLike,
    gaze_tangent: ArrayLike,
    stop_mm: ArrayLike,
    pantoscopic_deg: ArrayLike,
) -> NDArray[np.float64]:
    """Distance in mm sideways on a tilted flat lens; sign of the azimuth (right positive).

    azimuth_tangent: of the angle about the vertical that is left for the eye after the head turn;
    gaze_tangent: downward, behind the lens. Exact where a line at that azimuth and slope meets the
    tilted plane: s tan(azimuth) cos t / (cos t + tan(g) sin t). Source: plane geometry.

    >>> x = lens_side_mm(azimuth_tangent=0.1763, gaze_tangent=0.0, stop_mm=27, pantoscopic_deg=0)
    >>> round(float(x), 2)
    4.76
    """
    upright = np.cos(np.radians(_array(pantoscopic_deg)))
    sideways = _array(stop_mm) * _array(azimuth_tangent) * upright
    return sideways / _bracket(_array(gaze_tangent), pantoscopic_deg)


def prentice_prism_pd(*, power_d: ArrayLike, decentration_mm: ArrayLike) -> NDArray[np.float64]:
    """Prism in pd at a distance from the optical centre, with the sign of the product.

    Use the power in the meridian of the decentration. Source: Prentice's rule, P = cF.

    >>> round(float(prentice_prism_pd(power_d=3.0, decentration_mm=4.0)), 3)
    1.2
    """
    return _array(power_d) * _array(decentration_mm) / 10.0


def vertical_imbalance_pd(
    *, power_difference_d: ArrayLike, height_from_reference_mm: ArrayLike
) -> NDArray[np.float64]:
    """Vertical imbalance in pd between the eyes away from the prism reference points; positive.

    power_difference_d: between the 90-degree meridians. Source: Prentice's rule on both lenses.

    >>> round(float(vertical_imbalance_pd(power_difference_d=-2, height_from_reference_mm=8)), 3)
    1.6
    """
    prism = prentice_prism_pd(power_d=power_difference_d, decentration_mm=height_from_reference_mm)
    imbalance: NDArray[np.float64] = np.abs(prism)
    return imbalance


def meridional_power_d(
    *,
    sphere_d: ArrayLike,
    cylinder_d: ArrayLike,
    axis_deg: ArrayLike,
    meridian_deg: ArrayLike,
) -> NDArray[np.float64]:
    """Power in D of a spherocylinder along a meridian: S + C sin^2(meridian - axis).

    >>> float(meridional_power_d(sphere_d=-1, cylinder_d=-1, axis_deg=180, meridian_deg=90))
    -2.0
    """
    turn = np.radians(_array(meridian_deg) - _array(axis_deg))
    share: NDArray[np.float64] = np.sin(turn) ** 2
    return _array(sphere_d) + _array(cylinder_d) * share


def power_vector_d(
    *, sphere_d: ArrayLike, cylinder_d: ArrayLike, axis_deg: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Power vector (M, J0, J45) in D of a spherocylinder in either form.

    Source: Thibos, Wheeler and Horner 1997, Optom Vis Sci 74:367-375.

    >>> m, j0, j45 = power_vector_d(sphere_d=-1, cylinder_d=-2, axis_deg=180)
    >>> float(m), float(j0), abs(round(float(j45), 9))
    (-2.0, 1.0, 0.0)
    """
    half = -_array(cylinder_d) / 2.0
    double = np.radians(2.0 * _array(axis_deg))
    return _array(sphere_d) - half, half * np.cos(double), half * np.sin(double)


def blur_strength_d(*, sphere_d: ArrayLike, cylinder_d: ArrayLike) -> NDArray[np.float64]:
    """Length in D of the power vector of a spherocylinder; the axis does not matter.

    Source: Thibos, Wheeler and Horner 1997.

    >>> round(float(blur_strength_d(sphere_d=-1, cylinder_d=-2)), 3)
    2.236
    """
    half = _array(cylinder_d) / 2.0
    return np.hypot(_array(sphere_d) + half, half)


def vertex_power_d(*, power_d: ArrayLike, shift_mm: ArrayLike) -> NDArray[np.float64]:
    """Power in D with the same effect after a lens is moved; shift_mm positive toward the eye.

    F / (1 - dF), each principal meridian by itself. Source: effectivity of a thin lens.

    >>> round(float(vertex_power_d(power_d=-10.0, shift_mm=12.0)), 2)
    -8.93
    """
    power = _array(power_d)
    return power / (1.0 - _array(shift_mm) / 1e3 * power)


def ocular_accommodation_d(
    *, lens_power_d: ArrayLike, vertex_mm: ArrayLike, object_mm: ArrayLike
) -> NDArray[np.float64]:
    """Accommodation in D the eye itself makes through a lens that corrects it for distance.

    object_mm: object to lens, positive. Spectacle-corrected myopes need less than emmetropes,
    hyperopes more. Source: Schwartz, Geometrical and Visual Optics, chapter 8.

    >>> round(float(ocular_accommodation_d(lens_power_d=-7.5, vertex_mm=12, object_mm=113)), 2)
    6.79
    """
    power = _array(lens_power_d)
    vergence = power - 1e3 / _array(object_mm)
    far = vertex_power_d(power_d=power, shift_mm=vertex_mm)
    return far - vertex_power_d(power_d=vergence, shift_mm=vertex_mm)


def image_jump_pd(*, add_d: ArrayLike, top_to_centre_mm: ArrayLike) -> NDArray[np.float64]:
    """Prism in pd, base down, met when the gaze enters a segment at its top.

    top_to_centre_mm: segment top to segment optical centre. Independent of the distance power.
    Source: Prentice's rule on the add.

    >>> round(float(image_jump_pd(add_d=2.0, top_to_centre_mm=5.0)), 3)
    1.0
    """
    return prentice_prism_pd(power_d=add_d, decentration_mm=top_to_centre_mm)


def segment_prism_pd(
    *,
    add_d: ArrayLike,
    segment_drop_mm: ArrayLike,
    centre_below_top_mm: ArrayLike,
    reading_depth_mm: ArrayLike,
) -> NDArray[np.float64]:
    """Prism in pd that a segment adds at the reading point; positive base down.

    Depths from the distance optical centre, downward: segment_drop_mm to the segment top,
    reading_depth_mm to the line of sight; centre_below_top_mm within the segment.

    >>> p = segment_prism_pd(
    ...     add_d=2.0, segment_drop_mm=3, centre_below_top_mm=11, reading_depth_mm=8
    ... )
    >>> round(float(p), 3)
    1.2
    """
    centre_depth = _array(segment_drop_mm) + _array(centre_below_top_mm)
    return prentice_prism_pd(power_d=add_d, decentration_mm=centre_depth - _array(reading_depth_mm))


def pantoscopic_centre_drop_mm(
    *, pantoscopic_deg: ArrayLike, stop_mm: ArrayLike
) -> NDArray[np.float64]:
    """Drop in mm of the optical centre that puts the optical axis through the stop.

    s sin(tilt): about 1 mm for each 2 degrees. Source: plane geometry; Brooks and Borish.

    >>> round(float(pantoscopic_centre_drop_mm(pantoscopic_deg=12, stop_mm=27)), 2)
    5.61
    """
    return _array(stop_mm) * np.sin(np.radians(_array(pantoscopic_deg)))


def tilt_induced_d(
    *, power_d: ArrayLike, tilt_deg: ArrayLike, index: ArrayLike = 1.5
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sphere and cylinder in D that a tilted spherical lens acts as, straight ahead.

    Axis 180 for pantoscopic tilt, 90 for wrap; the cylinder has the sign of the lens. Thin lens,
    small tilt. Source: Martin's formulas.

    >>> sphere, cylinder = tilt_induced_d(power_d=15.0, tilt_deg=10.0)
    >>> round(float(sphere), 2), round(float(cylinder), 2)
    (15.15, 0.47)
    """
    tilt = np.radians(_array(tilt_deg))
    sphere = _array(power_d) * (1.0 + np.sin(tilt) ** 2 / (2.0 * _array(index)))
    return sphere, sphere * np.tan(tilt) ** 2


def near_centration_mm(
    *,
    distance_centration_mm: ArrayLike,
    working_distance_mm: ArrayLike,
    stop_mm: ArrayLike,
    power_d: ArrayLike,
) -> NDArray[np.float64]:
    """Centration distance in mm (one eye or both) for an object nearer than far.

    working_distance_mm: object to lens, may be inf. Minus lenses need less inset, plus more.
    Source: thin-lens geometry, stated by Martellaro with the distance power.

    >>> n = near_centration_mm(
    ...     distance_centration_mm=63, working_distance_mm=400, stop_mm=27, power_d=0
    ... )
    >>> round(float(n), 1)
    59.0
    """
    centration = _array(distance_centration_mm)
    per_mm = 1.0 / _array(stop_mm) - _array(power_d) / 1e3
    return centration - centration / (1.0 + _array(working_distance_mm) * per_mm)


def _bracket(tangent: NDArray[np.float64], pantoscopic_deg: ArrayLike) -> NDArray[np.float64]:
    tilt = np.radians(_array(pantoscopic_deg))
    return np.cos(tilt) + tangent * np.sin(tilt)


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
