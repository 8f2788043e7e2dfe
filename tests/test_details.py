"""What is printed beside a grade, held against plane geometry and the blur of a power vector."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from engine.assemble import advise
from engine.case.results import OptionTarget, Result
from engine.kernel.details import Closeup, window_middles
from engine.lenses.families import General
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.lenses.surfaces import general_surface
from tests import examples
from tests.lens_points import lens_side_mm
from tests.oracles import desk_figures as desk

EXACT = 1e-9
STOP_MM = 13.0 + 13.5
SAME_EYES = ("right", "left")


def level_screen() -> dict[str, object]:
    """Its middle straight ahead: level gaze, so nothing depends on the head."""
    usual = examples.screen(centre_above_eye_cm=0.0)
    return {name: value for name, value in usual.items() if name != "top_above_eye_cm"}


def answered(power: dict[str, float], *targets: dict[str, object]) -> Result:
    return advise(examples.case(*targets, wearer=dict.fromkeys(SAME_EYES, power)))


def target_of(result: Result, option: str, name: str = "screen") -> OptionTarget:
    return result.option(option).through(name)


def test_the_ends_of_a_clear_range_leave_just_the_blur_that_is_borne() -> None:
    # Bare myopic eyes: 1.25 D of added power and a cylinder of 0.50 D everywhere.
    result = answered(
        {"sphere_d": -1.0, "cylinder_d": -0.5, "axis_deg": 90, "add_d": 2.0}, level_screen()
    )
    clear = target_of(result, "unaided").clear_range_cm
    assert clear is not None
    assert clear.near is not None
    assert clear.far is not None
    usable_d, limit_d = result.usable_accommodation_d.value, result.targets[0].blur_limit_d
    assert abs(usable_d - 0.5) <= EXACT  # 100/40 less the add
    short, over = 100.0 / clear.near - usable_d - 1.25, 1.25 - 100.0 / clear.far
    counted_d = 0.5 * desk.J.astigmatism_weight
    assert abs(math.hypot(short, counted_d) - limit_d) <= EXACT
    assert abs(math.hypot(over, counted_d) - limit_d) <= EXACT


def test_eyes_right_at_the_chart_see_nearer_by_its_vergence() -> None:
    shelf = {"name": "shelf", "kind": "far", "distance_cm": 150, "text_arcmin": 15}
    result = answered({"sphere_d": 0.0, "add_d": 2.25}, {**shelf, "centre_above_eye_cm": 0.0})
    clear = target_of(result, "unaided", "shelf").clear_range_cm
    assert clear is not None
    assert clear.near is not None
    usable_d, limit_d = result.usable_accommodation_d.value, result.targets[0].blur_limit_d
    assert abs(100.0 / clear.near - usable_d - limit_d - 1 / 6) <= EXACT  # a chart at 6 m


def test_a_thing_across_the_room_that_is_clear_lies_within_its_clear_range() -> None:
    """The far power is right at the chart's 6 m, for the hours and for the range beside them."""
    clear_at = []
    for distance_cm in (120, 150, 158, 200, 300, 450, 800):
        shelf = {"name": "shelf", "kind": "far", "distance_cm": distance_cm, "text_arcmin": 15}
        result = answered({"sphere_d": 0.0, "add_d": 2.25}, {**shelf, "centre_above_eye_cm": 0.0})
        for option in result.options:
            clear = target_of(result, option.option, "shelf").clear_range_cm
            if clear is not None:
                clear_at.append(distance_cm)
                assert clear.near is None or clear.near <= distance_cm + EXACT
                assert clear.far is None or distance_cm <= clear.far + EXACT
    assert clear_at.count(150) > 1
    assert clear_at.count(800) > 1


def test_the_width_without_glasses_is_what_30_degrees_of_eye_turn_reach() -> None:
    result = answered({"sphere_d": -1.25, "add_d": 2.0}, level_screen())
    width_cm = target_of(result, "unaided").clear_width_cm
    assert width_cm is not None
    reach_cm = 65.0 + STOP_MM / 10.0
    assert abs(width_cm - 2.0 * reach_cm * math.tan(math.radians(30.0))) <= EXACT


def test_the_width_through_a_segment_ends_a_pupil_from_its_side() -> None:
    result = answered({"sphere_d": 0.0, "add_d": 2.0}, examples.paper())
    page = target_of(result, "bifocal_ft28", "papers")
    row = page.centre
    assert page.clear_width_cm is not None
    assert row.gaze_down_deg is not None
    tilt, down = math.radians(9.0), math.tan(math.radians(row.gaze_down_deg))
    # A plano lens does not bend the gaze. Its line at an azimuth meets the tilted lens at
    # s tan(azimuth) cos t / (cos t + tan g sin t); the segment is 28 mm wide, 1.5 mm lost a side.
    edge = 12.5 * (math.cos(tilt) + down * math.sin(tilt)) / (STOP_MM * math.cos(tilt))
    most_deg = math.floor(2.0 * math.degrees(math.atan(edge))) / 2.0  # tried in half degrees
    assert most_deg < 30.0
    level_cm = math.sqrt((42.0 + STOP_MM / 10.0) ** 2 - 30.0**2)
    wanted_cm = 2.0 * level_cm * math.tan(math.radians(most_deg))
    assert abs(page.clear_width_cm - wanted_cm) <= EXACT


@pytest.mark.parametrize(
    ("clear", "free_deg", "told"),
    [
        ("..........", 4.0, None),
        ("##########", 4.0, 4),  # the free posture, with half a window on either side
        ("##########", 0.0, 2),  # half a window in from the end of what was scanned
        ("......####", 9.0, 9),  # no run is wide enough: the nearest clear posture
        ("......####", 1.0, 6),
        ("#....#####", 0.0, 7),  # the free posture is clear, but nobody lives there
        (".#####....", 6.0, 3),
        ("#####.####", 6.0, 2),
        ("###.######", 2.0, 6),
    ],
)
def test_the_posture_told_is_the_middle_of_the_nearest_window(
    clear: str, free_deg: float, told: int | None
) -> None:
    """Windows of five postures, a degree apart."""
    works = np.array([[mark == "#" for mark in clear]])
    found = window_middles(
        works, chin_up_deg=np.arange(10.0), free_deg=np.array([free_deg]), samples=5
    )
    assert found.tolist() == [-1 if told is None else told]


def test_postures_lie_half_a_window_inside_what_is_clear() -> None:
    """A screen through a progressive: 2 degrees of chin beyond where it just gets clear."""
    looked_at = desk.Desk(add_d=2.0, distance_cm=60.0)
    family = General(12.5)
    printed = desk.told(looked_at, "general_progressive", family).centre.chin_up_deg
    assert printed is not None
    edge = replace(desk.J, window_deg=0.0)
    (target,) = Closeup(desk.scene(looked_at), ("seen",), edge).targets(
        Lens(KINDS["general_progressive"], family, 0.0),
        desk.graded(looked_at, "general_progressive", family),
    )
    nearest = target.centre.chin_up_deg
    assert nearest is not None
    assert abs(printed - nearest - desk.J.window_deg / 2) <= EXACT


@cache
def astigmatism_across(corridor_mm: float) -> np.ndarray:
    """Per dioptre of add, (heights of the corridor, steps of 0.05 mm from the middle)."""
    surface = general_surface(corridor_mm)
    y = np.arange(surface.progression.near_mm, surface.progression.top_mm, 0.5)
    x, y = np.meshgrid(np.arange(0.0, 15.0, 0.05), y)
    return surface.lookup(x_mm=x, y_mm=y)[1]


def corridor_mm_at_1_d(corridor_mm: float, *, add_d: float) -> float:
    """The width of a progressive as it is published: its narrowest with 1.00 D of astigmatism."""
    over = add_d * astigmatism_across(corridor_mm) > 1.0
    return float(2.0 * 0.05 * np.argmax(over[over.any(axis=1)], axis=1).min())


@pytest.mark.parametrize("centre_below_deg", [5.0, 15.0, 25.0])
@pytest.mark.parametrize("add_d", [1.5, 1.75, 2.0, 2.25, 2.5])
@pytest.mark.parametrize("corridor_mm", desk.CORRIDORS_MM)
def test_the_clear_width_at_60_cm_is_that_of_the_surface(
    corridor_mm: float, add_d: float, centre_below_deg: float
) -> None:
    """Half to three quarters of the corridor at 1.00 D of astigmatism (found: 0.52 to 0.68).

    A clear width ends where the astigmatism alone blurs the text, before 1.00 D. Held against the
    narrowest of the surface, one number a lens, as studies print it. At the very height looked
    through, 1.00 D says little of a weak add: at 1.50 the window begins where the power does, the
    surface has 1.00 D of astigmatism only far to the side or nowhere, and what ends the width is
    that power and focusing together just reach.
    """
    looked_at = desk.Desk(distance_cm=60.0, add_d=add_d, centre_below_deg=centre_below_deg)
    found = desk.told(looked_at, "general_progressive", General(corridor_mm))
    row = found.centre
    assert row.gaze_down_deg is not None
    assert found.clear_width_cm is not None
    side_mm = lens_side_mm(
        azimuth_tangent=1.0,
        gaze_tangent=math.tan(math.radians(row.gaze_down_deg)),
        stop_mm=STOP_MM,
        pantoscopic_deg=9.0,
    )
    level_cm = (60.0 + STOP_MM / 10.0) * math.cos(math.radians(centre_below_deg))
    width_cm = level_cm * corridor_mm_at_1_d(corridor_mm, add_d=add_d) / float(side_mm)
    assert 0.5 <= found.clear_width_cm / width_cm <= 0.75
