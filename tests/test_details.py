"""What is printed beside a grade, held against plane geometry and the blur of a power vector."""

from __future__ import annotations

import math

from engine.assemble import advise
from engine.case.results import OptionTarget, Result
from tests import examples

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
    return next(one for one in result.option(option).targets if one.target == name)


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
    assert abs(math.hypot(short, 0.25) - limit_d) <= EXACT
    assert abs(math.hypot(over, 0.25) - limit_d) <= EXACT


def test_the_width_without_glasses_is_what_30_degrees_of_eye_turn_reach() -> None:
    result = answered({"sphere_d": -1.25, "add_d": 2.0}, level_screen())
    width_cm = target_of(result, "unaided").clear_width_cm
    assert width_cm is not None
    reach_cm = 65.0 + STOP_MM / 10.0
    assert abs(width_cm - 2.0 * reach_cm * math.tan(math.radians(30.0))) <= EXACT


def test_the_width_through_a_segment_ends_a_pupil_from_its_side() -> None:
    result = answered({"sphere_d": 0.0, "add_d": 2.0}, examples.paper())
    page = target_of(result, "bifocal_ft28", "papers")
    row = next(one for one in page.rows if one.row == "centre")
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
