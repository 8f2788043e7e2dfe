"""Desks as arrays: points by vectors, shares, hours, demand, parts of a scene."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from engine.case.model import Case
from engine.case.read import build_case
from engine.case.scene import Scene, scene_of, usable_of
from engine.kernel.draws import Draws, Spreads
from engine.tables import Judgements
from tests.oracles import brute_force

J = Judgements.standard()
EXACT_MM = 1e-6
SCREEN = {
    "name": "screen",
    "kind": "screen",
    "distance_cm": 65,
    "top_above_eye_cm": 2,
    "width_cm": 53.1,
    "height_cm": 29.9,
    "tilt_deg": 8,
    "text_height_mm": 3.0,
}
PAGE = {
    "name": "page",
    "kind": "page",
    "distance_cm": 42,
    "centre_above_eye_cm": -28,
    "width_cm": 21,
    "height_cm": 29.7,
    "text_height_mm": 2.0,
}
FAR = {
    "name": "far",
    "kind": "far",
    "distance_cm": 400,
    "centre_above_eye_cm": 0,
    "text_arcmin": 16,
}


def made(
    *targets: dict[str, Any], activities: list[dict[str, Any]] | None = None, **wearer: Any
) -> Case:
    """An invented wearer before these things, an hour on each."""
    looks = [{"target": target["name"], "share": 1 / len(targets)} for target in targets]
    return build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {
                "age_years": 55,
                "right": {"sphere_d": -1.0, "cylinder_d": -0.5, "axis_deg": 180, "add_d": 2.0},
                "left": {"sphere_d": -1.5, "add_d": 2.0},
                **wearer,
            },
            "targets": list(targets),
            "activities": activities or [{"name": "desk", "hours": len(targets), "looks": looks}],
        }
    )


def scene(*targets: dict[str, Any], **more: Any) -> Scene:
    return scene_of([made(*targets, **more)], judgements=J)


def test_the_points_of_a_screen_are_those_of_a_tilted_rectangle() -> None:
    one = scene(SCREEN)
    centre_cm = 2.0 - 29.9 / 2 * math.cos(math.radians(8.0))
    cells = brute_force.points(brute_force.Face(65.0, centre_cm, 53.1, 29.9, 8.0), 26.5, 9)
    right_half = [cell for at, cell in enumerate(cells) if at % 9 >= 4]
    found = np.stack([one.forward_mm, one.right_mm, -one.up_mm], axis=1)
    assert np.abs(found - np.array(right_half)).max() <= EXACT_MM


def test_a_page_without_a_tilt_is_square_to_the_line_of_sight() -> None:
    one = scene(PAGE)
    reach = 420.0 + 26.5
    declination = math.degrees(math.asin(280.0 / reach))
    cells = brute_force.points(brute_force.Face(42.0, -28.0, 21.0, 29.7, declination), 26.5, 9)
    found = np.stack([one.forward_mm, one.right_mm, -one.up_mm], axis=1)
    wanted = np.array([cell for at, cell in enumerate(cells) if at % 9 >= 4])
    assert np.abs(found - wanted).max() <= EXACT_MM
    centre = found[one.middle & (one.row == 4)][0]
    top = found[one.middle & (one.row == 0)][0]
    assert abs((top - centre) @ centre) <= 1e-3  # square: mm^2 on half a metre


def test_the_top_edge_of_a_page_held_square_is_where_it_was_taped() -> None:
    given = {name: value for name, value in PAGE.items() if name != "centre_above_eye_cm"}
    one = scene(given | {"top_above_eye_cm": -12.0})
    heights = [float(one.up_mm[one.middle & (one.row == row)][0]) for row in (0, 4)]
    # Row 0 stands 4 of 9 cells above the middle, the edge half a cell more.
    edge_mm = heights[1] + (heights[0] - heights[1]) * 4.5 / 4.0
    assert abs(edge_mm - -120.0) <= 0.01  # the iteration stops at a hundredth of a millimetre


def test_mirrored_columns_stand_once_with_both_shares() -> None:
    """The whole screen, off to the side by almost nothing, says the same as the half."""
    half, whole = scene(SCREEN), scene(SCREEN | {"offset_cm": 1e-9})
    assert (len(half.share), len(whole.share)) == (45, 81)
    assert abs(half.share.sum() - 1.0) <= 1e-12
    assert abs(whole.share.sum() - 1.0) <= 1e-12
    by_demand = [float(one.by_target(one.demand_d)[0]) for one in (half, whole)]
    assert abs(by_demand[0] - by_demand[1]) <= 1e-9


@pytest.mark.parametrize("offset_cm", [0.0, 40.0])
def test_three_draws_in_a_row_look_at_every_point_once(offset_cm: float) -> None:
    """Each at a third of every column of the screen, and at all of what is far."""
    case = made(SCREEN | {"offset_cm": offset_cm}, FAR).model_copy(update={"origin": {}})
    whole = scene_of([case], judgements=J)
    drawn = Draws(case, judgements=J, spreads=Spreads.none()).scene(slice(1, 4), in_thirds=True)
    assert np.abs(drawn.by_target(np.ones(len(drawn.share))) - 1.0).max() <= 1e-12
    assert np.array_equal(drawn.point_wearer[drawn.row < 0], [0, 1, 2])
    screen, every = drawn.points_at(drawn.row >= 0), whole.points_at(whole.row >= 0)
    turned = math.atan2(*(getattr(every, name).mean() for name in ("right_mm", "forward_mm")))
    turned = turned if offset_cm else 0.0
    across = [
        np.round(one.right_mm * math.cos(turned) - one.forward_mm * math.sin(turned), 3)
        for one in (screen, every)
    ]
    for column in np.unique(across[1]):
        share = every.share[across[1] == column].sum()
        for wearer in range(3):
            mine = (screen.point_wearer == wearer) & (across[0] == column)
            assert abs(screen.share[mine].sum() - share) <= 1e-12, (column, wearer)
    place = [np.stack([one.up_mm, one.right_mm, one.forward_mm]) for one in (screen, every)]
    drawn_at, at = (np.lexsort(np.round(one, 3)) for one in place)
    assert np.abs(place[0][:, drawn_at] - place[1][:, at]).max() <= EXACT_MM
    assert np.abs(screen.share[drawn_at] - 3.0 * every.share[at]).max() <= 1e-12


def test_a_screen_off_to_the_side_faces_the_wearer() -> None:
    one = scene(SCREEN | {"offset_cm": 40.0})
    middle = np.flatnonzero(one.middle & (one.row == 4))[0]
    row = np.flatnonzero(one.row == 4)
    centre = np.array([one.forward_mm[middle], one.right_mm[middle]])
    assert abs(centre[1] - 400.0) <= EXACT_MM
    ends = np.stack([one.forward_mm[row], one.right_mm[row]], axis=1)[[0, -1]]
    assert abs((ends[1] - ends[0]) @ centre) <= 1e-3


def test_demand_is_taken_at_the_lens() -> None:
    """65 cm by tape ask 1/0.65 D in the middle; the corners are farther and ask less."""
    one = scene(SCREEN | {"top_above_eye_cm": 29.9 / 2 * math.cos(math.radians(8.0))})
    middle = np.flatnonzero(one.middle & (one.row == 4))[0]
    assert abs(one.demand_d[middle] - 1 / 0.65) <= 1e-9
    reach = np.sqrt(one.forward_mm**2 + one.right_mm**2 + one.up_mm**2)
    assert np.abs(one.demand_d - 1e3 / (reach - 26.5)).max() <= 1e-9
    assert one.demand_d.min() < one.demand_d[middle] - 0.05


def test_a_far_target_is_one_point_in_no_row() -> None:
    one = scene(FAR)
    assert (len(one.share), one.share[0], one.row[0]) == (1, 1.0, -1)
    assert bool(one.is_far[0])
    # 4 m away, seen by eyes refracted at a chart 6 m away.
    assert abs(one.demand_d[0] - (1 / 4 - 1 / 6)) <= 1e-9


def test_a_far_target_beyond_the_chart_is_seen_through_too_much_power() -> None:
    """A chart nearer than the target leaves the distance lens too strong for it."""
    near_chart = scene(FAR, chart_distance_m=3.0)
    assert abs(near_chart.demand_d[0] - (1 / 4 - 1 / 3)) <= 1e-9
    screen = scene(SCREEN, chart_distance_m=3.0)
    assert np.abs(screen.demand_d - scene(SCREEN).demand_d).max() <= 1e-12


def test_the_free_posture_takes_its_share_of_the_declination() -> None:
    one = scene(PAGE)
    centre = np.flatnonzero(one.middle & (one.row == 4))[0]
    declination = math.degrees(math.asin(280.0 / 446.5))
    assert abs(one.free_chin_up_deg[centre] + 0.40 * declination) <= 1e-9


def test_hours_are_shares_of_the_activities() -> None:
    activities = [
        {
            "name": "desk",
            "hours": 5,
            "looks": [{"target": "screen", "share": 0.7}, {"target": "page", "share": 0.3}],
        },
        {"name": "drive", "hours": 2, "looks": [{"target": "far", "share": 1.0}]},
        {
            "name": "talk",
            "hours": 1,
            "looks": [{"target": "far", "share": 0.5}, {"target": "screen", "share": 0.5}],
        },
    ]
    activities[1]["needs"] = ["driving"]
    one = scene(SCREEN, PAGE, FAR, activities=activities)
    assert np.abs(one.target_hours - [4.0, 1.5, 2.5]).max() <= 1e-12
    assert np.abs(one.seated_hours - [4.0, 1.5, 0.5]).max() <= 1e-12
    assert abs(one.hours(np.ones(3))[0] - 8.0) <= 1e-12
    assert abs(one.hours(np.array([0.5, 0.0, 1.0]), seated_only=True)[0] - 2.5) <= 1e-12


@pytest.mark.parametrize(("share", "other"), [(0.7, 0.3), (0.705, 0.3), (0.69, 0.3)])
def test_shares_that_miss_one_by_a_hundredth_count_as_one(share: float, other: float) -> None:
    looks = [{"target": "screen", "share": share}, {"target": "page", "share": other}]
    one = scene(SCREEN, PAGE, activities=[{"name": "desk", "hours": 6, "looks": looks}])
    assert abs(one.target_hours.sum() - 6.0) <= 1e-12
    assert abs(one.target_hours[0] - 6.0 * share / (share + other)) <= 1e-12


@pytest.mark.parametrize(
    ("arcmin", "legible", "limit_d"),
    [(9.9, False, 0.30 * (1 + math.log10(9.9 / 5))), (10.0, True, 0.30 * (1 + math.log10(2)))],
)
def test_text_below_10_arcmin_is_not_served(arcmin: float, legible: bool, limit_d: float) -> None:
    shown = {name: value for name, value in SCREEN.items() if name != "text_height_mm"}
    one = scene(shown | {"text_arcmin": arcmin})
    assert bool(one.legible[0]) is legible
    assert abs(one.limit_d[0] - limit_d) <= 1e-9


def test_a_far_target_is_always_legible() -> None:
    one = scene(FAR | {"text_arcmin": 6})
    assert bool(one.legible[0])


def test_what_the_frame_leaves_of_the_lens() -> None:
    """Lens 52 x 34, fitting height 20, 2 mm lost at the rim: by hand."""
    one = scene(SCREEN).wearers
    assert (one.lowest_mm[0], one.highest_mm[0], one.half_width_mm[0]) == (-18.0, 12.0, 24.0)
    assert one.stop_mm[0] == 26.5


def test_one_eye_stands_for_both() -> None:
    """-1.00 -0.50 x 180 has -1.50 upright, the other eye -1.50: mean -1.50, no difference."""
    one = scene(SCREEN).wearers
    assert abs(one.vertical_power_d[0] + 1.5) <= 1e-12
    assert abs(one.vertical_difference_d[0]) <= 1e-12
    assert abs(one.unaided_power_d[0] - 1.375) <= 1e-12
    assert one.unaided_astigmatism_d[0] == 0.5


def test_two_cases_stand_side_by_side_and_come_apart_again() -> None:
    first, second = made(SCREEN, FAR), made(PAGE)
    both = scene_of([first, second], judgements=J)
    assert list(both.target_wearer) == [0, 0, 1]
    part = both.of_wearers(np.array([False, True]))
    alone = scene_of([second], judgements=J)
    for name in ("forward_mm", "right_mm", "up_mm", "demand_d", "share", "target_hours"):
        assert np.array_equal(getattr(part, name), getattr(alone, name))
    assert list(part.point_wearer) == [0] * 45
    shares = both.by_target(np.ones(len(both.share)))
    assert np.abs(shares - 1.0).max() <= 1e-12
    assert np.abs(both.hours(shares) - [2.0, 1.0]).max() <= 1e-12


def test_a_lens_implant_leaves_no_accommodation() -> None:
    case = made(SCREEN)
    assert usable_of(case, judgements=J) == (0.5, "add")
    told = case.model_dump(exclude_none=True, by_alias=True)
    told["wearer"]["conditions"] = ["pseudophakia"]
    assert usable_of(build_case(told), judgements=J) == (0.0, "condition")
