"""Every example in a docstring of the engine runs, and every public formula has one."""

from __future__ import annotations

import doctest
import importlib
import inspect
from pathlib import Path

import pytest

ENGINE = Path(__file__).parent.parent / "engine"
MODULES = sorted(path.stem for path in ENGINE.glob("*.py") if path.stem != "__main__")
BARE_FORMULAS = ("accommodation", "spectacles", "workstation")


@pytest.mark.parametrize("module", MODULES)
def test_examples_run(module: str) -> None:
    found = importlib.import_module(f"engine.{module}".removesuffix(".__init__"))
    failed, _ = doctest.testmod(found, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert failed == 0


def test_there_are_examples_to_run() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    examples = [
        example
        for module in MODULES
        for test in finder.find(importlib.import_module(f"engine.{module}"))
        for example in test.examples
    ]
    assert len(examples) > 60


@pytest.mark.parametrize("module", BARE_FORMULAS)
def test_every_bare_formula_has_an_example_and_takes_names(module: str) -> None:
    found = importlib.import_module(f"engine.{module}")
    formulas = [
        one
        for name, one in inspect.getmembers(found, inspect.isfunction)
        if one.__module__ == found.__name__ and not name.startswith("_")
    ]
    assert formulas
    for formula in formulas:
        assert ">>>" in (formula.__doc__ or ""), formula.__name__
        for parameter in inspect.signature(formula).parameters.values():
            assert parameter.kind is inspect.Parameter.KEYWORD_ONLY, (formula.__name__, parameter)
