"""How sure: who wins when every measurement is drawn anew, and which one decides.

Designs are held fixed: they are ordered before the truth is known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from engine import tables
from engine.answer.plans import PRESENT, holds_up, near_h
from engine.case.results import DependsOn
from engine.case.scene import calibration_of
from engine.kernel.draws import Draws, Spreads, activity_hours, draw, drawn_scene, no_errors
from engine.kernel.search import Views, clear_shares

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from engine.answer.plans import Plan
    from engine.case.model import Case
    from engine.case.scene import Scene
    from engine.kernel.details import Chosen
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

DRAWS = 300
SEED = 20260101
"""Any number would do; this one is held so that the same case gives the same bytes."""
_CHUNK = 20
_TURNING_STEPS = 25
_TURNING_REACH = 3.0


@dataclass(frozen=True)
class Doubt:
    """How often the recommended plan still wins, and what it depends on."""

    verdict: Literal["firm", "depends", "toss_up"]
    winner_share: float
    shares: Mapping[str, float]
    depends_on: DependsOn | None


@dataclass(frozen=True)
class Contest:
    """Plans under comparison with the lens of each option.

    Attributes:
        lenses: by option name.
        plans: those that may be recommended; the first is the recommended one.
    """

    case: Case
    scene: Scene
    judgements: Judgements
    lenses: Mapping[str, Chosen]
    plans: tuple[Plan, ...]


def doubt(
    contest: Contest,
    *,
    spreads: Spreads | None = None,
    count: int = DRAWS,
    seed: int = SEED,
    progress: Callable[[float], None] | None = None,
) -> Doubt:
    """Draw the errors, let the plans compete, and name the measurement that decides.

    progress: told the share done, 0 to 1.
    """
    tell = progress or (lambda _: None)
    judged = contest.judgements
    spread = spreads or _spreads_of(contest.case)
    draws = draw(contest.case, count=count, seed=seed, spreads=spread, judgements=judged)
    wins = plan_wins(contest, draws, progress=lambda done: tell(0.8 * done))
    shares = {plan.name: float(wins[:, at].mean()) for at, plan in enumerate(contest.plans)}
    share = float(wins[:, 0].mean())
    verdict = _verdict(contest, share)
    decides = None
    if verdict != "firm" and len(contest.plans) > 1:
        decides = _decisive(contest, draws, wins[:, 0], spread, lambda done: tell(0.8 + 0.2 * done))
    tell(1.0)
    return Doubt(verdict, share, shares, decides)


def _spreads_of(case: Case) -> Spreads:
    """The standard spreads; a taped range narrows those of focusing and of blur tolerance."""
    standard, fitted = Spreads.standard(), calibration_of(case)
    if fitted is None:
        return standard
    blur = fitted.tolerance_sd_d / max(fitted.tolerance_d, 0.1)
    return replace(standard, usable=fitted.usable_sd_d, blur=min(blur, standard.blur))


def _verdict(contest: Contest, share: float) -> Literal["firm", "depends", "toss_up"]:
    if share >= contest.judgements.firm_share and holds_up(
        contest.plans[0], judgements=contest.judgements
    ):
        return "firm"
    return "depends" if share >= contest.judgements.depends_share else "toss_up"


def plan_wins(
    contest: Contest, draws: Draws, *, progress: Callable[[float], None] | None = None
) -> Floats:
    """The share of each draw each plan wins: (draws, plans), rows adding up to 1.

    The same rules as for the recommendation; plans that no rule parts share a draw.
    """
    comfortable, reserve = hours_of_plans(contest, draws, progress=progress)
    left = _within(
        comfortable, comfortable, near_h(contest.case, contest.judgements), inclusive=True
    )
    for rule in _rules(contest, comfortable, reserve):
        left = rule(left)
    won: Floats = left / left.sum(axis=1, keepdims=True)
    return won


def _within(values: Floats, among: Floats, step: float, *, inclusive: bool = False) -> Bools:
    """Plans within a step of the best of a draw."""
    edge = 1e-9 if inclusive else -1e-9
    near: Bools = values >= among.max(axis=1, keepdims=True) - step - edge
    return near


def _rules(
    contest: Contest, comfortable: Floats, reserve: Floats
) -> Iterator[Callable[[Bools], Bools]]:
    """The rules of `plans.choose`, a draw at a time."""
    plans, j, present = contest.plans, contest.judgements, contest.case.present_pair
    liked = present.kind if present is not None and present.liked else None

    def preferring(test: Sequence[bool]) -> Callable[[Bools], Bools]:
        def rule(left: Bools) -> Bools:
            kept = left & np.array(test)
            return np.where(kept.any(axis=1, keepdims=True), kept, left)

        return rule

    def by(values: Floats, step: float) -> Callable[[Bools], Bools]:
        """Those that fall short of the best by less than a step; without a step, the best."""

        def rule(left: Bools) -> Bools:
            among = np.where(left, values, -np.inf)
            return left & _within(values, among, step, inclusive=step == 0.0)

        return rule

    together = np.array([[plan.one_posture_share for plan in plans]])
    yield preferring([not plan.needs_swapping for plan in plans])
    yield by(reserve, j.plan_reserve_h)
    yield by(np.broadcast_to(together, reserve.shape), j.plan_one_posture_share)
    yield preferring([plan.pairs[0][0].kind == liked for plan in plans])
    yield preferring([plan.name == PRESENT for plan in plans])
    costs = [plan.cost for plan in plans]
    if None not in costs:
        yield by(np.array([[-float(cost or 0.0) for cost in costs]]) + 0.0 * reserve, 0.0)
    yield by(comfortable + reserve, j.same_score_h)
    yield by(np.array([[-plan.plus_d for plan in plans]]) + 0.0 * reserve, 0.0)


def hours_of_plans(
    contest: Contest, draws: Draws, *, progress: Callable[[float], None] | None = None
) -> tuple[Floats, Floats]:
    """Comfortable and reserve hours of each plan in each draw, (draws, plans) each."""
    options = {option.option for plan in contest.plans for option, _ in plan.pairs}
    shares = _shares_of_options(contest, draws, sorted(options), progress)
    looks = activity_hours(contest.case, draws)
    place = {activity.name: at for at, activity in enumerate(contest.case.activities)}
    hours = np.zeros((2, len(draws), len(contest.plans)))
    for column, plan in enumerate(contest.plans):
        for option, activities in plan.pairs:
            for activity in activities:
                if activity.needs and not option.covers_distance:
                    continue
                if not activity.looks:
                    hours[:, :, column] += activity.hours
                    continue
                spent = looks[:, place[activity.name]]
                hours[:, :, column] += (shares[option.option] * spent).sum(axis=2)
    return hours[0], hours[1]


def _shares_of_options(
    contest: Contest,
    draws: Draws,
    options: Sequence[str],
    progress: Callable[[float], None] | None,
) -> dict[str, Floats]:
    """Comfortable and reserve share of each target: (2, draws, targets) by option."""
    targets = len(contest.case.targets)
    found = {name: np.zeros((2, len(draws), targets)) for name in options}
    for start in range(0, len(draws), _CHUNK):
        part = slice(start, min(start + _CHUNK, len(draws)))
        scene = drawn_scene(contest.scene, draws.some(part))
        views = Views(scene, contest.judgements)
        for name in options:
            lens = contest.lenses[name]
            free_d = np.full(len(scene.wearers.add_d), lens.free_d)
            both = clear_shares(views, lens.kind, lens.family, free_d)
            found[name][:, part] = np.stack(both).reshape(2, -1, targets)
        if progress is not None:
            progress(part.stop / len(draws))
    return found


@dataclass(frozen=True)
class _Input:
    """One input that can be measured again."""

    id: str
    field: str
    unit: str
    nominal: float
    spread: float
    errors: Floats
    moved: Callable[[Draws, Floats], Draws]


def _decisive(
    contest: Contest,
    draws: Draws,
    won: Floats,
    spreads: Spreads,
    progress: Callable[[float], None],
) -> DependsOn | None:
    """The input whose error parts the draws won from those lost the most, and where it turns."""
    lost = won < 0.5
    if lost.all() or not lost.any():
        return None
    inputs = list(_inputs(contest, draws, spreads))

    def parting(one: _Input) -> float:
        spread = one.errors.std()
        return abs(one.errors[lost].mean() - one.errors[~lost].mean()) / spread if spread else 0.0

    most = max(inputs, key=parting)
    return DependsOn(
        field=most.field, turns_at=_turning_point(contest, most, progress), unit=most.unit
    )


def _turning_point(
    contest: Contest, one: _Input, progress: Callable[[float], None]
) -> float | None:
    """The value nearest to the measured one at which another plan wins, all else as measured."""
    steps = np.linspace(-_TURNING_REACH, _TURNING_REACH, 2 * _TURNING_STEPS + 1) * one.spread
    start = no_errors(contest.case, count=len(steps), judgements=contest.judgements)
    won = plan_wins(contest, one.moved(start, steps), progress=progress)[:, 0] >= 0.5
    turned = np.flatnonzero(won != won[_TURNING_STEPS])
    if not turned.size:
        return None
    nearest = turned[np.argmin(np.abs(steps[turned]))]
    return float(one.nominal + steps[nearest])


def _inputs(contest: Contest, draws: Draws, spreads: Spreads) -> Iterator[_Input]:
    """What can be measured again: everything but the lens that will be made and the eye itself."""
    units = {name: row["unit"] for name, row in tables.by_id("measuring_errors").items()}
    case, wearer = contest.case, contest.scene.wearers
    for place, target in enumerate(case.targets):
        yield _Input(
            "distance",
            f"targets.{place}.distance_cm",
            "cm",
            target.distance_cm,
            float(np.hypot(spreads.own_distance, spreads.lean)) or 1.0,
            draws.own_distance_cm[:, place] + draws.lean_cm,
            _target_mover("own_distance_cm", place),
        )
        top = target.top_above_eye_cm is not None
        height = target.top_above_eye_cm if top else target.centre_above_eye_cm
        yield _Input(
            "height",
            f"targets.{place}.{'top' if top else 'centre'}_above_eye_cm",
            "cm",
            float(height or 0.0),
            float(np.hypot(spreads.own_height, spreads.eye_height)) or 1.0,
            draws.own_height_cm[:, place] - draws.eye_height_cm,
            _target_mover("own_height_cm", place),
        )
    single = {
        "lens_down_mm": ("fit.fitting_height_mm", units["fitting_height"], spreads.fitting_height),
        "head_zero_deg": ("wearer.head_zero_deg", units["head_zero"], spreads.head_zero),
        "usable_d": ("wearer.usable_accommodation_d", units["usable"], spreads.usable),
        "blur": ("wearer.blur_tolerance", units["blur"], spreads.blur),
    }
    nominal = {
        "lens_down_mm": float(wearer.fitting_height_mm[0]),
        "head_zero_deg": 0.0,
        "usable_d": float(wearer.usable_d[0]),
        "blur": 1.0,
    }
    for name, (field, unit, spread) in single.items():
        # A lens that sits lower is a fitting height ordered too small by as much.
        sign = -1.0 if name == "lens_down_mm" else 1.0
        yield _Input(
            name,
            field,
            unit,
            nominal[name],
            spread or 1.0,
            sign * getattr(draws, name),
            _wearer_mover(name, sign),
        )


def _target_mover(name: str, place: int) -> Callable[[Draws, Floats], Draws]:
    def moved(draws: Draws, steps: Floats) -> Draws:
        errors = getattr(draws, name).copy()
        errors[:, place] = steps
        return replace(draws, **{name: errors})

    return moved


def _wearer_mover(name: str, sign: float) -> Callable[[Draws, Floats], Draws]:
    def moved(draws: Draws, steps: Floats) -> Draws:
        return replace(draws, **{name: getattr(draws, name) + sign * steps})

    return moved
