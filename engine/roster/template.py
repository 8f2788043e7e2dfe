"""Give out lists to fill in: all columns, or the eight an employer may hold."""

from __future__ import annotations

import csv
import io
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

from engine import tables
from engine.errors import InputRefusedError
from engine.roster.columns import Column, columns
from engine.roster.spreadsheet import EXTRA
from engine.roster.words import word_for

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

LISTED_ROWS = 10_000
"""Rows in which a spreadsheet offers what there is to choose from."""
BANDS = ("18-39", "40-44", "45-49", "50-54", "55-59", "60+")
HEADINGS = ("Column", "What it is", "Needed, or what a blank means", "Example")
_WIDTHS = (16, 60, 60, 20)
_FIRST = (1, 0)


def template_csv() -> str:
    r"""Return the header and one invented row, as a file to fill in.

    >>> template_csv().splitlines()[0][:23]
    'ref,age_years,age_band,'
    """
    return _csv(tables.rows("roster_columns"), blank="age_band")


def employer_csv() -> str:
    r"""Return the same with the columns an employer may hold.

    >>> print(employer_csv())
    ref,age_band,screen_kind,screen_in,hours_screen,hours_paper,hours_people,present_kind
    A-017,50-54,monitor,24,6,1,0.5,progressive
    <BLANKLINE>
    """
    return _csv(_of_employer())


@cache
def employer_xlsx() -> bytes:
    """Return the employer's list as a spreadsheet: empty, with lists to choose from.

    A second sheet says what each column is.

    Raises
        InputRefusedError: the extra for spreadsheets is not installed.
    """
    try:
        xlsxwriter = import_module("xlsxwriter")
    except ImportError:
        raise InputRefusedError(field="--employer-template", value=".xlsx", allowed=EXTRA) from None
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False}) as book:
        styles = {
            "head": book.add_format({"bold": True, "bottom": 2}),
            "text": book.add_format({"num_format": "@"}),
            "wrap": book.add_format({"text_wrap": True, "valign": "top"}),
        }
        _people(book.add_worksheet("People"), styles)
        _meanings(book.add_worksheet("What goes in"), styles)
    return out.getvalue()


def meanings(known: Sequence[Mapping[str, str]]) -> list[tuple[str, str, str, str]]:
    """Return the cells under HEADINGS for rows of roster_columns.csv."""
    return [(row["id"], row["meaning"], _needed(row), row["example"]) for row in known]


def _needed(row: Mapping[str, str]) -> str:
    limits = columns()[row["id"]].rule
    said = "must be given" if row["needed"] == "yes" else f"blank: {row['when_blank']}"
    return f"{said}; {limits}" if limits else said


def _of_employer() -> list[Mapping[str, str]]:
    return [row for row in tables.rows("roster_columns") if row["employer"] == "yes"]


def _csv(known: Sequence[Mapping[str, str]], *, blank: str = "") -> str:
    """Return a header and one invented row; blank: a column left empty, since another says it."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    write.writerow(row["id"] for row in known)
    write.writerow("" if row["id"] == blank else row["example"] for row in known)
    return out.getvalue()


def _people(sheet: Any, styles: Mapping[str, Any]) -> None:
    """Write the sheet to fill in."""
    sheet.freeze_panes(*_FIRST)
    for at, row in enumerate(_of_employer()):
        column = columns()[row["id"]]
        sheet.set_column(at, at, len(column.id) + 8, None if column.unit else styles["text"])
        sheet.write_string(0, at, column.id, styles["head"])
        sheet.write_comment(0, at, row["meaning"])
        rule = _rule(column)
        if rule:
            sheet.data_validation(1, at, LISTED_ROWS, at, rule)


def _rule(column: Column) -> dict[str, Any] | None:
    """Return what a cell of a column offers or takes; ages may be typed beside the list."""
    if column.kind == "number":
        said = f"{column.id}: {column.rule}"
        return {
            "validate": "decimal",
            "criteria": "between",
            "minimum": column.limits.low,
            "maximum": column.limits.high,
            "error_message": said,
        }
    offered = [word_for(one, column=column.id) for one in column.choices]
    if column.kind == "band":
        offered = [*BANDS]
    if not offered:
        return None
    return {"validate": "list", "source": offered, "show_error": column.kind != "band"}


def _meanings(sheet: Any, styles: Mapping[str, Any]) -> None:
    """Write the sheet that explains the columns."""
    for at, (heading, width) in enumerate(zip(HEADINGS, _WIDTHS, strict=True)):
        sheet.set_column(at, at, width, styles["wrap"])
        sheet.write_string(0, at, heading, styles["head"])
    for number, cells in enumerate(meanings(_of_employer()), start=1):
        for at, cell in enumerate(cells):
            sheet.write_string(number, at, cell)
