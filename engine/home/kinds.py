"""Which kinds of lens are worth asking about: clear hours of a crowd through the best of each.

The add is known once the eyes are examined, so each add gets the design that its people see the
most hours through.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.home.answers import lens_of_answer
from engine.home.crowd import Range, range_of
from engine.home.text import number
from engine.kernel.search import best_columns, candidates_of
from engine.lenses.kinds import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.home.crowd import Crowd
    from engine.kernel.search import Views
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

MOST_KINDS = 3
"""More than three questions about lenses are none."""


@dataclass(frozen=True)
class KindWorth:
    """A kind that is worth asking about.

    Attributes:
        mean_h, hours: clear with a level head, mean and range.
        gain_h: mean over the pair worn now; over none, its hours.
        most_at: the target where most of the gain is.
        second_pair: not for driving, walking or stairs.
    """

    kind: str
    mean_h: float
    hours: Range
    gain_h: float
    most_at: str
    second_pair: bool


@dataclass(frozen=True)
class Comparison:
    """The kinds worth asking about, best first, and the pair worn now where it is known.

    Attributes:
        now_h: mean; now: range. every: mean hours of every kind tried.
    """

    kinds: tuple[KindWorth, ...]
    now_h: float | None
    now: Range | None
    day_h: float
    every: dict[str, float]


def compare(crowd: Crowd, now_shares: Floats, *, glasses: str | None) -> Comparison:
    """Return the kinds worth asking about beside what is worn now.

    now_shares: of each target through the pair worn; see `crowd.worn_shares`. Not used where that
    pair is not known.
    """
    known = crowd.is_worn_known
    now_by_target = crowd.mean(now_shares) * crowd.hours if known else 0.0 * crowd.hours
    shares = kind_shares(crowd)
    by_target = {name: crowd.mean(found) * crowd.hours for name, found in shares.items()}
    every = {name: float(found.sum()) for name, found in by_target.items()}
    day_h, now_h = float(crowd.hours.sum()), float(now_by_target.sum())
    kinds = []
    for name in worth_asking(every, now_h=now_h, day_h=day_h, glasses=glasses):
        gain = by_target[name] - now_by_target
        hours = range_of(crowd.spread_out(shares[name] @ crowd.hours))
        kinds.append(
            KindWorth(
                kind=name,
                mean_h=every[name],
                hours=hours or Range(0.0, 0.0),
                gain_h=float(gain.sum()),
                most_at=crowd.names[int(np.argmax(gain))],
                second_pair=not KINDS[name].may_cover_distance,
            )
        )
    return Comparison(
        kinds=tuple(kinds),
        now_h=now_h if known else None,
        now=range_of(crowd.spread_out(now_shares @ crowd.hours)) if known else None,
        day_h=day_h,
        every=every,
    )


def kind_shares(crowd: Crowd) -> dict[str, Floats]:
    """Return comfortable shares through the best of each kind: (parts, people, targets).

    Kinds that some of the crowd cannot be made are left out.
    """
    views = crowd.views(crowd.scene())
    found = {}
    for name in tables.by_id("home_kinds"):
        parts = [_best_shares(view, KINDS[name], crowd.judgements) for view in views]
        if all(part is not None for part in parts):
            found[name] = np.stack([part for part in parts if part is not None])
    return found


def _best_shares(views: Views, kind: Kind, judgements: Judgements) -> Floats | None:
    """Return the share of each target through the design with most hours, (people, targets).

    None where the kind has no design for them.
    """
    ((found, clear),) = candidates_of(views, [kind])
    column = int(best_columns(found.expected(), judgements=judgements)[0])
    if column < 0:
        return None
    shares = views.scene.by_target(clear[:, column])
    return shares.reshape(len(found.comfortable_h), -1)


def worth_asking(
    every: dict[str, float], *, now_h: float, day_h: float, glasses: str | None
) -> list[str]:
    """Return kinds that beat the pair worn now and are about as good as the best, best first.

    Only those who wear a line now are asked about one.
    """
    worn = lens_of_answer(glasses)
    knows_a_line = worn is not None and worn.is_lined
    asked = {name: h for name, h in every.items() if knows_a_line or not KINDS[name].is_lined}
    near_h = number("best_within_share") * day_h
    least = max(now_h + number("worth_h"), max(asked.values()) - near_h)
    good = [name for name, hours in asked.items() if hours >= least]
    return sorted(good, key=lambda name: -asked[name])[:MOST_KINDS]
