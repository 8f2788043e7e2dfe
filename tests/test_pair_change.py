"""The old pair against the order: what is compared, and where a change is pointed out."""

from __future__ import annotations

import json
from typing import Any

import pytest

from app.form import questions
from app.views.order import typed_order
from app.views.order.sheets import change_sheet
from engine.case.prescription import EyePrescription, Prescription
from engine.errors import InputRefusedError
from engine.order.pair_change import OldPair, PairChange, axis_turned_deg, pair_changes
from tests.as_read import as_read
from tests.orders import STRONG_DETAILS, answered, content, order, strong
from tests.pages import field, opened, said, whole
from tests.test_app_order import TYPED

pytestmark = pytest.mark.usefixtures("own_drafts")

WORN = {"pd_right_mm": 31.0, "pd_left_mm": 32.5, "height_right_mm": 20.0, "height_left_mm": 20.5}


def eyes(case: Any, **right: Any) -> Prescription:
    """The prescription of a case with the right eye changed."""
    both = case.wearer.prescription
    return both.model_copy(update={"right": both.right.model_copy(update=right)})


def found_for(right: dict[str, Any], **measures: Any) -> dict[tuple[str, str], PairChange]:
    case, _ = answered(json.dumps(content()))
    old = OldPair(powers=eyes(case, **right), **{**WORN, **measures})
    changes = pair_changes(order=order(content()), old=old, case=case)
    return {(one.id, one.side): one for one in changes}


def test_the_same_pair_changes_by_nothing():
    found = found_for({}, pantoscopic_deg=9.0, height_right_mm=20.0, height_left_mm=20.5)
    for key in (("power", "right"), ("power", "left"), ("add", "left"), ("tilt", "both")):
        assert (found[key].size, found[key].large) == (0.0, False), key
        assert found[key].old == found[key].new
    assert not any(one.large for one in found.values())


@pytest.mark.parametrize(
    ("row", "right", "measures", "size", "large"),
    [
        ("power", {"sphere_d": 1.0}, {}, 0.5, False),
        ("power", {"sphere_d": 1.25}, {}, 0.75, True),
        ("add", {"add_d": 1.5}, {}, 0.5, False),
        ("add", {"add_d": 1.25}, {}, 0.75, True),
        ("height", {}, {"height_right_mm": 19.0}, 1.0, False),
        ("height", {}, {"height_right_mm": 18.9}, 1.1, True),
        ("prism", {"prism": ({"amount_pd": 0.5, "base": "in"},)}, {}, 0.5, True),
    ],
)
def test_a_change_is_pointed_out_above_its_limit(row, right, measures, size, large):
    case, _ = answered(json.dumps(content()))
    assert (case.wearer.right.sphere_d, case.wearer.right.add_d) == (0.5, 2.0)
    if "prism" in right:
        right = {"prism": EyePrescription(sphere_d=0.0, **right).prism}
    one = found_for(right, **measures)[row, "right"]
    assert abs(one.size - size) < 1e-9
    assert one.large is large


def test_centration_is_compared_eye_by_eye():
    case, _ = answered(json.dumps(strong()))
    old = OldPair(powers=case.wearer.prescription, pd_right_mm=31.0, pd_left_mm=34.0)
    made = order(strong(), details=STRONG_DETAILS)
    changes = {(one.id, one.side): one for one in pair_changes(order=made, old=old, case=case)}
    assert changes["centration", "right"].size == 0.0
    left = changes["centration", "left"]
    assert (left.old, left.new, left.size, left.large) == ("34", "32.5", 1.5, True)


@pytest.mark.parametrize(
    ("was", "now", "turned", "large"),
    [
        (45, 56, 11.0, True),
        (45, 55, 10.0, False),
        (175, 8, 13.0, False),
        (170, 31, 41.0, True),
    ],
)
def test_an_axis_counts_only_where_it_is_oblique(was, now, turned, large):
    one, other = (
        EyePrescription(sphere_d=0.0, cylinder_d=-1.0, axis_deg=axis) for axis in (was, now)
    )
    assert axis_turned_deg(one, other) == turned
    case, _ = answered(json.dumps(strong()))
    eye = case.wearer.right.model_dump() | {"axis_deg": now}
    found = strong()
    found["wearer"]["right"] = {key: value for key, value in eye.items() if value is not None}
    found["wearer"]["right"]["prism"] = [dict(one) for one in eye["prism"]]
    new_case, _ = answered(json.dumps(found))
    old = OldPair(powers=eyes(new_case, axis_deg=was))
    changes = pair_changes(order=order(found, details=STRONG_DETAILS), old=old, case=new_case)
    axis = next(one for one in changes if (one.id, one.side) == ("axis", "right"))
    assert (axis.size, axis.large) == (turned, large)


def test_what_was_not_measured_is_not_compared():
    case, _ = answered(json.dumps(content()))
    changes = pair_changes(
        order=order(content()), old=OldPair(powers=case.wearer.prescription), case=case
    )
    assert {one.id for one in changes} == {"power", "add"}


def test_exchanged_eyes_are_asked_about():
    found = content()
    found["wearer"]["right"]["sphere_d"], found["wearer"]["left"]["sphere_d"] = -3.0, 1.0
    case, _ = answered(json.dumps(found))
    both = case.wearer.prescription
    old = OldPair(powers=Prescription(right=both.left, left=both.right))
    said = typed_order.notes((), old=old, case=case)
    assert said[0].startswith("Right and left may be exchanged")
    assert typed_order.notes((), old=OldPair(powers=both), case=case) == []


def test_a_typed_pair_is_read_or_refused_by_its_field():
    typed = {typed_order.POWERS: "R -1,00 L -1.25 add +1.75", typed_order.CENTRATION: "31/32,5"}
    pair, _ = typed_order.read_old(typed)
    assert pair is not None
    assert (pair.pd_right_mm, pair.pd_left_mm) == (31.0, 32.5)
    assert typed_order.read_old({}) == (None, {})
    for name, text in (
        (typed_order.POWERS, "much stronger"),
        (typed_order.CENTRATION, "62"),
        (typed_order.TILT, "99"),
    ):
        _, refused = typed_order.read_old({**typed, name: text})
        assert set(refused) == {name}
        assert isinstance(refused[name], InputRefusedError)


def test_the_sheet_says_the_changes_and_first_what_to_look_at():
    case, _ = answered(json.dumps(content()))
    old = OldPair(powers=eyes(case, sphere_d=2.5), **WORN)
    made = order(content())
    changes = typed_order.compared(order=made, old=old, case=case)
    notes = typed_order.notes(changes, old=old, case=case)
    assert (changes[0].id, changes[0].side) == ("power", "right")
    text = as_read(change_sheet(changes, notes=notes, reference="A<b>"))
    assert "A&lt;b&gt;" in text
    assert text.index("Look at this") < text.index("Distance power, as prescribed</th>")
    assert "2.00 D" in text
    assert "<td>20 mm</td><td>20 mm</td><td>0.0 mm</td>" in text, "a length without its unit"


def test_a_compensated_power_is_not_called_as_prescribed():
    case, _ = answered(json.dumps(strong()))
    made = order(strong(), details=STRONG_DETAILS)
    changes = pair_changes(order=made, old=OldPair(powers=case.wearer.prescription), case=case)
    named = {(one.id, one.side): (one.name, one.new) for one in changes}
    assert named["power", "left"] == ("Distance power, compensated", "-6.54 -1.27 x 170")
    assert named["add", "left"][0] == "Add, as prescribed"


def test_the_page_compares_the_typed_old_pair_and_gives_a_sheet():
    page = opened("order", {**questions.EXAMPLE, **TYPED})
    assert "Old pair and this order" not in said(page)
    field(page, "Old pair on the focimeter").set_value("R -5.00 L -5.00 add +1.00")
    page = whole(page.run())
    text = said(page)
    assert typed_order.POINTED_OUT in text
    assert "Show the new power before ordering" in text
    assert "Sheet of old and new pair" in [one.label for one in page.get("download_button")]
    field(page, "Old pair on the focimeter").set_value("stronger")
    page = whole(page.run())
    assert "Old pair and this order" not in said(page)
    assert "stronger" in said(page)
