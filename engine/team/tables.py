"""The tables of a team as they may be shown and handed on: small groups hidden, figures rounded.

The only way from a `Team` to a page, a chart or a file. Shares of those who take it up and costs
are made from rounded counts, since a known price or share would tell the count.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from engine.roster.file import neutral
from engine.team.partition import groups_of, name_of
from engine.team.policies import (
    COUNTS,
    POLICIES,
    Assumptions,
    PolicyTotal,
    Range,
    counts_of,
    gain_of,
    sampling_error,
    taken_up,
)
from engine.team.privacy import (
    DEFAULT_THRESHOLD,
    HIDDEN,
    ROUND_TO,
    check_threshold,
    hidden_groups,
    least_shown,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from engine.team.people import Team
    from engine.team.privacy import Blur
    from engine.team.sensitivity import Move

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

LAPTOP = "laptop"
Cell = str | float
"""A figure, or the word hidden."""


@dataclass(frozen=True)
class Shown:
    """What may be shown of one policy.

    Attributes:
        total: counts rounded, then their share that takes it up, in whole numbers; None where the
            whole would tell of too few people.
        rows: one a group: age, screen, people, helped, gained_h (each low, mid, high).
        cells: numbers of `Team.groups` that each row is made of.
        sampling_error: share by which the mean hours may be off by the chance of the draws.
    """

    policy: str
    total: PolicyTotal | None
    rows: tuple[Mapping[str, Cell], ...]
    cells: tuple[frozenset[int], ...] = ()
    sampling_error: float | None = None

    @cached_property
    def groups(self) -> pd.DataFrame:
        """Return the rows as a table."""
        return pd.DataFrame(self.rows)


def published(
    team: Team,
    assumed: Assumptions,
    *,
    threshold: int = DEFAULT_THRESHOLD,
    typed: bool = False,
) -> tuple[Shown, ...]:
    """Return every policy as it may be shown.

    typed: a table of bands and counts, which holds no values of anybody; nobody stands in for
    anybody there.

    Raises
        InputRefusedError: the threshold is too low.
    """
    check_threshold(threshold)
    blur = team.blur()
    counted = team if typed else team.blurred(blur)
    return tuple(_Policy(counted, policy, assumed, threshold, blur).shown() for policy in POLICIES)


class _Policy:
    """One policy of a blurred team, on its way to what may be shown."""

    def __init__(
        self, team: Team, policy: str, assumed: Assumptions, threshold: int, blur: Blur
    ) -> None:
        self.team, self.policy, self.assumed, self.blur = team, policy, assumed, blur
        self.threshold = threshold
        self.gain = gain_of(
            team, policy, earns_h=assumed.earns_h, tests_for_all=assumed.tests_for_all
        )
        self.cells = groups_of(team, policy)
        self.inside = np.array([np.isin(team.group, sorted(block)) for block in self.cells])
        """(groups, people)."""

    def shown(self) -> Shown:
        """Return the total and the groups, hidden where they must be."""
        people = self.inside @ self.team.weight
        few, everyone_hidden = self._hidden([people], people, also=None)
        hidden, total_hidden = self._outcome_hidden(few)
        *groups, whole = self._taken_up()
        rows = tuple(
            self._row(block, found, few=bool(few[at]), hidden=bool(hidden[at]))
            for at, (block, found) in enumerate(zip(self.cells, groups, strict=True))
        )
        if everyone_hidden or total_hidden:
            return Shown(self.policy, None, rows, self.cells)
        error = sampling_error(self.gain, self.team.weight)
        return Shown(self.policy, whole, rows, self.cells, error)

    def _row(
        self, block: frozenset[int], found: PolicyTotal, *, few: bool, hidden: bool
    ) -> dict[str, Cell]:
        age, screen = name_of(block, self.team.groups)
        cells: dict[str, Cell] = {"age": age, "screen": screen}
        cells["people"] = HIDDEN if few else found.people
        for name in ("helped", "gained_h"):
            spread = getattr(found, name)
            for part in ("low", "mid", "high"):
                cells[f"{name}_{part}"] = HIDDEN if hidden else getattr(spread, part)
        return cells

    def _taken_up(self) -> list[PolicyTotal]:
        """Return each group and then everyone: rounded counts and what follows, all whole."""
        weights = np.vstack([self.inside * self.team.weight, self.team.weight])
        made = []
        for exact, weight in zip(counts_of(self.gain, weights), weights, strict=True):
            counts = {name: count.rounded(self.blur) for name, count in exact.items()}
            people = self.blur.rounded(float(weight.sum()))
            found = taken_up(self.policy, people, counts, self.assumed)
            made.append(replace(found, **{name: getattr(found, name).whole() for name in COUNTS}))
        return made

    def _outcome_hidden(self, few: Bools) -> tuple[Bools, bool]:
        """Return the groups whose outcome is hidden, and whether the total is: for all figures.

        Uptake does not matter: who could be helped is what must not be told. Pairs and desks are
        told of everyone only; a laptop is not moved, so nobody at one is told of by the desks.
        """
        if self.policy == "nothing":
            return few, False
        team, gain = self.team, self.gain
        able = team.weight * ~team.young
        hidden, total_hidden = self._sides_hidden(gain.helped, able, also=few)
        if self.policy == "desk_first":
            at_monitor = np.array([kind != LAPTOP for _, kind in team.groups])[team.group]
            for told, of_whom in ((gain.pair, able), (gain.desk, able * at_monitor)):
                total_hidden |= self._sides_hidden(told, of_whom, also=None, whole=True)[1]
        return hidden, total_hidden

    def _sides_hidden(
        self, told: Bools, able: Floats, *, also: Bools | None, whole: bool = False
    ) -> tuple[Bools, bool]:
        """Return the groups hidden, and whether the total is, for one figure.

        able: (people,) whom each one counts for of those it may be told of. whole: of everyone.
        """
        inside = np.ones((1, len(able)), dtype=bool) if whole else self.inside
        people, having = inside @ able, inside @ (able * told.mean(axis=1))
        if not people.any():
            return np.zeros(len(people), dtype=bool), False
        return self._hidden([having, people - having], people, also=also)

    def _hidden(
        self, sides: list[Floats], people: Floats, *, also: Bools | None
    ) -> tuple[Bools, bool]:
        asked = self.threshold
        surely = [
            np.array([self.blur.surely(value, threshold=asked) for value in side.tolist()])
            for side in (people, *sides)
        ]
        return hidden_groups(people, surely, also=also, threshold=least_shown(asked))


def policy_table(shown: tuple[Shown, ...]) -> pd.DataFrame:
    """Return policies side by side, a row each, to be written or drawn; hidden where it must be."""
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
    row["no_price_for"] = ", ".join(found.no_price_for)
    return row


_MONEY = (
    *(f"{name}_{part}" for name in ("cost", "top_up", "cost_per_hour") for part in ("low", "high")),
    "no_price_for",
)


def _why(found: PolicyTotal, name: str) -> str:
    if found.policy == "nothing" or (name == "top_up" and found.policy != "contribution"):
        return "none"
    return "no price given" if found.no_price_for or name == "top_up" else "nothing gained"


def _money(name: str, value: Range | None, why: str) -> dict[str, Cell]:
    if value is None:
        return {f"{name}_low": why, f"{name}_high": why}
    return {f"{name}_low": round(value.low, 2), f"{name}_high": round(value.high, 2)}


def moves_table(shown: Shown, moves: Sequence[Move]) -> pd.DataFrame:
    """Return what moves the total of a policy; hidden where the total is."""
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
    """Round to two digits: the middle of a range of draws is not known better."""
    return float(f"{value:.2g}")


def export_csv(frame: pd.DataFrame) -> str:
    """Return a table as a file: text cells that a spreadsheet would run are neutralised."""
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
