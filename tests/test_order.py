"""Orders: complete or with their gaps named, and every number against geometry done by hand."""

from __future__ import annotations

import copy
import json
import math
import re
from typing import Any

import pytest

from engine.case.model import Design
from engine.case.prescription import EyePrescription
from engine.errors import InputRefusedError
from engine.order.lens import at_vertex
from engine.order.make import order_for
from engine.order.types import Order, OrderDetails, OrderRefusedError
from tests import kind_table
from tests.orders import DETAILS, STRONG_DETAILS, answered, content, order, strong

CLOSE = 1e-9
"""Rounding of sums of quarters and tenths."""
MADE = kind_table.kinds(is_lens="yes")


def fields(found: Order) -> list[str]:
    return [gap.field for gap in found.missing]


@pytest.mark.parametrize("option", MADE)
def test_with_everything_given_nothing_is_missing(option: str) -> None:
    found = order(content(), option=option)
    assert found.missing == ()
    assert [check.id for check in found.checks if check.passed is None] == []


def test_a_strong_prescription_needs_more_and_can_be_complete() -> None:
    found = order(strong(), details=STRONG_DETAILS)
    assert found.missing == ()
    assert found.complete


@pytest.mark.parametrize("name", sorted(STRONG_DETAILS))
def test_each_detail_left_out_is_named(name: str) -> None:
    details = {key: value for key, value in STRONG_DETAILS.items() if key != name}
    found = order(strong(), details=details)
    assert fields(found) == [name]
    assert not found.complete
    assert found.missing[0].missing
    assert found.missing[0].why


CASE_FIELDS = [
    ("wearer", "pd_right_mm", "wearer.pd_right_mm"),
    ("wearer", "pd_left_mm", "wearer.pd_left_mm"),
    ("wearer", "near_test_distance_cm", "wearer.near_test_distance_cm"),
    ("fit", "fitting_height_right_mm", "fit.fitting_height_mm"),
    ("fit", "lens_width_mm", "fit.lens_width_mm"),
    ("fit", "bridge_mm", "fit.bridge_mm"),
    ("fit", "lens_depth_mm", "fit.lens_depth_mm"),
]


@pytest.mark.parametrize(("part", "name", "gap"), CASE_FIELDS)
def test_each_measurement_left_out_of_the_case_is_named(part: str, name: str, gap: str) -> None:
    found = content()
    del found[part][name]
    if name == "fitting_height_right_mm":
        del found[part]["fitting_height_left_mm"]
    kept = {f"/{key}/{one}" for key in ("fit", "wearer") for one in found[key]}
    found["origin"] = {path: how for path, how in found["origin"].items() if path in kept}
    assert fields(order(found)) == [gap]


@pytest.mark.parametrize("how", ["default", "assumed", "at_home"])
@pytest.mark.parametrize("name", ["/wearer/pd_right_mm", "/fit/fitting_height_left_mm"])
def test_a_home_or_assumed_value_is_never_cut_into_a_lens(name: str, how: str) -> None:
    found = content()
    found["origin"][name] = how
    expected = "fit.fitting_height_mm" if "fitting" in name else "wearer.pd_right_mm"
    assert fields(order(found)) == [expected]


@pytest.mark.parametrize("name", ["pantoscopic_deg", "vertex_mm", "wrap_deg"])
def test_tilt_vertex_and_wrap_are_marked_and_silence_about_them_is_a_gap(name: str) -> None:
    found = content()
    found["origin"][f"/fit/{name}"] = "default"
    marked = order(found)
    assert marked.missing == ()
    assert {one.name: one.origin for one in marked.worn}[name] == "default"
    del found["origin"][f"/fit/{name}"]
    silent = order(found)
    assert {one.name: one.origin for one in silent.worn}[name] == "not stated"
    assert fields(silent) == [f"fit.{name}"]


def test_no_page_or_screen_leaves_the_centration_unknown() -> None:
    found = content("laptop_only")
    found["targets"] = [one for one in found["targets"] if one["kind"] == "screen"]
    names = [one["name"] for one in found["targets"]]
    for activity in found["activities"]:
        looks = [look for look in activity["looks"] if look["target"] in names]
        activity["looks"] = [look | {"share": 1 / len(looks)} for look in looks]
    assert "targets.page" in fields(order(found, option="sv_near"))


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("how", ["assumed", "default", "at_home"])
def test_a_power_nobody_prescribed_is_a_gap(side: str, how: str) -> None:
    found = content()
    found["origin"][f"/wearer/{side}/sphere_d"] = how
    assert fields(order(found)) == [f"wearer.{side}.sphere_d"]


def test_the_office_reference_is_asked_for_and_never_assumed() -> None:
    details = {key: value for key, value in DETAILS.items() if key != "office_reference"}
    found = order(content(), details=details)
    assert found.eye("right").height.mm is None
    assert "ask the laboratory" in found.eye("right").height.reference
    limbus = order(content(), details=DETAILS | {"office_reference": "lower_limbus"})
    assert fields(limbus) == ["reference_height_right_mm", "reference_height_left_mm"]
    given = {"reference_height_right_mm": 14.5, "reference_height_left_mm": 15.0}
    told = order(content(), details=DETAILS | {"office_reference": "lower_limbus"} | given)
    assert told.missing == ()
    assert told.eye("right").height.mm == 14.5
    assert told.eye("right").height.below_pupil_mm == 5.5
    boxed = order(content(), details=DETAILS | {"office_reference": "box_centre"})
    assert boxed.eye("left").height.mm == 17.0


@pytest.mark.parametrize("option", MADE)
def test_powers_by_zone_are_the_distance_sphere_plus_what_the_zone_adds(option: str) -> None:
    found = order(content(), option=option)
    assert [eye.side for eye in found.eyes] == ["right", "left"]
    for eye in found.eyes:
        spheres = {power.zone: power.power.sphere_d for power in eye.powers}
        expected = kind_table.zones(option, found.design)
        assert set(spheres) == set(expected)
        for zone, added in expected.items():
            assert abs(spheres[zone] - (eye.prescribed.sphere_d + added)) <= CLOSE


def test_powers_are_written_with_sign_two_decimals_and_three_digit_axis_in_the_form_asked() -> None:
    found = order(strong(), details=STRONG_DETAILS | {"power_basis": "as_prescribed"})
    right = found.eye("right")
    assert right.prescribed_written == "-6.50 -1.25 x 010 prism 2.00 base up add +2.00"
    assert right.powers[0].written == "-4.50 -1.25 x 010 prism 2.00 base up"
    details = STRONG_DETAILS | {"cylinder_form": "plus", "power_basis": "as_prescribed"}
    plus = order(strong(), details=details)
    assert plus.cylinder_form == "plus"
    assert plus.eye("right").powers[0].written == "-5.75 +1.25 x 100 prism 2.00 base up"


def test_derived_powers_name_a_role_and_only_then() -> None:
    assert order(content()).authorised_by == "prescriber"
    assert order(content(), option="general_progressive").authorised_by is None
    details = {key: value for key, value in DETAILS.items() if key != "power_authorised_by"}
    assert order(content(), option="general_progressive", details=details).missing == ()
    assert fields(order(content(), option="sv_near", details=details)) == ["power_authorised_by"]


def test_vertex_is_recomputed_meridian_by_meridian_and_shown() -> None:
    found = order(strong(), details=STRONG_DETAILS)
    right = found.eye("right")
    assert right.at_fitted_vertex is not None
    # The lens moves from 12 to 13 mm, away from the eye, so 1/F of each meridian shrinks by 1 mm.
    first = 1 / (1 / -6.5 + 0.001)
    second = 1 / (1 / -7.75 + 0.001)
    assert abs(right.at_fitted_vertex.sphere_d - first) <= CLOSE
    assert abs(right.at_fitted_vertex.cylinder_d - (second - first)) <= CLOSE
    assert abs(right.powers[0].power.sphere_d - (first + 2.0)) <= CLOSE
    assert right.at_fitted_vertex_written == "-6.54 -1.27 x 010 prism 2.00 base up add +2.00"


@pytest.mark.parametrize(("sphere", "asked"), [(-3.99, False), (-4.0, True), (-4.01, True)])
def test_the_refraction_vertex_is_asked_for_from_4_dioptres(sphere: float, asked: bool) -> None:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side] |= {"sphere_d": sphere, "cylinder_d": 0.0}
    assert ("refraction_vertex_mm" in fields(order(found))) is asked


@pytest.mark.parametrize(("away_mm", "power", "expected"), [(2.0, 10.0, 10.2041), (0.0, 5.0, 5.0)])
def test_vertex_compensation_against_the_known_rule(
    away_mm: float, power: float, expected: float
) -> None:
    """10 D moved 2 mm is off by 0.2 D: dF = d F^2, a textbook rule (tolerance its rounding)."""
    moved = at_vertex(EyePrescription(sphere_d=power), from_mm=12.0 + away_mm, to_mm=12.0)
    assert abs(moved.sphere_d - expected) <= 1e-4


def test_centration_heights_and_blank_by_hand() -> None:
    found = order(content(), option="sv_computer")
    right, left = found.eyes
    assert right.distance_centration_mm == 31.0
    assert left.distance_centration_mm == 32.5
    near = right.near_centration[0]
    target = content()["targets"][0]
    assert near.target == target["name"]
    # Similar triangles: the sight goes straight through the optical centre of a lens of one power.
    wide = target["distance_cm"] * 10.0
    assert abs(near.mm - 31.0 * wide / (wide + 26.5)) <= 1e-6
    assert right.centration_mm == near.mm
    drop = 26.5 * math.sin(math.radians(9.0))
    assert right.height.name == "optical-centre height"
    assert right.height.mm is not None
    assert abs(right.height.mm - (20.0 - drop)) <= CLOSE
    inward, up = (52.0 + 18.0) / 2 - near.mm, 20.0 - drop - 17.0
    assert right.decentration_in_mm is not None
    assert abs(right.decentration_in_mm - inward) <= CLOSE
    assert right.smallest_blank_mm is not None
    assert abs(right.smallest_blank_mm - (55.0 + 2 * math.hypot(inward, up) + 2.0)) <= CLOSE


def test_a_lens_of_one_near_power_is_centred_for_near_and_others_for_far() -> None:
    for option in ("office", "general_progressive", "sv_distance"):
        eye = order(content(), option=option).eye("right")
        assert eye.centration_mm == eye.distance_centration_mm == 31.0


def test_centration_goes_by_the_power_sideways_and_by_the_nearest_page() -> None:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side] |= {"sphere_d": -6.0, "cylinder_d": 3.0, "axis_deg": 180}
    page = next(one for one in found["targets"] if one["kind"] == "page")
    found["targets"] += [page | {"name": "phone", "distance_cm": 35.0}]
    near = order(found).eye("right").near_centration[0]
    assert (near.target, near.distance_cm) == ("phone", 35.0)
    # Along 180 the cylinder of axis 180 has no power, so -6.00 bends the sight sideways.
    seen = 26.5 / (1 - 26.5 * -0.006)
    assert abs(near.mm - 31.0 * 350.0 / (350.0 + seen)) <= 1e-6


@pytest.mark.parametrize(("blank", "passed"), [(-0.01, False), (0.0, True), (0.01, True)])
def test_the_cut_out_check_at_its_limit(blank: float, passed: bool) -> None:
    needed = order(content()).eye("right").smallest_blank_mm
    assert needed is not None
    found = order(content(), details=DETAILS | {"blank_diameter_mm": needed + blank})
    assert {check.id: check.passed for check in found.checks}["cut_out_right"] is passed
    assert found.complete is passed


@pytest.mark.parametrize(("least", "passed"), [(19.99, True), (20.0, True), (20.01, False)])
def test_the_least_height_at_its_limit(least: float, passed: bool) -> None:
    found = order(content(), details=DETAILS | {"minimum_height_mm": least})
    assert {check.id: check.passed for check in found.checks}["minimum_height_right"] is passed


@pytest.mark.parametrize(("depth", "passed"), [(24.99, False), (25.0, True), (25.01, True)])
def test_the_frame_depth_at_its_limit(depth: float, passed: bool) -> None:
    found = content()
    found["fit"]["lens_depth_mm"] = depth
    checks = {check.id: check.passed for check in order(found).checks}
    assert checks["frame_depth"] is passed


def test_an_assumed_frame_depth_is_not_said_to_hold() -> None:
    found = content()
    found["origin"]["/fit/lens_depth_mm"] = "assumed"
    check = next(one for one in order(found).checks if one.id == "frame_depth")
    assert (check.passed, check.value) == (None, None)
    assert check.says == "boxed lens height not measured, at least 25 mm"


def test_a_segment_height_at_its_limit_is_inside_whatever_the_binary_residue() -> None:
    # 12.2 less 5.2 mm is 7 mm: the centre 5 mm below the line, and the 2 mm of the frame.
    found = content()
    found["fit"] |= {"fitting_height_right_mm": 12.2, "fitting_height_left_mm": 12.1}
    case, result = answered(json.dumps(found))
    line = result.option("bifocal_ft28").design.model_copy(update={"line_drop_mm": 5.2})
    lined = result.option("bifocal_ft28").model_copy(update={"design": line})
    only = result.model_copy(update={"options": (lined,)})
    made = order_for(case=case, result=only, option="bifocal_ft28", details=OrderDetails(**DETAILS))
    checks = {one.id: one.passed for one in made.checks}
    assert checks["segment_inside_right"] is True
    assert checks["segment_inside_left"] is False


def test_lined_lenses_are_ordered_by_the_line_and_need_the_wearers_word() -> None:
    found = order(content(), option="bifocal_ft28")
    assert found.eye("right").height.mm == 15.0
    assert found.eye("right").add_d == 2.0
    unwilling = content()
    unwilling["wearer"]["accepts_lined"] = False
    assert "wearer.accepts_lined" in fields(order(unwilling, option="bifocal_ft28"))


def test_the_add_of_an_intermediate_bifocal_is_the_step_between_its_parts() -> None:
    found = order(content(), option="bifocal_desk")
    design = found.design
    assert design.upper_add_d is not None
    assert found.eye("left").add_d == 2.0 - design.upper_add_d


def test_unequal_adds_are_made_as_prescribed_and_go_to_the_prescriber() -> None:
    found = content()
    found["wearer"]["left"]["add_d"] = 2.5
    made = order(found, option="general_progressive")
    assert (made.eye("right").add_d, made.eye("left").add_d) == (2.0, 2.5)
    assert fields(made) == ["prescriber_agreed"]
    found["wearer"]["left"]["add_d"] = 2.25
    assert fields(order(found, option="general_progressive")) == []


def test_an_equivalent_design_can_be_ordered_and_another_cannot() -> None:
    case, result = answered(json.dumps(content()))
    other = result.option("office").equivalent_designs[0]
    details = OrderDetails.model_validate(DETAILS | {"design": other})
    assert order_for(case=case, result=result, option="office", details=details).design == other
    wrong = Design(near_add_d=3.5, degression_d=0.25, power_fall="slow")
    with pytest.raises(InputRefusedError, match="equivalent"):
        order(content(), details=DETAILS | {"design": wrong})


def refused(found: dict[str, Any], *, option: str = "office") -> str:
    case, result = answered(json.dumps(found))
    with pytest.raises(OrderRefusedError) as caught:
        order_for(case=case, result=result, option=option)
    assert re.search(r"[^.]\.$", caught.value.reason), "a sentence, which no page ends again"
    return caught.value.reason


def test_an_answer_without_an_add_never_gives_an_order() -> None:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side].pop("add_d")
    assert "no add is known" in refused(found, option="sv_distance")


def test_who_needs_no_add_by_the_prescriber_gets_an_order() -> None:
    found = content()
    found["wearer"] |= {"age_years": 30}
    for side in ("right", "left"):
        found["wearer"][side]["add_d"] = 0.0
    made = order(found, option="sv_distance")
    assert made.kind == "sv_distance"


def test_a_stop_never_gives_an_order() -> None:
    found = content()
    found["wearer"]["conditions"] = ["sudden_sight_loss"]
    _, result = answered(json.dumps(found))
    assert refused(found) == result.stops[0].text


def test_nothing_is_ordered_for_what_is_worn_already() -> None:
    found = content()
    found["present_pair"] = {"kind": "general_progressive", "design": {"corridor_mm": 14}}
    assert "worn already" in refused(found, option="present_pair")
    assert "no such option" in refused(found, option="unaided")


def test_an_answer_of_another_case_gives_no_order() -> None:
    case, _ = answered(json.dumps(content()))
    other = copy.deepcopy(content())
    other["fit"]["vertex_mm"] = 14.0
    _, result = answered(json.dumps(other))
    with pytest.raises(OrderRefusedError, match="another case"):
        order_for(case=case, result=result, option="office")
