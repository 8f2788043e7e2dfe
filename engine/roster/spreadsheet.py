"""Read the sheets of .xlsx and .ods files as rows of text, once they are known to be harmless.

Nothing of a file runs: files with macros are refused, cells with a formula come out as FORMULA,
which no column takes. What is too large is refused before it is unpacked: by the sizes that the
file states, which are then enforced, and by counting cells and letters before they are loaded.
"""

from __future__ import annotations

import io
import math
import zipfile
import zlib
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from importlib import import_module
from typing import TYPE_CHECKING, Any, NoReturn
from xml.parsers import expat

from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from collections.abc import Mapping

ZIP_START, OLD_START = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
"""First bytes of the files read here, and of those of an older format or with a password."""
FORMULA = "=(formula)"
EXTRA = 'the extra for spreadsheets (pip install ".[sheets]"), or the list saved as CSV'
MOST_PARTS = 500
MOST_UNPACKED = 64 * 2**20
MOST_CELLS = 3_000_000
"""Of the smallest rectangle that holds a sheet: 100,000 rows of 30 columns."""
MOST_LETTERS = 64 * 2**20
_READ = (".xml", ".rels", "mimetype")
_MACROS = ("vbaproject.bin", "xl/macrosheets/", "basic/", "scripts/")
_SAVE = "an .xlsx or .ods file without macros or a password, or CSV"
_SMALLER = "a smaller file: one sheet with the list alone, or CSV"
_DAY_0 = datetime(1899, 12, 31)
"""Day 0 of spreadsheets: a time of more than 24 hours comes as a day after it."""


@dataclass(frozen=True)
class Sheet:
    """One visible sheet: its name and its rows, each with the number that the spreadsheet shows."""

    name: str
    rows: list[tuple[int, list[str]]]


def read_sheets(content: bytes, *, field: str) -> list[Sheet]:
    """Return the visible sheets of a file.

    Raises
        InputRefusedError: not such a file, damaged, with macros or a password, or too large; or the
            extra for spreadsheets is not installed.
    """
    if content.startswith(OLD_START):
        found = "an old .xls file, or one with a password"
        raise InputRefusedError(field=field, value=found, allowed=_SAVE)
    try:
        calamine = import_module("python_calamine")
    except ImportError:
        raise InputRefusedError(field=field, value="a spreadsheet", allowed=EXTRA) from None
    parts = _unpacked(content, field)
    try:
        scanned = _scan_ods(parts) if "content.xml" in parts else _scan_xlsx(parts)
        book = calamine.CalamineWorkbook.from_object(io.BytesIO(_packed(parts)))
        shown = [
            one.name
            for one in book.sheets_metadata
            if one.visible == calamine.SheetVisibleEnum.Visible and one.name in scanned
        ]
        return [
            Sheet(name, _texts(book.get_sheet_by_name(name), scanned[name].formulas))
            for name in shown
        ]
    except _TooLargeError:
        raise InputRefusedError(field=field, value="a huge sheet", allowed=_SMALLER) from None
    except (expat.ExpatError, LookupError, ValueError, calamine.CalamineError):
        _refuse_damaged(field)


def _refuse_damaged(field: str) -> NoReturn:
    found = "a damaged or locked spreadsheet"
    raise InputRefusedError(field=field, value=found, allowed=_SAVE) from None


def _unpacked(content: bytes, field: str) -> dict[str, bytes]:
    """Return the parts of a file that say what is in cells, each no larger than it states."""
    parts: dict[str, bytes] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            listed = packed.infolist()
            names = [one.filename for one in listed]
            _check_kind(names, field)
            wanted = [one for one in listed if one.filename.endswith(_READ)]
            size = sum(one.file_size for one in wanted)
            if len(listed) > MOST_PARTS or size > MOST_UNPACKED:
                found = f"{size / 2**20:,.0f} MB in {len(listed)} parts, unpacked"
                raise InputRefusedError(field=field, value=found, allowed=_SMALLER)
            for one in wanted:
                parts[one.filename] = packed.read(one)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError):
        _refuse_damaged(field)
    return parts


def _check_kind(names: list[str], field: str) -> None:
    """Refuse a packed file with macros, or that is no spreadsheet."""
    lower = [name.lower() for name in names]
    if any(name.endswith(_MACROS[0]) or name.startswith(_MACROS[1:]) for name in lower):
        found = "a spreadsheet with macros"
    elif "xl/workbook.xml" not in names and "content.xml" not in names:
        found = "a packed file that is no .xlsx or .ods"
    else:
        return
    raise InputRefusedError(field=field, value=found, allowed=_SAVE)


def _packed(parts: Mapping[str, bytes]) -> bytes:
    """Write the parts that were read anew, so that a reader finds no others and no other sizes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return out.getvalue()


class _TooLargeError(Exception):
    """A sheet of more cells or letters than are read."""


@dataclass
class _Scanned:
    """How far a sheet reaches, and its cells with a formula, (row, column) from 1."""

    rows: int = 0
    columns: int = 0
    letters: int = 0
    formulas: set[tuple[int, int]] = field(default_factory=set)

    def reach(self, row: int, column: int, letters: int = 0) -> None:
        """Count a cell that is not blank; refuse the sheet once it is larger than is read."""
        self.rows, self.columns = max(self.rows, row), max(self.columns, column)
        self.letters += letters
        if self.rows * self.columns > MOST_CELLS or self.letters > MOST_LETTERS:
            raise _TooLargeError


class _Scan:
    """Go through one part; subclasses say what its elements mean."""

    def __init__(self, content: bytes) -> None:
        parser = expat.ParserCreate()
        parser.buffer_text = True
        parser.StartDoctypeDeclHandler = self._refuse  # no spreadsheet declares its own entities
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self.text
        parser.Parse(content, True)

    def _refuse(self, *_: object) -> None:
        raise ValueError

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.start(name.rpartition(":")[2], attributes)

    def _end(self, name: str) -> None:
        self.end(name.rpartition(":")[2])

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """Begin an element."""

    def end(self, name: str) -> None:
        """End an element."""

    def text(self, found: str) -> None:
        """Take text between two marks."""


class _Strings(_Scan):
    """Lengths of the texts that the cells of an .xlsx share."""

    def __init__(self, content: bytes) -> None:
        self.lengths: list[int] = []
        super().__init__(content)

    def start(self, name: str, _: dict[str, str]) -> None:
        if name == "si":
            self.lengths.append(0)

    def text(self, found: str) -> None:
        if self.lengths:
            self.lengths[-1] += len(found)


class _XlsxSheet(_Scan):
    """One sheet of an .xlsx."""

    def __init__(self, content: bytes, lengths: list[int]) -> None:
        self.lengths, self.found = lengths, _Scanned()
        self.row = self.column = 0
        self.kind: str | None = None
        self.in_cell = self.in_value = False
        super().__init__(content)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "row":
            self.row, self.column = int(attributes.get("r", self.row + 1)), 0
        elif name == "c":
            self.in_cell, self.kind = True, attributes.get("t")
            at = attributes.get("r", "")
            letters = at.rstrip("0123456789")
            self.column = _column_number(letters) if letters else self.column + 1
            self.row = int(at[len(letters) :] or self.row)
        elif self.in_cell and name in ("v", "is", "f"):
            self.in_value = name == "v"
            self.found.reach(self.row, self.column)
            if name == "f":
                self.found.formulas.add((self.row, self.column))

    def end(self, name: str) -> None:
        self.in_value = False
        if name == "c":
            self.in_cell = False

    def text(self, found: str) -> None:
        if self.in_cell:
            shared = self.in_value and self.kind == "s"
            length = self.lengths[int(found)] if shared else len(found)
            self.found.reach(self.row, self.column, length)


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    if not 1 <= number <= 16_384:
        raise ValueError
    return number


class _Relations(_Scan):
    """Names of sheets, and the parts they are in."""

    def __init__(self, content: bytes) -> None:
        self.sheets: dict[str, str] = {}
        self.targets: dict[str, str] = {}
        super().__init__(content)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "sheet":
            keys = [attributes[key] for key in attributes if key.endswith(":id")]
            self.sheets[attributes["name"]] = keys[0]
        elif name == "Relationship" and attributes["Type"].endswith("/worksheet"):
            self.targets[attributes["Id"]] = attributes["Target"]


def _scan_xlsx(parts: Mapping[str, bytes]) -> dict[str, _Scanned]:
    sheets = _Relations(parts["xl/workbook.xml"]).sheets
    targets = _Relations(parts["xl/_rels/workbook.xml.rels"]).targets
    shared = parts.get("xl/sharedStrings.xml")
    lengths = _Strings(shared).lengths if shared else []
    found = {}
    for name, key in sheets.items():
        if key in targets:
            target = targets[key]
            part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
            found[name] = _XlsxSheet(parts[part], lengths).found
    return found


class _OdsSheets(_Scan):
    """All sheets of an .ods: cells and rows may stand for many."""

    def __init__(self, content: bytes) -> None:
        self.sheets: dict[str, _Scanned] = {}
        self.found = _Scanned()
        self.row = self.column = self.rows = self.times = 0
        self.cells: list[tuple[int, int]] = []
        self.letters = self.row_letters = 0
        self.has_value = self.has_formula = False
        super().__init__(content)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        if name == "table":
            self.found, self.row = _Scanned(), 0
            self.sheets[attributes["table:name"]] = self.found
        elif name == "table-row":
            self.rows = _times(attributes, "rows")
            self.column, self.cells, self.row_letters = 0, [], 0
        elif name in ("table-cell", "covered-table-cell"):
            self.times, self.letters = _times(attributes, "columns"), 0
            self.has_formula = any(key.endswith(":formula") for key in attributes)
            self.has_value = any(key.endswith(":value-type") for key in attributes)

    def end(self, name: str) -> None:
        if name in ("table-cell", "covered-table-cell"):
            if self.has_value or self.has_formula or self.letters:
                last = self.column + self.times
                self.found.reach(self.row + self.rows, last)
                self.row_letters += self.letters * self.times
                if self.has_formula:
                    self.cells.append((self.column + 1, last))
            self.column += self.times
        elif name == "table-row":
            self.found.reach(0, 0, self.row_letters * self.rows)
            self.found.formulas |= {
                (row, column)
                for first, last in self.cells
                for row in range(self.row + 1, self.row + self.rows + 1)
                for column in range(first, last + 1)
            }
            self.row += self.rows

    def text(self, found: str) -> None:
        self.letters += len(found)


def _times(attributes: Mapping[str, str], what: str) -> int:
    return int(attributes.get(f"table:number-{what}-repeated", 1))


def _scan_ods(parts: Mapping[str, bytes]) -> dict[str, _Scanned]:
    return _OdsSheets(parts["content.xml"]).sheets


def _texts(sheet: Any, formulas: set[tuple[int, int]]) -> list[tuple[int, list[str]]]:
    """Return the rows of a sheet as texts, numbered from 1."""
    rows = []
    for number, cells in enumerate(sheet.to_python(skip_empty_area=False), start=1):
        rows.append((number, [text_of(cell) for cell in cells]))
    for row, column in formulas:
        if row <= len(rows) and column <= len(rows[row - 1][1]):
            rows[row - 1][1][column - 1] = FORMULA
    return rows


def text_of(cell: object) -> str:
    """Return what is in a cell as a person would have typed it.

    >>> text_of(24.0), text_of(0.5), text_of(time(16, 9)), text_of(timedelta(hours=32, minutes=9))
    ('24', '0.5', '16:09', '32:09')
    """
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, int | float) and math.isfinite(cell):
        return f"{cell:.12g}" if cell != int(cell) else str(int(cell))
    if isinstance(cell, datetime) and abs(cell - _DAY_0) < timedelta(days=4):
        cell = cell - _DAY_0
    if isinstance(cell, timedelta):
        minutes = round(cell.total_seconds() / 60)
        return f"{minutes // 60}:{minutes % 60:02d}"
    if isinstance(cell, time):
        return f"{cell.hour}:{cell.minute:02d}"
    if isinstance(cell, datetime) and cell.time() == time():
        cell = cell.date()
    return cell.isoformat() if isinstance(cell, date) else str(cell)
