"""Head, eye and lens by plain vectors, one point and one posture at a time.

Frame of the room: forward, right, down; millimetres from the centre of rotation of the eye at head
zero. Nothing here uses the engine: rotations are matrices, the lens is met by solving for the
crossing of a line and a plane, and the bend by the lens is found by a root search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

Vector = NDArray[np.float64]
PIVOT_BEHIND_MM = 93.0
PIVOT_BELOW_MM = 48.0


@dataclass(frozen=True)
class Met:
    """Where one line of sight goes.

    Attributes:
        gaze_down_deg: in the head, before the bend by the lens.
        eye_sideways_deg: what the head turn leaves.
        x_mm, y_mm: on the lens, y up.
    """

    gaze_down_deg: float
    eye_sideways_deg: float
    x_mm: float
    y_mm: float


def pitched(chin_up_deg: float) -> Vector:
    """Matrix that turns a vector of (forward, right, down) with the head."""
    c, s = math.cos(math.radians(chin_up_deg)), math.sin(math.radians(chin_up_deg))
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def turned(right_deg: float) -> Vector:
    """Matrix that turns a vector to the right about the vertical."""
    c, s = math.cos(math.radians(right_deg)), math.sin(math.radians(right_deg))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def eye_moved(chin_up_deg: float) -> Vector:
    """Where the head carries the centre of rotation of the eye."""
    pivot = np.array([-PIVOT_BEHIND_MM, 0.0, PIVOT_BELOW_MM])
    moved: Vector = pivot + pitched(chin_up_deg) @ -pivot
    return moved


def bent_deg(gaze_down_deg: float, *, reach_mm: float, stop_mm: float, power_d: float) -> float:
    """Gaze behind a thin lens for an object in this direction, by a search over the lens height."""
    tangent = math.tan(math.radians(gaze_down_deg))
    if math.isinf(reach_mm):
        return math.degrees(math.atan(tangent / (1.0 - stop_mm / 1e3 * power_d)))
    beyond = reach_mm - stop_mm
    height = tangent * reach_mm

    def miss(drop: float) -> float:
        """How far the ray through this lens point passes from the object."""
        leaves = drop / stop_mm - drop * power_d / 1e3
        return drop + leaves * beyond - height

    bound = abs(height) + 100.0
    drop = float(scipy.optimize.brentq(miss, -10 * bound, 10 * bound, xtol=1e-12))
    return math.degrees(math.atan(drop / stop_mm))


def crossing(line: Vector, *, stop_mm: float, tilt_deg: float) -> tuple[float, float]:
    """(x, y up) on a plane through the lens point straight ahead, lower edge tilted to the face."""
    tilt = math.radians(tilt_deg)
    across = np.array([0.0, 1.0, 0.0])
    up_the_lens = np.array([math.sin(tilt), 0.0, -math.cos(tilt)])
    ahead = np.array([stop_mm, 0.0, 0.0])
    _, x, y = np.linalg.solve(np.column_stack([line, -across, -up_the_lens]), ahead)
    return float(x), float(y)


def met(
    point_mm: Vector,
    *,
    chin_up_deg: float,
    head_turn_deg: float,
    stop_mm: float,
    tilt_deg: float,
    power_d: float,
) -> Met:
    """As the design says it: elevation and chin-up add up, the head turn takes off azimuth."""
    seen = point_mm - eye_moved(chin_up_deg)
    azimuth = math.degrees(math.atan2(abs(seen[1]), seen[0]))
    declination = math.degrees(math.atan2(seen[2], math.hypot(seen[0], seen[1])))
    left_over, gaze_down = max(azimuth - head_turn_deg, 0.0), declination + chin_up_deg
    bent = bent_deg(
        gaze_down, reach_mm=float(np.linalg.norm(point_mm)), stop_mm=stop_mm, power_d=power_d
    )
    slope, aside = math.tan(math.radians(bent)), math.tan(math.radians(left_over))
    x, y = crossing(np.array([1.0, aside, slope]), stop_mm=stop_mm, tilt_deg=tilt_deg)
    return Met(gaze_down, left_over, x, y)


def met_by_rotation(
    point_mm: Vector, *, chin_up_deg: float, head_turn_deg: float, stop_mm: float, tilt_deg: float
) -> Met:
    """The same without a lens power, with the head really turned and then pitched."""
    seen = point_mm - eye_moved(chin_up_deg)
    azimuth = math.degrees(math.atan2(seen[1], seen[0]))
    turn = math.copysign(min(abs(azimuth), head_turn_deg), azimuth)
    in_head = pitched(chin_up_deg).T @ turned(turn).T @ seen
    x, y = crossing(in_head, stop_mm=stop_mm, tilt_deg=tilt_deg)
    down = math.degrees(math.atan2(in_head[2], in_head[0]))
    return Met(down, abs(azimuth) - abs(turn), abs(x), y)
