"""The interview page, run without a browser, against an invented result: what a person reads."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from app.form import compute
from app.shell import drafts, words
from engine.case.model import Case
from engine.case.results import Change, MeasureNext, MoveResult, Recommendation, Result, Told
from engine.errors import InputRefusedError
from tests.invented_result import invented_result
from tests.pages import field, markup, opened, pressed, typed, whole, widget

pytestmark = pytest.mark.usefixtures("invented_answers")


def example() -> AppTest:
    """The page with the invented wearer."""
    return pressed(opened(), "Load an invented wearer")


def test_the_empty_page_asks_for_the_age_and_shows_no_figures():
    page = opened()
    assert "Type the age and the add" in markup(page)
    assert "main screen is 68 cm away&#44; its centre 15 cm below" in markup(page)
    assert not page.get("vega_lite_chart")


def test_the_first_answer_needs_only_the_age():
    page = typed(opened(), **{"Age (years)": "54"})
    assert "Office lens for the " in markup(page)
    assert "<strong>6.3</strong> of 7 h comfortable" in markup(page)
    assert '<span class="lg-verdict">choice&#58; firm</span>' in markup(page)
    assert "8 times in 10 between 5&#46;7 and 6&#46;9" in markup(page)


def test_measured_and_assumed_values_are_counted():
    page = typed(opened(), **{"Age (years)": "54"})
    before = markup(page)
    assert "1 measured&#44; 16 assumed" in before
    page = typed(page, **{"Distance (cm)": "65,5", "Hours a day": "6"})
    assert "3 measured&#44; 14 assumed" in markup(page)
    assert "<strong>5.4</strong> of 6 h comfortable" in markup(page)


def test_an_assumed_value_is_shown_in_the_field_and_marked():
    page = opened()
    assert field(page, "Distance (cm)").placeholder == "68 assumed"


def test_the_example_is_read_with_its_bars_and_its_text():
    page = example()
    chart = page.get("vega_lite_chart")[0].proto
    assert "office lens: 5.4 h comfortable, 0.6 h awkward, 0 h blurred, 0 h not served" in chart.alt
    assert "general progressive: 2.7 h comfortable, 3.3 h awkward" in chart.alt
    assert "10 measured&#44; 20 assumed" in markup(page)


def _kinds(page: AppTest) -> list:
    """The lists of the pairs owned, the one worn at the desk first."""
    labels = ("Glasses worn at the desk today", "Kind of lens")
    return [one for one in page.selectbox if one.label in labels]


def test_a_further_pair_is_asked_for_once_the_last_one_is_named():
    page = opened()
    assert len(_kinds(page)) == 1
    assert page.selectbox[0].label == "Glasses worn at the desk today"
    for named in (1, 2, 3):
        kinds = _kinds(page)
        assert len(kinds) == named
        kinds[-1].set_value("sv_near").run()
        whole(page)
        liked = [one for one in page.radio if one.label == "Is it liked?"]
        assert [one.value for one in liked] == [""] * named
    assert len(_kinds(page)) == 3
    turned = widget(page, "radio", "To look sideways the wearer turns")
    assert turned.options == ["not known", "the head", "the eyes"]
    assert field(page, "Distance of the test chart (m)").placeholder == "6 assumed"


def test_choosing_another_lens_redraws_the_picture_and_the_table():
    page = example()
    assert "chin 10° up" not in markup(page)
    look = widget(page, "radio", "Look through")
    look.set_value("general_progressive").run()
    whole(page)
    assert "chin 10° up" in markup(page)
    assert "add &#43;2&#46;00&#44; corridor 11 mm" in markup(page)


def test_one_click_takes_a_plan_as_good_and_line_picture_and_cautions_follow_it():
    page = example()
    assert "as good&#58; single&#45;vision computer" in markup(page)
    assert "Invented caution" in markup(page)
    look = widget(page, "radio", "Look through")
    assert look.value == "office"
    page = pressed(page, "Take single-vision computer")
    assert "Single&#45;vision computer for the " in markup(page)
    assert '<span class="lg-verdict">your choice</span>' in markup(page)
    assert "<strong>4.8</strong> of 6 h comfortable" in markup(page)
    look = widget(page, "radio", "Look through")
    assert look.value == "sv_computer"
    assert "Invented caution" not in markup(page)
    assert widget(page, "button", "Take single-vision computer").disabled
    page = pressed(page, "Back to the recommended plan: office lens")
    assert "Office lens for the " in markup(page)
    assert "Invented caution" in markup(page)


def test_a_lens_only_looked_through_changes_picture_and_cautions_and_takes_no_plan():
    page = example()
    widget(page, "radio", "Look through").set_value("general_progressive")
    whole(page.run())
    assert "Invented caution" not in markup(page)
    assert "Office lens for the " in markup(page)
    page = typed(page, **{"Age (years)": "55"})
    assert widget(page, "radio", "Look through").value == "general_progressive"


def test_a_free_move_and_what_to_measure_are_said_where_the_answer_has_them(monkeypatch):
    def moves(case: Case, **_more: object) -> Result:
        said = invented_result(case).recommendation
        free = MoveResult(
            target="main screen",
            change=Change(up_cm=-9.0),
            plan="sv_computer",
            before_h=2.0,
            after_h=5.1,
            put_first=True,
            text="invented pair: 5.1 of 6 h instead of 2, with the screen lower.",
        )
        tape = MeasureNext(
            field="targets.0.tilt_deg",
            worth_h=0.3,
            turns_at=None,
            unit="deg",
            assumed=True,
            text="Measure the invented tilt.",
        )
        update = {
            "moves": (free,),
            "measure_next": (tape,),
            "plan": "sv_computer",
            "put_first_by": "free_move",
            "as_good": (),
        }
        recommendation = said.model_copy(update=update)
        return invented_result(case).model_copy(update={"recommendation": recommendation})

    monkeypatch.setattr(compute, "answer", moves)
    page = example()
    assert '<b class="lg-say">Lower the main screen by 9 cm' in markup(page)
    assert "<strong>5.1</strong> of 6 h comfortable" in markup(page)
    assert "<b>Next:</b> Measure the invented tilt" in markup(page)
    page = pressed(page, "Take office lens")
    assert "Office lens for the " in markup(page)


def test_without_an_add_from_forty_on_the_line_asks_for_it(monkeypatch):
    def none(case: Case, **_more: object) -> Result:
        why = Told(id="no_add", text="The add is not known: ask for it.")
        recommendation = Recommendation(plan=None, verdict="not_computed", reasons=(why,))
        return invented_result(case).model_copy(update={"recommendation": recommendation})

    monkeypatch.setattr(compute, "answer", none)
    page = example()
    assert "The add is not known&#58; ask for it" in markup(page)
    assert "lg-stop" not in markup(page)
    assert "no recommendation" in markup(page)
    assert page.get("vega_lite_chart")
    names = {"Take office lens", "Take single-vision computer"}
    assert not names & {one.label for one in page.button}


def test_a_refused_value_is_named_and_the_last_answer_is_marked_out_of_date():
    page = typed(example(), **{"Age (years)": "540"})
    assert 'tabindex="-1">540 is too high&#46; Allowed&#58; 18 to 110 years' in markup(page)
    assert "out of date" in markup(page)
    assert "lg-old" in markup(page)
    assert "<strong>5.4</strong> of 6 h comfortable" in markup(page)
    page = typed(page, **{"Age (years)": "54"})
    assert "out of date" not in markup(page)
    assert "refused" not in markup(page)


def test_a_name_that_looks_like_an_image_is_refused_and_only_text():
    page = example()
    names = [one for one in page.text_input if one.label == "Name"]
    names[0].set_value("![x](http://example.invalid/x.png)")
    page.run()
    assert "Allowed&#58; " in markup(page)
    assert "](http" not in markup(page)


def test_a_refusal_of_the_engine_itself_is_named_beside_its_field(monkeypatch):
    def refuses(case: Case, **_more: object) -> Result:
        raise InputRefusedError(
            field="targets.0.distance_cm", value=case.targets[0].distance_cm, allowed="another"
        )

    page = example()
    monkeypatch.setattr(compute, "answer", refuses)
    page = typed(page, **{"Age (years)": "55"})
    assert "65 cannot be used&#46; Allowed&#58; another" in markup(page)


def test_a_stop_takes_the_place_of_the_recommendation(monkeypatch):
    def stops(case: Case, **_more: object) -> Result:
        stop = Told(id="invented_stop", text="Send to an eye clinic today.")
        return invented_result(case).model_copy(update={"stops": (stop,)})

    monkeypatch.setattr(compute, "answer", stops)
    page = example()
    assert "Send to an eye clinic today" in markup(page)
    assert "lg-stop" in markup(page)
    assert "Office lens for the " not in markup(page)
    assert not page.get("vega_lite_chart")


def test_a_reload_loses_nothing():
    page = typed(opened(), **{"Age (years)": "61", "Distance (cm)": "71"})
    token = page.query_params["draft"]
    again = opened(draft=token[0] if isinstance(token, list) else token)
    assert field(again, "Age (years)").value == "61"
    assert field(again, "Distance (cm)").value == "71"
    assert "Office lens for the " in markup(again)


def test_a_second_window_is_told_and_its_answers_do_not_overwrite():
    first = typed(opened(is_unfolded=False), **{"Age (years)": "61"})
    token = first.query_params["draft"]
    token = token[0] if isinstance(token, list) else token
    second = typed(opened(draft=token, is_unfolded=False), **{"Age (years)": "62"})
    assert words.DRAFT_CHANGED not in markup(second)
    first = typed(first, **{"Age (years)": "63"})
    assert words.DRAFT_CHANGED in markup(first)
    assert drafts.BOOK.find(token).values["wearer.age_years"] == "62"
    first = pressed(first, words.SHOW_THEIRS)
    assert field(first, "Age (years)").value == "62"
    first = typed(first, **{"Age (years)": "64"})
    second.run()
    assert words.DRAFT_CHANGED in markup(second)
    second = pressed(second, words.KEEP_MINE)
    assert drafts.BOOK.find(token).values["wearer.age_years"] == "62"


def test_deleted_answers_are_gone():
    page = example()
    token = page.query_params["draft"]
    token = token[0] if isinstance(token, list) else token
    page = pressed(page, words.DELETE_ANSWERS)
    assert drafts.BOOK.find(token) is None
    assert field(page, "Age (years)").value == ""
    assert "Type the age and the add" in markup(page)
    assert any(words.DRAFT_DELETED in one.value for one in page.info)
    page.run()
    assert any(words.DRAFT_DELETED in one.value for one in page.info), "nobody could read it"
    page = typed(page, **{"Age (years)": "54"})
    assert not any(words.DRAFT_DELETED in one.value for one in page.info)
    gone = opened(draft=token, is_unfolded=False)
    assert any(words.DRAFT_EXPIRED in one.value for one in gone.info)


def test_something_looked_at_can_be_added_and_taken_away():
    page = typed(opened(), **{"Age (years)": "54"})
    adder = widget(page, "selectbox", "Add another task")
    adder.set_value("phone").run()
    whole(page)
    assert any(one.placeholder == "phone assumed" for one in page.text_input)
    looking = widget(page, "selectbox", "Show in the picture")
    assert looking.options == ["main screen", "phone"]
    page = pressed(page, "Take away")
    assert not any(one.placeholder == "phone assumed" for one in page.text_input)


def on_the_desk(page: AppTest):
    """The list of what is on the desk."""
    return widget(page, "multiselect", "What is on the desk?")


def test_what_is_on_the_desk_is_put_there_by_one_list_and_keeps_its_measures():
    page = typed(opened(), **{"Age (years)": "54"})
    assert on_the_desk(page).options == ["second screen", "papers", "phone or tablet", "visitor"]
    assert on_the_desk(page).value == []
    on_the_desk(page).set_value(["papers", "second_screen", "visitor"]).run()
    whole(page)
    looking = widget(page, "selectbox", "Show in the picture")
    assert looking.options == ["main screen", "papers", "second screen", "visitor"]
    sideways = [one for one in page.text_input if one.label.startswith("Sideways")]
    assert [one.placeholder for one in sideways] == [
        "0 assumed", "0 assumed", "55 assumed", "0 assumed",
    ]  # fmt: skip
    sideways[2].set_value("-50")
    on_the_desk(page).set_value(["second_screen", "phone"]).run()
    whole(page)
    looking = widget(page, "selectbox", "Show in the picture")
    assert looking.options == ["main screen", "second screen", "phone"]
    assert [one.value for one in page.text_input if one.label.startswith("Sideways")] == [
        "", "-50", "",
    ]  # fmt: skip
    assert set(on_the_desk(page).value) == {"second_screen", "phone"}


def test_the_list_of_the_desk_follows_what_is_added_and_taken_away_below():
    page = example()
    assert on_the_desk(page).value == ["papers"]
    adder = widget(page, "selectbox", "Add another task")
    adder.set_value("tablet").run()
    whole(page)
    assert set(on_the_desk(page).value) == {"papers", "phone"}
    on_the_desk(page).set_value([]).run()
    whole(page)
    looking = widget(page, "selectbox", "Show in the picture")
    assert looking.options == ["main screen", "colleague"]
    page = pressed(page, "Take away")
    assert on_the_desk(page).value == []


def test_what_a_part_of_the_day_looked_at_can_be_taken_off_the_desk():
    page = example()
    looks = widget(page, "multiselect", "Looking at")
    looks.set_value(["papers"])
    page = typed(page, **{"Hours": "1"})
    assert len([one for one in page.text_input if one.label == "What"]) == 2, "the next part"
    on_the_desk(page).set_value([]).run()
    whole(page)
    assert on_the_desk(page).value == []


def test_a_fault_says_so_without_values(monkeypatch, capsys):
    def fails(case: Case, **_more: object) -> Result:
        raise ZeroDivisionError(f"secret age {case.wearer.age_years}")

    monkeypatch.setattr(compute, "answer", fails)
    page = opened()
    field(page, "Age (years)").set_value("54")
    page.run()
    assert any(words.FAULT in one.value for one in page.error)
    told = capsys.readouterr().err
    assert "fault ZeroDivisionError at test_app_interview.py:" in told
    assert "secret" not in told


def test_a_moved_screen_that_cannot_be_seen_is_a_sentence_and_no_fault(monkeypatch):
    def refused(*_args: object, **_more: object) -> None:
        raise InputRefusedError(field="targets.0.distance_cm", value=9, allowed="10 or more")

    monkeypatch.setattr("engine.desk.sight.held", refused)
    page = example()
    page.slider[0].set_value(5)
    whole(page.run())
    assert "10 or more" in markup(page)
