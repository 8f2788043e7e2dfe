"""What optician and coordinator read has short sentences: 25 words at most, or a reason is listed.

`tests/long_sentences.csv` lists the exceptions: how each begins, and why it may be longer.
"""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from engine import tables
from engine.case.read import read_case
from engine.examples import path_of
from tests import shown
from tests.reading import sentences

ROOT = Path(__file__).parent.parent
MOST_WORDS = 25
RENDERED = ("laptop_only", "two_screens")
"""Invented wearers of whom every page and sheet is read."""
COLUMNS = {
    "assumed_spreads": ("source",),
    "cautions": ("text",),
    "complaint_causes": ("cause", "check", "check_otherwise", "remedy"),
    "complaint_signs": ("text",),
    "conditions": ("question",),
    "country_rules": ("meaning", "how_checked"),
    "employer_may_hold": ("text",),
    "evidence": ("claim", "design", "people", "result"),
    "home_numbers": ("reason",),
    "judgement_worth": ("settled",),
    "judgements": ("reason",),
    "lab_list_columns": ("meaning", "rule"),
    "left_out": ("what", "so"),
    "order_gaps": ("missing", "why"),
    "outcome_codes": ("meaning", "next_step"),
    "pair_changes": ("says",),
    "policy_law": ("why",),
    "protection": ("against", "text"),
    "roster_columns": ("meaning",),
    "sentences": ("text",),
    "team_evidence": ("claim", "finding", "design"),
    "trials": ("what", "read", "does_not_say"),
    "usual_desks": ("reason",),
    "worn_adjustments": ("finding", "advice"),
}
"""Sentences for optician and coordinator, by table."""


def allowed() -> dict[str, str]:
    """Return how each sentence begins that may be longer, with its reason."""
    path = Path(__file__).with_name("long_sentences.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return {row["begins"]: row["why"] for row in csv.DictReader(file)}


def long_in(text: str) -> list[str]:
    """Return the sentences of a text that are too long; a value counts as a word."""
    plain = re.sub(r"\{[^}]*\}", "ten", text)
    return [" ".join(one) for one in sentences([plain]) if len(one) > MOST_WORDS]


def unlisted(found: list[str]) -> list[str]:
    """Return the long sentences that begin like no row of the list."""
    listed = tuple(allowed())
    return [one for one in found if not one.startswith(listed)]


def said_in_code(path: Path) -> Iterator[str]:
    """Yield the texts in a module, docstrings apart; a value is a word."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    every = list(ast.walk(tree))
    apart = {id(one.value) for one in every if isinstance(one, ast.Expr)}
    for one in every:
        if isinstance(one, ast.JoinedStr):
            apart |= {id(part) for part in one.values}
            parts = (part.value if isinstance(part, ast.Constant) else "12" for part in one.values)
            yield "".join(map(str, parts))
    for one in every:
        if isinstance(one, ast.Constant) and isinstance(one.value, str) and id(one) not in apart:
            yield one.value


@cache
def long_in_code(path: Path) -> list[str]:
    """Return the long sentences in a module; style and statements for a data base are none."""
    found: list[str] = []
    for text in said_in_code(path):
        is_read = not re.search(r"\{[^}]*:[^}]*;|^\s*CREATE TABLE", text)
        for line in re.sub(r"<[^>]+>", "\n", text).split("\n") if is_read else ():
            found += long_in(line)
    return found


@pytest.mark.parametrize("package", ["app", "engine"])
def test_no_sentence_in_the_code_is_long_without_a_reason(package: str) -> None:
    modules = sorted((ROOT / package).rglob("*.py"))
    found = {
        f"{path.relative_to(ROOT)}: {one}"
        for path in modules
        for one in unlisted(long_in_code(path))
    }
    assert found == set()


@cache
def long_in_pages(example: str) -> dict[str, list[str]]:
    """Return the long sentences of each page and sheet of an invented wearer."""
    case = read_case(path_of(example))
    said = shown.sheets_of(case, shown.answered(case)) | shown.pages_of(case)
    return {
        name: [one for line in text.splitlines() for one in long_in(line)]
        for name, text in said.items()
    }


@pytest.mark.usefixtures("own_drafts", "answers_once")
@pytest.mark.parametrize("example", RENDERED)
def test_no_sentence_of_a_page_or_a_sheet_is_long_without_a_reason(example: str) -> None:
    said = long_in_pages(example)
    assert len(said) > 10
    assert {name: unlisted(found) for name, found in said.items() if unlisted(found)} == {}


@pytest.mark.parametrize("table", COLUMNS)
def test_no_sentence_of_a_table_is_long_without_a_reason(table: str) -> None:
    rows = tables.rows(table)
    found = [one for row in rows for column in COLUMNS[table] for one in long_in(row[column])]
    assert unlisted(found) == []


@pytest.mark.usefixtures("own_drafts", "answers_once")
def test_every_exception_is_in_use_and_says_why() -> None:
    every = [
        one
        for table, columns in COLUMNS.items()
        for row in tables.rows(table)
        for column in columns
        for one in long_in(row[column])
    ]
    for package in ("app", "engine"):
        for path in (ROOT / package).rglob("*.py"):
            every += long_in_code(path)
    every += [
        one for example in RENDERED for said in long_in_pages(example).values() for one in said
    ]
    for begins, why in allowed().items():
        assert len(begins.split()) >= 2
        assert len(why.split()) >= 3, begins
        assert any(one.startswith(begins) for one in every), begins


def test_a_long_sentence_is_found() -> None:
    assert long_in("Yes. " + "word " * 26 + "end.") == ["word " * 26 + "end"]
    assert long_in("Word " * 25 + ". Short one.") == []
