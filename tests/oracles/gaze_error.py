"""How far the thin-lens gaze formula of the engine is from the traced lens, by angle."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from engine.optics.spectacles import gaze_tangent
from tests.lens_points import lens_drop_mm
from tests.oracles.spectacle_lens import STOP_MM

TABLE = Path(__file__).with_name("spectacle_trace.csv")


@dataclass(frozen=True)
class Traced:
    """One row of the table and what the engine makes of the same object.

    Attributes:
        gaze_error_deg: engine's gaze angle for the object less the traced one.
        drop_error_mm: engine's lens point for the object less the traced one.
        flat_error_mm: engine's lens point for the traced gaze less the traced point: the part of
            the error that is the curve of the real lens.
    """

    vertical_power_d: float
    tilt_deg: float
    eye_deg: float
    object_cm: float
    gaze_error_deg: float
    drop_error_mm: float
    flat_error_mm: float


def rows() -> list[dict[str, str]]:
    """The table as text."""
    with TABLE.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle, strict=True))


def traced() -> list[Traced]:
    """Every row of the table beside the engine."""
    found = []
    for row in rows():
        known = {name: float(value) for name, value in row.items() if name != "made_with"}
        tangent = gaze_tangent(
            direction_tangent=np.tan(np.radians(known["direction_deg"])),
            distance_mm=known["reach_mm"] - STOP_MM,
            stop_mm=STOP_MM,
            vertical_power_d=known["vertical_power_d"],
        )
        place = {"stop_mm": STOP_MM, "pantoscopic_deg": known["tilt_deg"]}
        true_tangent = np.tan(np.radians(known["eye_deg"]))
        drop, flat = (
            float(lens_drop_mm(gaze_tangent=value, **place)) for value in (tangent, true_tangent)
        )
        found.append(
            Traced(
                known["vertical_power_d"],
                known["tilt_deg"],
                known["eye_deg"],
                known["object_cm"],
                float(np.degrees(np.arctan(tangent))) - known["eye_deg"],
                drop - known["drop_mm"],
                flat - known["drop_mm"],
            )
        )
    return found


def worst(
    found: list[Traced], *, eye_deg: float, tilt_deg: float, within_d: float = 6.0
) -> tuple[float, float, float]:
    """Largest errors at an angle and tilt: gaze (deg), drop (mm), drop at the traced gaze (mm)."""
    mine = [
        one
        for one in found
        if one.eye_deg == eye_deg
        and one.tilt_deg == tilt_deg
        and abs(one.vertical_power_d) <= within_d
    ]
    if not mine:
        raise ValueError(f"nothing was traced at {eye_deg} deg and tilt {tilt_deg}")
    return (
        max(abs(one.gaze_error_deg) for one in mine),
        max(abs(one.drop_error_mm) for one in mine),
        max(abs(one.flat_error_mm) for one in mine),
    )
