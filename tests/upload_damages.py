"""Files as they should not be: every damage of the fault tests, and what a page says of it."""

from __future__ import annotations

import json
import random
from typing import Any

from app.form import case_of_answers, questions
from engine.files.case_json import case_to_json
from engine.files.fhir import bundle, prescription_to_fhir
from engine.home.answers import answers_from
from tests.home_visits import visit_file
from tests.invented_result import invented_result
from tests.odd_lists import packed, xlsx
from tests.test_app_cases import HOME

CASE = case_of_answers.ask(questions.EXAMPLE).case
HOSTILE = '![x](http://example.invalid/a)<img src="http://example.invalid/b">'
RANDOM = random.Random(20261125).randbytes(4096)
ZIP = b"PK\x03\x04\x14\x00\x08\x00" + RANDOM
PNG = b"\x89PNG\r\n\x1a\n" + RANDOM
BROKEN_TABLE = (
    "A broken table, or one that was cut off cannot be used. Allowed: cells separated by commas"
)
NOT_TEXT = (
    "A file that is no text cannot be used. Allowed: a whole text file, saved as CSV in UTF-8"
)
NO_TABLE = "there is no text, or a damaged one. Needed: a text file saved as CSV"
BROKEN = (
    "a broken table, or one that was cut off cannot be used. "
    "Allowed: cells separated by commas, every quote"
)
NO_NAMES = (
    "there is no row with names of columns. Needed: columns screen_kind, screen_in and hours_screen"
)
OTHER_TEXT = (
    "Text in another encoding, or cut off cannot be used. Allowed: a whole text file, saved"
)
TAKEN = ""
"""Where a damage does no harm and the file is read."""


def as_json(value: Any) -> bytes:
    """A value as a file."""
    return json.dumps(value).encode()


def record(**more: Any) -> dict[str, Any]:
    """An exported record whose answer was given by another version."""
    result = json.loads(invented_result(CASE).to_json()) | {"results_version": "0"} | more
    save = {"revision": 1, "case": json.loads(case_to_json(CASE)), "result": result}
    return {"levelgaze_record": 1, "revisions": [save]}


GOOD_JSON = {
    "case": json.loads(case_to_json(CASE)),
    "record": record(),
    "prescription": prescription_to_fhir(CASE),
    "bundle": bundle(CASE),
    "visit": json.loads(visit_file(answers_from(HOME))),
}
ROWS = (
    "ref,age_years,screen_kind,screen_in,hours_screen,present_kind\n"
    "A-1,54,monitor,24,6,general_progressive\nA-2,55,laptop,14,6,\n"
)
LIST = (
    "design,kind,degressions_d,reference,minimum_height_mm,verification_power\n"
    "Invented desk,office,0.75 1.00,lower_limbus,16,on_order\n"
)


def json_damages() -> dict[str, tuple[bytes, str]]:
    """Every way a JSON file is damaged: the file, and what the page says of it."""
    whole, kind = "cannot be used. Allowed: whole JSON", "A file of another kind"
    cut = f"A damaged or cut off file, from line 1 on, {whole}"
    good, visit = as_json(GOOD_JSON["case"]), as_json(GOOD_JSON["visit"])
    encoded = "Another encoding or broken characters cannot be used. Allowed: JSON in UTF-8"
    finite = "cannot be used. Allowed: finite numbers"
    deep = "This is nested too deeply. Allowed: JSON of usual depth"
    found = {
        "empty": (b"", f"An empty file {whole}"),
        "one byte": (b"x", f"{kind} {whole}"),
        "random": (RANDOM, encoded),
        "zip": (ZIP, encoded),
        "png": (PNG, "A damaged or cut off picture cannot be used. Allowed: a whole PNG or JPEG"),
        "pdf": (b"%PDF-1.7\n1 0 obj", f"{kind} {whole}"),
        "a table": (ROWS.encode(), f"{kind} {whole}"),
        "utf-16": (good.decode().encode("utf-16"), encoded),
        "utf-16 of a visit": (visit.decode().encode("utf-16"), encoded),
        "utf-16 without a mark": (good.decode().encode("utf-16-le"), f"{kind} {whole}"),
        "utf-32": (good.decode().encode("utf-32"), encoded),
        "utf-8 with a mark": (good.decode().encode("utf-8-sig"), TAKEN),
        "latin-1": ('{"label": "café"}'.encode("latin-1"), encoded),
        "a nul inside": (good[:40] + b"\0" + good[40:], f"{kind} {whole}"),
        "a nul behind": (good + b"\0", f"{kind} {whole}"),
        "crlf": (json.dumps(GOOD_JSON["case"], indent=1).replace("\n", "\r\n").encode(), TAKEN),
        "cr": (json.dumps(GOOD_JSON["case"], indent=1).replace("\n", "\r").encode(), TAKEN),
        "brackets": (b"[" * 100_000, deep),
        "deep foreign data": (
            with_deep(GOOD_JSON["case"], "extensions"),
            "Case: this is nested too deeply",
        ),
        "digits": (good[:-1] + b',"x":' + b"9" * 5000 + b"}", f"A number out of range {finite}"),
        "400 digits": (good[:-1] + b',"x":' + b"9" * 400 + b"}", f"A number out of range {finite}"),
        "1e999": (good[:-1] + b',"x":1e999}', f"A number out of range {finite}"),
        "not a number": (good[:-1] + b',"x":NaN}', f"NaN {finite}"),
        "not a number in a visit": (visit[:-1] + b',"x":NaN}', f"NaN {finite}"),
        "infinite": (good[:-1] + b',"x":-Infinity}', f"-Infinity {finite}"),
        "a key twice": (
            good[:-1] + b',"label":"B"}',
            "Label: this is there twice. Allowed: each key",
        ),
        "a list": (b"[]", "A list cannot be used. Allowed: one JSON object"),
        "null": (b"null", "Null cannot be used. Allowed: one JSON object"),
        "another file": (b"{}", "Label: nothing is given. Needed: a value"),
        "a resource": (
            as_json({"resourceType": "Patient"}),
            "ResourceType: Patient cannot be used",
        ),
        "a long key": (
            b'{"resourceType":1,"' + b"k" * 100_000 + b'":1}',
            "ResourceType: 1 cannot be used",
        ),
        "markup as a label": (as_json({**GOOD_JSON["case"], "label": HOSTILE}), "Label: ![x](http"),
        "a formula as a label": (
            as_json({**GOOD_JSON["case"], "label": "=1+1"}),
            "Label: =1+1 cannot be used",
        ),
    }
    for name, content in GOOD_JSON.items():
        whole_file = as_json(content)
        for part in (0.01, 0.3, 0.7):
            size = max(1, int(len(whole_file) * part))
            found[f"{name} cut at {part:g}"] = (whole_file[:size], cut)
        found[f"{name} without its end"] = (whole_file[:-1], cut)
    return found


def with_deep(content: dict[str, Any], key: str) -> bytes:
    """A file with lists in lists under a key."""
    deep = b'{"x": ' + b"[" * 500 + b"]" * 500 + b"}"
    return as_json({**content, key: "HERE"}).replace(b'"HERE"', deep)


def table_damages(good: str) -> dict[str, tuple[bytes, str]]:
    """The ways of damage that both tables share."""
    plain = good.encode()
    mixed = good.replace("A-1", "Zoé").replace("Invented desk", "Pupitre é")
    return {
        "empty": (b"", "An empty file cannot be used. Allowed: "),
        "spaces": (b" \n\n", "An empty file cannot be used. Allowed: "),
        "a mark alone": (b"\xef\xbb\xbf", "An empty file cannot be used. Allowed: "),
        "one byte": (b"x", "Header: x cannot be used. Allowed: "),
        "cut in the header": (plain[:21], "cannot be used. Allowed: design"),
        "an open quote": (plain + b'"abc', BROKEN_TABLE),
        "random": (RANDOM, OTHER_TEXT),
        "zip": (ZIP, OTHER_TEXT),
        "png": (PNG, OTHER_TEXT),
        "utf-16": (good.encode("utf-16"), OTHER_TEXT),
        "utf-16 without a mark": (good.encode("utf-16-le"), NOT_TEXT),
        "utf-8 with a mark": (good.encode("utf-8-sig"), TAKEN),
        "latin-1": (mixed.encode("latin-1"), OTHER_TEXT),
        "nul": (plain[:80] + b"\0" + plain[80:], NOT_TEXT),
        "crlf": (good.replace("\n", "\r\n").encode(), TAKEN),
        "cr": (good.replace("\n", "\r").encode(), TAKEN),
        "semicolons": (good.replace(",", ";").encode(), TAKEN),
        "10,000 columns": (",".join(f"c{n}" for n in range(10_000)).encode(), "Header: c0"),
        "a row of 10,000 cells": (plain + b",".join([b"1"] * 10_000) + b"\n", "10000"),
        "a cell of 200,000 letters": (plain + b"x" * 200_000 + b",1,1,1,1,1\n", BROKEN_TABLE),
        "brackets": (b"[" * 100_000, "Header: [[[["),
        "a resource": (as_json(GOOD_JSON["prescription"]), "Header: {"),
        "a column twice": (plain.replace(b",", b",design,ref,", 1), "Header: "),
        "tabs": (good.replace(",", "\t").encode(), "Header: "),
        "a formula as header": (b"=1+1\n1\n", "Header: =1+1 cannot be used"),
        "markup as header": (
            f"{HOSTILE}\n1\n".encode(),
            "Header: ![x](http://example.invalid/a)<img",
        ),
    }


def team_damages() -> dict[str, tuple[bytes, str]]:
    """Damages of the rows of a team."""
    several = ROWS + "".join(f"A-{n},54,monitor,24,6,\n" for n in range(3, 10_010))
    accent = ROWS.replace("A-1", "Zoé")
    return table_damages(ROWS) | {
        "random": (RANDOM, NO_TABLE),
        "png": (PNG, NO_TABLE),
        "zip": (
            ZIP,
            "a damaged or locked spreadsheet cannot be used. Allowed: an .xlsx or .ods file",
        ),
        "empty": (b"", "an empty file cannot be used. Allowed: names of columns"),
        "spaces": (b" \n\n", "an empty file cannot be used. Allowed: names of columns"),
        "a mark alone": (
            b"\xef\xbb\xbf",
            "an empty file cannot be used. Allowed: names of columns",
        ),
        "one byte": (b"x", NO_NAMES),
        "cut in the header": (
            ROWS[:21].encode(),
            "there is no column screen_in. Needed: columns screen_k",
        ),
        "an open quote": (ROWS.encode() + b'"abc', BROKEN),
        "10,000 columns": (",".join(f"c{n}" for n in range(10_000)).encode(), NO_NAMES),
        "a cell of 200,000 letters": (ROWS.encode() + b"x" * 200_000 + b",1,1,1,1,1\n", BROKEN),
        "brackets": (b"[" * 100_000, NO_NAMES),
        "a resource": (as_json(GOOD_JSON["prescription"]), NO_NAMES),
        "a column twice": (
            ROWS.replace(",", ",design,ref,", 1).encode(),
            "a second column ref cannot be used. Allowed: ",
        ),
        "a formula as header": (b"=1+1\n1\n", NO_NAMES),
        "markup as header": (f"{HOSTILE}\n1\n".encode(), NO_NAMES),
        "nul": (ROWS[:80].encode() + b"\0" + ROWS[80:].encode(), NO_TABLE),
        "utf-16": (ROWS.encode("utf-16"), TAKEN),
        "utf-16 without a mark": (ROWS.encode("utf-16-le"), TAKEN),
        "latin-1": (accent.encode("latin-1"), "row 2 ref (not repeated)"),
        "a spreadsheet": (xlsx({"S": [row.split(",") for row in ROWS.splitlines()]}), TAKEN),
        "a spreadsheet with macros": (packed({"xl/vbaProject.bin": ""}), "a spreadsheet with mac"),
        "tabs": (ROWS.replace(",", "\t").encode(), TAKEN),
        "a header alone": (
            ROWS.splitlines()[0].encode(),
            "there is no row under the header. Needed: at",
        ),
        "a row without its last, blank cell": (ROWS[:-2].encode(), TAKEN),
        "a cut row": (ROWS[:-4].encode(), "row 3 whole row 4 of 6 cells"),
        "too many rows": (
            several.encode(),
            "more than 10,000 rows are too many. Allowed: 10,000",
        ),
        "a list of designs": (LIST.encode(), "there is no column screen_kind. Needed: columns"),
        "not a number": (ROWS.replace("54", "NaN").encode(), "row 2 age_years NaN"),
        "400 digits": (ROWS.replace("54", "9" * 400).encode(), "row 2 age_years 9999"),
        "formulas": (ROWS.replace("monitor", "=1+1").encode(), "row 2 screen_kind =1+1"),
        "markup": (
            ROWS.replace("monitor", HOSTILE.replace('"', "")).encode(),
            "row 2 screen_kind ![x]",
        ),
    }


def list_damages() -> dict[str, tuple[bytes, str]]:
    """Damages of a laboratory's list."""
    long = LIST + "".join(f"D{n},office,1,lower_limbus,16,near\n" for n in range(2_010))
    return table_damages(LIST) | {
        "a header alone": (LIST.splitlines()[0].encode(), "Usable designs: 0."),
        "a cut row": (LIST[:-20].encode(), "2 row 4 6 cells, one for each column"),
        "too many rows": (long.encode(), " rows are too many. Allowed: at most 2000 rows"),
        "too long": (b"x" * 1_000_001, "1000001 characters are too many. Allowed: at most 1000000"),
        "rows of a team": (ROWS.encode(), "Header: ref, age_years"),
        "not a number": (LIST.replace("16", "NaN").encode(), "2 minimum_height_mm NaN 6 to 50"),
        "400 digits": (LIST.replace("16", "9" * 400).encode(), "2 minimum_height_mm 9999"),
        "formulas": (LIST.replace("Invented", "=Inv").encode(), "2 design =Inv desk 1 to 40"),
        "markup": (
            LIST.replace("lower_limbus", HOSTILE.replace('"', "")).encode(),
            "2 reference ![x]",
        ),
    }
