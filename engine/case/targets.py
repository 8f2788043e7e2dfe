"""What a target is made of, whichever way it was given: size, height, tilt, detail, hours."""

from __future__ import annotations

import math
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import InputRefusedError
from engine.optics import workstation
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from engine.case.model import Activity, Target


REACH = 0.88
"""Height and sideways distance over distance of what is assumed: below 0.9, the limit of `Case`."""
_ROUNDING = 1e-9
NEAREST_CM = 15.0
"""Least distance that `Case` takes."""


def detail_arcmin(target: Target) -> float:
    """Return the angle of the text or detail of a target."""
    if target.text_arcmin is not None:
        return target.text_arcmin
    height_mm = target.text_height_mm or 0.0
    return float(workstation.text_arcmin(height_mm=height_mm, distance_cm=target.distance_cm))


def text_height_mm(target: Target) -> float:
    """Return height of the text of a target in mm."""
    if target.text_height_mm is not None:
        return target.text_height_mm
    arcmin = detail_arcmin(target)
    return float(workstation.text_height_mm(arcmin=arcmin, distance_cm=target.distance_cm))


def is_text(target: Target) -> bool:
    """Tell whether a target is text, which can be made larger; the detail of a bench is not.

    A screen shows text, however its size was told; a page or something far only where the height of
    its capitals was.
    """
    return target.kind == "screen" or target.text_height_mm is not None


def least_text_mm(target: Target, *, arcmin: float) -> float:
    """Return the least height in mm at which text has an angle where the target stands.

    It is rounded up to a tenth, so that following the advice is enough.
    """
    height_mm = workstation.text_height_mm(arcmin=arcmin, distance_cm=target.distance_cm)
    return float(np.ceil(float(height_mm) * 10 - _ROUNDING) / 10)


def size_cm(target: Target) -> tuple[float, float]:
    """Return the width and height of a screen or page; (0, 0) for a far target."""
    if target.kind == "far":
        return 0.0, 0.0
    if target.diagonal_in is not None and target.aspect is not None:
        return workstation.screen_size_cm(diagonal_in=target.diagonal_in, aspect=target.aspect)
    return float(target.width_cm or 0.0), float(target.height_cm or 0.0)


def centre_above_eye_cm(target: Target, *, stop_mm: float) -> float:
    """Return height of the centre of a target, from its centre or its top edge.

    A page without a tilt is held square to the line of sight, so its tilt depends on the centre:
    solved by iteration to a hundredth of a millimetre, and exactly where that does not settle.
    """
    if target.centre_above_eye_cm is not None:
        return target.centre_above_eye_cm
    half, top = size_cm(target)[1] / 2, float(target.top_above_eye_cm or 0.0)
    tilt = tilt_deg(target)
    if tilt is not None:
        return top - half * float(np.cos(np.radians(tilt)))
    reach = target.distance_cm + stop_mm / MM_PER_CM
    centre = top - half
    for _ in range(60):
        square_to_sight = np.sqrt(1.0 - min(1.0, (centre / reach) ** 2))
        moved, centre = centre, top - half * float(square_to_sight)
        if abs(moved - centre) < 0.001:
            return centre
    return _square_centre_cm(top_cm=top, half_cm=half, reach_cm=reach)


def _square_centre_cm(*, top_cm: float, half_cm: float, reach_cm: float) -> float:
    """Solve top - c = half sqrt(1 - (c / reach)^2) for the height c of a page: the lower root.

    >>> c = _square_centre_cm(top_cm=0.0, half_cm=20.0, reach_cm=17.6)
    >>> round(c, 3), round(20.0 * (1.0 - (c / 17.6) ** 2) ** 0.5, 3)
    (-13.213, 13.213)
    """
    flat = (half_cm / reach_cm) ** 2
    root = half_cm * float(np.sqrt(max(0.0, 1.0 + flat - (top_cm / reach_cm) ** 2)))
    return (top_cm - root) / (1.0 + flat)


def least_distance_cm(*, heights_cm: Sequence[float], offset_cm: float) -> float:
    """Return the nearest a target may be assumed, so that no height or place is refused.

    heights_cm: of its top edge and of its centre, as far as they are known, above the eyes.

    >>> round(least_distance_cm(heights_cm=(0.0, -15.0), offset_cm=60.0), 1)
    70.3
    """
    height = max((abs(one) for one in heights_cm), default=0.0)
    return max(float(np.hypot(height, offset_cm)) / REACH, NEAREST_CM)


def height_in_reach_cm(
    *, height_cm: float, half_cm: float, distance_cm: float, offset_cm: float
) -> float:
    """Return an assumed height, less far from the eyes where the distance leaves no room for it.

    half_cm: from that height down to the centre; 0 where it is that of the centre.

    >>> height_in_reach_cm(height_cm=-30.0, half_cm=0.0, distance_cm=25.0, offset_cm=0.0)
    -22.0
    """
    room = float(np.sqrt(max((REACH * distance_cm) ** 2 - offset_cm**2, 0.0)))
    return min(room, max(height_cm, half_cm - room)) + 0.0


def offset_in_reach_cm(
    *, offset_cm: float, heights_cm: Sequence[float], distance_cm: float
) -> float:
    """Return an assumed sideways place, to whole cm less far where there is no room for it.

    heights_cm: of what is seen there, against the eyes.

    >>> offset_in_reach_cm(offset_cm=-45.5, heights_cm=[-20.0], distance_cm=70.0)
    -45.5
    >>> offset_in_reach_cm(offset_cm=-45.5, heights_cm=[-20.0], distance_cm=50.0)
    -39.0
    """
    highest_cm = max(map(abs, heights_cm))
    room_cm = height_in_reach_cm(
        height_cm=abs(offset_cm), half_cm=0.0, distance_cm=distance_cm, offset_cm=highest_cm
    )
    if room_cm == abs(offset_cm):
        return offset_cm
    return math.copysign(math.floor(room_cm), offset_cm) + 0.0


def tilt_deg(target: Target) -> float | None:
    """Return the tilt of a target, top away; None is square to the sight, for a page."""
    if target.tilt_deg is None and target.kind == "screen":
        return 0.0
    return target.tilt_deg


def look_hours(activity: Activity) -> dict[str, float]:
    """Return hours a day on each target of an activity; shares within 0.01 of 1 count as 1."""
    total = sum(look.share for look in activity.looks)
    return {look.target: activity.hours * look.share / total for look in activity.looks}


def hours_on(name: str, activities: Iterable[Activity]) -> float:
    """Return hours a day on one target, over some activities."""
    return sum(look_hours(activity).get(name, 0.0) for activity in activities)


_NO_PLACE = {
    "distance_cm": "more than the height of its middle from eye level and its distance to the side",
    "eye_to_point_mm": "so far away that no part of it reaches the glasses",
}
"""What is allowed, in the words of the tape, by the field the geometry refuses."""


@contextmanager
def placing(number: int, target: Target) -> Iterator[None]:
    """Tell a refusal inside of the field of the case in which the target was given."""
    try:
        yield
    except InputRefusedError as refusal:
        at, allowed = f"targets.{number}", _NO_PLACE.get(refusal.field)
        if allowed is None:
            raise refusal.said_of(field=f"{at}.{refusal.field}") from None
        distance_cm = target.distance_cm
        raise InputRefusedError(
            field=f"{at}.distance_cm", value=distance_cm, allowed=allowed
        ) from None
