"""Draw a wearer, from the side and from above: head, glasses, shoulders. SVG text; drawn by eye.

Lengths are cm. From the side x is ahead and y up, from the eye's centre of rotation, head at zero;
from above x is to the wearer's right and y ahead. The neck pivot is the one the engine uses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, radians, sin

from app.draw import svg
from app.shell import theme

Point = tuple[float, float]
ToPicture = Callable[[Point], Point]
"""From cm to the units of a picture."""


@dataclass(frozen=True)
class Frame:
    """Scale and origin of one panel: `left` and `top` in cm, `band` in units of the picture."""

    scale: float
    left: float
    top: float
    band: float

    def at(self, point: Point) -> Point:
        """Return where a point in cm is drawn."""
        return (point[0] - self.left) * self.scale, self.band + (self.top - point[1]) * self.scale


PIVOT: Point = (-9.3, -4.8)
"""Neck pivot from the eye's centre of rotation, head at zero.

Chancey et al. 2007 and ANSUR II; 75 mm of it from memory.
"""
EYE_TO_LENS = 2.65
DASHES = "5 3.5"
SKIN, CLOTH, SLEEVE = "#ffffff", "#eceae4", "#e0ddd4"

HEAD: list[Point] = [
    (-13.6, -6.6), (-15.4, -4.2), (-16.6, -0.6), (-17.0, 3.2), (-16.0, 7.0), (-13.4, 10.2),
    (-9.8, 11.9), (-5.8, 12.1), (-2.0, 10.9), (0.6, 8.6), (1.9, 5.6), (2.3, 3.2), (2.1, 1.6),
    (1.7, 0.4), (2.1, -0.7), (2.9, -2.2), (3.9, -3.9), (4.1, -4.6), (3.5, -5.2), (2.4, -5.5),
    (2.3, -6.2), (2.7, -7.0), (2.0, -7.6), (2.4, -8.3), (1.6, -9.1), (1.5, -9.9), (1.8, -11.0),
    (1.0, -12.1), (-0.6, -12.5), (-3.4, -11.7), (-6.2, -10.0), (-7.8, -8.2), (-8.3, -6.4),
]  # fmt: skip
"""Outline from the nape over the crown and the face to the jaw, facing right."""
_EAR: list[Point] = [(-8.2, 1.8), (-7.1, 0.6), (-7.8, -1.7), (-8.9, -2.6), (-9.5, -0.9),
                     (-9.4, 1.1)]  # fmt: skip
_BROW: list[Point] = [(-0.6, 1.9), (0.9, 2.1), (1.7, 1.6)]
_NECK_FRONT: tuple[list[Point], list[Point]] = ([(-5.2, -10.6)], [(-4.6, -15.5), (-3.0, -19.6)])
_NECK_BACK: tuple[list[Point], list[Point]] = ([(-13.7, -6.4)], [(-15.0, -13.2), (-17.0, -19.0)])
_TRUNK: list[Point] = [
    (-17.0, -18.4), (-19.4, -21.6), (-21.4, -29.0), (-21.2, -38.0), (-20.2, -48.0), (-20.4, -58.0),
    (-21.4, -72.0), (0.8, -72.0), (0.0, -60.0), (-0.6, -50.0), (0.6, -41.0), (1.4, -33.0),
    (0.4, -26.0), (-1.2, -22.0), (-3.0, -19.4),
]  # fmt: skip
SHOULDER_DOWN = 21.5
ARM_DESK = 51.2
"""Where the arm was drawn: its shoulder, and the desk it rests on, in cm below the eyes."""
_ARM: list[Point] = [
    (-13.0, -21.5), (-8.0, -21.8), (-5.2, -26.0), (-4.6, -36.0), (-2.2, -45.0), (6.0, -47.2),
    (18.0, -48.2), (26.0, -48.0), (30.5, -48.6), (30.2, -49.6), (24.0, -50.4), (8.0, -51.0),
    (-5.0, -51.2), (-10.2, -46.5), (-12.4, -36.0), (-14.2, -27.0),
]  # fmt: skip


NECK_PARTS = 3
"""How many of the parts of a `head` are its neck; they come first."""


@dataclass(frozen=True)
class Glasses:
    """How the lens sits: depth and fitting height in cm, pantoscopic tilt in degrees."""

    depth_cm: float = 3.4
    height_cm: float = 2.0
    tilt_deg: float = 9.0


def turned(point: Point, chin_up_deg: float) -> Point:
    """Give a point of the head, from the side, after the head has pitched about the neck pivot."""
    return _about(PIVOT, point, chin_up_deg)


def _about(pivot: Point, point: Point, left_deg: float) -> Point:
    angle = radians(left_deg)
    x, y = point[0] - pivot[0], point[1] - pivot[1]
    return pivot[0] + x * cos(angle) - y * sin(angle), pivot[1] + x * sin(angle) + y * cos(angle)


def body(at: ToPicture, *, desk_cm: float) -> list[str]:
    """Draw trunk, arm and desk from the side. desk_cm: how far the desk is below the eyes."""
    grow = (desk_cm - SHOULDER_DOWN) / (ARM_DESK - SHOULDER_DOWN)
    arm = [(x, -SHOULDER_DOWN + (y + SHOULDER_DOWN) * grow) for x, y in _ARM]
    look = {"stroke": theme.RULE, "width": 1.2}
    return [
        svg.path(svg.through([at(point) for point in _TRUNK]), fill=CLOTH, **look),
        svg.line(at((14.0, -desk_cm)), at((400.0, -desk_cm)), stroke=theme.RULE, width=4.0),
        svg.path(svg.through([at(point) for point in arm]), fill=SLEEVE, **look),
    ]


def head(at: ToPicture, pitch_deg: float, glasses: Glasses, *, ink: str, behind: bool) -> list[str]:
    """Draw head, neck and glasses from the side. behind: dashed, over the other, not filled."""

    def placed(points: Sequence[Point]) -> list[Point]:
        return [at(turned(point, pitch_deg)) for point in points]

    dashes, width = (DASHES, 1.8) if behind else ("", 2.0)
    fill = "none" if behind else SKIN
    front, back = (
        [*placed(upper), *(at(point) for point in lower)]
        for upper, lower in (_NECK_FRONT, _NECK_BACK)
    )
    look = {"stroke": ink, "width": width, "dashes": dashes}
    parts = [] if behind else [svg.shape([*front, *reversed(back)], fill=SKIN, stroke="none")]
    parts += [svg.path(svg.through(line, closed=False), **look) for line in (front, back)]
    parts.append(svg.path(svg.through(placed(HEAD), closed=False), fill=fill, **look))
    tilt = radians(glasses.tilt_deg)
    above, below = glasses.depth_cm - glasses.height_cm, glasses.height_cm
    upper = (EYE_TO_LENS + above * sin(tilt), above * cos(tilt))
    lower = (EYE_TO_LENS - below * sin(tilt), -below * cos(tilt))
    upper, lower, ear, eye = placed([upper, lower, (-8.2, 1.0), (0.5, 0.0)])
    thin = {"stroke": ink, "width": 1.2, "dashes": dashes}
    return [
        *parts,
        svg.path(svg.through(placed(_EAR)), **thin),
        svg.path(svg.through(placed(_BROW), closed=False), **thin),
        svg.line(upper, ear, stroke=ink, width=1.2, dashes=dashes),
        svg.line(upper, lower, stroke=ink, width=3.2),
        f'<circle cx="{svg.number(eye[0])}" cy="{svg.number(eye[1])}" r="2.2" fill="{ink}"/>',
    ]


_NECK_ABOVE: Point = (0.0, PIVOT[0])
_SHOULDERS: list[Point] = [
    (0.0, -2.6), (9.0, -3.6), (17.0, -5.2), (22.2, -9.5), (22.6, -14.5), (18.5, -18.6),
    (9.0, -21.6), (0.0, -22.4),
]  # fmt: skip
_ARM_ABOVE: list[Point] = [
    (22.4, -11.0), (24.4, -4.0), (22.6, 6.0), (18.0, 18.0), (13.6, 26.5), (11.2, 29.6),
    (8.8, 28.6), (9.4, 24.5), (12.8, 15.0), (15.8, 5.0), (16.6, -3.0), (17.6, -9.0),
]  # fmt: skip
_HEAD_ABOVE: list[Point] = [
    (0.0, 5.4), (1.2, 3.4), (2.6, 2.2), (5.2, 0.7), (6.8, -2.6), (7.5, -7.0), (7.2, -11.2),
    (5.4, -14.9), (2.6, -16.8), (0.0, -17.2),
]  # fmt: skip
_EAR_ABOVE: list[Point] = [(7.3, -5.8), (8.5, -6.8), (8.3, -8.6), (7.2, -9.0)]
_FRONT: list[Point] = [(-7.0, 1.4), (-4.0, 2.6), (0.0, 2.9), (4.0, 2.6), (7.0, 1.4)]


def _both_sides(half: Sequence[Point]) -> list[Point]:
    """Return a closed outline from its right half, which starts and ends in the middle."""
    return [*half, *((-x, y) for x, y in reversed(half[1:-1]))]


def shoulders_above(at: ToPicture) -> list[str]:
    """Draw shoulders and arms from above."""
    look = {"stroke": theme.RULE, "width": 1.2}
    arms = [[(side * x, y) for x, y in _ARM_ABOVE] for side in (1.0, -1.0)]
    return [
        svg.path(svg.through([at(point) for point in _both_sides(_SHOULDERS)]), fill=CLOTH, **look),
        *(svg.path(svg.through([at(point) for point in arm]), fill=SLEEVE, **look) for arm in arms),
    ]


def eyes_above(turn_right_deg: float) -> Point:
    """Return where the middle of the eyes is from above, after the head has turned."""
    return _about(_NECK_ABOVE, (0.0, 0.0), -turn_right_deg)


def head_above(at: ToPicture, turn_right_deg: float, *, ink: str, behind: bool) -> list[str]:
    """Draw head and glasses from above. behind: dashed, over the other head, not filled."""

    def placed(points: Sequence[Point]) -> list[Point]:
        return [at(_about(_NECK_ABOVE, point, -turn_right_deg)) for point in points]

    dashes = DASHES if behind else ""
    look = {"stroke": ink, "width": 1.8, "dashes": dashes}
    fill = "none" if behind else SKIN
    parts = [svg.path(svg.through(placed(_both_sides(_HEAD_ABOVE))), fill=fill, **look)]
    for side in (1.0, -1.0):
        temple = placed([(side * 7.0, 1.4), (side * 7.7, -6.8)])
        ear = placed([(side * x, y) for x, y in _EAR_ABOVE])
        parts.append(svg.path(svg.through(ear, closed=False), fill=fill, stroke=ink, width=1.2))
        parts.append(svg.line(*temple, stroke=ink, width=1.2, dashes=dashes))
    front = svg.through(placed(_FRONT), closed=False)
    return [*parts, svg.path(front, stroke=ink, width=3.0)]
