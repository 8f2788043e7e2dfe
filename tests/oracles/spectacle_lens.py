"""A real spectacle lens and an exact ray through it: Snell's law at both surfaces, one meridian.

The lens: front surface +6.00 D, index 1.5, 2 mm thick, back surface spherical so that the back
vertex power comes out exactly; back vertex 27 mm ahead of the centre of rotation, tilted about it
(lower edge towards the face). Written from Snell's law alone; it knows nothing of the engine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

INDEX = 1.5
FRONT_D = 6.0
THICKNESS_MM = 2.0
STOP_MM = 27.0
POWERS_D = (-6.0, -4.0, -2.0, 0.0, 2.0, 4.0)
TILTS_DEG = (0.0, 9.0)
EYES_DEG = (-15.0, -10.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
OBJECTS_CM = (40.0, 60.0, 100.0, math.inf)


@dataclass(frozen=True)
class Seen:
    """What one line of sight does.

    Attributes:
        drop_mm: where it meets the back surface, along the lens, down positive.
        ray_deg: its direction beyond the lens, below the horizontal.
        direction_deg, reach_mm: of the object, from the centre of rotation.
    """

    drop_mm: float
    ray_deg: float
    direction_deg: float
    reach_mm: float


def radii_mm(power_d: float) -> tuple[float, float]:
    """Radii of the front and the back surface; both bulge away from the eye when positive."""
    front_vertex_d = FRONT_D / (1.0 - THICKNESS_MM / 1e3 / INDEX * FRONT_D)
    return 1e3 * (INDEX - 1.0) / FRONT_D, 1e3 * (1.0 - INDEX) / (power_d - front_vertex_d)


def object_seen(
    *, exit_forward_mm: float, exit_down_mm: float, ray_deg: float, object_cm: float
) -> tuple[float, float]:
    """Direction (deg below) and reach (mm) of an object along a ray that has left the lens."""
    if math.isinf(object_cm):
        return ray_deg, math.inf
    forward = exit_forward_mm + 10.0 * object_cm * math.cos(math.radians(ray_deg))
    down = exit_down_mm + 10.0 * object_cm * math.sin(math.radians(ray_deg))
    return math.degrees(math.atan2(down, forward)), math.hypot(forward, down)


def trace(*, power_d: float, tilt_deg: float, eye_deg: float, object_cm: float) -> Seen:
    """Follow a line of sight from the centre of rotation out through the lens."""
    front_mm, back_mm = radii_mm(power_d)
    tilt, ray = math.radians(tilt_deg), math.radians(eye_deg - tilt_deg)
    along, across = math.cos(ray), math.sin(ray)
    z, y = -STOP_MM * math.cos(tilt), STOP_MM * math.sin(tilt)
    met = []
    for radius, vertex, before, after in (
        (back_mm, 0.0, 1.0, INDEX),
        (front_mm, THICKNESS_MM, INDEX, 1.0),
    ):
        centre = vertex - radius
        forward = (z - centre) * along + y * across
        missing = (z - centre) ** 2 + y**2 - radius**2
        length = -forward + math.copysign(math.sqrt(forward**2 - missing), radius)
        z, y = z + length * along, y + length * across
        normal = ((z - centre) / radius, y / radius)
        incidence = normal[0] * along + normal[1] * across
        ratio = before / after
        bend = math.sqrt(1.0 - ratio**2 * (1.0 - incidence**2)) - ratio * incidence
        along, across = ratio * along + bend * normal[0], ratio * across + bend * normal[1]
        met.append((z, y))
    ray_deg = math.degrees(math.atan2(across, along)) + tilt_deg
    direction_deg, reach_mm = object_seen(
        exit_forward_mm=STOP_MM + z * math.cos(tilt) - y * math.sin(tilt),
        exit_down_mm=z * math.sin(tilt) + y * math.cos(tilt),
        ray_deg=ray_deg,
        object_cm=object_cm,
    )
    return Seen(met[0][1], ray_deg, direction_deg, reach_mm)
