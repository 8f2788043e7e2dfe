"""A package imports only packages listed before it; the engine knows no page library."""

from __future__ import annotations

import ast
import re
import subprocess
import sys

from tests.house import ROOT, imported_names, imports_of, listed, modules, path_of, room_of

MODULES = modules("engine", "app")
ENGINE = [name for name in MODULES if name.split(".")[0] == "engine"]
ONLY_THERE = {
    "engine.roster.command": {"dask", "distributed"},
    "engine.files.fhir": {"fhir"},
}
"""Packages of an extra, and the one module that may know them."""
MOST_LINES = 800


def test_a_package_imports_only_packages_listed_before_it() -> None:
    rooms, known = listed(), set(MODULES)
    assert len(set(rooms)) == len(rooms), "a package is listed twice"
    assert {room_of(module, rooms) for module in MODULES} == set(rooms), "one is listed in vain"
    for module in MODULES:
        room = room_of(module, rooms)
        for other in imports_of(module, known):
            its = room_of(other, rooms)
            assert rooms.index(its) <= rooms.index(room), f"{module} imports {other}"


def test_modules_do_not_import_each_other_in_a_circle() -> None:
    left = {module: imports_of(module, set(MODULES)) - {module} for module in MODULES}
    while left:
        ready = [module for module, needed in left.items() if not needed & set(left)]
        assert ready, f"these import each other: {sorted(left)}"
        for module in ready:
            del left[module]


def test_the_engine_knows_neither_the_pages_nor_the_page_library() -> None:
    known = {"engine", "numpy", "pandas", "pydantic", "pydantic_core", *sys.stdlib_module_names}
    for module in ENGINE:
        roots = {name.split(".")[0] for name in imported_names(module)}
        assert roots <= known | ONLY_THERE.get(module, set()), module
    script = (
        "import importlib, sys\nfor name in sys.argv[1:]: importlib.import_module(name)\n"
        "strangers = {'app', 'streamlit', 'altair'} & set(sys.modules)\nassert not strangers"
    )
    names = [name for name in ENGINE if name != "engine.__main__"]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script, *names],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr


def test_only_tables_opens_the_reference_tables() -> None:
    for module in MODULES:
        if module != "engine.tables":
            names = set(imported_names(module))
            assert not names & {"importlib.resources", "importlib.resources.files"}, module
            text = path_of(module).read_text(encoding="utf-8")
            assert 'files("reference_tables")' not in text, module


def test_only_one_module_of_the_pages_touches_the_session_state() -> None:
    named = {module: path_of(module).read_text(encoding="utf-8") for module in MODULES}
    touching = {
        module
        for module, text in named.items()
        if "session_state" in text
        for node in ast.walk(ast.parse(text))
        if (isinstance(node, ast.Attribute) and node.attr == "session_state")
        or (isinstance(node, ast.Name) and node.id == "session_state")
        or (isinstance(node, ast.alias) and node.name == "session_state")
    }
    assert touching == {"app.shell.state"}


def test_no_module_is_a_catch_all_or_longer_than_a_subject() -> None:
    for module in MODULES:
        assert module.split(".")[-1] not in {"utils", "util", "common", "helpers", "misc", "base"}
        lines = path_of(module).read_text(encoding="utf-8").count("\n")
        assert lines <= MOST_LINES, f"{module} has {lines} lines: is it one subject?"


CALLED_BY_A_LIBRARY = {"field_validator", "model_validator", "model_serializer"}
"""Decorators of functions that pydantic calls."""
NAMED_BY_A_LIBRARY = {"do_GET", "log_message"}
"""Methods that a class of the standard library calls."""


def test_every_function_is_called_by_a_program() -> None:
    """What only tests call belongs to the tests: a check of it says nothing of the program.

    By name: a function passes where another thing of its name is used.
    """
    used, made = set(NAMED_BY_A_LIBRARY), {}
    for module in MODULES:
        for node in ast.walk(ast.parse(path_of(module).read_text(encoding="utf-8"))):
            if isinstance(node, ast.Name):
                used.add(node.id)
            elif isinstance(node, ast.Attribute):
                used.add(node.attr)
            elif isinstance(node, ast.alias) and node.asname:
                used.add(node.name)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                used.add(node.value)
            elif isinstance(node, ast.ClassDef | ast.FunctionDef):
                marks = {one.id for each in node.decorator_list for one in names_in(each)}
                if not marks & CALLED_BY_A_LIBRARY:
                    made[f"{module}.{node.name}"] = node.name
    unused = {path for path, name in made.items() if name not in used}
    assert {path for path in unused if not re.fullmatch(r"__\w+__", made[path])} == set()


def names_in(node: ast.AST) -> list[ast.Name]:
    """Every name in a piece of code."""
    return [one for one in ast.walk(node) if isinstance(one, ast.Name)]
