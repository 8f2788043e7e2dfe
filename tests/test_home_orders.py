"""No power, eye distance or lens height is in what the home check is made of.

What it says to random visitors is searched in tests/browser/test_home_file.py.
"""

from __future__ import annotations

import json
import string
from datetime import date

import pytest

from app.home_file import build
from app.home_file.sheet import question_sheet
from engine import tables
from tests.home_detector import orders_in, stray_numbers_in, words_of
from tests.home_sessions import invented
from tests.home_visits import visit_file

PLANTED = [
    "ask for +2.00",
    "an add of 1.75",
    "−0.50 at the top",
    "-1.5 sphere",
    "about 1.25 more",
    "1,25 mehr",
    "2.5 D",
    "2 dioptres",
    "a strength of 1.50 diopters",
    "2.5 readers would do",
    "1.5 strength",
    "your PD is 63",
    "PD 31.5/31.5",
    "pupil distance of six and a half",
    "pupillary distance 64",
    "fitting height 20",
    "20 mm high",
    "a corridor of 12.5",
    "segment 3 below",
    "axis 180",
    "0.50 x 175",
    "2.00@90",
    "prism base in",
    "near power 2",
    'sheet {"add_d": 2}',
    'sheet {"fitting_height_mm": 20}',
    "a degression of one",
    "vertex 13",
    "63 millimetres apart",
]
STRAY = ["about 2 stronger", "take 63", "height 20", "go for 1.5 at the top", "chin 12", "3 hours"]
INNOCENT = [
    "65 cm (26 in)",
    "27 inch",
    "chin 6 to 14 degrees up",
    "about 1 in 10 to about 4 in 10",
    "about 5.5 of your 6.5 hours would be clear",
    "All-distance glasses without a line",
    "Age: 55 to 59",
]


@pytest.mark.parametrize("text", PLANTED)
def test_the_detector_catches_what_is_planted(text: str) -> None:
    assert orders_in(f"This check says {text}. Then more.")


@pytest.mark.parametrize("text", STRAY)
def test_the_second_net_catches_any_other_number(text: str) -> None:
    assert stray_numbers_in(f"This check says {text}. Then more.")


@pytest.mark.parametrize("text", INNOCENT)
def test_the_detector_lets_the_right_words_pass(text: str) -> None:
    assert not orders_in(text)
    assert not stray_numbers_in(text)


def test_no_field_of_the_answers_is_a_lens_value() -> None:
    names = set(_keys(json.loads(visit_file(invented()))))
    assert not [name for name in names if name.endswith(("_d", "_mm", "_pd"))]
    assert not orders_in(json.dumps(dict.fromkeys(names, 0)))


def _keys(content: object) -> list[str]:
    if isinstance(content, dict):
        return [*content, *[key for value in content.values() for key in _keys(value)]]
    if isinstance(content, list | tuple):
        return [key for value in content for key in _keys(value)]
    return []


WRITTEN = {
    "home_questions": ("short", "title", "help"),
    "home_choices": ("label", "answer"),
    "home_kinds": ("why", "but", "ask"),
    "home_texts": ("text",),
}


def without_values(text: str) -> str:
    """A sentence with a word for every value that is filled in."""
    parts = string.Formatter().parse(text)
    return "".join(before + ("ten" if name else "") for before, name, _, _ in parts)


def test_no_sentence_or_label_names_a_lens_value() -> None:
    written = [
        without_values(row[column])
        for table, columns in WRITTEN.items()
        for row in tables.rows(table)
        for column in columns
        if row[column]
    ]
    assert len(written) > 100
    assert [found for text in written for found in orders_in(text)] == []


def test_the_data_of_the_file_hold_none() -> None:
    """Of the tables only words, and numbers of desks, screens and heads, go into the file."""
    content = build.content(made=date(2026, 11, 29))
    assert not [name for name in _keys(content) if name.endswith(("_d", "_mm", "_pd"))]
    for part in ("tells", "kinds", "answers", "asks"):
        assert orders_in(" ".join(map(str, content[part].values()))) == []


def test_the_question_sheet_asks_for_none() -> None:
    assert orders_in(words_of(question_sheet())) == []
