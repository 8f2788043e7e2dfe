"""How sure: how often another plan would be clearly better, and what is worth measuring.

Designs and plans are held: they are ordered before the truth is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from engine.answer.choice import price_h

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from engine.answer.plans import Plan
    from engine.case.results import Verdict
    from engine.kernel.draws import Input
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

_BINS = 8
_SHUFFLES = 20
_SHUFFLE_SEED = 20260102
_MOST_RIVALS = 24
"""Only so many plans, the best on average, are asked for in every bin of every input."""


@dataclass(frozen=True)
class Contest:
    """The plan put first against its rivals, draw by draw.

    Attributes:
        net_h: (draws, plans) hours of each plan less the price of taking it instead of the plan put
            first, which stands in column 0 with no price.
    """

    net_h: Floats

    @property
    def clearly_better_share(self) -> float:
        """Share of the draws in which some rival is clearly better."""
        return float((self._best_rival_h > self.net_h[:, 0]).mean())

    @property
    def expected_loss_h(self) -> float:
        """Mean of what the best rival brings beyond its price, never below 0."""
        return float(np.maximum(self._best_rival_h - self.net_h[:, 0], 0.0).mean())

    @property
    def _best_rival_h(self) -> Floats:
        """The most of any rival in each draw, (draws,)."""
        best: Floats = self.net_h[:, 1:].max(axis=1, initial=-np.inf)
        return best


def contest(
    put_first: Plan, rivals: Sequence[Plan], *, day_h: float, judgements: Judgements
) -> Contest:
    """Hold the plans that compete against the one put first."""
    prices = price_h(
        new_pairs=np.array([plan.new_pairs for plan in rivals], dtype=np.intp),
        than=put_first.new_pairs,
        is_kept=put_first.is_kept,
        day_h=day_h,
        judgements=judgements,
    )
    columns = [plan.in_draws_h - price for plan, price in zip(rivals, prices, strict=True)]
    return Contest(np.stack([put_first.in_draws_h, *columns], axis=1))


def verdict(share: float, *, judgements: Judgements) -> Verdict:
    """Return how sure an answer is, from how often another plan is clearly better."""
    if share <= judgements.firm_up_to_share:
        return "firm"
    return "depends" if share <= judgements.depends_up_to_share else "toss_up"


@dataclass(frozen=True)
class Worth:
    """What knowing an input is worth.

    Attributes:
        turns_at: the value nearest to its middle at which another plan is better; None of none.
    """

    input: Input
    worth_h: float
    turns_at: float | None


def worth_measuring(
    found: Contest, inputs: Iterable[Input], *, judgements: Judgements
) -> tuple[Worth, ...]:
    """Return the inputs whose knowledge saves a tenth of an hour or more, the most worth first.

    Expected value of partial perfect information on hours less prices, by bins of the input
    (Strong and Oakley 2013, Med Decis Making 33:755), less what bins of pure chance would seem to
    be worth.
    """
    order = np.argsort(-found.net_h[:, 1:].mean(axis=0), kind="stable")[:_MOST_RIVALS]
    net_h = found.net_h[:, [0, *(1 + order)]]
    varied = [one for one in inputs if float(np.ptp(one.values)) > 0.0]
    if not varied:
        return ()
    ranks = np.array([np.argsort(one.values, kind="stable") for one in varied])
    means_h = _bin_means(net_h, ranks)
    worth_h = _gained_h(means_h) - _by_chance_h(net_h)
    worth = [
        Worth(one, float(told_h), _turns_at(one.values[order_of], means))
        for one, told_h, order_of, means in zip(varied, worth_h, ranks, means_h, strict=True)
        if told_h >= judgements.measure_worth_h
    ]
    return tuple(sorted(worth, key=lambda one: (-one.worth_h, one.input.field)))


def _by_chance_h(net_h: Floats) -> float:
    """Return what an input that says nothing would seem to be worth."""
    return float(_gained_h(_bin_means(net_h, _shuffles(len(net_h)))).mean())


def _gained_h(means_h: Floats) -> Floats:
    """Return what taking the best plan in each bin brings over the first one, (orders,)."""
    found: Floats = (means_h.max(axis=2) - means_h[:, :, 0]).mean(axis=1)
    return found


@lru_cache(maxsize=2)
def _shuffles(draws: int) -> Indices:
    """Return some orders of the draws by chance, (orders, draws)."""
    chance = np.random.default_rng(_SHUFFLE_SEED)
    return np.array([chance.permutation(draws) for _ in range(_SHUFFLES)])


def _bin_means(net_h: Floats, orders: Indices) -> Floats:
    """Return the mean hours of each plan in each bin of draws, (orders, bins, plans).

    orders: (orders, draws) of the draws.
    """
    starts = _bin_starts(len(net_h))
    counts = np.diff(starts, append=len(net_h))
    found: Floats = np.add.reduceat(net_h[orders], starts, axis=1) / counts[:, None]
    return found


def _bin_starts(draws: int) -> Indices:
    """Return where each of the bins begins: as many draws in each, or one more in the first."""
    least, more = divmod(draws, _BINS)
    return np.arange(_BINS) * least + np.minimum(np.arange(_BINS), more)


def _turns_at(values: Floats, means: Floats) -> float | None:
    """Find the edge nearest to the middle where the plan put first starts or stops being best."""
    is_first = means[:, 0] >= means.max(axis=1)
    edges = np.flatnonzero(is_first[1:] != is_first[:-1])
    if not edges.size:
        return None
    nearest = int(edges[np.argmin(np.abs(edges + 1 - _BINS / 2))])
    begins = int(_bin_starts(len(values))[nearest + 1])
    return float((values[begins - 1] + values[begins]) / 2)
