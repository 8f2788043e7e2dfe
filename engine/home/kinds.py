"""Which kinds of lens are worth asking about: clear hours of a crowd through the best of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.home.answers import lens_of_answer
from engine.home.crowd import Range, range_of, worn_shares
from engine.home.text import number
from engine.kernel.search import Views, best_columns, candidates, comfortable_shares
from engine.lenses.kinds import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.home.crowd import Crowd
    from engine.kernel.search import Candidates
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

MOST_KINDS = 3
"""More than three questions about lenses are none."""


@dataclass(frozen=True)
class KindWorth:
    """A kind that is worth asking about.

    Attributes:
        hours: clear with a level head. gain_h: mean over the pair worn now; over none, its hours.
        most_at: the target where most of the gain is.
        second_pair: not for driving, walking or stairs.
    """

    kind: str
    hours: Range
    gain_h: float
    most_at: str
    second_pair: bool


@dataclass(frozen=True)
class Comparison:
    """The kinds worth asking about, best first, and the pair worn now where it is known."""

    kinds: tuple[KindWorth, ...]
    now: Range | None
    day_h: float


def compare(crowd: Crowd, *, glasses: str | None, judgements: Judgements) -> Comparison:
    """The kinds worth asking about beside what is worn now."""
    people, count = len(crowd.cases), len(crowd.names)
    hours = crowd.scene.target_hours.reshape(people, count)
    day_h = float(hours[0].sum())
    now_shares = np.zeros((people, count))
    if crowd.worn:
        now_shares = worn_shares(crowd, crowd.scene, judgements=judgements)
    now = (now_shares * hours).sum(axis=1)
    views, shares = Views(crowd.scene, judgements), {}
    for identity in tables.by_id("home_kinds"):
        found = _best_shares(views, KINDS[identity], count, judgements)
        if found is not None:
            shares[identity] = found
    total = {name: (found * hours).sum(axis=1) for name, found in shares.items()}
    kinds = [
        _worth(crowd, name, shares[name] * hours, now_shares * hours)
        for name in _worth_asking(total, now, day_h, glasses)
    ]
    kinds.sort(key=lambda one: -one.gain_h)
    return Comparison(
        kinds=tuple(kinds[:MOST_KINDS]), now=range_of(now) if crowd.worn else None, day_h=day_h
    )


def _best_shares(views: Views, kind: Kind, count: int, judgements: Judgements) -> Floats | None:
    """Comfortable shares through the best design of a kind for each person; None of none."""
    found = candidates(views, kind)
    columns = best_columns(found, judgements=judgements)
    if np.all(columns < 0):
        return None
    shares = np.zeros((len(columns), count))
    for family in sorted({int(found.family[column]) for column in columns if column >= 0}):
        which = (columns >= 0) & (found.family[columns] == family)
        part = Views(views.scene.of_wearers(which), judgements)
        free_d = _free_of(found, which, columns)
        clear = comfortable_shares(part, kind, found.families[family], free_d)
        shares[which] = clear.reshape(-1, count)
    return shares


def _free_of(found: Candidates, which: NDArray[np.bool_], columns: NDArray[np.intp]) -> Floats:
    people = np.flatnonzero(which)
    free: Floats = found.free_d[people, columns[people]]
    return free


def _worth_asking(
    total: dict[str, Floats], now: Floats, day_h: float, glasses: str | None
) -> list[str]:
    """Kinds that beat the pair worn now, and are among the best for enough of the crowd.

    Only those who wear a line now are asked about one.
    """
    worn = lens_of_answer(glasses)
    knows_a_line = worn is not None and worn.is_lined
    asked = {
        name: hours for name, hours in total.items() if knows_a_line or not KINDS[name].is_lined
    }
    best = np.max(np.stack(list(asked.values())), axis=0)
    near = number("best_within_share") * day_h
    return [
        name
        for name, hours in asked.items()
        if float(np.mean(hours - now)) >= number("worth_h")
        and float(np.mean(hours >= best - near)) >= number("often_share")
    ]


def _worth(crowd: Crowd, name: str, hours: Floats, now: Floats) -> KindWorth:
    gain = (hours - now).mean(axis=0)
    found = range_of(hours.sum(axis=1))
    return KindWorth(
        kind=name,
        hours=found or Range(0.0, 0.0),
        gain_h=float(gain.sum()),
        most_at=crowd.names[int(np.argmax(gain))],
        second_pair=not KINDS[name].may_cover_distance,
    )
