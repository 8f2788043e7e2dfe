"""What the eye can still focus: bounds, order, and that the parts agree with each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.optics import accommodation as acc

EXACT = 1e-12
"""Room for the last bits of a double; every number here is of the order of 1."""
dioptres = st.floats(0.0, 4.0)


def test_usual_add_rises_with_age_to_its_cap() -> None:
    adds = acc.usual_add_d(age_years=np.arange(40, 90))
    assert (np.diff(adds) >= 0.0).all()
    assert adds[0] == 1.125
    assert adds[-1] == 2.5


@pytest.mark.parametrize(
    ("given_", "value", "basis"),
    [
        ({"amplitude_d": 3.0, "add_d": 2.0}, 1.5, "amplitude"),
        ({"amplitude_d": 3.0, "usable_fraction": 2 / 3}, 2.0, "amplitude"),
        ({"amplitude_d": 2.0, "vertical_power_d": 5.0}, 0.935**2, "amplitude"),
        (
            {"amplitude_d": 2.0, "vertical_power_d": 5.0, "amplitude_through_lenses": True},
            1.0,
            "amplitude",
        ),
        ({"amplitude_d": 0.0, "add_d": 1.0}, 0.0, "amplitude"),
        ({"add_d": 1.0}, 1.5, "add"),
        ({"add_d": 0.0}, 2.5, "add"),
        ({"add_d": 2.5}, 0.0, "add"),
        ({"add_d": 3.0}, 0.0, "add"),
        ({"add_d": 3.0, "near_test_distance_cm": 25.0}, 1.0, "add"),
        ({"add_d": 2.5, "near_test_distance_cm": 50.0}, 0.0, "add"),
        ({}, 0.625, "age"),
    ],
)
def test_the_first_basis_that_applies_decides(
    given_: dict[str, float], value: float, basis: str
) -> None:
    found, why = acc.usable_accommodation_d(age_years=55, **given_)
    assert abs(found - value) <= EXACT
    assert why == basis


@given(add=dioptres, usable=dioptres, tolerance=st.floats(0.0, 0.5))
def test_the_clear_range_is_where_the_defocus_stays_within_the_tolerance(
    add: float, usable: float, tolerance: float
) -> None:
    near, far = acc.clear_range_cm(added_power_d=add, usable_d=usable, tolerance_d=tolerance)
    assert near <= far
    for limit, beyond in ((near, 0.9), (far, 1.1)):
        if np.isfinite(limit) and limit < 1e5:
            at = acc.defocus_d(demand_d=100 / limit, usable_d=usable, added_power_d=add)
            assert abs(at - tolerance) <= 1e-9 or at < tolerance
            past = acc.defocus_d(
                demand_d=100 / (limit * beyond), usable_d=usable, added_power_d=add
            )
            assert past > at


@given(demand=dioptres, usable=dioptres)
def test_the_needed_add_leaves_no_defocus_and_less_would_leave_some(
    demand: float, usable: float
) -> None:
    needed = acc.needed_add_d(demand_d=demand, usable_d=usable)
    clear = acc.defocus_d(demand_d=demand, usable_d=usable, added_power_d=needed)
    assert abs(clear) <= EXACT
    if needed > 0.25:
        less = acc.defocus_d(demand_d=demand, usable_d=usable, added_power_d=needed - 0.25)
        assert abs(less - 0.25) <= EXACT


def test_far_limits_are_infinite_without_plus() -> None:
    residue = 0.3 - 0.1 - 0.2 + 1e-16
    distances = acc.focus_distance_cm(added_power_d=np.array([-0.5, 0.0, abs(residue), 0.5]))
    assert distances.tolist() == [np.inf, np.inf, np.inf, 200.0]


def test_blur_limit_grows_with_text_and_has_a_floor() -> None:
    limits = acc.blur_limit_d(text_arcmin=np.array([1.0, 5.0, 10.0, 50.0]))
    assert abs(limits - [0.30, 0.30, 0.30 * (1 + np.log10(2)), 0.60]).max() <= EXACT


def test_scalars_and_lists_come_back_as_doubles() -> None:
    assert acc.focus_distance_cm(added_power_d=[1, 2]).dtype == np.float64
    assert float(acc.focus_distance_cm(added_power_d=2)) == 50.0
