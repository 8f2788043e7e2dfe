"""Draw the map of screen places: about how much of the screen is comfortable at each place.

SVG text. Bands are told apart by pattern and lightness, their limits are lines with figures; where
the screen may go is outlined and the rest is veiled. Between four neighbouring places the share is
read off by straight lines along the sides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from app.draw import svg
from app.shell import theme
from engine.case.model import STEEPEST
from engine.desk.region import Column
from engine.wording import number, say

LEVELS = (0.1, 0.5, 0.9)
"""Limits of the bands, as shares of the screen."""
BAND_WORDS = (
    "under 10 %",
    "10 to 50 %",
    "50 to 90 %",
    "90 % and more: comfortable",
)
VEIL = 0.62
MARGIN_CM = 6.0
LABEL_CLEAR_PX = 26.0
WORDS = 14.0
"""Size of the words, which a phone shows at four fifths."""


@dataclass(frozen=True)
class Mark:
    """A place on the map.

    Attributes:
        kind: now, best or blocked.
    """

    kind: str
    distance_cm: float
    height_cm: float
    says: str


def desk_map(
    *,
    heights_cm: Floats,
    distances_cm: Floats,
    share: Floats,
    columns: Sequence[Column],
    marks: Sequence[Mark],
    title: str,
    description: str,
) -> str:
    """Return the whole picture.

    heights_cm, distances_cm: rising. share: (heights, distances). marks: the present place first.
    """
    name = "deskmap"
    shown, frame = _cropped(heights_cm, distances_cm, share, columns, marks)
    height = frame.at(0.0, frame.lowest)[1] + BOTTOM
    left, top = frame.at(frame.nearest, frame.highest)
    right, bottom = frame.at(frame.farthest, frame.lowest)
    clip = (
        f'<clipPath id="{name}-clip"><rect x="{svg.number(left)}" y="{svg.number(top)}" '
        f'width="{svg.number(right - left)}" height="{svg.number(bottom - top)}"/></clipPath>'
    )
    parts = [
        f"<defs>{clip}{patterns(name)}</defs>",
        f'<g clip-path="url(#{name}-clip)">',
        *_bands(frame, *shown, name),
        _veil(frame, columns),
        *_lines(frame, *shown),
        _too_steep(frame),
        _outline(frame, columns),
        "</g>",
        *_axes(frame),
        *_level_figures(frame, *shown, marks),
        *_marks(frame, marks),
    ]
    return svg.document(
        parts, width=WIDTH, height=height, title=title, description=description, name=name
    )


def key(*, marks: Sequence[Mark] = (), region: bool = True) -> str:
    """Give what the bands, the outline and the marks mean, as HTML that wraps on a narrow page."""
    bands = [
        (f"{patterns(f'deskkey{at}')}{_swatch(fill(at, f'deskkey{at}'))}", words)
        for at, words in enumerate(BAND_WORDS)
    ]
    lines = [("", say("desk_about_what_share_screen")), *reversed(bands)]
    if region:
        outline = (
            f'<rect x="2" y="2" width="30" height="12" fill="none" stroke="{theme.ACCENT}" '
            f'stroke-width="3"/>'
        )
        lines.append((outline, "outlined: where it may go"))
    words = {"best": "best allowed place", "blocked": "would work, but is not allowed"}
    lines += [(_sign(mark.kind, (17, 8)), words[mark.kind]) for mark in marks if mark.kind in words]
    said = "".join(f"<li>{_little(drawn)}<span>{svg.escaped(text)}</span></li>"
                   for drawn, text in lines)  # fmt: skip
    return f'<ul class="lg-key">{said}</ul>'


def _little(drawn: str) -> str:
    if not drawn:
        return ""
    ground = f'<rect width="34" height="16" fill="{theme.PAPER}"/>'
    return (
        f'<svg width="34" height="16" viewBox="0 0 34 16" aria-hidden="true">{ground}{drawn}</svg>'
    )


def _swatch(filled: str) -> str:
    return (
        f'<rect x="2" y="1" width="30" height="14" fill="{filled}" stroke="{theme.INK}" '
        f'stroke-width="1.2"/>'
    )


def patterns(name: str) -> str:
    """Return dots for the second band and stripes for the third, under ids of this picture."""
    return (
        f'<pattern id="{name}-band1" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<rect width="8" height="8" fill="#ffffff"/>'
        f'<circle cx="4" cy="4" r="1.1" fill="{theme.COMFORTABLE}"/></pattern>'
        f'<pattern id="{name}-band2" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="7" height="7" fill="#dbe7e4"/>'
        f'<line x1="2" y1="0" x2="2" y2="7" stroke="{theme.COMFORTABLE}" stroke-width="1.8"/>'
        f"</pattern>"
    )


def fill(band: int, name: str) -> str:
    """Return what fills a band."""
    return (theme.PAPER, f"url(#{name}-band1)", f"url(#{name}-band2)", theme.COMFORTABLE)[band]


def _cropped(
    heights: Floats,
    distances: Floats,
    share: Floats,
    columns: Sequence[Column],
    marks: Sequence[Mark],
) -> tuple[tuple[Floats, Floats, Floats], Frame]:
    """Return the part of the map round the places that matter, on one scale both ways."""
    seen = [mark.height_cm for mark in marks] + [c.low_cm for c in columns]
    seen += [c.high_cm for c in columns]
    low = max(float(heights[0]), min([-42.0, *[one - MARGIN_CM for one in seen]]))
    high = min(float(heights[-1]), max([6.0, *[one + MARGIN_CM for one in seen]]))
    rows = (heights >= low - 2.0) & (heights <= high + 2.0)
    near, far = float(distances[0]), float(distances[-1])
    scale = (WIDTH - LEFT - RIGHT) / (far - near)
    return (heights[rows], distances, share[rows]), Frame(scale, near, high, low, far)


def _bands(frame: Frame, heights: Floats, distances: Floats, share: Floats, name: str) -> list[str]:
    """Return each band over the one below it."""
    parts = []
    for band, level in enumerate(LEVELS, start=1):
        path = "".join(area(frame, heights, distances, share, level))
        parts.append(f'<path d="{path}" fill="{fill(band, name)}" shape-rendering="crispEdges"/>')
    return parts


def _lines(frame: Frame, heights: Floats, distances: Floats, share: Floats) -> list[str]:
    """Return the line round each band, over the veil: it must be seen everywhere."""
    parts = []
    for level in LEVELS:
        path = "".join(
            f"M{pair(start)}L{pair(end)}"
            for start, end in contour(frame, heights, distances, share, level)
        )
        parts.append(f'<path d="{path}" fill="none" stroke="{theme.INK}" stroke-width="1.3"/>')
    return parts


def _level_figures(
    frame: Frame, heights: Floats, distances: Floats, share: Floats, marks: Sequence[Mark]
) -> list[str]:
    """Return the figure of each line, where it is clear of marks and of the other figures."""
    taken = [frame.at(mark.distance_cm, mark.height_cm) for mark in marks]
    parts = []
    for level in LEVELS:
        middles = [
            ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            for a, b in contour(frame, heights, distances, share, level)
        ]
        found = [point for point in middles if frame.inside(point)]
        if not found:
            continue

        def room(point: Point) -> float:
            return min([hypot(point[0] - x, point[1] - y) for x, y in taken], default=999.0)

        where = max(found, key=lambda point: min(room(point), 2 * LABEL_CLEAR_PX))
        if room(where) < LABEL_CLEAR_PX:
            continue
        taken.append(where)
        text = f"{100 * level:.0f} %"
        parts.append(
            svg.words(text, x=where[0], y=where[1] + 4, size=WORDS, anchor="middle", bold=True)
        )
    return parts


def _ring(frame: Frame, columns: Sequence[Column]) -> list[Point]:
    upper = [frame.at(column.distance_cm, column.high_cm) for column in columns]
    lower = [frame.at(column.distance_cm, column.low_cm) for column in columns]
    return upper + lower[::-1]


def _veil(frame: Frame, columns: Sequence[Column]) -> str:
    """Draw a veil over the map, with a hole where the screen may go."""
    left, top = frame.at(frame.nearest, frame.highest)
    right, bottom = frame.at(frame.farthest, frame.lowest)
    ring = _ring(frame, columns)
    hole = f"M{'L'.join(pair(point) for point in ring)}Z" if ring else ""
    whole = f"M{pair((left, top))}H{svg.number(right)}V{svg.number(bottom)}H{svg.number(left)}Z"
    return (
        f'<path d="{whole}{hole}" fill="{theme.PAPER}" fill-opacity="{VEIL}" fill-rule="evenodd"/>'
    )


def _outline(frame: Frame, columns: Sequence[Column]) -> str:
    ring = _ring(frame, columns)
    if not ring:
        return ""
    return svg.shape(ring, stroke=theme.PAPER, width=5.5) + svg.shape(
        ring, stroke=theme.ACCENT, width=3.0
    )


def _too_steep(frame: Frame) -> str:
    """Return the corner below the steepest line of sight, where nothing was computed."""
    edge = -STEEPEST * frame.nearest
    if frame.lowest >= edge:
        return ""
    meets = -frame.lowest / STEEPEST
    corner = [
        frame.at(frame.nearest, edge),
        frame.at(meets, frame.lowest),
        frame.at(frame.nearest, frame.lowest),
    ]
    return svg.shape(corner, fill=theme.PAPER, stroke=theme.RULE, dashes="2 3")


def _axes(frame: Frame) -> list[str]:
    left, top = frame.at(frame.nearest, frame.highest)
    right, bottom = frame.at(frame.farthest, frame.lowest)
    parts = [
        svg.shape([(left, top), (right, top), (right, bottom), (left, bottom)], width=1.2),
        svg.words("centre against the eyes, cm", x=4, y=14, size=WORDS),
        svg.words("distance, cm", x=right, y=bottom + 33, size=WORDS, anchor="end"),
    ]
    for distance in range(int(frame.nearest), int(frame.farthest) + 1, 10):
        x, _ = frame.at(float(distance), 0.0)
        parts.append(svg.line((x, bottom), (x, bottom + 4)))
        anchor = "end" if distance == int(frame.farthest) else "middle"
        parts.append(svg.words(distance, x=x, y=bottom + 18, size=WORDS, anchor=anchor))
    lowest = int(np.ceil(frame.lowest / 10.0)) * 10
    for height in range(lowest, int(frame.highest) + 1, 10):
        _, y = frame.at(0.0, float(height))
        parts.append(svg.line((left - 4, y), (left, y)))
        text = number(height, signed=True)
        parts.append(svg.words(text, x=left - 6, y=y + 4, size=WORDS, anchor="end"))
    if frame.lowest < 0.0 < frame.highest:
        _, y = frame.at(0.0, 0.0)
        parts.append(svg.line((left, y), (right, y), width=1.0, dashes="6 4"))
        parts.append(svg.words("eye level", x=right - 5, y=y - 4, size=WORDS, anchor="end"))
    return parts


def _marks(frame: Frame, marks: Sequence[Mark]) -> Iterable[str]:
    if not marks:
        return []
    first = _clamped(frame, marks[0])
    parts = []
    for mark in marks[1:]:
        where = _clamped(frame, mark)
        if mark.kind != "blocked" and hypot(where[0] - first[0], where[1] - first[1]) > 16:
            parts.append(svg.line(first, where, stroke=theme.PAPER, width=4.5))
            parts.append(svg.line(first, where, stroke=theme.ACCENT, width=2.0, dashes="5 3"))
    for mark in marks:
        parts.append(_sign(mark.kind, _clamped(frame, mark)))
        parts.append(_said(frame, mark, _clamped(frame, marks[0])))
    return parts


def _said(frame: Frame, mark: Mark, first: Point) -> str:
    """Return the words of a mark: beside the present place, below or above the others."""
    x, y = _clamped(frame, mark)
    if mark.kind == "now":
        right = x < WIDTH * 0.8
        anchor, x = ("start", x + 11) if right else ("end", x - 11)
        return svg.words(mark.says, x=x, y=y + 4.5, size=WORDS, bold=True, anchor=anchor)
    bottom = frame.at(0.0, frame.lowest)[1]
    below = y >= first[1] - 1 and y + 24 < bottom
    x = min(max(x, LEFT + 45), WIDTH - RIGHT - 45)
    return svg.words(
        mark.says, x=x, y=y + (24 if below else -14), size=WORDS, bold=True, anchor="middle"
    )


def _clamped(frame: Frame, mark: Mark) -> Point:
    """Return where a place is on the map, or its nearest edge."""
    distance = min(max(mark.distance_cm, frame.nearest + 1), frame.farthest - 1)
    height = min(max(mark.height_cm, frame.lowest + 1), frame.highest - 1)
    return frame.at(distance, height)


def _sign(kind: str, where: Point) -> str:
    x, y = where
    if kind == "now":
        return (
            f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="6.5" fill="{theme.INK}" '
            f'stroke="{theme.PAPER}" stroke-width="2.5"/>'
        )
    if kind == "blocked":
        ends = (((x - 6, y - 6), (x + 6, y + 6)), ((x - 6, y + 6), (x + 6, y - 6)))
        return "".join(
            svg.line(*end, stroke=colour, width=wide)
            for colour, wide in ((theme.PAPER, 6.0), (theme.INK, 3.0))
            for end in ends
        )
    reach = 8.0
    diamond = [(x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)]
    return svg.shape(diamond, stroke=theme.PAPER, width=6) + svg.shape(
        diamond, fill=theme.PAPER, stroke=theme.ACCENT, width=3
    )


Floats = NDArray[np.float64]
Point = tuple[float, float]

LEFT, RIGHT, TOP, BOTTOM = 40.0, 8.0, 24.0, 38.0
WIDTH = 400.0


@dataclass(frozen=True)
class Frame:
    """Scale and edges of the part of the map that is drawn, in cm."""

    scale: float
    nearest: float
    highest: float
    lowest: float
    farthest: float

    def at(self, distance: float, height: float) -> Point:
        """Return a place in the picture's own units."""
        x = LEFT + (distance - self.nearest) * self.scale
        return x, TOP + (self.highest - height) * self.scale

    def inside(self, point: Point) -> bool:
        """Tell what is far enough from the edges and the corner too steep to tape for a figure."""
        x, y = point
        right, bottom = self.at(self.farthest, self.lowest)
        distance = self.nearest + (x - LEFT) / self.scale
        height = self.highest - (y - TOP) / self.scale
        if -height > STEEPEST * distance - 3.0:
            return False
        return LEFT + 20 <= x <= right - 14 and TOP + 12 <= y <= bottom - 12


def pair(point: Point) -> str:
    """Return a point as path data."""
    return f"{svg.number(point[0])} {svg.number(point[1])}"


def area(
    frame: Frame, heights: Floats, distances: Floats, share: Floats, level: float
) -> Iterator[str]:
    """Yield the area at or above a level: whole cells in runs, cut cells by their polygon."""
    above = share >= level
    count = above[:-1, :-1].astype(int) + above[1:, :-1] + above[:-1, 1:] + above[1:, 1:]
    for row in range(len(heights) - 1):
        start = None
        for column in range(len(distances)):
            whole = column < len(distances) - 1 and count[row, column] == 4
            if whole and start is None:
                start = column
            if not whole and start is not None:
                left, top = frame.at(distances[start], heights[row + 1])
                right, bottom = frame.at(distances[column], heights[row])
                yield f"M{pair((left, top))}H{svg.number(right)}V{svg.number(bottom)}"
                yield f"H{svg.number(left)}Z"
                start = None
        for column in np.flatnonzero((count[row] > 0) & (count[row] < 4)):
            points = _cut(frame, heights, distances, share, row, int(column), level)
            yield "M" + "L".join(pair(point) for point in points) + "Z"


def _cut(
    frame: Frame,
    heights: Floats,
    distances: Floats,
    share: Floats,
    row: int,
    column: int,
    level: float,
) -> list[Point]:
    """Return the part of one cell at or above a level, by straight lines between its corners."""
    corners = ((row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column))
    points: list[Point] = []
    for here, there in zip(corners, (*corners[1:], corners[0]), strict=True):
        a, b = float(share[here]), float(share[there])
        if a >= level:
            points.append(frame.at(distances[here[1]], heights[here[0]]))
        if (a >= level) != (b >= level):
            points.append(_crossing(frame, heights, distances, here, there, (level - a) / (b - a)))
    return points


def _crossing(
    frame: Frame,
    heights: Floats,
    distances: Floats,
    here: tuple[int, int],
    there: tuple[int, int],
    part: float,
) -> Point:
    distance = distances[here[1]] + part * (distances[there[1]] - distances[here[1]])
    height = heights[here[0]] + part * (heights[there[0]] - heights[here[0]])
    return frame.at(float(distance), float(height))


def contour(
    frame: Frame, heights: Floats, distances: Floats, share: Floats, level: float
) -> Iterator[tuple[Point, Point]]:
    """Yield the line at a level, in straight pieces."""
    above = share >= level
    count = above[:-1, :-1].astype(int) + above[1:, :-1] + above[:-1, 1:] + above[1:, 1:]
    for row, column in np.argwhere((count > 0) & (count < 4)):
        corners = ((row, column), (row, column + 1), (row + 1, column + 1), (row + 1, column))
        crossings = [
            _crossing(frame, heights, distances, here, there,
                      (level - share[here]) / (share[there] - share[here]))
            for here, there in zip(corners, (*corners[1:], corners[0]), strict=True)
            if above[here] != above[there]
        ]  # fmt: skip
        yield from zip(crossings[::2], crossings[1::2], strict=True)
