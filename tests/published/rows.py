"""The rows of published numbers and how far the engine is from each.

`function` names a public function of the engine that it computes with
("optics.spectacles.vertex_power_d"), with a picker after "#" for one part of what it returns
("#0", "#limit"). `inputs` is a JSON object of its arguments; "inf" is infinity, `eye` the fields
of an EyePrescription, and a list of `meridian_deg` is asked one by one.
"""

from __future__ import annotations

import csv
import importlib
import inspect
import json
import math
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from engine.case.prescription import EyePrescription

FOLDER = Path(__file__).parent
ERRORS = "known_errors.csv"
PRINTED = "printed in the source"
STANDINGS = (PRINTED, "derived from it", "common practice, no source", "from memory")


@dataclass(frozen=True)
class Row:
    """One published number."""

    file: str
    id: str
    function: str
    inputs: dict[str, Any]
    expected: Any
    unit: str
    tolerance: float
    why_tolerance: str
    source: str
    locator: str
    standing: str


@dataclass(frozen=True)
class Misprint:
    """One published number that is wrong, and by how much at least."""

    id: str
    function: str
    inputs: dict[str, Any]
    misprint: float
    unit: str
    differs_by_at_least: float
    what_is_right: str
    source: str
    locator: str


def read_rows() -> list[Row]:
    """Return every row of every table beside this file, in the order of file and line."""
    tables = [path for path in sorted(FOLDER.glob("*.csv")) if path.name != ERRORS]
    return [row for path in tables for row in read_table(path)]


def read_table(path: Path) -> list[Row]:
    """Return the rows of one table."""
    found = []
    for cells in _lines(path):
        cells["inputs"] = json.loads(cells["inputs"])
        cells["expected"] = json.loads(cells["expected"])
        cells["tolerance"] = float(cells["tolerance"])
        found.append(Row(file=path.stem, **cells))
    return found


def formulas() -> list[str]:
    """Return every public formula of engine.optics, by the name that a row gives it."""
    names = ("accommodation", "spectacles", "workstation")
    modules = {name: importlib.import_module(f"engine.optics.{name}") for name in names}
    return [
        f"optics.{name}.{function}"
        for name, module in modules.items()
        for function, value in vars(module).items()
        if inspect.isfunction(value)
        and value.__module__ == module.__name__
        and not function.startswith("_")
    ]


def read_misprints() -> list[Misprint]:
    """The published errors the program must not reproduce."""
    found = []
    for cells in _lines(FOLDER / ERRORS):
        cells["inputs"] = json.loads(cells["inputs"])
        cells["misprint"] = float(cells["misprint"])
        cells["differs_by_at_least"] = float(cells["differs_by_at_least"])
        found.append(Misprint(**cells))
    return found


def result(function: str, inputs: dict[str, Any], *, module: ModuleType | None = None) -> Any:
    """Return what the engine (or another module) gives for a row, after the picker."""
    name, _, picker = function.partition("#")
    module_name, _, function_name = name.rpartition(".")
    if function_name.startswith("_"):
        raise ValueError(f"{function} is not public")
    holder = module or importlib.import_module(f"engine.{module_name}")
    value = _called(getattr(holder, function_name), inputs)
    for part in filter(None, picker.split(".")):
        value = value[int(part)] if part.isdigit() else getattr(value, part)
    return value


def _called(function: Any, inputs: dict[str, Any]) -> Any:
    given = {key: _number(value) for key, value in inputs.items()}
    if "eye" not in given:
        return function(**given)
    eye = EyePrescription(**given.pop("eye"))
    if not isinstance(given.get("meridian_deg"), list):
        return function(eye, **given)
    return [function(eye, meridian_deg=meridian) for meridian in given["meridian_deg"]]


def deviation(value: Any, expected: Any) -> float:
    """Largest difference between what came out and what is printed; 0 or inf for words."""
    if isinstance(expected, (str, bool)) and expected != "inf":
        same = bool(value) is expected if isinstance(expected, bool) else str(value) == expected
        return 0.0 if same else math.inf
    wanted = np.atleast_1d(np.asarray(_number(expected), dtype=float))
    found = np.atleast_1d(np.asarray(value, dtype=float))
    if found.shape != wanted.shape:
        return math.inf
    equal = found == wanted
    gaps = np.where(equal, 0.0, np.abs(np.where(equal, 0.0, found) - np.where(equal, 0.0, wanted)))
    return float(gaps.max())


def _number(value: Any) -> Any:
    return math.inf if value == "inf" else value


def _lines(path: Path) -> list[dict[str, Any]]:
    with path.open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle, strict=True))
