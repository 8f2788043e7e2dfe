"""The taped range: simulated wearers are recovered, impossible pairs refused, and it is used."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.assemble import advise
from engine.errors import InputRefusedError
from engine.optics.accommodation import calibrate
from tests import examples


@given(
    usable_d=st.floats(0.0, 3.0),
    tolerance_d=st.floats(0.05, 1.2),
    trial_add_d=st.sampled_from([1.5, 1.75, 2.0, 2.5, 3.0]),
)
@settings(deadline=None)
def test_a_wearer_taped_without_error_is_recovered(usable_d, tolerance_d, trial_add_d):
    near_cm = 100.0 / (trial_add_d + usable_d + tolerance_d)
    far_cm = 100.0 / (trial_add_d - tolerance_d)
    found = calibrate(trial_add_d=trial_add_d, nearest_clear_cm=near_cm, farthest_clear_cm=far_cm)
    assert abs(found.usable_d - usable_d) <= 1e-9
    assert abs(found.tolerance_d - tolerance_d) <= 1e-9


def test_simulated_wearers_are_recovered_inside_the_stated_interval():
    """Tape error 1 cm at both ends: the true value lies within 1.96 deviations in about 95 %."""
    chance = np.random.default_rng(7)
    inside = []
    for _ in range(2000):
        usable_d, tolerance_d = chance.uniform(0.6, 2.0), chance.uniform(0.3, 0.7)
        near_cm = 100.0 / (1.5 + usable_d + tolerance_d) + chance.normal(0, 1.0)
        far_cm = 100.0 / (1.5 - tolerance_d) + chance.normal(0, 1.0)
        found = calibrate(trial_add_d=1.5, nearest_clear_cm=near_cm, farthest_clear_cm=far_cm)
        inside.append(
            (
                abs(found.usable_d - usable_d) <= 1.96 * found.usable_sd_d,
                abs(found.tolerance_d - tolerance_d) <= 1.96 * found.tolerance_sd_d,
            )
        )
    shares = np.mean(inside, axis=0)
    # Standard error 0.5 % of 2,000; curvature of 1/d is left out of the interval.
    assert np.all(shares >= 0.93), shares
    assert np.all(shares <= 0.97), shares


@pytest.mark.parametrize(
    ("near_cm", "far_cm", "field", "said"),
    [
        (100.0, 100.0, "nearest_clear_cm", "less than the farthest"),
        (120.0, 100.0, "nearest_clear_cm", "less than the farthest"),
        (40.0, 64.0, "farthest_clear_cm", "at least 67 cm"),
        (60.0, 100.0, "nearest_clear_cm", "at most 50 cm"),
    ],
)
def test_impossible_pairs_are_refused_with_a_reason(near_cm, far_cm, field, said):
    with pytest.raises(InputRefusedError, match=said) as refused:
        calibrate(trial_add_d=1.5, nearest_clear_cm=near_cm, farthest_clear_cm=far_cm)
    assert refused.value.field == field


def test_what_the_tape_explains_is_no_accommodation_not_a_refusal():
    """An eye without focusing, taped 1 cm too far at the near end."""
    near_cm = 100.0 / (2.5 + 0.4)
    found = calibrate(
        trial_add_d=2.5, nearest_clear_cm=near_cm + 1.0, farthest_clear_cm=100.0 / (2.5 - 0.4)
    )
    assert found.usable_d == 0.0
    with pytest.raises(InputRefusedError):
        calibrate(
            trial_add_d=2.5, nearest_clear_cm=near_cm + 4.0, farthest_clear_cm=100.0 / (2.5 - 0.4)
        )


def test_a_tolerance_beyond_anybody_is_refused():
    with pytest.raises(InputRefusedError, match="at most 100 cm"):
        calibrate(trial_add_d=2.5, nearest_clear_cm=20.0, farthest_clear_cm=110.0)


def test_an_impossible_range_in_a_case_is_refused_under_its_path():
    taped = {"trial_add_d": 1.5, "nearest_clear_cm": 60, "farthest_clear_cm": 100}
    with pytest.raises(InputRefusedError) as refused:
        examples.case(measured_ranges=[taped])
    assert refused.value.field == "measured_ranges.0.nearest_clear_cm"


def test_the_taped_range_takes_the_place_of_the_averages_and_says_so():
    taped = {
        "trial_add_d": 1.5,
        "nearest_clear_cm": 40,
        "farthest_clear_cm": 100,
        "text_arcmin": 10,
    }
    usual, fitted = advise(examples.case()), advise(examples.case(measured_ranges=[taped]))
    assert usual.usable_accommodation_d.basis == "add"
    assert fitted.usable_accommodation_d.basis == "measured_range"
    assert abs(fitted.usable_accommodation_d.value - 0.5) <= 1e-9
    # 0.50 D accepted where the usual limit for 10 arcmin is 0.30 (1 + log10 2) = 0.39 D.
    ratio = fitted.targets[0].blur_limit_d / usual.targets[0].blur_limit_d
    assert abs(ratio - 0.5 / (0.30 * (1 + np.log10(2)))) <= 1e-9


def test_two_ranges_count_alike():
    one = {"trial_add_d": 1.5, "nearest_clear_cm": 40, "farthest_clear_cm": 100}
    other = {"trial_add_d": 1.5, "nearest_clear_cm": 100 / 3, "farthest_clear_cm": 100}
    answer = advise(examples.case(measured_ranges=[one, other]))
    assert abs(answer.usable_accommodation_d.value - 0.75) <= 1e-9
