"""Places, sizes and postures: geometry that must hold whatever the numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import InputRefusedError
from engine.optics import workstation as desk

CLOSE = 1e-6
"""A millionth of a millimetre or degree: rounding in lengths up to a few thousand."""

Screen = dict[str, float | int | None]


def screen(**changed: float | int | None) -> Screen:
    base: Screen = {
        "distance_cm": 65.0,
        "centre_above_eye_cm": -20.0,
        "width_cm": 59.8,
        "height_cm": 33.6,
        "stop_mm": 26.5,
        "tilt_deg": 10.0,
        "offset_cm": 0.0,
    }
    return base | changed


def points(**changed: float | int | None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return desk.face_points_mm(**screen(**changed))  # type: ignore[arg-type]


def lengths(found: tuple[np.ndarray, np.ndarray, np.ndarray]) -> np.ndarray:
    return np.sqrt(sum(part**2 for part in found))


@given(height=st.floats(-40.0, 20.0), offset=st.floats(-40.0, 40.0), tilt=st.floats(-20.0, 90.0))
def test_the_centre_lies_at_the_taped_distance(height: float, offset: float, tilt: float) -> None:
    found = points(centre_above_eye_cm=height, offset_cm=offset, tilt_deg=tilt)
    forward, right, up = (part[4, 4] for part in found)
    assert abs(lengths(found)[4, 4] - 676.5) <= CLOSE
    assert abs(right - 10 * offset) <= CLOSE
    assert abs(up - 10 * height) <= CLOSE
    assert forward > 0.0


@given(offset=st.floats(-40.0, 40.0), height=st.floats(-40.0, 10.0))
def test_a_face_without_tilt_is_square_to_the_line_of_sight(offset: float, height: float) -> None:
    away = lengths(points(offset_cm=offset, centre_above_eye_cm=height, tilt_deg=None))
    assert np.abs(away - away[::-1]).max() <= CLOSE
    assert np.abs(away - away[:, ::-1]).max() <= CLOSE
    assert away.argmin() == 40


@given(tilt=st.floats(-20.0, 90.0), offset=st.floats(-40.0, 40.0))
def test_the_grid_keeps_the_size_and_the_order_of_the_screen(tilt: float, offset: float) -> None:
    f, r, u = points(tilt_deg=tilt, offset_cm=offset)
    across = np.sqrt((f[0, 0] - f[0, 8]) ** 2 + (r[0, 0] - r[0, 8]) ** 2 + (u[0, 0] - u[0, 8]) ** 2)
    down = np.sqrt((f[0, 0] - f[8, 0]) ** 2 + (r[0, 0] - r[8, 0]) ** 2 + (u[0, 0] - u[8, 0]) ** 2)
    assert abs(across - 598 * 8 / 9) <= CLOSE
    assert abs(down - 336 * 8 / 9) <= CLOSE
    bearing = np.arctan2(r, f)
    assert (np.diff(bearing, axis=1) > 0.0).all()
    if tilt < 89:
        assert (np.diff(u, axis=0) < 0.0).all()
    if tilt > 1:
        away_from_wearer = f * np.cos(bearing[4, 4]) + r * np.sin(bearing[4, 4])
        assert (np.diff(away_from_wearer, axis=0) < 0.0).all()


def test_flat_on_the_desk_is_level_and_one_cell_is_the_centre() -> None:
    _, _, up = points(tilt_deg=90.0)
    assert np.abs(up + 200.0).max() <= CLOSE
    single = points(n=1)
    assert [part.shape for part in single] == [(1, 1)] * 3


@pytest.mark.parametrize("changed", [{"centre_above_eye_cm": -68.0}, {"offset_cm": 67.65}])
def test_a_centre_beside_or_behind_the_eye_is_refused(changed: dict[str, float]) -> None:
    with pytest.raises(InputRefusedError, match=r"distance_cm: 65 cannot be used"):
        points(**changed)


def test_demand_counts_from_the_lens_and_far_asks_for_nothing() -> None:
    demands = desk.demand_d(eye_to_point_mm=np.array([426.5, np.inf]), stop_mm=26.5)
    assert demands.tolist() == [2.5, 0.0]
    with pytest.raises(InputRefusedError, match="in front of the lens"):
        desk.demand_d(eye_to_point_mm=[500.0, 26.5], stop_mm=26.5)


@pytest.mark.parametrize("aspect", ["16:9", " 16 : 9 ", "16x9", "43:18", "9:16", "2.35:1"])
def test_the_sides_of_a_screen_belong_to_its_diagonal(aspect: str) -> None:
    width, height = desk.screen_size_cm(diagonal_in=27, aspect=aspect)
    assert abs(math.hypot(width, height) - 27 * 2.54) <= CLOSE


@pytest.mark.parametrize(("name", "sides"), [("21:9", (43, 18)), ("9 x 21", (18, 43))])
def test_a_panel_called_21_to_9_has_the_sides_it_is_sold_with(
    name: str, sides: tuple[int, int]
) -> None:
    width, height = desk.screen_size_cm(diagonal_in=34, aspect=name)
    per_part = 34 * 2.54 / math.hypot(*sides)
    assert abs(width - sides[0] * per_part) <= CLOSE
    assert abs(height - sides[1] * per_part) <= CLOSE


@pytest.mark.parametrize(
    "aspect", ["", "16", "16/9", "0:9", "16:0", "-16:9", "50:9", "wide", "1:9"]
)
def test_a_bad_aspect_is_refused(aspect: str) -> None:
    with pytest.raises(InputRefusedError, match=r"aspect: .*\. (Allowed|Needed): width:height"):
        desk.screen_size_cm(diagonal_in=27, aspect=aspect)


@pytest.mark.parametrize("diagonal", [0.0, -1.0, math.inf, math.nan])
def test_a_bad_diagonal_is_refused(diagonal: float) -> None:
    with pytest.raises(InputRefusedError, match="diagonal_in"):
        desk.screen_size_cm(diagonal_in=diagonal, aspect="16:9")


@given(arcmin=st.floats(1.0, 200.0), distance=st.floats(20.0, 600.0))
def test_text_height_and_angle_undo_each_other(arcmin: float, distance: float) -> None:
    height = desk.text_height_mm(arcmin=arcmin, distance_cm=distance)
    assert abs(desk.text_arcmin(height_mm=height, distance_cm=distance) - arcmin) <= CLOSE


@given(pitch=st.floats(-45.0, 30.0))
def test_the_eye_keeps_its_distance_from_the_pivot(pitch: float) -> None:
    forward, up = desk.eye_shift_mm(chin_up_deg=pitch, pivot_ahead_mm=93, pivot_below_mm=48)
    reach = math.hypot(93.0 + float(forward), 48.0 + float(up))
    assert abs(reach - math.hypot(93.0, 48.0)) <= CLOSE
    turned = math.atan2(48.0 + float(up), 93.0 + float(forward)) - math.atan2(48.0, 93.0)
    assert abs(math.degrees(turned) - pitch) <= CLOSE


def test_looking_lower_bends_the_head_forward() -> None:
    assert desk.free_chin_up_deg(declination_deg=20.0, slope=0.4) == -8.0
    assert desk.free_chin_up_deg(declination_deg=-10.0, slope=0.28) == pytest.approx(2.8)
    below = desk.declination_deg(below_eye_cm=np.array([-10.0, 0.0, 10.0]), horizontal_cm=60)
    assert below[0] == -below[2] < below[1] == 0.0


@pytest.mark.parametrize(
    ("flexion", "iso", "rula"),
    [
        (-90.0, "not recommended", 4),
        (-0.001, "not recommended", 4),
        (0.0, "acceptable", 1),
        (-1e-12, "acceptable", 1),
        (10.0, "acceptable", 1),
        (10.001, "acceptable", 2),
        (20.0, "acceptable", 2),
        (20.001, "acceptable", 3),
        (25.0, "acceptable", 3),
        (25.001, "conditional", 3),
        (85.0, "conditional", 3),
        (85.001, "not recommended", 3),
    ],
)
def test_each_scale_at_just_under_and_just_over_its_edges(
    flexion: float, iso: str, rula: int
) -> None:
    assert str(desk.iso11226_head(flexion_deg=flexion)) == iso
    assert int(desk.rula_neck(flexion_deg=flexion)) == rula


def test_scales_take_arrays_and_refuse_what_no_neck_does() -> None:
    assert desk.rula_neck(flexion_deg=[[5.0], [15.0]]).tolist() == [[1], [2]]
    with pytest.raises(InputRefusedError, match="flexion_deg"):
        desk.iso11226_head(flexion_deg=[0.0, 200.0])
    with pytest.raises(InputRefusedError, match="flexion_deg"):
        desk.iso11226_head(flexion_deg=math.nan)
