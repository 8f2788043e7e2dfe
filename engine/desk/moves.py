"""Where the screen could go: the cheapest change, told beside every lens.

The lens is held over all places; see `places` for those that may be suggested.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine.answer.held import comfortable_share_of
from engine.case.model import STEEPEST
from engine.case.results import Change
from engine.case.scene import Placed, Scene, Wearers, scene_of_targets
from engine.case.targets import hours_on, size_cm, text_height_mm
from engine.case.targets import tilt_deg as tilt_of
from engine.desk.places import Place, as_arrays, moved, moves, place_of, standing
from engine.kernel.compiled import is_loaded
from engine.kernel.draws import Draws
from engine.kernel.posture import Gaze, comfortable
from engine.kernel.search import Views, clear_points
from engine.optics import workstation

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from engine.answer.options import Option
    from engine.answer.plans import Plan
    from engine.case.model import Activity, Case, Target
    from engine.lenses.lens import Lens
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

MAP_HEIGHTS_CM, MAP_DISTANCES_CM = np.linspace(-60.0, 30.0, 46), np.linspace(40.0, 100.0, 25)
"""Of the map: around all places that may be suggested."""
_ROUNDING = 1e-9
_CHUNK_POINTS = 600
"""Points side by side: their arrays then stay in the second cache of a core."""
_BENT_DEG = 1.0
_LEAST_SLOPE = 1e-9
SMOOTHED_CM = 12.0
"""How far a place is smoothed up and down: what the draws of head, frame and lens are worth."""
_DRAWN = 3
"""So many of the best places are drawn."""


@dataclass(frozen=True)
class DeskMap:
    """Comfortable share of one screen at every place, with one lens held.

    Attributes:
        heights_cm: (heights,) of the centre against the eyes. distances_cm: (distances,).
        tilt_deg: top away, at every place.
        share: (heights, distances); 0 where it cannot stand.
    """

    heights_cm: Floats
    distances_cm: Floats
    tilt_deg: float
    share: Floats

    def places_at(self, where: Bools) -> list[Place]:
        """Return the places of some cells, row by row; where: (heights, distances)."""
        row, column = np.nonzero(where)
        heights, distances = self.heights_cm[row].tolist(), self.distances_cm[column].tolist()
        return [Place(*one, self.tilt_deg) for one in zip(heights, distances, strict=True)]


@dataclass(frozen=True)
class Move:
    """A free change of place of one screen, and what a plan gains by it.

    Attributes:
        there: the draws of the moved desk.
        before_h, after_h: expected comfortable hours of the plan.
    """

    index: int
    place: Place
    there: Draws
    change: Change
    before_h: float
    after_h: float


class _Drawn(NamedTuple):
    """A place tried, the draws of the desk with the screen there, and what a plan gains by it.

    Attributes:
        gain_h: (draws,) of the first cube.
    """

    place: Place
    there: Draws
    gain_h: Floats


def change_between(now: Place, then: Place) -> Change:
    """Return what has to be changed from one place to another, to a hundredth of a micrometre."""
    return Change(
        up_cm=round(then.centre_above_eye_cm - now.centre_above_eye_cm, 6),
        farther_cm=round(then.distance_cm - now.distance_cm, 6),
        tilt_deg=round(then.tilt_deg - now.tilt_deg, 6),
    )


def places_scene(
    wearers: Wearers, target: Target, places: Sequence[Place], *, judgements: Judgements
) -> Scene:
    """Return a scene of one wearer at every place of one screen, a wearer a place.

    wearers: of one wearer. Its one target stands for one hour, so hours are shares.
    """
    count = len(places)
    height, distance, tilt = as_arrays(places)
    one, (width_cm, height_cm) = np.ones(count), size_cm(target)
    part = Placed(
        wearers=np.arange(count, dtype=np.intp),
        order=np.zeros(count, dtype=np.intp),
        is_far=False,
        distance_cm=distance,
        centre_above_eye_cm=height,
        offset_cm=target.offset_cm * one,
        tilt_deg=tilt,
        width_cm=width_cm * one,
        height_cm=height_cm * one,
        arcmin=workstation.text_arcmin(height_mm=text_height_mm(target), distance_cm=distance),
        hours=one,
        seated_hours=one,
    )
    same = wearers.take(np.zeros(count, dtype=np.intp))
    return scene_of_targets(same, [part], judgements=judgements)


def measured_shares(
    wearers: Wearers,
    target: Target,
    places: Sequence[Place],
    *,
    lens: Lens,
    judgements: Judgements,
) -> Floats:
    """Return the comfortable share of a screen at every place if nothing is off, one lens held.

    (places,); none of it where it cannot stand.
    """
    found = np.zeros(len(places))
    if not places:
        return found
    stand = np.flatnonzero(standing(target, places, stop_mm=float(wearers.stop_mm[0])))
    if not stand.size:
        return found
    kept = [places[int(at)] for at in stand]
    whole = places_scene(wearers, target, kept, judgements=judgements)
    free_d = np.full((len(kept), 1), lens.free_d)
    if is_loaded():
        views = Views(whole, judgements)
        clear = clear_points(views, lens.kind, lens.family, free_d)[:, 0]
    else:
        clear = _clear_in_parts(whole, lens, free_d, judgements)
    found[stand] = whole.by_target(clear)
    return found


def _clear_in_parts(whole: Scene, lens: Lens, free_d: Floats, judgements: Judgements) -> Bools:
    """Tell which points are comfortable, (points,): those at like chin-ups together."""
    lowest, highest = _chin_up_range_deg(whole, judgements)
    possible = np.flatnonzero(highest - lowest >= judgements.window_deg)
    order = possible[np.argsort((lowest + highest)[possible], kind="stable")]
    clear = np.zeros(len(whole.share), dtype=bool)
    for start in range(0, len(order), _CHUNK_POINTS):
        part = order[start : start + _CHUNK_POINTS]
        scene = whole.points_at(part)
        within = float(lowest[part].min()), float(highest[part].max())
        views = Views(scene, judgements, chin_up_within_deg=within)
        clear[part] = clear_points(views, lens.kind, lens.family, free_d)[:, 0]
    return clear


def _chin_up_range_deg(scene: Scene, judgements: Judgements) -> tuple[Floats, Floats]:
    """Return lowest and highest chin-up at which each point may be seen in comfort, (points,).

    Gaze falls as the head falls, by a straight line but for half a degree over the band; so its two
    ends say where it passes the limits. The lens bends it by no more than the stop distance times
    its power. Wider than needed, never narrower.
    """
    band, wearers = comfortable(judgements), scene.wearers
    least, most = band.chin_up_deg
    ends = Gaze(scene, chin_up_deg=np.array(band.chin_up_deg), pivot_mm=band.pivot_mm)
    bend = 1.0 + wearers.stop_mm[0] / 1e3 * abs(wearers.vertical_power_d[0])
    upper, lower = np.degrees(np.arctan(np.tan(np.radians(band.gaze_down_deg)) * bend))
    down = np.degrees(np.arctan(np.where(ends.in_front, ends.tangent, np.inf)))
    slope = (down[:, 1] - down[:, 0]) / (most - least)
    slope = np.where(slope == 0.0, _LEAST_SLOPE, slope)  # never in front: out of the band anyway
    lowest = least + (upper - down[:, 0]) / slope - _BENT_DEG
    highest = least + (lower - down[:, 0]) / slope + _BENT_DEG
    return np.maximum(lowest, least), np.minimum(highest, most)


def expected_shares(
    wearers: Wearers,
    target: Target,
    places: Sequence[Place],
    *,
    lens: Lens,
    judgements: Judgements,
) -> Floats:
    """Return about what share of a screen is comfortable at every place with errors, (places,).

    The measured share there and 12 cm higher and lower, a quarter, a half and a quarter: what the
    errors of head, frame and lens come to at a desk.
    """
    raised = [[place.raised(up) for place in places] for up in (-SMOOTHED_CM, 0.0, SMOOTHED_CM)]
    kept = list(dict.fromkeys(itertools.chain(*raised)))
    shares = measured_shares(wearers, target, kept, lens=lens, judgements=judgements)
    at = dict(zip(kept, shares.tolist(), strict=True))
    lower, here, higher = (np.array([at[place] for place in each]) for each in raised)
    found: Floats = 0.25 * lower + 0.5 * here + 0.25 * higher
    return found


def desk_map(
    wearers: Wearers,
    target: Target,
    *,
    lens: Lens,
    judgements: Judgements,
    heights_cm: Floats = MAP_HEIGHTS_CM,
    distances_cm: Floats = MAP_DISTANCES_CM,
) -> DeskMap:
    """Return the map of a screen at its tilt, with one lens held."""
    share = np.zeros((len(heights_cm), len(distances_cm)))
    found = DeskMap(heights_cm, distances_cm, tilt_of(target) or 0.0, share)
    stands = np.abs(heights_cm[:, None]) < STEEPEST * distances_cm
    share[stands] = expected_shares(
        wearers, target, found.places_at(stands), lens=lens, judgements=judgements
    )
    return found


def best_move(plan: Plan, draws: Draws) -> Move | None:
    """Find the free change of one screen that brings a plan most; None where none is worth it.

    A height, a distance, a tilt, or height and tilt together.
    """
    found = [move_of(plan, draws, index) for index in movable_screens(plan.case)]
    told = [move for move in found if move is not None]
    return max(told, key=lambda move: move.after_h, default=None)


def move_of(plan: Plan, draws: Draws, index: int) -> Move | None:
    """Return the best move of one screen; None where none brings a quarter of an hour.

    Places are looked for by `expected_shares`, the best three drawn; the least change among those
    as good is told.
    """
    case, judgements = plan.case, draws.judgements
    spent_h, worth_h = hours_on(case.targets[index].name, case.activities), judgements.move_worth_h
    if _lost_h(plan, draws, index).mean() < worth_h - _ROUNDING:
        return None
    target, wearers = case.targets[index], draws.measured_wearers
    stop_mm = float(wearers.stop_mm[0])
    now = place_of(target, stop_mm=stop_mm)
    tried = moves(target, stop_mm=stop_mm, judgements=judgements)
    option = looked_through(plan, target.name)
    if not tried or option is None:
        return None
    shares = expected_shares(
        wearers, target, [now, *tried], lens=option.lens, judgements=judgements
    )
    if (shares.max() - shares[0]) * spent_h < worth_h / 2:
        return None
    cube_end = draws.first_cube.stop
    found = []
    for at in _apart(tried, shares[1:], now, judgements):
        desk = moved(case, index, tried[at])
        there = Draws(desk, judgements=judgements, like=draws, stands=True)
        found.append(_Drawn(tried[at], there, _gain_h(plan, there, index, slice(1, cube_end))))
    most_h = max(float(one.gain_h.mean()) for one in found)
    as_good_h = max(most_h - judgements.desk_gain_share * spent_h, min(most_h, worth_h))
    best = min(
        (one for one in found if one.gain_h.mean() >= as_good_h),
        key=lambda one: float(_change_cm([one.place], now)[0]),
    )
    rest_h = _gain_h(plan, best.there, index, slice(cube_end, len(draws)))
    gain_h = float(np.concatenate([best.gain_h, rest_h]).mean())
    if gain_h < worth_h - _ROUNDING:
        return None
    return Move(
        index=index,
        place=best.place,
        there=best.there,
        change=change_between(now, best.place),
        before_h=plan.comfortable_h,
        after_h=plan.comfortable_h + gain_h,
    )


def hours_after(plan: Plan, move: Move) -> float:
    """Return the expected comfortable hours of a plan, its lenses held, after a move."""
    gain_h = _gain_h(plan, move.there, move.index, slice(1, len(move.there)))
    return plan.comfortable_h + float(gain_h.mean())


def _pairs_for(
    plan: Plan, draws: Draws, index: int, drawn: slice
) -> Iterator[tuple[Option, Floats]]:
    """Yield each pair through which a target is looked at, with its hours in rows, (rows,)."""
    for place, option in enumerate(plan.options):
        worn = [
            pair == place and _may_wear(option, activity)
            for pair, activity in zip(plan.worn, plan.case.activities, strict=True)
        ]
        spent_h = draws.activity_hours[drawn, :, index][:, worn].sum(axis=1)
        if np.any(spent_h > 0.0):
            yield option, spent_h


def _lost_h(plan: Plan, draws: Draws, index: int) -> Floats:
    """Return hours at a target that are not comfortable in each draw, (draws,).

    So much and no more a move of it may bring.
    """
    lost: Floats = np.zeros(len(draws) - 1)
    for option, spent_h in _pairs_for(plan, draws, index, slice(1, None)):
        lost += spent_h * (1.0 - option.hours.comfortable_share[:, index])
    return lost


def _gain_h(plan: Plan, there: Draws, index: int, drawn: slice) -> Floats:
    """Return hours a plan gains in some draws where one target stands elsewhere, (draws,).

    drawn: rows from 1 on. Nothing else moves, so only that target is looked at anew.
    """
    gain: Floats = np.zeros(drawn.stop - drawn.start)
    for option, spent_h in _pairs_for(plan, there, index, drawn):
        after = comfortable_share_of(there, index, option.lens, rows=drawn)
        before = option.hours.comfortable_share[drawn.start - 1 : drawn.stop - 1, index]
        gain += spent_h * (after - before)
    return gain


def _apart(tried: Sequence[Place], shares: Floats, now: Place, judgements: Judgements) -> list[int]:
    """Return the three best places, each the least change among those as good near it."""
    left = np.ones(len(tried), dtype=bool)
    found: list[int] = []
    away = _change_cm(tried, now)
    while left.any() and len(found) < _DRAWN:
        most = shares[left].max()
        good = np.flatnonzero(left & (shares >= most - judgements.desk_gain_share))
        at = int(good[np.argmin(away[good])])
        found.append(at)
        left &= _change_cm(tried, tried[at]) >= SMOOTHED_CM / 2
    return found


def _change_cm(tried: Sequence[Place], place: Place) -> Floats:
    """Return how far places are from one, (places,); a degree of tilt counts as half a cm."""
    height, distance, tilt = as_arrays(tried)
    up, away = height - place.centre_above_eye_cm, distance - place.distance_cm
    found: Floats = np.hypot(up, away) + np.abs(tilt - place.tilt_deg) / 2
    return found


def looked_through(plan: Plan, target: str) -> Option | None:
    """Return the pair of a plan through which a target is looked at the most."""
    hours = [
        hours_on(target, [one for one in plan.worn_for(place) if _may_wear(option, one)])
        for place, option in enumerate(plan.options)
    ]
    return plan.options[int(np.argmax(hours))] if max(hours) > 0.0 else None


def _may_wear(option: Option, activity: Activity) -> bool:
    """Tell whether a pair may be worn for an activity: clear distance where it needs it."""
    return option.result.covers_distance or not activity.needs


def screens(case: Case) -> list[int]:
    """Return the screens of a case, movable or not, the most looked at first."""
    found = [at for at, target in enumerate(case.targets) if target.kind == "screen"]
    return sorted(found, key=lambda at: -hours_on(case.targets[at].name, case.activities))


def movable_screens(case: Case) -> list[int]:
    """Return the screens that may be moved, the most looked at first."""
    return [at for at in screens(case) if case.targets[at].movable]
