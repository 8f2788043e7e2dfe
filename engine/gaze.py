"""Gaze: the direction of every point from the eye the head has moved, at some chin-up angles.

Arrays are (points, postures) with the points side by side in memory: runs of postures are then
compared column by column, and one wearer or thousands are handled in the same long strides.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.workstation import eye_shift_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.scene import Scene

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

_ROUNDING = 1e-9


class Gaze:
    """Where every point of a scene is seen at some chin-up angles, whatever the lens and the grade.

    Attributes:
        chin_up_deg: (1, postures) or (points, postures).
        tangent: (points, postures) tangent of gaze_down.
        sideways: tangent of the azimuth with the head straight. in_front: of the eye at all.
    """

    def __init__(self, scene: Scene, *, chin_up_deg: Floats, pivot_mm: tuple[float, float]) -> None:
        """chin_up_deg: as the wearer's own head zero reads it.

        pivot_mm: how far the eye is ahead of and above the point the head turns about.
        """
        self.chin_up_deg = np.atleast_2d(chin_up_deg)
        zero = scene.wearers.head_zero_deg[scene.point_wearer][:, None]
        true_chin_up = self.chin_up_deg + _one_if_alike(zero)
        forward, level, below = _from_moved_eye(scene, true_chin_up, pivot_mm)
        self.tangent, in_front = _add_angle(below / level, np.radians(true_chin_up))
        self.in_front = in_front & (forward > 0.0)
        self.sideways = np.abs(scene.right_mm)[:, None] / forward

    def within(self, chin_up_deg: Floats) -> Gaze:
        """The part at some neighbouring chin-up angles of those scanned for all points."""
        first = int(np.argmin(np.abs(self.chin_up_deg[0] - chin_up_deg[0])))
        which = slice(first, first + len(chin_up_deg))
        part: Gaze = object.__new__(Gaze)
        part.chin_up_deg = self.chin_up_deg[:, which]
        part.tangent, part.in_front = self.tangent[:, which], self.in_front[:, which]
        part.sideways = self.sideways[:, which]
        return part


def _from_moved_eye(
    scene: Scene, chin_up_deg: Floats, pivot_mm: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """Forward, level and downward distance in mm of the points from the eye the head has moved."""
    ahead, below = pivot_mm
    eye_forward, eye_up = eye_shift_mm(
        chin_up_deg=chin_up_deg, pivot_ahead_mm=ahead, pivot_below_mm=below
    )
    forward = np.subtract(scene.forward_mm[:, None], eye_forward, order="F")
    level = np.sqrt(forward * forward + (scene.right_mm**2)[:, None])
    return forward, level, np.subtract(eye_up, scene.up_mm[:, None], order="F")


def _one_if_alike(values: Floats) -> Floats:
    """A column of equal values as one value, (1, 1): what depends on it is computed once."""
    return values[:1] if values.size and np.all(values == values[0]) else values


def _add_angle(tangent: Floats, angle: Floats) -> tuple[Floats, Bools]:
    """Tangent of a sum of angles, and whether the sum is still within a right angle."""
    other = np.tan(angle)
    below_one = 1.0 - tangent * other
    in_front = below_one > _ROUNDING
    return (tangent + other) / np.where(in_front, below_one, 1.0), in_front
