"""Draw the lens as the wearer looks through it, as SVG text.

It shows bands of added power, the limits of the clear zone, the frame, and where on the lens each
target is seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from app.draw import svg
from app.shell import theme
from engine.answer.options import lens_of_option
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.case.scene import wearers_of
from engine.desk.sight import lens_points
from engine.tables import Judgements
from engine.wording import number, say

WIDTH = 360.0
MARGIN = 8.0
BAND_D = 0.25
BANDS = ("#ffffff", "#eef3f1", "#dbe7e4", "#c8dbd8", "#b5cfcc", "#a2c3c1", "#8fb7b6", "#7cabab")
"""Light to dark with added power; the labels carry the numbers."""
CONTOUR = "#5d8f8f"
ZONE_LIMITS_D = (0.5, 1.0)
ROW_SYMBOLS = {"top": "▲", "centre": "●", "bottom": "▼"}
NOT_CLEAR_SYMBOLS = {"top": "△", "centre": "○", "bottom": "▽"}
LETTERS = "ABCDEFGHIJKL"
LEGEND = (
    say("draw_lens_power", band_d=BAND_D),
    say(
        "draw_lens_astigmatism",
        some_d=f"{min(ZONE_LIMITS_D):.2f}",
        much_d=f"{max(ZONE_LIMITS_D):.2f}",
    ),
    say("draw_lens_rows", **ROW_SYMBOLS),
)
WORDS = 13.0
"""Size of the words, which a phone shows at four fifths."""
TOP = 42.0
"""Room for the words above the map."""
GRID_MM = 0.6
"""Of the points between which contours are drawn by straight lines."""
NAME = "lens"
"""Of the picture, before the names of its fills."""
LABELS_EVERY_MM = 4

Floats = NDArray[np.float64]
Where = Callable[[float, float], tuple[float, float]]
PowerAt = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""Added power and astigmatism, both in D, at points x, y in mm from the fitting point."""


@dataclass(frozen=True)
class FrameShape:
    """The edged lens, mm, and which eye's it is, in words."""

    width_mm: float
    depth_mm: float
    fitting_height_mm: float
    eye: str = ""


@dataclass(frozen=True)
class GazePoint:
    """Where one row of a target is seen; side_mm to the wearer's right."""

    target: str
    row: str
    drop_mm: float
    side_mm: float = 0.0
    clear: bool = True


def lens_picture(
    *,
    heading: str,
    power_at: PowerAt,
    frame: FrameShape,
    points: Sequence[GazePoint],
) -> str:
    """Return the power map of one lens with the gaze points of the day.

    Returns SVG text; its description names every gaze point in mm.
    """
    scale = (WIDTH - 2 * MARGIN) / frame.width_mm
    at = _placer(frame, scale)
    targets = list(dict.fromkeys(point.target for point in points))
    map_bottom = MARGIN + TOP + frame.depth_mm * scale
    height = map_bottom + 61 + 18 * len(targets)
    parts = [
        svg.words(heading, x=MARGIN, y=18, size=14, bold=True),
        svg.words(frame.eye, x=MARGIN, y=36, size=WORDS),
        *_map(power_at, frame, at, scale),
        _outline(frame, at, scale),
        _cross(at),
        *_band_labels(power_at, frame, at),
        *_gaze(points, targets, frame, at),
        *_legend(targets, points, map_bottom),
    ]
    return svg.document(
        parts,
        width=WIDTH,
        height=height,
        title=f"Power map: {heading}",
        description=describe(heading, power_at, frame, points),
        name=NAME,
    )


def describe(
    heading: str, power_at: PowerAt, frame: FrameShape, points: Sequence[GazePoint]
) -> str:
    """Return the lens picture in words and numbers."""
    at_cross, lowest = power_at(np.zeros(2), np.array([0.0, 2.0 - frame.fitting_height_mm]))[0]
    seen = "; ".join(_point_words(point) for point in points)
    ends_d = {"at_cross_d": f"{at_cross:+.2f}", "lowest_d": f"{lowest:+.2f}"}
    said = say("draw_lens", heading=heading, **ends_d)
    eye = f" {frame.eye}." if frame.eye else ""
    used = say("draw_lens_seen", points=seen) if seen else say("draw_lens_not_used")
    return f"{said}{eye} {used}"


def _point_words(point: GazePoint) -> str:
    place = "below" if point.drop_mm >= 0 else "above"
    side = ""
    if abs(point.side_mm) >= 0.5:
        side = f", {abs(point.side_mm):.1f} mm to the {'right' if point.side_mm > 0 else 'left'}"
    blurred = "" if point.clear else ", not clear"
    return (
        f"{point.target} {point.row} {abs(point.drop_mm):.1f} mm {place} the fitting point"
        f"{side}{blurred}"
    )


def _placer(frame: FrameShape, scale: float) -> Where:
    top = frame.depth_mm - frame.fitting_height_mm

    def at(x: float, y: float) -> tuple[float, float]:
        return MARGIN + (x + frame.width_mm / 2) * scale, MARGIN + TOP + (top - y) * scale

    return at


def _frame_rect(frame: FrameShape, at: Where, scale: float) -> str:
    half, top, bottom = (
        frame.width_mm / 2,
        frame.depth_mm - frame.fitting_height_mm,
        -frame.fitting_height_mm,
    )
    x, y = at(-half, top)
    radius = 11.0 * scale
    width, height = frame.width_mm * scale, (top - bottom) * scale
    return (
        f'x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width)}" '
        f'height="{svg.number(height)}" rx="{svg.number(min(radius, height / 2))}"'
    )


def _outline(frame: FrameShape, at: Where, scale: float) -> str:
    return (
        f'<rect {_frame_rect(frame, at, scale)} fill="none" stroke="{theme.INK}" '
        f'stroke-width="2.5"/>'
    )


def _map(power_at: PowerAt, frame: FrameShape, at: Where, scale: float) -> list[str]:
    """Draw bands of power with their contours, and dots where astigmatism is, inside the frame."""
    top, half = frame.depth_mm - frame.fitting_height_mm, frame.width_mm / 2
    x = np.linspace(-half, half, round(frame.width_mm / GRID_MM) + 1)
    y = np.linspace(top, top - frame.depth_mm, round(frame.depth_mm / GRID_MM) + 1)
    power_d, astigmatism_d = (
        one.reshape(len(y), len(x)) for one in power_at(np.tile(x, len(y)), np.repeat(y, len(x)))
    )
    parts = []
    for band in range(1, len(BANDS)):
        region, limit = _above(power_d, (band - 0.5) * BAND_D, x, y, at)
        parts.append(svg.path(region, fill=BANDS[band], stroke=BANDS[band], width=0.6))
        parts.append(svg.path(limit, stroke=CONTOUR, width=0.8))
    for level, limit_d in enumerate(ZONE_LIMITS_D, start=1):
        region, limit = _above(astigmatism_d, limit_d, x, y, at)
        parts.append(svg.path(region, fill=f"url(#{NAME}-beyond{level})"))
        parts.append(svg.path(limit, stroke=theme.SOFT_INK, width=0.9, dashes="4 3"))
    clip = f'<clipPath id="{NAME}-frame"><rect {_frame_rect(frame, at, scale)}/></clipPath>'
    return [
        f"<defs>{clip}{_patterns()}</defs>",
        f'<g clip-path="url(#{NAME}-frame)">{"".join(parts)}</g>',
    ]


def _above(values: Floats, level: float, x: Floats, y: Floats, at: Where) -> tuple[str, str]:
    """Return where values exceed a level: path data of that region, and of its limit.

    Read off by straight lines along the sides of the cells (marching squares). Whole cells of a
    row are one piece.
    """
    over = values > level
    if not over.any():
        return "", ""
    left = [svg.number(at(one, 0.0)[0]) for one in x.tolist()]
    top = [svg.number(at(0.0, one)[1]) for one in y.tolist()]
    across = {
        (row, column): f"{svg.number(at(one, 0.0)[0])} {top[row]}"
        for row, column, one in _crossings(values, over, level, x)
    }
    down = {
        (row, column): f"{left[column]} {svg.number(at(0.0, one)[1])}"
        for column, row, one in _crossings(values.T, over.T, level, y)
    }
    region: list[list[str]] = [[] for _ in top]
    limit = []
    kinds = over[:-1, :-1] + 2 * over[:-1, 1:] + 4 * over[1:, 1:] + 8 * over[1:, :-1]
    for row, first, last in _runs(kinds == len(CELLS) - 1):
        a, b, high, low = left[first], left[last], top[row], top[row + 1]
        region[row].append(f"M{a} {high}L{b} {high}L{b} {low}L{a} {low}Z")
    cut = np.nonzero((kinds > 0) & (kinds < len(CELLS) - 1))
    for row, column, kind in zip(*(one.tolist() for one in (*cut, kinds[cut])), strict=True):
        a, b, high, low = left[column], left[column + 1], top[row], top[row + 1]
        round_it = (
            f"{a} {high}", across.get((row, column)), f"{b} {high}", down.get((row, column + 1)),
            f"{b} {low}", across.get((row + 1, column)), f"{a} {low}", down.get((row, column)),
        )  # fmt: skip
        inside, crossed = CELLS[kind]
        region[row].append(f"M{'L'.join(round_it[place] for place in inside)}Z")
        limit += [f"M{round_it[one]}L{round_it[other]}" for one, other in crossed]
    return "".join(chain.from_iterable(region)), "".join(limit)


def _crossings(
    values: Floats, over: NDArray[np.bool_], level: float, along: Floats
) -> Iterator[tuple[int, int, float]]:
    """Find where values cross a level between neighbours in a row: row, column before, place."""
    row, before = np.nonzero(over[:, :-1] != over[:, 1:])
    here, there = values[row, before], values[row, before + 1]
    part = (level - here) / (there - here)
    place = along[before] + part * (along[before + 1] - along[before])
    return zip(row.tolist(), before.tolist(), place.tolist(), strict=True)


def _runs(cells: NDArray[np.bool_]) -> Iterator[tuple[int, int, int]]:
    """Find the runs of true cells: the row of each, its first and one past its last."""
    steps = np.diff(np.pad(cells, ((0, 0), (1, 1))).astype(int), axis=1)
    row, first = np.nonzero(steps == 1)
    last = np.nonzero(steps == -1)[1]
    return zip(row.tolist(), first.tolist(), last.tolist(), strict=True)


def _cut_cell(kind: int) -> tuple[list[int], list[tuple[int, int]]]:
    """Return what of a cell is over a level, and the ends of its limits, as places round the cell.

    kind: the corners that are over, one bit each, from the upper left one clockwise. Even places
    are corners in that order, odd ones the crossings on the sides between them.
    """
    is_over = [bool(kind >> corner & 1) for corner in range(4)]
    inside, crossed = [], []
    for corner, next_one in enumerate([*is_over[1:], is_over[0]]):
        if is_over[corner]:
            inside.append(2 * corner)
        if is_over[corner] != next_one:
            inside.append(2 * corner + 1)
            crossed.append(2 * corner + 1)
    return inside, list(zip(crossed[::2], crossed[1::2], strict=True))


CELLS = [_cut_cell(kind) for kind in range(16)]
"""Of each kind of cell; the first is under a level as a whole, the last over it."""


def _patterns() -> str:
    """Return the fills: small dots beyond the first zone limit, large ones beyond the second."""
    return "".join(
        f'<pattern id="{NAME}-beyond{level}" width="7" height="7" patternUnits="userSpaceOnUse">'
        f'<circle cx="3.5" cy="3.5" r="{radius}" fill="{theme.INK}"/></pattern>'
        for level, radius in ((1, 0.9), (2, 1.9))
    )


def _cross(at: Where) -> str:
    x, y = at(0.0, 0.0)
    return svg.line((x - 7, y), (x + 7, y), width=1.5) + svg.line((x, y - 7), (x, y + 7), width=1.5)


def _band_labels(power_at: PowerAt, frame: FrameShape, at: Where) -> list[str]:
    """Return the added power down the middle of the lens, each number at its tick."""
    lowest = -int(frame.fitting_height_mm - 2)
    highest = int(frame.depth_mm - frame.fitting_height_mm - 2)
    heights = [y for y in range(LABELS_EVERY_MM * 10, lowest - 1, -LABELS_EVERY_MM) if y <= highest]
    power_d, _ = power_at(np.zeros(len(heights)), np.array(heights, dtype=float))
    parts = [svg.line(at(0.0, highest), at(0.0, lowest), stroke=theme.SOFT_INK, width=0.8)]
    for y, here_d in zip(heights, power_d.tolist(), strict=True):
        x_tick, y_tick = at(0.0, float(y))
        said = number(here_d, places=2, signed=True)
        parts.append(svg.line((x_tick - 4, y_tick), (x_tick, y_tick), width=1.0))
        parts.append(svg.words(said, x=x_tick - 8, y=y_tick + 4, size=WORDS, anchor="end"))
    return parts


def _gaze(
    points: Sequence[GazePoint], targets: list[str], frame: FrameShape, at: Where
) -> list[str]:
    """Draw a dot where each row is looked through, its symbol beside it, and a letter."""
    top, bottom = frame.depth_mm - frame.fitting_height_mm, -frame.fitting_height_mm
    parts = []
    taken: list[tuple[float, float]] = []
    for point in points:
        x, y = point.side_mm, -point.drop_mm
        if not (bottom <= y <= top and abs(x) <= frame.width_mm / 2):
            continue
        dot = at(x, y)
        symbols = ROW_SYMBOLS if point.clear else NOT_CLEAR_SYMBOLS
        text = f"{symbols[point.row]}{LETTERS[targets.index(point.target)]}"
        away = 10.0 if x >= 0.0 else -31.0
        spot = _free_spot((dot[0] + away, dot[1] + 4.0), taken)
        taken.append(spot)
        fill = theme.INK if point.clear else theme.PAPER
        parts += [
            svg.line(dot, (spot[0] + (-1.0 if away > 0 else 21.0), spot[1] - 4.0), width=0.8),
            f'<circle cx="{svg.number(dot[0])}" cy="{svg.number(dot[1])}" r="2.6" '
            f'fill="{fill}" stroke="{theme.INK}" stroke-width="1"/>',
            svg.words(text, x=spot[0], y=spot[1], size=WORDS, bold=True),
        ]
    return parts


def _free_spot(
    wanted: tuple[float, float], taken: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """Return the wanted place of a mark, moved outwards past marks that it would overlap."""
    x, y = wanted
    step = 25.0 if x >= WIDTH / 2 else -25.0
    while any(abs(x - a) < 25.0 and abs(y - b) < 12.0 for a, b in taken) and 30 < x < WIDTH - 55:
        x += step
    return x, y


def _legend(targets: list[str], points: Sequence[GazePoint], below: float) -> list[str]:
    parts = [
        svg.words(text, x=MARGIN, y=below + 18 + 16 * row, size=WORDS)
        for row, text in enumerate(LEGEND)
    ]
    for index, target in enumerate(targets):
        clear = any(point.clear for point in points if point.target == target)
        said = target if clear else f"{svg.cut(target, 24)}: not clear"
        text = f"{LETTERS[index]}  {said}"
        parts.append(svg.words(text, x=MARGIN, y=below + 69 + 18 * index, size=WORDS, bold=True))
    return parts


def power_at(option: OptionResult, case: Case) -> PowerAt:
    """Return added power and astigmatism of an option's lens at lens points x, y in mm."""
    judgements = Judgements.standard()
    lens = lens_of_option(option, case, judgements=judgements)
    wearers = wearers_of([case], judgements=judgements)

    return partial(lens.at_points_d, wearers=wearers)


def frame_shape(case: Case) -> FrameShape:
    """Return the edged lens of a case, with the lower of the two fitting heights."""
    right, left = case.fit.heights_mm
    if right == left:
        eye = f"Right and left eye, height {right:g} mm, seen by the wearer"
    else:
        name, other = ("Right", "left") if right < left else ("Left", "right")
        low, high = min(right, left), max(right, left)
        eye = f"{name} eye, height {low:g} mm ({other} {high:g}), seen by the wearer"
    return FrameShape(case.fit.lens_width_mm, case.fit.lens_depth_mm, min(right, left), eye)


def gaze_points(option: OptionResult, case: Case) -> list[GazePoint]:
    """Find where each row of a target is looked through; if not clear, with the head left free."""
    return [
        GazePoint(one.target, one.row, one.drop_mm, one.side_mm, one.clear)
        for one in lens_points(option, case)
    ]
