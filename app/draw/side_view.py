"""Draw the side view of a wearer at a target, as SVG text, for the pages and the sheets alike.

Lengths are cm, drawn true to scale; two postures to be compared are two heads on one body. The
picture carries no power: it may be turned towards the wearer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin, sqrt

from app.draw import svg
from app.draw.figure import DASHES, Frame, Glasses, Point, body, head, turned
from app.shell import theme
from engine.case import targets
from engine.case.model import Case, Target
from engine.case.scene import stop_mm_of
from engine.tables import Judgements
from engine.units import MM_PER_CM
from engine.wording import head_words, say

PANEL_W = 340.0
HEAD_LINES = 20.0
LINE = 21.0
"""Room for the words above a picture: a margin, and each line."""
BESIDE = 64.0
"""Room for the words at the right, beside the farthest thing."""
NOT_SHARP = "usable but not sharp"
NOT_CLEAR = "no head position makes it clear"
_SHORT = {NOT_SHARP: "usable, not sharp", NOT_CLEAR: "never clear"}
USUAL = Glasses()
LEAST_APART_DEG = 0.5
"""Heads nearer together than this are drawn as one."""
ROWS = ("top", "centre", "bottom")


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
        """Return where its top, centre or bottom is."""
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
        return head_words(self.chin_up_deg)

    @property
    def short(self) -> str:
        """The same where there is little room."""
        return _SHORT.get(self.says, self.says)


def side_view(
    *,
    target: Seen,
    others: tuple[Seen, ...] = (),
    posture: Posture,
    against: Posture | None = None,
    glasses: Glasses = USUAL,
    desk_cm: float | None = None,
    name: str = "side",
) -> str:
    """Return one panel: the head at a target, the gaze to its top, middle and bottom.

    Parameters
        against: another posture at it, dashed, on the same body.
        desk_cm: how far the desk is below the eyes; that of the judgements if not given.

    Returns SVG text with a title and a description that says in numbers what is drawn.
    """
    shown = [posture] if against is None else [posture, against]
    desk = Judgements.standard().desk_below_eye_cm if desk_cm is None else desk_cm
    frame, height = _fit(target, others, desk, len(shown))
    ink = theme.ACCENT if posture.chosen else theme.INK
    parts = [
        *body(frame.at, desk_cm=desk),
        *_eye_level(frame),
        *[_thing(frame, other, desk, quiet=True) for other in others if other.kind != "far"],
        *[_quiet_name(frame, other) for other in others if other.kind == "page"],
        *_fan(frame, target, posture),
        _thing(frame, target, desk, quiet=False),
        *head(frame.at, posture.pitch_deg, glasses, ink=ink, behind=False),
    ]
    if against is not None and abs(against.pitch_deg - posture.pitch_deg) >= LEAST_APART_DEG:
        parts += head(frame.at, against.pitch_deg, glasses, ink=theme.TODAY, behind=True)
    parts += [*headings([(one.heading, one.short, one.chosen) for one in shown])]
    parts += _labels(target, posture, height)
    said = "; ".join(f"{one.heading}, at {target.name}: {one.says}" for one in shown)
    return svg.document(
        parts,
        width=PANEL_W,
        height=height,
        title=said,
        description=describe(target, posture, against),
        name=name,
    )


def describe(target: Seen, posture: Posture, against: Posture | None = None) -> str:
    """Return the picture in words and numbers."""
    place = "below" if target.above_cm < 0 else "above"
    beside = "" if against is None else f" Dashed, {_whole(against)}"
    said = say(
        "draw_side",
        target=target.name,
        distance_cm=f"{target.distance_cm:.0f}",
        apart_cm=f"{abs(target.above_cm):.0f}",
        place=place,
    )
    return f"{said} {_whole(posture)}{beside}"


def _whole(posture: Posture) -> str:
    missing = [row for row in ROWS if row not in posture.clear_rows]
    clear = say("draw_side_all_clear")
    if missing:
        which = "draw_side_not_sharp" if posture.usable else "draw_side_not_clear"
        clear = say(which, rows=", ".join(missing))
    return f"{posture.heading}: {posture.says}. {clear}"


_ROOM_OF_HEADING = PANEL_W - 52
_WIDE, _WIDE_BOLD = 0.56, 0.64
"""Mean width of a letter over its size, in the widest usual font."""


def headings(lines: Sequence[tuple[str, str, bool]]) -> list[str]:
    """Return the words above a picture, a line a lens: its stroke, its name, what it gives."""
    parts = []
    sizes = [
        _ROOM_OF_HEADING / (13 * _WIDE * len(svg.cut(heading, 24)) + 15 * _WIDE_BOLD * len(says))
        for heading, says, _ in lines
    ]
    size = min([1.0, *sizes])
    for at, (heading, says, chosen) in enumerate(lines):
        first = at == 0
        ink = (theme.ACCENT if chosen else theme.INK) if first else theme.TODAY
        y = HEAD_LINES + at * LINE
        dashes = "" if first else DASHES
        named = svg.cut(heading, 24)
        parts += [
            svg.line((8, y - 4), (30, y - 4), stroke=ink, width=2.6, dashes=dashes),
            svg.words(named, x=36, y=y, size=13 * size),
            svg.words(says, x=PANEL_W - 8, y=y, size=15 * size, bold=True, fill=ink, anchor="end"),
        ]
    return parts


def _fit(target: Seen, others: tuple[Seen, ...], desk_cm: float, lines: int) -> tuple[Frame, float]:
    near = [thing for thing in (target, *others) if thing.kind != "far" and thing.ahead_cm < 130]
    ends = [thing.row(row) for thing in near for row in ("top", "bottom")]
    right = max([60.0, *[x for x, _ in ends]])
    top = max([16.0, *[y + 3.0 for _, y in ends]])
    bottom = min([-desk_cm - 8.0, *[y - 9.0 for _, y in ends]])
    left = -24.0
    scale = (PANEL_W - BESIDE) / (right - left)
    band = HEAD_LINES + lines * LINE - 8.0
    return Frame(scale, left, top, band), band + (top - bottom) * scale


def _eye_level(frame: Frame) -> list[str]:
    start, end = frame.at((6.0, 0.0)), (PANEL_W - 56.0, frame.at((0.0, 0.0))[1])
    return [
        svg.line(start, end, stroke=theme.RULE, width=0.8, dashes="4 4"),
        svg.words("eye level", x=PANEL_W - 4, y=end[1] + 4, size=11, anchor="end",
                  fill=theme.SOFT_INK),
    ]  # fmt: skip


def _thing(frame: Frame, thing: Seen, desk_cm: float, *, quiet: bool) -> str:
    if thing.kind == "far":
        return ""
    ends = [frame.at(thing.row("top")), frame.at(thing.row("bottom"))]
    ink = theme.RULE if quiet else theme.INK
    parts = []
    if thing.kind == "screen" and not quiet:
        back = (thing.ahead_cm + 1.2, thing.above_cm)
        foot = (thing.ahead_cm + 4.0, -desk_cm + 1.0)
        if foot[1] < back[1]:
            plate = [frame.at((foot[0] + aside, foot[1])) for aside in (-9.0, 8.0)]
            parts.append(svg.line(frame.at(back), frame.at(foot), stroke=theme.RULE, width=3.0))
            parts.append(svg.line(*plate, stroke=theme.RULE, width=3.0))
    parts.append(svg.line(*ends, stroke=ink, width=2.0 if quiet else 5.0))
    return "".join(parts)


def _quiet_name(frame: Frame, thing: Seen) -> str:
    """Return what the thin line is, above its end farthest from the wearer."""
    x, y = frame.at(max((thing.row("top"), thing.row("bottom"))))
    return svg.words(svg.cut(thing.name, 16), x=x + 3, y=y + 4, size=11, fill=theme.SOFT_INK)


def _fan(frame: Frame, target: Seen, posture: Posture) -> list[str]:
    eye = turned((0.0, 0.0), posture.pitch_deg)
    rows = ["centre"] if target.kind == "far" else list(ROWS)
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
    note = f"{svg.cut(target.name, 22)}, {target.distance_cm:.0f} cm"
    parts = [svg.words(note, x=PANEL_W - 6, y=height - 7, size=12, anchor="end")]
    if any(row not in posture.clear_rows for row in ROWS):
        dotted = "dotted: not sharp" if posture.usable else "dotted: not clear"
        parts.append(svg.words(dotted, x=PANEL_W - 6, y=height - 31, size=12, anchor="end"))
    return parts


def seen(target: Target, *, case: Case) -> Seen:
    """Return the target as the side view draws it, eye at the origin, head at zero.

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


def glasses_of(case: Case) -> Glasses:
    """Return how the lens of a case sits, with the lower of the two heights."""
    fit = case.fit
    return Glasses(fit.lens_depth_mm / 10, min(fit.heights_mm) / 10, fit.pantoscopic_deg)
