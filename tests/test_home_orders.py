"""No power, eye distance or lens height leaves the home check: 500 random visits are searched."""

from __future__ import annotations

import json
import random

import pytest

from app.views.home.sheet import paper_tape, visit_sheet
from engine.home.case import visit_file
from engine.home.check import home_result
from engine.home.text import texts
from tests.home_detector import orders_in, stray_numbers_in, words_of
from tests.home_sessions import invented, random_session, said_by

VISITS = 500
PEOPLE = 4
"""A small crowd: the sentences are the same, only the ranges are coarser."""

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
ALL_CLEAR = (
    "all is well",
    "is fine",
    "are fine",
    "healthy eyes",
    "no need",
    "nothing wrong",
)
INNOCENT = [
    "65 cm (26 in)",
    "27 in, 16:9",
    "chin 6 to 14 degrees up",
    "about 1 in 10 to about 4 in 10",
    "About 5.5 to 6 of your 6.5 hours would be clear",
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


@pytest.mark.parametrize("text", PLANTED)
def test_a_value_planted_in_a_real_sheet_is_caught(text: str) -> None:
    answers = invented()
    sheet = visit_sheet(answers, home_result(answers, people=PEOPLE))
    spoilt = sheet.replace("</h1>", f"</h1><p>{text.replace('<', '&lt;')}</p>", 1)
    assert not orders_in(words_of(sheet))
    assert orders_in(words_of(spoilt))


def test_five_hundred_random_visits_hold_no_value_to_order_and_no_all_clear() -> None:
    chance, kinds, moves, flawed = random.Random(20261125), set(), 0, []
    for _ in range(VISITS):
        answers = random_session(chance)
        result = home_result(answers, people=PEOPLE)
        kinds |= {kind.kind for kind in result.kinds}
        moves += result.move_cm is not None
        sheet = words_of(visit_sheet(answers, result))
        sentences = "\n".join(said_by(result))
        said = f"{sentences}\n{sheet}"
        flawed += orders_in(said) + orders_in(visit_file(answers))
        flawed += stray_numbers_in(said).split()
        flawed += [words for words in ALL_CLEAR if words in sentences.lower()]
    assert flawed == []
    assert len(kinds) >= 4, "the visits must reach the sentences of several kinds of lens"
    assert moves >= VISITS // 20, "and those of moving the screen"


def test_no_field_of_the_answers_or_the_result_is_a_lens_value() -> None:
    answers = invented()
    result = home_result(answers, people=PEOPLE)
    names = set(_keys(json.loads(visit_file(answers)))) | set(_keys(result.model_dump()))
    assert not [name for name in names if name.endswith(("_d", "_mm", "_pd"))]
    assert not orders_in(json.dumps(dict.fromkeys(names, 0)))


def _keys(content: object) -> list[str]:
    if isinstance(content, dict):
        return [*content, *[key for value in content.values() for key in _keys(value)]]
    if isinstance(content, list | tuple):
        return [key for value in content for key in _keys(value)]
    return []


def test_no_sentence_or_label_names_a_lens_value() -> None:
    assert [found for text in texts() for found in orders_in(text)] == []


def test_the_paper_tape_holds_none() -> None:
    assert orders_in(words_of(paper_tape())) == []
