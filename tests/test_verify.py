"""Finished lenses against their order: every limit at, just under and just over it."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from engine import tables
from engine.case.prescription import EyePrescription, transposed
from engine.case.read import build_case
from engine.collection.tolerances import limit_for
from engine.collection.verify import EyeReading, Readings, Verification, power_differences, verify
from engine.order.make import order_for
from engine.order.types import Order, OrderDetails
from tests.invented_result import LENSES, invented_result
from tests.orders import DETAILS, content, order

STEP = 0.01
"""A focimeter is read in hundredths."""
CLOSE = 1e-9
OWN_STEP = 0.005
"""The guide itself steps down by this: 0.18 D up to 3.50, then 5 %, which is 0.1755 at 3.51."""


def ordered_as(
    power: dict[str, Any], *, option: str = "general_progressive", details: Any = None
) -> Order:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side] = {"add_d": 2.0} | power
    more = {"refraction_vertex_mm": 13.0, "power_basis": "as_prescribed"}
    asked = DETAILS | more | (details or {})
    if option not in LENSES:
        return order(found, option=option, details=asked)
    # Which lens the answer would choose for each of these powers is no matter here.
    case = build_case(found)
    told, wanted = invented_result(case), OrderDetails.model_validate(asked)
    return order_for(case=case, result=told, option=option, details=wanted)


def exact(made: Order) -> dict[str, Any]:
    """Readings that equal the order in everything."""
    readings: dict[str, Any] = {}
    for eye in made.eyes:
        power = eye.verification or eye.powers[0].power
        near = [one.mm for one in eye.near_centration if one.zone == "near"]
        lined = made.kind.startswith(("bifocal", "trifocal"))
        readings[eye.side] = {
            "power": power.model_copy(update={"prism": ()}),
            "add_d": eye.add_d,
            "prism_up_pd": 0.0,
            "prism_in_pd": 0.0,
            "centration_mm": near[0] if lined else eye.distance_centration_mm,
            "height_mm": eye.height.mm,
        }
    return readings


def judged(made: Order, readings: dict[str, Any], standard: Any = "ANSI Z80.1") -> Verification:
    asked = Readings(right=EyeReading(**readings["right"]), left=EyeReading(**readings["left"]))
    return verify(order=made, readings=asked, standard=standard)


def outcome(found: Verification, quantity: str, side: str = "right") -> str:
    return next(one.outcome for one in found.checks if (one.quantity, one.side) == (quantity, side))


# Ordered power and the limit, entered a second time from the quick reference guide (its
# tables); the program reads its own table.
SPHERES = [
    ("sv_distance", 0.0, 0.13), ("sv_distance", -6.5, 0.13), ("sv_distance", -7.0, 0.14),
    ("sv_distance", 10.0, 0.20), ("general_progressive", 2.0, 0.16),
    ("general_progressive", -8.0, 0.16), ("general_progressive", -9.0, 0.18),
    ("bifocal_ft28", -6.5, 0.13), ("bifocal_ft28", 8.0, 0.16),
]  # fmt: skip
CYLINDERS = [
    ("sv_distance", 2.0, 0.13), ("sv_distance", 2.01, 0.15), ("sv_distance", 4.5, 0.15),
    ("sv_distance", 5.0, 0.20), ("general_progressive", 2.0, 0.16),
    ("general_progressive", 2.01, 0.18), ("general_progressive", 3.5, 0.18),
    ("general_progressive", 4.0, 0.20),
]  # fmt: skip
AXES = [
    (0.12, 14), (0.25, 14), (0.26, 7), (0.50, 7), (0.51, 5), (0.75, 5), (0.76, 3), (1.50, 3),
    (1.51, 2), (3.00, 2),
]  # fmt: skip
AROUND = [(-STEP, "pass"), (0.0, "pass"), (STEP, "fail")]


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("option", "power", "limit"), SPHERES)
def test_sphere_at_its_limit(
    option: str, power: float, limit: float, sign: int, more: float, expected: str
) -> None:
    made = ordered_as({"sphere_d": power}, option=option)
    readings = exact(made)
    readings["right"]["power"] = EyePrescription(sphere_d=power + sign * (limit + more))
    assert outcome(judged(made, readings), "sphere") == expected


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("option", "cylinder", "limit"), CYLINDERS)
def test_cylinder_at_its_limit(
    option: str, cylinder: float, limit: float, sign: int, more: float, expected: str
) -> None:
    power = {"sphere_d": -3.0, "cylinder_d": -cylinder, "axis_deg": 20}
    made = ordered_as(power, option=option)
    readings = exact(made)
    read = power | {"cylinder_d": -(cylinder + sign * (limit + more))}
    readings["right"]["power"] = EyePrescription(**read)
    assert outcome(judged(made, readings), "cylinder") == expected


@pytest.mark.parametrize(("more", "expected"), [(-1, "pass"), (0, "pass"), (1, "fail")])
@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("cylinder", "limit"), AXES)
def test_axis_at_its_limit_by_cylinder_band(
    cylinder: float, limit: int, sign: int, more: int, expected: str
) -> None:
    made = ordered_as({"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": 175})
    readings = exact(made)
    axis = (175 + sign * (limit + more) - 1) % 180 + 1
    power = {"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": axis}
    readings["right"]["power"] = EyePrescription(**power)
    assert outcome(judged(made, readings), "axis") == expected


@pytest.mark.parametrize(("cylinder", "expected"), [(0.11, "not_judged"), (0.12, "fail")])
def test_no_axis_is_judged_below_the_first_band(cylinder: float, expected: str) -> None:
    made = ordered_as({"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": 90})
    readings = exact(made)
    power = {"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": 180}
    readings["right"]["power"] = EyePrescription(**power)
    assert outcome(judged(made, readings), "axis") == expected


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize("sign", [-1, 1])
def test_add_at_its_limit(sign: int, more: float, expected: str) -> None:
    made = ordered_as({"sphere_d": 1.0})
    readings = exact(made)
    readings["right"]["add_d"] = 2.0 + sign * (0.12 + more)
    assert outcome(judged(made, readings), "add") == expected


def test_the_add_has_a_wider_limit_above_4() -> None:
    limits = [
        limit_for(standard="ANSI Z80.1", lens_class="progressive", quantity="add", of=add)
        for add in (4.0, 4.01)
    ]
    assert [one.limit for one in limits if one is not None] == [0.12, 0.18]


# Power along the prism, and the limit of the pair in prism dioptres: the millimetres of the
# quick guide turned by P = cF (the same guide).
PRISMS = [
    ("sv_distance", "prism_vertical", "prism_up_pd", 3.375, 0.33),
    ("sv_distance", "prism_vertical", "prism_up_pd", 5.0, 0.50),
    ("sv_distance", "prism_horizontal", "prism_in_pd", 2.75, 0.67),
    ("sv_distance", "prism_horizontal", "prism_in_pd", 4.0, 1.00),
    ("general_progressive", "prism_vertical", "prism_up_pd", 5.0, 1.00),
    ("general_progressive", "prism_horizontal", "prism_in_pd", 3.75, 0.67),
    ("general_progressive", "prism_horizontal", "prism_in_pd", 5.0, 1.00),
]


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize(("option", "quantity", "field", "power", "limit"), PRISMS)
def test_prism_at_its_limit(
    option: str,
    quantity: str,
    field: str,
    power: float,
    limit: float,
    more: float,
    expected: str,
) -> None:
    made = ordered_as({"sphere_d": power}, option=option)
    readings = exact(made)
    readings["right"][field] = limit + more
    assert outcome(judged(made, readings), quantity, "both") == expected


def test_prism_of_the_order_is_what_is_expected() -> None:
    power = {"sphere_d": 1.0, "prism": [{"amount_pd": 2.0, "base": "up"}]}
    found = content()
    found["wearer"]["right"] = {"add_d": 2.0} | power
    made = order(found, option="general_progressive", details=DETAILS | {"prism_in_near_zone": 1})
    readings = exact(made)
    assert outcome(judged(made, readings), "prism_vertical", "both") == "fail"
    readings["right"]["prism_up_pd"] = 2.0
    assert outcome(judged(made, readings), "prism_vertical", "both") == "pass"
    for side, up in (("right", 3.5), ("left", 1.5)):
        readings[side]["prism_up_pd"] = up
    assert outcome(judged(made, readings), "prism_vertical", "both") == "pass"


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize(
    ("option", "field", "quantity", "side", "limit"),
    [
        ("general_progressive", "height_mm", "height", "right", 1.0),
        ("office", "height_mm", "height", "right", 1.0),
        ("bifocal_ft28", "height_mm", "height", "right", 1.0),
        ("general_progressive", "height_mm", "height_pair", "both", 1.0),
        ("general_progressive", "centration_mm", "centration", "right", 1.0),
        ("trifocal_7x28", "centration_mm", "centration_pair", "both", 2.5),
    ],
)
def test_heights_and_centration_at_their_limits(
    option: str, field: str, quantity: str, side: str, limit: float, more: float, expected: str
) -> None:
    made = ordered_as({"sphere_d": 1.0}, option=option)
    for sign in (-1, 1):
        readings = exact(made)
        readings["right"][field] += sign * (limit + more)
        assert outcome(judged(made, readings), quantity, side) == expected


@pytest.mark.parametrize("option", ["sv_computer", "general_progressive", "bifocal_desk"])
def test_exact_readings_are_accepted_and_one_left_out_is_incomplete(option: str) -> None:
    made = ordered_as({"sphere_d": 1.0, "cylinder_d": -0.75, "axis_deg": 90}, option=option)
    readings = exact(made)
    assert judged(made, readings).outcome == "accept"
    for name in ("power", "prism_up_pd", "prism_in_pd"):
        lacking = {side: dict(values) for side, values in readings.items()}
        lacking["left"][name] = None
        assert judged(made, lacking).outcome == "incomplete"
    readings["right"]["power"] = EyePrescription(sphere_d=2.0)
    assert judged(made, readings).outcome == "reject"


@pytest.mark.parametrize("cylinder", [-0.75, -1.25, -3.0])
@pytest.mark.parametrize("sphere", [-4.0, 0.0, 0.5, 1.0, 3.0])
def test_either_cylinder_form_is_judged_alike(sphere: float, cylinder: float) -> None:
    one = EyePrescription(sphere_d=sphere, cylinder_d=cylinder, axis_deg=30)
    read = EyePrescription(sphere_d=sphere + 0.12, cylinder_d=cylinder - 0.1, axis_deg=33)
    expected = power_differences(ordered=one, read=read)
    for ordered in (one, transposed(one)):
        for seen in (read, transposed(read)):
            found = power_differences(ordered=ordered, read=seen)
            pairs = zip(found, expected, strict=True)
            assert all(abs(a - b) <= CLOSE for a, b in pairs)  # type: ignore[operator]


def test_the_meridian_that_is_judged() -> None:
    """Without cylinder whichever is farther off; else the stronger one as ordered."""
    plain = EyePrescription(sphere_d=-2.0)
    bent = EyePrescription(sphere_d=-1.95, cylinder_d=-0.12, axis_deg=90)
    meridian, cylinder, axis = power_differences(ordered=plain, read=bent)
    assert (round(meridian, 6), round(cylinder, 6), axis) == (-0.07, 0.12, None)
    minus = EyePrescription(sphere_d=-1.0, cylinder_d=-2.0, axis_deg=90)
    read = EyePrescription(sphere_d=-1.1, cylinder_d=-1.95, axis_deg=90)
    assert round(power_differences(ordered=minus, read=read)[0], 6) == -0.05
    plus = EyePrescription(sphere_d=3.0, cylinder_d=-2.0, axis_deg=90)
    read = EyePrescription(sphere_d=3.1, cylinder_d=-2.05, axis_deg=90)
    assert round(power_differences(ordered=plus, read=read)[0], 6) == 0.1


def test_an_axis_across_zero_is_a_small_difference() -> None:
    ordered = EyePrescription(sphere_d=0.0, cylinder_d=-1.0, axis_deg=179)
    read = EyePrescription(sphere_d=0.0, cylinder_d=-1.0, axis_deg=2)
    assert power_differences(ordered=ordered, read=read)[2] == 3.0


def test_an_office_lens_without_its_verification_power_is_never_accepted() -> None:
    made = ordered_as({"sphere_d": 1.0}, option="office")
    found = judged(made, exact(made))
    assert outcome(found, "verification_power") == "ask_laboratory"
    assert found.outcome == "incomplete"
    assert not [one for one in found.checks if one.quantity in ("sphere", "add")]


def test_the_power_change_of_an_office_lens_is_never_called_passed() -> None:
    stated = {"sphere_d": 3.0}
    details = {"verification_right": stated, "verification_left": stated}
    made = ordered_as({"sphere_d": 1.0}, option="office", details=details)
    found = judged(made, exact(made))
    assert outcome(found, "sphere") == "pass"
    changes = [one for one in found.checks if one.quantity == "power_change"]
    assert [one.outcome for one in changes] == ["not_judged", "not_judged"]
    assert "range test" in changes[0].says
    assert found.outcome == "accept"


def test_limits_from_memory_say_so_on_every_check() -> None:
    made = ordered_as({"sphere_d": 1.0, "cylinder_d": -0.75, "axis_deg": 90})
    for one in judged(made, exact(made), "ISO 21987").checks:
        if one.limit is not None:
            assert one.from_memory
            assert "memory" in one.standing
    for one in judged(made, exact(made)).checks:
        assert not one.from_memory


# From memory like the table itself (ISO 21987, ISO 8980-1): this holds the program to what was
# remembered, it is no check of the standard.
ISO = [
    ("sv_distance", "sphere", 9.0, 0.12), ("sv_distance", "sphere", 9.25, 0.18),
    ("sv_distance", "sphere", 12.25, 0.25), ("general_progressive", "sphere", 6.0, 0.12),
    ("general_progressive", "sphere", 6.25, 0.18), ("sv_distance", "sphere", 20.25, 0.37),
]  # fmt: skip
ISO_AXES = [(0.25, 16), (0.5, 9), (0.75, 6), (1.5, 4), (2.5, 3), (2.75, 2)]


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(("option", "quantity", "power", "limit"), ISO)
def test_iso_powers_at_their_remembered_limits(
    option: str, quantity: str, power: float, limit: float, sign: int, more: float, expected: str
) -> None:
    made = ordered_as({"sphere_d": power}, option=option)
    readings = exact(made)
    readings["right"]["power"] = EyePrescription(sphere_d=power + sign * (limit + more))
    assert outcome(judged(made, readings, "ISO 21987"), quantity) == expected


@pytest.mark.parametrize(("more", "expected"), [(-1, "pass"), (0, "pass"), (1, "fail")])
@pytest.mark.parametrize(("cylinder", "limit"), ISO_AXES)
def test_iso_axes_at_their_remembered_limits(
    cylinder: float, limit: int, more: int, expected: str
) -> None:
    made = ordered_as({"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": 90})
    readings = exact(made)
    power = {"sphere_d": 1.0, "cylinder_d": -cylinder, "axis_deg": 90 + limit + more}
    readings["right"]["power"] = EyePrescription(**power)
    assert outcome(judged(made, readings, "ISO 21987"), "axis") == expected


ISO_CYLINDERS = [
    ("sv_distance", -1.0, 0.75, 0.09), ("sv_distance", -1.0, 1.0, 0.12),
    ("sv_distance", -3.5, 0.5, 0.12), ("sv_distance", -7.0, 1.0, 0.18),
    ("general_progressive", -1.0, 0.75, 0.12), ("general_progressive", -1.0, 1.0, 0.18),
]  # fmt: skip


@pytest.mark.parametrize(("more", "expected"), AROUND)
@pytest.mark.parametrize(("option", "sphere", "cylinder", "limit"), ISO_CYLINDERS)
def test_iso_cylinders_at_their_remembered_limits(
    option: str, sphere: float, cylinder: float, limit: float, more: float, expected: str
) -> None:
    power = {"sphere_d": sphere, "cylinder_d": -cylinder, "axis_deg": 90}
    made = ordered_as(power, option=option)
    readings = exact(made)
    read = power | {"cylinder_d": -(cylinder + limit + more)}
    readings["right"]["power"] = EyePrescription(**read)
    assert outcome(judged(made, readings, "ISO 21987"), "cylinder") == expected


def test_iso_prism_has_no_limit_in_the_table_and_is_not_judged() -> None:
    made = ordered_as({"sphere_d": 1.0})
    found = judged(made, exact(made), "ISO 21987")
    assert outcome(found, "prism_vertical", "both") == "not_judged"


@pytest.mark.parametrize("standard", ["ANSI Z80.1", "ISO 21987"])
@pytest.mark.parametrize("quantity", ["sphere", "cylinder"])
@pytest.mark.parametrize("lens_class", ["single_or_lined", "lined", "progressive"])
def test_every_power_has_one_band_and_limits_never_shrink(
    standard: Any, quantity: str, lens_class: Any
) -> None:
    for power in (0.0, 5.0, 15.0, 25.0):
        limits = [
            limit_for(
                standard=standard,
                lens_class=lens_class,
                quantity=quantity,
                of=hundredth / 100,
                power_d=power,
            )
            for hundredth in range(2501)
        ]
        numbers = [one.limit for one in limits if one is not None]
        assert len(numbers) == len(limits)
        assert all(later >= earlier - OWN_STEP for earlier, later in pairwise(numbers))


def test_every_row_says_edition_standing_and_status() -> None:
    for row in tables.rows("tolerances"):
        assert row["edition"]
        if "1999 edition" in row["locator"]:
            assert row["edition"] == "1999", "the edition the number was read in"
        assert row["standing"]
        assert row["status"] in tables.STATUSES
        assert (row["status"] == "memory") == ("memory" in row["standing"])
