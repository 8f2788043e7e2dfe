"""Many people at once: the search of `advise` over the rows of a roster.

`answer` is a pure function of a chunk of rows: it can run in this process, in others, or under a
distributed engine (roster_cluster), and gives the same answer for every size of chunk.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from engine.answer.held import LOW
from engine.case.results import GRADES
from engine.kernel.compiled import is_loaded, load
from engine.lenses.kinds import KINDS
from engine.roster.choosing import pairs_put_first
from engine.roster.draws import Drawn, fill
from engine.roster.rows import Rows, read_rows
from engine.roster.scene import scene_of_rows
from engine.roster.search import OPTIONS, lowered, search_rows
from engine.roster.usual import DRAWS, SEED
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from engine.roster.search import Found

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

BATCH, COMPILED_BATCH = 48, 200
"""Wearers searched together: their arrays then fit the cache of a core (measured, tests/bench).

The compiled search keeps no arrays of postures, so more of them fit.
"""
LOADS_FROM = 500
"""From so many wearers in a process on the compiled search saves more than loading it takes."""
LOW_SHARE = 0.1
"""The spread shown leaves out a tenth of the draws on either side."""
HOURS = tuple(f"{grade}_h" for grade in GRADES)
"""What is told of every option, in hours a day."""


@dataclass(frozen=True)
class Settings:
    """What the answer to a roster depends on beside the rows.

    Attributes:
        draws: how often a row with something unknown is drawn.
        seed: of the draws.
        shifts: added to every drawn value of a column, to see how much an answer hangs on it.
        desk_first: monitors stand where they serve the pair worn today best (roster_desk).
        kinds: searched beside the pair worn today; there is no option of the others.
    """

    draws: int = DRAWS
    seed: int = SEED
    shifts: Mapping[str, float] = field(default_factory=dict)
    desk_first: bool = False
    kinds: tuple[str, ...] = tuple(KINDS)
    judgements: Judgements = field(default_factory=Judgements.standard)


@dataclass(frozen=True)
class ByRow:
    """The computed rows, each once: (rows,) or (rows, options).

    Attributes:
        draws: how often the row was drawn; 1 where nothing was unknown.
        mean: by name of HOURS, over the draws in which the option can be ordered.
        low_h, high_h: comfortable hours that a tenth of the draws is below, and above; nan where
            nothing was unknown.
        most_hours: the option that gives the most hours most often, most_hours_share: how often.
        put_first, put_first_by: the option to put first and the rule of `answer.choice` that
            decided, by number; -1 where there is none. Of pairs alone: see choosing.
        design: number of the design where nothing was unknown, else -1.
    """

    draws: Indices
    mean: dict[str, Floats]
    low_h: Floats
    high_h: Floats
    most_hours: Indices
    most_hours_share: Floats
    put_first: Indices
    put_first_by: Indices
    design: Indices


@dataclass(frozen=True)
class Answer:
    """What the rows of a chunk came to.

    Attributes:
        rows: every row that was read, those too young among them; problems of the rest.
        computed: position in `rows` of each row that was computed.
        drawn: the computed rows, each as often as it was drawn; drawn.row counts in `computed`.
        hours: by name of HOURS, (wearers, options); nan where there is no such option.
        sees_to_cm: (wearers, options) infinite without a limit, nan where there is no such option.
        design: (wearers, options) number in `designs`, -1 where none.
    """

    rows: Rows
    computed: Indices
    drawn: Drawn
    hours: dict[str, Floats]
    sees_to_cm: Floats
    design: Indices
    designs: tuple[str, ...]
    judgements: Judgements

    def by_row(self) -> ByRow:
        """Return means over the draws, and their spread."""
        starts, draws = self.drawn_from()
        mean = {name: np.full((len(starts), len(OPTIONS)), np.nan) for name in HOURS}
        low, high = (np.full((len(starts), len(OPTIONS)), np.nan) for _ in range(2))
        most = np.zeros(len(starts), dtype=np.intp)
        share = np.zeros(len(starts))
        for count in np.unique(draws):
            rows = np.flatnonzero(draws == count)
            wearers = starts[rows][:, None] + np.arange(count)
            for name in HOURS:
                mean[name][rows] = _mean(self.hours[name][wearers])
            if count > 1:
                low[rows], high[rows] = _quantiles(self.hours["comfortable_h"][wearers])
            options = np.arange(len(OPTIONS))
            won = (self.most_hours[wearers][:, :, None] == options).mean(axis=1)
            most[rows], share[rows] = won.argmax(axis=1), won.max(axis=1)
        design = np.where((draws == 1)[:, None], self.design[starts], -1)
        first, by = self.put_first()
        return ByRow(draws, mean, low, high, most, share, first, by, design)

    def put_first(self, among: Sequence[str] = OPTIONS) -> tuple[Indices, Indices]:
        """Return the option put first in each computed row, and the rule that decided, (rows,).

        An option gives no hours in a draw in which it cannot be ordered. -1 where there is none.
        """
        starts, draws = self.drawn_from()
        shape = len(starts), len(OPTIONS)
        comfortable, sharp, served, low, far = (np.zeros(shape) for _ in range(5))
        same = np.zeros((*shape, len(OPTIONS)), dtype=bool)
        for count in np.unique(draws):
            rows = np.flatnonzero(draws == count)
            wearers = starts[rows][:, None] + np.arange(count)
            in_draws, awkward, blurred = (
                np.nan_to_num(self.hours[f"{grade}_h"][wearers]) for grade in GRADES[:-1]
            )
            design = self.design[wearers]
            comfortable[rows] = in_draws.mean(axis=1)
            sharp[rows] = (in_draws + awkward).mean(axis=1)
            served[rows] = (in_draws + awkward + blurred).mean(axis=1)
            low[rows] = np.percentile(in_draws, LOW, axis=1)
            seen = np.sort(np.nan_to_num(self.sees_to_cm[wearers], posinf=np.inf), axis=1)
            far[rows] = seen[:, (count - 1) // 2]
            alike = design[..., :, None] == design[..., None, :]
            same[rows] = (alike & (design >= 0)[..., None]).all(axis=1)
        known = self.rows.take(self.computed)
        chosen = pairs_put_first(
            comfortable_h=comfortable,
            sharp_h=sharp,
            served_h=served,
            low_h=low,
            sees_to_cm=far,
            is_same_design=same,
            present=known.present_kind,
            knows_eyes=~np.isnan(known.values["sphere_d"]),
            day_h=known.day_h,
            judgements=self.judgements,
            among=among,
        )
        return chosen.plan, chosen.rule

    def drawn_from(self) -> tuple[Indices, Indices]:
        """Return the first wearer of each computed row, and how often it was drawn, (rows,)."""
        starts = np.searchsorted(self.drawn.row, np.arange(len(self.computed)))
        return starts, np.diff(np.append(starts, len(self.drawn.row)))

    @property
    def most_hours(self) -> Indices:
        """Return (wearers,) the option with the most comfortable hours, the first of equal ones."""
        hours = np.round(self.hours["comfortable_h"], 6)
        best: Indices = np.argmax(np.where(np.isnan(hours), -1.0, hours), axis=1)
        return best


def answer(frame: pd.DataFrame, *, settings: Settings | None = None) -> Answer:
    """Search every row of a frame of texts, whose index numbers the rows.

    >>> import pandas as pd
    >>> row = {"age_years": "54", "add_d": "2.00", "screen_kind": "monitor", "screen_in": "24",
    ...        "screen_distance_cm": "65", "screen_top_cm": "-5", "screen_tilt_deg": "10",
    ...        "text_mm": "3.2", "hours_screen": "6", "fitting_height_mm": "20"}
    >>> found = answer(pd.DataFrame([row], index=[1]))
    >>> OPTIONS[found.most_hours[0]], round(float(np.nanmax(found.hours["comfortable_h"])), 2)
    ('sv_computer', 6.0)
    """
    asked = settings or Settings()
    (found,) = _answers(frame, asked, (asked.desk_first,))
    return found


def answer_twice(frame: pd.DataFrame, *, settings: Settings) -> tuple[Answer, Answer]:
    """Search every row as the desks are, and with the screens lowered first; see `answer`.

    Whoever keeps the screen where it is is searched once.
    """
    now, moved = _answers(frame, settings, (False, True))
    return now, moved


class _Searched:
    """How many wearers this process was asked about so far, and nothing of them."""

    count = 0


_searched = _Searched()


class _Hours:
    """What some searches come to, put together for all wearers."""

    def __init__(self, count: int) -> None:
        shape = count, len(OPTIONS)
        self.hours = {name: np.full(shape, np.nan) for name in HOURS}
        self.sees_to_cm = np.full(shape, np.nan)
        self.design = np.full(shape, -1, dtype=np.intp)

    def put(self, at: Indices, found: Found, number: Mapping[str, int]) -> None:
        """Hold what was found of some wearers. number: of each design."""
        for name in HOURS:
            self.hours[name][at] = getattr(found, name)
        self.sees_to_cm[at] = found.sees_to_cm
        self.design[at] = np.array([*(number[text] for text in found.designs), -1])[found.design]

    def copy(self, at: Indices, other: _Hours) -> None:
        """Take some wearers from another."""
        for name in HOURS:
            self.hours[name][at] = other.hours[name][at]
        self.sees_to_cm[at], self.design[at] = other.sees_to_cm[at], other.design[at]

    def of(self, which: Indices) -> tuple[dict[str, Floats], Floats, Indices]:
        """Return those of some wearers, each as often as it stands there."""
        hours = {name: found[which] for name, found in self.hours.items()}
        return hours, self.sees_to_cm[which], self.design[which]


def _answers(
    frame: pd.DataFrame, asked: Settings, desk_first: tuple[bool, ...]
) -> Iterator[Answer]:
    """Answer a frame once for each of desk_first; equal wearers are searched once."""
    rows = read_rows(frame)
    computed = np.flatnonzero(~(rows.young | rows.idle))
    some = rows.take(computed)
    drawn = fill(
        some, draws=asked.draws, seed=asked.seed, shifts=asked.shifts, judgements=asked.judgements
    )
    _searched.count += len(drawn.row)
    if _searched.count >= LOADS_FROM:
        load()
    present, laptop = some.present_kind[drawn.row], some.screen_kind[drawn.row] == "laptop"
    first, which = _distinct(drawn.values, present, laptop)
    values = {name: found[first] for name, found in drawn.values.items()}
    made = [_Hours(len(first)) for _ in desk_first]
    number: dict[str, int] = {}
    for batch in _batches(values["add_d"], present[first]):
        part = {name: found[batch] for name, found in values.items()}
        worn = present[first][batch].tolist()
        for at, moves in enumerate(desk_first):
            there, left = part, np.arange(len(batch))
            if moves:
                known_h = made[0].hours["comfortable_h"][batch, -1] if at else None
                there = lowered(
                    part,
                    laptop=laptop[first][batch],
                    present=worn,
                    judgements=asked.judgements,
                    now_h=known_h,
                )
            if at:
                stays = there["screen_top_cm"] == part["screen_top_cm"]
                made[at].copy(batch[stays], made[0])
                left = np.flatnonzero(~stays)
            if left.size:
                found = search_rows(
                    scene_of_rows(
                        {name: each[left] for name, each in there.items()},
                        judgements=asked.judgements,
                    ),
                    [worn[one] for one in left.tolist()],
                    judgements=asked.judgements,
                    kinds=asked.kinds,
                )
                for text in found.designs:
                    number.setdefault(text, len(number))
                made[at].put(batch[left], found, number)
    for one in made:
        yield Answer(rows, computed, drawn, *one.of(which), tuple(number), asked.judgements)


def _distinct(
    values: Mapping[str, Floats], present: NDArray[np.str_], laptop: NDArray[np.bool_]
) -> tuple[Indices, Indices]:
    """Return the first of equal wearers, and for each wearer which of those it equals."""
    _, worn = np.unique(present, return_inverse=True)
    cells = np.column_stack([*values.values(), worn, laptop]).astype(np.float64)
    if not len(cells):
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    whole = np.ascontiguousarray(cells).view(f"V{cells.itemsize * cells.shape[1]}")[:, 0]
    _, first, which = np.unique(whole, return_index=True, return_inverse=True)
    return first, which


def _batches(add_d: Floats, present: NDArray[np.str_]) -> Iterator[Indices]:
    """Yield wearers of the same add and present pair: they share what can be ordered or is worn.

    A row's answer does not depend on who else is in its batch.
    """
    order = np.lexsort((present, add_d))
    size = BATCH if not is_loaded() else COMPILED_BATCH
    for start in range(0, len(order), size):
        yield order[start : start + size]


def _mean(values: Floats) -> Floats:
    """Return the mean over the draws (axis 1) of what is known."""
    known = ~np.isnan(values)
    count = known.sum(axis=1)
    total = np.where(known, values, 0.0).sum(axis=1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _quantiles(values: Floats) -> tuple[Floats, Floats]:
    """Return the tenth and ninetieth percentile over the draws (axis 1) of what is known."""
    ordered = np.sort(values, axis=1)
    last = np.maximum((~np.isnan(values)).sum(axis=1) - 1, 0)

    def at(share: float) -> Floats:
        place = share * last
        below = np.floor(place).astype(np.intp)
        above = np.minimum(below + 1, last)
        low, high = (
            np.take_along_axis(ordered, which[:, None], axis=1)[:, 0] for which in (below, above)
        )
        found: Floats = low + (place - below) * (high - low)
        return found

    return at(LOW_SHARE), at(1.0 - LOW_SHARE)
