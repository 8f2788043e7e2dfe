"""Where a gaze meets the lens, by the engine's formula and the pantoscopic angle in degrees."""

from __future__ import annotations

from typing import Any

import numpy as np

from engine.optics.spectacles import lens_point_mm


def lens_drop_mm(*, gaze_tangent: Any, stop_mm: Any, pantoscopic_deg: Any) -> Any:
    """Return how many mm down the lens; positive is down."""
    return _met(0.0, gaze_tangent, stop_mm, pantoscopic_deg)[1]


def lens_side_mm(
    *, azimuth_tangent: Any, gaze_tangent: Any, stop_mm: Any, pantoscopic_deg: Any
) -> Any:
    """Return how many mm sideways; sign of the azimuth."""
    return _met(azimuth_tangent, gaze_tangent, stop_mm, pantoscopic_deg)[0]


def _met(azimuth_tangent: Any, gaze_tangent: Any, stop_mm: Any, pantoscopic_deg: Any) -> Any:
    tilt = np.radians(pantoscopic_deg)
    return lens_point_mm(
        azimuth_tangent=azimuth_tangent,
        gaze_tangent=gaze_tangent,
        stop_mm=stop_mm,
        upright=np.cos(tilt),
        leaning=np.sin(tilt),
    )
