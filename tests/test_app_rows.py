"""Rows of the day bars, the line in view, and a lens held while the desk changes."""

from __future__ import annotations

import pytest

from app.draw import result_words, side_view, svg
from app.form import case_of_answers, compute, plan_taken, questions
from app.views.interview import picture, rows
from engine import tables
from engine.case.model import OwnedPair
from engine.case.results import Change, MeasureNext, MoreHours, MoveResult
from engine.desk import sight
from engine.errors import InputRefusedError
from engine.wording import capital, say
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
    row = next(row for row in rows.first_look(case, result) if len(row.pairs) == 2)
    plan = result.plan(row.name)
    assert row.hours.by_grade() == plan.by_grade()
    (line,) = rows.worn_lines([row])
    assert "for rounds" in line
    assert "for desk" in line
    assert f"{plan.swaps} swap" in line
    assert "Cost" not in line
    # Whole bar: the four grades make up the day.
    (bar,) = rows.bars([row], chosen=row.name)
    assert abs(bar.day_h - case.day_h) <= 1e-9
    worn = {name: option.option for option, names in row.pairs for name in names}
    assert row.seen_through("main screen", case).option == worn["desk"]
    assert row.seen_through("colleague", case).option == worn["rounds"]


def test_prices_are_told_where_given_and_a_blank_is_not_zero():
    priced = case_of_answers.ask({**TWO_PARTS, "price.office": "250,50", "price.sv_near": "0"}).case
    assert priced.prices == {"office": 250.5, "sv_near": 0.0}
    result = compute.answer(priced)
    by_name = {row.name: row for row in rows.all_rows(priced, result)}
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


def _moved(text="invented pair: 5.1 of 6 h instead of 2, with the screen lower.") -> MoveResult:
    return MoveResult(target="main screen", change=Change(up_cm=-9.0), plan="general_progressive",
                      before_h=2.0, after_h=5.1, put_first=True, text=text)  # fmt: skip


def test_a_free_change_of_desk_takes_the_line(invented):
    case, result = invented
    said = _with(result, plan="general_progressive", moves=(_moved(),))
    line = result_words.recommendation_line(case, said)
    assert line.says == "Lower the main screen by 9 cm; buy nothing."
    assert len(line.says.split()) <= result_words.FIRST_WORDS
    named = _moved().model_copy(update={"target": " ".join("abcdefghijklmnopqrst")})
    line = result_words.recommendation_line(
        case, _with(result, plan="general_progressive", moves=(named,))
    )
    assert line.says.endswith("… by 9 cm; buy nothing."), "a long name does not push the move out"
    assert (line.comfortable_h, line.range_h) == (5.1, None)
    # A move that is not put first leaves the line to the plan.
    other = _moved().model_copy(update={"put_first": False})
    line = result_words.recommendation_line(case, _with(result, moves=(other,)))
    assert line.says == "Office lens for the 6 hours at the desk."


def test_the_line_never_has_more_than_twenty_words(two_parts):
    case, result = two_parts
    long = _moved().model_copy(update={"target": " ".join("abcdefghijklmnopqrst")})
    double = next(plan.plan for plan in result.plans if len(plan.pairs) == 2)
    for changes in ({}, {"moves": (long,)}, {"plan": double}):
        says = result_words.recommendation_line(case, _with(result, **changes)).says
        assert len(says.split()) <= result_words.LONGEST_LINE_WORDS, says
    assert says.startswith("Two pairs: ")


def test_a_red_flag_is_not_cut_before_what_makes_it_more_urgent():
    conditions = ("new_flashes_or_floaters", "painful_red_eye")
    said = [result_words._short(tables.by_id("cautions")[one]["text"]) for one in conditions]
    assert said[0].endswith("the same day, at once if sight is dimmer.")
    assert said[1].endswith("the same day, contact lenses out at once.")


@pytest.mark.parametrize(
    ("verdict", "word"), [("firm", "firm"), ("depends", "depends"), ("toss_up", "toss-up")]
)
def test_verdicts_in_words(invented, verdict, word):
    case, result = invented
    said = _with(result, verdict=verdict)
    assert result_words.recommendation_line(case, said).verdict == f"choice: {word}"
    first, numbers = result_words.sure_lines(said)
    assert first.lower().startswith(f"{word}: ")
    assert "Of 100 wearers and desks as uncertain as this, 5 " in numbers
    assert "costs 1 minute a day" in numbers
    provisional = said.model_copy(update={"provisional": True})
    assert result_words.recommendation_line(case, provisional).verdict == "provisional"


def test_what_to_measure_is_said_with_how(invented):
    _, result = invented
    assert result_words.next_lines(result) == []
    found = (
        MeasureNext(field="wearer.usable_accommodation_d", worth_h=0.3, turns_at=1.0, unit="D",
                    assumed=False, text="Measure it again."),
        MeasureNext(field="targets.0.tilt_deg", worth_h=0.2, turns_at=None, unit="deg",
                    assumed=True, text="Measure the tilt."),
    )  # fmt: skip
    lines = result_words.next_lines(_with(result, measure_next=found))
    how = result_words.HOW_TO_MEASURE["usable_accommodation_d"]
    assert lines == [f"Measure it again. {how}", "Measure the tilt."]


def test_the_pages_follow_the_plan_put_first_until_an_offered_one_is_taken(invented):
    _, result = invented
    held = plan_taken.taking("sv_computer")
    assert plan_taken.in_view(result, {}).plan == "office"
    assert plan_taken.in_view(result, held).plan == "sv_computer"
    assert plan_taken.in_view(result, plan_taken.taking("")).plan == "office"
    # Neither as good nor more hours any more: what was taken no longer stands.
    assert plan_taken.in_view(_with(result, as_good=()), held).plan == "office"
    more = MoreHours(plan="sv_computer", comfortable_h=5.0, more_h=1.0, new_pairs=1, text="More.")
    assert plan_taken.in_view(_with(result, as_good=(), more_hours=(more,)), held) is not None
    assert plan_taken.in_view(_with(result, plan=None, as_good=()), held) is None


def test_where_a_move_is_put_first_the_plan_for_the_desk_as_it_stands_can_be_taken(invented):
    _, result = invented
    said = _with(result, plan="general_progressive", moves=(_moved(),), as_good=())
    assert plan_taken.without_move(said) == "office"
    assert plan_taken.in_view(said, plan_taken.taking("office")).plan == "office"
    assert plan_taken.without_move(result) is None


def test_a_caution_names_its_lens(invented):
    _, result = invented
    lines = result_words.caution_lines(result, [result.option("office")])
    assert lines == ["Office lens: Invented caution: not for driving."]


def test_why_a_lens_is_left_out_is_a_sentence_and_never_an_id(two_parts):
    _, result = two_parts
    lines = result_words.reason_groups(result)[result_words.WHY_NOT]
    assert not any("_" in line for line in lines), lines
    office = result.option("office")
    assert office.excluded_by
    said = [say(f"excluded_{name}") for name in office.excluded_by]
    assert f"Office lens: {capital('; '.join(said))}." in lines


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
    pairs = rows.option_row(option, case, result).pairs
    there = sight.shifted(case, 0, up_cm=up, away_cm=away)
    found = sight.held(there, pairs, through=option, like=case)
    worn = OwnedPair(kind=option.kind, design=option.design)
    again = there.model_copy(update={"owned_pairs": (worn,)})
    solved = compute.answer(again).option("present_pair")
    assert abs(found.comfortable_h - solved.comfortable_h) <= 1e-9
    assert found.through.targets == solved.targets


def test_held_where_they_stand_lenses_give_the_hours_of_the_answer(two_parts):
    case, result = two_parts
    double = next(plan for plan in result.plans if len(plan.pairs) == 2)
    row = rows.plan_row(double, case, result)
    found = sight.held(case, row.pairs, through=row.options[0], like=case)
    assert abs(found.comfortable_h - double.comfortable_h) <= 1e-9
    assert found.through.targets == row.options[0].targets


def test_a_move_changes_only_its_own_fields_and_impossible_places_are_refused(two_parts):
    case, _ = two_parts
    target = case.targets[0]
    assert sight.shifted_fields(target, up_cm=-9, away_cm=0) == {"top_above_eye_cm": -4.0}
    assert sight.shifted_fields(target, up_cm=0, away_cm=3) == {"distance_cm": 68.0}
    low = sight.shifted(case, 0, up_cm=-60, away_cm=0)
    with pytest.raises(InputRefusedError, match="distance_cm"):
        sight.shifted(low, 0, up_cm=-10, away_cm=0)


def test_an_awkward_target_is_usable_but_not_sharp(invented):
    case, result = invented
    option = result.option("sv_distance")  # invented: a tenth comfortable, the rest awkward
    assert all(row.chin_up_deg is None for row in option.targets[0].rows)
    drawn = picture.pair_of_views(case, option, "main screen")
    assert side_view.NOT_SHARP in drawn
    assert side_view.NOT_CLEAR not in drawn
    lost = option.targets[0].model_copy(
        update={"comfortable_share": 0.0, "awkward_share": 0.0, "not_served_share": 1.0}
    )
    seen = option.as_measured.model_copy(update={"targets": (lost, *option.targets[1:])})
    gone = option.model_copy(update={"as_measured": seen})
    assert side_view.NOT_CLEAR in picture.pair_of_views(case, gone, "main screen")


def test_the_picture_holds_the_lens_against_the_pair_worn_today_or_the_head_left_free(two_parts):
    case, result = two_parts
    worn = OwnedPair(kind="general_progressive", design=result.option("general_progressive").design)
    owning = case.model_copy(update={"owned_pairs": (worn,)})
    found = compute.Answer(owning, compute.answer(owning))
    office, present = (found.result.option(name) for name in ("office", "present_pair"))
    assert picture.today_of(found, office) == present
    assert picture.today_of(found, present) is None
    name = owning.targets[0].name
    drawn = picture.pair_of_views(owning, office, name, today=present)
    assert drawn.count("<svg") == 2
    assert drawn.count(f">{svg.escaped(picture.TODAY)}</text>") == 2
    assert "Natural head position" not in drawn
    alone = picture.pair_of_views(owning, office, name)
    assert "Natural head position" in alone
    assert svg.escaped(picture.TODAY) not in alone


def test_where_no_lens_serves_the_line_says_so_and_the_reasons_are_why_none():
    typed = {"wearer.age_years": "55", "prescription": "2.00", "main.text_height_mm": "0.4"}
    case = case_of_answers.ask(typed).case
    result = compute.answer(case)
    line = result_words.recommendation_line(case, result)
    assert (line.verdict, line.stop, line.comfortable_h) == (result_words.NO_PLAN, False, None)
    assert line.says.startswith("No lens suits this day")
    groups = result_words.reason_groups(result)
    assert groups["Why none"][0] == line.says
    assert "Small text costs" in groups["Why none"][1]
    assert "Why this one" not in groups


def test_an_age_alone_from_forty_on_asks_for_the_add_and_still_has_rows_to_look_at():
    case = case_of_answers.ask({"wearer.age_years": "61", "main.distance_cm": "71"}).case
    result = compute.answer(case)
    assert result.recommendation.plan is None
    line = result_words.recommendation_line(case, result)
    assert (line.verdict, line.stop) == (result_words.NO_PLAN, False)
    assert line.says.startswith("Type the add")
    assert {row.name for row in rows.first_look(case, result)} == {"sv_distance", "unaided"}


def test_an_age_alone_under_forty_is_answered_and_provisional():
    case = case_of_answers.ask({"wearer.age_years": "31", "main.distance_cm": "71"}).case
    result = compute.answer(case)
    assert result.recommendation.plan is not None
    assert result_words.recommendation_line(case, result).verdict == "provisional"
