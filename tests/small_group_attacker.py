"""Whoever holds the published tables and wants a small group out of them.

Written before the protection it attacks. It knows the rules of the publisher, the groups, every
figure published, and (for two downloads) who left in between. It never sees the rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

Group = tuple[str, ...]
Published = Mapping[Group, float | None]
"""Figure of each group, None where it is hidden; the key () is the total of all."""


@dataclass(frozen=True)
class Known:
    """What the attacker can say of one hidden group: it lies between these."""

    low: float
    high: float

    @property
    def exact(self) -> bool:
        return round(self.high) - round(self.low) == 0


def by_totals(
    groups: Iterable[Group],
    sums: Iterable[tuple[tuple[Group, ...], float]],
    *,
    tolerance: float,
) -> dict[Group, Known]:
    """Least and most people each group can hold, given published sums over groups.

    tolerance: how far a published figure can be from the truth; 0 where it is exact.
    """
    names = list(groups)
    place = {name: at for at, name in enumerate(names)}
    rows, low, high = [], [], []
    for members, value in sums:
        row = np.zeros(len(names))
        row[[place[name] for name in members]] = 1.0
        rows.append(row)
        low.append(value - tolerance)
        high.append(value + tolerance)
    constraint = LinearConstraint(np.array(rows), np.array(low), np.array(high))
    found = {}
    for name in names:
        ends = []
        for sign in (1.0, -1.0):
            goal = np.zeros(len(names))
            goal[place[name]] = sign
            solved = milp(
                goal,
                constraints=constraint,
                integrality=np.ones(len(names)),
                bounds=Bounds(0, 10_000),
            )
            assert solved.success, "the published figures contradict each other"
            ends.append(sign * solved.fun)
        found[name] = Known(*ends)
    return found


def by_filters(
    parts: Iterable[str], ask: Callable[[tuple[str, ...]], float | None]
) -> dict[str, float]:
    """A hidden part from what is left when a filter takes it out of a larger one."""
    found: dict[str, float] = {}
    names = list(parts)
    for size in range(2, len(names) + 1):
        for chosen in combinations(names, size):
            whole = ask(chosen)
            for name in chosen:
                rest = ask(tuple(one for one in chosen if one != name))
                if ask((name,)) is None and whole is not None and rest is not None:
                    found[name] = whole - rest
    return found


def by_two_downloads(before: Published, after: Published) -> bool:
    """Whether the one person who left between two downloads had been helped: a guess.

    Any figure of people helped that fell tells it.
    """
    return any(
        value is not None and (later := after.get(group)) is not None and later < value
        for group, value in before.items()
    )
