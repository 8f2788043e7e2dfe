"""Rows of a roster as people write them: read, or refused with row, column, value and rule.

The columns and what a blank means stand in roster_columns.csv; the limits are those of the fields
of `Case`. A row is refused as a whole and listed; none is dropped, none is computed with a guess.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from engine import tables
from engine.case import model as case
from engine.case.read import usual_range
from engine.errors import InputRefusedError, Limits, Side, refused
from engine.optics.workstation import aspect_ratio, sides_cm
from engine.roster.columns import HOURS, Column, columns

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    import pandas as pd
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_T = TypeVar("_T", str, float)

YOUNGEST_YEARS = tables.Judgements.standard().no_add_from_years
"""Below this age a row without an add is counted, not computed: few are prescribed one."""
REF_RULE = "1 to 24 letters, digits, - or _, no - at the start (a pseudonym, never a name)"
BAND_RULE = "an age, two such as 50-54, or one with a plus such as 60+"
FORMULA_RULE = "a value: copy the cells and paste them as values, since no formula is run"
OPEN_BAND_YEARS = 5.0
"""Width given to a band such as 60+: that of the last band of adds by age (Millodot 2009)."""
USUAL_SCREENS = {"monitor": "screen_24", "laptop": "laptop_14"}
"""The preset whose size and format a screen has where none is given."""
LENS_DEPTH_MM = case.Fit().lens_depth_mm
_REF = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_-]{0,23}")
_BAND = re.compile(r"\s*(\d{2,3}(?:[.,]\d+)?)\s*(?:[-\u2013]\s*(\d{2,3})|(\+))?\s*")
CELLS, TWICE = "(cells)", "(twice)"
"""Columns a reader adds: "" where a line has as many cells as the header; where a pseudonym stands
for the first time, else the row it stood in."""
MARKS = (CELLS, TWICE)
_LONGEST_SHOWN = 40


@dataclass(frozen=True)
class Problem:
    """A value that keeps a row from being computed, or one that is unusual.

    Attributes:
        row: number of the row, as a spreadsheet shows it.
        column, value, rule: where it is, what was written, what is allowed or usual.
        is_doubt: it was computed with, and should be looked at.
        side, unit: on which side of its limits the value is, and their unit.
    """

    row: int
    column: str
    value: str
    rule: str
    is_doubt: bool = False
    side: Side = ""
    unit: str = ""

    @property
    def sentence(self) -> str:
        """Return what is wrong or unusual of which column, and what is allowed or usual."""
        if self.is_doubt:
            return f"{self.column}: {self.value!r} is unusual. Usual: {self.rule}."
        said = refused(
            repr(self.value), self.rule, side=self.side, unit=self.unit, field=self.column
        )
        return f"{self.column}: {said}"


@dataclass(frozen=True)
class Rows:
    """The rows that can be computed, as arrays of equal length.

    Attributes:
        row: number of each row in the file.
        ref: pseudonym, or the number.
        values: number columns; nan is unknown (hours: 0 is none; screen_aspect: nan is usual).
        age_low, age_high: bounds of the age; equal where it is known.
        screen_kind, present_kind: words; "" where no present pair is known.
        young: too young for an add, and none given.
        problems: of the rows left out.
        doubts: unusual values of all rows, those left out among them.
    """

    row: NDArray[np.int64]
    ref: tuple[str, ...]
    values: Mapping[str, Floats]
    age_low: Floats
    age_high: Floats
    screen_kind: NDArray[np.str_]
    present_kind: NDArray[np.str_]
    problems: tuple[Problem, ...]
    doubts: tuple[Problem, ...] = ()

    @property
    def young(self) -> NDArray[np.bool_]:
        """Return who is too young for an add, with none given."""
        return np.isnan(self.values["add_d"]) & (self.age_high < YOUNGEST_YEARS)

    @property
    def day_h(self) -> Floats:
        """Return the hours looked at something, (rows,)."""
        return _day_h(self.values)

    @property
    def idle(self) -> NDArray[np.bool_]:
        """Return who is without an hour a day of anything: counted, not computed."""
        idle: NDArray[np.bool_] = np.all([self.values[name] == 0.0 for name in HOURS], axis=0)
        return idle

    def take(self, which: NDArray[np.intp]) -> Rows:
        """Return some of the rows; problems are left behind."""
        return Rows(
            row=self.row[which],
            ref=tuple(self.ref[index] for index in which),
            values={name: values[which] for name, values in self.values.items()},
            age_low=self.age_low[which],
            age_high=self.age_high[which],
            screen_kind=self.screen_kind[which],
            present_kind=self.present_kind[which],
            problems=(),
        )


@cache
def usual_aspects() -> Mapping[str, float]:
    """Return width over height of a screen where none is given, by kind of screen.

    >>> usual_aspects()["laptop"]
    1.6
    """
    presets = tables.by_id("presets")
    return {
        kind: aspect_ratio(aspect=presets[name]["aspect"]) for kind, name in USUAL_SCREENS.items()
    }


def check_header(names: list[str]) -> None:
    """Refuse a file whose header lacks a needed column or has one that is not known.

    Raises
        InputRefusedError: names the column.
    """
    for name in names:
        if name not in columns():
            allowed = "the columns " + ", ".join(columns())
            raise InputRefusedError(field="header", value=name[:_LONGEST_SHOWN], allowed=allowed)
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise InputRefusedError(field="header", value=twice, allowed="each column once")
    for column in columns().values():
        if column.needed and column.id not in names:
            raise InputRefusedError(field="header", value="nothing", allowed=f"column {column.id}")


def read_rows(frame: pd.DataFrame) -> Rows:
    """Read a frame of texts whose index numbers the rows.

    Raises
        InputRefusedError: the header is wrong; a wrong value only leaves its row out.
    """
    check_header([str(name) for name in frame.columns if name not in MARKS])
    reader = _Reader(frame)
    reader.read()
    return reader.rows()


class _Reader:
    """One frame being read."""

    def __init__(self, frame: pd.DataFrame) -> None:
        self.frame, self.count = frame, len(frame)
        self.number = np.array(frame.index, dtype=np.int64)
        self.problems: dict[int, list[Problem]] = {}
        self.numbers: dict[str, Floats] = {}
        self.words: dict[str, list[str]] = {}
        self.age_low = np.full(self.count, np.nan)
        self.age_high = np.full(self.count, np.nan)

    def texts(self, name: str) -> list[str]:
        if name not in self.frame.columns:
            return [""] * self.count
        return [str(text).strip() for text in self.frame[name]]

    def refuse(
        self,
        at: int,
        column: str,
        value: object,
        rule: str,
        *,
        side: Side = "",
        unit: str = "",
    ) -> None:
        """Leave a row out; side, unit: see Problem."""
        shown = str(value)[:_LONGEST_SHOWN]
        problem = Problem(int(self.number[at]), column, shown, rule, side=side, unit=unit)
        self.problems.setdefault(at, []).append(problem)

    def read(self) -> None:
        for column in columns().values():
            if column.kind in ("number", "ratio"):
                parse = column.number if column.kind == "number" else column.ratio
                self.numbers[column.id] = np.array(self.parsed(column, parse, np.nan))
            elif column.kind == "choice":
                self.words[column.id] = self.parsed(column, column.choice, "")
        for hours in HOURS:
            self.numbers[hours] = np.nan_to_num(self.numbers[hours], nan=0.0)
        for at, text in enumerate(self.texts(CELLS)):
            if text:
                self.refuse(at, "whole row", text, "one cell for each column of the header")
        self.refs()
        self.ages()
        self.between_fields()

    def parsed(self, column: Column, parse: Callable[[str], _T], blank: _T) -> list[_T]:
        """Read a column value by value; equal texts are parsed once."""
        known: dict[str, _T | InputRefusedError] = {"": blank}
        found = []
        for at, text in enumerate(self.texts(column.id)):
            if text not in known:
                try:
                    known[text] = parse(text)
                except InputRefusedError as error:
                    known[text] = error
            value = known[text]
            if isinstance(value, InputRefusedError):
                rule = _rule(text, value.allowed)
                self.refuse(at, column.id, text, rule, side=value.side, unit=value.unit)
                value = blank
            elif not text and column.needed:
                self.refuse(at, column.id, "nothing", column.rule or "a value")
            found.append(value)
        return found

    def refs(self) -> None:
        self.words["ref"] = self.texts("ref")
        for at, text in enumerate(self.words["ref"]):
            if not text:
                self.words["ref"][at] = str(self.number[at])
            elif not _REF.fullmatch(text):
                self.refuse(at, "ref", "(not repeated)", _rule(text, REF_RULE))

    def ages(self) -> None:
        """Work out the ages from age_years or age_band, one of them."""
        years, band = self.numbers.pop("age_years"), columns()["age_band"]
        limits = band.limits
        wrong = {at for at, found in self.problems.items() if found[0].column == "age_years"}
        for at, text in enumerate(self.texts("age_band")):
            if not text:
                self.age_low[at] = self.age_high[at] = years[at]
                if np.isnan(years[at]) and at not in wrong:
                    self.refuse(at, "age_years", "nothing", "age_years or age_band, one of them")
                continue
            match = _BAND.fullmatch(text)
            low = float(match[1].replace(",", ".")) if match else np.nan
            high = (
                low + OPEN_BAND_YEARS if match and match[3] else float((match and match[2]) or low)
            )
            if not match or low > high or limits.side(low) or limits.side(high):
                self.refuse(at, "age_band", text, _rule(text, f"{BAND_RULE}; {band.rule}"))
            elif not np.isnan(years[at]):
                self.refuse(at, "age_band", text, "age_years or age_band, one of them")
            self.age_low[at], self.age_high[at] = low, high

    def between_fields(self) -> None:
        """Refuse what breaks the rules of `Case` between fields."""
        screen, top = self.numbers["screen_distance_cm"], self.numbers["screen_top_cm"]
        ratio = np.nan_to_num(self.numbers["screen_aspect"], nan=min(usual_aspects().values()))
        half = sides_cm(diagonal_in=self.numbers["screen_in"], ratio=ratio)[1] / 2
        for name, reach, up in (
            ("screen_distance_cm", case.STEEPEST * screen, np.abs(top)),
            ("screen_distance_cm", screen, np.abs(top - half)),
            (
                "paper_distance_cm",
                case.STEEPEST * self.numbers["paper_distance_cm"],
                np.abs(self.numbers["paper_centre_cm"]),
            ),
        ):
            for at in np.flatnonzero(up > reach):
                shown = f"{self.numbers[name][at]:g}"
                self.refuse(int(at), name, shown, "clearly more than the height to the target")
        for at in np.flatnonzero(np.isnan(top) & (half > screen)):
            self.beyond(
                int(at),
                "screen_distance_cm",
                screen[at],
                "at least half the height of the screen",
                Limits(half[at], unit="cm"),
            )
        day, most_h = _day_h(self.numbers), Limits(high=24.0, unit="h")
        for at in np.flatnonzero(day > 24.0):
            self.beyond(int(at), "hours_screen", day[at], "24 h at most in all", most_h)
        height, depth = self.numbers["fitting_height_mm"], Limits(high=LENS_DEPTH_MM, unit="mm")
        for at in np.flatnonzero(height >= LENS_DEPTH_MM):
            rule = f"less than the lens depth, {LENS_DEPTH_MM:g} mm"
            self.beyond(int(at), "fitting_height_mm", height[at], rule, replace(depth, below=True))

    def beyond(self, at: int, column: str, number: float, rule: str, limits: Limits) -> None:
        """Leave a row out whose number, as read, is beyond its limits."""
        side = limits.side(number)
        self.refuse(at, column, f"{number:g}", rule, side=side, unit=limits.unit)

    def rows(self) -> Rows:
        good = np.array([at for at in range(self.count) if at not in self.problems], dtype=np.intp)
        listed = tuple(one for at in sorted(self.problems) for one in self.problems[at])
        whole = Rows(
            row=self.number,
            ref=tuple(self.words["ref"]),
            values=self.numbers,
            age_low=self.age_low,
            age_high=self.age_high,
            screen_kind=np.array(self.words["screen_kind"], dtype=np.str_),
            present_kind=np.array(self.words["present_kind"], dtype=np.str_),
            problems=(),
        )
        good_rows = whole.take(good)
        refused = {(one.row, one.column) for one in listed}
        found = (*_doubts(whole), *self.doubted_ages(whole), *self.doubted_rows())
        doubts = tuple(one for one in found if (one.row, one.column) not in refused)
        return Rows(**{**vars(good_rows), "problems": listed, "doubts": doubts})

    def doubted_ages(self, rows: Rows) -> Iterator[Problem]:
        """Yield unusual ages and bands; the young are counted apart, so no age of theirs is."""
        usual, bands = usual_range("wearer", "age_years"), self.texts("age_band")
        unusual = (rows.age_low < usual.low) | (rows.age_high > usual.high)
        for at in np.flatnonzero(unusual & ~rows.young):
            years = f"{rows.age_low[at]:g}"
            column, shown = ("age_band", bands[at]) if bands[at] else ("age_years", years)
            yield Problem(int(rows.row[at]), column, shown, usual.words, is_doubt=True)

    def doubted_rows(self) -> Iterator[Problem]:
        """Yield pseudonyms that stand twice, and days of no hours at all."""
        for place, first in enumerate(self.texts(TWICE)):
            if first:
                rule = f"each ref once; it is also in row {first}, and both are counted"
                yield Problem(int(self.number[place]), "ref", self.words["ref"][place], rule, True)
        rule = "hours of a working day; with 0 in all a person is counted and gains nothing"
        for at in np.flatnonzero(_day_h(self.numbers) == 0.0):
            yield Problem(int(self.number[at]), "hours_screen", "0", rule, is_doubt=True)


def _day_h(values: Mapping[str, Floats]) -> Floats:
    day: Floats = np.sum([values[name] for name in HOURS], axis=0)
    return day


def _rule(text: str, allowed: str) -> str:
    return FORMULA_RULE if text.startswith("=") else allowed


def _doubts(rows: Rows) -> Iterator[Problem]:
    """Yield the values outside their usual range: those a case would be flagged for."""
    parts = {"laptop": "laptop", "monitor": "screen"}
    screens = [parts.get(kind, "") for kind in rows.screen_kind.tolist()]
    fixed = {
        "paper_distance_cm": "page",
        "people_distance_cm": "people",
        "fitting_height_mm": "fit",
        "sphere_d": "eye",
    }
    for column in columns().values():
        if column.kind != "number" or not column.case_field:
            continue
        part = "screen" if column.id.startswith(("screen_", "text_")) else fixed.get(column.id)
        if part is None:
            continue
        field = column.case_field.split(".")[1]
        values = rows.values[column.id]
        for at in np.flatnonzero(~np.isnan(values)):
            usual = usual_range(screens[at] if part == "screen" else part, field)
            if not usual.holds(values[at]):
                shown = f"{values[at]:g}"
                yield Problem(int(rows.row[at]), column.id, shown, usual.words, is_doubt=True)
