"""From fields to answers: nothing counts before it is answered, no refused value is lost."""

from __future__ import annotations

from typing import Any

import pytest

from app.views.home import typed_answers
from engine.home.answers import STEPS, choices
from tests.home_detector import orders_in
from tests.home_sessions import words_of_the_pages

WHOLE = {
    "flags.none": True,
    "age": "55_59",
    "glasses": "general_progressive",
    "coping.chin_up": True,
    "lens_part": "bottom",
    "screens.count": "2",
    "s0.form": "screen",
    "s0.size": "27",
    "s0.distance": "26 in",
    "s0.reach": "just",
    "s0.top": "52",
    "s1.form": "laptop",
    "s1.size": "35.6 cm",
    "s1.side": "right",
    "s1.distance": "80,5",
    "s1.top": "30",
    "ruler": "tape",
    "eyes": "48",
    "reading.papers": True,
    "reading.papers.cm": "42",
    "others.colleague": True,
    "hours.main screen": "5",
    "hours.papers": "1 h",
    "needs.driving": True,
    "bothers.neck": True,
    **{f"done.{step}": True for step in STEPS},
}


def fields(**changes: Any) -> dict[str, Any]:
    values = {**WHOLE, **changes}
    return {f"{typed_answers.PREFIX}{name}": value for name, value in values.items()}


def changed(name: str, value: Any) -> typed_answers.Reading:
    return typed_answers.read(fields(**{name: value}))


def test_a_filled_form_is_read_whole() -> None:
    reading = typed_answers.read(fields())
    answers = reading.answers
    assert reading.open_step is None
    assert not reading.refused
    screens = answers.screens or ()
    assert [screen.size_in for screen in screens] == [27.0, 14.0]
    assert [screen.distance_cm for screen in screens] == [66.0, 80.5]
    assert [screen.side for screen in screens] == ["ahead", "right"]
    assert answers.hours == {"main screen": 5.0, "papers": 1.0}
    assert answers.things == ("main screen", "second screen", "papers", "colleague")


def test_an_empty_form_asks_for_the_warning_signs() -> None:
    assert typed_answers.read({}).open_step == "flags"
    assert typed_answers.read({}).answers.flags is None


@pytest.mark.parametrize("flag", list(choices("flags")))
def test_a_sign_stands_whatever_else_is_ticked(flag: str) -> None:
    reading = changed(f"flags.{flag}", True)
    assert reading.answers.flags == (flag,)
    assert reading.open_step == "flags"


def test_a_sign_is_seen_even_among_refused_values() -> None:
    values = fields(**{"flags.eye_injury": True, "s0.size": "no", "eyes": "?", "age": "nonsense"})
    assert typed_answers.read(values).answers.flags == ("eye_injury",)


@pytest.mark.parametrize(
    ("name", "text", "step"),
    [
        ("s0.size", "big", "screens"),
        ("s0.size", "99", "screens"),
        ("s1.distance", "far", "distances"),
        ("s1.distance", "3 m", "distances"),
        ("s0.top", "-5", "heights"),
        ("eyes", "4", "heights"),
        ("reading.papers.cm", "arm", "reading"),
        ("reading.papers.cm", "900", "reading"),
        ("hours.papers", "many", "hours"),
        ("hours.papers", "30", "hours"),
        ("s0.distance", "![x](http://a)", "distances"),
    ],
)
def test_a_refused_value_is_named_and_keeps_its_question_open(
    name: str, text: str, step: str
) -> None:
    reading = changed(name, text)
    assert name in reading.refused
    assert reading.open_step == step
    assert typed_answers.step_of(name) == step


@pytest.mark.parametrize(
    ("name", "text", "allowed"),
    [
        ("s0.size", "99", "7 to 60 in"),
        ("s1.distance", "3 m", "15 to 250 cm"),
        ("s0.top", "-5", "1 to 150 cm"),
        ("eyes", "4", "10 to 120 cm"),
        ("reading.papers.cm", "900", "15 to 150 cm"),
        ("hours.papers", "30", "0 to 24 hours"),
    ],
)
def test_a_refusal_says_both_limits_and_the_unit(name: str, text: str, allowed: str) -> None:
    assert changed(name, text).refused[name].allowed == allowed


def test_too_many_hours_in_all_are_refused() -> None:
    values = fields(**{"hours.main screen": "20", "hours.papers": "5"})
    reading = typed_answers.read(values)
    assert reading.open_step == "hours"


@pytest.mark.parametrize("step", ["distances", "heights", "hours"])
def test_a_question_can_be_passed_over(step: str) -> None:
    empty = {
        "distances": {"s0.distance": "", "s1.distance": ""},
        "heights": {"eyes": "", "s0.top": "", "s1.top": ""},
        "hours": {"hours.main screen": "", "hours.papers": ""},
    }[step]
    assert typed_answers.read(fields(**empty, **{f"done.{step}": "skipped"})).open_step is None


def test_a_ruler_out_of_scale_keeps_its_question_open() -> None:
    values = fields(ruler="printed", card="8.2")
    reading = typed_answers.read(values)
    assert reading.open_step == "distances"
    assert reading.doubts["card"].blocks


def test_a_lens_without_parts_has_no_part_told() -> None:
    assert changed("glasses", "sv_near").answers.lens_part is None


def test_the_words_of_the_page_hold_no_value_to_order() -> None:
    assert [found for words in words_of_the_pages() for found in orders_in(words)] == []
