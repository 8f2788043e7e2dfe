"""What the Team page asks of the engine: the search with its progress, what may be shown of it.

Pure: no page library. What is found is kept with the draft and goes with it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from app.team_file import Checked, evenly, who
from engine.roster import Settings
from engine.team import PRICES, Assumptions, PolicyTotal, Range, total
from engine.team_people import Team, expanded, team_of
from engine.team_sensitivity import OTHER_PAIRS, SHIFTS, STEP_H, Move

SLICE_PEOPLE = 24
"""People searched between two moves of the progress bar."""
SAMPLE_PEOPLE = 40
SAMPLE_DRAWS = 5
SECONDS_A_PERSON = 0.1
"""Ten draws through every kind, twice, on one free core; shown before the first slice is timed."""
_SEED_STEP = 1_000_003
PRESENT = "present_kind"
UNKNOWN_WORDS = {
    "add_d": "reading power for the age, {step:g} dioptre weaker or stronger",
    "screen_top_cm": "height of screens not measured, {step:g} cm lower or higher",
    "screen_distance_cm": "distance of screens not measured, {step:g} cm nearer or farther",
    PRESENT: "glasses worn today where not known, all-distance or distance only",
}

Progress = Callable[[float, float], None]
"""Told the share that is done, 0 to 1, and the seconds that are left."""


@dataclass(frozen=True)
class Asked:
    """What a search was asked, to see later whether its answer is still the one."""

    frame: pd.DataFrame
    present: str

    def same(self, other: Asked) -> bool:
        """Whether the same was asked."""
        return self.present == other.present and self.frame.equals(other.frame)


@dataclass(frozen=True)
class Found:
    """A team that was searched."""

    asked: Asked
    team: Team
    single: bool


@dataclass(frozen=True)
class Ends:
    """A sample searched with each unknown at its low and its high end."""

    few: Team
    moved: Mapping[str, tuple[Team, Team]]


def searched(rows: Checked, present: str, *, progress: Progress) -> Found:
    """Search everyone, a slice at a time."""
    people, weight, _ = expanded(rows.good)
    team = in_slices(people, weight, settings=Settings(), present=present, progress=progress)
    return Found(Asked(rows.good, present), team, rows.single)


def in_slices(
    people: pd.DataFrame,
    weight: np.ndarray,
    *,
    settings: Settings,
    present: str,
    progress: Progress,
) -> Team:
    """The team of all, from one slice after another; every slice is drawn from its own seed.

    people: a row a person; the index is the number of the row in the file.
    """
    began, parts = time.monotonic(), []
    for start in range(0, len(people), SLICE_PEOPLE):
        chosen = slice(start, start + SLICE_PEOPLE)
        part = people.iloc[chosen]
        numbered = part.set_axis(pd.RangeIndex(start, start + len(part)), axis=0)
        own = replace(settings, seed=settings.seed + _SEED_STEP * (start // SLICE_PEOPLE))
        parts.append(team_of(numbered, settings=own, assumed_present=present))
        done = (start + len(part)) / len(people)
        progress(done, (time.monotonic() - began) * (1 - done) / done)
    return _joined(parts, people, weight)


def _joined(parts: list[Team], people: pd.DataFrame, weight: np.ndarray) -> Team:
    place = np.concatenate([one.row for one in parts])
    names = who(people)
    arrays = {
        name: np.concatenate([getattr(one, name) for one in parts])
        for name in (
            "group",
            "present",
            "general",
            "screen_pair",
            "present_moved",
            "screen_pair_moved",
            "day_h",
            "young",
        )
    }
    worn = people["present_kind"] if "present_kind" in people.columns else [""] * len(people)
    known = np.array([str(kind).strip() != "" for kind in worn], dtype=bool)
    return Team(
        row=np.array(people.index)[place],
        ref=tuple(names[at] for at in place),
        weight=weight[place],
        groups=parts[0].groups,
        assumed_present=float(weight[place][~known[place] & ~arrays["young"]].sum()),
        problems=(),
        **arrays,
    )


def seconds(people: int) -> float:
    """About how long a search takes."""
    return people * SECONDS_A_PERSON


def ends_of(rows: Checked, present: str, *, progress: Progress) -> Ends:
    """Search a sample with what is unknown of eyes and desks at its ends."""
    people, weight, _ = expanded(rows.good)
    sample = people.iloc[evenly(weight.tolist(), most=SAMPLE_PEOPLE)]
    even = np.ones(len(sample))
    settings = Settings(draws=SAMPLE_DRAWS)
    jobs = list(_jobs(settings, present))
    began, found = time.monotonic(), []
    for number, (asked, kind) in enumerate(jobs, start=1):
        found.append(
            in_slices(sample, even, settings=asked, present=kind, progress=lambda *_: None)
        )
        left = (time.monotonic() - began) / number * (len(jobs) - number)
        progress(number / len(jobs), left)
    pairs = zip(found[1::2], found[2::2], strict=True)
    return Ends(found[0], dict(zip((*SHIFTS, PRESENT), pairs, strict=True)))


def _jobs(settings: Settings, present: str) -> Iterator[tuple[Settings, str]]:
    yield settings, present
    for column, (_, step, _) in SHIFTS.items():
        for end in (-step, step):
            yield replace(settings, shifts={column: end}), present
    for kind in OTHER_PAIRS:
        yield settings, kind


def moves(team: Team, ends: Ends, policy: str, assumed: Assumptions) -> tuple[Move, ...]:
    """Every assumption moved by itself, the one that moves the hours most first.

    Not rounded: for a page, through `team_tables.moves_table`.
    """
    base, few = total(team, policy, assumed), total(ends.few, policy, assumed)
    found = []
    for name, low, high in _said(policy, assumed):
        both = [total(team, policy, one) for one in (low, high)]
        cost = None
        if both[0].cost is not None and both[1].cost is not None:
            cost = (both[0].cost.mid, both[1].cost.mid)
        found.append(Move(name, (both[0].gained_h.mid, both[1].gained_h.mid), cost))
    for column, pair in ends.moved.items():
        step = SHIFTS[column][1] if column in SHIFTS else 0.0
        both = [total(one, policy, assumed) for one in pair]
        found.append(_carried_over(UNKNOWN_WORDS[column].format(step=step), base, few, both))
    return tuple(sorted(found, key=lambda one: -one.swing_h))


def _carried_over(name: str, base: PolicyTotal, few: PolicyTotal, ends: list[PolicyTotal]) -> Move:
    """A change seen in the sample, in proportion on all."""

    def scaled(whole: float, part: float, moved: float) -> float:
        return whole * moved / part if part > 0.0 else whole + moved

    hours = [scaled(base.gained_h.mid, few.gained_h.mid, one.gained_h.mid) for one in ends]
    costs = [
        scaled(base.cost.mid, few.cost.mid, one.cost.mid)
        for one in ends
        if base.cost is not None and few.cost is not None and one.cost is not None
    ]
    cost = (costs[0], costs[1]) if len(costs) == 2 else None
    return Move(name, (hours[0], hours[1]), cost)


def _said(policy: str, assumed: Assumptions) -> Iterator[tuple[str, Assumptions, Assumptions]]:
    """What the user said, at both ends; a single number has none."""
    which = "contribution_uptake" if policy == "contribution" else "uptake"
    uptake: Range = getattr(assumed, which)
    if uptake.high > uptake.low:
        low, high = (
            replace(assumed, **{which: Range(end, end)}) for end in (uptake.low, uptake.high)
        )
        yield f"uptake, {100 * uptake.low:.0f} to {100 * uptake.high:.0f} %", low, high
    more, less = assumed.earns_h + STEP_H, max(assumed.earns_h - STEP_H, 0.0)
    yield (
        f"hours a change must earn, {more:g} down to {less:g}",
        replace(assumed, earns_h=more),
        replace(assumed, earns_h=less),
    )
    for name, price in assumed.prices.items():
        if price is not None and price.high > price.low:
            low, high = (
                replace(assumed, prices={**assumed.prices, name: Range(end, end)})
                for end in (price.low, price.high)
            )
            yield f"price: {PRICES[name]}, {price.low:g} to {price.high:g}", low, high
