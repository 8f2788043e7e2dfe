"""Every kind of lens: power and astigmatism at points, what can be ordered, what it is for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from engine import tables
from engine.case.model import Design
from engine.case.read import build_case
from engine.case.scene import Wearers, wearers_of
from engine.lenses.families import (
    Bifocal,
    Family,
    Field,
    General,
    Office,
    OwnPrescription,
    Points,
    SingleVision,
    Trifocal,
    Unaided,
)
from engine.lenses.kinds import KINDS, UsualEyes
from engine.lenses.lens import Lens, owned_lens
from engine.lenses.surfaces import general_surface, office_surface
from engine.tables import Judgements
from tests import examples, kind_table
from tests.kind_table import ROWS

J = Judgements.standard()
EXACT = 1e-9
OF_THE_TABLE_D = 0.02
"""The table of a surface against its polynomial, for an add of 2.50 (tests/test_surfaces.py)."""
WRITTEN = {
    "is_lens": "is_lens",
    "covers_distance": "may_cover_distance",
    "single_vision": "is_single_vision",
    "progressive": "is_progressive",
    "lined": "is_lined",
    "corridor": "has_corridor",
    "degression": "has_degression",
    "screen_pair": "is_screen_pair",
    "office_or_computer": "is_office_or_computer",
    "blurs_the_feet": "blurs_the_feet",
    "derived_power": "has_derived_power",
    "height_reference": "height_reference",
    "segment_centre_below_line_mm": "segment_centre_below_line_mm",
    "design_fields": "design_fields",
}
"""Columns of tests/kinds.csv and what the program calls them."""


def wearers(
    *,
    add_d: float | None = 2.0,
    sphere_d: float = 0.0,
    left_sphere_d: float | None = None,
    cylinder_d: float = 0.0,
    height_mm: float = 20.0,
) -> Wearers:
    eye = {"sphere_d": sphere_d, "cylinder_d": cylinder_d, "axis_deg": 90, "add_d": add_d}
    other = eye | {"sphere_d": sphere_d if left_sphere_d is None else left_sphere_d}
    case = build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {"age_years": 55, "right": eye, "left": other},
            "fit": {"fitting_height_mm": height_mm},
            "targets": [
                {
                    "name": "screen",
                    "kind": "screen",
                    "distance_cm": 65,
                    "top_above_eye_cm": 0,
                    "diagonal_in": 24,
                    "aspect": "16:9",
                    "text_height_mm": 3,
                }
            ],
            "activities": [
                {"name": "desk", "hours": 6, "looks": [{"target": "screen", "share": 1.0}]}
            ],
        }
    )
    return wearers_of([case], judgements=J)


def at(family: Family, x_mm: float, y_mm: float, *, free_d: float = 0.0, **who: float) -> tuple:
    """Power, astigmatism and usable at one lens point of one wearer."""
    one = np.ones((1, 1))
    points = Points(
        x_mm=x_mm * one, y_mm=y_mm * one, made=0 * one.astype(np.intp), down_mm=0.0 * one
    )
    field = family.field(points, wearers(**who).as_columns())
    held = field.held is not None and bool(np.broadcast_to(field.held, (1, 1))[0, 0])
    power = float(np.broadcast_to(field.offset_d, (1, 1))[0, 0]) + (0.0 if held else free_d)
    usable = field.usable is None or bool(np.broadcast_to(field.usable, (1, 1))[0, 0])
    return power, float(np.broadcast_to(field.astigmatism_d, (1, 1))[0, 0]), usable


def orders(kind: str, **who: float | None) -> list[Design]:
    """Every design of a kind that one wearer can be ordered."""
    one = wearers(**who)  # type: ignore[arg-type]
    found = []
    for family in KINDS[kind].families(J):
        for free_d in family.free_powers_d(one, J)[0]:
            if not np.isnan(free_d):
                found.append(family.design(add_d=float(one.add_d[0]), free_d=float(free_d)))
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_is_a_lens_where_the_table_gives_it_a_family(kind: str) -> None:
    assert KINDS[kind].is_lens is (tables.by_id("lens_kinds")[kind]["family"] != "none")


def test_every_kind_is_written_down_by_hand_in_the_order_of_their_table() -> None:
    assert list(KINDS) == [row["id"] for row in tables.rows("lens_kinds")] == list(ROWS)


@pytest.mark.parametrize("column", WRITTEN)
@pytest.mark.parametrize("kind", ROWS)
def test_a_kind_is_what_was_written_down_of_it(kind: str, column: str) -> None:
    found = getattr(KINDS[kind], WRITTEN[column])
    if isinstance(found, tuple):
        said = " ".join(found)
    elif isinstance(found, bool):
        said = "yes" if found else "no"
    else:
        said = f"{found:g}" if isinstance(found, float) else found or ""
    assert said == ROWS[kind][column]
    assert KINDS[kind].is_multifocal is kind_table.is_multifocal(kind)


@pytest.mark.parametrize("kind", ROWS)
def test_the_name_of_a_kind_is_the_one_written_down(kind: str) -> None:
    assert KINDS[kind].name() == ROWS[kind]["name"]


@pytest.mark.parametrize("kind", ROWS)
def test_the_pairs_people_usually_wear_are_as_many_as_written_down(kind: str) -> None:
    eyes = UsualEyes(add_d=np.array([1.5, 2.0]), bare_d=np.array([1.0, 3.0]), judgements=J)
    usual = KINDS[kind].usual_variants(eyes)
    assert len(usual) == len({(family, *free_d) for family, free_d in usual})
    assert len(usual) == int(ROWS[kind]["usual_pairs"])
    assert all(free_d.shape == (2,) for _, free_d in usual)


@pytest.mark.parametrize("kind", ROWS)
def test_zones_add_what_was_written_down(kind: str) -> None:
    made = Design.model_validate(kind_table.design(kind, "stated"))
    found = {zone: added for zone, added, _ in KINDS[kind].zones(made)}
    assert found == pytest.approx(kind_table.zones(kind, made), abs=EXACT)


@pytest.mark.parametrize("x_mm", [-20.0, 0.0, 9.0])
@pytest.mark.parametrize("y_mm", [-18.0, 0.0, 9.0])
def test_single_vision_is_the_same_everywhere(x_mm: float, y_mm: float) -> None:
    assert at(SingleVision("computer"), x_mm, y_mm, free_d=1.25) == (1.25, 0.0, True)


@pytest.mark.parametrize("corridor_mm", [11.0, 12.5, 14.0])
@pytest.mark.parametrize("add_d", [1.0, 2.5])
def test_a_general_progressive_is_its_surface_times_the_add(
    corridor_mm: float, add_d: float
) -> None:
    """Linear in the add, at points of the far zone, corridor, near zone and side."""
    surface = general_surface(corridor_mm)
    for x, y in ((0.0, 6.0), (0.0, -corridor_mm), (4.0, -17.0), (-12.0, -14.0), (13.0, 2.0)):
        power, astigmatism = (float(value) for value in surface.exact(x_mm=x, y_mm=y))
        got = at(General(corridor_mm), x, y, add_d=add_d)
        assert abs(got[0] - add_d * power) <= OF_THE_TABLE_D
        assert abs(got[1] - add_d * astigmatism) <= OF_THE_TABLE_D
        double = at(General(corridor_mm, stated_add_d=2 * add_d), x, y, add_d=add_d)
        assert abs(double[0] - 2 * got[0]) <= EXACT
        assert abs(double[1] - 2 * got[1]) <= EXACT


@pytest.mark.parametrize("fall", ["slow", "quick"])
def test_an_office_lens_has_its_near_power_low_and_loses_the_degression_upwards(
    fall: str,
) -> None:
    family = Office(fall, 1.25)
    low, _, _ = at(family, 0.0, -18.0, free_d=2.0)
    high, _, _ = at(family, 0.0, 13.0, free_d=2.0)
    assert abs(low - 2.00) <= 0.01
    assert abs(high - 0.75) <= 0.05
    ahead, _, _ = at(family, 0.0, 0.0, free_d=2.0)
    assert abs(ahead - (2.0 - 1.25 * (0.69 if fall == "slow" else 0.886))) <= 0.01
    side = float(office_surface(fall).exact(x_mm=12.0, y_mm=-4.0)[1])
    assert abs(at(family, 12.0, -4.0)[1] - 1.25 * side) <= OF_THE_TABLE_D


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "power_d", "usable"),
    [
        (0.0, 0.0, 0.0, True),
        (0.0, -3.5, 0.0, True),
        (0.0, -3.6, 0.0, False),
        (0.0, -5.0, 0.0, False),
        (0.0, -6.4, 2.0, False),
        (0.0, -6.5, 2.0, True),
        (12.5, -12.0, 2.0, True),
        (13.5, -12.0, 2.0, False),
        (14.5, -12.0, 0.0, False),
        (15.5, -12.0, 0.0, True),
        (-15.5, -12.0, 0.0, True),
    ],
)
def test_a_bifocal_by_its_line_and_its_sides(
    x_mm: float, y_mm: float, power_d: float, usable: bool
) -> None:
    """Line 5 mm below the fitting point, 28 mm wide, 1.5 mm on either side of an edge lost."""
    family = KINDS["bifocal_ft28"].families(J)[0]
    assert at(family, x_mm, y_mm, add_d=2.0) == (power_d, 0.0, usable)


def test_a_desk_bifocal_has_its_upper_power_above_the_line() -> None:
    family = KINDS["bifocal_desk"].families(J)[0]
    assert at(family, 0.0, -2.0, free_d=1.25, add_d=2.0) == (1.25, 0.0, True)
    assert at(family, 0.0, -9.0, free_d=1.25, add_d=2.0) == (2.0, 0.0, True)
    assert at(family, 0.0, -4.0, free_d=1.25, add_d=2.0)[2] is False


@pytest.mark.parametrize(
    ("y_mm", "power_d", "usable"),
    [
        (0.5, 0.0, True),
        (-1.0, 0.0, False),
        (-3.0, 1.0, True),
        (-6.9, 1.0, True),
        (-8.4, 1.0, False),
        (-8.6, 2.0, False),
        (-10.0, 2.0, True),
    ],
)
def test_a_trifocal_has_half_the_add_in_a_band_of_7_mm(
    y_mm: float, power_d: float, usable: bool
) -> None:
    family = KINDS["trifocal_7x28"].families(J)[0]
    assert at(family, 0.0, y_mm, add_d=2.0) == (power_d, 0.0, usable)


def test_bare_eyes_have_what_the_prescription_leaves() -> None:
    who = {"sphere_d": -1.75, "cylinder_d": -0.5}
    free = Unaided().free_powers_d(wearers(**who), J)
    assert abs(free[0, 0] - 2.0) <= EXACT
    assert at(Unaided(), 3.0, -9.0, free_d=2.0, **who) == (2.0, 0.5, True)


@pytest.mark.parametrize(
    ("who", "can"),
    [
        ({"sphere_d": -0.25}, True),
        ({"sphere_d": -6.0}, True),
        ({"sphere_d": 0.0}, True),
        ({"sphere_d": 0.25}, True),
        ({"sphere_d": 0.50}, False),
        ({"sphere_d": -1.5, "cylinder_d": -1.0}, True),
        ({"sphere_d": -1.5, "cylinder_d": -1.25}, False),
        ({"sphere_d": -2.0, "left_sphere_d": -3.0}, True),
        ({"sphere_d": -2.0, "left_sphere_d": -3.25}, False),
    ],
)
def test_bare_eyes_for_even_myopia_and_for_who_is_off_by_little(
    who: dict[str, float], can: bool
) -> None:
    assert bool(np.isfinite(Unaided().free_powers_d(wearers(**who), J)[0, 0])) is can


@pytest.mark.parametrize(
    ("height_mm", "corridors"),
    [
        (14.5, []),
        (15.0, [11.0]),
        (16.4, [11.0]),
        (16.5, [11.0, 12.5]),
        (18.0, [11.0, 12.5, 14.0]),
    ],
)
def test_a_corridor_needs_four_more_millimetres_of_fitting_height(
    height_mm: float, corridors: list[float]
) -> None:
    found = orders("general_progressive", add_d=2.0, height_mm=height_mm)
    assert [design.corridor_mm for design in found] == corridors
    assert all(design.add_d == 2.0 for design in found)


@pytest.mark.parametrize("add_d", [0.75, 1.0, 2.0, 3.0])
def test_office_lenses_that_can_be_ordered(add_d: float) -> None:
    found = orders("office", add_d=add_d)
    wanted = {
        (near / 4, degression / 4, fall)
        for near in range(round(4 * add_d) - 3, round(4 * add_d) + 1)
        for degression in range(3, 10)
        for fall in ("slow", "quick")
        if near >= 3 and near - degression >= 1
    }
    assert {(d.near_add_d, d.degression_d, d.power_fall) for d in found} == wanted
    assert len(found) == len(wanted)


@pytest.mark.parametrize("add_d", [0.5, 0.75, 2.0, 2.5])
def test_single_vision_and_desk_bifocals_that_can_be_ordered(add_d: float) -> None:
    assert [d.add_d for d in orders("sv_distance", add_d=add_d)] == [0.0]
    assert [d.add_d for d in orders("sv_near", add_d=add_d)] == [add_d]
    steps = [0.5 + 0.25 * k for k in range(round(4 * (add_d - 0.5)) + 1)]
    assert [d.add_d for d in orders("sv_computer", add_d=add_d)] == steps
    upper = [power for power in steps if power <= add_d - 0.5]
    found = orders("bifocal_desk", add_d=add_d)
    assert [d.upper_add_d for d in found] == upper
    assert all((d.add_d, d.line_drop_mm) == (add_d, 4.0) for d in found)
    lined = orders("trifocal_7x28", add_d=add_d) + orders("bifocal_ft28", add_d=add_d)
    assert [(d.add_d, d.line_drop_mm) for d in lined] == [(add_d, 1.5), (add_d, 5.0)]


@pytest.mark.parametrize("kind", kind_table.kinds(needs_add="yes", is_lens="yes"))
def test_nothing_but_distance_lenses_without_a_known_add(kind: str) -> None:
    assert orders(kind, add_d=None) == []
    assert [d.add_d for d in orders("sv_distance", add_d=None)] == [0.0]


@pytest.mark.parametrize(
    ("family", "free_d", "plus_d"),
    [
        (SingleVision("computer"), 1.25, 1.25),
        (General(12.5), 0.0, 2.0),
        (Office("slow", 1.25), 2.0, 2.75),
        (Bifocal(4.0, 1.5, True), 1.25, 3.25),
        (Trifocal(1.5, 1.5), 0.0, 2.0),
        (Unaided(), 2.0, 0.0),
    ],
)
def test_how_much_plus_a_design_holds(family: Family, free_d: float, plus_d: float) -> None:
    """Near and top power of an office lens, both of a bifocal, else the one power; by hand."""
    found = family.plus_d(add_d=np.array([[2.0]]), free_d=np.array([[free_d]]))
    assert abs(float(found[0, 0]) - plus_d) <= EXACT


@pytest.mark.parametrize("kind", [kind for kind in KINDS if KINDS[kind].is_lens])
def test_a_kind_for_the_distance_covers_it_up_to_a_limit_of_added_power(kind: str) -> None:
    may = ROWS[kind]["covers_distance"] == "yes"

    def covers(most_d: float) -> bool:
        added_d = np.array([0.0, most_d])
        return KINDS[kind].gives_distance(added_d, astigmatism_d=0.0, judgements=J)

    assert covers(0.12) is may
    assert covers(0.13) is False


@pytest.mark.parametrize(
    ("who", "covers"),
    [
        ({}, True),
        ({"sphere_d": -0.25}, True),
        ({"sphere_d": -0.50}, False),
        ({"cylinder_d": -0.25}, True),
        ({"sphere_d": 0.25, "cylinder_d": -0.50}, False),
    ],
)
def test_bare_eyes_cover_distance_where_they_are_off_by_no_more_than_is_noticed(
    who: dict[str, float], covers: bool
) -> None:
    """0.30 D of the length of defocus and 0.63 of the cylinder: 0.32 D of 0.50 with no defocus."""
    one = wearers(**who)
    bare = Lens(KINDS["unaided"], Unaided(), float(one.unaided_power_d[0]), 2.0)
    off_d = float(np.hypot(one.unaided_power_d[0], 0.63 * one.unaided_astigmatism_d[0]))
    assert (off_d <= 0.30) is covers
    assert bare.covers_distance(wearers=one, judgements=J) is covers


def test_how_far_a_lens_sees_is_where_its_power_ahead_focuses() -> None:
    one = wearers()
    computer = Lens(KINDS["sv_computer"], SingleVision("computer"), 1.25, 2.0)
    assert abs(computer.sees_to_cm(wearers=one) - 80.0) <= EXACT
    # +0.15 D would be clear to 667 cm, which is beyond the chart: no limit.
    assert (
        Lens(KINDS["sv_computer"], SingleVision("computer"), 0.15, 2.0).sees_to_cm(wearers=one)
        is None
    )
    assert (
        Lens(KINDS["sv_distance"], SingleVision("distance"), 0.0, 2.0).sees_to_cm(wearers=one)
        is None
    )


def test_a_power_where_the_free_power_is_held_is_its_own() -> None:
    field = Field(np.array([[0.5, 2.0]]), np.zeros((1, 2)), held=np.array([[False, True]]))
    assert field.power_d(1.25).tolist() == [[1.75, 2.0]]
    assert Field(np.array([[0.5]]), np.zeros((1, 1))).power_d(1.25).tolist() == [[1.75]]


def test_a_pair_of_another_prescription_adds_what_they_differ_by() -> None:
    """Power is added; its cylinder and the lens's own stand as if at right angles."""
    own = OwnPrescription(General(12.5), 0.5, 0.75)
    plain, found = at(General(12.5), 2.0, -8.0), at(own, 2.0, -8.0)
    assert abs(found[0] - plain[0] - 0.5) <= EXACT
    assert abs(found[1] - np.hypot(plain[1], 0.75)) <= EXACT
    assert own.design(add_d=2.0, free_d=0.0) == General(12.5).design(add_d=2.0, free_d=0.0)


def test_the_pair_owned_is_worn_over_the_prescription_that_holds_now() -> None:
    """Old lenses of +0.50 for eyes of +1.00 leave half a dioptre too little everywhere."""
    eyes = dict.fromkeys(("right", "left"), examples.eye(sphere_d=1.0))
    old = dict.fromkeys(("right", "left"), examples.eye(1.5, sphere_d=0.5))
    case = examples.case(
        wearer=eyes, owned_pairs=[{"kind": "sv_near"}, {"kind": "sv_near", "prescription": old}]
    )
    one = wearers_of([case], judgements=J)
    now, before = (owned_lens(pair, case, wearers=one, judgements=J) for pair in case.owned_pairs)
    ahead_d = [float(lens.power_above_d(np.zeros(1), wearers=one)[0]) for lens in (now, before)]
    assert abs(ahead_d[0] - 2.0) <= EXACT
    assert abs(ahead_d[1] - (1.5 - 0.5)) <= EXACT
    assert before.design.add_d == 1.5
    assert not now.is_same(before)


def test_which_lenses_are_one_thing_to_wear() -> None:
    def lens(kind: str, family: Family, free_d: float) -> Lens:
        return Lens(KINDS[kind], family, free_d, 2.0)

    computer = lens("sv_computer", SingleVision("computer"), 1.25)
    near = lens("sv_near", SingleVision("near"), 1.25)
    assert computer.is_same(near)
    assert not computer.is_same(lens("sv_near", SingleVision("near"), 1.5))
    office = lens("office", Office("slow", 1.0), 2.0)
    assert office.is_same(lens("office", Office("slow", 1.0), 2.0))
    assert not office.is_same(lens("office", Office("quick", 1.0), 2.0))
    assert not office.is_same(computer)
    bare = lens("unaided", Unaided(), 0.0)
    assert not bare.is_same(lens("sv_distance", SingleVision("distance"), 0.0))


@pytest.mark.parametrize(
    ("family", "design", "like"),
    [
        (General(12.5), Design(add_d=2.0, corridor_mm=12.5), True),
        (General(12.5), Design(add_d=1.5, corridor_mm=12.5), True),
        (General(12.5), Design(corridor_mm=14.0), False),
        (General(12.5), Design(add_d=2.0), False),
        (Office("slow", 1.0), Design(power_fall="slow", degression_d=1.0), True),
        (Office("slow", 1.0), Design(power_fall="quick", degression_d=1.0), False),
        (Office("slow", 1.0), Design(power_fall="slow", degression_d=1.25), False),
        (SingleVision("near"), Design(add_d=2.0), False),
    ],
)
def test_what_a_wearer_who_likes_a_design_would_miss(
    family: Family, design: Design, like: bool
) -> None:
    assert family.is_like(design) is like


@pytest.mark.parametrize(
    ("first", "then", "add_d"),
    [
        ((General(14.0), 0.0), (General(12.5), 0.0), 2.0),
        ((SingleVision("computer"), 1.0), (SingleVision("computer"), 1.25), 2.0),
        ((Office("slow", 1.0), 2.0), (Office("slow", 1.0), 1.75), 2.0),
        ((Office("slow", 1.5), 2.0), (Office("slow", 1.0), 2.0), 2.0),
        ((Office("slow", 0.75), 1.25), (Office("slow", 1.0), 1.25), 1.25),
    ],
)
def test_which_of_designs_as_good_in_hours_comes_first(
    first: tuple[Family, float], then: tuple[Family, float], add_d: float
) -> None:
    """The longest corridor; the least plus; full near power, then far sight without a caution."""
    sooner, later = (
        float(
            family.later(add_d=np.array([[add_d]]), free_d=np.array([[free_d]]), judgements=J)[0, 0]
        )
        for family, free_d in (first, then)
    )
    assert sooner < later


@pytest.mark.parametrize("corridor_mm", [11.0, 12.5, 14.0])
def test_a_general_progressive_covers_distance_from_the_fitting_point_up(
    corridor_mm: float,
) -> None:
    """At the highest usual add the power straight ahead and above stays within 0.12 D."""
    family = General(corridor_mm)
    powers = [abs(at(family, 0.0, y, add_d=2.5)[0]) for y in np.arange(0.0, 10.1, 0.5)]
    assert max(powers) <= J.clear_distance_added_d


@pytest.mark.parametrize("kind", ROWS)
def test_where_the_prism_of_both_eyes_is_the_same(kind: str) -> None:
    """The optical centre of single vision is dropped for the tilt, by stop times its sine."""
    place = {"stop_mm": np.array([26.5]), "tilt_deg": np.array([9.0])}
    written = ROWS[kind]["prism_drop_mm"]
    drop_mm = 26.5 * np.sin(np.radians(9.0)) if written == "tilt" else float(written)
    assert abs(float(KINDS[kind].prism_reference_drop_mm(**place)[0]) - drop_mm) <= EXACT


@pytest.mark.parametrize("kind", KINDS)
def test_a_pair_as_worn_is_told_by_the_numbers_it_was_given(kind: str) -> None:
    stated = kind_table.design(kind, "stated")
    worn = Design.model_validate(stated)
    family, free_d = KINDS[kind].worn(worn, add_d=1.0, judgements=J)
    told = family.design(add_d=1.0, free_d=free_d).numbers()
    assert {name: told[name] for name in stated} == stated


@pytest.mark.parametrize("kind", [kind for kind in KINDS if KINDS[kind].is_lens])
def test_every_lens_says_what_its_zones_add_and_never_more_than_the_add(kind: str) -> None:
    """Without zones no order can be written; a lens of one power has one."""
    for design in orders(kind, add_d=2.0):
        zones = KINDS[kind].zones(design)
        assert max(added for _, added, _ in zones) <= 2.0
        assert (len(zones) == 1) is KINDS[kind].is_single_vision
        assert all(not derived for name, _, derived in zones if name == "distance")


@pytest.mark.parametrize("kind", ROWS)
def test_a_pair_as_worn_without_numbers_is_the_middle_design(kind: str) -> None:
    family, free_d = KINDS[kind].worn(Design(), add_d=2.0, judgements=J)
    expected = kind_table.design(kind, "middle_at_add_2")
    assert family.design(add_d=2.0, free_d=free_d).numbers() == expected


def test_a_stated_corridor_is_taken_to_the_nearest_computed_one() -> None:
    kind = KINDS["general_progressive"]
    for stated, taken in ((10.0, 11.0), (12.0, 12.5), (13.1, 12.5), (13.5, 14.0), (17.0, 14.0)):
        family, _ = kind.worn(Design(corridor_mm=stated), add_d=2.0, judgements=J)
        assert isinstance(family, General)
        assert family.corridor_mm == taken


@pytest.mark.parametrize(
    ("own", "now", "left_d"),
    [
        ((-1.0, 180), (-1.0, 180), 0.0),
        ((-1.0, 180), (0.0, 180), 1.0),
        ((-1.0, 180), (-1.0, 90), 2.0),
        ((-1.0, 30), (-1.0, 180), 1.0),
        ((-2.0, 100), (-2.0, 85), 1.0353),
    ],
)
def test_what_an_earlier_cylinder_leaves(
    own: tuple[float, int], now: tuple[float, int], left_d: float
) -> None:
    """Two equal cylinders C at an angle a leave 2 C sin a (crossed cylinders, optometry texts)."""

    def both(cylinder_d: float, axis_deg: int) -> dict[str, Any]:
        eye = examples.eye(cylinder_d=cylinder_d, axis_deg=axis_deg)
        return {"right": eye, "left": eye}

    pair = {"kind": "sv_distance", "prescription": both(*own)}
    case = examples.case(examples.screen(), wearer=both(*now), owned_pairs=[pair])
    (worn,) = case.owned_pairs
    lens = owned_lens(worn, case, wearers=wearers_of([case], judgements=J), judgements=J)
    assert isinstance(lens.family, OwnPrescription)
    assert abs(lens.family.cylinder_d - left_d) <= 1e-3
