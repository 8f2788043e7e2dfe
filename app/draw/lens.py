"""Draw the lens as the wearer looks through it, as SVG text.

It shows bands of added power, the limits of the clear zone, the frame, and where on the lens each
target is seen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from app.draw import svg
from app.shell import theme
from engine.answer.options import lens_of_option
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.case.scene import wearers_of
from engine.tables import Judgements

WIDTH = 360.0
MARGIN = 8.0
BAND_D = 0.25
BANDS = ("#ffffff", "#eef3f1", "#dbe7e4", "#c8dbd8", "#b5cfcc", "#a2c3c1", "#8fb7b6", "#7cabab")
"""Light to dark with added power; the labels carry the numbers."""
ZONE_LIMITS_D = (0.5, 1.0)
ROW_SYMBOLS = {"top": "▲", "centre": "●", "bottom": "▼"}
LETTERS = "ABCDEFGHIJKL"
LEGEND = (
    "Numbers: added power (D) down the middle.",
    "Dots: astigmatism beyond 0.50 D; large dots: 1.00 D.",
    "Looked through at ▲ top, ● centre, ▼ bottom of:",
)

Where = Callable[[float, float], tuple[float, float]]
PowerAt = Callable[[Sequence[tuple[float, float]]], list[tuple[float, float]]]
"""Added power and astigmatism, both in D, at points (x, y) in mm from the fitting point."""


@dataclass(frozen=True)
class FrameShape:
    """The edged lens, mm."""

    width_mm: float
    depth_mm: float
    fitting_height_mm: float


@dataclass(frozen=True)
class GazePoint:
    """Where one row of a target is seen."""

    target: str
    row: str
    drop_mm: float


def lens_picture(
    *,
    heading: str,
    power_at: Where,
    frame: FrameShape,
    points: Sequence[GazePoint],
    step_mm: float = 0.7,
    name: str = "lens",
) -> str:
    """The power map of one lens with the gaze points of the day.

    Returns SVG text; its description names every gaze point in mm.
    """
    scale = (WIDTH - 2 * MARGIN) / frame.width_mm
    at = _placer(frame, scale)
    targets = list(dict.fromkeys(point.target for point in points))
    map_bottom = MARGIN + 24 + frame.depth_mm * scale
    height = map_bottom + 58 + 18 * len(targets)
    parts = [
        svg.words(heading, x=MARGIN, y=18, size=13, bold=True),
        *_cells(power_at, frame, at, scale, step_mm, name),
        _outline(frame, at, scale),
        _cross(at),
        *_band_labels(power_at, frame, at),
        *_gaze(points, targets, at),
        *_legend(targets, map_bottom),
    ]
    return svg.document(
        parts,
        width=WIDTH,
        height=height,
        title=f"Power map: {heading}",
        description=describe(heading, power_at, frame, points),
        name=name,
    )


def describe(heading: str, power_at: Where, frame: FrameShape, points: Sequence[GazePoint]) -> str:
    """The lens picture in words and numbers."""
    (at_cross, _), (lowest, _) = power_at([(0.0, 0.0), (0.0, 2.0 - frame.fitting_height_mm)])
    seen = "; ".join(
        f"{point.target} {point.row} {abs(point.drop_mm):.1f} mm "
        f"{'below' if point.drop_mm >= 0 else 'above'} the fitting point"
        for point in points
    )
    return (
        f"{heading}: added power {at_cross:+.2f} D at the fitting point, {lowest:+.2f} D at the "
        f"lower edge. Looked through: {seen or 'no target is clear'}."
    )


def _placer(frame: FrameShape, scale: float) -> Where:
    top = frame.depth_mm - frame.fitting_height_mm

    def at(x: float, y: float) -> tuple[float, float]:
        return MARGIN + (x + frame.width_mm / 2) * scale, MARGIN + 24 + (top - y) * scale

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


def _cells(
    power_at: PowerAt, frame: FrameShape, at: Where, scale: float, step: float, name: str
) -> list[str]:
    """The map as runs of equal cells, clipped by the frame."""
    top, half = frame.depth_mm - frame.fitting_height_mm, frame.width_mm / 2
    rows, columns = round(frame.depth_mm / step), round(frame.width_mm / step)
    centres = [
        (-half + (column + 0.5) * step, top - (row + 0.5) * step)
        for row in range(rows)
        for column in range(columns)
    ]
    marks = [_mark(*found) for found in power_at(centres)]
    parts = []
    for row in range(rows):
        start = 0
        for mark, group in groupby(marks[row * columns : (row + 1) * columns]):
            count = len(list(group))
            corner = at(-half + start * step, top - row * step)
            parts.append(_run(corner, count * step * scale, step * scale, mark, name))
            start += count
    clip = f'<clipPath id="{name}-frame"><rect {_frame_rect(frame, at, scale)}/></clipPath>'
    return [
        f"<defs>{clip}{_patterns(name)}</defs>",
        f'<g clip-path="url(#{name}-frame)" shape-rendering="crispEdges">{"".join(parts)}</g>',
    ]


def _mark(power_d: float, astigmatism_d: float) -> tuple[int, int]:
    """Which band of power a cell is in, and how many zone limits it is beyond."""
    band = min(len(BANDS) - 1, max(0, int(power_d / BAND_D + 0.5)))
    return band, sum(astigmatism_d > limit for limit in ZONE_LIMITS_D)


def _run(
    corner: tuple[float, float], width: float, height: float, mark: tuple[int, int], name: str
) -> str:
    x, y = corner
    where = (
        f'x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width + 0.3)}" '
        f'height="{svg.number(height + 0.3)}"'
    )
    filled = f'<rect {where} fill="{BANDS[mark[0]]}"/>'
    return filled + (f'<rect {where} fill="url(#{name}-beyond{mark[1]})"/>' if mark[1] else "")


def _patterns(name: str) -> str:
    """Small dots beyond the first zone limit, large ones beyond the second."""
    return "".join(
        f'<pattern id="{name}-beyond{level}" width="7" height="7" patternUnits="userSpaceOnUse">'
        f'<circle cx="3.5" cy="3.5" r="{radius}" fill="{theme.INK}"/></pattern>'
        for level, radius in ((1, 0.9), (2, 1.9))
    )


def _cross(at: Where) -> str:
    x, y = at(0.0, 0.0)
    return svg.line((x - 7, y), (x + 7, y), width=1.5) + svg.line((x, y - 7), (x, y + 7), width=1.5)


def _band_labels(power_at: Where, frame: FrameShape, at: Where) -> list[str]:
    """The added power down the middle of the lens, every fourth millimetre."""
    lowest = -int(frame.fitting_height_mm - 2)
    heights = range(int(frame.depth_mm - frame.fitting_height_mm - 2), lowest - 1, -4)
    found = power_at([(0.0, float(y)) for y in heights])
    parts = []
    for y, (power_d, _) in zip(heights, found, strict=True):
        x_label, y_label = at(1.5 - frame.width_mm / 2, y)
        parts.append(svg.words(f"{power_d:+.2f}", x=x_label + 22, y=y_label + 4, size=11))
    return parts


def _gaze(points: Sequence[GazePoint], targets: list[str], at: Where) -> list[str]:
    parts = []
    for index, target in enumerate(targets):
        own = [point for point in points if point.target == target]
        x = (index + 1) * 4.2 if len(targets) > 1 else 3.0
        for point in own:
            where = at(x, -point.drop_mm)
            text = f"{ROW_SYMBOLS[point.row]}{LETTERS[index]}"
            parts.append(svg.words(text, x=where[0], y=where[1] + 4, size=12, bold=True))
            parts.append(svg.line(at(0.0, -point.drop_mm), (where[0] - 2, where[1]), width=0.8))
    return parts


def _legend(targets: list[str], below: float) -> list[str]:
    parts = [
        svg.words(text, x=MARGIN, y=below + 17 + 15 * row, size=12)
        for row, text in enumerate(LEGEND)
    ]
    for index, target in enumerate(targets):
        text = f"{LETTERS[index]}  {target}"
        parts.append(svg.words(text, x=MARGIN, y=below + 66 + 18 * index, size=12, bold=True))
    return parts


def power_at(option: OptionResult, case: Case) -> PowerAt:
    """Added power and astigmatism of an option's lens at lens points (x, y) in mm."""
    judgements = Judgements.standard()
    lens = lens_of_option(option, case, judgements=judgements)
    wearers = wearers_of([case], judgements=judgements)

    def at(where: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        x_mm, y_mm = np.array(where, dtype=float).reshape(-1, 2).T
        power_d, astigmatism_d = lens.at_points_d(x_mm, y_mm, wearers=wearers)
        return list(zip(power_d.tolist(), astigmatism_d.tolist(), strict=True))

    return at


def frame_shape(case: Case) -> FrameShape:
    """The edged lens of a case, with the lower of the two fitting heights."""
    fit = case.fit
    return FrameShape(fit.lens_width_mm, fit.lens_depth_mm, min(fit.heights_mm))


def gaze_points(option: OptionResult) -> list[GazePoint]:
    """Where each row of each target is seen, for the rows some posture makes clear."""
    return [
        GazePoint(target.target, row.row, row.drop_mm)
        for target in option.targets
        for row in target.rows
        if row.drop_mm is not None
    ]
