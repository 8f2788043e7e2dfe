"""Invented teams for tests: no search, hours set by hand or by a seeded chance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from engine.team.people import AGE_BANDS, Team
from engine.team.policies import Assumptions, PolicyTotal, counts_of, gain_of, taken_up

GROUPS = tuple((name, kind) for _, name in AGE_BANDS for kind in ("monitor", "laptop"))


def team_with(
    *,
    weight: Sequence[float],
    group: Sequence[int],
    present: ArrayLike,
    general: ArrayLike,
    screen_pair: ArrayLike,
    present_moved: ArrayLike | None = None,
    screen_pair_moved: ArrayLike | None = None,
    draws: int = 1,
) -> Team:
    """A team whose hours are given, the same in every draw."""

    def every_draw(hours: ArrayLike) -> np.ndarray:
        return np.repeat(np.array(hours, dtype=float)[:, None], draws, axis=1)

    count = len(weight)
    return Team(
        row=np.arange(1, count + 1),
        ref=tuple(f"P-{at}" for at in range(count)),
        weight=np.array(weight, dtype=float),
        group=np.array(group),
        groups=GROUPS,
        present=every_draw(present),
        general=every_draw(general),
        screen_pair=every_draw(screen_pair),
        present_moved=every_draw(present if present_moved is None else present_moved),
        screen_pair_moved=every_draw(
            screen_pair if screen_pair_moved is None else screen_pair_moved
        ),
        day_h=np.full(count, 8.0),
        young=np.array(group) < 2,
        assumed_present=0.0,
        problems=(),
    )


def gaining(
    gains: ArrayLike,
    *,
    group: Sequence[int],
    present: ArrayLike = 4.0,
    general: ArrayLike = 0.0,
    desk: ArrayLike = 0.0,
) -> Team:
    """A team of one person a row, by the hours through the pair worn and what is gained on them.

    gains: through a pair for the screen, the desk moved or not. general: through a general pair.
    desk: through the pair worn, the desk moved.
    """
    worn = np.broadcast_to(present, len(group))
    through_screen_pair = worn + gains
    return team_with(
        weight=[1.0] * len(group),
        group=group,
        present=worn,
        general=worn + general,
        screen_pair=through_screen_pair,
        present_moved=worn + desk,
        screen_pair_moved=through_screen_pair,
    )


def team(*, people: int, seed: int = 0) -> Team:
    """A team of so many people, a third of whom a pair for the screen helps."""
    dice = np.random.default_rng(seed)
    present = dice.uniform(1.0, 7.0, people).round(2)
    gained = np.where(dice.random(people) < 0.35, dice.uniform(0.8, 4.0, people), 0.0)
    group = dice.integers(0, 10, people).tolist()
    return gaining(gained, group=group, present=present, general=gained / 4, desk=gained / 3)


def total(
    team: Team, policy: str, assumed: Assumptions, *, inside: NDArray[np.bool_] | None = None
) -> PolicyTotal:
    """A policy for the team, or for the people `inside` (people,), exactly: nothing is blurred."""
    weight = team.weight if inside is None else team.weight * inside
    gain = gain_of(team, policy, earns_h=assumed.earns_h, tests_for_all=assumed.tests_for_all)
    return taken_up(policy, float(weight.sum()), counts_of(gain, weight[None])[0], assumed)
