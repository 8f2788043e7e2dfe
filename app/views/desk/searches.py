"""What the Desk page asks of the engine: maps, moves, other ways, kept with the draft.

Pure: no page library. Whatever is suggested has been through the whole search again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import Any, TypeVar

import numpy as np

from app.form import compute
from app.form.compute import Answer
from app.views.desk.map import Column
from engine.answer import plans
from engine.answer.options import lens_of
from engine.case import targets
from engine.case.model import Case, Target
from engine.case.results import OptionResult, Result
from engine.case.scene import Wearers, wearers_of
from engine.desk import moves
from engine.desk import places as desk_places
from engine.desk.moves import DeskMap, Move
from engine.desk.places import Place
from engine.tables import Judgements

T = TypeVar("T")

_KEPT = "desk"
_ROUNDING = 1e-9
REGION_DISTANCES = 31
REGION_STEP_CM = 2.0
EDGE_STEPS = 5
"""Halvings of a step: the edge of the region is known to better than a millimetre."""
TABLE_HEIGHTS_CM = tuple(float(height) for height in range(0, -51, -5))
TABLE_DISTANCES_CM = (50.0, 60.0, 70.0, 80.0, 90.0)


@dataclass(frozen=True)
class Blocked:
    """A place that would be comfortable but may not be suggested, and the limit it breaks."""

    move: Move
    limit: str


@dataclass(frozen=True)
class Sight:
    """One screen through one lens at every place.

    Attributes:
        now: where it stands; share: comfortable share there.
        nearest: the nearest allowed place with nine tenths comfortable; None where there is none
            or none is needed. best: the best allowed place where there is none.
        blocked: the nearest comfortable place on the map that is not allowed, where none is.
    """

    now: Place
    share: float
    places: DeskMap
    nearest: Move | None
    best: Move | None
    blocked: Blocked | None

    @property
    def suits(self) -> bool:
        """Comfortable as it stands."""
        return self.share >= Judgements.standard().desk_enough_share - _ROUNDING

    @property
    def suggested(self) -> Move | None:
        """The move worth trying: the nearest that works, else the best where it helps at all."""
        if self.nearest is not None:
            return self.nearest
        least = Judgements.standard().desk_gain_share
        helps = self.best is not None and self.best.share > self.share + least
        return self.best if helps else None


def kept_for(kept: dict[str, Any], case: Case) -> dict[Any, Any]:
    """What this page computed for a case; another case starts anew."""
    work: dict[Any, Any] = kept.setdefault(_KEPT, {"case": case})
    if work["case"] != case:
        work.clear()
        work["case"] = case
    return work


def once(work: dict[Any, Any], key: Any, compute_it: Callable[[], T]) -> T:
    """A value computed unless this draft holds it already."""
    if key not in work:
        work[key] = compute_it()
    found: T = work[key]
    return found


def screens(case: Case) -> list[int]:
    """Screens of a case, the most looked at first."""
    hours = plans.hours_by_target(case.activities)
    found = [index for index, one in enumerate(case.targets) if one.kind == "screen"]
    return sorted(found, key=lambda index: -hours.get(case.targets[index].name, 0.0))


def sight(case: Case, option: OptionResult, index: int) -> Sight:
    """One screen through one lens, held, over all places."""
    judgements = Judgements.standard()
    wearers = wearers_of([case], judgements=judgements)
    lens, target = lens_of(option, case, wearers), case.targets[index]
    places = moves.desk_map(wearers, target, lens=lens, judgements=judgements)
    now = desk_places.place_of(target, stop_mm=float(wearers.stop_mm[0]))
    share = moves.comfortable_shares(wearers, target, [now], lens=lens, judgements=judgements)[0]
    found = Sight(now, float(share), places, None, None, None)
    if found.suits:
        return found
    nearest = moves.nearest_comfortable(wearers, target, lens=lens, judgements=judgements)
    if nearest is not None:
        return replace(found, nearest=nearest)
    best = moves.best_place(wearers, target, lens=lens, judgements=judgements)
    return replace(found, best=best, blocked=_blocked(found, target, wearers))


def _blocked(found: Sight, target: Target, wearers: Wearers) -> Blocked | None:
    """The nearest place of the map that is comfortable, and what keeps the screen from it."""
    judgements, stop_mm = Judgements.standard(), float(wearers.stop_mm[0])
    enough = np.argwhere(found.places.share >= judgements.desk_enough_share - _ROUNDING)
    reached = [
        (
            Place(
                float(found.places.heights_cm[row]),
                float(found.places.distances_cm[column]),
                found.now.tilt_deg,
            ),
            float(found.places.share[row, column]),
        )
        for row, column in enough
    ]
    for place, share in sorted(reached, key=lambda one: _way(found.now, one[0])):
        limit = desk_places.obstacle(target, place, stop_mm=stop_mm, judgements=judgements)
        if limit is not None:
            return Blocked(moves.move_between(found.now, place, share), limit)
    return None


def _way(now: Place, then: Place) -> float:
    return hypot(
        then.centre_above_eye_cm - now.centre_above_eye_cm, then.distance_cm - now.distance_cm
    )


@dataclass(frozen=True)
class Look:
    """One lens at one screen.

    Attributes:
        then: the whole search with the screen at the suggested place, where there is one.
    """

    option: OptionResult
    index: int
    sight: Sight
    then: Answer | None

    def name(self, case: Case) -> str:
        """The screen as the user calls it."""
        return case.targets[self.index].name


def look_at(work: dict[Any, Any], answer: Answer, name: str, index: int) -> Look:
    """One lens at one screen; the suggested place goes through the whole search."""
    case, option = answer.case, answer.result.option(name)
    found = once(work, ("sight", name, index), lambda: sight(case, option, index))
    move = found.suggested
    if move is None:
        return Look(option, index, found, None)
    then = again(
        work, ("moved", index, move.place), lambda: desk_places.moved(case, index, move.place)
    )
    solved = any(one.option == name for one in then.result.options)
    return Look(option, index, found, then if solved else None)


def region(case: Case, index: int) -> list[Column]:
    """Where a screen may go at its present tilt: the allowed heights, distance by distance."""
    judgements, target = Judgements.standard(), case.targets[index]
    stop_mm = case.fit.vertex_mm + judgements.stop_beyond_vertex_mm
    now, most = desk_places.place_of(target, stop_mm=stop_mm), judgements.desk_move_max_cm
    near = max(judgements.desk_distance_min_cm, now.distance_cm - most)
    far = min(judgements.desk_distance_max_cm, now.distance_cm + most)

    def allowed(height: float, distance: float) -> bool:
        place = Place(height, distance, now.tilt_deg)
        return desk_places.obstacle(target, place, stop_mm=stop_mm, judgements=judgements) is None

    steps = np.arange(-most, most + REGION_STEP_CM / 2, REGION_STEP_CM)
    heights = [now.centre_above_eye_cm + float(step) for step in steps]
    found = []
    for distance in np.linspace(near, far, REGION_DISTANCES) if near < far else ():
        may = [height for height in heights if allowed(height, float(distance))]
        if may:
            ends = [_edge(allowed, may[at], way, float(distance)) for at, way in ((0, -1), (-1, 1))]
            found.append(Column(float(distance), ends[0], ends[1]))
    return found


def _edge(
    allowed: Callable[[float, float], bool], inside: float, way: int, distance: float
) -> float:
    """The end of the allowed heights beyond one that is allowed."""
    step = REGION_STEP_CM
    for _ in range(EDGE_STEPS):
        step /= 2
        if allowed(inside + way * step, distance):
            inside += way * step
    return inside


def edges(case: Case, index: int, columns: Sequence[Column]) -> list[str]:
    """The limits that bound the allowed places: higher, lower, nearer, farther."""
    if not columns:
        return []
    judgements, target = Judgements.standard(), case.targets[index]
    stop_mm = case.fit.vertex_mm + judgements.stop_beyond_vertex_mm
    tilt, just = targets.tilt_deg(target) or 0.0, 2 * REGION_STEP_CM
    near, far = columns[0], columns[-1]
    high = max(columns, key=lambda column: column.high_cm)
    low = min(columns, key=lambda column: column.low_cm)
    beyond = (
        Place(high.high_cm + just, high.distance_cm, tilt),
        Place(low.low_cm - just, low.distance_cm, tilt),
        Place(near.high_cm, near.distance_cm - just, tilt),
        Place(far.high_cm, far.distance_cm + just, tilt),
    )
    found = [
        desk_places.obstacle(target, place, stop_mm=stop_mm, judgements=judgements)
        for place in beyond
    ]
    return list(dict.fromkeys(limit for limit in found if limit))


def table_shares(case: Case, option: OptionResult, index: int) -> list[list[tuple[float, bool]]]:
    """Comfortable share and whether the place is allowed, by height and distance of the table."""
    judgements, target = Judgements.standard(), case.targets[index]
    wearers = wearers_of([case], judgements=judgements)
    stop_mm, lens = float(wearers.stop_mm[0]), lens_of(option, case, wearers)
    tilt = targets.tilt_deg(target) or 0.0
    places = [
        Place(height, distance, tilt)
        for height in TABLE_HEIGHTS_CM
        for distance in TABLE_DISTANCES_CM
    ]
    reached = [one for one in places if abs(one.centre_above_eye_cm) < 0.9 * one.distance_cm]
    shares = moves.comfortable_shares(wearers, target, reached, lens=lens, judgements=judgements)
    by_place = dict(zip(reached, shares, strict=True))
    cells = [
        (
            float(by_place.get(one, 0.0)),
            desk_places.obstacle(target, one, stop_mm=stop_mm, judgements=judgements) is None,
        )
        for one in places
    ]
    wide = len(TABLE_DISTANCES_CM)
    return [cells[start : start + wide] for start in range(0, len(cells), wide)]


def seat_raised(case: Case, *, by_cm: float) -> Case:
    """The case with the seat higher, as the engine has it."""
    stop_mm = case.fit.vertex_mm + Judgements.standard().stop_beyond_vertex_mm
    return desk_places.seat_raised(case, by_cm=by_cm, stop_mm=stop_mm)


def again(work: dict[Any, Any], key: Any, changed: Callable[[], Case]) -> Answer:
    """A changed case through the whole search."""

    def solved() -> Answer:
        case = changed()
        return Answer(case=case, result=compute.answer(case))

    return once(work, ("again", key), solved)


def within_reach(answer: Answer, option: str) -> bool:
    """Whether a lens is as good in hours as the best that may be recommended."""
    may = [one.comfortable_h for one in answer.result.options if one.recommendable]
    if not may:
        return False
    near_h = plans.near_h(answer.case, Judgements.standard())
    return answer.result.option(option).comfortable_h >= max(may) - near_h - _ROUNDING


def options_in_order(result: Result) -> list[OptionResult]:
    """The present pair first, then the recommended ones, then by hours."""
    chosen = next((p for p in result.plans if p.plan == result.recommendation.plan), None)
    recommended = [pair.option for pair in chosen.pairs] if chosen else []

    def order(option: OptionResult) -> tuple[int, float]:
        rank = 0 if option.option == plans.PRESENT else 1 + (option.option not in recommended)
        return rank, -option.comfortable_h

    return sorted(result.options, key=order)


def stations_of(case: Case) -> Any:
    """The one lens that serves every station best, and each station through it."""
    from engine.answer.options import Solver
    from engine.case.scene import scene_of
    from engine.desk.advice import stations

    judgements = Judgements.standard()
    solver = Solver(case, scene_of([case], judgements=judgements), judgements)
    return stations(case, solver.options())


def screens_of(case: Case, activity: str) -> Iterator[int]:
    """Screens that may be moved in one activity, the most looked at first."""
    looked = next(one for one in case.activities if one.name == activity)
    hours = targets.look_hours(looked)
    for index in screens(case):
        target = case.targets[index]
        if target.movable and hours.get(target.name):
            yield index
