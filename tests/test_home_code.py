"""The text of a code: what is read from it, and what is refused. A browser packs it elsewhere."""

from __future__ import annotations

import pytest

from engine.case.read import build_case
from engine.errors import InputRefusedError
from engine.home.answers import HomeAnswers, HomeScreen, answers_from
from engine.home.case import case_content, read_visit_file, told_at_home
from engine.home.code import _sum, holds_code, short, unpack, words_of
from tests.home_sessions import invented
from tests.home_visits import visit_file

PACKED = (
    "LG2 fl= ag=5559 gl=gepr co=chup lepa=bo sc=/27//ah/1/65/ju/52 eyabdecm=48 re=pa/42 "
    "ot=co ho=masc:5,pa:1,co:0.5 ne=dr,st bo=ne te="
)
CODE = f"{PACKED} {_sum(PACKED)}"
"""What the home check packs of the invented wearer."""


def test_a_code_and_a_file_of_the_same_answers_are_read_by_one_reader() -> None:
    assert read_visit_file(CODE) == invented() == read_visit_file(visit_file(invented()))


@pytest.mark.parametrize(
    "around",
    [
        CODE.replace(" ", "\n"),
        CODE.replace(" ", "\r\n  "),
        f"\ufeffHere it is: {CODE}. See you on Monday, LG3!",
        f"> {CODE.replace(' ', chr(160))}",
    ],
)
def test_a_mail_may_break_a_code_and_write_round_it(around: str) -> None:
    assert read_visit_file(around) == invented()


def test_every_cut_and_every_changed_letter_is_noticed() -> None:
    for at in range(4, len(CODE)):
        with pytest.raises(InputRefusedError):
            read_visit_file(CODE[:at])
        with pytest.raises(InputRefusedError):
            read_visit_file(CODE[:at] + chr(ord(CODE[at]) ^ 1) + CODE[at + 1 :])


@pytest.mark.parametrize(
    ("part", "says"),
    [
        ("LG3 fl=", "of another version"),
        ("LG2 fl= xy=1", "xy"),
        ("LG2 fl= ag=99", "99"),
        ("LG2 fl= co=chup,chsi", "chsi"),
        ("LG2 fl= sc=sc/27", "8 values"),
        ("LG2 fl= sc=sc/27/us/ah/2/65//", "movable"),
        ("LG2 fl= sc=sc/wide/us/ah/1/65//", "a number"),
        ("LG2 fl= sc=sc/nan/us/ah/1/65//", "size_in"),
        ("LG2 fl= sc=sc/27/us/ah/1/1e9//", "distance_cm"),
        ("LG2 fl= ho=masc:2", "no thing"),
        ("LG2 fl=eyin ag=5559", "eye_injury"),
        ("LG2 ag=5559", "warning signs"),
    ],
)
def test_what_is_wrong_in_a_code_is_named(part: str, says: str) -> None:
    with pytest.raises(InputRefusedError, match=says):
        read_visit_file(f"{part} {_sum(part)}")


def test_a_sign_that_a_doctor_has_seen_comes_through() -> None:
    part = "LG2 fl=eyin sebydo=1 ag=5559"
    answers = read_visit_file(f"{part} {_sum(part)}")
    assert (answers.flags, answers.seen_by_doctor) == (("eye_injury",), True)


def test_two_letters_of_each_word_tell_all_choices_of_a_question_apart() -> None:
    fields = {*HomeAnswers.model_fields, *HomeScreen.model_fields, "what", "skipped"}
    numbers = {name for name in fields if name.endswith(("_cm", "_in"))}
    for field in fields - numbers - {"screens", "reading", "seen_by_doctor", "movable"}:
        words = words_of(field)
        assert len({short(word) for word in words}) == len(words) > 1, field
    assert len({short(name) for name in HomeAnswers.model_fields}) == len(HomeAnswers.model_fields)


def test_a_file_with_the_mark_in_a_label_is_no_code() -> None:
    assert not holds_code(' \n{"label": "LG2 desk #123"}')
    with pytest.raises(InputRefusedError, match="no code"):
        unpack("a text of something else")


def test_what_has_a_field_in_a_case_fills_it_and_the_rest_is_told() -> None:
    told = {"bothers": ["neck", "narrow", "tired"], "coping": ["chin_up", "take_off"]}
    case = build_case(case_content(invented(**told, tell=["vertigo"], glasses="contacts")))
    assert case.wearer.bothers == ("neck", "tired_eyes", "chin_up")
    assert set(case.wearer.conditions) == {"vertigo", "contact_lenses"}
    said = told_at_home(case.extensions)
    assert said["bothers"][1] == "Only a narrow strip is clear"
    assert said["coping"] == ("I lift my chin", "I take my glasses off")
    assert said["lens_part"] == ("The bottom part",)
    nothing = case_content(
        answers_from({"flags": [], "age": "50_54", "screens": [{"size_in": 24}]})
    )
    assert "bothers" not in nothing["wearer"], "nobody asked"


@pytest.mark.parametrize(
    "held", [None, 3, [], {"coping": {"a": 1}}, {"coping": [["chin_up"], "<b>"]}, {"age": "x"}]
)
def test_anything_else_under_that_name_is_not_told(held: object) -> None:
    assert told_at_home({"home_check": held}) == {}
