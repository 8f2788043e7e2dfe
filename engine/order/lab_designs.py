"""A laboratory's own list of designs, filled in by the user from what the laboratory states.

No list is shipped: references, degressions and minimum heights are each laboratory's own. The
template is a header; its columns stand in lab_list_columns.csv.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NoReturn, TypeVar

from pydantic import TypeAdapter

from engine import tables
from engine.case.model import NAME_PATTERN, NAME_RULE
from engine.errors import InputRefusedError, Limits
from engine.lenses.kinds import KINDS
from engine.units import parse_number

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

Reference = Literal["pupil_centre", "lower_limbus", "box_centre"]
Verification = Literal["near", "top", "distance", "on_order"]
_REFERENCE: TypeAdapter[Reference] = TypeAdapter(Reference)
_VERIFICATION: TypeAdapter[Verification] = TypeAdapter(Verification)
Read = TypeVar("Read")
MOST_ROWS = 2000
MOST_CHARACTERS = 1_000_000
UTF8 = "a whole text file, saved as CSV in UTF-8"
_NAME = re.compile(NAME_PATTERN)


@dataclass(frozen=True)
class LabDesign:
    """One design as its laboratory states it."""

    design: str
    kind: str
    degressions_d: tuple[float, ...]
    reference: Reference
    minimum_height_mm: float
    verification_power: Verification


@dataclass(frozen=True)
class RowError:
    """A cell that cannot be used: line of the file (the header is 1), column, value, rule."""

    row: int
    column: str
    value: str
    rule: str


@dataclass(frozen=True)
class LabList:
    """The usable designs and everything that is wrong with the rest."""

    designs: tuple[LabDesign, ...]
    errors: tuple[RowError, ...]


def template_csv() -> str:
    """Return the header a user fills.

    >>> template_csv().strip()
    'design,kind,degressions_d,reference,minimum_height_mm,verification_power'
    """
    return ",".join(tables.by_id("lab_list_columns")) + "\n"


def read_lab_file(content: bytes) -> LabList:
    """Read a list from the bytes of a file; see `read_lab_list`.

    Raises
        InputRefusedError: it is not text in UTF-8, or not such a list.

    >>> read_lab_file(template_csv().encode("utf-8-sig"))
    LabList(designs=(), errors=())
    """
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        _refuse("text in another encoding, or cut off", UTF8)
    return read_lab_list(text)


def read_lab_list(text: str) -> LabList:
    """Read a list from CSV text; a row with an error is left out and told.

    Raises
        InputRefusedError: it is not a table with the template's columns, or far too long.
    """
    columns = list(tables.by_id("lab_list_columns"))
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_CHARACTERS:
        _refuse_many(len(text), Limits(high=MOST_CHARACTERS, unit="characters"))
    if "\0" in text:
        _refuse("a file that is no text", UTF8)
    if not text.strip():
        _refuse("an empty file", "the header of the template and rows under it")
    mark = ";" if ";" in text.lstrip().splitlines()[0] else ","
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True))
    except csv.Error:
        _refuse("a broken table, or one that was cut off", "cells separated by commas, in whole")
    header = [cell.strip() for cell in rows[0]]
    if sorted(header) != sorted(columns):
        raise InputRefusedError(field="header", value=", ".join(header), allowed=", ".join(columns))
    if len(rows) > MOST_ROWS:
        _refuse_many(len(rows), Limits(high=MOST_ROWS, unit="rows"))
    return _read_rows(header, rows[1:])


def _refuse_many(count: int, limits: Limits) -> NoReturn:
    raise InputRefusedError(
        field="lab list",
        value=f"{count} {limits.unit}",
        allowed=f"at most {limits.high} {limits.unit}",
        limits=limits,
        number=count,
    )


def _refuse(found: str, allowed: str) -> NoReturn:
    raise InputRefusedError(field="lab list", value=found, allowed=allowed) from None


def _read_rows(header: list[str], rows: list[list[str]]) -> LabList:
    designs: list[LabDesign] = []
    errors: list[RowError] = []
    for number, cells in enumerate(rows, start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) != len(header):
            rule = f"{len(header)} cells, one for each column"
            errors.append(RowError(number, "row", str(len(cells)), rule))
            continue
        row = {name: cell.strip() for name, cell in zip(header, cells, strict=True)}
        found, wrong = _read_row(row, number, {one.design for one in designs})
        errors += wrong
        if found is not None:
            designs.append(found)
    return LabList(tuple(designs), tuple(errors))


def _read_row(
    row: Mapping[str, str], number: int, known: set[str]
) -> tuple[LabDesign | None, list[RowError]]:
    rules = tables.by_id("lab_list_columns")
    errors: list[RowError] = []

    def cell(column: str, read: Callable[[str], Read]) -> Read | None:
        try:
            return read(row[column])
        except ValueError:
            errors.append(RowError(number, column, row[column], rules[column]["rule"]))
            return None

    name = cell("design", lambda text: _name(text, known))
    kind = cell("kind", _kind)
    degressions = cell("degressions_d", lambda text: _degressions(text, kind))
    reference = cell("reference", _REFERENCE.validate_python)
    height = cell("minimum_height_mm", _height)
    power = cell("verification_power", _VERIFICATION.validate_python)
    if (
        name is None
        or kind is None
        or degressions is None
        or reference is None
        or height is None
        or power is None
    ):
        return None, errors
    return LabDesign(name, kind, degressions, reference, height, power), errors


def _name(text: str, known: set[str]) -> str:
    if not _NAME.fullmatch(text) or text in known:
        raise ValueError(NAME_RULE)
    return text


def _kind(text: str) -> str:
    if text not in KINDS or not KINDS[text].is_lens:
        raise ValueError(text)
    return text


def _degressions(text: str, kind: str | None) -> tuple[float, ...]:
    found = tuple(parse_number(word, field="degressions_d") for word in text.split())
    wrong_for_kind = kind is not None and KINDS[kind].has_degression != bool(found)
    if wrong_for_kind or not all(0.25 <= one <= 4.0 for one in found):
        raise ValueError(text)
    return found


def _height(text: str) -> float:
    height_mm = parse_number(text, field="minimum_height_mm")
    if not 6.0 <= height_mm <= 50.0:
        raise ValueError(text)
    return height_mm
