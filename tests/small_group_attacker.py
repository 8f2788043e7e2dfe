"""Whoever holds the published tables and wants a small group out of them.

Written before the protection it attacks. It knows the rules of the publisher, the groups, every
figure published, and (for two downloads) who left in between. It never sees the rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import scipy

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
    of: Iterable[Group],
) -> dict[Group, Known]:
    """Least and most people some groups can hold, given published sums over groups.

    of: the groups wanted.
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
    constraint = scipy.optimize.LinearConstraint(np.array(rows), np.array(low), np.array(high))
    found = {}
    for name in of:
        ends = []
        for sign in (1.0, -1.0):
            goal = np.zeros(len(names))
            goal[place[name]] = sign
            solved = scipy.optimize.milp(
                goal,
                constraints=constraint,
                integrality=np.ones(len(names)),
                bounds=scipy.optimize.Bounds(0, 10_000),
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


def by_two_sittings(looks: Iterable[tuple[Published, Published]], group: Group) -> float:
    """How far the figures of everyone and of the leaver's group fell between two sittings.

    looks: the same question asked before and after one person of `group` left; many questions.
    Hours are given in people (hours a person helped), so that all falls can be added up.
    """
    falls = [
        value - later
        for before, after in looks
        for key in ((), group)
        if (value := before.get(key)) is not None and (later := after.get(key)) is not None
    ]
    return float(np.mean(falls)) if falls else 0.0


def by_shares(ask: Callable[[float], float], *, most: float, step: float) -> float:
    """A count from the shares of it at which the figure shown steps up.

    ask: the figure at a share that takes it up. most, step: largest share and the way there.
    """
    shares = np.arange(step, most + step / 2, step)
    figures = np.array([ask(float(share)) for share in shares])
    at = np.flatnonzero(np.diff(figures) > 0)
    if len(at) < 2:
        return float(figures[-1] / most)
    return float((figures[at[-1]] - figures[at[0]]) / (shares[at[-1]] - shares[at[0]]))


def by_a_price(ask: Callable[[float], float | None], *, price: float) -> float | None:
    """A count from what it costs at a tiny price, of which every digit is told."""
    cost = ask(price)
    return None if cost is None else cost / price


def by_thresholds(shown: Callable[[int], bool], *, lowest: int, highest: int) -> int | None:
    """A count from the largest threshold at which it is not hidden."""
    return next((at for at in range(highest, lowest - 1, -1) if shown(at)), None)


def by_guessed_secret(
    candidates: Iterable[float], published: Callable[[float], float], figure: float
) -> list[float]:
    """The counts that would have been rounded to the figure, were the chances known.

    published: how a count is rounded with the chances the attacker guesses.
    """
    return [count for count in candidates if published(count) == figure]
