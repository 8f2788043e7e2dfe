"""Make a crowd of wearers who all gave the same answers, and see them at their desk.

The add is drawn from the age. The people of each add are the draws of one case: every error of
measuring and every value nobody measured, as for an answer of the engine. What else is not asked at
home (the distance power, how old the pair worn is, and how it was made) is spread evenly over what
is usual, always in the same way. The kernel works on all of them at once, and the answer is a mean
and a range.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.case.targets import hours_on
from engine.home.answers import lens_of_answer
from engine.home.numbers import number
from engine.kernel.details import window_middles
from engine.kernel.draws import IN_A_CUBE, Draws
from engine.kernel.posture import View, any_posture, blur_of, chin_ups_deg, window_samples
from engine.kernel.search import Views, best_columns, candidates_of, comfortable_shares
from engine.lenses.kinds import BARE_EYES, KINDS, Kind, UsualEyes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case
    from engine.case.scene import Scene, Wearers
    from engine.lenses.families import Family
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]


SEED = 7
"""Any seed does; a fixed one gives the same answer to the same answers."""
CUBES = 1
PEOPLE = CUBES * IN_A_CUBE
"""So many people need each add: so many hypercubes of draws."""
DRAWN = slice(1, 1 + PEOPLE)
"""Their rows among the draws; row 0 is the desk as it was told."""
OLDEST = "65_over"


@dataclass(frozen=True)
class Worn:
    """What some people wear now: one family, with the free power of each.

    Attributes:
        free_d: (of those,) free power.
    """

    kind: Kind
    family: Family
    free_d: Floats


@dataclass(frozen=True)
class People:
    """Those of a crowd who need the same add.

    Attributes:
        wearers: (people,) each.
        worn: what those of each variant wear now; empty where that is not known.
        worn_add_d: (people,) near power of the pair they wear now, which may be an old one.
    """

    wearers: Wearers
    worn: tuple[Worn, ...]
    worn_add_d: Floats


@dataclass(frozen=True)
class Crowd:
    """The people tried: those of each add are alike in all but the add and what they focus.

    Attributes:
        draws: of the case, for the people of every add.
        parts: one for each add. weight: (parts,) share of the crowd, 1 together.
        variant: (people,) which variant of the pair worn each has.
        hours: (targets,) a day on each target.
    """

    case: Case
    draws: Draws
    parts: tuple[People, ...]
    weight: Floats
    variant: NDArray[np.intp]
    hours: Floats
    judgements: Judgements

    def scene(self, *, only: int | None = None) -> Scene:
        """Return the desk before the people of the first add; only: one target of it."""
        return replace(self.draws.scene(DRAWN, only=only), wearers=self.parts[0].wearers)

    def views(self, scene: Scene) -> list[Views]:
        """Return the views of the people of each add."""
        first = Views(scene, self.judgements)
        scenes = [replace(scene, wearers=people.wearers) for people in self.parts[1:]]
        return [first, *(Views(one, self.judgements, like=first) for one in scenes)]

    def with_variant(self, scene: Scene, turn: int) -> tuple[Bools, Scene, list[Wearers]]:
        """Return who wears a variant of the pair, their scene, and of each add they as worn."""
        which = self.variant == turn
        now = [
            replace(one.wearers, add_d=one.worn_add_d).take(np.flatnonzero(which))
            for one in self.parts
        ]
        return which, replace(scene.of_wearers(which), wearers=now[0]), now


def adds_of(age: str, *, judgements: Judgements) -> list[tuple[float, float]]:
    """Return the adds of an age band with the share of people who need each, smallest first.

    Evenly over the range of home_ages.csv, to the nearest step of an order: the ends have half of
    what the others have.
    """
    band, step = tables.by_id("home_ages")[age], judgements.design_step_d
    low, high = float(band["add_from_d"]), float(band["add_to_d"])
    count = round((high - low) / step)
    return [
        (low + step * at, (0.5 if at in (0, count) else 1.0) / count) for at in range(count + 1)
    ]


def crowd_with(
    case: Case, adds: Sequence[tuple[float, float]], *, glasses: str | None, judgements: Judgements
) -> Crowd:
    """Return a crowd with these adds, each with its share of the people."""
    lots = _even_lots()
    drawn = [Draws(with_add(case, add), judgements=judgements, cubes=CUBES) for add, _ in adds]
    parts = [
        _people(one, add, lots, glasses, judgements)
        for one, (add, _) in zip(drawn, adds, strict=True)
    ]
    return Crowd(
        case=case,
        draws=drawn[0],
        parts=tuple(parts),
        weight=np.array([weight for _, weight in adds]),
        variant=(lots["worn"] * len(parts[0].worn)).astype(np.intp),
        hours=np.array([hours_on(one.name, case.activities) for one in case.targets]),
        judgements=judgements,
    )


def _people(
    draws: Draws, add_d: float, lots: dict[str, Floats], glasses: str | None, judgements: Judgements
) -> People:
    sphere_d = _sphere_d(lots, glasses)
    drawn = draws.wearers.take(np.arange(len(draws))[DRAWN])
    worn_add_d = np.maximum(add_d - lots["old"] * number("old_pair_weaker_d"), 0.25)
    made = _variants(glasses, worn_add_d, -sphere_d, judgements)
    turn = (lots["worn"] * len(made)).astype(np.intp)
    return People(
        wearers=replace(drawn, vertical_power_d=sphere_d, unaided_power_d=-sphere_d),
        worn=tuple(
            Worn(kind, family, free_d[turn == at]) for at, (kind, family, free_d) in enumerate(made)
        ),
        worn_add_d=worn_add_d,
    )


def with_add(case: Case, add_d: float) -> Case:
    """Return the case with an add in both eyes."""
    eye = case.wearer.right.model_copy(update={"add_d": add_d})
    wearer = case.wearer.model_copy(update={"right": eye, "left": eye})
    return case.model_copy(update={"wearer": wearer})


def _even_lots() -> dict[str, Floats]:
    """Return one number from 0 to 1 a person for each thing, evenly spread and shuffled."""
    chance = np.random.default_rng(SEED)
    steps = (np.arange(PEOPLE) + 0.5) / PEOPLE
    return {name: chance.permutation(steps) for name in ("old", "sphere", "worn")}


def _sphere_d(lots: dict[str, Floats], glasses: str | None) -> Floats:
    """Return distance power: none where far is clear without glasses, minus where near is."""
    if glasses == "bare_far":
        return np.zeros(PEOPLE)
    if glasses == "bare_near":
        low, high = -number("bare_high_d"), -number("bare_low_d")
    else:
        low, high = number("sphere_low_d"), number("sphere_high_d")
    return low + lots["sphere"] * (high - low)


def _variants(
    glasses: str | None, add_d: Floats, bare_d: Floats, judgements: Judgements
) -> list[tuple[Kind, Family, Floats]]:
    """Return kind, family and free power of each usual variant of a pair; none if unknown.

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


def worn_shares(crowd: Crowd, scene: Scene) -> Floats:
    """Return comfortable shares of targets through the pair worn now: (parts, people, targets)."""

    people = len(crowd.variant)
    found = np.full((len(crowd.parts), people, len(scene.target_wearer) // people), np.nan)
    for turn in range(len(crowd.parts[0].worn)):
        which, part, now = crowd.with_variant(scene, turn)
        first = Views(part, crowd.judgements)
        for at, wearers in enumerate(now):
            view = Views(replace(part, wearers=wearers), crowd.judgements, like=first)
            worn = crowd.parts[at].worn[turn]
            clear = comfortable_shares(view, worn.kind, worn.family, worn.free_d)
            found[at, which] = clear.reshape(-1, found.shape[2])
    return found


def kind_shares(crowd: Crowd) -> dict[str, Floats]:
    """Return comfortable shares through the best of each kind: (parts, people, targets).

    Kinds that some of the crowd cannot be made are left out.
    """
    views = crowd.views(crowd.scene())
    found = {}
    for name in tables.by_id("home_kinds"):
        parts = [_best_shares(view, KINDS[name], crowd.judgements) for view in views]
        if all(part is not None for part in parts):
            found[name] = np.stack([part for part in parts if part is not None])
    return found


def _best_shares(views: Views, kind: Kind, judgements: Judgements) -> Floats | None:
    """Return the share of each target through the design with most hours, (people, targets).

    None where the kind has no design for them.
    """
    ((found, clear),) = candidates_of(views, [kind])
    column = int(best_columns(found.expected(), judgements=judgements)[0])
    if column < 0:
        return None
    shares = views.scene.by_target(clear[:, column])
    return shares.reshape(len(found.comfortable_h), -1)


def middle_points(scene: Scene) -> NDArray[np.intp]:
    """Return the middle point of every target."""
    last = int(scene.row.max(initial=0))
    return np.flatnonzero(scene.middle & ((scene.row == last // 2) | (scene.row < 0)))


def chins_up_deg(crowd: Crowd, middles: Scene) -> Floats:
    """Return chin-up at each target as worn: (parts, people, targets); nan of who sees it not.

    middles: a scene with one point a target.
    """
    judgements, people = crowd.judgements, len(crowd.variant)
    low, high = judgements.scan_chin_up_min_deg, judgements.scan_chin_up_max_deg
    scan = chin_ups_deg(low=low, high=high, judgements=judgements)
    found = np.full((len(crowd.parts), people, len(middles.share) // people), np.nan)
    for turn, one in enumerate(crowd.parts[0].worn):
        which, part, now = crowd.with_variant(middles, turn)
        band, is_lens = any_posture(judgements), one.kind.is_lens
        view = View(part, chin_up_deg=scan, band=band, through_lens=is_lens)
        for at, wearers in enumerate(now):
            clear = _is_clear(view.of_others(wearers), crowd.parts[at].worn[turn])
            told = window_middles(
                clear,
                chin_up_deg=scan,
                free_deg=part.free_chin_up_deg,
                samples=window_samples(judgements),
            )
            chin = np.where(told < 0, np.nan, scan[told])
            found[at, which] = chin.reshape(-1, found.shape[2])
    return found


def _is_clear(view: View, worn: Worn) -> Bools:
    """Return at which posture each point is clear, (points, postures)."""
    scene, field = view.scene, worn.family.field(view.points, view.wearers)
    blur = blur_of(
        field,
        free_d=worn.free_d[scene.point_wearer][:, None],
        demand_d=scene.demand_d[:, None],
        accommodation_d=view.wearers.usable_d,
        weight=view.wearers.astigmatism_weight,
    )
    limit = scene.limit_d[scene.point_target][:, None]
    clear: Bools = view.usable(worn.kind, field) & (blur <= limit + 1e-9)
    return clear


def moves_cm() -> list[tuple[int, int]]:
    """Return all moves there are, lower and farther in cm."""
    away = sorted({sign * step for step in STEPS_CM for sign in (-1, 1)})
    return [(lower, farther) for lower in STEPS_CM for farther in away if lower or farther]
