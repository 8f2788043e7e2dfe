"""Read the rows of a team, held in memory, and ask the engine about them.

Nothing here opens a file of its own: what was uploaded comes as bytes and goes on as a frame; every
bad row is listed. What is found is kept with the draft and goes with it.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import NoReturn

import pandas as pd

from engine import tables
from engine.errors import InputRefusedError
from engine.roster.answer import Settings
from engine.roster.reading import read_list
from engine.roster.rows import MARKS, USUAL_SCREENS, Problem, read_rows
from engine.roster.template import meanings
from engine.tables import by_id
from engine.team import sensitivity
from engine.team.people import MOST_PEOPLE_A_ROW, PEOPLE, Team, expanded, team_of
from engine.team.sensitivity import Ends
from engine.units import parse_number

MOST_MB = 25
MOST_ROWS = 10_000
"""More would take a quarter of an hour and longer on two cores."""
BANDS = {
    "18-39": "under 40",
    "40-49": "40 to 49",
    "50-54": "50 to 54",
    "55-59": "55 to 59",
    "60+": "60 and over",
}
"""Bands of the typed table, as a roster writes them and as a person reads them."""
SCREENS = {"monitor": "at a monitor", "laptop": "at a laptop alone"}
SIZE_ASSUMED_IN = {
    kind: by_id("presets")[preset]["diagonal_in"] for kind, preset in USUAL_SCREENS.items()
}


@dataclass(frozen=True)
class Checked:
    """Rows that were read, before anything is computed.

    Attributes:
        good: rows that can be computed, as texts; the index is the number of the row.
        problems: what is wrong with the others. rows: all that were read.
        people, young: people in the good rows, and how many are too young to need an add.
        typed: a table of bands typed on the page, which holds no values of anybody.
        notes: what of the file is not used, in sentences.
        doubts: unusual values of all rows; those of the good ones are computed with.
    """

    good: pd.DataFrame
    problems: tuple[Problem, ...]
    rows: int
    people: int
    young: int
    typed: bool = False
    notes: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()

    @property
    def bad_rows(self) -> int:
        """Rows left out."""
        return len({one.row for one in self.problems})


def read_file(content: bytes) -> Checked:
    """The rows of a file, numbered as a spreadsheet shows them.

    Raises
        InputRefusedError: not a list of people, damaged, or too long.
    """
    if len(content) > MOST_MB * 2**20:
        _refuse(f"more than {MOST_MB} MB", "a smaller file")
    listed = read_list(io.BytesIO(content), field="file", also=[PEOPLE])
    frame = next(listed.frames(rows=MOST_ROWS + 1), None)
    if frame is None:
        _refuse("a header alone", "at least one row under it")
    if len(frame) > MOST_ROWS:
        _refuse(f"more than {MOST_ROWS:,} rows", f"{MOST_ROWS:,} rows at most in one file")
    return replace(checked(frame), notes=listed.notes)


def _refuse(found: str, allowed: str) -> NoReturn:
    raise InputRefusedError(field="file", value=found, allowed=allowed)


def banded(
    counts: Mapping[tuple[str, str], str], *, sizes: Mapping[str, str], hours: Mapping[str, str]
) -> pd.DataFrame:
    """Typed counts as rows: one for each band and screen that has people.

    counts: texts by (band, screen kind); blank is nobody. sizes: diagonal by screen kind.
    hours: by column of a roster.

    Raises
        InputRefusedError: a count is not a whole number; its field is team.BAND.SCREEN.
    """
    rows = []
    for (band, kind), text in counts.items():
        field = f"team.{band}.{kind}"
        people = parse_number(text, field=field) if text.strip() else 0.0
        if people != int(people) or not 0 <= people <= MOST_PEOPLE_A_ROW:
            allowed = f"a whole number from 0 to {MOST_PEOPLE_A_ROW:,}"
            raise InputRefusedError(field=field, value=text, allowed=allowed)
        if people:
            row = {"age_band": band, PEOPLE: f"{people:g}", "screen_kind": kind}
            rows.append(row | {"screen_in": sizes[kind]} | hours)
    return pd.DataFrame(rows, index=pd.RangeIndex(1, len(rows) + 1), dtype=object)


def checked(frame: pd.DataFrame, *, typed: bool = False) -> Checked:
    """Read every row; those with something wrong are listed and left out.

    Raises
        InputRefusedError: the header is wrong.
    """
    counted = PEOPLE in frame.columns
    _, _, refused = expanded(frame)
    found = read_rows(frame.drop(columns=PEOPLE) if counted else frame)
    problems = sorted((*refused, *found.problems), key=lambda one: one.row)
    bad = {one.row for one in problems}
    good = frame.loc[[row for row in frame.index if row not in bad]]
    good = good.drop(columns=list(MARKS), errors="ignore")
    _, weight, _ = expanded(good)
    rows, _, _ = expanded(good)
    of_young = set(found.row[found.young].tolist())
    young = sum(w for row, w in zip(rows.index, weight, strict=True) if row in of_young)
    return Checked(
        good,
        tuple(problems),
        len(frame),
        round(weight.sum()),
        round(young),
        typed=typed,
        doubts=found.doubts,
    )


def header_words() -> list[tuple[str, str, str, str]]:
    """Every column of a file: name, what it means, needed or what a blank means, example."""
    counted = (PEOPLE, "how many people the row stands for", "one person", "12")
    return [*meanings(tables.rows("roster_columns")), counted]


SLICE_PEOPLE = 24
"""People searched between two moves of the progress bar."""
SAMPLE_DRAWS = 5
SECONDS_A_PERSON = 0.1
"""Ten draws through every kind, twice, on one free core; shown before the first slice is timed."""
Progress = Callable[[float, float], None]
"""Told the share that is done, 0 to 1, and the seconds that are left."""


@dataclass(frozen=True)
class Asked:
    """What a search was asked, to see later whether its answer is still the one."""

    frame: pd.DataFrame
    present: str

    def same(self, other: Asked) -> bool:
        """Whether the same was asked."""
        return self.present == other.present and self.frame.equals(other.frame)


@dataclass(frozen=True)
class Found:
    """A team that was searched."""

    asked: Asked
    team: Team
    typed: bool = False


def searched(rows: Checked, present: str, *, progress: Progress) -> Found:
    """Search everyone, a slice at a time."""
    team = team_of(
        rows.good,
        settings=Settings(),
        assumed_present=present,
        slice_people=SLICE_PEOPLE,
        progress=timed(progress),
    )
    return Found(Asked(rows.good, present), team, rows.typed)


def ends_of(rows: Checked, present: str, *, progress: Progress) -> Ends:
    """Search a sample with what is unknown of eyes and desks at its ends."""
    return sensitivity.ends_of(
        rows.good,
        settings=Settings(draws=SAMPLE_DRAWS),
        assumed_present=present,
        progress=timed(progress),
    )


def timed(progress: Progress) -> Callable[[float], None]:
    """Progress that is told the share alone, with the seconds left from the pace so far."""
    began = time.monotonic()

    def tell(done: float) -> None:
        progress(done, (time.monotonic() - began) * (1.0 - done) / done)

    return tell


def seconds(people: int) -> float:
    """About how long a search takes."""
    return people * SECONDS_A_PERSON
