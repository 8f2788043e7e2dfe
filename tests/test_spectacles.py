"""Lens formulas against each other and against their limits."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from engine.optics import spectacles as lens
from tests.lens_points import lens_drop_mm, lens_side_mm

CLOSE = 1e-9
"""Room for rounding in chains of a few trigonometric functions of numbers up to 100."""
power = st.floats(-10.0, 10.0)
angle = st.floats(-35.0, 45.0)


def tangent(degrees: float) -> float:
    return float(np.tan(np.radians(degrees)))


@given(gaze=angle, tilt=st.floats(0.0, 20.0))
def test_the_drop_is_the_design_formula_written_without_angles(gaze: float, tilt: float) -> None:
    drop = lens_drop_mm(gaze_tangent=tangent(gaze), stop_mm=26.5, pantoscopic_deg=tilt)
    expected = 26.5 * np.sin(np.radians(gaze)) / np.cos(np.radians(gaze - tilt))
    assert abs(drop - expected) <= CLOSE


@given(direction=angle, distance=st.floats(250.0, 1e4))
def test_a_lens_without_power_bends_nothing(direction: float, distance: float) -> None:
    found = lens.gaze_tangent(
        direction_tangent=tangent(direction),
        distance_mm=distance,
        stop_mm=26.5,
        vertical_power_d=0.0,
    )
    assert abs(found - tangent(direction)) <= CLOSE


def test_plus_turns_the_eye_further_minus_less_and_nearer_less_than_far() -> None:
    gaze = lens.gaze_tangent(
        direction_tangent=0.3,
        distance_mm=np.array([400.0, np.inf]),
        stop_mm=27.0,
        vertical_power_d=np.array([[-4.0], [4.0]]),
    )
    assert gaze.shape == (2, 2)
    assert gaze[0, 1] < gaze[0, 0] < 0.3 < gaze[1, 0] < gaze[1, 1]
    assert abs(gaze[1, 1] - 0.3 / (1 - 0.027 * 4)) <= CLOSE


@given(drop=st.floats(-12.0, 20.0), strength=power, distance=st.floats(300.0, 5000.0))
def test_the_ray_through_a_lens_point_is_bent_by_prentice(
    drop: float, strength: float, distance: float
) -> None:
    """A thin lens bends the chief ray by drop x power: traced from the eye outward."""
    gaze = drop / 27.0
    slope_outside = gaze - drop * strength / 1e3
    height = drop + slope_outside * distance
    direction = height / (distance + 27.0)
    found = lens.gaze_tangent(
        direction_tangent=direction, distance_mm=distance, stop_mm=27.0, vertical_power_d=strength
    )
    assert abs(found - gaze) <= CLOSE


def test_the_eye_sideways_meets_the_lens_to_the_same_side() -> None:
    sides = lens_side_mm(
        azimuth_tangent=np.array([-0.2, 0.0, 0.2]), gaze_tangent=0.3, stop_mm=27, pantoscopic_deg=9
    )
    assert sides[0] == -sides[2] < sides[1] == 0.0
    level = lens_side_mm(azimuth_tangent=0.2, gaze_tangent=0, stop_mm=27, pantoscopic_deg=9)
    assert abs(level - 27 * 0.2) <= CLOSE


@given(drop=angle, side=st.floats(-30.0, 30.0), tilt=st.floats(0.0, 20.0))
def test_drop_and_side_are_where_the_line_meets_the_tilted_plane(
    drop: float, side: float, tilt: float
) -> None:
    """The plane through (s, 0, 0) whose top leans away: x cos t + z sin t = s cos t, z downward."""
    t = np.radians(tilt)
    down, aside = tangent(drop), tangent(side)
    forward = 26.5 * np.cos(t) / (np.cos(t) + down * np.sin(t))
    common = {"gaze_tangent": down, "stop_mm": 26.5, "pantoscopic_deg": tilt}
    found_side = lens_side_mm(azimuth_tangent=aside, **common)
    found_drop = lens_drop_mm(**common)
    assert abs(found_side - forward * aside) <= CLOSE
    along_lens = np.hypot(forward - 26.5, forward * down)
    assert abs(abs(found_drop) - along_lens) <= CLOSE


@given(strength=power, shift=st.floats(-20.0, 20.0))
def test_moving_a_lens_there_and_back_gives_the_lens(strength: float, shift: float) -> None:
    moved = lens.vertex_power_d(power_d=strength, shift_mm=shift)
    assert abs(lens.vertex_power_d(power_d=moved, shift_mm=-shift) - strength) <= CLOSE


def test_minus_weakens_toward_the_eye_and_plus_must_grow() -> None:
    powers = lens.vertex_power_d(power_d=np.array([-8.0, 0.0, 8.0]), shift_mm=12)
    assert powers[0] > -8.0
    assert powers[1] == 0.0
    assert powers[2] > 8.0


def test_imbalance_is_the_same_from_either_side() -> None:
    values = lens.vertical_imbalance_pd(
        power_difference_d=np.array([-2.0, 2.0]), height_from_reference_mm=np.array([-8.0, 8.0])
    )
    assert values.tolist() == [1.6, 1.6]


def test_near_centration_meets_plain_geometry_and_far_needs_none() -> None:
    near = lens.near_centration_mm(
        distance_centration_mm=64, working_distance_mm=400, stop_mm=27, power_d=0
    )
    assert abs(near - 64 * 400 / 427) <= CLOSE
    far = lens.near_centration_mm(
        distance_centration_mm=64, working_distance_mm=np.inf, stop_mm=27, power_d=-5
    )
    assert far == 64.0
    insets = 64 - lens.near_centration_mm(
        distance_centration_mm=64, working_distance_mm=400, stop_mm=27, power_d=np.array([-8, 8])
    )
    assert insets[0] < 64 - near < insets[1]


def test_near_centration_and_gaze_are_one_geometry() -> None:
    """Half of the near centration distance is where the gaze to the midline meets the lens."""
    half, work, stop, strength = 32.0, 400.0, 27.0, -5.0
    near = lens.near_centration_mm(
        distance_centration_mm=half, working_distance_mm=work, stop_mm=stop, power_d=strength
    )
    gaze = lens.gaze_tangent(
        direction_tangent=half / (work + stop),
        distance_mm=work,
        stop_mm=stop,
        vertical_power_d=strength,
    )
    assert abs((half - near) - gaze * stop) <= CLOSE


def test_the_optical_centre_sinks_with_the_tilt() -> None:
    drops = lens.pantoscopic_centre_drop_mm(pantoscopic_deg=np.array([0.0, 9.0]), stop_mm=26.5)
    assert drops[0] == 0.0
    assert abs(drops[1] - 26.5 * np.sin(np.radians(9))) <= CLOSE
