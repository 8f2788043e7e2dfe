"""Choose the surfaces that stand for lenses as they are made: reference_tables/made_surfaces.csv.

`python -m tests.made_surfaces` writes the table anew (a few seconds). Every surface that can be
ordered gets MEMBERS others, which keep what it is ordered by: a corridor the drop at which 85 % of
the add is reached, an office lens the height at which half its power is. How softly the power
rises, how wide the near and the far zone are asked for, and how much the rest of the lens counts
go over the boxes below, evenly by a low-discrepancy sequence (the golden ratio in four dimensions).
The boxes are set so that the widest near zone and the highest astigmatism are about twice the
least, as between designs that were measured. The corridor cannot be as far apart: its width goes by
the slope of the power (Minkwitz), and a soft slope that still has 85 % there starts above the
fitting point, where a lens for all distances may not have added power yet.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from engine.lenses.surfaces import GENERAL, HELD_FROM_MM, OFFICE, Progression, Surface, solve

if TYPE_CHECKING:
    from engine.case.model import PowerFall

FILE = Path(__file__).parents[1] / "reference_tables" / "made_surfaces.csv"
MEMBERS = 16
BOXES = {
    "general": ((0.75, 1.65), (0.65, 1.5), (0.7, 1.35), (1 / 3, 3.0)),
    "office": ((0.75, 1.35), (0.75, 1.3), (0.75, 1.3), (0.4, 2.5)),
}
"""Factors on length, near and far half width and edge weight of the surface ordered."""
NAMED_SHARE, HALF = 0.85, 0.5
ADD_D, LIMIT_D = 2.0, 0.50
"""Zones are measured as in the studies: no more astigmatism than this with that add."""
SOURCE = "spread after Sheedy 2004, Optometry (abstract: 28 designs, greater than 2:1); computed"
COLUMNS = (
    "id", "applies_to", "top_mm", "length_mm", "near_half_width_mm", "far_half_width_mm",
    "edge_weight_ratio", "corridor_width_mm", "near_width_mm", "peak_ratio", "source", "locator",
    "status",
)  # fmt: skip


@dataclass(frozen=True)
class Zones:
    """What was measured of a surface, mm for an add of 2.00 D; peak astigmatism over the add."""

    corridor_mm: float
    near_mm: float
    peak: float


def evenly(count: int, dimensions: int) -> NDArray[np.float64]:
    """Return points spread evenly over a cube, (count, dimensions)."""
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1.0)
    found: NDArray[np.float64] = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    return found


def members(ordered: Progression, *, office: bool) -> list[Surface]:
    """Return the surfaces made of one that is ordered, from the hardest to the softest."""
    box = np.log(np.array(BOXES["office" if office else "general"]))
    places = evenly(MEMBERS, len(box))
    places = places[np.argsort(places[:, 0])]
    kept_share = HALF if office else NAMED_SHARE
    kept_mm = height_of(solve(ordered), kept_share)
    return [
        _held(ordered, np.exp(box[:, 0] + place * (box[:, 1] - box[:, 0])), kept_share, kept_mm)
        for place in places
    ]


def _held(
    ordered: Progression, factors: NDArray[np.float64], share: float, height_mm: float
) -> Surface:
    """The surface with these factors whose power reaches a share of the add at that height."""
    length, near, far, edge = (round(float(one), 3) for one in factors * _numbers(ordered))
    asked = Progression(height_mm + HALF * length, length, near, far, edge)
    for _ in range(6):
        found = solve(asked)
        lower_mm = height_of(found, share) - height_mm
        if abs(lower_mm) < 0.005:
            break
        asked = replace(asked, top_mm=round(asked.top_mm - lower_mm, 3))
    return found


def _numbers(one: Progression) -> NDArray[np.float64]:
    return np.array([one.length_mm, one.near_half_width_mm, one.far_half_width_mm, one.edge_weight])


def height_of(surface: Surface, share: float) -> float:
    """Return the highest point in the middle that has a share of the add, mm."""
    y = np.arange(15.0, -26.0, -0.1)
    power = surface.exact(x_mm=np.zeros_like(y), y_mm=y)[0]
    above = int(np.argmax(power >= share))
    low, high = power[above - 1], power[above]
    return float(y[above - 1] + (share - low) / (high - low) * (y[above] - y[above - 1]))


def zones(surface: Surface) -> Zones:
    """Measure the zones of a surface."""
    asked = surface.progression
    x, y = np.meshgrid(np.arange(0.0, 28.1, 0.5), np.arange(-28.0, 28.1, 0.5))
    inside = np.hypot(x, y) <= HELD_FROM_MM
    return Zones(
        min(_width_mm(surface, float(at)) for at in np.arange(asked.near_mm, asked.top_mm, 0.5)),
        _width_mm(surface, asked.near_mm),
        float(surface.exact(x_mm=x[inside], y_mm=y[inside])[1].max()),
    )


def _width_mm(surface: Surface, y_mm: float) -> float:
    x = np.arange(0.0, HELD_FROM_MM, 0.05)
    astigmatism = ADD_D * surface.exact(x_mm=x, y_mm=np.full_like(x, y_mm))[1]
    first = int(np.argmax(astigmatism > LIMIT_D))
    if not first:
        return 2.0 * HELD_FROM_MM
    low, high = astigmatism[first - 1], astigmatism[first]
    return float(2.0 * (x[first] - (high - LIMIT_D) / (high - low) * (x[first] - x[first - 1])))


def rows_of(name: float | PowerFall) -> list[dict[str, str]]:
    """Return the rows of one surface that can be ordered, by its name in GENERAL or OFFICE."""
    is_office = name in OFFICE
    ordered = (GENERAL | OFFICE)[name]
    rows = []
    for number, surface in enumerate(members(ordered, office=is_office), start=1):
        asked = {key: f"{value:g}" for key, value in vars(surface.progression).items()}
        asked["edge_weight_ratio"] = asked.pop("edge_weight")
        found = zones(surface)
        rows.append(
            {"id": str(number), "applies_to": applies_to(name)}
            | asked
            | {
                "corridor_width_mm": f"{found.corridor_mm:.1f}",
                "near_width_mm": f"{found.near_mm:.1f}",
                "peak_ratio": f"{found.peak:.2f}",
            }
            | {"source": SOURCE, "locator": "-", "status": "derived"}
        )
    return rows


def applies_to(name: float | PowerFall) -> str:
    """Return how the table calls a surface."""
    return f"office {name}" if isinstance(name, str) else f"corridor {name:g}"


if __name__ == "__main__":
    with FILE.open("w", encoding="utf-8", newline="") as file:
        written = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        written.writeheader()
        for name in GENERAL | OFFICE:
            written.writerows(rows_of(name))
    sys.stdout.write(f"wrote {FILE}\n")
