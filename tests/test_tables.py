"""Reference tables: sources, statuses, units, ids, sentences and judgements."""

from __future__ import annotations

import ast
import csv
import re
import string
from dataclasses import fields, replace
from pathlib import Path

import pytest

from engine import tables, wording
from engine.assemble import advise
from engine.case.read import read_case
from engine.errors import TableError
from engine.examples import path_of
from engine.tables import Judgements

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "reference_tables"
NAMES = sorted(path.stem for path in FOLDER.glob("*.csv"))
WORDING = {
    "sentences", "home_choices", "home_kinds", "home_questions", "home_texts", "order_gaps",
    "protection",
}  # fmt: skip
"""Tables of our own wording: they state nothing, so they name no source."""
SOURCE_COLUMNS = {"source", "locator", "status"}
UNITS = ("cm", "mm", "in", "d", "deg", "pd", "years", "arcmin", "minutes", "h", "ratio")
UNIT_IN_HEADER = re.compile(rf"_({'|'.join(UNITS)})$")
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
NO_UNIT = {"example", "band"}
"""A column that shows how another is written, and a score, which is a name."""
KEYS = {
    "assumed_spreads": ("id", "applies_to"),
    "made_surfaces": ("id", "applies_to"),
    "roster_spreads": ("id", "applies_to"),
    "roster_words": ("applies_to", "word"),
    "home_choices": ("question", "choice"),
}
"""What stands once in a table; the id alone elsewhere."""


def header(name: str) -> list[str]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return next(csv.reader(file))


@pytest.mark.parametrize("name", NAMES)
def test_every_row_fits_and_every_id_stands_once(name: str) -> None:
    found = tables.rows(name)
    assert found, "a table has rows"
    assert len(set(header(name))) == len(header(name))
    key = KEYS.get(name, ("id",))
    keys = [tuple(row[column] for column in key) for row in found]
    assert len(set(keys)) == len(keys)
    assert all(re.fullmatch(r"[a-z0-9_.]+", row[key[0]]) for row in found)
    for row in found:
        assert all(value == value.strip() for value in row.values()), row


@pytest.mark.parametrize("name", sorted(set(NAMES) - WORDING))
def test_every_row_names_its_source_and_how_good_it_is(name: str) -> None:
    assert set(header(name)) >= SOURCE_COLUMNS
    for row in tables.rows(name):
        assert row["source"], row
        assert row["locator"], row
        assert row["status"] in tables.STATUSES, row
        if row["status"] in ("standard", "measured"):
            assert row["source"] not in ("-", "judgement of the authors"), row
            assert "no source" not in row["source"], row


@pytest.mark.parametrize("name", sorted(WORDING))
def test_a_table_of_wording_holds_no_number_that_would_need_a_source(name: str) -> None:
    assert not SOURCE_COLUMNS & set(header(name))
    for row in tables.rows(name):
        assert not any(NUMBER.fullmatch(value) for value in row.values()), row


@pytest.mark.parametrize("name", sorted(set(NAMES) - WORDING))
def test_every_number_has_its_unit_in_the_header_or_beside_it(name: str) -> None:
    for column in header(name):
        numbers = [row for row in tables.rows(name) if NUMBER.fullmatch(row[column])]
        if column in NO_UNIT | SOURCE_COLUMNS | {"id"} or UNIT_IN_HEADER.search(column):
            continue
        for row in numbers:
            assert row.get("unit"), f"{name}.csv: {column} of {row} has no unit"


def test_judgements_and_their_table_are_the_same_and_each_has_its_reason() -> None:
    table = tables.by_id("judgements")
    assert {field.name for field in fields(Judgements)} == set(table)
    for name, row in table.items():
        assert getattr(Judgements.standard(), name) == float(row["value"])
        assert len(row["reason"]) > 10, name
        assert row["unit"], name


def test_every_judgement_is_used() -> None:
    """Read as an attribute somewhere, or named as the limit of a caution."""
    read = {
        node.attr
        for folder in ("engine", "app")
        for path in (ROOT / folder).rglob("*.py")
        if path.name != "tables.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute)
    }
    limits = {part.strip() for row in tables.rows("cautions") for part in row["limit"].split(";")}
    unused = {field.name for field in fields(Judgements)} - read - limits
    assert not unused, f"changing these would change nothing: {sorted(unused)}"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("blur_limit_base_d", 0.2),
        ("pivot_ahead_mm", 20.0),
        ("comfortable_chin_up_max_deg", 12.0),
        ("window_deg", 8.0),
        ("usable_blur_ratio", 3.0),
        ("eye_turner_eye_share", 1.0),
        ("comfortable_head_turn_deg", 0.0),
        ("usable_fraction", 0.1),
    ],
)
def test_a_changed_judgement_changes_the_answer(name: str, value: float) -> None:
    """Told on the case of the early presbyope, who has accommodation and a frame to spare."""
    case = read_case(path_of("early_presbyope"))
    if name == "usable_fraction":
        case = case.model_copy(
            update={"wearer": case.wearer.model_copy(update={"amplitude_d": 3.0})}
        )
    changed = replace(Judgements.standard(), **{name: value})
    assert advise(case, judgements=changed).options != advise(case).options


# --- sentences -------------------------------------------------------------------------------


def _sentence_calls() -> dict[str, set[str]]:
    """Every call told("id", name=...) or say("id", name=...) with the values it gives by name."""
    found: dict[str, set[str]] = {}
    for path in (*(ROOT / "engine").rglob("*.py"), *(ROOT / "app").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(node, "func", None)
            called = getattr(name, "id", getattr(name, "attr", ""))
            if isinstance(node, ast.Call) and called in ("told", "say") and node.args:
                first = node.args[0]
                if isinstance(first, ast.Constant) and first.value in tables.by_id("sentences"):
                    values = {keyword.arg or "**" for keyword in node.keywords}
                    found.setdefault(str(first.value), set()).update(values)
    return found


def _values_named(identity: str) -> tuple[str, ...]:
    """Return the names of the values a sentence needs, in order of use."""
    parts = string.Formatter().parse(tables.by_id("sentences")[identity]["text"])
    return tuple(name.split(".")[0].split("[")[0] for _, name, _, _ in parts if name)


def test_every_sentence_is_called_with_the_values_it_names() -> None:
    calls = _sentence_calls()
    assert len(calls) > 40
    for identity, given in calls.items():
        needed = set(_values_named(identity))
        assert "**" in given or needed <= given, (identity, needed - given)


def test_every_sentence_is_said_somewhere() -> None:
    code = "".join(
        path.read_text(encoding="utf-8")
        for part in ("app", "engine")
        for path in (ROOT / part).rglob("*.py")
    )
    for row in (*tables.rows("sentences"), *tables.rows("order_gaps")):
        begins = row["id"].split("_")[0] + "_"
        named = any(f"{quote}{row['id']}{quote}" in code for quote in "\"'")
        assert named or f'f"{begins}' + "{" in code, row["id"]


CLAUSES = ("because_", "excluded_", "topic_", "limit_", "judgement_")
"""How the ids of what is put inside a sentence begin."""


@pytest.mark.parametrize("row", tables.rows("sentences"), ids=lambda row: row["id"])
def test_a_sentence_is_filled_from_named_values_and_ends(row: dict[str, str]) -> None:
    identity = row["id"]
    assert row["audience"] in ("optician", "coordinator"), "a wearer's sentences have their own"
    names = _values_named(identity)
    assert all(name.isidentifier() for name in names), "values are named, never numbered"
    filled = wording.say(identity, **dict.fromkeys(names, "7"))
    assert "{" not in filled
    is_clause = identity.startswith(CLAUSES)
    assert filled.endswith((".", "?", ".)", ":")) is not is_clause, "only a clause has no end"
    for name in names:
        less = {other: "7" for other in names if other != name}
        with pytest.raises(TableError, match=name):
            wording.say(identity, **less)


def test_the_told_text_is_the_sentence_filled() -> None:
    answer = advise(read_case(path_of("eye_level_27in")))
    assert answer.recommendation.reasons
    for reason in answer.recommendation.reasons:
        assert reason.text == wording.say(reason.id, **reason.values)


def test_what_is_not_there_is_told_by_name() -> None:
    with pytest.raises(TableError, match="no reference table called nothing"):
        tables.rows("nothing")
    with pytest.raises(TableError, match="nothing"):
        wording.say("nothing")


# --- the dictionary --------------------------------------------------------------------------


def _dictionary() -> tuple[set[str], dict[str, set[str]]]:
    """Columns described for all tables, and those described for each."""
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    shared, *sections = re.split(r"^### ", text, flags=re.MULTILINE)

    def columns(part: str) -> set[str]:
        entries = re.findall(r"^- ((?:`\w+`(?:, )?)+):", part, re.MULTILINE)
        return {name for entry in entries for name in re.findall(r"`(\w+)`", entry)}

    named = {part.split(".csv", 1)[0]: columns(part) for part in sections}
    assert len(named) == len(sections), "a table stands twice"
    return columns(shared), named


def test_the_dictionary_names_every_table_and_nothing_else() -> None:
    assert sorted(_dictionary()[1]) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_the_dictionary_names_every_column_and_nothing_else(name: str) -> None:
    shared, named = _dictionary()
    own = named.get(name, set())
    assert own <= set(header(name)), f"described but not there: {sorted(own - set(header(name)))}"
    missing = set(header(name)) - own - shared
    assert not missing, f"not described in reference_tables/README.md: {sorted(missing)}"
