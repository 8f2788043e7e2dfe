"""Published distances and sizes to start from, so that nobody faces an empty table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from engine import tables

NUMBERS = (
    "distance_cm",
    "top_above_eye_cm",
    "centre_above_eye_cm",
    "diagonal_in",
    "width_cm",
    "height_cm",
    "tilt_deg",
    "text_height_mm",
    "text_arcmin",
)


@dataclass(frozen=True)
class Preset:
    """One row of presets.csv: a thing to look at, with the values assumed until measured."""

    id: str
    name: str
    kind: str
    aspect: str | None
    laptop: bool
    numbers: dict[str, float]
    offset_cm: float
    source: str


@lru_cache(maxsize=1)
def presets() -> dict[str, Preset]:
    """Return every preset under its id, in file order."""
    return {row["id"]: _preset(row) for row in tables.rows("presets")}


@lru_cache(maxsize=1)
def main_screens() -> tuple[str, ...]:
    """Return the ids of the presets that can be the main screen."""
    return tuple(row["id"] for row in tables.rows("presets") if row["main"] == "yes")


@lru_cache(maxsize=1)
def others() -> tuple[str, ...]:
    """Return the ids of everything else that can be added to a desk."""
    return tuple(name for name in presets() if name not in main_screens())


@dataclass(frozen=True)
class Desk:
    """One row of usual_desks.csv: a main screen, and what is beside it."""

    id: str
    name: str
    main: str
    things: tuple[str, ...]


@lru_cache(maxsize=1)
def usual_desks() -> tuple[Desk, ...]:
    """Return the desks to start from, in file order."""
    return tuple(
        Desk(row["id"], row["name"], row["main"], tuple(row["things"].split()))
        for row in tables.rows("usual_desks")
    )


def _preset(row: dict[str, str]) -> Preset:
    return Preset(
        id=row["id"],
        name=row["name"],
        kind=row["kind"],
        aspect=row["aspect"] or None,
        laptop=row["laptop"] == "yes",
        numbers={name: float(row[name]) for name in NUMBERS if row[name]},
        offset_cm=float(row["offset_cm"] or 0.0),
        source=f"{row['source']} ({row['status']})",
    )
