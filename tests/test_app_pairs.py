"""Two pairs for one wearer: neither takes anything of the other's, from the frame to acceptance."""

from __future__ import annotations

import json
from datetime import date
from types import SimpleNamespace

import pytest
from streamlit.testing.v1 import AppTest

from app.form import case_of_answers, pair_records, questions
from app.form.case_of_answers import EXTENSIONS
from app.form.typed import LOADED
from app.views.order import orders, pairs, typed_order, which
from engine.case.results import PairResult
from engine.collection.wearer_page import wearer_sheet
from engine.files.case_json import case_from_json, case_to_json
from tests.orders import answered, content
from tests.pages import draft_of, field, opened, picked, pressed, said, typed, whole, widget
from tests.test_app_order import TYPED, kept_example

FRAME_TWO = {
    "Fitting height": "22/22",
    "Boxed lens width": "54",
    "Bridge": "17",
    "Boxed lens height": "40",
}


pytestmark = pytest.mark.usefixtures("own_drafts", "answers_once")


def pair_two(page: AppTest) -> AppTest:
    second = [one for one in page.button if one.label == "Order a second pair too"]
    return pressed(page, second[0].label) if second else shown(page, "2")


def shown(page: AppTest, number: str) -> AppTest:
    widget(page, "radio", "Pair").set_value(number)
    return whole(page.run())


def test_pair_two_is_read_under_the_names_of_pair_one():
    values = {"pd": "31/32", "fit.lens_width_mm": "52", "order.tint": "grey", "order2.tint": "none"}
    values[LOADED] = {"fit.lens_width_mm": ["52", "at_home"], "pd": ["31/32", "at_home"]}
    found = pairs.of_pair(values, "2")
    assert found["pd"] == "31/32"
    assert found["order.tint"] == "none"
    assert "fit.lens_width_mm" not in found
    assert list(found[LOADED]) == ["pd"]
    assert pairs.of_pair(values, "1") == values


@pytest.mark.parametrize(
    ("lined_excluded", "leading"),
    [(("line_not_accepted",), "sv_computer"), ((), "bifocal_desk")],
)
def test_pair_two_starts_with_a_line_only_where_one_is_accepted(
    lined_excluded, leading, monkeypatch
):
    monkeypatch.setattr(which.state, "held", lambda _name: None)
    made = (("office", ()), ("bifocal_desk", lined_excluded), ("sv_computer", ()))
    choices = [SimpleNamespace(option=name, excluded_by=why) for name, why in made]
    assert which.leading(choices, "1") == "office"
    assert which.leading(choices, "2") == leading
    assert which.leading(choices[:2], "2") == "bifocal_desk"


def test_a_laboratorys_list_serves_both_pairs_until_the_second_has_its_own():
    first, second = [{"design": "a"}], [{"design": "b"}]
    assert pairs.of_pair({typed_order.LAB: first}, "2")[typed_order.LAB] == first
    both = {typed_order.LAB: first, "order2.lab": second}
    assert pairs.of_pair(both, "2")[typed_order.LAB] == second
    kept = orders.typed_under(
        {typed_order.LAB: first, "order2.office.lab_design": "a"}, pair_records.ORDERS["2"]
    )
    assert kept == {"order2.office.lab_design": "a", "order2.lab": first}


def test_the_frame_is_taken_over_without_what_nobody_measured_here():
    values = {"fit.lens_width_mm": "52", "fit.bridge_mm": "18", "order.tint": "grey"}
    values[LOADED] = {"fit.bridge_mm": ["18", "at_home"]}
    assert pairs.same_frame(values) == {"fit2.lens_width_mm": "52"}


def test_keeping_pair_two_leaves_what_is_kept_of_pair_one():
    answer, made, first = kept_example()
    values = {EXTENSIONS: first, "order2.tint": "grey", "fit2.lens_width_mm": "54", "pd": "1"}
    other = made.model_copy(update={"label": "A1-2"})
    both = orders.with_order(
        values, order=other, case=answer.case, today=date(2030, 1, 3), pair="2"
    )
    assert both[pair_records.ORDER] == first[pair_records.ORDER]
    case = case_from_json(case_to_json(answer.case.model_copy(update={"extensions": both})))
    found = [orders.kept_order(case, pair=pair) for pair in pairs.PAIRS]
    assert [one.order.label for one in found if one] == ["A1", "A1-2"]
    back = orders.typed_before({EXTENSIONS: both}, pair_records.ORDERS["2"])
    assert back == {"order2.tint": "grey", "fit2.lens_width_mm": "54"}


def test_readings_of_each_pair_are_kept_apart():
    values = {"collection.right.height_mm": "20", "collection2.right.height_mm": "22"}
    found = orders.with_readings(values, today=date(2030, 1, 2))
    both = orders.with_readings({**values, EXTENSIONS: found}, today=date(2030, 1, 3), pair="2")
    assert both[pair_records.COLLECTION]["typed"] == {"collection.right.height_mm": "20"}
    assert both[pair_records.COLLECTIONS["2"]]["typed"] == {"collection2.right.height_mm": "22"}


def test_two_pairs_are_ordered_kept_and_checked_each_by_itself():
    page = pressed(opened("order", {**questions.EXAMPLE, **TYPED}), "Keep this order with the case")
    first = draft_of(page).values[EXTENSIONS][pair_records.ORDER]
    page = pair_two(page)
    assert field(page, "Boxed lens width").value == ""
    assert field(page, "Effective diameter").value == ""
    assert field(page, "Coating").value == ""
    assert field(page, "Monocular centration distance").value == TYPED["pd"]
    page = typed(picked(page, "Lens to order", "general_progressive"), **FRAME_TWO)
    assert "pair 2, reference interview-2" in said(page)
    page = pressed(page, "Keep this order with the case")
    held = draft_of(page).values
    assert held[EXTENSIONS][pair_records.ORDER] == first
    second = held[EXTENSIONS][pair_records.ORDERS["2"]]["order"]
    assert (first["order"]["kind"], second["kind"]) == ("office", "general_progressive")
    wide = [
        next(one["value"] for one in order["worn"] if one["name"] == "lens_width_mm")
        for order in (first["order"], second)
    ]
    assert wide == [52.0, 54.0]
    assert "Kept with the case on" in said(page)
    page = shown(page, "1")
    assert field(page, "Boxed lens width").value == "52"
    assert "Kept with the case on" in said(page)
    page.switch_page("views/collection/page.py")
    page.run()
    page = typed(whole(page), **{"Right: height": "20"})
    page = pair_two(page)
    assert "interview-2, kept with the case" in said(page)
    assert field(page, "Right: height").value == ""
    page = pressed(typed(page, **{"Right: height": "22"}), "Keep these readings with the case")
    kept = draft_of(page).values[EXTENSIONS]
    assert pair_records.COLLECTION not in kept
    assert kept[pair_records.COLLECTIONS["2"]]["typed"]["collection2.right.height_mm"] == "22"
    assert case_of_answers.ask(draft_of(page).values).case.fit.lens_width_mm == 52.0


def test_the_wearers_sheet_says_when_to_wear_which():
    case, result = answered(json.dumps(content()))
    chosen = result.chosen
    assert chosen is not None
    office, general = result.option("office"), result.option("general_progressive")
    two = chosen.model_copy(
        update={
            "pairs": (
                PairResult(option="office", design=office.design, activities=("desk",)),
                PairResult(
                    option="general_progressive", design=general.design, activities=("drive",)
                ),
            )
        }
    )
    sheet = wearer_sheet(case=case, result=result, option=general, plan=two)
    assert sheet.when == (
        "Wear these for: drive.",
        "Change to your office glasses without a line for: desk.",
    )
    assert "Do not go back to your old ones" not in " ".join(sheet.first_days)
    alone = wearer_sheet(case=case, result=result, option=result.option("sv_near"), plan=two)
    assert alone.when == ()
    assert "Do not go back to your old ones" in " ".join(alone.first_days)
