"""The people of a team: comfortable hours of each through each option, now and with the desk first.

From rows of a roster, or from bands with a count (column `people`). Held in memory only.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from engine.answer.options import PRESENT
from engine.errors import InputRefusedError, Limits
from engine.kernel.compiled import load
from engine.lenses.kinds import KINDS
from engine.roster.answer import LOADS_FROM, Answer, Settings, answer, answer_twice
from engine.roster.rows import YOUNGEST_YEARS, Problem, check_header
from engine.roster.search import OPTIONS
from engine.roster.usual import CHUNK_ROWS
from engine.team.privacy import Blur, digest_of
from engine.team.secret import secret
from engine.units import parse_number

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

PEOPLE = "people"
"""Column of a table of bands: how many people the row stands for."""
MOST_PEOPLE_A_ROW = 10_000
DRAWN_A_ROW = 100
"""A band of more people is drawn as this many, each standing for several."""
AGE_BANDS = (
    (YOUNGEST_YEARS, f"under {YOUNGEST_YEARS:g}"),
    (50.0, f"{YOUNGEST_YEARS:g} to 49"),
    (55.0, "50 to 54"),
    (60.0, "55 to 59"),
    (np.inf, "60 and over"),
)
"""Groups of the tables: below this age, and its name."""
SCREEN_PAIRS = tuple(name for name, kind in KINDS.items() if kind.is_office_or_computer)
"""What counts as a pair for the screen; of each person the one to put first is taken."""
_GENERAL = next(name for name, kind in KINDS.items() if kind.has_corridor)
HOURS = ("present", "general", "screen_pair", "present_moved", "screen_pair_moved")
REF = "ref"


@dataclass(frozen=True)
class Team:
    """People as arrays; hours are comfortable hours a day, (people, draws).

    Attributes:
        row: number of the row each comes from. ref: pseudonym. weight: people each stands for.
        group: number in `groups`, the cells of which the groups that are shown are made.
        present, general, screen_pair: through the pair worn today, the best general progressive,
            the office lens or computer pair to put first; 0 gained for the young.
        present_moved, screen_pair_moved: with the screen at its best height first.
        day_h: hours looked at something.
        young: too young for an add.
        assumed_present: people whose present pair was assumed, not known.
        content: digest of the values of each one's row, without the pseudonym; where it is left
            out, of the hours.
    """

    row: Indices
    ref: tuple[str, ...]
    weight: Floats
    group: Indices
    groups: tuple[tuple[str, str], ...]
    present: Floats
    general: Floats
    screen_pair: Floats
    present_moved: Floats
    screen_pair_moved: Floats
    day_h: Floats
    young: NDArray[np.bool_]
    assumed_present: float
    problems: tuple[Problem, ...]
    content: tuple[str, ...] = ()

    @property
    def people(self) -> float:
        """Return everyone in scope."""
        return float(self.weight.sum())

    def digests(self) -> tuple[str, ...]:
        """Return a digest of what is known of each person, (people,)."""
        if self.content:
            return self.content
        hours = np.hstack([getattr(self, name) for name in HOURS])
        return tuple(
            digest_of([("hours", f"{group} {one.tolist()}")])
            for group, one in zip(self.group, hours, strict=True)
        )

    def blur(self) -> Blur:
        """Return the chances of this team, which hang on the secret of this computer."""
        return Blur(self.digests(), secret=secret())

    def blurred(self, blur: Blur) -> Team:
        """Return the team in which some stand in for others; all that is shown counts this one."""
        return replace(self, weight=blur.stand_ins(self.weight, self.group, self.digests()))


def expanded(frame: pd.DataFrame) -> tuple[pd.DataFrame, Floats, list[Problem]]:
    """Return rows of bands as rows of people: (rows, people each stands for, rows refused).

    The index still numbers the rows of the file.
    """
    if PEOPLE not in frame.columns:
        return frame, np.ones(len(frame)), []
    count, problems = [], []
    for row, text in zip(frame.index, frame[PEOPLE], strict=True):
        try:
            value = parse_number(str(text), field=PEOPLE) if str(text).strip() else 1.0
        except InputRefusedError:
            value = 0.0
        if value != int(value) or not 1 <= value <= MOST_PEOPLE_A_ROW:
            rule = f"a whole number from 1 to {MOST_PEOPLE_A_ROW}"
            side = Limits(1, MOST_PEOPLE_A_ROW).side(value) if str(text).strip() else ""
            problems.append(Problem(int(row), PEOPLE, str(text)[:40], rule, side=side))
            value = 0.0
        count.append(int(value))
    times = np.minimum(count, DRAWN_A_ROW)
    which = np.repeat(np.arange(len(frame)), times)
    weight = (np.array(count) / np.maximum(times, 1))[which]
    return frame.drop(columns=PEOPLE).iloc[which], weight, problems


def sampled(frame: pd.DataFrame, *, most: int) -> pd.DataFrame:
    """Return so many people of a team as rows, each standing for as many as any other."""
    people, weight, _ = expanded(frame)
    if len(people) <= most and np.all(weight == 1.0):
        return people
    reached = np.cumsum(weight)
    steps = (np.arange(most) + 0.5) / most * reached[-1]
    chosen: pd.DataFrame = people.iloc[np.searchsorted(reached, steps)]
    return chosen


def team_of(
    frame: pd.DataFrame,
    *,
    settings: Settings,
    assumed_present: str,
    with_desk: bool = True,
    slice_people: int = CHUNK_ROWS,
    progress: Callable[[float], None] | None = None,
) -> Team:
    """Search every person of a team, twice: as the desks are, and with the screens lowered first.

    assumed_present: kind worn today by those of whom it is not known; shown as an assumption.
    with_desk: whether the second search is made; without it screens count as well placed.
    slice_people: people searched between two calls of progress; it changes no answer.
    progress: told the share that is done.

    Raises
        InputRefusedError: the header is wrong, or no row can be computed.
    """
    check_header([str(name) for name in frame.columns if name != PEOPLE])
    people, weight, refused = expanded(frame)
    asked, known = _assuming(people, assumed_present)
    parts: list[tuple[Answer, Answer]] = []
    settings = replace(settings, kinds=(_GENERAL, *SCREEN_PAIRS))
    if len(asked) * settings.draws >= LOADS_FROM:
        load()
    for start in range(0, len(asked), slice_people):
        chunk = asked.iloc[start : start + slice_people]
        chunk = chunk.set_axis(pd.RangeIndex(start, start + len(chunk)), axis=0)
        if with_desk:
            now, moved = answer_twice(chunk, settings=settings)
        else:
            now = moved = answer(chunk, settings=settings)
        parts.append((now, moved))
        if progress is not None:
            progress(min(1.0, (start + len(chunk)) / len(asked)))
    found = _joined(parts, np.array(people.index), weight, known, refused, settings.draws)
    return replace(found, content=_contents(frame, found.row))


def _contents(frame: pd.DataFrame, rows: Indices) -> tuple[str, ...]:
    """Return a digest of each person's row, without pseudonym and number of people."""
    names = [str(name) for name in frame.columns]
    asked = [name not in (REF, PEOPLE) for name in names]
    of_row = {
        row: digest_of(
            (name, str(cell)) for name, cell, use in zip(names, cells, asked, strict=True) if use
        )
        for row, cells in zip(frame.index, frame.itertuples(index=False, name=None), strict=True)
    }
    return tuple(of_row[row] for row in rows.tolist())


def people_by_content(team: Team) -> Counter[str]:
    """Return how many people each digest stands for."""
    return _counted(team.digests(), team.weight)


def people_by_row(frame: pd.DataFrame) -> Counter[str]:
    """Return the same of rows that can all be computed, before they are."""
    people, weight, _ = expanded(frame)
    return _counted(_contents(frame, np.array(people.index)), weight)


def _counted(digests: Sequence[str], weights: Floats) -> Counter[str]:
    found: Counter[str] = Counter()
    for one, weight in zip(digests, weights.tolist(), strict=True):
        found[one] += weight
    return Counter({one: round(weight) for one, weight in found.items()})


def _assuming(frame: pd.DataFrame, kind: str) -> tuple[pd.DataFrame, NDArray[np.bool_]]:
    """Return the rows with a present pair where none is told, and where one is, (rows,)."""
    given = list(frame["present_kind"]) if "present_kind" in frame.columns else [""] * len(frame)
    known = np.array([bool(str(text).strip()) for text in given], dtype=bool)
    filled = [text if was else kind for text, was in zip(given, known, strict=True)]
    return frame.assign(present_kind=filled), known


def _joined(
    parts: list[tuple[Answer, Answer]],
    number: Indices,
    weight: Floats,
    known: NDArray[np.bool_],
    refused: list[Problem],
    draws: int,
) -> Team:
    """Join chunks; their rows are numbered by place, the file's number is put back."""
    place = np.concatenate([now.rows.row for now, _ in parts]) if parts else np.zeros(0, np.intp)
    if not len(place):
        raise InputRefusedError(field="rows", value="none", allowed="one row that is computed")
    young = np.concatenate([now.rows.young for now, _ in parts])
    found: dict[str, Any] = {
        name: np.concatenate([_hours(now, moved, draws, name) for now, moved in parts])
        for name in HOURS
    }
    group, groups = _groups([now for now, _ in parts])
    wrong = {
        (int(number[one.row]), one.column): replace(one, row=int(number[one.row]))
        for now, _ in parts
        for one in now.rows.problems
    }
    return Team(
        row=number[place],
        ref=tuple(ref for now, _ in parts for ref in now.rows.ref),
        weight=weight[place],
        group=group,
        groups=groups,
        day_h=np.concatenate([now.rows.day_h for now, _ in parts]),
        young=young,
        assumed_present=float(weight[place][~known[place] & ~young].sum()),
        problems=(*refused, *wrong.values()),
        **found,
    )


def _hours(now: Answer, moved: Answer, draws: int, name: str) -> Floats:
    """Return comfortable hours by person and draw; 0 for the young, who gain nothing."""
    source = moved if name.endswith("_moved") else now
    starts, count = source.drawn_from()
    found = np.zeros((len(source.rows.row), draws))
    at = starts[:, None] + np.minimum(np.arange(draws), (count - 1)[:, None])
    if len(starts):
        taken = _option_taken(source, name.removesuffix("_moved"))
        hours = np.nan_to_num(source.hours["comfortable_h"], nan=0.0)[at, taken[:, None]]
        found[source.computed] = np.where(taken[:, None] >= 0, hours, 0.0)
    return found


def _option_taken(source: Answer, name: str) -> Indices:
    """Return which option a name of HOURS means in each computed row, (rows,); -1 for none.

    A pair for the screen is one of two kinds, chosen as for a row of a roster.
    """
    if name == "screen_pair":
        return source.put_first(SCREEN_PAIRS)[0]
    only = {"present": PRESENT, "general": _GENERAL}[name]
    return np.full(len(source.computed), OPTIONS.index(only), dtype=np.intp)


def _groups(answers: Sequence[Answer]) -> tuple[Indices, tuple[tuple[str, str], ...]]:
    """Return the partition: age band and kind of screen."""
    groups = tuple((name, kind) for _, name in AGE_BANDS for kind in ("monitor", "laptop"))
    found = []
    for now in answers:
        age = (now.rows.age_low + now.rows.age_high) / 2
        band = np.searchsorted([limit for limit, _ in AGE_BANDS], age, side="right")
        found.append(2 * band + (now.rows.screen_kind == "laptop"))
    return np.concatenate(found).astype(np.intp), groups
