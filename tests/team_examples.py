"""Invented teams for tests: no search, hours set by hand or by a seeded chance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from engine.team.people import AGE_BANDS, Team
from engine.team.policies import Assumptions, PolicyTotal, counts_of, gain_of, taken_up

GROUPS = tuple((name, kind) for _, name in AGE_BANDS for kind in ("monitor", "laptop"))


def team_with(
    *,
    weight: list[float],
    group: list[int],
    present: list[float],
    general: list[float],
    screen_pair: list[float],
    present_moved: list[float] | None = None,
    screen_pair_moved: list[float] | None = None,
    draws: int = 1,
) -> Team:
    """A team whose hours are given, the same in every draw."""

    def every_draw(hours: list[float]) -> np.ndarray:
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


def team(*, people: int, seed: int = 0) -> Team:
    """A team of so many people, a third of whom a pair for the screen helps."""
    dice = np.random.default_rng(seed)
    present = dice.uniform(1.0, 7.0, people).round(2)
    gained = np.where(dice.random(people) < 0.35, dice.uniform(0.8, 4.0, people), 0.0)
    return team_with(
        weight=[1.0] * people,
        group=[int(one) for one in dice.integers(0, 10, people)],
        present=present.tolist(),
        general=(present + gained / 4).tolist(),
        screen_pair=(present + gained).tolist(),
        present_moved=(present + gained / 3).tolist(),
        screen_pair_moved=(present + gained).tolist(),
    )


def total(
    team: Team, policy: str, assumed: Assumptions, *, inside: NDArray[np.bool_] | None = None
) -> PolicyTotal:
    """A policy for the team, or for the people `inside` (people,), exactly: nothing is blurred."""
    weight = team.weight if inside is None else team.weight * inside
    gain = gain_of(team, policy, earns_h=assumed.earns_h, tests_for_all=assumed.tests_for_all)
    return taken_up(policy, float(weight.sum()), counts_of(gain, weight[None])[0], assumed)
