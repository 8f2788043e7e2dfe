"""Make a crowd of wearers who all gave the same answers, and see them at their desk.

What is not known varies between them: the add, the distance power, the fit of the frame, the design
worn and the errors of the tape are spread evenly over what is usual, each independent of the
others, always in the same way. The kernel then works on all of them at once, and the answer is a
range.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine import tables
from engine.case.scene import scene_of, stop_mm_of
from engine.case.targets import least_distance_cm, size_cm
from engine.desk import places
from engine.home.answers import lens_of_answer
from engine.home.text import number
from engine.kernel.details import window_middles
from engine.kernel.draws import SLOPE_LOPSIDED, Spreads, assumed_spread
from engine.kernel.posture import View, any_posture, blur_of, chin_ups_deg, window_samples
from engine.kernel.search import Views, comfortable_shares
from engine.lenses.kinds import BARE_EYES, Kind, UsualEyes
from engine.units import round_half_up

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case, Target
    from engine.case.scene import Scene
    from engine.lenses.families import Family
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]


SEED = 7
"""Any seed does; a fixed one gives the same answer to the same answers."""
_OF_WEARER = ("add", "old", "sphere", "bare", "tilt", "height", "slip", "zone", "profile", "slope",
              "worn", "turns")  # fmt: skip
_DISTANCE_FIELDS = ("distance_cm",)
_HEIGHT_FIELDS = ("top_above_eye_cm", "centre_above_eye_cm")


@dataclass(frozen=True)
class Worn:
    """What some of the crowd wear now: one family, with the free power of each.

    Attributes:
        which: (wearers,) who. free_d: (of those,) free power.
    """

    which: Bools
    kind: Kind
    family: Family
    free_d: Floats


@dataclass(frozen=True)
class Crowd:
    """The people tried.

    Attributes:
        cases: one a person. scene: of all of them.
        names: of the targets, the same for each.
        worn: what they wear now; empty where that is not known.
        worn_add_d: (wearers,) near power of the pair they wear now, which may be an old one.
    """

    cases: tuple[Case, ...]
    scene: Scene
    names: tuple[str, ...]
    worn: tuple[Worn, ...]
    worn_add_d: Floats

    def scene_now(self, scene: Scene | None = None) -> Scene:
        """A scene of the crowd as the pair worn now sees it: with the near power of that pair."""
        base = self.scene if scene is None else scene
        return replace(base, wearers=replace(base.wearers, add_d=self.worn_add_d))


def crowd_of(
    case: Case, *, age: str, glasses: str | None, people: int, judgements: Judgements
) -> Crowd:
    """The crowd around a case.

    age: a band of home_ages.csv with usual adds. glasses: the answer to that question.
    """
    lots = _even_lots(people, [*_OF_WEARER, *_lot_names(case)])
    band = tables.by_id("home_ages")[age]
    low, high = float(band["add_from_d"]), float(band["add_to_d"])
    add_d = np.array([round_half_up(add, step=0.25) for add in low + lots["add"] * (high - low)])
    sphere = _sphere_d(lots, glasses)
    cases = tuple(
        _person(case, {name: float(lot[at]) for name, lot in lots.items()}, add, one)
        for at, (add, one) in enumerate(zip(add_d, sphere, strict=True))
    )
    scene = scene_of(cases, judgements=judgements)
    fitted = _as_fitted(lots, judgements)
    scene = replace(scene, wearers=replace(scene.wearers, **fitted))
    worn_add_d = np.maximum(add_d - lots["old"] * number("old_pair_weaker_d"), 0.25)
    return Crowd(
        cases=cases,
        scene=scene,
        names=tuple(target.name for target in case.targets),
        worn=tuple(_worn(glasses, lots, worn_add_d, -sphere, judgements)),
        worn_add_d=worn_add_d,
    )


def _even_lots(people: int, names: Sequence[str]) -> dict[str, Floats]:
    """For each name one number from 0 to 1 a person, evenly spread and shuffled."""
    chance = np.random.default_rng(SEED)
    steps = (np.arange(people) + 0.5) / people
    return {name: chance.permutation(steps) for name in names}


def _lot_names(case: Case) -> list[str]:
    return [f"{what}{at}" for at in range(len(case.targets)) for what in ("near", "up")]


def _sphere_d(lots: dict[str, Floats], glasses: str | None) -> Floats:
    """Distance power: none where far is clear without glasses, minus where near is."""
    if glasses == "bare_far":
        return np.zeros_like(lots["sphere"])
    if glasses == "bare_near":
        low, high = number("bare_low_d"), number("bare_high_d")
        return -(low + lots["bare"] * (high - low))
    low, high = number("sphere_low_d"), number("sphere_high_d")
    return low + lots["sphere"] * (high - low)


def _person(case: Case, lot: dict[str, float], add_d: float, sphere_d: float) -> Case:
    eye = case.wearer.right.model_copy(update={"sphere_d": sphere_d, "add_d": float(add_d)})
    wearer = case.wearer.model_copy(update={"right": eye, "left": eye})
    fit = case.fit.model_copy(
        update={
            "pantoscopic_deg": case.fit.pantoscopic_deg + _off("pantoscopic_deg", lot["tilt"]),
            "fitting_height_mm": case.fit.heights_mm[0] + _off("fitting_height_mm", lot["height"]),
        }
    )
    targets = tuple(_moved(target, case.origin, at, lot) for at, target in enumerate(case.targets))
    return case.model_copy(update={"wearer": wearer, "fit": fit, "targets": targets})


def _off(field: str, lot: float, *, part: str = "fit") -> float:
    """An error of an assumed value, evenly over twice its spread."""
    return (2.0 * lot - 1.0) * assumed_spread(field, part)


def _moved(target: Target, origin: Mapping[str, str], at: int, lot: dict[str, float]) -> Target:
    """A target where it might really stand."""
    moved = {}
    for fields, name, spread in (
        (_DISTANCE_FIELDS, "near", "distance_spread_cm"),
        (_HEIGHT_FIELDS, "up", "height_spread_cm"),
    ):
        for field in fields:
            value = getattr(target, field)
            if value is None:
                continue
            if origin.get(f"/targets/{at}/{field}") == "at_home":
                off = (2.0 * lot[f"{name}{at}"] - 1.0) * number(spread)
            else:
                off = _off(field, lot[f"{name}{at}"], part=target.kind)
            moved[field] = value + off
    return in_reach(target.model_copy(update=moved))


def in_reach(target: Target) -> Target:
    """A target no nearer than its own height and sideways distance allow."""
    top = target.top_above_eye_cm
    centre = target.centre_above_eye_cm if top is None else top - size_cm(target)[1] / 2
    heights = [height for height in (top, centre) if height is not None]
    least = least_distance_cm(heights_cm=heights, offset_cm=target.offset_cm)
    return target.model_copy(update={"distance_cm": max(target.distance_cm, least)})


def _as_fitted(lots: dict[str, Floats], judgements: Judgements) -> dict[str, Floats]:
    """What a pair made and worn, and a wearer, differ in; spreads as for the draws of an answer."""
    leads = lots["turns"] < judgements.eye_turner_share
    spreads = Spreads.standard()
    centred = {name: 2.0 * lot - 1.0 for name, lot in lots.items()}
    return {
        "lens_down_mm": spreads.slip * lots["slip"],
        "zone_width": np.exp(np.sqrt(3.0) * spreads.zone_width * centred["zone"]),
        "profile_down_mm": spreads.profile * centred["profile"],
        "eyes_first": np.where(leads, judgements.eye_turner_eye_share, 0.0),
        "slope": judgements.free_posture_slope
        + spreads.slope * (centred["slope"] + SLOPE_LOPSIDED),
    }


def _worn(
    glasses: str | None,
    lots: dict[str, Floats],
    add_d: Floats,
    bare_d: Floats,
    judgements: Judgements,
) -> Iterator[Worn]:
    """The pair worn now in its usual variants, shared out among the crowd."""
    made = _variants(glasses, add_d, bare_d, judgements)
    turn = (lots["worn"] * len(made)).astype(int)
    for number_, (kind, family, free_d) in enumerate(made):
        which = turn == number_
        if np.any(which):
            yield Worn(which, kind, family, free_d[which])


def _variants(
    glasses: str | None, add_d: Floats, bare_d: Floats, judgements: Judgements
) -> list[tuple[Kind, Family, Floats]]:
    """Kind, family and free power of each usual variant of a pair; none for an unknown pair.

    add_d: near power of the pair worn. Lines sit up to 1 mm off their usual place (ANSI Z80.1).
    """
    kind = lens_of_answer(glasses)
    if glasses in ("bare_far", "contacts"):
        kind, bare_d = BARE_EYES, np.zeros_like(bare_d)
    if kind is None:
        return []
    usual = kind.usual_variants(UsualEyes(add_d, bare_d, judgements))
    return [(kind, family, free_d) for family, free_d in usual]


STEPS_CM = (0, 5, 10, 15, 20, 25, 30)
"""Moves are tried, and told, in steps of 5 cm: a tape at home is good to about 3."""


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
        clear = comfortable_shares(views, worn.kind, worn.family, worn.free_d)
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
        moved = tuple(
            _moved_desk(one, at, lower, farther, stop_mm=stop_mm_of(one, judgements=judgements))
            for one in crowd.cases
        )
        scene = scene_of(moved, judgements=judgements)
        scene = _as_worn(crowd, scene)
        shares = worn_shares(crowd, scene, judgements=judgements)
        tried.append((lower, farther, float(np.mean(shares))))
    most = max(share for *_, share in tried)
    good = [move for move in tried if move[2] >= most - number("equal_places_share")]
    lower, farther, share = min(good, key=lambda move: (abs(move[0]) + abs(move[1]), -move[2]))
    if share - before < number("move_worth_share"):
        return None
    return ScreenMove(target, lower, farther, before, share)


def _allowed(case: Case, at: int, judgements: Judgements) -> Iterator[tuple[int, int]]:
    """Moves of a screen, lower and farther, to places that `places.obstacle` lets pass."""
    target = case.targets[at]
    stop_mm = stop_mm_of(case, judgements=judgements)
    now = places.place_of(target, stop_mm=stop_mm)
    for lower in STEPS_CM:
        for farther in sorted({sign * step for step in STEPS_CM for sign in (-1, 1)}):
            place = _shifted(now, lower, farther)
            moved = bool(lower or farther)
            if (
                moved
                and places.obstacle(target, place, stop_mm=stop_mm, judgements=judgements) is None
            ):
                yield lower, farther


def _moved_desk(case: Case, at: int, lower: int, farther: int, *, stop_mm: float) -> Case:
    """A person with one screen alone, at its new place."""
    place = _shifted(places.place_of(case.targets[at], stop_mm=stop_mm), lower, farther)
    here = in_reach(places.moved(case, at, place).targets[at])
    return case.model_copy(update={"targets": (here,)})


def _shifted(now: places.Place, lower: int, farther: int) -> places.Place:
    return replace(now.raised(-lower), distance_cm=now.distance_cm + farther)


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
    """Chin-up told of some points, as of those of one wearer: (points,); nan of none."""
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
    at = window_middles(
        clear,
        chin_up_deg=scan,
        free_deg=part.free_chin_up_deg,
        samples=window_samples(judgements),
    )
    return np.where(at < 0, np.nan, scan[at])
