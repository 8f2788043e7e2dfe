"""Rows of the day bars, the line in view once tested, and a lens held while the desk changes."""

from __future__ import annotations

import pytest

from app.draw import result_words, side_view
from app.form import case_of_answers, compute, questions
from app.views.interview import lens_held, picture, rows
from engine.case.results import DependsOn, DeskFirst, Told
from engine.errors import InputRefusedError
from tests.invented_result import invented_result

TWO_PARTS = {
    **questions.EXAMPLE,
    "part0.name": "rounds",
    "part0.hours": "3",
    "part0.slots": ["other0"],
    "part0.needs": ["walking"],
}
"""The invented wearer, who also walks about for three hours."""


@pytest.fixture(scope="module")
def two_parts():
    case = case_of_answers.ask(TWO_PARTS).case
    return case, compute.answer(case)


def _with(result, **changes):
    said = result.recommendation.model_copy(update=changes)
    return result.model_copy(update={"recommendation": said})


@pytest.fixture
def invented():
    case = case_of_answers.ask(questions.EXAMPLE).case
    return case, invented_result(case)


def test_two_pairs_are_a_row_that_says_who_wears_what_when(two_parts):
    case, result = two_parts
    row = next(row for row in rows.first_look(result) if len(row.pairs) == 2)
    plan = next(plan for plan in result.plans if plan.plan == row.name)
    assert row.comfortable_h == plan.comfortable_h
    (line,) = rows.worn_lines([row])
    assert "for rounds" in line
    assert "for desk" in line
    assert f"{plan.swaps} swap" in line
    assert "Cost" not in line
    # Whole bar: comfortable, strained and not served make up the day.
    (bar,) = rows.bars([row], chosen=row.name)
    assert abs(bar.day_h - case.day_h) <= 1e-9
    worn = {name: option.option for option, names in row.pairs for name in names}
    assert row.seen_through("main screen", case).option == worn["desk"]
    assert row.seen_through("colleague", case).option == worn["rounds"]


def test_prices_are_told_where_given_and_a_blank_is_not_zero():
    priced = case_of_answers.ask({**TWO_PARTS, "price.office": "250,50", "price.sv_near": "0"}).case
    assert priced.prices == {"office": 250.5, "sv_near": 0.0}
    result = compute.answer(priced)
    by_name = {row.name: row for row in rows.all_rows(result)}
    assert by_name["office"].cost == 250.5
    assert by_name["sv_near"].cost == 0.0
    assert by_name["general_progressive"].cost is None
    lines = rows.worn_lines(list(by_name.values()))
    assert "Office lens: Cost 250.50." in lines
    assert "Single-vision near: Cost 0." in lines
    assert not any(line.startswith("General progressive:") for line in lines)


def test_a_price_is_not_counted_as_a_measure():
    plain, priced = (
        case_of_answers.ask({**questions.EXAMPLE, **more}) for more in ({}, {"price.office": "250"})
    )
    assert plain.counts == priced.counts
    refused = case_of_answers.ask({**questions.EXAMPLE, "price.office": "-1"}).refused
    assert "price.office" in refused


@pytest.mark.parametrize(
    ("field", "change_cm", "says"),
    [
        ("top_above_eye_cm", -9.0, "Lower the main screen by 9 cm: the present glasses then give "
         "5.1 of 6 h."),
        ("centre_above_eye_cm", 4.0, "Raise the main screen by 4 cm: the present glasses then "
         "give 5.1 of 6 h."),
        ("distance_cm", -7.0, "Move the main screen 7 cm nearer: the present glasses then give "
         "5.1 of 6 h."),
    ],
)  # fmt: skip
def test_a_free_change_of_desk_takes_the_line(invented, field, change_cm, says):
    case, result = invented
    move = DeskFirst(target="main screen", field=field, change_cm=change_cm,
                     option="present_pair", comfortable_h=5.1)  # fmt: skip
    line = result_words.recommendation_line(case, _with(result, desk_first=move))
    assert line.says == says
    assert line.comfortable_h == 5.1
    assert len(line.says.split()) <= result_words.LONGEST_LINE_WORDS


def test_the_line_never_has_more_than_twenty_words(two_parts):
    case, result = two_parts
    name = "a b c d e f g h i j k l m n o p q r"
    move = DeskFirst(target=name, field="distance_cm", change_cm=-7.0,
                     option="general_progressive", comfortable_h=5.1)  # fmt: skip
    double = next(plan.plan for plan in result.plans if len(plan.pairs) == 2)
    for changes in ({}, {"desk_first": move}, {"plan": double}):
        says = result_words.recommendation_line(case, _with(result, **changes)).says
        assert len(says.split()) <= result_words.LONGEST_LINE_WORDS, says
    assert says.startswith("Two pairs: ")


@pytest.mark.parametrize(
    ("verdict", "decides", "word"),
    [
        ("firm", None, "firm"),
        ("toss_up", None, "toss-up"),
        ("depends", DependsOn(field="x", turns_at=1.0, unit="D"), "depends on one measurement"),
        ("depends", None, "not firm"),
        ("not_computed", None, "not yet tested"),
    ],
)
def test_verdicts_in_words(invented, verdict, decides, word):
    case, result = invented
    said = _with(result, verdict=verdict, depends_on=decides)
    assert result_words.recommendation_line(case, said).verdict == word


def test_what_decides_a_tested_answer_is_asked_next(invented):
    _, result = invented
    assert result_words.next_words(result, assumed_paths=()) is None
    decides = DependsOn(field="targets.0.tilt_deg", turns_at=3.0, unit="deg")
    told = Told(id="turns_at", text="At 3 deg another plan would win.")
    said = _with(result, verdict="depends", depends_on=decides, what_would_change=(told,))
    assert result_words.next_words(said, assumed_paths=()) == "At 3 deg another plan would win."
    assumed = result_words.next_words(said, assumed_paths=("targets.0.tilt_deg",))
    assert assumed == "At 3 deg another plan would win. It is assumed so far."


def test_why_a_lens_is_left_out_is_a_sentence_and_never_an_id(two_parts):
    _, result = two_parts
    lines = result_words.reason_groups(result)[result_words.WHY_NOT]
    left_out = [line for line in lines if "is left out" in line]
    assert left_out
    assert not any("_" in line for line in left_out), left_out
    office = result.option("office")
    told = {one.id: one.text for one in office.cautions}
    assert office.excluded_by
    assert all(told[name] in " ".join(left_out) for name in office.excluded_by)


def test_designs_are_said_as_the_command_line_says_them(two_parts):
    _, result = two_parts
    assert result_words.design_words(result.option("office")).startswith("near +")
    assert "top +" in result_words.design_words(result.option("office"))
    assert "degression" not in result_words.design_words(result.option("office"))
    assert result_words.target_rows([result.option("office")])


def test_a_usable_share_of_the_amplitude_is_used():
    answers = {**questions.EXAMPLE, "wearer.amplitude_d": "4", "wearer.usable_fraction": "0,3"}
    case = case_of_answers.ask(answers).case
    assert case.wearer.usable_fraction == 0.3
    # 4 D through the eye, 0.3 of it, and (1 - 0.013 x 0.5)^2 for the lens: 1.18 D.
    assert abs(compute.answer(case).usable_accommodation_d.value - 1.184) <= 0.005


@pytest.mark.parametrize("chosen", [True, False])
def test_a_chosen_screen_has_a_measured_size(chosen):
    answers = {"wearer.age_years": "54", "main.preset_chosen": chosen}
    case = case_of_answers.ask(answers).case
    assert case.origin["/targets/0/diagonal_in"] == ("measured" if chosen else "assumed")


@pytest.mark.parametrize(("up", "away"), [(-9.0, 0.0), (0.0, -8.0), (6.0, 10.0)])
def test_a_held_lens_gives_what_the_engine_gives_for_the_pair_worn_at_that_desk(
    two_parts, up, away
):
    case, result = two_parts
    option = result.option("general_progressive")
    moved = lens_held.moved(case, 0, up_cm=up, away_cm=away)
    found = lens_held.held(moved, rows.option_row(option, result), looked_at="main screen")
    worn = {"kind": option.kind, "design": option.design.numbers()}
    again = type(case).model_validate(
        {**moved.model_dump(by_alias=True), "present_pair": worn, "origin": {}}
    )
    there = compute.answer(again).option("present_pair")
    assert abs(found.comfortable_h - there.comfortable_h) <= 1e-9
    assert found.through.targets == there.targets


def test_a_move_changes_only_its_own_fields_and_impossible_places_are_refused(two_parts):
    case, _ = two_parts
    target = case.targets[0]
    assert lens_held.moved_fields(target, -9, 0) == {"top_above_eye_cm": -4.0}
    assert lens_held.moved_fields(target, 0, 3) == {"distance_cm": 68.0}
    low = lens_held.moved(case, 0, up_cm=-30, away_cm=0)
    with pytest.raises(InputRefusedError, match="distance_cm"):
        lens_held.moved(lens_held.moved(low, 0, up_cm=-30, away_cm=0), 0, up_cm=-10, away_cm=0)


def test_a_strained_target_is_usable_but_not_sharp(invented):
    case, result = invented
    option = result.option("sv_distance")  # invented: a tenth comfortable, the rest strained
    assert all(row.chin_up_deg is None for row in option.targets[0].rows)
    drawn = picture.pair_of_views(case, option, "main screen")
    assert side_view.NOT_SHARP in drawn
    assert side_view.NOT_CLEAR not in drawn
    lost = option.targets[0].model_copy(
        update={"comfortable_share": 0.0, "strained_share": 0.0, "not_served_share": 1.0}
    )
    gone = option.model_copy(update={"targets": (lost, *option.targets[1:])})
    assert side_view.NOT_CLEAR in picture.pair_of_views(case, gone, "main screen")


def test_where_no_lens_serves_the_line_stops_and_the_reasons_are_why_none():
    typed = {"wearer.age_years": "55", "prescription": "2.00", "main.text_height_mm": "0.4"}
    case = case_of_answers.ask(typed).case
    result = compute.answer(case)
    line = result_words.recommendation_line(case, result)
    assert (line.verdict, line.stop, line.comfortable_h) == ("stop", True, None)
    assert line.says.startswith("No lens that may be recommended serves this day")
    groups = result_words.reason_groups(result)
    assert groups["Why none"] == [line.says]
    assert "Why this one" not in groups


def test_an_age_alone_has_rows_to_look_at_even_where_nothing_is_advised():
    case = case_of_answers.ask({"wearer.age_years": "61", "main.distance_cm": "71"}).case
    result = compute.answer(case)
    assert result.recommendation.plan == "sv_distance"
    assert result_words.recommendation_line(case, result).verdict == "provisional"
    assert [row.name for row in rows.first_look(_with(result, plan=None))] == ["sv_distance"]
