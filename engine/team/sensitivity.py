"""What changes the total most: one assumption at a time to its low and its high end.

What the user said (uptake, prices, threshold) is moved on the whole team. What is unknown of eyes
and desks is moved on a sample of the people and the change carried over in proportion, since each
move takes a search of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from engine.lenses.kinds import KINDS
from engine.team.people import Team, sampled, team_of
from engine.team.policies import (
    PAID,
    PRICES,
    Assumptions,
    Counts,
    PolicyTotal,
    Range,
    counts_of,
    gain_of,
    taken_up,
    uptake_of,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    import pandas as pd

    from engine.roster.answer import Settings

SAMPLE_PEOPLE = 40
STEP_H = 0.25
RATIO_STEP = 0.05
"""What a sample of so few people can tell."""
SHIFTS = {
    "add_d": ("power for near that people need at their age, {step:g} dioptre less or more", 0.25),
    "screen_top_cm": ("height of screens not measured, {step:g} cm lower or higher", 3.0),
    "screen_distance_cm": ("distance of screens not measured, {step:g} cm nearer or farther", 5.0),
}
"""Doubt of the mean of what is drawn. Adds: two published tables differ by 0.50 D;
height: SD of sitting eye height over that of a mixed office; distance: published means of 61 to 74
cm (common practice, no source); the last two judged."""
PRESENT_KIND = "present_kind"


@dataclass(frozen=True)
class Move:
    """One assumption moved, all else as it is.

    Attributes:
        name: of the assumption, with what it was moved to.
        gained_h: comfortable hours a day at its low and at its high end (middle of the draws).
        cost: middle of the cost at both ends; None where it is not known.
    """

    name: str
    gained_h: tuple[float, float]
    cost: tuple[float, float] | None

    @property
    def swing_h(self) -> float:
        """Return how far the hours move."""
        return abs(self.gained_h[1] - self.gained_h[0])


@dataclass(frozen=True)
class Ends:
    """A sample searched as it is, and with each unknown at its low and its high end."""

    few: Team
    moved: Mapping[str, tuple[Team, Team]]


def ends_of(
    frame: pd.DataFrame,
    *,
    settings: Settings,
    assumed_present: str,
    progress: Callable[[float], None],
) -> Ends:
    """Search a sample of a team with what is unknown of eyes and desks at its ends.

    progress: told the share that is done.

    Raises
        InputRefusedError: no row can be computed.
    """
    sample = sampled(frame, most=SAMPLE_PEOPLE)
    jobs = list(_jobs(settings, assumed_present))
    found = []
    for number, (asked, present) in enumerate(jobs, start=1):
        found.append(team_of(sample, settings=asked, assumed_present=present))
        progress(number / len(jobs))
    pairs = zip(found[1::2], found[2::2], strict=True)
    return Ends(found[0], dict(zip((*SHIFTS, PRESENT_KIND), pairs, strict=True)))


def moves(
    team: Team, ends: Ends | None, policy: str, assumed: Assumptions, *, typed: bool = False
) -> tuple[Move, ...]:
    """Return every assumption moved by itself, the one that moves the hours most first.

    ends: without them what the user said is moved and nothing else.

    Worked out of rounded counts; a change seen in the sample is carried over in steps of 5 %.
    typed: as in `engine.team.tables.published`.
    """
    blur = team.blur()

    def exact(one: Team, asked: Assumptions) -> Counts:
        counted = one if typed else one.blurred(one.blur())
        gain = gain_of(counted, policy, earns_h=asked.earns_h, tests_for_all=asked.tests_for_all)
        return counts_of(gain, counted.weight[None])[0]

    def made(asked: Assumptions) -> PolicyTotal:
        counts = {name: count.rounded(blur) for name, count in exact(team, asked).items()}
        return taken_up(policy, blur.rounded(team.people), counts, asked)

    def of_sample(one: Team) -> PolicyTotal:
        return taken_up(policy, one.people, exact(one, assumed), assumed)

    found = [_move(name, made(low), made(high)) for name, low, high in _said(policy, assumed)]
    if ends is not None:
        base, few = made(assumed), of_sample(ends.few)
        for name, pair in ends.moved.items():
            both = [of_sample(one) for one in pair]
            found.append(_carried_over(_unknown_words(name), base, few, both))
    return tuple(sorted(found, key=lambda one: -one.swing_h))


def _jobs(settings: Settings, present: str) -> Iterator[tuple[Settings, str]]:
    """Yield the total as it is, then with every unknown at both ends."""
    yield settings, present
    for column, (_, step) in SHIFTS.items():
        for end in (-step, step):
            yield replace(settings, shifts={column: end}), present
    for kind in _usual_pairs():
        yield settings, kind


def _usual_pairs() -> tuple[str, str]:
    """Return what those may wear of whom it is not known: all-distance, or distance only."""
    far = [kind for kind in KINDS.values() if kind.may_cover_distance]
    progressive = next(kind.id for kind in far if kind.is_progressive)
    return progressive, next(kind.id for kind in far if kind.is_single_vision)


def _unknown_words(name: str) -> str:
    if name == PRESENT_KIND:
        return "glasses worn today where not known, all-distance or distance only"
    words, step = SHIFTS[name]
    return words.format(step=step)


def _said(policy: str, assumed: Assumptions) -> Iterator[tuple[str, Assumptions, Assumptions]]:
    """Yield what the user said, at both ends; a single number has none."""
    paid = policy == "contribution"
    uptake = uptake_of(policy, assumed)
    if uptake.high > uptake.low:
        low, high = (
            replace(assumed, contribution_uptake=end) if paid else replace(assumed, uptake=end)
            for end in (Range(uptake.low, uptake.low), Range(uptake.high, uptake.high))
        )
        yield f"uptake, {100 * uptake.low:.0f} to {100 * uptake.high:.0f} %", low, high
    more, less = assumed.earns_h + STEP_H, max(assumed.earns_h - STEP_H, 0.0)
    yield (
        f"least gain that counts, {more:g} down to {less:g} hours a day",
        replace(assumed, earns_h=more),
        replace(assumed, earns_h=less),
    )
    for name in (*PAID[policy], "setup"):
        price = assumed.prices.get(name)
        if price is not None and price.high > price.low:
            low, high = (
                replace(assumed, prices={**assumed.prices, name: Range(end, end)})
                for end in (price.low, price.high)
            )
            yield f"price: {PRICES[name]}, {price.low:g} to {price.high:g}", low, high


def _move(name: str, low: PolicyTotal, high: PolicyTotal) -> Move:
    cost = None
    if low.cost is not None and high.cost is not None:
        cost = (low.cost.mid, high.cost.mid)
    return Move(name, (low.gained_h.mid, high.gained_h.mid), cost)


def _carried_over(name: str, base: PolicyTotal, few: PolicyTotal, ends: list[PolicyTotal]) -> Move:
    """Return a change seen in the sample, in proportion on all."""

    def scaled(whole: float, part: float, moved: float) -> float:
        if part <= 0.0:
            return whole + moved
        return whole * RATIO_STEP * round(moved / part / RATIO_STEP)

    gained = [scaled(base.gained_h.mid, few.gained_h.mid, one.gained_h.mid) for one in ends]
    cost = None
    if base.cost is not None and few.cost is not None:
        moved = [
            scaled(base.cost.mid, few.cost.mid, one.cost.mid)
            for one in ends
            if one.cost is not None
        ]
        cost = (moved[0], moved[1]) if len(moved) == 2 else None
    return Move(name, (gained[0], gained[1]), cost)
