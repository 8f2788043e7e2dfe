"""After collection: dates, questions, the ranker's rules, and what the wearer takes home."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any, Literal

import pytest

from engine import tables
from engine.case.results import Change, ClearRange, MoveResult, OptionResult
from engine.collection.complaints import (
    Complaint,
    SeenTarget,
    checks_in_order,
    questions,
    rank_causes,
    signs_of,
)
from engine.collection.followup import follow_up_dates, follow_up_questions, told_range
from engine.collection.wearer_page import WearerSheet, length, wearer_sheet
from engine.errors import InputRefusedError
from engine.order.letter import letter_fields, ticked
from engine.wording import say
from tests.orders import STRONG_DETAILS, answered, content, order, strong
from tests.reading import ease_of

TABLE = json.dumps(content())
GRADE_OF_AGE_12 = 7.0
KINDS = ("office", "general_progressive", "sv_computer", "bifocal_ft28", "sv_distance")


MOVE = MoveResult(
    target="main screen",
    change=Change(up_cm=-7.0, tilt_deg=5.0),
    plan="present_pair",
    before_h=3.0,
    after_h=6.0,
    put_first=True,
    text="",
)


def option(name: str = "office") -> OptionResult:
    return answered(TABLE)[1].option(name)


def sheet(name: str = "office", *, move: MoveResult | None = None) -> WearerSheet:
    case, result = answered(TABLE)
    moves = () if move is None else (move,)
    recommendation = result.recommendation.model_copy(update={"moves": moves})
    return wearer_sheet(
        case=case,
        result=result.model_copy(update={"recommendation": recommendation}),
        option=result.option(name),
        dates=follow_up_dates(collected=date(2030, 1, 2)),
    )


# --- dates, questions, codes -----------------------------------------------------------------


def test_dates_are_two_and_four_to_six_weeks_and_say_whose_they_are() -> None:
    dates = follow_up_dates(collected=date(2028, 2, 20))
    assert dates.first == date(2028, 3, 5)
    assert (dates.decide_from, dates.decide_by) == (date(2028, 3, 19), date(2028, 4, 2))
    assert dates.standing.startswith("our proposal")


@pytest.mark.parametrize("stage", ["first", "late"])
def test_questions_carry_the_numbers_of_the_record(stage: Literal["first", "late"]) -> None:
    case, _ = answered(TABLE)
    found = follow_up_questions(case=case, option=option(), stage=stage)
    screen = option().targets[0]
    assert screen.clear_range_cm is not None
    told = told_range(screen.clear_range_cm, option(), distance_cm=case.targets[0].distance_cm)
    assert told is not None
    near, far = told.near, told.far
    clear = next(one for one in found if one.id == "clear_at" and one.target == screen.target)
    assert f"from {near:.0f} cm to {far:.0f} cm" in clear.text
    asked = {one.id for one in found}
    assert ("decide" in asked) is (stage == "late")
    assert ("swaps" in asked) is (stage == "first")
    assert all("{" not in one.text for one in found)


@pytest.mark.parametrize(
    ("near", "far", "told"),
    [
        (50.0, 170.0, (50.0, 110.0)),
        (50.0, None, (50.0, 110.0)),
        (50.0, 100.0, (50.0, 100.0)),
        (70.0, 100.0, None),
    ],
)
def test_no_range_is_told_beyond_the_far_limit(near, far, told) -> None:
    lens = option().model_copy(update={"covers_distance": False, "sees_to_cm": 110.0})
    found = told_range(ClearRange(near=near, far=far), lens, distance_cm=65.0)
    assert (found and (found.near, found.far)) == told
    assert told_range(ClearRange(near=50.0, far=170.0), lens, distance_cm=130.0) is None
    far_pair = lens.model_copy(update={"covers_distance": True})
    assert told_range(ClearRange(near=50.0, far=None), far_pair, distance_cm=65.0).far is None


def test_a_question_asks_for_no_more_than_the_sheet_promises() -> None:
    case, _ = answered(TABLE)
    lens = option().model_copy(update={"sees_to_cm": option().targets[0].clear_range_cm.near + 20})
    found = follow_up_questions(case=case, option=lens, stage="first")
    clear = next(one for one in found if one.id == "clear_at")
    assert f"to {lens.sees_to_cm:.0f} cm" in clear.text


def test_outcome_codes_are_ours_and_each_has_a_next_step() -> None:
    codes = tables.by_id("outcome_codes")
    assert {"kept", "adjust", "desk", "fit", "power", "kind", "adviser", "urgent"} <= set(codes)
    assert all(row["next_step"] for row in codes.values())


# --- the ranker ------------------------------------------------------------------------------


def ranked(*, seen: tuple[SeenTarget, ...] = (), **answers: bool) -> list[str]:
    case, _ = answered(TABLE)
    complaint = Complaint(seen=seen, answers=answers)
    return [one.id for one in rank_causes(case=case, option=option(), complaint=complaint)]


@pytest.mark.parametrize(
    "sign",
    ["sudden_sight_loss", "flashes_or_curtain", "painful_red_eye", "constant_double_vision"],
)
def test_an_urgent_sign_stands_alone_whatever_else_is_seen(sign: str) -> None:
    assert ranked(**{sign: True, "blink_clears": True, "one_eye_worse": True}) == ["urgent_eye"]
    assert "urgent_eye" not in ranked(**{sign: False, "blink_clears": True})


@pytest.mark.parametrize(
    ("sign", "cause"),
    [
        ("blink_clears", "dry_eye"),
        ("cover_one_eye_helps", "eye_teaming"),
        ("reflections", "reflections"),
        ("worn_away_from_desk", "wrong_task"),
        ("swim", "adaptation"),
        ("distorted_lines", "one_eye_disease"),
        ("worn_over_contact_lenses", "contact_lens_base"),
        ("reading_area_small", "frame_shallow"),
        ("turns_across_screens", "second_screen"),
        ("neck_ache_chin_level", "neck_itself"),
        ("larger_text_helps", "text_smaller"),
    ],
)
def test_a_telling_answer_names_its_cause_first(sign: str, cause: str) -> None:
    assert ranked(**{sign: True})[0] == cause


@pytest.mark.parametrize(("more", "found"), [(2.99, False), (3.0, True), (3.01, True)])
def test_a_chin_differs_from_three_degrees(more: float, found: bool) -> None:
    case, _ = answered(TABLE)
    centre = option().targets[0].rows[1].chin_up_deg
    assert centre is not None
    for sign, name in ((1, "chin_up_more_screen"), (-1, "chin_down_more_screen")):
        seen = SeenTarget(target="main screen", chin_up_deg=centre + sign * more)
        complaint = Complaint(seen=(seen,))
        signs = signs_of(case=case, option=option(), complaint=complaint)
        assert signs[name] is found


@pytest.mark.parametrize(("off", "found"), [(0.199, False), (0.2, True), (0.201, True)])
def test_a_range_differs_from_a_fifth_of_a_dioptre(off: float, found: bool) -> None:
    case, _ = answered(TABLE)
    clear = option().targets[0].clear_range_cm
    assert clear is not None
    assert clear.far is not None
    for sign, name in ((1, "nearer"), (-1, "farther")):
        taped = 100 / (100 / clear.far + sign * (off + 1e-12))
        seen = SeenTarget(target="main screen", farthest_clear_cm=taped)
        signs = signs_of(case=case, option=option(), complaint=Complaint(seen=(seen,)))
        assert signs[f"screen_far_end_{name}"] is found


def test_the_first_three_are_given_the_cheapest_check_first() -> None:
    case, _ = answered(TABLE)
    complaint = Complaint(
        answers={"cover_one_eye_helps": True, "swim": True, "one_eye_worse": True}
    )
    found = rank_causes(case=case, option=option(), complaint=complaint)
    points = [one.points for one in found]
    assert points == sorted(points, reverse=True)
    minutes = [one.check_minutes for one in checks_in_order(found)]
    assert minutes == sorted(minutes)
    assert {one.id for one in checks_in_order(found)} == {one.id for one in found[:3]}


def test_causes_of_other_kinds_of_lens_are_left_out() -> None:
    case, result = answered(TABLE)
    for name, absent in (("sv_computer", "fitted_low"), ("general_progressive", "wrong_reference")):
        found = rank_causes(case=case, option=result.option(name), complaint=Complaint())
        assert absent not in [one.id for one in found]


def test_unknown_questions_and_targets_are_refused() -> None:
    with pytest.raises(InputRefusedError, match="asked"):
        ranked(chin_much=True)
    with pytest.raises(InputRefusedError, match="main screen"):
        ranked(seen=(SeenTarget(target="nothing", chin_up_deg=0.0),))


def test_every_sign_of_the_table_is_known_and_every_known_sign_is_used() -> None:
    used = {
        word.split("=")[0]
        for row in tables.rows("complaint_causes")
        for word in row["signs"].split()
    }
    known = {
        name for how in ("asked", "seen", "taped", "tried", "record") for name in questions(how)
    }
    assert used == known


# --- the wearer's sheet ----------------------------------------------------------------------


def said_on(one: WearerSheet) -> list[str]:
    """Return everything that is read on a sheet, names of targets left out."""
    looks = [said for look in one.looks for said in look.says]
    desk = [one.desk] if one.desk else []
    parts = (one.limits, one.safety, one.handling, one.first_days, one.come_back)
    rest = [said for part in parts for said in part]
    return [one.lens, *desk, *looks, *rest, one.warning, *one.warnings]


@pytest.mark.parametrize("name", KINDS)
def test_the_sheet_reads_at_about_age_12(name: str) -> None:
    ease = ease_of([" ".join(said_on(sheet(name, move=MOVE)))])
    assert max(ease.ari, ease.coleman_liau) <= GRADE_OF_AGE_12


@pytest.mark.parametrize("name", KINDS)
def test_every_number_on_the_sheet_is_one_of_the_record(name: str) -> None:
    _, result = answered(TABLE)
    allowed = {"16", "13", "2030"}
    for target in result.option(name).targets:
        allowed.add(f"{abs(target.centre.chin_up_deg or 0.0):.0f}")
        clear = target.clear_range_cm
        for end in (clear.near, clear.far) if clear is not None else ():
            if end is not None:
                allowed |= set(re.findall(r"[\d.]+", length(end)))
    if (limit_cm := result.option(name).sees_to_cm) is not None:
        allowed |= set(re.findall(r"[\d.]+", length(limit_cm)))
    found = set(re.findall(r"\d+(?:\.\d+)?", " ".join(said_on(sheet(name)))))
    assert found
    assert found <= allowed


@pytest.mark.parametrize("name", KINDS)
def test_driving_and_stairs_are_named_exactly_where_true(name: str) -> None:
    said = " ".join(sheet(name).safety)
    covers = option(name).covers_distance
    assert ("Do not drive" in said) is not covers
    assert ("Do not walk on stairs" in said) is not covers
    assert ("tuck your chin" in said) is (covers and not name.startswith("sv_"))
    assert ("blurred" in " ".join(sheet(name).limits)) is not covers


def test_the_limit_is_that_of_the_lens_straight_ahead() -> None:
    limit_cm = option().sees_to_cm
    assert limit_cm is not None
    away = length(limit_cm)
    (said,) = sheet().limits
    assert said.startswith(
        f"Straight ahead, you see best up to about {away}. Past that, things get blurred bit by "
        "bit."
    )


def look(distance_cm: float = 65.0, **changed: Any) -> tuple[str, ...]:
    """What the sheet says of the main screen of an office lens that shows it so."""
    return shown_so(distance_cm, **changed).looks[0].says


def shown_so(distance_cm: float, **changed: Any) -> WearerSheet:
    """The sheet of an office lens that shows the main screen so."""
    case, result = answered(TABLE)
    of_option = {name: changed.pop(name) for name in ("sees_to_cm",) if name in changed}
    first = option().targets[0].model_copy(update=changed)
    targets = (first, *option().targets[1:])
    measured = option().as_measured.model_copy(update={"targets": targets})
    shown = option().model_copy(update={"as_measured": measured, **of_option})
    moved = case.targets[0].model_copy(update={"distance_cm": distance_cm})
    case = case.model_copy(update={"targets": (moved, *case.targets[1:])})
    return wearer_sheet(case=case, result=result, option=shown)


@pytest.mark.parametrize(
    ("comfortable", "awkward", "blurred", "promised", "said"),
    [
        (1.0, 0.0, 0.0, True, ""),
        (0.6, 0.4, 0.0, True, "For some of it your head or eyes have to move"),
        (0.6, 0.0, 0.4, True, "Some of it is a bit blurred."),
        (0.6, 0.2, 0.2, True, "Some of it is a bit blurred."),
        (0.6, 0.1, 0.1, True, "Part of it will not be clear."),
        (0.5, 0.5, 0.0, True, "For some of it"),
        (0.49, 0.51, 0.0, False, "It is clear, but your head or eyes"),
        (0.38, 0.12, 0.5, False, "Most of it is clear, but your head or eyes"),
        (0.38, 0.11, 0.51, False, "Much of it is a bit blurred."),
        (0.3, 0.2, 0.1, False, "Part of it will not be clear."),
        (0.3, 0.1, 0.09, False, "Most of it will not be clear"),
        (0.0, 0.3, 0.19, False, "It will not be clear"),
    ],
)
def test_the_sheet_promises_nothing_that_most_of_a_target_does_not_get(
    comfortable: float, awkward: float, blurred: float, promised: bool, said: str
) -> None:
    shares = {"comfortable_share": comfortable, "awkward_share": awkward, "blurred_share": blurred}
    found = " ".join(look(**shares))
    assert ("You see it clearly" in found) is promised
    assert ("head level" in found or "chin drop" in found or "chin has" in found) is promised
    assert said in found


def test_a_range_on_the_sheet_ends_at_the_far_limit() -> None:
    clear = ClearRange(near=40.0, far=530.0)
    all_of_it = {"comfortable_share": 1.0, "awkward_share": 0.0, "clear_range_cm": clear}
    within = " ".join(look(**all_of_it, sees_to_cm=89.0))
    assert f"from {length(40.0)} to {length(89.0)}" in within
    beyond = " ".join(look(**all_of_it, sees_to_cm=60.0))
    assert "You see it clearly where it is now." in beyond
    assert length(530.0) not in within + beyond
    assert f"to {length(530.0)}" in " ".join(look(**all_of_it, sees_to_cm=None))


def test_a_range_on_the_sheet_holds_the_thing_that_is_clear() -> None:
    clear = ClearRange(near=158.0, far=None)
    all_of_it = {"comfortable_share": 1.0, "awkward_share": 0.0, "clear_range_cm": clear}
    said = " ".join(look(150.0, **all_of_it, sees_to_cm=None))
    assert "You see it clearly where it is now." in said
    assert length(158.0) not in said
    assert length(158.0) in " ".join(look(160.0, **all_of_it, sees_to_cm=None))


@pytest.mark.parametrize(
    ("distance_cm", "comfortable", "awkward", "is_named"),
    [(150.0, 0.3, 0.3, True), (150.0, 0.3, 0.1, False), (80.0, 1.0, 0.0, False)],
)
def test_what_is_clear_beyond_the_far_limit_is_named_beside_it(
    distance_cm: float, comfortable: float, awkward: float, is_named: bool
) -> None:
    shares = {"comfortable_share": comfortable, "awkward_share": awkward}
    told = shown_so(distance_cm, **shares, sees_to_cm=90.0)
    assert f"up to about {length(90.0)}" in told.limits[0]
    assert (told.looks[0].target in told.limits[0].lower()) is is_named
    assert "look as we say above" in told.limits[0] or not is_named


def test_the_sheet_says_what_issue_and_record_ask_for() -> None:
    text = " ".join(said_on(sheet(move=MOVE)))
    for words in (
        "Point your nose",
        "both hands",
        "16 January 2030",
        "13 February 2030",
        "7 cm lower and tilted 5° back.",
        "the same day",
    ):
        assert words in text
    assert "It will not be clear" in " ".join(said_on(sheet("sv_computer")))


def test_a_move_that_does_not_come_first_is_not_on_the_sheet() -> None:
    assert sheet(move=MOVE.model_copy(update={"put_first": False})).desk is None
    assert sheet(move=MOVE).desk is not None


PROMISES = re.compile(r"pain.free|less pain|no more|relie|cure|heal|neck|ache|guarantee", re.I)


@pytest.mark.parametrize("name", KINDS)
def test_no_promise_of_less_pain(name: str) -> None:
    assert not PROMISES.search(" ".join(said_on(sheet(name))))
    assert all(not PROMISES.search(row["text"]) for row in tables.rows("wearer_sheet"))


def test_the_sheet_holds_no_power() -> None:
    assert not re.search(r"[+-]\d|diopt|\bD\b", " ".join(said_on(sheet())))


# --- the letter ------------------------------------------------------------------------------


def test_the_letter_tells_each_pair_owned_with_its_own_powers() -> None:
    content = strong()
    eye = {"sphere_d": -6.0, "add_d": 1.5}
    content["owned_pairs"] = [
        {"kind": "general_progressive", "liked": False},
        {"kind": "sv_near", "prescription": {"right": eye, "left": {"sphere_d": -5.5}}},
    ]
    content["wearer"]["chart_distance_m"] = 4
    case, result = answered(json.dumps(content))
    told = {one.id: one.lines for one in letter_fields(case=case, result=result)}
    assert told["present_pair"] == ("general progressive; not liked",)
    assert told["other_pairs"] == (
        "single-vision near; made to right -6.00 DS add +1.50, left -5.50 DS",
    )
    assert "Distance of the test chart 4 m" in told["prescription"]
    plain, result = answered(json.dumps(strong()))
    ids = {one.id: one.lines for one in letter_fields(case=plain, result=result)}
    assert "other_pairs" not in ids
    assert not any("chart" in line for line in ids["prescription"])


def test_the_letter_says_what_of_the_desk_nobody_measured_and_what_is_beside() -> None:
    content = strong()
    content["targets"][0]["offset_cm"] = 20
    content["origin"] = {"/targets/0/top_above_eye_cm": "assumed"}
    case, result = answered(json.dumps(content))
    (desk,) = (one for one in letter_fields(case=case, result=result) if one.id == "desk")
    measured, beside, assumed = desk.lines[0].split(", ")
    assert beside == "20 cm to the wearer's right"
    assert assumed.startswith("top edge ")
    assert [one.endswith(" (assumed)") for one in (measured, beside, assumed)] == [0, 0, 1]


def test_the_letter_says_that_the_powers_are_compensated() -> None:
    case, result = answered(json.dumps(strong()))
    found = {}
    for vertex_mm in (12.0, None):
        details = STRONG_DETAILS if vertex_mm else {}
        made = order(strong(), details=details)
        fields = letter_fields(case=case, result=result, order=made)
        found[vertex_mm] = next(one.lines for one in fields if one.id == "derived")
    assert all("Do you agree to these powers?" in lines[-1] for lines in found.values()), (
        "with them"
    )
    assert found[12.0][-2] == (
        "Compensated from the vertex distance of the test, 12 mm, to that of the frame, 13 mm."
    )
    assert not any("ompensated" in line for line in found[None])


def test_only_the_ticked_fields_are_in_the_letter() -> None:
    case, result = answered(json.dumps(strong()))
    fields = letter_fields(case=case, result=result, order=order(strong(), details={}))
    assert {"prescription", "desk", "needs", "derived", "conditions", "questions"} <= {
        one.id for one in fields
    }
    assert ticked(fields, chosen=[]) == ()
    assert [one.id for one in ticked(fields, chosen=["needs", "desk"])] == ["desk", "needs"]
    with pytest.raises(InputRefusedError, match="letter"):
        ticked(fields, chosen=["name"])
    asked = next(one for one in fields if one.id == "questions")
    assert say("topic_neck_disease") in " ".join(asked.lines)
    assert not any("disease" in line for field in fields for line in field.lines), "nobody said so"
