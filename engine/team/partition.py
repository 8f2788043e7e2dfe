"""Merge neighbouring groups of a team until each may be shown, by one rule nothing typed moves.

Cells are age bands by kind of screen. First cells of few people merge, then, for each policy,
those of whom few are helped or few are not: the two kinds of screen of a band, then the band with
the next older one (the oldest with the one before). It is settled with the hours a change must
earn and the smallest group that the program itself takes, at full uptake: whoever types others
gets other figures, or none, of the same groups. Every group of every policy is made of the groups
that hold enough people, so no difference of two tables is about fewer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.team.people import AGE_BANDS
from engine.team.policies import gain_of
from engine.team.privacy import DEFAULT_THRESHOLD

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from engine.team.people import Team

    Bools = NDArray[np.bool_]
    Runs = list[list[frozenset[int]]]

EVERYONE = "all ages"


def groups_of(team: Team, policy: str) -> tuple[frozenset[int], ...]:
    """Return the groups of a policy, each as numbers of cells in `team.groups`.

    team: blurred already, where it has to be.
    """
    able = team.weight * ~team.young
    helped = able * gain_of(team, policy).helped.mean(axis=1)
    cells = np.arange(len(team.groups))[:, None] == team.group
    people, could, having = (cells @ one for one in (team.weight, able, helped))

    def is_large(block: frozenset[int]) -> bool:
        return _of(people, block) >= DEFAULT_THRESHOLD

    def is_told(block: frozenset[int]) -> bool:
        if policy == "nothing" or _of(could, block) == 0.0:
            return is_large(block)
        sides = _of(having, block), _of(could, block) - _of(having, block)
        return is_large(block) and min(sides) >= DEFAULT_THRESHOLD

    runs: Runs = [
        [frozenset({cell}) for cell in np.flatnonzero(people > 0).tolist() if cell // 2 == band]
        for band in range(len(team.groups) // 2)
    ]
    runs = _merged([run for run in runs if run], is_large)
    return tuple(block for run in _merged(runs, is_told) for block in run)


def name_of(block: frozenset[int], groups: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """Return the ages and the screens of a group.

    >>> groups = [(name, kind) for _, name in AGE_BANDS for kind in ("monitor", "laptop")]
    >>> name_of(frozenset({2, 3, 4}), groups), name_of(frozenset({0}), groups)
    (('40 to 54', 'monitor or laptop'), ('under 40', 'monitor'))
    """
    first, last = min(block) // 2, max(block) // 2
    kinds = dict.fromkeys(groups[cell][1] for cell in sorted(block))
    return _ages(first, last), " or ".join(kinds)


def _ages(first: int, last: int) -> str:
    if first == last:
        return AGE_BANDS[first][1]
    if first == 0:
        return EVERYONE if last == len(AGE_BANDS) - 1 else f"under {AGE_BANDS[last][0]:g}"
    start = f"{AGE_BANDS[first - 1][0]:g}"
    if last == len(AGE_BANDS) - 1:
        return f"{start} and over"
    return f"{start} to {AGE_BANDS[last][0] - 1:g}"


def _merged(runs: Runs, may: Callable[[frozenset[int]], bool]) -> Runs:
    """Return the runs, one for each band or bands in a row, merged until every group may be shown.

    Where not even everyone may, everyone is one group.
    """
    runs = [run if all(map(may, run)) else [_union(run)] for run in runs]
    while len(runs) > 1:
        at = next((place for place, run in enumerate(runs) if not all(map(may, run))), None)
        if at is None:
            break
        start = min(at, len(runs) - 2)
        runs[start : start + 2] = [[_union([*runs[start], *runs[start + 1]])]]
    return runs


def _union(blocks: Sequence[frozenset[int]]) -> frozenset[int]:
    return frozenset[int]().union(*blocks)


def _of(values: NDArray[np.float64], block: frozenset[int]) -> float:
    return round(float(values[sorted(block)].sum()), 6)
