"""What the glasses worn now ask of the head at this desk, for every person of a crowd."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine import desk_places
from engine.home_crowd import in_reach
from engine.home_text import number
from engine.posture import View, any_posture, blur_of, chin_ups_deg
from engine.scene import scene_of
from engine.search import Views, clear_shares

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from engine.case import Case
    from engine.home_crowd import Crowd, Worn
    from engine.scene import Scene
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

STEPS_CM = (0, 5, 10, 15, 20, 25, 30)
"""Moves are tried, and told, in steps of 5 cm: a tape at home is good to about 3."""
_EQUAL_SHARE = 0.02
"""Places whose clear shares differ by less count as the same; the smaller move wins."""


class Range(NamedTuple):
    """The middle part of what the people of a crowd get; `range_share` of them lie inside."""

    low: float
    high: float


@dataclass(frozen=True)
class Held:
    """The head at one target through the pair worn now.

    Attributes:
        chin_up_deg: of those who can see its middle clearly; None where nobody can.
        top_deg: the same for its top edge.
        free_deg: with nothing in the way. blurred_share: people who cannot see it clearly.
        clear_share: mean share of it that is clear with a level head.
        has_edges: a screen or page, not a point far away.
    """

    target: str
    chin_up_deg: Range | None
    top_deg: Range | None
    free_deg: float
    blurred_share: float
    clear_share: float
    has_edges: bool


@dataclass(frozen=True)
class ScreenMove:
    """A better place for a screen: lower and farther in cm (negative: nearer)."""

    target: str
    lower_cm: int
    farther_cm: int
    before_share: float
    after_share: float


def range_of(values: Floats) -> Range | None:
    """The middle part of some numbers, without nan; None of none.

    >>> round(range_of(np.arange(11.0)).low, 6)
    1.0
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return None
    outside = (1.0 - number("range_share")) / 2.0
    low, high = np.quantile(known, [outside, 1.0 - outside])
    return Range(float(low), float(high))


def worn_shares(crowd: Crowd, scene: Scene, *, judgements: Judgements) -> Floats:
    """Comfortable share of each target through the pair worn now: (people, targets)."""
    seen = crowd.scene_now(scene)
    count = len(seen.target_wearer) // len(crowd.worn_add_d)
    found = np.full((len(crowd.worn_add_d), count), np.nan)
    for part, worn in _parts(crowd, seen):
        views = Views(part, judgements)
        (clear,) = clear_shares(views, worn.kind, worn.family, worn.free_d, with_reserve=False)
        found[worn.which] = clear.reshape(-1, count)
    return found


def held(crowd: Crowd, *, judgements: Judgements) -> list[Held]:
    """Every target through the pair worn now; empty where that is not known."""
    if not crowd.worn:
        return []
    people, count = len(crowd.cases), len(crowd.names)
    chin = np.full((2, people, count), np.nan)
    for part, worn in _parts(crowd, crowd.scene_now()):
        for place, row in enumerate(_rows(part)):
            chin[place, worn.which] = _chin_up(part, worn, row, judgements).reshape(-1, count)
    shares = worn_shares(crowd, crowd.scene, judgements=judgements)
    middle = crowd.scene.points_at(_rows(crowd.scene)[0])
    free = middle.free_chin_up_deg.reshape(-1, count)
    return [
        Held(
            target=name,
            chin_up_deg=range_of(chin[0, :, at]),
            top_deg=range_of(chin[1, :, at]),
            free_deg=float(np.median(free[:, at])),
            blurred_share=float(np.mean(np.isnan(chin[0, :, at]))),
            clear_share=float(np.mean(shares[:, at])),
            has_edges=not bool(crowd.scene.is_far[at]),
        )
        for at, name in enumerate(crowd.names)
    ]


def best_move(
    crowd: Crowd, case: Case, target: str, *, before: float, judgements: Judgements
) -> ScreenMove | None:
    """The smallest move of a screen that brings the most of it; None where none is worth it.

    case: of the answers, whose screen must be allowed at the new place.
    """
    at = crowd.names.index(target)
    tried = [(0, 0, before)]
    for lower, farther in _allowed(case, at, judgements):
        moved = tuple(_moved(one, at, lower, farther) for one in crowd.cases)
        scene = scene_of(moved, judgements=judgements)
        scene = _as_worn(crowd, scene)
        shares = worn_shares(crowd, scene, judgements=judgements)
        tried.append((lower, farther, float(np.mean(shares))))
    most = max(share for *_, share in tried)
    good = [move for move in tried if move[2] >= most - _EQUAL_SHARE]
    lower, farther, share = min(good, key=lambda move: (abs(move[0]) + abs(move[1]), -move[2]))
    if share - before < number("move_worth_share"):
        return None
    return ScreenMove(target, lower, farther, before, share)


def _allowed(case: Case, at: int, judgements: Judgements) -> Iterator[tuple[int, int]]:
    """Moves of a screen, lower and farther, to places that `desk_places.obstacle` lets pass."""
    target = case.targets[at]
    stop_mm = case.fit.vertex_mm + judgements.stop_beyond_vertex_mm
    now = desk_places.place_of(target, stop_mm=stop_mm)
    for lower in STEPS_CM:
        for farther in sorted({sign * step for step in STEPS_CM for sign in (-1, 1)}):
            place = desk_places.Place(
                centre_above_eye_cm=now.centre_above_eye_cm - lower,
                distance_cm=now.distance_cm + farther,
                tilt_deg=now.tilt_deg,
            )
            moved = bool(lower or farther)
            if (
                moved
                and desk_places.obstacle(target, place, stop_mm=stop_mm, judgements=judgements)
                is None
            ):
                yield lower, farther


def _moved(case: Case, at: int, lower: int, farther: int) -> Case:
    """A person with one screen alone, at its new place."""
    target = case.targets[at]
    field = "top_above_eye_cm" if target.top_above_eye_cm is not None else "centre_above_eye_cm"
    height, distance = getattr(target, field) - lower, target.distance_cm + farther
    here = in_reach(target.model_copy(update={field: height, "distance_cm": distance}))
    return case.model_copy(update={"targets": (here,)})


def _as_worn(crowd: Crowd, scene: Scene) -> Scene:
    """A scene with the wearers of the crowd, whose lenses are as made and worn."""
    return replace(scene, wearers=crowd.scene.wearers)


def _parts(crowd: Crowd, scene: Scene) -> Iterator[tuple[Scene, Worn]]:
    for worn in crowd.worn:
        yield scene.of_wearers(worn.which), worn


def _rows(scene: Scene) -> Sequence[NDArray[np.intp]]:
    """The middle and the top point in the middle column of every target."""
    last = int(scene.row.max(initial=0))
    found = []
    for row in (last // 2, 0):
        wanted = scene.middle & ((scene.row == row) | (scene.row < 0))
        found.append(np.flatnonzero(wanted))
    return found


def _chin_up(scene: Scene, worn: Worn, points: NDArray[np.intp], judgements: Judgements) -> Floats:
    """The clear posture nearest to the free one for some points, (points,); nan of none."""
    part = scene.points_at(points)
    low, high = judgements.scan_chin_up_min_deg, judgements.scan_chin_up_max_deg
    scan = chin_ups_deg(low=low, high=high, judgements=judgements)
    view = View(
        part, chin_up_deg=scan, band=any_posture(judgements), through_lens=worn.kind.is_lens
    )
    field = worn.family.field(view.points, view.wearers)
    blur = blur_of(
        field,
        free_d=worn.free_d[part.point_wearer][:, None],
        demand_d=part.demand_d[:, None],
        accommodation_d=view.wearers.usable_d,
    )
    limit = part.limit_d[part.point_target][:, None]
    clear = view.usable(worn.kind, field) & (blur <= limit + 1e-9)
    away = np.where(clear, np.abs(scan - part.free_chin_up_deg[:, None]), np.inf)
    best = np.argmin(away, axis=1)
    return np.where(np.isfinite(away.min(axis=1)), scan[best], np.nan)
