"""Draw the side view of a wearer at a target, as SVG text, for the pages and the sheets alike.

Lengths are cm, drawn true to scale; the head is our own simple outline, turned about the neck
pivot the engine uses. The picture carries no power: it may be turned towards the wearer.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

from app.draw import svg
from app.shell import theme
from app.shell.words import chin_words
from engine.case import targets
from engine.case.model import Case, Target
from engine.case.scene import stop_mm_of
from engine.tables import Judgements
from engine.units import MM_PER_CM

Point = tuple[float, float]

PANEL_W = 340.0
TOP_BAND = 44.0
PIVOT: Point = (-9.3, -4.8)
"""Neck pivot from the eye's centre of rotation, head at zero.

Chancey et al. 2007 and ANSUR II; 75 mm of it from memory.
"""
EYE_TO_LENS = 2.65
HEAD: list[Point] = [
    (1.8, 7.0), (2.1, 2.9), (0.6, 1.2), (1.0, -0.6), (5.6, -4.2), (4.9, -5.2), (2.1, -4.9),
    (3.6, -6.4), (2.3, -7.1), (3.3, -8.2), (1.8, -8.9), (3.2, -11.2), (0.9, -12.3), (-2.6, -11.2),
    (-6.6, -9.0), (-7.4, -6.4), (-12.0, -8.0), (-16.8, -3.4), (-17.8, 4.8), (-13.0, 12.0),
    (-4.6, 13.4),
]  # fmt: skip
"""Outline from the eye's centre of rotation, head at zero, facing right; drawn by eye."""


NOT_SHARP = "usable but not sharp"
NOT_CLEAR = "no head position makes it clear"


@dataclass(frozen=True)
class Seen:
    """A thing looked at, as the side view draws it.

    Attributes:
        name: as the user calls it.
        ahead_cm, above_cm: its centre from the eye, head at zero.
        height_cm: its size along its own face; 0 for a far thing.
        tilt_deg: top away from the wearer.
        distance_cm: as taped.
    """

    name: str
    kind: str
    ahead_cm: float
    above_cm: float
    height_cm: float
    tilt_deg: float
    distance_cm: float

    def row(self, name: str) -> Point:
        """Where its top, centre or bottom is."""
        half = {"top": 0.5, "centre": 0.0, "bottom": -0.5}[name] * self.height_cm
        tilt = radians(self.tilt_deg)
        return self.ahead_cm + half * sin(tilt), self.above_cm + half * cos(tilt)


@dataclass(frozen=True)
class Posture:
    """One way to hold the head at a target.

    Attributes:
        heading: whose posture it is ("With the office lens").
        chin_up_deg: head pitch; None where no posture makes the middle row clear.
        drawn_deg: the pitch to draw then (the free posture).
        clear_rows: the rows that are clear in some posture.
        usable: most of it can be used, sharp or not.
    """

    heading: str
    chin_up_deg: float | None
    drawn_deg: float
    clear_rows: tuple[str, ...] = ("top", "centre", "bottom")
    chosen: bool = True
    usable: bool = False

    @property
    def pitch_deg(self) -> float:
        """The pitch that is drawn."""
        return self.drawn_deg if self.chin_up_deg is None else self.chin_up_deg

    @property
    def says(self) -> str:
        """The posture in words and degrees."""
        if self.chin_up_deg is None:
            return NOT_SHARP if self.usable else NOT_CLEAR
        return chin_words(self.chin_up_deg)


@dataclass(frozen=True)
class _Frame:
    """Scale and origin of one panel."""

    scale: float
    left: float
    top: float

    def at(self, point: Point) -> Point:
        return (point[0] - self.left) * self.scale, TOP_BAND + (self.top - point[1]) * self.scale


def side_view(
    *,
    target: Seen,
    others: tuple[Seen, ...] = (),
    posture: Posture,
    pantoscopic_deg: float = 9.0,
    lens_depth_cm: float = 3.4,
    fitting_height_cm: float = 2.0,
    name: str = "side",
) -> str:
    """One panel: the head at a target, the gaze to its top, middle and bottom.

    Returns SVG text with a title and a description that says in numbers what is drawn.
    """
    frame, height = _fit(target, others)
    eye = turned((0.0, 0.0), posture.pitch_deg)
    parts = [
        _body(frame),
        *[_thing(frame, other, quiet=True) for other in others if other.kind != "far"],
        *[_quiet_name(frame, other) for other in others if other.kind == "page"],
        *_fan(frame, eye, target, posture),
        _thing(frame, target, quiet=False),
        _head(frame, posture, pantoscopic_deg, lens_depth_cm, fitting_height_cm),
        *_labels(target, posture, height),
    ]
    return svg.document(
        parts,
        width=PANEL_W,
        height=height,
        title=f"{posture.heading}, at {target.name}: {posture.says}",
        description=describe(target, posture),
        name=name,
    )


def describe(target: Seen, posture: Posture) -> str:
    """The picture in words and numbers."""
    place = "below" if target.above_cm < 0 else "above"
    missing = [row for row in ("top", "centre", "bottom") if row not in posture.clear_rows]
    clear = "Top, centre and bottom can be made clear."
    if missing:
        lead = "Usable but not sharp" if posture.usable else "Not clear in any head position"
        clear = f"{lead}: {', '.join(missing)}."
    return (
        f"Side view. {target.name} is {target.distance_cm:.0f} cm away, its centre "
        f"{abs(target.above_cm):.0f} cm {place} the eyes. "
        f"{posture.heading}: {posture.says}. {clear}"
    )


def turned(point: Point, chin_up_deg: float) -> Point:
    """A point of the head after the head has pitched about the neck pivot."""
    angle = radians(chin_up_deg)
    x, y = point[0] - PIVOT[0], point[1] - PIVOT[1]
    return (
        PIVOT[0] + x * cos(angle) - y * sin(angle),
        PIVOT[1] + x * sin(angle) + y * cos(angle),
    )


def _fit(target: Seen, others: tuple[Seen, ...]) -> tuple[_Frame, float]:
    near = [thing for thing in (target, *others) if thing.kind != "far" and thing.ahead_cm < 130]
    ends = [thing.row(row) for thing in near for row in ("top", "bottom")]
    right = max([60.0, *[x for x, _ in ends]]) + 9.0
    top = max([17.0, *[y + 3.0 for _, y in ends]])
    bottom = min([-30.0, *[y - 9.0 for _, y in ends]])
    left = -24.0
    scale = PANEL_W / (right - left)
    return _Frame(scale, left, top), TOP_BAND + (top - bottom) * scale + 6.0


def _body(frame: _Frame) -> str:
    neck = [(-4.4, -9.0), (-5.4, -17.0), (2.0, -23.0), (3.0, -60.0), (-23.0, -60.0),
            (-23.6, -26.0), (-17.6, -19.0), (-15.8, -7.0)]  # fmt: skip
    path = svg.smooth([frame.at(point) for point in neck])
    return f'<path d="{path}" fill="#eceae4" stroke="{theme.RULE}" stroke-width="1"/>'


def _head(
    frame: _Frame, posture: Posture, tilt_deg: float, depth_cm: float, height_cm: float
) -> str:
    pitch = posture.pitch_deg
    outline = svg.smooth([frame.at(turned(point, pitch)) for point in HEAD])
    ink = theme.ACCENT if posture.chosen else theme.INK
    tilt = radians(tilt_deg)
    above, below = depth_cm - height_cm, height_cm
    upper = turned((EYE_TO_LENS + above * sin(tilt), above * cos(tilt)), pitch)
    lower = turned((EYE_TO_LENS - below * sin(tilt), -below * cos(tilt)), pitch)
    ear = turned((-8.2, 0.4), pitch)
    eye = frame.at(turned((0.3, 0.0), pitch))
    return "".join(
        [
            f'<path d="{outline}" fill="#ffffff" stroke="{ink}" stroke-width="2"/>',
            _wedge(frame, pitch, ink),
            svg.line(frame.at(upper), frame.at(ear), stroke=ink, width=1.6),
            svg.line(frame.at(upper), frame.at(lower), stroke=ink, width=3.4),
            f'<circle cx="{svg.number(eye[0])}" cy="{svg.number(eye[1])}" r="2.2" fill="{ink}"/>',
        ]
    )


def _wedge(frame: _Frame, pitch_deg: float, ink: str) -> str:
    """The head's pitch as an angle between level and the line of the head."""
    tip = (-15.0, 4.4)
    reach = 13.5
    angle = radians(pitch_deg)
    level = (tip[0] + reach, tip[1])
    head = (tip[0] + reach * cos(angle), tip[1] + reach * sin(angle))
    return svg.shape(
        [frame.at(tip), frame.at(level), frame.at(head)], fill=theme.ACCENT_WASH, stroke="none"
    ) + "".join(
        [
            svg.line(frame.at(tip), frame.at(level), stroke=theme.RULE, width=0.8, dashes="2 2"),
            svg.line(frame.at(tip), frame.at(head), stroke=ink, width=1.2),
        ]
    )


def _thing(frame: _Frame, thing: Seen, *, quiet: bool) -> str:
    if thing.kind == "far":
        return ""
    ends = [frame.at(thing.row("top")), frame.at(thing.row("bottom"))]
    ink = theme.RULE if quiet else theme.INK
    parts = [svg.line(ends[0], ends[1], stroke=ink, width=2.0 if quiet else 4.5)]
    if thing.kind == "screen" and not quiet:
        foot = (thing.ahead_cm + 3.0, thing.row("bottom")[1] - 4.0)
        back = (thing.ahead_cm + 1.2, thing.above_cm)
        parts.append(svg.line(frame.at(back), frame.at(foot), stroke=theme.RULE, width=2.0))
    return "".join(parts)


def _quiet_name(frame: _Frame, thing: Seen) -> str:
    """What the thin line is, under its end nearest to the wearer."""
    x, y = frame.at(min((thing.row("top"), thing.row("bottom"))))
    name = thing.name if len(thing.name) <= 16 else thing.name[:15] + "…"
    return svg.words(name, x=x - 4, y=y + 12, size=11, fill=theme.SOFT_INK)


def _fan(frame: _Frame, eye: Point, target: Seen, posture: Posture) -> list[str]:
    rows = ["centre"] if target.kind == "far" else ["top", "centre", "bottom"]
    lines = []
    for row in rows:
        end = target.row(row)
        length = hypot(end[0] - eye[0], end[1] - eye[1])
        reach = min(1.0, 120.0 / max(length, 1.0))
        stop = (eye[0] + (end[0] - eye[0]) * reach, eye[1] + (end[1] - eye[1]) * reach)
        clear = row in posture.clear_rows
        ink = theme.COMFORTABLE if clear else theme.INK
        dashes = "" if clear else "1.5 4"
        lines.append(svg.line(frame.at(eye), frame.at(stop), stroke=ink, width=1.3, dashes=dashes))
    return lines


def _labels(target: Seen, posture: Posture, height: float) -> list[str]:
    ink = theme.ACCENT if posture.chosen else theme.INK
    parts = [
        svg.words(posture.heading, x=8, y=16, size=13),
        svg.words(posture.says, x=8, y=36, size=18, bold=True, fill=ink),
    ]
    name = target.name if len(target.name) <= 22 else target.name[:21] + "…"
    note = f"{name}, {target.distance_cm:.0f} cm"
    parts.append(svg.words(note, x=PANEL_W - 6, y=height - 7, size=12, anchor="end"))
    if any(row not in posture.clear_rows for row in ("top", "centre", "bottom")):
        dotted = "dotted: not sharp" if posture.usable else "dotted: not clear"
        parts.append(svg.words(dotted, x=PANEL_W - 6, y=height - 23, size=12, anchor="end"))
    return parts


def seen(target: Target, *, case: Case) -> Seen:
    """The target as the side view draws it, eye at the origin, head at zero.

    The taped distance runs to the lens plane, ahead of the centre of rotation. A target off to the
    side is drawn at its horizontal distance; a page without a tilt is held square to the sight.
    """
    stop_mm = stop_mm_of(case, judgements=Judgements.standard())
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
