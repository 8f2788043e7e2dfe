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
    """Return the tangent of the gaze angle behind a lens for an object seen in a given direction.

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


def tangent_of_drop(
    *, drop_mm: ArrayLike, stop_mm: ArrayLike, pantoscopic_deg: ArrayLike
) -> NDArray[np.float64]:
    """Return the tangent of the gaze that meets a tilted flat lens so many mm down.

    The other way round than `lens_point_mm`; infinite where no gaze meets the lens as low as that.

    >>> round(float(tangent_of_drop(drop_mm=13.5, stop_mm=27, pantoscopic_deg=0)), 2)
    0.5
    """
    tilt, drop = np.radians(_array(pantoscopic_deg)), _array(drop_mm)
    left = _array(stop_mm) - drop * np.sin(tilt)
    is_met = left > 0.0
    return np.where(is_met, drop * np.cos(tilt) / np.where(is_met, left, 1.0), np.inf)


def lens_point_mm(
    *,
    azimuth_tangent: ArrayLike,
    gaze_tangent: ArrayLike,
    stop_mm: ArrayLike,
    upright: ArrayLike,
    leaning: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how many mm sideways and how many down the gaze meets a tilted flat lens.

    Signs: sideways that of the azimuth (right +); down positive, zero where the level gaze meets
    the lens. azimuth_tangent: of the angle about the vertical that is left for the eye after the
    head turn; gaze_tangent: downward, behind the lens. upright, leaning: cosine and sine of the
    pantoscopic angle. Exact where a line at that azimuth and slope meets the tilted plane:
    s tan(azimuth) cos t / (cos t + tan(g) sin t) sideways. Source: plane geometry.

    >>> x, y = lens_point_mm(
    ...     azimuth_tangent=0.1763, gaze_tangent=0.5, stop_mm=27, upright=1.0, leaning=0.0
    ... )
    >>> round(float(x), 2), round(float(y), 2)
    (4.76, 13.5)
    """
    stop, tangent = _array(stop_mm), _array(gaze_tangent)
    shorter = stop / (_array(upright) + tangent * _array(leaning))
    return shorter * _array(azimuth_tangent) * _array(upright), shorter * tangent


def prentice_prism_pd(*, power_d: ArrayLike, decentration_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the prism in pd at a distance from the optical centre, with the sign of the product.

    Use the power in the meridian of the decentration. Source: Prentice's rule, P = cF.

    >>> round(float(prentice_prism_pd(power_d=3.0, decentration_mm=4.0)), 3)
    1.2
    """
    return _array(power_d) * _array(decentration_mm) / 10.0


def vertical_imbalance_pd(
    *, power_difference_d: ArrayLike, height_from_reference_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return vertical imbalance in pd between the eyes off the prism reference points; positive.

    power_difference_d: between the 90-degree meridians. Source: Prentice's rule on both lenses.

    >>> round(float(vertical_imbalance_pd(power_difference_d=-2, height_from_reference_mm=8)), 3)
    1.6
    """
    prism = prentice_prism_pd(power_d=power_difference_d, decentration_mm=height_from_reference_mm)
    imbalance: NDArray[np.float64] = np.abs(prism)
    return imbalance


def vertex_power_d(*, power_d: ArrayLike, shift_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the power in D with the same effect in a moved lens; shift_mm positive to the eye.

    F / (1 - dF), each principal meridian by itself. Source: effectivity of a thin lens.

    >>> round(float(vertex_power_d(power_d=-10.0, shift_mm=12.0)), 2)
    -8.93
    """
    power = _array(power_d)
    return power / (1.0 - _array(shift_mm) / 1e3 * power)


def pantoscopic_centre_drop_mm(
    *, pantoscopic_deg: ArrayLike, stop_mm: ArrayLike
) -> NDArray[np.float64]:
    """Return the drop in mm of the optical centre that puts the optical axis through the stop.

    s sin(tilt): about 1 mm for each 2 degrees. Source: plane geometry; Brooks and Borish.

    >>> round(float(pantoscopic_centre_drop_mm(pantoscopic_deg=12, stop_mm=27)), 2)
    5.61
    """
    return _array(stop_mm) * np.sin(np.radians(_array(pantoscopic_deg)))


def near_centration_mm(
    *,
    distance_centration_mm: ArrayLike,
    working_distance_mm: ArrayLike,
    stop_mm: ArrayLike,
    power_d: ArrayLike,
) -> NDArray[np.float64]:
    """Return the centration distance in mm (one eye or both) for an object nearer than far.

    working_distance_mm: object to lens, may be inf. Minus lenses need less inset, plus more.
    Source: thin-lens geometry, with the distance power.

    >>> n = near_centration_mm(
    ...     distance_centration_mm=63, working_distance_mm=400, stop_mm=27, power_d=0
    ... )
    >>> round(float(n), 1)
    59.0
    """
    centration = _array(distance_centration_mm)
    per_mm = 1.0 / _array(stop_mm) - _array(power_d) / 1e3
    return centration - centration / (1.0 + _array(working_distance_mm) * per_mm)


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
