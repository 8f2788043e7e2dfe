"""Lists of people as spreadsheet programs save them: read alike, or refused before they harm."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable
from datetime import time, timedelta
from functools import cache
from pathlib import Path

import pandas as pd
import pytest

from engine.__main__ import main
from engine.errors import InputRefusedError
from engine.roster import spreadsheet
from engine.roster.reading import Listed, read_list
from engine.roster.rows import MARKS, read_rows
from engine.roster.template import employer_csv, employer_xlsx
from tests.odd_lists import (
    GOOD,
    HEADS,
    NAMES,
    PEOPLE,
    Formula,
    csv_of,
    ods,
    ods_of,
    packed,
    with_part,
    xlsx,
)

HEADER = ["ref", "age_band", "screen_kind", "screen_in", "screen_aspect", "hours_screen"]


def listed(content: bytes) -> Listed:
    return read_list(io.BytesIO(content), field="file")


def frame_of(content: bytes) -> pd.DataFrame:
    return next(listed(content).frames(rows=100))


def refused(content: bytes) -> str:
    with pytest.raises(InputRefusedError) as refusal:
        frame_of(content)
    return f"{refusal.value.value}. {refusal.value.allowed}"


@pytest.mark.parametrize("content", list(GOOD.values()), ids=list(GOOD))
def test_the_same_people_are_read_however_they_were_saved(content: bytes) -> None:
    frame = frame_of(content)
    cells = frame[list(NAMES)].map(lambda cell: cell.replace(",", "."))
    assert [tuple(row) for row in cells.to_numpy()] == list(PEOPLE)
    found = read_rows(frame)
    assert found.problems == ()
    assert [one.column for one in found.doubts] == ["hours_screen"], "0 h in all is said"


def test_what_is_not_used_is_said_and_rows_are_numbered_as_a_spreadsheet_shows_them() -> None:
    first, second = (listed(content) for content in list(GOOD.values())[:3:2])
    assert first.notes == (
        "Not used: 1 row above the names of the columns.",
        "Not used: column “Department”.",
        "Not used: sheet “Notes”.",
    )
    assert list(next(first.frames(rows=10)).index) == [4, 5, 6, 7]
    assert second.notes == ("Not used: column “Department”.",)
    assert list(next(second.frames(rows=10)).index) == [3, 4, 5, 6], "a blank row is counted"
    without = csv_of([["", *HEADER, ""], ["x", "A", "54", "monitor", "24", "", "6", ""]]).encode()
    assert listed(without).notes == ("Not used: column “(without a name)”.",), "an empty one is not"
    many = csv_of([[*HEADS, *(f"x{n}" for n in range(9))]]).encode()
    assert listed(many).notes == ("Not used: columns “x0”, “x1”, “x2”, “x3”, “x4” and 4 more.",)


def test_a_spreadsheet_and_its_csv_have_the_same_rows() -> None:
    rows = [HEADS, *([*one] for one in PEOPLE)]
    pd.testing.assert_frame_equal(frame_of(xlsx({"S": rows})), frame_of(csv_of(rows).encode()))


@pytest.mark.parametrize(
    ("cell", "shape"),
    [
        (time(16, 9), "16:9"),
        (time(4, 3), "4:3"),
        (timedelta(hours=32, minutes=9), "32:9"),
        (969 / 1440, "16:9"),
        ("16:09", "16:9"),
        ("16:09:00", "16:9"),
        ("4:09 PM", "16:9"),
        ("0,6729", "16:9"),
        ("16 x 10", "16:10"),
        ("wide", "16:9"),
        ("0.5625", "0.5625"),
    ],
)
def test_a_screen_format_that_was_taken_for_a_time_is_one_again(
    cell: str | float | time | timedelta, shape: str
) -> None:
    row = ["A", "54", "monitor", 24, cell, 6]
    assert frame_of(xlsx({"S": [HEADER, row]}))["screen_aspect"].tolist() == [shape]
    if isinstance(cell, str | time):
        assert frame_of(ods([HEADER, row]))["screen_aspect"].tolist() == [shape]


def test_a_pseudonym_that_stands_twice_is_said_with_both_rows() -> None:
    row = ["A-1", "54", "monitor", "24", "", "6"]
    content = csv_of([HEADER, row, ["A-2", *row[1:]], row]).encode()
    found = read_rows(pd.concat(list(listed(content).frames(rows=2))))
    assert [(one.row, one.column, one.value) for one in found.doubts] == [(4, "ref", "A-1")]
    assert "also in row 2" in found.doubts[0].rule
    assert len(found.row) == 3, "both are counted"


def test_a_word_that_is_not_known_is_refused_with_the_words_that_are() -> None:
    rows = [
        [*HEADER[:5], "hours_screen", "glasses"],
        ["A", "54", "wall", 24, "", 6, "screen glasses"],
    ]
    problems = read_rows(frame_of(xlsx({"S": rows}))).problems
    assert problems[0].rule == "one of monitor, laptop"
    assert "reading glasses, progressive, office lens, bifocal" in problems[1].rule


@pytest.mark.parametrize("save", [lambda rows: xlsx({"S": rows}), ods], ids=["xlsx", "ods"])
def test_a_formula_is_refused_in_its_cell_and_never_run(save: object) -> None:
    rows = [
        HEADER,
        ["A", "54", "monitor", 24, "", 6],
        ["B", "54", "monitor", Formula("=20+4"), "", 6],
    ]
    assert callable(save)
    (problem,) = read_rows(frame_of(save(rows))).problems
    assert (problem.row, problem.column) == (3, "screen_in")
    assert problem.rule.startswith("a value: copy the cells and paste them as values")


@pytest.mark.parametrize("start", ["=1+1", "+cmd", "-cmd", "@SUM(A1)"])
def test_a_text_that_a_spreadsheet_would_run_is_no_value_anywhere(start: str) -> None:
    for at, name in enumerate(HEADER):
        row = ["A", "54", "monitor", "24", "", "6"]
        row[at] = start
        for content in (csv_of([HEADER, row]).encode(), ods([HEADER, [*row]])):
            found = read_rows(frame_of(content))
            assert [one.column for one in found.problems] == [name]


SHEET = "xl/worksheets/sheet1.xml"


@cache
def good_xlsx() -> bytes:
    return xlsx({"S": [HEADER, ["A", "54", "monitor", 24, "", 6]]})


def far(name: str) -> bytes:
    """A sheet with a second value in that cell."""
    cell = f'<row r="{name.lstrip("XFD")}"><c r="{name}"><v>1</v></c></row></sheetData>'
    return with_part(good_xlsx(), SHEET, lambda xml: xml.replace(b"</sheetData>", cell.encode()))


def lying(content: bytes) -> bytes:
    """The same archive, whose list states that a sheet unpacks to 100 bytes."""
    at = content.rindex(SHEET.encode()) - 46
    assert content[at : at + 4] == b"PK\x01\x02"
    return content[: at + 24] + struct.pack("<I", 100) + content[at + 28 :]


def shared(times: int, length: int) -> bytes:
    """A sheet in which many cells share a long text."""
    rows = [HEADER, *(["x" * length] * 6 for _ in range(times))]
    return xlsx({"S": rows})


@cache
def bomb() -> bytes:
    """A small file that would unpack to one byte more than may be unpacked."""
    return packed({"xl/workbook.xml": "", SHEET: b"0" * (spreadsheet.MOST_UNPACKED + 1)})


REPEATED = (
    '<table:table-row table:number-rows-repeated="1000000"><table:table-cell'
    ' table:number-columns-repeated="1000" office:value-type="string"/></table:table-row>'
)
ENTITY = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]>'


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (lambda: with_part(good_xlsx(), "xl/vbaProject.bin", lambda _: b"x"), "with macros"),
        (lambda: with_part(ods([HEADER]), "Basic/Standard/a.xml", lambda _: b"x"), "with macros"),
        (lambda: b"\xd0\xcf\x11\xe0" + b"\0" * 600, "an old .xls file, or one with a password"),
        (lambda: packed({"word/document.xml": "<x/>"}), "no .xlsx or .ods"),
        (lambda: packed({"xl/workbook.bin": "x"}), "no .xlsx or .ods"),
        (lambda: good_xlsx()[:-400], "damaged"),
        (lambda: good_xlsx()[:400], "damaged"),
        (lambda: with_part(good_xlsx(), SHEET, lambda xml: xml[:-40]), "damaged"),
        (lambda: with_part(good_xlsx(), SHEET, lambda xml: ENTITY + xml), "damaged"),
        (lambda: ods_of("<table:table>"), "damaged"),
        (lambda: lying(good_xlsx()), "damaged"),
        (lambda: packed({f"{n}.xml": "" for n in range(600)} | {"content.xml": ""}), "601 parts"),
        (bomb, "64 MB in 2 parts"),
        (lambda: far("XFD1048576"), "a huge sheet"),
        (lambda: shared(3000, 32_000), "a huge sheet"),
        (lambda: ods([HEADER], tail=REPEATED), "a huge sheet"),
        (lambda: xlsx({"S": [["name", "colour"], ["a", "b"]]}), "no row with names of columns"),
        (lambda: xlsx({"S": []}), "an empty file"),
        (lambda: xlsx({"S": [HEADER[:3]]}), "no column screen_in"),
        (lambda: csv_of([[*HEADER, "Screen size"]]).encode(), "a second column screen_in"),
        (lambda: b"ref;age\x81;\r\n", "no text"),
    ],
)  # fmt: skip
def test_a_file_that_is_none_is_refused_with_what_to_do(
    made: Callable[[], bytes], says: str
) -> None:
    said = refused(made())
    assert says in said
    assert len(said.split(". ", 1)[0]) <= 40, "shown whole"


def test_a_file_too_large_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    def unpacked(*_: object) -> bytes:
        raise AssertionError("unpacked")

    monkeypatch.setattr(zipfile.ZipFile, "read", unpacked)
    assert "64 MB" in refused(bomb())
    assert "more than 25 MB" in refused(b"PK\x03\x04" + b"\0" * 26 * 2**20)


def test_without_the_extra_a_spreadsheet_is_refused_with_the_way_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "python_calamine", None)
    assert 'pip install ".[sheets]"' in refused(good_xlsx())


def test_the_command_answers_a_spreadsheet_and_says_what_it_did_not_use(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, target = tmp_path / "in.xlsx", tmp_path / "out.csv"
    source.write_bytes(next(iter(GOOD.values())))
    assert main(["roster", str(source), str(target), "--draws", "1"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[1:] == [
        "Not used: column “Department”.",
        "Not used: sheet “Notes”.",
        "3 rows computed, 0 too young for an add, 1 with 0 h a day, none refused",
    ]
    answered = pd.read_csv(target, dtype=str)
    assert answered["row"].tolist() == ["4", "5", "6", "7"]
    assert answered["status"].tolist() == ["computed", "computed", "no_hours", "computed"]
    assert answered["ref"].tolist() == [one[0] for one in PEOPLE]


# --- what is given out to fill in --------------------------------------------------------------


def test_the_employers_lists_have_eight_columns_and_no_power(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names = [*HEADER[:4], "hours_screen", "hours_paper", "hours_people", "present_kind"]
    assert main(["roster", "--employer-template"]) == 0
    assert capsys.readouterr().out == employer_csv()
    frame = frame_of(employer_csv().encode())
    assert list(frame.columns) == [*names, *MARKS]
    assert read_rows(frame).problems == ()
    path = tmp_path / "list.xlsx"
    assert main(["roster", "--employer-template", str(path)]) == 0
    assert "an empty list" in capsys.readouterr().out
    found = listed(path.read_bytes())
    assert list(found.names) == names
    assert list(found.frames(rows=10)) == []
    assert main(["roster", "--employer-template", str(path)]) != 0, "nothing is written over"
    assert main(["roster", "--employer-template", "list.ods"]) == 2


def test_every_word_the_spreadsheet_offers_is_read() -> None:
    with zipfile.ZipFile(io.BytesIO(employer_xlsx())) as archive:
        xml = archive.read(SHEET).decode()
    lists = [part.split('"')[0] for part in xml.split('<formula1>"')[1:]]
    bands, screens, worn = (one.split(",") for one in lists)
    assert "progressive" in worn
    assert "none" in worn
    longest = max(map(len, (bands, screens, worn)))
    rows = [
        [bands[n % len(bands)], screens[n % len(screens)], 24, 6, worn[n % len(worn)]]
        for n in range(longest)
    ]
    found = read_rows(
        frame_of(
            xlsx({"S": [["age", "screen kind", "screen in", "hours_screen", "glasses"], *rows]})
        )
    )
    assert found.problems == ()
    assert len(set(found.present_kind)) == len(worn)
