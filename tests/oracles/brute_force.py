"""Grades by brute force: every point of a face, every scanned posture, every run, in loops.

Points, angles and lens points come from plain vectors (head_and_lens.py), power and astigmatism
from a function handed in. The limits are the judgements' numbers; the rules are written out anew
from the design. Slow on purpose.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from engine.tables import Judgements
from tests.oracles.head_and_lens import Met, Vector, met

ROUNDING = 1e-9
Lens = Callable[[float, float], tuple[float, float] | None]
"""Added power and astigmatism at (x, y); None where the lens cannot be used."""


@dataclass(frozen=True)
class Face:
    """A screen or page straight ahead, as taped."""

    distance_cm: float
    centre_above_eye_cm: float
    width_cm: float
    height_cm: float
    tilt_deg: float


@dataclass(frozen=True)
class Person:
    """Who looks, through which frame, with limits of their own."""

    usable_d: float
    power_d: float
    stop_mm: float
    tilt_deg: float
    lowest_mm: float
    highest_mm: float
    half_width_mm: float
    head_turn_more_deg: float
    eye_sideways_more_deg: float
    gaze_min_more_deg: float
    gaze_max_more_deg: float
    window_factor: float
    astigmatism_weight: float


def points(face: Face, stop_mm: float, a_side: int) -> list[Vector]:
    """Cell centres, top row first, as (forward, right, down)."""
    reach = 10.0 * face.distance_cm + stop_mm
    down = -10.0 * face.centre_above_eye_cm
    centre = np.array([math.sqrt(reach**2 - down**2), 0.0, down])
    tilt = math.radians(face.tilt_deg)
    up_the_face = np.array([math.sin(tilt), 0.0, -math.cos(tilt)])
    found = []
    for row in range(a_side):
        for column in range(a_side):
            rise = (0.5 - (row + 0.5) / a_side) * 10.0 * face.height_cm
            aside = ((column + 0.5) / a_side - 0.5) * 10.0 * face.width_cm
            found.append(centre + rise * up_the_face + np.array([0.0, aside, 0.0]))
    return found


def shares(
    face: Face, person: Person, lens: Lens, *, limit_d: float, judgements: Judgements
) -> tuple[float, float, float]:
    """Share of the points comfortable, awkward and blurred.

    The face is straight ahead and a line of sight is met by its azimuth without a sign: the points
    on the left have the grades of those on the right.
    """
    cells = points(face, person.stop_mm, int(judgements.points_a_side))
    counts = dict.fromkeys(("comfortable", "awkward", "blurred", "not served"), 0)
    for cell in cells:
        if cell[1] >= 0.0:
            demand_d = 1e3 / (float(np.linalg.norm(cell)) - person.stop_mm)
            found = grade(cell, demand_d, person, lens, limit_d, judgements)
            counts[found] += 2 if cell[1] > 0.0 else 1
    assert sum(counts.values()) == len(cells)
    comfortable, awkward, blurred, _ = (count / len(cells) for count in counts.values())
    return comfortable, awkward, blurred


def grade(
    cell: Vector,
    demand_d: float,
    person: Person,
    lens: Lens,
    limit_d: float,
    judgements: Judgements,
) -> str:
    """The best grade some run of postures earns."""
    j = judgements
    easy = (
        j.comfortable_head_turn_deg + person.head_turn_more_deg,
        j.comfortable_eye_sideways_deg + person.eye_sideways_more_deg,
    )
    own_gaze = (
        j.comfortable_gaze_down_min_deg + person.gaze_min_more_deg,
        j.comfortable_gaze_down_max_deg + person.gaze_max_more_deg,
    )
    any_gaze = j.awkward_gaze_down_min_deg, j.awkward_gaze_down_max_deg
    most = j.awkward_head_turn_deg, j.awkward_eye_sideways_deg
    limits = (
        ("comfortable", "comfortable", easy, own_gaze, 1.0),
        ("awkward", "awkward", most, any_gaze, 1.0),
        ("blurred", "awkward", most, any_gaze, j.usable_blur_ratio),
    )
    for name, band, (head_deg, eye_deg), gaze, ratio in limits:
        chin = (getattr(j, f"{band}_chin_up_min_deg"), getattr(j, f"{band}_chin_up_max_deg"))
        in_a_row = 0
        for chin_up_deg in scanned(j):
            if not chin[0] <= chin_up_deg <= chin[1]:
                in_a_row = 0
                continue
            seen = look(tuple(map(float, cell)), chin_up_deg, head_deg, person)
            holds = (
                gaze[0] - ROUNDING <= seen.gaze_down_deg <= gaze[1] + ROUNDING
                and seen.eye_sideways_deg <= eye_deg + 1e-6
                and blur(seen, demand_d, person, lens) <= ratio * limit_d + ROUNDING
            )
            in_a_row = in_a_row + 1 if holds else 0
            if in_a_row > person.window_factor * j.window_deg / j.scan_step_deg:
                return name
    return "not served"


def scanned(judgements: Judgements) -> list[float]:
    """The chin-up angles looked at."""
    j = judgements
    count = round((j.scan_chin_up_max_deg - j.scan_chin_up_min_deg) / j.scan_step_deg)
    return [j.scan_chin_up_min_deg + j.scan_step_deg * k for k in range(count + 1)]


@cache
def look(cell: tuple[float, ...], chin_up_deg: float, head_deg: float, person: Person) -> Met:
    """One line of sight."""
    return met(
        np.array(cell),
        chin_up_deg=chin_up_deg,
        head_turn_deg=head_deg,
        stop_mm=person.stop_mm,
        tilt_deg=person.tilt_deg,
        power_d=person.power_d,
    )


def blur(seen: Met, demand_d: float, person: Person, lens: Lens) -> float:
    """Blur at a lens point; endless off the lens."""
    inside = person.lowest_mm <= seen.y_mm <= person.highest_mm
    found = lens(seen.x_mm, seen.y_mm)
    if not inside or seen.x_mm > person.half_width_mm or found is None:
        return math.inf
    power_d, astigmatism_d = found
    if power_d < demand_d - person.usable_d:
        defocus_d = demand_d - person.usable_d - power_d
    else:
        defocus_d = max(power_d - demand_d, 0.0)
    return math.sqrt(defocus_d**2 + (person.astigmatism_weight * astigmatism_d) ** 2)
