"""Read the rows of a team, held in memory, and ask the engine about them.

Nothing here opens a file of its own: what was uploaded comes as bytes and goes on as a frame; every
bad row is listed. What is found is kept with the draft and goes with it.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NoReturn

import numpy as np
import pandas as pd

from app.views.team.job import Tell
from engine import tables
from engine.errors import InputRefusedError, Limits
from engine.kernel.compiled import is_installed, load
from engine.roster.answer import Settings
from engine.roster.reading import read_list
from engine.roster.rows import MARKS, USUAL_SCREENS, Problem, read_rows
from engine.roster.template import meanings
from engine.tables import by_id
from engine.team import sensitivity
from engine.team.people import (
    MOST_PEOPLE_A_ROW,
    PEOPLE,
    Team,
    expanded,
    people_by_row,
    sampled,
    team_of,
)
from engine.team.policies import draws_needed
from engine.team.privacy import STAND_INS_SPREAD
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
        is_searched: (people,) of everyone who is searched, a large band as the fewer it is drawn
            as; False for the young.
        content: how many people each digest of a row stands for, of the good ones.
    """

    good: pd.DataFrame
    problems: tuple[Problem, ...]
    rows: int
    people: int
    young: int
    typed: bool = False
    notes: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()
    is_searched: tuple[bool, ...] = ()
    content: Counter[str] = field(default_factory=Counter)

    @property
    def bad_rows(self) -> int:
        """Return rows left out."""
        return len({one.row for one in self.problems})


def read_file(content: bytes) -> Checked:
    """Return the rows of a file, numbered as a spreadsheet shows them.

    Raises
        InputRefusedError: not a list of people, damaged, or too long.
    """
    if len(content) > MOST_MB * 2**20:
        _refuse(f"more than {MOST_MB} MB", "a smaller file")
    listed = read_list(io.BytesIO(content), field="file", also=[PEOPLE])
    frame = next(listed.frames(rows=MOST_ROWS + 1), None)
    if frame is None:
        _refuse("no row under the header", "at least one row under it")
    if len(frame) > MOST_ROWS:
        raise InputRefusedError(
            field="file",
            value=f"more than {MOST_ROWS:,} rows",
            allowed=f"{MOST_ROWS:,} rows at most in one file",
            limits=Limits(high=MOST_ROWS, unit="rows"),
            number=len(frame),
        )
    return replace(checked(frame), notes=(*listed.notes, *_not_to_hold(listed.names)))


def _not_to_hold(names: Sequence[str]) -> list[str]:
    """Return a sentence on columns with powers or fitting heights, where a file has some."""
    held = [
        row["id"]
        for row in tables.rows("roster_columns")
        if row["id"] in names and row["case_field"].startswith(("EyePrescription", "Fit"))
    ]
    said = "An employer may not hold powers or fitting heights: take out the column"
    return [f"{said}{'s' * (len(held) > 1)} {', '.join(held)}."] if held else []


def _refuse(found: str, allowed: str) -> NoReturn:
    raise InputRefusedError(field="file", value=found, allowed=allowed)


def banded(
    counts: Mapping[tuple[str, str], str], *, sizes: Mapping[str, str], hours: Mapping[str, str]
) -> pd.DataFrame:
    """Return typed counts as rows: one for each band and screen that has people.

    counts: texts by (band, screen kind); blank is nobody. sizes: diagonal by screen kind.
    hours: by column of a roster.

    Raises
        InputRefusedError: a count is not a whole number; its field is team.BAND.SCREEN.
    """
    rows = []
    for (band, kind), text in counts.items():
        field = f"team.{band}.{kind}"
        limits, allowed = (
            Limits(0, MOST_PEOPLE_A_ROW),
            f"a whole number from 0 to {MOST_PEOPLE_A_ROW:,}",
        )
        try:
            people = parse_number(text, field=field) if text.strip() else 0.0
        except InputRefusedError as refusal:
            raise refusal.said_of(allowed=allowed) from None
        if people != int(people) or limits.side(people):
            raise InputRefusedError(
                field=field, value=text, allowed=allowed, limits=limits, number=people
            )
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
    rows, weight, _ = expanded(good)
    of_young = set(found.row[found.young].tolist())
    is_searched = tuple(row not in of_young for row in rows.index)
    young = sum(w for w, old in zip(weight, is_searched, strict=True) if not old)
    return Checked(
        good,
        tuple(problems),
        len(frame),
        round(weight.sum()),
        round(young),
        typed=typed,
        doubts=found.doubts,
        is_searched=is_searched,
        content=people_by_row(good),
    )


def header_words() -> list[tuple[str, str, str, str]]:
    """Return every column of a file: name, what it means, needed or what a blank means, example."""
    counted = (PEOPLE, "how many people the row stands for", "one person", "12")
    return [*meanings(tables.rows("roster_columns")), counted]


SLICE_DRAWS = 240
"""People times draws searched between two moves of the progress bar."""
LARGEST_SLICE = 12
"""People of a slice at most, so that the first move comes soon."""
SAMPLE_DRAWS = 5
LEAST_DRAWS, MOST_DRAWS = 10, 200
SAMPLING_ERROR = 0.015
"""Standard error of the hours that is aimed at, as a share: below the 2 % promised."""
USUAL_DRAWN = 2500
"""People times draws that it usually takes (measured): a sample may ask for more, not for less."""
YOUNG_WORK = 0.02
"""Work of a person who is read and not searched, against one who is (measured)."""
SECONDS_A_DRAW, COMPILED_SECONDS_A_DRAW = 0.003, 0.0003
"""One draw of one person, searched twice, on one free core; shown before any is timed."""
COMPILED_SLICES = 10
"""So many times the people of a slice where the search is compiled: it takes as long."""


@dataclass(frozen=True)
class Asked:
    """What a search was asked, to see later whether its answer is still the one."""

    frame: pd.DataFrame
    present: str

    def same(self, other: Asked) -> bool:
        """Tell whether the same was asked."""
        return self.present == other.present and self.frame.equals(other.frame)


@dataclass(frozen=True)
class Found:
    """A team that was searched."""

    asked: Asked
    team: Team
    typed: bool = False


def searched(rows: Checked, present: str, *, progress: Tell) -> Found:
    """Search a sample to see how often everyone has to be drawn, then everyone, by slices."""
    sample = sampled(rows.good, most=sensitivity.SAMPLE_PEOPLE)
    everyone, some = len(rows.is_searched), len(sample)
    before = some * SAMPLE_DRAWS
    after = everyone * _usual_draws(rows)

    wider = COMPILED_SLICES if load() else 1

    def found(part: pd.DataFrame, draws: int, tell: Tell) -> Team:
        return team_of(
            part,
            settings=Settings(draws=draws),
            assumed_present=present,
            slice_people=wider * min(max(SLICE_DRAWS // draws, 1), LARGEST_SLICE),
            progress=tell,
        )

    pilot = found(sample, SAMPLE_DRAWS, lambda done: progress(done * before / (before + after)))
    error = SAMPLING_ERROR / (1.0 if rows.typed else np.sqrt(STAND_INS_SPREAD))
    needed = draws_needed(pilot, rows=everyone, error=error)
    draws = int(np.clip(np.ceil(needed), _usual_draws(rows), MOST_DRAWS))
    after = everyone * draws
    tell = by_work(
        rows.is_searched, lambda done: progress((before + done * after) / (before + after))
    )
    return Found(Asked(rows.good, present), found(rows.good, draws, tell), rows.typed)


def _usual_draws(rows: Checked) -> int:
    """Return how often people are usually drawn: the fewer they are, the more often."""
    people = max(sum(rows.is_searched), 1)
    return min(max(USUAL_DRAWN // people, LEAST_DRAWS), MOST_DRAWS)


def ends_of(rows: Checked, present: str, *, progress: Tell) -> Ends:
    """Search a sample with what is unknown of eyes and desks at its ends."""
    return sensitivity.ends_of(
        rows.good,
        settings=Settings(draws=SAMPLE_DRAWS),
        assumed_present=present,
        progress=progress,
    )


def by_work(is_searched: Sequence[bool], progress: Tell) -> Tell:
    """Return what turns the share of the people, in their order, into the share of the work."""
    work = np.cumsum(np.where(is_searched, 1.0, YOUNG_WORK))

    def tell(people: float) -> None:
        progress(float(work[max(round(people * len(work)), 1) - 1] / work[-1]))

    return tell


def seconds(rows: Checked) -> float:
    """Return about how long a search takes."""
    a_draw = COMPILED_SECONDS_A_DRAW if is_installed() else SECONDS_A_DRAW
    return sum(rows.is_searched) * _usual_draws(rows) * a_draw
