"""The lowest versions are read from pyproject.toml; installing them is a command, not a test."""

from __future__ import annotations

import pytest

from tests.lower_bounds import FILES, ROOT, bounds, lowest


@pytest.mark.parametrize(
    ("requirement", "wanted"),
    [("numpy>=2.0", "numpy==2.0"), ("fhir.resources>=8", "fhir.resources==8"), ("a>=1,<2", "a==1")],
)
def test_the_bound_becomes_the_only_version(requirement: str, wanted: str) -> None:
    assert lowest(requirement) == wanted


@pytest.mark.parametrize("requirement", ["numpy", "numpy<3", "numpy==2.0"])
def test_a_requirement_without_a_bound_is_an_error(requirement: str) -> None:
    with pytest.raises(ValueError, match="no lower bound"):
        lowest(requirement)


def test_every_package_of_the_program_is_tried() -> None:
    assert {one.split("==")[0] for one in bounds()} >= {"numpy", "pandas", "streamlit", "starlette"}
    assert [name for name in FILES if not (ROOT / name).exists()] == []
