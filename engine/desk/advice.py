"""What to change at the desk before a lens, which station stands in the way, and what would turn
the answer.

A suggestion is solved again through the whole search before it is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.answer import plans
from engine.answer.options import Solver
from engine.answer.plans import PRESENT, told
from engine.answer.reasons import written_h
from engine.case.results import DeskFirst
from engine.case.scene import scene_of
from engine.case.targets import look_hours
from engine.desk import moves, places

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.answer.doubt import Contest, Doubt
    from engine.answer.options import Option
    from engine.answer.plans import Plan
    from engine.case.model import Case, Target
    from engine.case.results import OptionResult, Told
    from engine.desk.places import Place
    from engine.kernel.details import Chosen

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Station:
    """One activity through one option.

    Attributes:
        share: comfortable share of its hours.
    """

    activity: str
    hours: float
    share: float


@dataclass(frozen=True)
class Stations:
    """One lens for every station, and the station that gains least by it.

    Attributes:
        option: the option whose worst station is the best.
        stations: each activity through it, worst first.
    """

    option: str
    stations: tuple[Station, ...]


def stations(case: Case, options: Sequence[Option]) -> Stations | None:
    """The one lens that serves all stations best; None where nothing may be recommended."""
    may = [option for option in options if option.result.recommendable]
    if not may:
        return None

    def through(option: Option) -> list[Station]:
        found = [
            Station(
                activity=activity.name,
                hours=activity.hours,
                share=option.solved.hours_in(activity).comfortable / activity.hours,
            )
            for activity in case.activities
        ]
        return sorted(found, key=lambda station: station.share)

    best = max(may, key=lambda option: (through(option)[0].share, option.result.comfortable_h))
    return Stations(best.solved.option, tuple(through(best)))


def desk_first(contest: Contest, plan: Plan) -> DeskFirst | None:
    """The least move of one screen that brings a pair at hand within reach of the best plan.

    The pair at hand is the present one; where there is none and two pairs are recommended, one
    general progressive. Within reach: as good in hours, by the rule of `plans.choose`, after the
    moved desk has been solved again for every lens. None where no allowed move does it.
    """
    at_hand = _at_hand(contest, plan)
    if at_hand is None:
        return None
    near_h = plans.near_h(contest.case, contest.judgements)
    wanted_h = plan.hours.comfortable - near_h
    if at_hand.hours.comfortable >= wanted_h - _ROUNDING:
        return None
    lens = contest.lenses[at_hand.name]
    for index in _by_hours(contest.case):
        for place, hours in _good_places(contest, at_hand, index, lens, wanted_h):
            if _still_as_good(contest, index, place, at_hand.name):
                return _as_told(contest, index, place, at_hand.name, hours)
    return None


def _at_hand(contest: Contest, plan: Plan) -> Plan | None:
    by_name = {one.name: one for one in contest.plans}
    if contest.case.present_pair is not None:
        return None if plan.name == PRESENT else by_name.get(PRESENT)
    return by_name.get("general_progressive") if len(plan.pairs) > 1 else None


def _by_hours(case: Case) -> list[int]:
    """Screens that may be moved, the most looked-at first."""
    hours = plans.hours_by_target(case.activities)
    screens = [at for at, one in enumerate(case.targets) if one.kind == "screen" and one.movable]
    return sorted(screens, key=lambda at: -hours.get(case.targets[at].name, 0.0))


def _good_places(
    contest: Contest, at_hand: Plan, index: int, lens: Chosen, wanted_h: float
) -> Iterator[tuple[Place, float]]:
    """Places reached by one change of height or of distance that give enough hours, nearest first.

    The other targets stay where they are, so the day changes by what this screen gains.
    """
    case, judgements = contest.case, contest.judgements
    target, wearers = case.targets[index], contest.scene.wearers
    _, tried = _one_changes(contest, index)
    shares = moves.comfortable_shares(wearers, target, tried, lens=lens, judgements=judgements)
    seen = at_hand.pairs[0][0]
    spent_h = sum(
        look_hours(activity).get(target.name, 0.0)
        for activity in case.activities
        if seen.covers_distance or not activity.needs
    )
    without_h = at_hand.hours.comfortable - seen.shares[target.name][0] * spent_h
    for place, share in zip(tried, shares, strict=True):
        hours = without_h + float(share) * spent_h
        if hours >= wanted_h - _ROUNDING:
            yield place, hours


def _one_changes(contest: Contest, index: int) -> tuple[Place, list[Place]]:
    """Where a screen stands, and the allowed places by one change, nearest first."""
    target, stop_mm = contest.case.targets[index], float(contest.scene.wearers.stop_mm[0])
    now = places.place_of(target, stop_mm=stop_mm)
    allowed = places.moves(target, stop_mm=stop_mm, judgements=contest.judgements)
    return now, [place for place in allowed if _is_one_change(now, place)]


def _is_one_change(now: Place, then: Place) -> bool:
    up = abs(then.centre_above_eye_cm - now.centre_above_eye_cm) > _ROUNDING
    away = abs(then.distance_cm - now.distance_cm) > _ROUNDING
    tilted = abs(then.tilt_deg - now.tilt_deg) > _ROUNDING
    return not tilted and up != away


def _solved_at(contest: Contest, index: int, place: Place) -> dict[str, OptionResult]:
    """Every lens that may be recommended once the screen stands there, solved again."""
    case = places.moved(contest.case, index, place)
    solver = Solver(case, scene_of([case], judgements=contest.judgements), contest.judgements)
    return {one.solved.option: one.result for one in solver.options() if one.result.recommendable}


def _still_as_good(contest: Contest, index: int, place: Place, option: str) -> bool:
    """Whether the pair is as good as any once every lens is solved again at the new desk."""
    may = _solved_at(contest, index, place)
    if option not in may:
        return False
    best_h = max(one.comfortable_h for one in may.values())
    near_h = plans.near_h(contest.case, contest.judgements)
    return may[option].comfortable_h >= best_h - near_h - _ROUNDING


def _as_told(contest: Contest, index: int, place: Place, option: str, hours: float) -> DeskFirst:
    field, change_cm = _change(contest, index, place)
    name = contest.case.targets[index].name
    return DeskFirst(
        target=name, field=field, change_cm=change_cm, option=option, comfortable_h=hours
    )


def _change(contest: Contest, index: int, place: Place) -> tuple[str, float]:
    """The field that one change of height or distance changes, and by how many cm."""
    target = contest.case.targets[index]
    now = places.place_of(target, stop_mm=float(contest.scene.wearers.stop_mm[0]))
    up = place.centre_above_eye_cm - now.centre_above_eye_cm
    if abs(up) > _ROUNDING:
        return height_field(target), round(up, 6)
    return "distance_cm", round(place.distance_cm - now.distance_cm, 6)


def moved_gain(contest: Contest, plan: Plan) -> tuple[Told, ...]:
    """What the recommended lens itself gains from one free move of a screen, in a sentence.

    For a plan of one pair. The move is the nearest one of height or distance that makes the screen
    comfortable (nine tenths); it is told where the lens, solved again there, gains more hours than
    count as the same by the rule of `plans.choose`.
    """
    if len(plan.pairs) > 1:
        return ()
    option, now_h = plan.pairs[0][0], plan.hours.comfortable
    as_good_h = now_h + plans.near_h(contest.case, contest.judgements) + _ROUNDING
    for index in _by_hours(contest.case):
        place = _nearest_one_change(contest, index, contest.lenses[option.option])
        if place is None:
            continue
        then = _solved_at(contest, index, place).get(option.option)
        if then is None or then.comfortable_h <= as_good_h:
            continue
        field, change_cm = _change(contest, index, place)
        values = {
            "target": contest.case.targets[index].name,
            "change": f"{abs(change_cm):.0f} cm {_way(field, change_cm)}",
            "option": plans.option_name(option.option, option.kind),
            "hours_h": written_h(then.comfortable_h),
            "now_h": written_h(now_h),
            "day_h": written_h(contest.case.day_h),
        }
        return (told("moved_gain", **values),)
    return ()


def _way(field: str, change_cm: float) -> str:
    if field == "distance_cm":
        return "farther away" if change_cm > 0 else "nearer"
    return "higher" if change_cm > 0 else "lower"


def _nearest_one_change(contest: Contest, index: int, lens: Chosen) -> Place | None:
    """The nearest allowed place by one change that is comfortable where the present one is not."""
    wearers, target = contest.scene.wearers, contest.case.targets[index]
    judgements = contest.judgements
    now, tried = _one_changes(contest, index)
    shares = moves.comfortable_shares(
        wearers, target, [now, *tried], lens=lens, judgements=judgements
    )
    enough = [share >= judgements.desk_enough_share - _ROUNDING for share in shares]
    if enough[0]:
        return None
    return next((place for place, good in zip(tried, enough[1:], strict=True) if good), None)


def height_field(target: Target) -> str:
    """The field that gives the height of a target."""
    return "centre_above_eye_cm" if target.top_above_eye_cm is None else "top_above_eye_cm"


def what_would_change(contest: Contest, found: Doubt) -> tuple[Told, ...]:
    """The value of the deciding measurement at which another plan wins, in a sentence."""
    decides = found.depends_on
    if decides is None:
        return ()
    words = measurement_words(contest.case, decides.field)
    if decides.turns_at is None:
        return (told("measure_again", measurement=words),)
    unit = "times the usual" if decides.unit == "ratio" else decides.unit
    value = f"{decides.turns_at + 0.0:.1f} {unit}"
    return (told("turns_at", measurement=words, value=value),)


def measurement_words(case: Case, field: str) -> str:
    """What a person calls an input that can be measured again.

    >>> measurement_words(None, "fit.fitting_height_mm")
    'the fitting height'
    """
    parts = field.split(".")
    if parts[0] == "targets":
        name = case.targets[int(parts[1])].name
        what = "distance" if parts[2] == "distance_cm" else parts[2].removesuffix("_above_eye_cm")
        return (
            f"the distance of {name}"
            if what == "distance"
            else f"the {what} of {name} against the eyes"
        )
    return {
        "fitting_height_mm": "the fitting height",
        "head_zero_deg": "how upright the head was when the fitting point was marked",
        "usable_accommodation_d": "the usable accommodation",
        "blur_tolerance": "the blur tolerance",
    }[parts[-1]]
