"""Printed formulas the program does not use: as printed, and its own formulas held against them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.case.prescription import EyePrescription, meridian_power_d
from engine.errors import InputRefusedError
from engine.optics import accommodation as acc
from tests.oracles import textbook
from tests.published import rows

CLOSE = 1e-9
"""Room for rounding in chains of a few trigonometric functions of numbers up to 100."""
ROWS = rows.read_table(Path(textbook.__file__).with_name("textbook_numbers.csv"))
power = st.floats(-10.0, 10.0)
cylinder = st.floats(-4.0, 4.0)
axis = st.integers(1, 180)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_the_formula_gives_what_is_printed(row: rows.Row) -> None:
    value = rows.result(row.function, row.inputs, module=textbook)
    assert rows.deviation(value, row.expected) <= row.tolerance, row.source


# --- the formulas of the program held against them -------------------------------------------


@given(sphere=power, cyl=cylinder, ax=axis, meridian=st.integers(0, 180))
def test_the_power_in_a_meridian_is_that_of_the_power_vector_in_both_forms(
    sphere: float, cyl: float, ax: int, meridian: int
) -> None:
    eye = EyePrescription(sphere_d=sphere, cylinder_d=cyl, axis_deg=ax)
    turned = EyePrescription(sphere_d=sphere + cyl, cylinder_d=-cyl, axis_deg=(ax + 89) % 180 + 1)
    one = meridian_power_d(eye, meridian_deg=meridian)
    m, j0, j45 = textbook.power_vector_d(sphere_d=sphere, cylinder_d=cyl, axis_deg=ax)
    double = np.radians(2 * meridian)
    assert abs(one - meridian_power_d(turned, meridian_deg=meridian)) <= CLOSE
    assert abs(one - (m + j0 * np.cos(double) + j45 * np.sin(double))) <= CLOSE
    assert abs(eye.spherical_equivalent_d - m) <= CLOSE
    length = acc.blur_d(defocus_d=eye.spherical_equivalent_d, astigmatism_d=cyl, weight=0.5)
    assert abs(length**2 - (m**2 + j0**2 + j45**2)) <= CLOSE


@pytest.mark.parametrize("astigmatism_d", [0.5, 1.0, 2.0, 3.0])
def test_half_an_astigmatism_costs_the_acuity_that_was_measured(astigmatism_d: float) -> None:
    """318 eyes lose within 0.05 logMAR (half a line) what half the cylinder as blur would cost."""
    found = textbook.acuity_with_astigmatism_logmar(astigmatism_d=np.array([0.0, astigmatism_d]))
    blur = acc.blur_d(defocus_d=0.0, astigmatism_d=astigmatism_d, weight=0.5)
    assert abs(found[1] - found[0] - textbook.acuity_loss_logmar(blur_d=blur)) <= 0.05


@pytest.mark.parametrize("text_arcmin", [5.0, 10.0, 20.0])
def test_blur_that_is_just_noticed_costs_less_than_a_line(text_arcmin: float) -> None:
    limit = acc.blur_limit_d(text_arcmin=text_arcmin)
    assert 0.0 < textbook.acuity_loss_logmar(blur_d=limit) < 0.1


@pytest.mark.parametrize("lens_d", [-6.0, -3.0, 3.0, 6.0])
def test_accommodation_at_the_lens_is_what_the_eye_makes_times_the_vertex_factor(
    lens_d: float,
) -> None:
    """The factor (1 - dF)^2 is exact for far objects; at 40 cm it is within 4 %."""
    ocular = textbook.ocular_accommodation_d(lens_power_d=lens_d, vertex_mm=13, object_mm=400)
    found, basis = acc.usable_accommodation_d(
        age_years=50,
        amplitude_d=float(ocular),
        usable_fraction=1.0,
        vertex_mm=13.0,
        vertical_power_d=lens_d,
    )
    assert basis == "amplitude"
    assert abs(found - 2.5) <= 0.04 * 2.5


@pytest.mark.parametrize("age_years", [50, 55, 60])
def test_the_usual_add_is_what_half_of_the_smallest_usual_amplitude_lacks(age_years: int) -> None:
    """Within a step of 0.25 D, at 40 cm."""
    amplitude = textbook.hofstetter_amplitude_d(age_years=age_years, bound="min")
    lacking = acc.needed_add_d(demand_d=2.5, usable_d=amplitude / 2)
    assert abs(lacking - acc.usual_add_d(age_years=age_years)) <= 0.25


# --- the formulas themselves -----------------------------------------------------------------


def test_amplitude_never_falls_below_zero_and_keeps_its_shape() -> None:
    ages = np.array([[40.0, 50.0], [60.0, 90.0]])
    amplitude = textbook.hofstetter_amplitude_d(age_years=ages)
    assert amplitude.shape == ages.shape
    assert amplitude.min() == 0.0
    low, mean, high = (
        textbook.hofstetter_amplitude_d(age_years=50, bound=bound)
        for bound in ("min", "mean", "max")
    )
    assert low < mean < high
    with pytest.raises(InputRefusedError, match=r"bound: median cannot be used\. Allowed: min"):
        textbook.hofstetter_amplitude_d(age_years=50, bound="median")


def test_blur_of_either_sign_costs_acuity_alike() -> None:
    losses = textbook.acuity_loss_logmar(blur_d=np.array([-0.5, 0.0, 0.5]))
    assert losses[0] == losses[2] > losses[1] == 0.0


def test_spectacles_spare_the_myope_and_cost_the_hyperope() -> None:
    myope, plano, hyperope = textbook.ocular_accommodation_d(
        lens_power_d=np.array([-6.0, 0.0, 6.0]), vertex_mm=14, object_mm=400
    )
    assert myope < plano < hyperope
    assert abs(plano - 1e3 / 414) <= CLOSE


def test_tilt_adds_sphere_and_cylinder_of_the_sign_of_the_lens() -> None:
    sphere, cyl = textbook.tilt_induced_d(power_d=np.array([-6.0, 6.0]), tilt_deg=12)
    assert sphere[0] == -sphere[1] < -6.0
    assert cyl[0] == -cyl[1] < 0.0
    assert textbook.tilt_induced_d(power_d=6.0, tilt_deg=0) == (6.0, 0.0)
    thicker, _ = textbook.tilt_induced_d(power_d=6.0, tilt_deg=12, index=1.7)
    assert 6.0 < thicker < sphere[1]


def test_eye_heights_know_two_sexes_and_say_so() -> None:
    for height in (textbook.sitting_eye_height_mm, textbook.eye_above_floor_mm):
        values = height(stature_mm=np.array([1600.0, 1800.0]), sex="male")
        assert values[0] < values[1]
        with pytest.raises(
            InputRefusedError, match=r"sex: m cannot be used\. Allowed: female or male"
        ):
            height(stature_mm=1700, sex="m")
