"""Every example in a docstring of the engine runs, and every public formula has one."""

from __future__ import annotations

import doctest
import importlib
import inspect

import pytest

from tests.house import modules

MODULES = [name for name in modules("engine") if name != "engine.__main__"]
BARE_FORMULAS = tuple(name for name in MODULES if name.startswith("engine.optics."))


def test_examples_run() -> None:
    ran = 0
    for name in MODULES:
        found = importlib.import_module(name)
        failed, tried = doctest.testmod(found, optionflags=doctest.NORMALIZE_WHITESPACE)
        assert failed == 0, name
        ran += tried
    assert ran > 60


@pytest.mark.parametrize("module", BARE_FORMULAS)
def test_every_bare_formula_has_an_example_and_takes_names(module: str) -> None:
    found = importlib.import_module(module)
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
