"""Read a list of people from a file as people have it: CSV, .xlsx or .ods.

Headings and cells are read by `engine.roster.everyday`; nothing that is passed over goes unsaid.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, NoReturn

import pandas as pd

from engine.errors import InputRefusedError, Limits
from engine.roster.columns import Column, columns
from engine.roster.everyday import column_of, plain_cell
from engine.roster.rows import MARKS
from engine.roster.spreadsheet import OLD_START, ZIP_START, read_sheets
from engine.roster.text_table import SEPARATORS, encoding_of, text_rows
from engine.wording import counted, joined

if TYPE_CHECKING:
    from typing import BinaryIO

Row = tuple[int, list[str]]
Table = tuple[str, list[Row], Callable[[], Iterator[Row]]]
"""Name, first rows, and what begins to read all of them."""

MOST_PACKED = 25 * 2**20
"""Bytes of an .xlsx or .ods file: they are unpacked in memory, while CSV streams."""
HEADER_WITHIN = 20
"""Rows in which the one with the names of the columns is looked for; titles may stand above it."""
MOST_REFS = 200_000
"""Rows in which a pseudonym that stands twice is noticed: they are kept in memory."""
_SHOWN, _LONGEST = 5, 40
_NO_NAME = "(without a name)"
_KNOWN_TEXTS = 10_000
"""Different texts of a column that are remembered, so that a long file needs no more memory."""
_COUNT = Column("", "number", False, (), "", Limits(), "", "")
"""How the cells of a column are read that is none of a roster, such as numbers of people."""


@dataclass(frozen=True)
class Listed:
    """A list whose header was found.

    Attributes:
        names: the columns that are used, in the order of the file.
        notes: sentences on what is not used.
    """

    names: tuple[str, ...]
    notes: tuple[str, ...]
    _found: _Header
    _rows: Iterator[Row]

    def frames(self, *, rows: int) -> Iterator[pd.DataFrame]:
        """Yield so many people at a time as texts; the index is the row a spreadsheet shows.

        Raises
            InputRefusedError: the file breaks off.
        """
        read = _Cells(self._found)
        while lines := list(islice(read.lines(self._rows), rows)):
            index = pd.Index([number for number, _ in lines], dtype="int64")
            cells = [cells for _, cells in lines]
            yield pd.DataFrame(
                cells, columns=pd.Index([*self.names, *MARKS]), index=index, dtype=object
            )


def read_list(file: BinaryIO, *, field: str, also: Iterable[str] = ()) -> Listed:
    """Find the header of a file and what of it is used; the rows are read by `Listed.frames`.

    field: named in a refusal. also: columns that are read beside those of a roster.

    Raises
        InputRefusedError: not a list of people, damaged, or too large.
    """
    known = {**columns(), **dict.fromkeys(also, _COUNT)}
    file.seek(0)
    start = file.read(len(ZIP_START))
    packed = start in (ZIP_START, OLD_START)
    tables = list(_sheets(file, field) if packed else _texts(file, field))
    headers = [_header(first, known) for _, first, _ in tables]
    best = max(range(len(tables)), key=lambda at: _rank(headers[at]), default=None)
    header = None if best is None else headers[best]
    if best is None or header is None:
        _refuse_header(tables[0][1] if tables else [], field)
    header.check()
    name, _, rows = tables[best]
    others = [one for one, first, _ in tables if packed and one != name and any(_filled(first))]
    notes = [*header.notes, *_not_used("sheet", others)]
    used = tuple(header.used.values())
    return Listed(used, tuple(notes), header, (row for row in rows() if row[0] > header.row))


@dataclass(frozen=True)
class _Header:
    """The row with the names of the columns.

    Attributes:
        row: its number. width: cells in it. used: column by place. unknown: other names.
        twice: a column that two of its cells mean, or "". above: filled rows over it.
    """

    row: int
    width: int
    used: dict[int, str]
    unknown: tuple[str, ...]
    twice: str
    above: int
    known: dict[str, Column]

    @property
    def missing(self) -> list[str]:
        """Return the columns that must be there."""
        held = self.used.values()
        return [one.id for one in columns().values() if one.needed and one.id not in held]

    @property
    def notes(self) -> list[str]:
        """Return what is not used, in sentences."""
        rows = f"{counted(self.above, 'row')} above the names of the columns"
        above = [f"Not used: {rows}."] if self.above else []
        return [*above, *_not_used("column", self.unknown)]

    def check(self) -> None:
        """Refuse a header in which a column is missing or stands twice.

        Raises
            InputRefusedError: names the columns.
        """
        if self.twice:
            found, allowed = f"a second column {self.twice}", "each column once"
        elif self.missing:
            found, allowed = f"no column {self.missing[0]}", _names()
        else:
            return
        raise InputRefusedError(field="header", value=found, allowed=allowed)


def _rank(header: _Header | None) -> tuple[bool, int]:
    """Return how well a header fits: complete, then by the columns in it."""
    return (False, 0) if header is None else (not header.missing, len(header.used))


def _header(first: list[Row], known: dict[str, Column]) -> _Header | None:
    """Return the row that fits a header best, None where no cell names a column."""
    best: _Header | None = None
    above = 0
    for at_row, (number, cells) in enumerate(first):
        means = [column_of(cell) for cell in cells]
        used = {at: name for at, name in enumerate(means) if name in known}
        names = list(used.values())
        twice = next((name for name in names if names.count(name) > 1), "")
        below = [row for _, row in first[at_row + 1 :]]
        unknown = tuple(
            cell.strip() or _NO_NAME
            for at, cell in enumerate(cells)
            if at not in used and any("".join(row[at : at + 1]).strip() for row in (cells, *below))
        )
        found = _Header(number, len(cells), used, unknown, twice, above, known)
        if used and _rank(found) > _rank(best):
            best = found
        above += any(cell.strip() for cell in cells)
    return best


def _refuse_header(first: list[Row], field: str) -> NoReturn:
    """Refuse a table in which nothing names a column."""
    if not any(_filled(first)):
        allowed = "names of columns and at least one row"
        raise InputRefusedError(field=field, value="an empty file", allowed=allowed)
    raise InputRefusedError(field="header", value="no row with names of columns", allowed=_names())


def _names() -> str:
    needed = [one.id for one in columns().values() if one.needed]
    return f"columns {joined(needed)}; capitals and spaces do not matter"


def _filled(rows: Iterable[Row]) -> Iterator[list[str]]:
    return (cells for _, cells in rows if any(cell.strip() for cell in cells))


def _not_used(what: str, names: Iterable[str]) -> list[str]:
    """Return a sentence that names what is passed over."""
    shown = [f"“{name[:_LONGEST]}”" for name in names]
    if not shown:
        return []
    more = [f"{len(shown) - _SHOWN} more"] if len(shown) > _SHOWN else []
    named = joined([*shown[:_SHOWN], *more])
    return [f"Not used: {what}{'s' if len(shown) > 1 else ''} {named}."]


def _sheets(file: BinaryIO, field: str) -> Iterator[Table]:
    """Yield each sheet of a spreadsheet: its name, first rows, and all of them."""
    file.seek(0)
    content = file.read(MOST_PACKED + 1)
    if len(content) > MOST_PACKED:
        size = f"a spreadsheet of more than {MOST_PACKED >> 20} MB"
        raise InputRefusedError(field=field, value=size, allowed="a smaller one, or CSV")
    for sheet in read_sheets(content, field=field):
        yield sheet.name, sheet.rows[:HEADER_WITHIN], sheet.rows.__iter__


def _texts(file: BinaryIO, field: str) -> Iterator[Table]:
    """Yield a text as each separator parts it."""
    encoding = encoding_of(file, field=field)
    for separator in SEPARATORS:

        def rows(separator: str = separator) -> Iterator[Row]:
            return text_rows(file, encoding=encoding, separator=separator, field=field)

        first: list[Row] = []
        with suppress(InputRefusedError):  # said when the rows are read, if this is the separator
            first.extend(islice(rows(), HEADER_WITHIN))
        yield separator, first, rows


class _Cells:
    """Rows of a file as lines of a frame."""

    def __init__(self, header: _Header) -> None:
        self.header = header
        self.places = list(header.used.items())
        self.read: list[dict[str, str]] = [{} for _ in self.places]
        self.ref = next((at for at, (_, name) in enumerate(self.places) if name == "ref"), None)
        self.seen: dict[str, int] = {}
        needed = (1 + place for place, name in self.places if header.known[name].needed)
        self.needed = max(needed, default=0)

    def lines(self, rows: Iterator[Row]) -> Iterator[Row]:
        """Yield rows with the cells of the columns used, then those of MARKS."""
        for number, cells in rows:
            if not any(cell.strip() for cell in cells):
                continue
            line = [
                self.cell(at, cells[place]) if place < len(cells) else ""
                for at, (place, _) in enumerate(self.places)
            ]
            yield number, [*line, self.fits(cells), self.twice(line, number)]

    def cell(self, at: int, text: str) -> str:
        """Return a cell in plain words; equal texts are read once."""
        text = text.strip()
        known = self.read[at]
        if text in known:
            return known[text]
        found = plain_cell(text, column=self.header.known[self.places[at][1]])
        if len(known) < _KNOWN_TEXTS:
            known[text] = found
        return found

    def fits(self, cells: list[str]) -> str:
        """Return "" where no cell is missing that must be there, and none is too many."""
        extra = any(cell.strip() for cell in cells[self.header.width :])
        is_short = len(cells) < self.needed
        return f"{len(cells)} of {self.header.width} cells" if extra or is_short else ""

    def twice(self, line: list[str], number: int) -> str:
        """Return the row in which the pseudonym of a line stood first, "" where it is new."""
        ref = "" if self.ref is None else line[self.ref]
        if not ref:
            return ""
        if ref in self.seen:
            return str(self.seen[ref])
        if len(self.seen) < MOST_REFS:
            self.seen[ref] = number
        return ""
