"""The tables of a team as they may be shown and handed on: small groups hidden, figures rounded.

The only way from a `Team` to a page, a chart or a file. Costs are made from rounded counts, since a
known price would tell the exact count.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from engine.roster.file import neutral
from engine.team.policies import (
    POLICIES,
    Assumptions,
    PolicyTotal,
    Range,
    Spread,
    gain_of,
    priced,
    total,
)
from engine.team.privacy import (
    DEFAULT_THRESHOLD,
    HIDDEN,
    ROUND_TO,
    check_threshold,
    hidden_groups,
    rounded,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from engine.team.people import Team
    from engine.team.sensitivity import Move

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

COUNTS = ("offered", "pairs", "desks", "helped", "gained_h")
Cell = str | float
"""A figure, or the word hidden."""


@dataclass(frozen=True)
class Shown:
    """What may be shown of one policy.

    Attributes:
        total: rounded; None where the whole would tell of too few people.
        groups: a row a group: age, screen, people, helped, gained_h (each low, mid, high).
    """

    policy: str
    total: PolicyTotal | None
    groups: pd.DataFrame


def published(
    team: Team, assumed: Assumptions, *, threshold: int = DEFAULT_THRESHOLD
) -> tuple[Shown, ...]:
    """Every policy as it may be shown.

    Raises
        InputRefusedError: the threshold is too low.
    """
    check_threshold(threshold)
    return tuple(_shown(team, policy, assumed, threshold) for policy in POLICIES)


def _shown(team: Team, policy: str, assumed: Assumptions, threshold: int) -> Shown:
    count = len(team.groups)
    inside = [team.group == group for group in range(count)]
    people = np.array([(team.weight * one).sum() for one in inside])
    few, everyone_hidden = hidden_groups(people, threshold=threshold)
    hidden, total_hidden = _outcome_hidden(team, policy, assumed, few, threshold)
    rows = []
    for group, (age, screen) in enumerate(team.groups):
        if people[group] == 0:
            continue
        found = total(team, policy, assumed, inside=inside[group])
        members = team.members(group)
        cells: dict[str, Cell] = {"age": age, "screen": screen}
        cells["people"] = (
            HIDDEN if few[group] else rounded(people[group], members=members, figure="people")
        )
        for name in ("helped", "gained_h"):
            spread = _rounded(getattr(found, name), members, f"{policy} {name}")
            for part in ("low", "mid", "high"):
                value = getattr(spread, part)
                cells[f"{name}_{part}"] = HIDDEN if hidden[group] else value
        rows.append(cells)
    whole = None
    if not everyone_hidden and not total_hidden:
        whole = _rounded_total(team, policy, assumed)
    return Shown(policy, whole, pd.DataFrame(rows))


def _outcome_hidden(
    team: Team, policy: str, assumed: Assumptions, few: Bools, threshold: int
) -> tuple[Bools, bool]:
    """Groups whose outcome is hidden, and whether the total is: for all that is told together.

    Uptake does not matter: who could be helped is what must not be told.
    """
    if policy == "nothing":
        return few, False
    gain = gain_of(team, policy, earns_h=assumed.earns_h)
    able = team.weight * ~team.young
    told = [gain.helped, gain.pair, gain.desk] if policy == "desk_first" else [gain.helped]
    groups = range(len(team.groups))
    people = np.array([able[team.group == group].sum() for group in groups])
    hidden, total_hidden = few, False
    for _ in told:  # a group hidden for one figure is hidden for all, so go round again
        for one in told:
            mean = one.mean(axis=1)
            having = np.array([(able * mean)[team.group == group].sum() for group in groups])
            hidden, alone = hidden_groups(people, having=having, also=hidden, threshold=threshold)
            total_hidden = total_hidden or alone
    return hidden, total_hidden


def _rounded(spread: Spread, members: str, figure: str) -> Spread:
    """One chance for all three, so that they keep their order."""
    parts = (
        rounded(value, members=members, figure=figure)
        for value in (spread.low, spread.mid, spread.high)
    )
    return Spread(*parts)


def _rounded_total(team: Team, policy: str, assumed: Assumptions) -> PolicyTotal:
    found, members = total(team, policy, assumed), team.members()
    counts = {name: _rounded(getattr(found, name), members, f"{policy} {name}") for name in COUNTS}
    people = rounded(found.people, members=members, figure="people")
    return priced(policy, people, counts, assumed)


def policy_table(shown: tuple[Shown, ...]) -> pd.DataFrame:
    """Policies side by side, a row each, ready to be written or drawn; hidden where it must be."""
    return pd.DataFrame([_policy_row(one) for one in shown])


def _policy_row(shown: Shown) -> Mapping[str, Cell]:
    row: dict[str, Cell] = {"policy": POLICIES[shown.policy]}
    names = [f"{name}_{part}" for name in COUNTS for part in ("low", "mid", "high")]
    if shown.total is None:
        hidden = dict.fromkeys(("people", *names, *_MONEY), HIDDEN)
        return row | hidden
    found = shown.total
    row["people"] = found.people
    for name in COUNTS:
        spread = getattr(found, name)
        row |= {f"{name}_{part}": getattr(spread, part) for part in ("low", "mid", "high")}
    for name in ("cost", "top_up", "cost_per_hour"):
        row |= _money(name, getattr(found, name), _why(found, name))
    row["per"] = found.per
    row["no_price_for"] = ", ".join(found.no_price_for)
    share = found.break_even_uptake
    row["break_even_uptake"] = "not computed" if share is None else round(share, 2)
    return row


_MONEY = (
    *(f"{name}_{part}" for name in ("cost", "top_up", "cost_per_hour") for part in ("low", "high")),
    "per",
    "no_price_for",
    "break_even_uptake",
)


def _why(found: PolicyTotal, name: str) -> str:
    if name == "top_up" and found.policy != "contribution":
        return "none"
    if found.policy == "nothing":
        return "none"
    return "no price given" if found.no_price_for or name == "top_up" else "nothing gained"


def _money(name: str, value: Range | None, why: str) -> dict[str, Cell]:
    if value is None:
        return {f"{name}_low": why, f"{name}_high": why}
    return {f"{name}_low": round(value.low, 2), f"{name}_high": round(value.high, 2)}


def moves_table(shown: Shown, moves: Sequence[Move]) -> pd.DataFrame:
    """What moves the total of a policy, rounded; hidden where the total is."""
    if shown.total is None:
        return pd.DataFrame({"assumption": [one.name for one in moves], "gained_h": HIDDEN})
    return pd.DataFrame(
        [
            {
                "assumption": one.name,
                "gained_h_low_end": _nearest(one.gained_h[0]),
                "gained_h_high_end": _nearest(one.gained_h[1]),
                "cost_low_end": "not known" if one.cost is None else _two_digits(one.cost[0]),
                "cost_high_end": "not known" if one.cost is None else _two_digits(one.cost[1]),
            }
            for one in moves
        ]
    )


def _nearest(value: float) -> float:
    return float(ROUND_TO * np.floor(value / ROUND_TO + 0.5))


def _two_digits(value: float) -> float:
    """Two digits: a cost to the penny would tell the exact count."""
    return float(f"{value:.2g}")


def export_csv(frame: pd.DataFrame) -> str:
    """A table as a file: text cells that a spreadsheet would run are neutralised."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([neutral(str(name)) for name in frame.columns])
    for cells in frame.itertuples(index=False):
        writer.writerow(
            [neutral(cell) if isinstance(cell, str) else _plain(cell) for cell in cells]
        )
    return out.getvalue()


def _plain(value: object) -> object:
    return f"{value:g}" if isinstance(value, float) and abs(value) < 1e6 else value
