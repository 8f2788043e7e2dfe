"""Areas and lines of equal share on a map of places, as pieces of SVG paths.

Between four neighbouring places the share is read off by straight lines along the sides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app import svg

Floats = NDArray[np.float64]
Point = tuple[float, float]

LEFT, RIGHT, TOP, BOTTOM = 40.0, 8.0, 24.0, 38.0
WIDTH = 400.0
STEEPEST = 0.9
"""Height over distance beyond which the map holds nothing (the limit of a case)."""


@dataclass(frozen=True)
class Frame:
    """Scale and edges of the part of the map that is drawn, in cm."""

    scale: float
    nearest: float
    highest: float
    lowest: float
    farthest: float

    def at(self, distance: float, height: float) -> Point:
        """A place in the picture's own units."""
        x = LEFT + (distance - self.nearest) * self.scale
        return x, TOP + (self.highest - height) * self.scale

    def inside(self, point: Point) -> bool:
        """Far enough from the edges, and from the corner too steep to tape, for a figure."""
        x, y = point
        right, bottom = self.at(self.farthest, self.lowest)
        distance = self.nearest + (x - LEFT) / self.scale
        height = self.highest - (y - TOP) / self.scale
        if -height > STEEPEST * distance - 3.0:
            return False
        return LEFT + 20 <= x <= right - 14 and TOP + 12 <= y <= bottom - 12


def pair(point: Point) -> str:
    """A point as path data."""
    return f"{svg.number(point[0])} {svg.number(point[1])}"


def area(
    frame: Frame, heights: Floats, distances: Floats, share: Floats, level: float
) -> Iterator[str]:
    """The area at or above a level: whole cells in runs, cut cells by their polygon."""
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
    """The part of one cell at or above a level, by straight lines between its corners."""
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
    """The line at a level, in straight pieces."""
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
