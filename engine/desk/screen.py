"""One screen through the lenses of a plan: the map, the best free move, what stands in the way."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from engine.answer.options import Solver, accepted_kinds, lens_of_option, pair_of_option
from engine.answer.plans import Plan
from engine.answer.recommend import answered
from engine.desk.moves import (
    DeskMap,
    Move,
    change_between,
    desk_map,
    expected_shares,
    looked_through,
    move_of,
)
from engine.desk.places import Place, obstacles, place_of
from engine.desk.region import Region, region
from engine.desk.sight import held_h
from engine.kernel.draws import Draws

if TYPE_CHECKING:
    from engine.answer.options import Option
    from engine.case.model import Case, Target
    from engine.case.results import Change, OptionResult, Result
    from engine.desk.sight import Worn
    from engine.tables import Judgements

FIGURE_HEIGHTS_CM = tuple(float(height) for height in range(0, -51, -5))
FIGURE_DISTANCES_CM = (50.0, 60.0, 70.0, 80.0, 90.0)
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Blocked:
    """A place that would be comfortable but may not be suggested, and the limit it breaks."""

    place: Place
    change: Change
    limit: str


@dataclass(frozen=True)
class Figure:
    """One cell of the map in figures: about what share is comfortable, and whether it may go."""

    share: float
    is_allowed: bool


@dataclass(frozen=True)
class Sight:
    """One screen at every place, with the lenses of a plan held.

    Attributes:
        option: the pair of the plan through which the screen is looked at.
        hours_h: expected comfortable hours of the plan as the desk stands.
        now: where the screen stands; share: about what share of it is comfortable there.
        move: the best free move; None where none is worth telling. share_after: the share there.
        blocked: the nearest comfortable place of the map that is not allowed, where the best
            allowed one is not comfortable.
        is_comfortable, is_comfortable_after: nine tenths of it are, as it stands and once moved.
        is_comfortable_somewhere: on the map, allowed or not.
        figures: (heights, distances) of FIGURE_HEIGHTS_CM and FIGURE_DISTANCES_CM.
    """

    option: str
    hours_h: float
    now: Place
    share: float
    places: DeskMap
    region: Region
    move: Move | None
    share_after: float
    blocked: Blocked | None
    is_comfortable: bool
    is_comfortable_after: bool
    is_comfortable_somewhere: bool
    figures: tuple[tuple[Figure, ...], ...]


@dataclass(frozen=True)
class Way:
    """A desk changed: a plan held there, and the plan to choose there.

    Attributes:
        held_h: expected comfortable hours of the plan held.
        best: the options of the plan to choose; none where there is none. best_h: its hours.
    """

    held_h: float
    best: tuple[OptionResult, ...]
    best_h: float


def held_plan(solver: Solver, result: Result, name: str) -> Plan:
    """Return a plan of an answer made again with its lenses; name: of a plan, or of one option.

    Raises:
        KeyError: no option of that name.
    """
    pairs = _worn(solver.case, result, name)
    pair_of = {one: at for at, (_, activities) in enumerate(pairs) for one in activities}
    worn = tuple(pair_of[one.name] for one in solver.case.activities)
    return Plan(solver.case, tuple(_held(solver, told) for told, _ in pairs), worn)


def _worn(case: Case, result: Result, name: str) -> list[Worn]:
    """Return the pairs of a plan, or one option for all activities."""
    for plan in result.plans:
        if plan.plan == name:
            return [(result.option(pair.option), pair.activities) for pair in plan.pairs]
    return [(result.option(name), tuple(activity.name for activity in case.activities))]


def _held(solver: Solver, told: OptionResult) -> Option:
    """Return an option of an answer made again with its lens."""
    lens = lens_of_option(told, solver.case, judgements=solver.judgements)
    return solver.option(told.option, lens, pair=pair_of_option(told, solver.case))


def sight(case: Case, result: Result, name: str, index: int, *, judgements: Judgements) -> Sight:
    """Give one screen through a plan, or through one option worn all day, held over all places."""
    solver = Solver(case, judgements)
    plan, target = held_plan(solver, result, name), case.targets[index]
    option = looked_through(plan, target.name) or plan.options[0]
    wearers, stop_mm = solver.wearers, float(solver.wearers.stop_mm[0])
    places = desk_map(wearers, target, lens=option.lens, judgements=judgements)
    now, move = place_of(target, stop_mm=stop_mm), move_of(plan, solver.draws, index)
    here = [now] if move is None else [now, move.place]
    shares = expected_shares(wearers, target, here, lens=option.lens, judgements=judgements)
    share, share_after = float(shares[0]), float(shares[-1])
    enough = judgements.desk_enough_share - _ROUNDING
    is_short = share_after < enough
    return Sight(
        option=option.name,
        hours_h=plan.comfortable_h,
        now=now,
        share=share,
        places=places,
        region=region(case, index, stop_mm=stop_mm, judgements=judgements),
        move=move,
        share_after=share_after,
        blocked=_blocked(places, now, target, stop_mm, judgements) if is_short else None,
        is_comfortable=share >= enough,
        is_comfortable_after=not is_short,
        is_comfortable_somewhere=not is_short or bool((places.share >= enough).any()),
        figures=_figures(solver, target, option),
    )


def _blocked(
    places: DeskMap, now: Place, target: Target, stop_mm: float, judgements: Judgements
) -> Blocked | None:
    """Return the nearest place of the map that is comfortable but not allowed."""
    enough = places.places_at(places.share >= judgements.desk_enough_share - _ROUNDING)
    nearest = sorted(enough, key=lambda one: _way_cm(now, one))
    limits = obstacles(target, nearest, stop_mm=stop_mm, judgements=judgements)
    for place, limit in zip(nearest, limits, strict=True):
        if limit is not None:
            return Blocked(place, change_between(now, place), limit)
    return None


def _way_cm(now: Place, then: Place) -> float:
    """Return how far two places are from each other, tilt left out."""
    return hypot(
        then.centre_above_eye_cm - now.centre_above_eye_cm, then.distance_cm - now.distance_cm
    )


def _figures(solver: Solver, target: Target, option: Option) -> tuple[tuple[Figure, ...], ...]:
    """Return the map in figures, (heights, distances); see `Sight`."""
    judged, wearers = solver.judgements, solver.wearers
    found = desk_map(
        wearers,
        target,
        lens=option.lens,
        judgements=judged,
        heights_cm=np.array(FIGURE_HEIGHTS_CM),
        distances_cm=np.array(FIGURE_DISTANCES_CM),
    )
    places = found.places_at(np.ones(found.share.shape, dtype=bool))
    limits = iter(obstacles(target, places, stop_mm=float(wearers.stop_mm[0]), judgements=judged))
    return tuple(
        tuple(Figure(share, next(limits) is None) for share in row) for row in found.share.tolist()
    )


def way(case: Case, result: Result, name: str, changed: Case, *, judgements: Judgements) -> Way:
    """Return what a changed desk brings to a plan or option as it is, and the best plan there.

    The design chosen there may have some minutes less than the one held, which is then the best.

    changed: the same case with its desk changed.
    """
    draws = Draws(case, judgements=judgements)
    there = Solver(changed, judgements, like=draws, kinds=accepted_kinds(case))
    plan = answered(changed, there.options(), judgements=judgements).plan
    worn = _worn(case, result, name)
    stays_h = held_h(worn, there)
    held = tuple(option for option, _ in worn)
    best = () if plan is None else tuple(option.result for option in plan.options)
    best_h = 0.0 if plan is None else plan.comfortable_h
    if [one.option for one in best] == [one.option for one in held] and stays_h > best_h:
        best, best_h = held, stays_h
    return Way(held_h=stays_h, best=best, best_h=best_h)
