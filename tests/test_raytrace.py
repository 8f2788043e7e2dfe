"""The thin-lens gaze formula against a real lens traced by a general optical library."""

from __future__ import annotations

import math

import pytest

from tests.oracles import gaze_error, spectacle_lens

FOUND = gaze_error.traced()
WITHIN = {5.0: (0.05, 0.03), 10.0: (0.13, 0.06), 15.0: (0.28, 0.19), 20.0: (0.52, 0.52)}
"""Gaze (deg) and lens point (mm), -6 to +4 D, tilt 0 and 9: what is claimed up to 20 degrees."""
BEYOND = {25.0: (0.9, 1.2), 30.0: (1.5, 2.2)}
"""The same beyond: trust falls off, and by how much."""


@pytest.mark.parametrize("eye_deg", [*WITHIN, *BEYOND])
@pytest.mark.parametrize("tilt_deg", spectacle_lens.TILTS_DEG)
def test_the_gaze_meets_the_lens_where_the_traced_one_does(eye_deg: float, tilt_deg: float) -> None:
    gaze_deg, drop_mm = (WITHIN | BEYOND)[eye_deg]
    gaze, drop, _ = gaze_error.worst(FOUND, eye_deg=eye_deg, tilt_deg=tilt_deg)
    assert gaze <= gaze_deg
    assert drop <= drop_mm


@pytest.mark.parametrize("tilt_deg", spectacle_lens.TILTS_DEG)
def test_most_prescriptions_err_less(tilt_deg: float) -> None:
    """Within 2 D of plano, where most office workers are: half a degree at 25."""
    gaze, drop, _ = gaze_error.worst(FOUND, eye_deg=25.0, tilt_deg=tilt_deg, within_d=2.0)
    assert gaze <= 0.55
    assert drop <= 0.6


def test_the_formula_puts_the_point_too_low_and_never_too_high_beyond_20_degrees() -> None:
    """The real lens curves towards the eye, so the gaze meets it sooner: one sign, one cause."""
    low = [one.flat_error_mm for one in FOUND if one.eye_deg >= 20.0]
    assert len(low) >= 150
    assert min(low) > 0.0


def test_the_library_and_snells_law_written_out_agree() -> None:
    printed = 1e-5  # the table is written to five places
    rows = gaze_error.rows()
    assert len(rows) == 480
    for row in rows:
        assert row["made_with"].startswith("optiland ")
        known = {name: float(value) for name, value in row.items() if name != "made_with"}
        seen = spectacle_lens.trace(
            power_d=known["vertical_power_d"],
            tilt_deg=known["tilt_deg"],
            eye_deg=known["eye_deg"],
            object_cm=known["object_cm"],
        )
        assert abs(seen.drop_mm - known["drop_mm"]) <= printed
        assert abs(seen.ray_deg - known["ray_deg"]) <= printed
        assert abs(seen.direction_deg - known["direction_deg"]) <= printed
        if math.isinf(known["reach_mm"]):
            assert seen.reach_mm == known["reach_mm"]
        else:
            assert abs(seen.reach_mm - known["reach_mm"]) <= printed


def test_an_earlier_trace_made_elsewhere_agrees() -> None:
    """Five rows of a trace made before this one, by other means; to its last digit."""
    earlier = [
        (-6.0, 0.0, 30.0, 14.152, 34.931, 34.544),
        (-4.0, 0.0, 20.0, 9.4945, 22.063, 21.902),
        (-6.0, 9.0, 10.0, 4.6846, 11.598, 11.501),
        (-2.0, 9.0, 30.0, 13.859, 31.434, 31.322),
        (0.0, 9.0, 5.0, 2.3613, 5.0323, 5.0389),
    ]
    for power_d, tilt_deg, eye_deg, drop_mm, ray_deg, direction_deg in earlier:
        seen = spectacle_lens.trace(
            power_d=power_d, tilt_deg=tilt_deg, eye_deg=eye_deg, object_cm=40.0
        )
        assert abs(seen.drop_mm - drop_mm) <= 6e-4
        assert abs(seen.ray_deg - ray_deg) <= 6e-4
        assert abs(seen.direction_deg - direction_deg) <= 6e-4


def test_a_thin_flat_lens_is_what_the_formula_holds_for() -> None:
    """A plano lens traced straight ahead: error of at most 0.05 deg at 5 deg."""
    plano = [one for one in FOUND if one.vertical_power_d == 0.0 and abs(one.eye_deg) <= 5.0]
    assert max(abs(one.gaze_error_deg) for one in plano) <= 0.05
