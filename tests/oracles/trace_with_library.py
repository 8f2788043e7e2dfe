"""Writes spectacle_trace.csv: the lens of spectacle_lens.py traced by a general optical library.

Run: pip install -e ".[oracle]" and then python -m tests.oracles.trace_with_library
The library is not needed to run the tests: they read the table, which names its version.
"""

from __future__ import annotations

import csv
import math
from importlib import metadata
from pathlib import Path

import numpy as np
from optiland.materials import IdealMaterial
from optiland.optic import Optic
from optiland.rays import RealRays

from tests.oracles import spectacle_lens as lens

TABLE = Path(__file__).with_name("spectacle_trace.csv")
WAVELENGTH_UM = 0.5876
COLUMNS = (
    "vertical_power_d",
    "tilt_deg",
    "eye_deg",
    "object_cm",
    "drop_mm",
    "ray_deg",
    "direction_deg",
    "reach_mm",
    "made_with",
)


def built(*, power_d: float, tilt_deg: float) -> Optic:
    """The lens; z away from the eye, y up, the centre of rotation at the origin."""
    front_mm, back_mm = lens.radii_mm(power_d)
    tilt = math.radians(tilt_deg)
    system = Optic()
    system.surfaces.add(index=0, radius=np.inf, z=0.0)
    system.surfaces.add(
        index=1,
        radius=-back_mm,
        x=0.0,
        y=0.0,
        z=lens.STOP_MM,
        rx=tilt,
        material=IdealMaterial(lens.INDEX),
        is_stop=True,
    )
    system.surfaces.add(
        index=2,
        radius=-front_mm,
        x=0.0,
        y=-lens.THICKNESS_MM * math.sin(tilt),
        z=lens.STOP_MM + lens.THICKNESS_MM * math.cos(tilt),
        rx=tilt,
        material="air",
    )
    system.surfaces.add(index=3, radius=np.inf, z=500.0)
    return system


def traced(*, power_d: float, tilt_deg: float) -> list[list[str]]:
    """One row for each eye direction and object distance."""
    system, tilt = built(power_d=power_d, tilt_deg=tilt_deg), math.radians(tilt_deg)
    gaze, count = np.radians(lens.EYES_DEG), len(lens.EYES_DEG)
    zero, one = np.zeros(count), np.ones(count)
    rays = RealRays(zero, zero, zero, zero, -np.sin(gaze), np.cos(gaze), one, WAVELENGTH_UM * one)
    system.surfaces.trace(rays)
    y, z = np.asarray(system.surfaces.y), np.asarray(system.surfaces.z)
    down, forward = -np.asarray(system.surfaces.M)[2], np.asarray(system.surfaces.N)[2]
    made_with = f"optiland {metadata.version('optiland')}"
    rows = []
    for at, eye_deg in enumerate(lens.EYES_DEG):
        drop_mm = -(y[1, at] * math.cos(tilt) + (z[1, at] - lens.STOP_MM) * math.sin(tilt))
        ray_deg = math.degrees(math.atan2(down[at], forward[at]))
        for object_cm in lens.OBJECTS_CM:
            direction_deg, reach_mm = lens.object_seen(
                exit_forward_mm=float(z[2, at]),
                exit_down_mm=float(-y[2, at]),
                ray_deg=ray_deg,
                object_cm=object_cm,
            )
            numbers = (drop_mm, ray_deg, direction_deg, reach_mm)
            known = [f"{value:g}" for value in (power_d, tilt_deg, eye_deg, object_cm)]
            rows.append([*known, *(f"{value:.5f}" for value in numbers), made_with])
    return rows


def main() -> None:
    """Write the table."""
    with TABLE.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(COLUMNS)
        for power_d in lens.POWERS_D:
            for tilt_deg in lens.TILTS_DEG:
                writer.writerows(traced(power_d=power_d, tilt_deg=tilt_deg))


if __name__ == "__main__":
    main()
