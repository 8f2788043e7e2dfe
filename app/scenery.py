"""From a target of the case to what the side view draws. Pure geometry in cm."""

from __future__ import annotations

from math import atan2, degrees, sqrt

from app.pictures import Seen
from engine import targets
from engine.case import Case, Target
from engine.tables import Judgements
from engine.units import MM_PER_CM


def seen(target: Target, *, case: Case) -> Seen:
    """The target as the side view draws it, eye at the origin, head at zero.

    The taped distance runs to the lens plane, ahead of the centre of rotation. A target off to the
    side is drawn at its horizontal distance; a page without a tilt is held square to the sight.
    """
    stop_mm = case.fit.vertex_mm + Judgements.standard().stop_beyond_vertex_mm
    above = targets.centre_above_eye_cm(target, stop_mm=stop_mm)
    reach = target.distance_cm + stop_mm / MM_PER_CM
    ahead = sqrt(max(reach * reach - above * above, 1.0))
    tilt = targets.tilt_deg(target)
    return Seen(
        name=target.name,
        kind=target.kind,
        ahead_cm=ahead,
        above_cm=above,
        height_cm=targets.size_cm(target)[1],
        tilt_deg=degrees(atan2(-above, ahead)) if tilt is None else tilt,
        distance_cm=target.distance_cm,
    )
