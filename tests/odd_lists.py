"""The same four invented people, saved as spreadsheet programs and people save them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from datetime import time, timedelta
from html import escape
from typing import Any

import xlsxwriter

Cell = str | float | int | time | timedelta | None

NAMES = ("ref", "age_band", "screen_kind", "screen_in", "hours_screen", "present_kind")
PEOPLE = (
    ("L-1", "54", "monitor", "24", "7", "general_progressive"),
    ("L-2", "50-54", "laptop", "14", "6.5", "sv_near"),
    ("L-3", "60+", "monitor", "27", "0", "unaided"),
    ("L-4", "61", "monitor", "24", "7.5", ""),
)
"""What every good file here comes to, whatever stands in it."""


class Formula(str):
    """A cell that a spreadsheet works out."""


def xlsx(sheets: Mapping[str, Sequence[Sequence[Cell | Formula]]]) -> bytes:
    """A file of these sheets, as xlsxwriter saves it."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_numbers": False}) as book:
        clock = book.add_format({"num_format": "hh:mm"})
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, cells in enumerate(rows):
                for at, cell in enumerate(cells):
                    if isinstance(cell, Formula):
                        sheet.write_formula(number, at, cell, None, 24)
                    elif isinstance(cell, time | timedelta):
                        sheet.write_datetime(number, at, cell, clock)
                    elif cell is not None:
                        sheet.write(number, at, cell)
    return out.getvalue()


def ods(rows: Sequence[Sequence[Cell | Formula]], *, tail: str = "") -> bytes:
    """A file of one sheet, with the long tail of blank cells that office programs write."""
    lines = "".join(
        f"<table:table-row>{''.join(map(_ods_cell, cells))}"
        '<table:table-cell table:number-columns-repeated="16370"/></table:table-row>'
        for cells in rows
    )
    blank = (
        '<table:table-row table:number-rows-repeated="1048000">'
        '<table:table-cell table:number-columns-repeated="16384"/></table:table-row>'
    )
    return ods_of(f'<table:table table:name="Sheet1">{lines}{tail or blank}</table:table>')


def ods_of(tables: str) -> bytes:
    """A file whose content.xml has these tables."""
    spaces = " ".join(
        f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{long}:1.0"'
        for short, long in (("office", "office"), ("table", "table"), ("text", "text"))
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces}>'
        f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    return packed({"mimetype": kind, "content.xml": content, "META-INF/manifest.xml": ""})


def _ods_cell(cell: Cell | Formula) -> str:
    if cell is None:
        return "<table:table-cell/>"
    if isinstance(cell, Formula):
        how = f'table:formula="of:{escape(cell)}" office:value-type="float" office:value="24"'
    elif isinstance(cell, time):
        how = (
            f'office:value-type="time" office:time-value="PT{cell.hour:02d}H{cell.minute:02d}M00S"'
        )
    elif isinstance(cell, int | float):
        how = f'office:value-type="float" office:value="{cell}"'
    else:
        how = 'office:value-type="string"'
    return f"<table:table-cell {how}><text:p>{escape(str(cell))}</text:p></table:table-cell>"


def packed(parts: Mapping[str, str | bytes]) -> bytes:
    """An archive of these parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def with_part(content: bytes, name: str, part: Callable[[bytes], bytes]) -> bytes:
    """An archive with one part changed, or added."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts: dict[str, str | bytes] = {one: archive.read(one) for one in archive.namelist()}
    return packed({**parts, name: part(bytes(parts.get(name, b"")))})


def csv_of(rows: Sequence[Sequence[str]], *, by: str = ",", ends: str = "\r\n") -> str:
    """Rows as text; cells that need quotes have them already."""
    return "".join(by.join(cells) + ends for cells in rows)


def _typed(*more: Sequence[Any]) -> list[list[Any]]:
    """The people as they stand in a spreadsheet: numbers as numbers, with columns before."""
    return [
        ["L-1", 54, "Monitor", 24, "7h", "progressive", *(one[0] for one in more)],
        ["L-2", "50 to 54", "Laptop", '14"', 6.5, "reading glasses", *(one[1] for one in more)],
        ["L-3", "60 and over", "monitor", "27 in", 0, "none", *(one[2] for one in more)],
        ["L-4", "61 years", "desktop", 24, "7:30", "n/a", *(one[3] for one in more)],
    ]


HEADS = ["Ref", "Age", "Screen kind", "Screen size (in)", "Hours at screen", "Present glasses"]
_TEXT = [[str(cell) for cell in row] for row in _typed()]
_COMMAS = [[cell.replace(".", ",").replace('14"', '"14"""') for cell in row] for row in _TEXT]
_QUOTED = [[cell.replace('14"', '"14"""') for cell in row] for row in _TEXT]
_DEPARTMENT = ("Sales", "Dépôt", "", "Sales")

GOOD: dict[str, bytes] = {
    "xlsx, a title, another sheet, another column": xlsx(
        {
            "Notes": [["Filled in by the works council"]],
            "People": [["Our team"], [], [*HEADS, "Department"], *_typed(_DEPARTMENT)],
        }
    ),
    "xlsx, numbers as text, capitals": xlsx({"S": [[one.upper() for one in HEADS], *_TEXT]}),
    "ods, a blank row, another column first": ods(
        [
            ["Department", *HEADS],
            [],
            *([of, *row] for of, row in zip(_DEPARTMENT, _typed(), strict=True)),
        ]
    ),
    "csv, Windows-1252, semicolons, decimal commas": (
        "Équipe été;;;;;\r\n" + csv_of([["Réf", *HEADS[1:]], *_COMMAS], by=";")
    ).encode("cp1252"),
    "csv, UTF-16 with tabs": csv_of([HEADS, *_QUOTED], by="\t").encode("utf-16"),
    "csv, UTF-16 without a mark": csv_of([HEADS, *_QUOTED]).encode("utf-16-le"),
    "csv, UTF-8 with a mark and a line for the separator": (
        "sep=;\r\n" + csv_of([HEADS, *_QUOTED], by=";")
    ).encode("utf-8-sig"),
    "csv, tabs, names with spaces for _": csv_of(
        [
            [" ref ", "AGE BAND", "Screen_Kind", "screen in", "HOURS SCREEN", "present kind"],
            *_QUOTED,
        ],
        by="\t",
        ends="\n",
    ).encode(),
    "csv, blank cells behind": csv_of(
        [[*HEADS, "", ""], *([*row, "", ""] for row in _QUOTED), [""] * 8]
    ).encode(),
    "csv, last blank cells left out": csv_of([HEADS, *_QUOTED[:3], [*_QUOTED[3][:5]]]).encode(),
    "csv, returns alone, a name on two lines": csv_of(
        [[*HEADS[:3], '"Screen\rsize"', *HEADS[4:]], *_QUOTED], ends="\r"
    ).encode(),
    "csv, numbers with an exponent": csv_of([HEADS, *_QUOTED])
    .replace(",24,", ",2.4E+01,")
    .encode(),
}
"""Each comes to NAMES and PEOPLE."""
