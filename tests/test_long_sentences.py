"""What optician and coordinator read has short sentences: 25 words at most, or a reason is listed.

`tests/long_sentences.csv` lists the exceptions: how each begins, and why it may be longer.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from engine import tables
from tests.reading import sentences

MOST_WORDS = 25
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
    "judgements": ("reason",),
    "lab_list_columns": ("meaning", "rule"),
    "left_out": ("what", "so"),
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
    """Return the long sentences that no row of the list begins like."""
    listed = tuple(allowed())
    return [one for one in found if not one.startswith(listed)]


@pytest.mark.parametrize("table", COLUMNS)
def test_no_sentence_of_a_table_is_long_without_a_reason(table: str) -> None:
    rows = tables.rows(table)
    found = [one for row in rows for column in COLUMNS[table] for one in long_in(row[column])]
    assert unlisted(found) == []


def test_every_exception_is_in_use_and_says_why() -> None:
    every = [
        one
        for table, columns in COLUMNS.items()
        for row in tables.rows(table)
        for column in columns
        for one in long_in(row[column])
    ]
    for begins, why in allowed().items():
        assert len(begins.split()) >= 4
        assert len(why.split()) >= 3, begins
        assert any(one.startswith(begins) for one in every), begins


def test_a_long_sentence_is_found() -> None:
    assert long_in("Yes. " + "word " * 26 + "end.") == ["word " * 26 + "end"]
    assert long_in("Word " * 25 + ". Short one.") == []
