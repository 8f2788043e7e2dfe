"""Facts of the trade on the engine's own output. Each is common practice, no source.

They hold the program to what anybody who fits lenses has seen; they prove no number.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.lenses.families import SEGMENT_HALF_WIDTH_MM, Bifocal, General, SingleVision
from engine.lenses.kinds import KINDS
from engine.lenses.surfaces import general_surface
from engine.optics.spectacles import prentice_prism_pd
from tests.oracles import desk_figures as desk

LID_BELOW_PUPIL_MM = 6.0
"""Lower lid at the lower edge of an iris of 12 mm: common practice, no source."""
BIFOCAL = Bifocal(5.0, 1.5, False)


def zone_mm(corridor_mm: float, *, add_d: float, astigmatism_d: float = 0.50) -> float:
    """Width of the near zone."""
    surface = general_surface(corridor_mm)
    x = np.arange(0.0, 27.0, 0.01)
    at = surface.exact(x_mm=x, y_mm=np.full_like(x, surface.progression.near_mm))[1]
    return float(2.0 * x[np.argmax(add_d * at > astigmatism_d)])


def test_a_flat_top_is_28_mm_wide_and_its_line_sits_about_the_lower_lid() -> None:
    """Common practice, no source: at the lid or up to a millimetre above it."""
    assert SEGMENT_HALF_WIDTH_MM == 14.0
    kind = KINDS["bifocal_ft28"].families(desk.J)[0]
    assert isinstance(kind, Bifocal)
    assert LID_BELOW_PUPIL_MM - 1.0 <= kind.line_drop_mm <= LID_BELOW_PUPIL_MM + 2.0


@pytest.mark.parametrize(("add_d", "wide_mm"), [(1.5, 10.3), (2.0, 8.9), (2.5, 8.0)])
def test_the_reading_area_of_a_progressive_is_about_9_mm_wide(add_d: float, wide_mm: float) -> None:
    """Common practice, no source. Middle corridor, astigmatism up to 0.50 D."""
    found = zone_mm(12.5, add_d=add_d)
    assert abs(found - 9.0) <= 1.5
    assert abs(found - wide_mm) <= 0.1  # what the solved surface gives


@pytest.mark.parametrize("add_d", [1.5, 2.0, 2.5])
def test_that_of_a_bifocal_is_about_three_times_as_wide(add_d: float) -> None:
    """Common practice, no source. Usable width of the segment over the near zone."""
    usable_mm = 2.0 * (SEGMENT_HALF_WIDTH_MM - desk.J.line_margin_mm)
    assert 2.3 <= usable_mm / zone_mm(12.5, add_d=add_d) <= 3.5


@pytest.mark.parametrize("corridor_mm", [12.5, 14.0])
def test_distance_is_clear_over_the_width_of_an_iris(corridor_mm: float) -> None:
    """Common practice, no source: 12 mm about the fitting point, highest usual add, 0.30 D.

    The shortest corridor misses it: 8 mm, which is why short corridors are not chosen first.
    """
    assert clear_far_mm(corridor_mm) >= 11.9
    assert 7.5 <= clear_far_mm(11.0) <= 9.0


def clear_far_mm(corridor_mm: float) -> float:
    x = np.arange(0.0, 28.0, 0.01)
    power, astigmatism = general_surface(corridor_mm).exact(x_mm=x, y_mm=np.zeros_like(x))
    return float(2.0 * x[np.argmax(np.hypot(2.5 * power, 2.5 * astigmatism / 2) > 0.30)])


@pytest.mark.parametrize("add_d", [2.0, 2.5])
@pytest.mark.parametrize("corridor_mm", desk.CORRIDORS_MM)
def test_an_eye_level_monitor_brings_the_chin_up_through_a_progressive(
    add_d: float, corridor_mm: float
) -> None:
    """Common practice, no source. Centre of the screen level with the eyes."""
    level = desk.Desk(add_d=add_d, centre_below_deg=0.0)
    found = desk.chin_up(level, corridor_mm)
    assert found is not None
    assert found >= 8.0
    assert desk.single_vision_chin_up(level) == 0.0
    assert desk.graded(level, "general_progressive", General(corridor_mm)).comfortable[0] < 0.1


@pytest.mark.parametrize("add_d", desk.ADDS_D)
@pytest.mark.parametrize("corridor_mm", desk.CORRIDORS_MM)
def test_a_frame_that_slips_3_mm_brings_the_chin_up_to_read(
    add_d: float, corridor_mm: float
) -> None:
    """Common practice, no source. 3 mm of slip: 5 to 6 degrees of chin."""
    found = [
        desk.chin_up(replace(desk.PAGE, add_d=add_d, slip_mm=slip), corridor_mm)
        for slip in (0.0, 3.0)
    ]
    assert None not in found
    assert 4.5 <= found[1] - found[0] <= 6.0  # type: ignore[operator]


def test_slip_puts_part_of_the_page_out_of_reach() -> None:
    """Common practice, no source."""
    shares = [
        desk.graded(
            replace(desk.PAGE, slip_mm=slip), "general_progressive", General(12.5)
        ).comfortable[0]
        for slip in (0.0, 2.0, 3.0, 4.0)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.7
    assert shares[-1] < 0.1


@pytest.mark.parametrize("at", ["page", "screen"])
def test_a_pupil_off_the_fitting_point_costs_about_2_degrees_a_millimetre(at: str) -> None:
    """Common practice, no source; for the relaxed eye, so that nothing else can make up for it."""
    looked_at = replace(desk.PAGE if at == "page" else desk.Desk(), add_d=2.5)
    found = [
        desk.chin_up(replace(looked_at, slip_mm=slip), 12.5, relaxed=True)
        for slip in (-2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
    ]
    slope = np.polyfit([-2.0, -1.0, 0.0, 1.0, 2.0, 3.0], np.array(found, dtype=float), 1)[0]
    assert 1.5 <= slope <= 2.2


def test_a_lens_too_shallow_has_no_reading_area() -> None:
    """Common practice, no source. Fitting height 20, 16: all there; 14: a fifth; 12: nothing."""
    shares = {
        height: float(
            desk.graded(
                replace(desk.PAGE, fitting_height_mm=height), "general_progressive", General(11.0)
            ).comfortable[0]
        )
        for height in (20.0, 16.0, 14.0, 13.0, 12.0)
    }
    assert shares[20.0] == shares[16.0]
    assert shares[20.0] > 0.8
    assert 0.0 < shares[14.0] < 0.3
    assert shares[13.0] == 0.0
    shallow = replace(desk.PAGE, fitting_height_mm=12.0)
    graded = desk.graded(shallow, "general_progressive", General(11.0))
    assert graded.not_served[0] >= 1.0 - 1e-9


@pytest.mark.parametrize("add_d", desk.ADDS_D)
def test_things_to_the_side_ask_for_the_head_and_less_so_in_a_bifocal(add_d: float) -> None:
    """Common practice, no source. A page as wide as an open book."""
    book = replace(desk.PAGE, add_d=add_d, width_cm=30.0)
    general = desk.told(book, "general_progressive", General(12.5))
    bifocal = desk.told(book, "bifocal_ft28", BIFOCAL)
    assert general.head_turn_deg is not None
    assert bifocal.head_turn_deg is not None
    assert general.head_turn_deg >= 15.0
    assert bifocal.head_turn_deg <= 5.0


@pytest.mark.parametrize("add_d", [2.0, 2.5])
def test_a_wide_screen_asks_for_the_head_through_a_progressive_only(add_d: float) -> None:
    """Common practice, no source. 80 cm wide, low enough to be read at all."""
    wide = desk.Desk(add_d=add_d, centre_below_deg=20.0, width_cm=80.0)
    general = desk.told(wide, "general_progressive", General(12.5)).head_turn_deg
    single = desk.told(wide, "sv_computer", SingleVision("computer"), 1.5).head_turn_deg
    assert general is not None
    assert general > 20.0
    assert single == 0.0


@pytest.mark.parametrize("corridor_mm", desk.CORRIDORS_MM)
def test_the_image_jumps_in_a_bifocal_and_not_in_a_progressive(corridor_mm: float) -> None:
    """Common practice, no source. A power that steps jumps; one that runs does not."""
    assert float(prentice_prism_pd(power_d=2.0, decentration_mm=5.0)) == 1.0
    y = np.arange(-25.0, 10.0, 0.05)
    power = 2.0 * general_surface(corridor_mm).exact(x_mm=np.zeros_like(y), y_mm=y)[0]
    prism = np.cumsum(power) * 0.05 / 10.0  # of the add, up to a constant: the slope is the power
    assert np.abs(np.diff(power)).max() <= 0.02
    assert np.abs(np.diff(prism)).max() <= 0.011
