"""What moves the total most: one assumption at a time to its low and its high end.

What the user said (uptake, prices, threshold) is moved on the whole team. What is unknown of eyes
and desks is moved on a sample of the people and the change carried over in proportion, since each
move takes a search of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.roster import Settings
from engine.team import Assumptions, Range, total
from engine.team_people import team_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

    from engine.team import PolicyTotal
    from engine.team_people import Team

SAMPLE_ROWS = 120
STEP_H = 0.25
SHIFTS = {
    "add_d": ("usual add for the age", 0.25, "D"),
    "screen_top_cm": ("height of the screens not measured", 3.0, "cm"),
    "screen_distance_cm": ("distance of the screens not measured", 5.0, "cm"),
}
"""Doubt of the mean of what is drawn. Adds: two published tables differ by 0.50 D (F019, F020);
height: SD of sitting eye height over that of a mixed office; distance: published means of 61 to 74
cm (job page section 3); the last two judged."""
OTHER_PAIRS = ("general_progressive", "sv_distance")
"""What those may wear of whom it is not known."""


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
        """How far the hours move."""
        return abs(self.gained_h[1] - self.gained_h[0])


def one_at_a_time(
    frame: pd.DataFrame,
    policy: str,
    assumed: Assumptions,
    *,
    settings: Settings,
    assumed_present: str,
) -> tuple[Move, ...]:
    """Every assumption moved by itself, the one that moves the hours most first.

    Raises
        InputRefusedError: no row can be computed.
    """
    desk = policy == "desk_first"

    def search(rows: pd.DataFrame, asked: Settings, present: str) -> Team:
        return team_of(rows, settings=asked, assumed_present=present, with_desk=desk)

    team = search(frame, settings, assumed_present)
    base = total(team, policy, assumed)
    found = [
        _move(name, total(team, policy, low), total(team, policy, high))
        for name, low, high in _said(policy, assumed)
    ]
    rows = np.unique(np.linspace(0, len(frame) - 1, SAMPLE_ROWS).round().astype(int))
    sample = frame.iloc[rows]
    few = total(search(sample, settings, assumed_present), policy, assumed)
    for name, low, high in _unknown(settings, assumed_present):
        ends = [total(search(sample, *one), policy, assumed) for one in (low, high)]
        found.append(_carried_over(name, base, few, ends))
    return tuple(sorted(found, key=lambda one: -one.swing_h))


def _said(policy: str, assumed: Assumptions) -> Iterator[tuple[str, Assumptions, Assumptions]]:
    """What the user said, at both ends."""
    which = "contribution_uptake" if policy == "contribution" else "uptake"
    uptake: Range = getattr(assumed, which)

    def at_uptake(share: float) -> Assumptions:
        if which == "contribution_uptake":
            return replace(assumed, contribution_uptake=Range(share, share))
        return replace(assumed, uptake=Range(share, share))

    yield (
        f"uptake {uptake.low:.0%} to {uptake.high:.0%}",
        at_uptake(uptake.low),
        at_uptake(uptake.high),
    )
    yield (
        f"hours a change must earn, {assumed.earns_h + STEP_H:g} to {assumed.earns_h - STEP_H:g}",
        replace(assumed, earns_h=assumed.earns_h + STEP_H),
        replace(assumed, earns_h=max(assumed.earns_h - STEP_H, 0.0)),
    )
    for name, price in assumed.prices.items():
        if price is not None and price.high > price.low:
            low, high = (
                replace(assumed, prices={**assumed.prices, name: Range(end, end)})
                for end in (price.low, price.high)
            )
            yield f"price: {name}, {price.low:g} to {price.high:g}", low, high


def _unknown(
    settings: Settings, present: str
) -> Iterator[tuple[str, tuple[Settings, str], tuple[Settings, str]]]:
    """What is not known of eyes and desks, at both ends."""
    for column, (name, step, unit) in SHIFTS.items():
        low, high = (replace(settings, shifts={column: end}) for end in (-step, step))
        yield f"{name}, {-step:+g} to {step:+g} {unit}", (low, present), (high, present)
    first, second = OTHER_PAIRS
    yield f"pair worn where not known, {first} or {second}", (settings, first), (settings, second)


def _move(name: str, low: PolicyTotal, high: PolicyTotal) -> Move:
    cost = None
    if low.cost is not None and high.cost is not None:
        cost = (low.cost.mid, high.cost.mid)
    return Move(name, (low.gained_h.mid, high.gained_h.mid), cost)


def _carried_over(name: str, base: PolicyTotal, few: PolicyTotal, ends: list[PolicyTotal]) -> Move:
    """A change seen on the sample, in proportion on all."""

    def scaled(whole: float, part: float, moved: float) -> float:
        return whole * moved / part if part > 0.0 else whole + moved

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
