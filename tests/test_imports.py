"""The order of imports is law: DEVELOPERS.md lists the modules, each imports only earlier ones."""

from __future__ import annotations

import ast
import subprocess
import sys

import pytest

from tests.house import ENGINE, PAGE, ROOT, imported_names, imports_of, listed, written

APP = ROOT / "app"
_LOADED_IN_ORDER = """
import importlib, sys
allowed = {"engine"}
for name in sys.argv[1:]:
    allowed.add(f"engine.{name}")
    importlib.import_module(f"engine.{name}" if name != "__init__" else "engine")
    loaded = {one for one in sys.modules if one == "engine" or one.startswith("engine.")}
    assert loaded <= allowed, f"{name} loads {sorted(loaded - allowed)}"
for stranger in ("app", "streamlit", "altair"):
    assert stranger not in sys.modules, f"the engine loads {stranger}"
"""


ORDER = listed()
MODULES = sorted(path.stem for path in ENGINE.glob("*.py"))
ONLY_THERE = {"roster_cluster": {"dask", "distributed"}, "exchange_fhir": {"fhir"}}
"""Packages of an extra, and the one module that may know them."""


def test_every_module_of_the_engine_has_its_place_and_its_purpose() -> None:
    assert sorted(ORDER) == MODULES
    assert all(len(told) > 10 for told in ORDER.values())
    assert written() == PAGE.read_text(encoding="utf-8"), "run: python -m tests.house"


@pytest.mark.parametrize("module", MODULES)
def test_a_module_imports_only_modules_named_before_it(module: str) -> None:
    names = list(ORDER)
    before = set(names[: names.index(module)])
    found = imports_of(module)
    assert found <= before, f"{module} imports {sorted(found - before)} too early"


@pytest.mark.parametrize("module", MODULES)
def test_the_engine_knows_neither_the_pages_nor_the_page_library(module: str) -> None:
    roots = {name.split(".")[0] for name in imported_names(ENGINE / f"{module}.py")}
    assert not roots & {"app", "streamlit", "altair", "tests"}
    known = {"engine", "numpy", "pandas", "pydantic", "pydantic_core", *sys.stdlib_module_names}
    assert roots <= known | ONLY_THERE.get(module, set())


def test_a_fresh_process_loads_them_one_by_one_in_that_order() -> None:
    names = [name for name in ORDER if name != "__main__"]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", _LOADED_IN_ORDER, *names],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr


def test_only_tables_opens_the_reference_tables() -> None:
    for path in (*ENGINE.glob("*.py"), *APP.rglob("*.py")):
        if path != ENGINE / "tables.py":
            names = {name for name in imported_names(path) if "importlib" in name}
            text = path.read_text(encoding="utf-8")
            assert not names & {"importlib.resources", "importlib.resources.files"}, path.name
            assert 'files("reference_tables")' not in text, path.name


def test_only_one_file_of_the_pages_touches_the_session_state() -> None:
    touching = {
        path.relative_to(ROOT).as_posix()
        for path in APP.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Attribute) and node.attr == "session_state")
        or (isinstance(node, ast.Name) and node.id == "session_state")
        or (isinstance(node, ast.alias) and node.name == "session_state")
    }
    assert touching == {"app/state.py"}


def test_no_module_is_a_catch_all_or_too_long() -> None:
    for path in (*ENGINE.glob("*.py"), *APP.rglob("*.py")):
        assert path.stem not in {"utils", "util", "common", "helpers", "misc", "base"}
        lines = path.read_text(encoding="utf-8").count("\n")
        assert lines <= 400, f"{path.name} has {lines} lines: split it by topic"
