"""The Order page without a browser: its pieces, and the numbers a person reads on it."""

from __future__ import annotations

import html
import json
from collections import Counter
from datetime import date

import pytest
from streamlit.testing.v1 import AppTest

from app.draw import result_words
from app.form import case_of_answers, compute, pair_records, pdf, plan_taken, questions
from app.form.compute import Answer
from app.views.order import form as order_form
from app.views.order import orders, typed_order
from app.views.order import words as order_words
from engine.case.prescription import EyePrescription
from engine.collection.verify import EyeReading
from engine.files.case_json import case_content, case_from_json, case_to_json
from engine.order.lab_designs import LabDesign
from engine.order.types import Order, OrderDetails
from tests.invented_result import invented_result
from tests.orders import DETAILS, STRONG_DETAILS, answered, content, order, strong
from tests.pages import draft_of, field, opened, picked, pressed, said, typed, whole, widget

HOSTILE = "x![a](http://example.invalid/a)<img src=//example.invalid/b>"
TYPED = {
    "pd": "31/32.5",
    "wearer.near_test_distance_cm": "40",
    "fit.fitting_height_mm": "20/20.5",
    "fit.lens_width_mm": "52",
    "fit.bridge_mm": "18",
    "fit.lens_depth_mm": "34",
    "order.effective_diameter_mm": "55",
    "order.blank_diameter_mm": "75",
    "order.shape_trace": "sent",
    "order.lens_index": "1,6",
    "order.coating": "anti-reflective",
    "order.tint": "none",
    "order.remake_terms": "one remake within 60 days",
    "order.compensated_power_wanted": "yes",
    "order.office.power_authorised_by": "prescriber",
    "order.office.office_reference": "pupil_centre",
    "order.office.minimum_height_mm": "17",
}
"""Everything the invented wearer's office lens asks for."""
LIST = """design,kind,degressions_d,reference,minimum_height_mm,verification_power
Invented desk,office,1.00 1.25,lower_limbus,16,on_order
Invented other,office,9,lower_limbus,16,near
Invented third,office,1.00,chin,16,near
"""


pytestmark = pytest.mark.usefixtures("own_drafts", "answers_once")


def complete(**more) -> AppTest:
    """The Order page with a complete order."""
    return opened("order", {**questions.EXAMPLE, **TYPED, **more})


def downloads(page: AppTest) -> list[str]:
    return [one.proto.label for one in page.get("download_button")]


def unfolded(page: AppTest) -> list[str]:
    """The parts of the form that stand open."""
    parts = [one for one in page.expander if not one.label.startswith("Notes")]
    return [one.label for one in parts if one.proto.expanded]


# Typed texts.


def read(values, *, option="office", lab=()):
    design = answered(json.dumps(content()))[1].option(option).design
    return typed_order.read_details(values, option=option, design=design, lab=list(lab), usual={})


def test_typed_texts_are_the_details_of_the_order():
    details, refused = read(
        {**TYPED, "order.cylinder_form": "plus", "order.prescriber_agreed": True}
    )
    assert refused == {}
    assert details is not None
    assert (details.lens_index, details.effective_diameter_mm) == (1.6, 55.0)
    assert (details.office_reference, details.cylinder_form) == ("pupil_centre", "plus")
    assert (details.compensated_power_wanted, details.prescriber_agreed) == (True, True)
    assert details.refraction_vertex_mm is None


@pytest.mark.parametrize(
    ("name", "text", "allowed"),
    [
        ("order.refraction_vertex_mm", "4.9", "5 to 25 mm"),
        ("order.effective_diameter_mm", "91", "30 to 90 mm"),
        ("order.lens_index", "2.1", "1.4 to 2"),
        ("order.office.minimum_height_mm", "5", "6 to 50 mm"),
        ("order.office.reference_height_mm", "60", "6 to 50 mm"),
        ("order.lens_index", "high", "one number (1.4 to 2)"),
        ("order.coating", HOSTILE, "1 to 40 letters"),
        ("order.office.verification_right", "-0,5 x", "axis"),
    ],
)
def test_a_refused_detail_is_named_with_its_range(name, text, allowed):
    details, refused = read({**TYPED, name: text})
    assert details is None
    assert list(refused) == [name]
    assert allowed in refused[name].allowed


def test_limits_come_from_the_fields():
    assert typed_order.limits(OrderDetails, "minimum_height_mm").words == "6 to 50 mm"
    assert typed_order.limits(EyeReading, "add_d").words == "0 to 5 D"
    assert typed_order.limits(OrderDetails, "coating").words == ""


def test_what_is_of_one_lens_stays_with_that_lens():
    assert typed_order.widget("minimum_height_mm", "office") == "order.office.minimum_height_mm"
    assert typed_order.widget("tint", "office") == "order.tint"
    other = read(TYPED, option="general_progressive")[0]
    assert other is not None
    assert (other.minimum_height_mm, other.tint) == (None, "none")


def test_a_laboratorys_list_survives_the_draft_and_nonsense_is_none():
    design = LabDesign("Invented desk", "office", (0.75, 1.0), "lower_limbus", 16.0, "on_order")
    rows = json.loads(json.dumps(typed_order.lab_rows([design])))
    assert typed_order.lab_designs(rows) == [design]
    assert typed_order.lab_designs([{"design": 1}]) == []
    assert typed_order.lab_designs(None) == []
    found = read({**TYPED, "order.office.lab_design": "Invented desk"}, lab=[design])[0]
    assert found is not None
    assert found.lab_design == design


# The order.


def test_the_recommended_lens_stands_first_and_what_is_worn_is_not_ordered():
    _, result = answered(json.dumps(content()))
    names = [one.option for one in orders.orderable(result, plan=result.chosen)]
    worn = orders.options_of(result.chosen)
    assert names[: len(worn)] == worn
    # Another plan that was taken puts its lens first.
    taken = next(plan for plan in result.plans if plan.plan not in worn and plan.new_pairs == 1)
    first = orders.orderable(result, plan=taken)[0]
    assert first.option in orders.options_of(taken)
    assert "present_pair" not in names
    assert "unaided" not in names


def test_another_design_carries_its_own_numbers():
    case, result = answered(json.dumps(content()))
    option = result.option("office")
    found = orders.designs(option)
    first, *others = found
    assert found[first] == option.design
    assert others == sorted(others)
    assert len(others) > 2
    other = option.equivalent_designs[0]
    made = orders.made_option(case, option, other)
    assert made.design == other
    assert made.targets != option.targets
    # Designs called as good are chosen on the first quarter of the draws: half an hour over all of
    # them is the widest that may stand in the list.
    assert abs(made.comfortable_h - option.comfortable_h) <= 0.5
    far = {one.id: one.values for one in made.cautions}.get("office_far_limit")
    assert far is not None
    assert orders.made_option(case, option, option.design) is option


def test_another_design_is_computed_once_for_a_page():
    case, result = answered(json.dumps(content()))
    option = result.option("office")
    kept: dict = {}
    made = orders.made_option(case, option, option.equivalent_designs[0], kept=kept)
    again = orders.made_option(case, option, option.equivalent_designs[0], kept=kept)
    assert again is made
    third = option.equivalent_designs[1]
    assert orders.made_option(case, option, third, kept=kept).design == third


def test_eyes_that_were_only_assumed_are_never_ordered():
    case = case_of_answers.ask({**questions.EXAMPLE, "prescription": "+2.00"}).case
    assert case is not None
    _, result = answered(case_to_json(case))
    details = OrderDetails.model_validate(DETAILS)
    found = orders.order_of(
        case=case, result=result, option="office", details=details, reference="A1"
    )
    assert found.missing[0].field == "wearer.right.sphere_d"
    assert not found.complete
    assert found.label == "A1"


def test_rows_stand_right_before_left_with_sign_decimals_and_axis():
    made = order(strong(), details=STRONG_DETAILS)
    rows = {row[0]: row[1:] for row in order_words.eye_rows(made, targets=True)}
    assert rows["Prescribed, for reference"] == [
        "-6.50 -1.25 x 010 prism 2.00 base up add +2.00",
        "-6.50 -1.25 x 170 add +2.00",
    ]
    assert rows["Degression (D)"] == [f"{made.design.degression_d:.2f}"] * 2
    assert rows["Monocular centration distance (mm)"] == ["31.0", "32.5"]
    assert rows["Fitting height (mm)"][0] == "20.0 to the pupil centre, level gaze"
    # Box: (52 + 18) / 2 = 35, so 4.0 and 2.5 inward; 20 - 17 = 3.0 and 3.5 up.
    assert rows["Decentration in / up (mm)"] == ["+4.0 / +3.0", "+2.5 / +3.5"]
    # Effective diameter + twice the distance moved + 2: 55 + 10 + 2, 55 + 2 x 4.30 + 2.
    assert rows["Minimum uncut diameter (mm)"] == ["67.0", "65.6"]
    name = next(name for name in rows if name.startswith("Vertex-compensated, 1"))
    assert name == "Vertex-compensated, 12 to 13 mm"
    # -6.50 moved 1 mm farther from the eye: 6.5 / (1 - 0.0065) = 6.54.
    assert rows[name][0].startswith("-6.54 ")


def test_frame_rows_say_measured_or_default():
    found = content()
    found["origin"]["/fit/vertex_mm"] = "default"
    rows = {row[0]: row[1:] for row in order_words.frame_rows(order(found))}
    assert rows["Vertex distance"] == ["13 mm", "default"]
    assert rows["Pantoscopic tilt"] == ["9°", "measured"]


# Keeping.


def kept_example() -> tuple[Answer, Order, dict]:
    answers = {**questions.EXAMPLE, **TYPED}
    case = case_of_answers.ask(answers).case
    assert case is not None
    _, result = answered(case_to_json(case))
    details, _ = read(answers)
    assert details is not None
    made = orders.order_of(
        case=case,
        result=result,
        option="office",
        details=details.model_copy(update={"design": None}),
        reference="A1",
    )
    found = orders.with_order(answers, order=made, case=case, today=date(2030, 1, 2))
    return Answer(case, result), made, found


def test_a_kept_order_comes_back_from_a_file_as_it_was():
    answer, made, found = kept_example()
    case = answer.case.model_copy(update={"extensions": found})
    again = case_from_json(case_to_json(case))
    kept = orders.kept_order(again)
    assert kept is not None
    assert (kept.order, kept.kept_on, kept.same_case) == (made, "2 January 2030", True)
    other = again.model_copy(update={"wearer": again.wearer.model_copy(update={"age_years": 60.0})})
    changed = orders.kept_order(other)
    assert changed is not None
    assert not changed.same_case


def test_an_order_kept_with_the_earlier_word_for_the_power_fall_comes_back():
    found = content()
    found["present_pair"] = {"kind": "office", "design": {"power_fall": "quick"}}
    case, result = answered(json.dumps(found))
    made = orders.order_of(
        case=case, result=result, option="office", details=OrderDetails(), reference="A1"
    )
    name = typed_order.widget("design", "office")
    chosen = result_words.design_words(result.option("office"))
    kept = orders.with_order({name: chosen}, order=made, case=case, today=date(2030, 1, 2))
    text = json.dumps({**case_content(case), "extensions": kept})
    fall = made.design.power_fall
    old = {"slow": "desk", "quick": "room"}
    text = text.replace('"power_fall": "quick"', '"shape": "room"')
    text = text.replace(f'"power_fall": "{fall}"', f'"shape": "{old[fall]}"')
    text = text.replace(f"power falls {fall}ly", f"shape {old[fall]}")
    assert "power_fall" not in text
    assert "power falls" not in text
    again = case_from_json(text)
    back = orders.kept_order(again)
    assert back is not None
    assert (back.order, back.same_case) == (made, True)
    values = {case_of_answers.EXTENSIONS: again.extensions}
    assert orders.typed_before(values, pair_records.ORDER) == {name: chosen}


def test_the_answer_stays_when_only_foreign_data_changes():
    answer, _, found = kept_example()
    kept = {"answer": answer, "tested": None}
    orders.rekeyed(kept, found)
    case = case_of_answers.ask(
        {**questions.EXAMPLE, **TYPED, case_of_answers.EXTENSIONS: found}
    ).case
    assert case is not None
    assert kept["answer"].case == case
    assert kept["answer"].result.case_digest == case.digest()
    assert kept["answer"].result.options == answer.result.options


def test_damaged_foreign_data_is_no_order():
    answer, _, found = kept_example()
    for bad in (1, {}, {"order": {}}, {**found[pair_records.ORDER], "order": {"label": "x"}}):
        case = answer.case.model_copy(update={"extensions": {pair_records.ORDER: bad}})
        assert orders.kept_order(case) is None
    empty = {case_of_answers.EXTENSIONS: {pair_records.ORDER: {"typed": [1]}}}
    assert orders.typed_before(empty, pair_records.ORDER) == {}


def test_only_the_chosen_design_of_a_list_is_kept():
    rows = [{"design": "a"}, {"design": "b"}]
    values = {
        "order.lab": rows,
        "order.office.lab_design": "b",
        "order.letter.age": True,
        "pd": "3",
    }
    found = orders.typed_under(values, pair_records.ORDER)
    assert found == {"order.lab": [{"design": "b"}], "order.office.lab_design": "b"}


# The page.


def test_without_a_case_it_says_where_to_begin():
    page = opened("order", {})
    assert "Type the age and the add in the Interview first" in said(page)
    assert not downloads(page)


def test_the_invented_wearer_lacks_eighteen_things_each_named():
    page = opened("order", questions.EXAMPLE)
    text = said(page)
    assert "Office lens: near +2.00, top +0.75, power falls quickly 4.4 of 6 h comfortable" in text
    assert "Not complete: 18 missing." in text
    assert "The reference of the fitting height of this design" in text
    assert "Pantoscopic tilt 9° default" in text
    assert "Order sheet, not complete" in downloads(page)
    assert field(page, "Vertex distance (mm)").placeholder == "13 assumed"


def test_a_complete_order_is_shown_in_full():
    text = said(complete())
    assert "Complete." in text
    assert "missing" not in text
    for line in (
        "lens right left Prescribed, for reference +0.50 DS add +2.00 +0.50 DS add +2.00",
        "Near (distance + add) +2.50 DS +2.50 DS",
        "Top of the lens (not on the prescription) +1.25 DS +1.25 DS",
        "Monocular centration distance (mm) 31.0 32.5",
        "Near centration for papers, 42 cm (mm) 29.1 30.5",
        "Fitting height (mm) 20.0 to the pupil centre, level gaze 20.5 to the pupil centre",
        "Vertex distance 13 mm default",
        "Boxed lens width A 52 mm measured",
        "Right height 20.0 mm, at least 17.0 mm holds",
        "Boxed lens height 34 mm, at least 25 mm holds",
        "Right uncut diameter 75.0 mm, minimum 67.0 mm holds",
        "Power not on the prescription, authorised by: the prescriber",
        "Power fall: quickly, over 22 mm: from 17 mm below the pupil centre to 5 mm above it",
        "Cylinder form: minus",
        "so not for driving, cycling",
    ):
        assert line in text, line


def test_a_failing_check_keeps_it_from_being_complete():
    text = said(typed(complete(), **{"Uncut diameter": "66", "Minimum fitting height": "20.4"}))
    assert "Not complete: 2 failing." in text
    assert "Right height 20.0 mm, at least 20.4 mm fails" in text
    assert "Left height 20.5 mm, at least 20.4 mm holds" in text
    assert "Right uncut diameter 66.0 mm, minimum 67.0 mm fails" in text
    assert "Left uncut diameter 66.0 mm, minimum 65.6 mm holds" in text


def test_the_height_of_an_office_lens_is_never_assumed():
    page = picked(complete(), "Height is measured to", "")
    within = Counter(one.label for column in page.columns for one in column.selectbox)
    assert within["Height is measured to"] == within["Lens to order"], "half a phone cuts it"
    assert "ask the laboratory for its reference" in said(page)
    assert "Not complete: 1 missing." in said(page)
    page = picked(page, "Height is measured to", "lower_limbus")
    assert "The right height to the lower limbus" in said(page)
    page = typed(page, **{"Height R/L, lower limbus": "15/15,5"})
    assert "15.0 to the lower limbus, level gaze" in said(page)
    page = picked(page, "Height is measured to", "box_centre")
    assert "17.0 to the centre line of the box" in said(page)


def test_a_refused_value_is_named_and_the_last_order_stays_without_sheets():
    page = typed(complete(), **{"Refractive index": "3"})
    alerts = [one.value for one in page.markdown if 'role="alert"' in one.value]
    assert any("3 is too high&#46; Allowed&#58; 1&#46;4 to 2" in one for one in alerts)
    text = said(page)
    assert "Out of date" in text
    assert "Index: 1.6" in text
    assert "then the sheets can be saved" in text
    assert not [one for one in downloads(page) if "sheet" in one]
    assert widget(page, "button", "Keep this order").disabled
    page = typed(page, **{"Refractive index": "1.5"})
    assert "Index: 1.5" in said(page)
    assert "Out of date" not in said(page)


def test_who_comes_back_to_a_refused_value_finds_its_part_open_and_its_name_in_view():
    page = complete(**{"order.lens_index": "9"})
    parts = {one.label: one.proto.expanded for one in page.expander}
    assert parts["Making"]
    assert not parts["Powers"]
    line = next(one.value for one in page.markdown if "lg-answer" in one.value)
    assert "Refractive index: 9 is too high. Allowed: 1.4 to 2" in html.unescape(line)
    assert 'href="#at-order-lens_index"' in line


def test_a_measure_of_the_old_pair_is_refused_before_its_powers_are_typed():
    page = complete(**{"order.old.pd": "abc", "order.old.pantoscopic_deg": "x"})
    assert "abc cannot be used. Allowed: one number (20 to 42 mm)" in said(page)
    assert "x cannot be used. Allowed: one number (" in said(page)


def test_a_refused_measure_of_the_case_is_named_beside_its_field():
    page = typed(complete(), **{"Boxed lens height": "14"})
    assert "14 is too small. Allowed: 15 to 70 mm" in said(page)
    assert "Boxed lens height B 34 mm measured" in said(page)
    assert "out of date" in said(page)


def test_a_hostile_text_stays_text():
    page = typed(complete(), **{"Coating": HOSTILE, "Reference": HOSTILE})
    pieces = [one.value for one in page.markdown]
    assert sum('role="alert"' in one for one in pieces) == 2
    assert not [one for one in pieces if "](http" in one or "<img" in one]


def test_an_answer_without_an_add_orders_nothing_and_says_why():
    answers = {**questions.EXAMPLE, **TYPED, "prescription": ""}
    page = opened("order", answers)
    assert "no add is known, and none is ordered" in said(page)
    assert "No order can be made from this answer" in said(page)
    assert not downloads(page)
    assert "DS" not in said(page)


def test_a_stop_orders_nothing_and_says_why():
    page = complete(**{"wearer.conditions": ["sudden_sight_loss"]})
    assert "No order can be made from this answer" in said(page)
    assert "emergency" in said(page).lower()
    assert not downloads(page)
    assert "+2.50" not in said(page)


def test_another_lens_is_another_order():
    page = picked(complete(), "Lens to order", "general_progressive")
    text = said(page)
    assert "General progressive: add +2.00, corridor 11 mm" in text
    assert "Distance +0.50 DS +0.50 DS" in text
    assert "Right height 20.0 mm, at least 15.0 mm holds" in text
    assert "corridor + 4 mm" in text
    assert "Complete." in text


def test_the_answer_chooses_until_a_person_does():
    page = complete()
    lens = widget(page, "selectbox", "Lens to order")
    assert lens.value == "office"
    page = picked(page, "Lens to order", "sv_computer")
    page = typed(page, **{"Bridge": "17"})
    assert widget(page, "selectbox", "Lens to order").value == "sv_computer"


def test_the_order_follows_the_plan_taken_until_a_lens_is_chosen_by_hand(monkeypatch):
    monkeypatch.setattr(compute, "answer", invented_result)

    def lens(page: AppTest) -> str:
        return widget(page, "selectbox", "Lens to order").value

    assert lens(complete()) == "office"
    page = opened("order", {**questions.EXAMPLE, **TYPED, **plan_taken.taking("sv_computer")})
    assert lens(page) == "sv_computer"
    assert "The plan taken in the Interview: single-vision computer." in said(page)
    page = typed(picked(page, "Lens to order", "general_progressive"), **{"Bridge": "17"})
    assert lens(page) == "general_progressive"


def test_a_laboratorys_list_names_what_is_wrong_and_is_used():
    page = complete()
    page.file_uploader[0].set_value(("list.csv", LIST.encode(), "text/csv"))
    whole(page.run())
    text = said(page)
    assert "Usable designs: 1." in text
    assert "3 degressions_d 9 0.25 to 4.00 each" in text
    assert "4 reference chin pupil_centre, lower_limbus or box_centre" in text
    page = picked(page, "Design of the loaded list", "Invented desk")
    text = said(page)
    assert "Office lens, Invented desk." in text
    assert "The right height to the lower limbus" in text
    assert "The right verification power the laboratory states" in text
    texts = {
        "Height R/L, lower limbus": "15.8/16",
        "Verification power, right": "+2.50 DS",
        "Verification power, left": "+2.50",
    }
    text = said(typed(page, **texts))
    assert "Not complete: 1 failing." in text
    assert "Right height 15.8 mm, at least 16.0 mm fails" in text
    assert "Laboratory's verification power +2.50 DS +2.50 DS" in text


def test_a_list_with_another_header_is_refused_whole():
    page = complete()
    page.file_uploader[0].set_value(("list.csv", b"a,b\n1,2\n", "text/csv"))
    page.run()
    assert "The list was not loaded. Header: a, b cannot be used. Allowed: design," in said(
        whole(page)
    )


def test_the_letter_holds_only_what_is_ticked():
    page = complete()
    assert "Letter to the prescriber" not in downloads(page)
    assert "Tick a line to get the letter" in said(page)
    widget(page, "checkbox", "Age").check()
    page.run()
    assert "Letter to the prescriber" in downloads(whole(page))


def test_order_and_letter_are_given_as_pdf_where_the_extra_is_there(monkeypatch):
    page = complete()
    widget(page, "checkbox", "Age").check()
    page.run()
    tagged = {"Order sheet (PDF)", "Letter to the prescriber (PDF)"}
    assert tagged <= set(downloads(whole(page)))
    monkeypatch.setattr(pdf, "is_there", lambda: False)
    page.run()
    assert not tagged & set(downloads(whole(page)))
    assert pdf.WANTED in said(page)


def test_the_order_is_kept_with_the_case_and_told():
    page = pressed(complete(), "Keep this order with the case")
    assert "Kept with the case on" in said(page)
    kept = draft_of(page).values[case_of_answers.EXTENSIONS][pair_records.ORDER]
    assert Order.model_validate(kept["order"]).eyes[0].powers[0].power == EyePrescription(
        sphere_d=2.5
    )
    page = typed(page, **{"Tint": "grey"})
    assert "Another order of pair 1 was kept" in said(page)


def test_the_part_that_lacks_something_stands_open_and_the_next_after_it():
    bare = opened(
        "order", {**questions.EXAMPLE, **TYPED, "fit.lens_width_mm": "", "order.tint": ""}
    )
    assert unfolded(bare) == [order_form.FRAME]
    page = typed(bare, **{"Boxed lens width": "52"})
    assert unfolded(page) == [order_form.FRAME, order_form.MAKING], "nothing folds under the hand"
    page.switch_page("views/interview/page.py").run()
    page.switch_page("views/order/page.py").run()
    assert unfolded(whole(page)) == [order_form.MAKING]
    assert unfolded(typed(page, **{"Tint": "none"})) == [order_form.MAKING]


def test_every_gap_of_an_order_belongs_to_a_part_of_the_form():
    made = order(strong(), details={})
    fields = {gap.field for gap in made.missing}
    laboratory = {one for one in fields if order_form.part_of(one) == order_form.LABORATORY}
    assert laboratory == {"office_reference", "minimum_height_mm"}


def test_which_pair_is_asked_only_where_there_are_two():
    page = complete()
    assert [one for one in page.radio if one.label == "Pair"] == []
    page = pressed(page, "Order a second pair too")
    assert widget(page, "radio", "Pair").value == "2"
    widget(page, "radio", "Pair").set_value("1").run()
    assert widget(whole(page), "radio", "Pair").value == "1"


def test_a_field_shared_with_the_interview_keeps_its_text_both_ways():
    page = typed(complete(), **{"Bridge": "17"})
    page.switch_page("views/interview/page.py")
    page.run()
    assert field(whole(page), "Bridge").value == "17"
    typed(page, **{"Bridge": "16"})
    page.switch_page("views/order/page.py")
    page.run()
    assert field(whole(page), "Bridge").value == "16"
    assert "Bridge DBL 16 mm measured" in said(page)
