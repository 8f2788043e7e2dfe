"""Where things stand around a person, how large they look, and how a posture is called.

Bare formulas: arrays in and out; centimetres on the desk, millimetres at the head, degrees.
Heights are above (+) or below (-) the eye, sideways is positive to the wearer's right, chin_up
is positive with the neck bent back; flexion = -chin_up.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import InputRefusedError, Limits
from engine.tables import rows
from engine.units import CM_PER_INCH, MM_PER_CM

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_ASPECT = re.compile(r"(\d{1,4}(?:\.\d{1,3})?)\s*[:x]\s*(\d{1,4}(?:\.\d{1,3})?)")
_SOLD_AS = {(21.0, 9.0): (43.0, 18.0), (9.0, 21.0): (18.0, 43.0)}
"""Sides by which panels are called, and those that they have."""
_BAND_RESIDUE_DEG = 1e-9


def demand_d(*, eye_to_point_mm: ArrayLike, stop_mm: ArrayLike) -> NDArray[np.float64]:
    """Return the demand in D at the lens of a point, from its distance to the centre of rotation.

    1000 / (eye_to_point - stop); 0 for inf. Refused when the point is at or behind the lens.

    >>> float(demand_d(eye_to_point_mm=426.5, stop_mm=26.5))
    2.5
    """
    to_lens = _array(eye_to_point_mm) - _array(stop_mm)
    if np.any(to_lens <= 0.0):
        raise InputRefusedError(
            field="eye_to_point_mm", value=float(np.min(to_lens)), allowed="in front of the lens"
        )
    return 1e3 / to_lens


def screen_size_cm(*, diagonal_in: float, aspect: str) -> tuple[float, float]:
    """Return the width and height in cm of the picture of a screen, from its diagonal in inches.

    aspect: as for `aspect_ratio`. Nominal diagonals run 0.1 to 0.4 in long.

    >>> width, height = screen_size_cm(diagonal_in=24, aspect="16:9")
    >>> round(width, 2), round(height, 2)
    (53.13, 29.89)
    """
    if not 0.0 < diagonal_in < float("inf"):
        limits = Limits(0.0, np.inf, above=True, below=True, unit="in")
        raise InputRefusedError(
            field="diagonal_in", value=diagonal_in, allowed="above 0", limits=limits
        )
    width, height = sides_cm(diagonal_in=diagonal_in, ratio=aspect_ratio(aspect=aspect))
    return float(width), float(height)


def aspect_ratio(*, aspect: str, field: str = "aspect") -> float:
    """Return the width over height of a screen, from words such as "16:9" or "43:18".

    "21:9" is 43:18: most panels sold under that name have 3440 by 1440 points (common practice,
    no source). field: named in a refusal.

    Raises
        InputRefusedError: not two numbers, or more than 5:1 or 1:5.

    >>> aspect_ratio(aspect="21:9") == aspect_ratio(aspect="43:18")
    True
    """
    match = _ASPECT.fullmatch(aspect.strip())
    sides = (float(match[1]), float(match[2])) if match else (0.0, 0.0)
    wide, high = _SOLD_AS.get(sides, sides)
    if min(wide, high) <= 0.0 or not 0.2 <= wide / high <= 5.0:
        raise InputRefusedError(
            field=field, value=aspect, allowed="width:height, such as 16:9, up to 5:1"
        )
    return wide / high


def sides_cm(
    *, diagonal_in: ArrayLike, ratio: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the sides in cm of screens, from diagonals in inches and width over height.

    >>> [round(float(side), 2) for side in sides_cm(diagonal_in=25, ratio=4 / 3)]
    [50.8, 38.1]
    """
    height = _array(diagonal_in) * CM_PER_INCH / np.hypot(_array(ratio), 1.0)
    return _array(ratio) * height, height


def text_arcmin(*, height_mm: ArrayLike, distance_cm: ArrayLike) -> NDArray[np.float64]:
    """Return the angle in arcmin of a letter height in mm (of capitals) at a distance in cm.

    >>> round(float(text_arcmin(height_mm=3.2, distance_cm=50)), 1)
    22.0
    """
    half = _array(height_mm) / (2.0 * MM_PER_CM * _array(distance_cm))
    return np.degrees(2.0 * np.arctan(half)) * 60.0


def text_height_mm(*, arcmin: ArrayLike, distance_cm: ArrayLike) -> NDArray[np.float64]:
    """Return the letter height in mm that subtends an angle at a distance; undoes text_arcmin.

    >>> round(float(text_height_mm(arcmin=16, distance_cm=60)), 2)
    2.79
    """
    half = np.tan(np.radians(_array(arcmin) / 60.0) / 2.0)
    return 2.0 * MM_PER_CM * _array(distance_cm) * half


def declination_deg(*, below_eye_cm: ArrayLike, horizontal_cm: ArrayLike) -> NDArray[np.float64]:
    """Return degrees of a point below the horizontal through the eye; negative above it.

    horizontal_cm: along the floor, not along the line of sight.

    >>> round(float(declination_deg(below_eye_cm=15, horizontal_cm=60)), 2)
    14.04
    """
    return np.degrees(np.arctan2(_array(below_eye_cm), _array(horizontal_cm)))


def eye_shift_mm(
    *, chin_up_deg: ArrayLike, pivot_ahead_mm: float, pivot_below_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far in mm the eye moves (forward, up) when the head pitches; chin up: back and up.

    pivot_ahead_mm, pivot_below_mm: eye ahead of the head-on-neck pivot, pivot below the eye.

    >>> forward, up = eye_shift_mm(chin_up_deg=10, pivot_ahead_mm=93, pivot_below_mm=48)
    >>> round(float(forward), 1), round(float(up), 1)
    (-9.7, 15.4)
    """
    pitch = np.radians(_array(chin_up_deg))
    back, rise = 1.0 - np.cos(pitch), np.sin(pitch)
    forward = -pivot_ahead_mm * back - pivot_below_mm * rise
    return forward, pivot_ahead_mm * rise - pivot_below_mm * back


def free_chin_up_deg(*, declination_deg: ArrayLike, slope: ArrayLike) -> NDArray[np.float64]:
    """Return the chin-up in degrees a head takes for a target when the lens forces nothing.

    slope: share of the declination that the head takes. Fitted to Burgess-Limerick et al. 1998 and
    1999, where it ranges from 0.28 to 0.56.

    >>> float(free_chin_up_deg(declination_deg=20, slope=0.4))
    -8.0
    """
    return -_array(slope) * _array(declination_deg)


def face_points_mm(
    *,
    distance_cm: ArrayLike,
    centre_above_eye_cm: ArrayLike,
    width_cm: ArrayLike,
    height_cm: ArrayLike,
    stop_mm: ArrayLike,
    tilt_deg: ArrayLike | None = None,
    offset_cm: ArrayLike = 0.0,
    n: int = 9,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return cell centres of a screen or page: (forward, right, up) in mm, each (..., n, n).

    From the centre of rotation, head at zero; row 0 is the top, column 0 the leftmost. The places
    (distance, height, tilt, offset) broadcast to the leading dimensions.
    distance_cm: lens to centre along the line of sight. tilt_deg: top away from the wearer, 90 is
    flat on the desk; None holds the face square to the line of sight. Off to the side the face
    turns to the wearer. Refused when a centre would not be in front of the eye.

    >>> f, r, u = face_points_mm(distance_cm=60, centre_above_eye_cm=-15, width_cm=53.1,
    ...     height_cm=29.9, stop_mm=26.5, tilt_deg=10)
    >>> round(float(f[4, 4]), 1), float(u[4, 4]), bool(f[0, 4] > f[8, 4])
    (608.3, -150.0, True)
    """
    reach = MM_PER_CM * _cells(distance_cm) + _cells(stop_mm)
    up, right = MM_PER_CM * _cells(centre_above_eye_cm), MM_PER_CM * _cells(offset_cm)
    forward_squared = reach**2 - up**2 - right**2
    if not np.all(forward_squared > 0.0):
        raise InputRefusedError(
            field="distance_cm",
            value=float(np.min(_array(distance_cm))),
            allowed="more than the height and the offset of the centre take up",
        )
    forward = np.sqrt(forward_squared)
    level = np.hypot(forward, right)
    tilt = np.arctan2(-up, level) if tilt_deg is None else np.radians(_cells(tilt_deg))
    ahead, aside = forward / level, right / level
    steps = (np.arange(n) + 0.5) / n - 0.5
    rise = -steps[:, None] * _array(height_cm) * MM_PER_CM
    across = steps[None, :] * _array(width_cm) * MM_PER_CM
    away = rise * np.sin(tilt)
    points = np.broadcast_arrays(
        forward + away * ahead - across * aside,
        right + away * aside + across * ahead,
        up + rise * np.cos(tilt),
    )
    return points[0], points[1], points[2]


def iso11226_head(*, flexion_deg: ArrayLike) -> NDArray[np.str_]:
    """Return what ISO 11226 calls a head inclination: acceptable, conditional or not recommended.

    flexion_deg: forward positive, from the reference posture (level gaze); no head support.

    >>> str(iso11226_head(flexion_deg=-5))
    'not recommended'
    """
    return _band("iso11226_head", flexion_deg).astype(np.str_)


def rula_neck(*, flexion_deg: ArrayLike) -> NDArray[np.int64]:
    """Return the RULA neck score 1 to 4 of a flexion, without twist; a boundary scores lower.

    >>> [int(score) for score in rula_neck(flexion_deg=[-3, 5, 15, 25])]
    [4, 1, 2, 3]
    """
    return _band("rula_neck", flexion_deg).astype(np.int64)


def _band(scale: str, flexion_deg: ArrayLike) -> NDArray[np.str_]:
    """Give the first band of a scale, in table order, that holds the flexion (both ends count)."""
    flexion = _array(flexion_deg)
    table = [row for row in rows("posture_bands") if row["scale"] == scale]
    inside = [
        (flexion >= float(row["flexion_from_deg"]) - _BAND_RESIDUE_DEG)
        & (flexion <= float(row["flexion_to_deg"]) + _BAND_RESIDUE_DEG)
        for row in table
    ]
    if not np.all(np.any(inside, axis=0)):
        limits = Limits(-180.0, 180.0)
        raise InputRefusedError(
            field="flexion_deg", value=flexion_deg, allowed=limits.words, limits=limits
        )
    bands: NDArray[np.str_] = np.array([row["band"] for row in table])
    first: NDArray[np.str_] = bands[np.argmax(np.array(inside), axis=0)]
    return first


def _cells(places: ArrayLike) -> NDArray[np.float64]:
    """Give places two more dimensions, last, for the rows and columns of a face."""
    return _array(places)[..., None, None]


def _array(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)
