"""The answers at home: warning signs, the file to bring along, the case and the crowd it makes."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from engine import tables
from engine.answer import cautions
from engine.case.read import build_case
from engine.case.results import Told
from engine.case.scene import scene_of
from engine.case.targets import detail_arcmin
from engine.errors import InputRefusedError
from engine.home.answers import STEPS, answers_from, choices
from engine.home.case import case_content, case_from_visit_file, read_visit_file
from engine.home.numbers import number
from engine.tables import Judgements
from tests.home_sessions import invented, random_session
from tests.home_visits import visit_file

JUDGED = Judgements.standard()


def test_at_most_twelve_questions_after_the_warning_signs() -> None:
    assert STEPS[0] == "flags"
    assert len(STEPS) - 1 <= 12
    assert list(STEPS) == [row["id"] for row in tables.rows("home_questions")]


def test_every_warning_sign_of_the_program_is_asked_and_no_other() -> None:
    stop = {row["id"] for row in tables.rows("conditions") if row["action"] == "stop_now"}
    assert set(choices("flags")) == stop


def test_all_else_that_is_told_is_known_to_the_program() -> None:
    conditions = tables.by_id("conditions")
    for told in choices("tell"):
        assert conditions[told]["action"] != "stop_now"
    left_out = set(conditions) - set(choices("tell")) - set(choices("flags"))
    assert left_out == {"first_multifocal"}, "the optician knows it from the pair worn"


@pytest.mark.parametrize("flag", list(choices("flags")))
def test_each_warning_sign_alone_stops_everything(flag: str) -> None:
    said = cautions.wearer_text(Told(id=flag, text=""))
    assert any(word in said for word in ("today", "now"))
    assert any(word in said for word in ("doctor", "hospital", "emergency"))
    with pytest.raises(InputRefusedError):
        read_visit_file(visit_file(invented(flags=[flag])))


def test_a_sign_that_a_doctor_has_looked_at_goes_on_and_is_told() -> None:
    answers = invented(flags=["new_flashes_or_floaters"], seen_by_doctor=True)
    assert read_visit_file(visit_file(answers)) == answers
    case = build_case(case_content(answers))
    assert "new_flashes_or_floaters" not in case.wearer.conditions
    assert case.extensions["home_check"]["seen_by_doctor"] == ["new_flashes_or_floaters"]


def test_a_file_with_an_open_sign_is_refused() -> None:
    text = visit_file(invented(flags=["eye_injury"], seen_by_doctor=True))
    with pytest.raises(InputRefusedError, match="doctor"):
        read_visit_file(text.replace('"seen_by_doctor": true', '"seen_by_doctor": false'))


def test_flags_not_asked_yet_are_no_pass() -> None:
    with pytest.raises(InputRefusedError):
        read_visit_file(visit_file(invented(flags=None)))


def test_a_place_that_is_only_assumed_refuses_no_tape() -> None:
    """A laptop beside a screen, 54 cm away and low: 45 cm aside would not fit, so it is nearer."""
    beside = {"size_in": 14.0, "form": "laptop", "side": "left"}
    taped = {"distance_cm": 54.0, "top_above_desk_cm": 15.0}
    answers = invented(screens=[{"size_in": 24.0}, {**beside, **taped}], eyes_above_desk_cm=46.0)
    case = build_case(case_content(answers))
    scene_of([case], judgements=Judgements.standard())
    assert -45.0 < (case.targets[1].offset_cm or 0.0) < -15.0
    assert case.targets[1].distance_cm == taped["distance_cm"]
    unseen = invented(screens=[{"size_in": 34.0}, {"size_in": 27.0, "side": "left",
                                                   "distance_cm": 65.0}])  # fmt: skip
    scene_of([build_case(case_content(unseen))], judgements=Judgements.standard())
    high = invented(screens=[{"size_in": 27.0, "top_above_desk_cm": 140.0}])
    case = build_case(case_content(high))
    scene_of([case], judgements=Judgements.standard())
    assert case.targets[0].distance_cm > 140.0 - 48.0
    roomy = invented(screens=[{"size_in": 24.0}, {**beside, **taped, "distance_cm": 70.0}])
    assert build_case(case_content(roomy)).targets[1].offset_cm == -44.6


def test_what_is_needed_cannot_be_passed_over() -> None:
    for step in ("flags", "age", "screens"):
        with pytest.raises(InputRefusedError):
            answers_from({"skipped": [step]})


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"age": "44"}, "age"),
        ({"glasses": "varifocal brand"}, "glasses"),
        ({"screens": []}, "screens"),
        ({"screens": [{"size_in": 5.0}]}, "screens.0.size_in"),
        ({"screens": [{"size_in": float("nan")}]}, "screens.0.size_in"),
        ({"eyes_above_desk_cm": "48"}, "eyes_above_desk_cm"),
        ({"hours": {"main screen": 25.0}}, "hours.main screen"),
        ({"hours": {"main screen": 20.0, "papers": 5.0}}, "hours"),
        ({"hours": {"fourth screen": 1.0}}, "hours"),
        ({"power": 2.0}, "power"),
    ],
)
def test_a_refusal_names_the_field(change: dict[str, Any], field: str) -> None:
    with pytest.raises(InputRefusedError) as refused:
        invented(**change)
    assert refused.value.field == field


def test_the_file_carries_the_same_answers() -> None:
    chance = random.Random(11)
    for _ in range(40):
        answers = random_session(chance)
        assert read_visit_file(visit_file(answers)) == answers
        assert visit_file(answers) == visit_file(read_visit_file(visit_file(answers)))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{",
        '{"file": "something else", "version": 1, "answers": {}}',
        '{"file": "levelgaze home check", "version": 2, "answers": {}}',
        '{"file": "levelgaze home check", "version": 1}',
        '{"file": "levelgaze home check", "version": 1, "answers": {"age": "9"}}',
        '{"file": "levelgaze home check", "version": 1, "answers": {}, "more": 1}',
        "[" * 100_000,
        "x" * 200_000,
    ],
)
def test_another_file_is_refused(text: str) -> None:
    with pytest.raises(InputRefusedError):
        read_visit_file(text)


def test_a_file_of_the_first_home_check_still_opens() -> None:
    told = '"ruler": "printed", "card_cm": 8.5, "age"'
    assert read_visit_file(visit_file(invented()).replace('"age"', told)) == invented()


def test_the_interview_starts_with_the_same_numbers() -> None:
    case = build_case(case_from_visit_file(visit_file(invented())))
    screen, papers, colleague = case.targets
    assert (screen.distance_cm, screen.top_above_eye_cm, screen.diagonal_in) == (65.0, 4.0, 27.0)
    assert screen.desk_below_eye_cm == 48.0
    assert papers.distance_cm == 42.0
    desk, away = case.activities
    assert desk.hours == 6.5
    shares = {look.target: look.share * desk.hours for look in desk.looks}
    assert shares == pytest.approx({"main screen": 5.0, "papers": 1.0, "colleague": 0.5}, abs=1e-9)
    assert away.needs == ("driving", "stairs")
    assert case.present_pair is not None
    assert case.present_pair.kind == "general_progressive"
    for path in ("0/distance_cm", "0/top_above_eye_cm", "0/diagonal_in", "1/distance_cm"):
        assert case.origin[f"/targets/{path}"] == "at_home"
    assert case.origin["/targets/2/distance_cm"] == "assumed"
    assert colleague.distance_cm == 180.0
    assert case.wearer.add_d is None
    assert case.origin["/wearer/right/sphere_d"] == "assumed"
    for path in ("/fit/vertex_mm", "/fit/fitting_height_mm", "/wearer/near_test_distance_cm"):
        assert case.is_assumed(path), "nothing of a frame is asked at home"


def test_every_random_visit_makes_a_case_the_optician_can_open() -> None:
    chance = random.Random(5)
    for _ in range(150):
        answers = random_session(chance)
        case = build_case(case_from_visit_file(visit_file(answers)))
        assert tuple(target.name for target in case.targets) == answers.things
        assert all(detail_arcmin(target) > 0 for target in case.targets)


def test_screens_beside_each_other_stand_half_of_both_apart() -> None:
    screens = [
        {"size_in": 24.0, "distance_cm": 70.0, "top_above_desk_cm": 45.0},
        {"size_in": 24.0, "distance_cm": 90.0, "top_above_desk_cm": 45.0, "side": "left"},
    ]
    content = case_content(invented(screens=screens, hours=None, skipped=["hours"]))
    width, gap = 53.13, number("screen_gap_cm")
    assert content["targets"][0]["offset_cm"] == 0.0
    off = content["targets"][1]["offset_cm"] + width + gap
    assert abs(off) <= 0.1, "rounded to a millimetre, size to a tenth"


def test_the_file_is_small_and_plain() -> None:
    text = visit_file(invented())
    assert len(text) < 4000
    assert set(json.loads(text)) == {"file", "version", "answers"}
