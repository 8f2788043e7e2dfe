"""Spoils each formula, one number or sign at a time, and asks which published number notices.

Run: python -m tests.mutation            (writes tests/mutation_report.md)
     python -m tests.mutation spectacles (one module, printed only)

A spoiled formula is one change in the body of a public function of accommodation, spectacles or
workstation, or in a helper or constant of those modules: a number made 10 % larger, + for -, * for
/, a maximum for a minimum, a sine for a cosine, the negative of what is returned. The spoiled
module replaces the real one, every row of tests/published is run through it, and the change counts
as seen when a row that held no longer does. Surfaces and posture hold no bare formula a published
row could call; they are spoiled too, against the numbers of the design in tests/test_surfaces.py
and the traced lens and plain vectors in tests/test_posture.py, and counted apart.

Outside the ordinary suite: published rows take half a minute, the two test modules a quarter of an
hour.
"""

from __future__ import annotations

import ast
import copy
import importlib
import importlib.util
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from shutil import copytree, ignore_patterns
from types import ModuleType

from tests.published import rows as published

ROOT = Path(__file__).resolve().parents[1]
REPORT = Path(__file__).with_name("mutation_report.md")
BY_ROWS = ("accommodation", "spectacles", "workstation")
BY_TESTS = {
    "surfaces": (
        "tests/test_surfaces.py",
        "named or wide_as or sharp_as or peak or one_at or table or alike or solving or published",
    ),
    "posture": ("tests/test_posture.py", "not brute_force or windows"),
}
"""Test module and the part of it that is quick."""
IN_WORDS = "only in the words of a refusal, which the refusal's own tests read"
LIMIT = "a limit of what is refused, not of what is computed"
RESIDUE = "room for rounding: no number reaches it"
EXPLAINED = (
    ("accommodation", "calibrate", "TAPE_DEVIATIONS", LIMIT),
    ("accommodation", "calibrate", "MOST_TOLERANCE_D", IN_WORDS),
    ("accommodation", "calibrate", "trial_add_d", IN_WORDS),
    ("accommodation", "calibrate", "100 -> 110", IN_WORDS),
    ("accommodation", "_impossible", "", IN_WORDS),
    ("accommodation", "TAPE_DEVIATIONS", "", LIMIT),
    ("accommodation", "MOST_TOLERANCE_D", "", LIMIT),
    ("accommodation", "_NO_POWER_D", "", RESIDUE),
    ("workstation", "_BAND_RESIDUE_DEG", "", RESIDUE),
    ("workstation", "screen_size_cm", "", LIMIT),
)
"""Module, function, what the change says, and why nothing noticed."""
PERCENT_10 = 1.1
SWAPPED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
OTHER_NAME = {
    "maximum": "minimum",
    "minimum": "maximum",
    "sin": "cos",
    "cos": "sin",
    "tan": "sin",
    "arctan": "sin",
    "radians": "degrees",
    "degrees": "radians",
}


@dataclass(frozen=True)
class Spoiled:
    """One change."""

    module: str
    function: str
    line: int
    what: str
    source: str


def spoiled(module: str) -> Iterator[Spoiled]:
    """Every change to one module, one at a time."""
    tree = ast.parse((ROOT / "engine" / f"{module}.py").read_text(encoding="utf-8"))
    sites = [(function, at, kind) for function, at, node in places(tree) for kind in changes(node)]
    for function, at, kind in sites:
        changed = copy.deepcopy(tree)
        node = list(ast.walk(changed))[at]
        line, what = getattr(node, "lineno", 0), kind(node)
        yield Spoiled(module, function, line, what, ast.unparse(ast.fix_missing_locations(changed)))


def places(tree: ast.Module) -> list[tuple[str, int, ast.AST]]:
    """Nodes inside functions and constants that compute, with the name they stand under."""
    owner: dict[int, str] = {}
    for top in tree.body:
        if isinstance(top, ast.FunctionDef):
            for statement in top.body:
                mark(statement, top.name, owner)
        elif isinstance(top, ast.ClassDef):
            for part in top.body:
                if isinstance(part, ast.FunctionDef):
                    for statement in part.body:
                        mark(statement, f"{top.name}.{part.name}", owner)
        elif isinstance(top, (ast.Assign, ast.AnnAssign)) and top.value is not None:
            name = ast.unparse(top.targets[0] if isinstance(top, ast.Assign) else top.target)
            mark(top.value, name, owner)
    return [
        (owner[id(node)], at, node) for at, node in enumerate(ast.walk(tree)) if id(node) in owner
    ]


def mark(statement: ast.AST, name: str, owner: dict[int, str]) -> None:
    """Note who a node belongs to; refusals, texts and type hints are left out."""
    if isinstance(statement, ast.Raise) or is_text(statement):
        return
    owner[id(statement)] = name
    for child in ast.iter_child_nodes(statement):
        if isinstance(statement, ast.AnnAssign) and child is statement.annotation:
            continue
        mark(child, name, owner)


def is_text(node: ast.AST) -> bool:
    """A docstring or another text."""
    inner = node.value if isinstance(node, ast.Expr) else node
    return isinstance(inner, ast.Constant) and isinstance(inner.value, str)


def changes(node: ast.AST) -> list[Callable[[ast.AST], str]]:
    """The ways to spoil one node."""
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        return [larger] if node.value else []
    if isinstance(node, ast.BinOp) and type(node.op) in SWAPPED:
        return [swapped]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        return [unsigned] if not isinstance(node.operand, ast.Constant) else []
    if isinstance(node, ast.Attribute) and node.attr in OTHER_NAME:
        return [other_name]
    if isinstance(node, ast.Return) and node.value is not None and returns_number(node.value):
        return [negated]
    return []


def returns_number(value: ast.expr) -> bool:
    """An expression whose negative is worth trying."""
    return isinstance(value, (ast.BinOp, ast.Call, ast.Name, ast.UnaryOp))


def larger(node: ast.AST) -> str:
    assert isinstance(node, ast.Constant)
    old = node.value
    node.value = old * PERCENT_10
    return f"{old:g} -> {node.value:g}"


def swapped(node: ast.AST) -> str:
    assert isinstance(node, ast.BinOp)
    old = ast.unparse(node)
    node.op = SWAPPED[type(node.op)]()
    return f"{old} -> {ast.unparse(node)}"


def unsigned(node: ast.AST) -> str:
    assert isinstance(node, ast.UnaryOp)
    old = ast.unparse(node)
    node.op = ast.UAdd()
    return f"{old} -> {ast.unparse(node)}"


def other_name(node: ast.AST) -> str:
    assert isinstance(node, ast.Attribute)
    old, node.attr = node.attr, OTHER_NAME[node.attr]
    return f"{old} -> {node.attr}"


def negated(node: ast.AST) -> str:
    assert isinstance(node, ast.Return)
    assert node.value is not None
    old = ast.unparse(node.value)
    node.value = ast.UnaryOp(ast.USub(), node.value)
    return f"return {old} -> its negative"


def holds(rows: list[published.Row]) -> set[str]:
    """Ids of the rows that come out within their tolerance."""
    found = set()
    for row in rows:
        try:
            gap = published.deviation(published.result(row.function, row.inputs), row.expected)
        except Exception:  # a spoiled formula may also fail outright
            continue
        if gap <= row.tolerance:
            found.add(row.id)
    return found


def seen_by_rows(one: Spoiled, rows: list[published.Row], sound: set[str]) -> set[str]:
    """Ids of the rows that notice; those that call another module of the formulas included."""
    name = f"engine.{one.module}"
    real = importlib.import_module(name)
    module = ModuleType(name)
    module.__dict__.update(__name__=name, __file__=str(real.__file__), __package__="engine")
    package = importlib.import_module("engine")
    sys.modules[name] = module
    setattr(package, one.module, module)
    try:
        exec(compile(one.source, str(real.__file__), "exec"), module.__dict__)
        return sound - holds(rows)
    except Exception:
        return set(sound)
    finally:
        sys.modules[name] = real
        setattr(package, one.module, real)


def seen_by_tests(changed: list[Spoiled]) -> Iterator[tuple[Spoiled, bool]]:
    """Whether the quick tests of a module fail with each change, in a copy of the tree."""
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        copytree(ROOT, tree, ignore=ignore_patterns(".*", "__pycache__"))
        for one in changed:
            test, chosen = BY_TESTS[one.module]
            path = tree / "engine" / f"{one.module}.py"
            sound = path.read_text(encoding="utf-8")
            path.write_text(one.source, encoding="utf-8")
            command = [sys.executable, "-B", "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider"]
            failed = subprocess.run(
                [*command, test, "-k", chosen], cwd=tree, capture_output=True, timeout=600
            )
            path.write_text(sound, encoding="utf-8")
            yield one, failed.returncode != 0


@dataclass(frozen=True)
class Outcome:
    """One change and who noticed."""

    change: Spoiled
    seen: bool
    by_printed: bool


def tried(module: str) -> list[Outcome]:
    """Every change to a module."""
    if module in BY_TESTS:
        return [Outcome(one, seen, False) for one, seen in seen_by_tests(list(spoiled(module)))]
    rows = published.read_rows()
    sound = holds(rows)
    printed = {row.id for row in rows if row.standing == published.PRINTED}
    found = []
    for one in spoiled(module):
        ids = seen_by_rows(one, rows, sound)
        found.append(Outcome(one, bool(ids), bool(ids & printed)))
    return found


def why_survived(one: Spoiled) -> str:
    """The reason written down for a survivor, or that there is none."""
    for module, function, needle, why in EXPLAINED:
        if module == one.module and function == one.function and needle in one.what:
            return why
    return "NOT EXPLAINED"


def page(outcomes: list[Outcome]) -> str:
    """The text of mutation_report.md."""
    survived = [outcome.change for outcome in outcomes if not outcome.seen]
    modules = list(dict.fromkeys(outcome.change.module for outcome in outcomes))
    lines = [
        "# Spoiled formulas",
        "",
        "Written by `python -m tests.mutation`. Each formula is changed in one number, operator or",
        "sign at a time; the count says how many of the changes were noticed.",
        "",
        "| module | held against | changes | noticed | by a printed number |",
        "| --- | --- | --- | --- | --- |",
        *(module_line(name, outcomes) for name in modules),
        "",
        "## By function, where published rows are the judge",
        "",
        "| function | changes | noticed | by a printed number |",
        "| --- | --- | --- | --- |",
        *function_lines([one for one in outcomes if one.change.module in BY_ROWS]),
        "",
        "## Survivors",
        "",
        "| where | change | why it was not noticed |",
        "| --- | --- | --- |",
        *(
            f"| {one.module}.{one.function}, line {one.line} | `{one.what.replace('|', '/')}` "
            f"| {why_survived(one)} |"
            for one in survived
        ),
        "",
    ]
    return "\n".join(lines)


def module_line(name: str, outcomes: list[Outcome]) -> str:
    """One row of the first table."""
    mine = [outcome for outcome in outcomes if outcome.change.module == name]
    judge = "rows of tests/published" if name in BY_ROWS else BY_TESTS[name][0]
    printed = str(sum(one.by_printed for one in mine)) if name in BY_ROWS else "none exists"
    return f"| {name} | {judge} | {len(mine)} | {sum(one.seen for one in mine)} | {printed} |"


def function_lines(outcomes: list[Outcome]) -> Iterator[str]:
    """One row a function or constant."""
    names = sorted({f"{one.change.module}.{one.change.function}" for one in outcomes})
    for name in names:
        mine = [one for one in outcomes if f"{one.change.module}.{one.change.function}" == name]
        seen, printed = sum(one.seen for one in mine), sum(one.by_printed for one in mine)
        yield f"| {name} | {len(mine)} | {seen} | {printed} |"


def main(modules: list[str]) -> int:
    """Try everything (or the modules named), print the counts, write the report if everything."""
    warnings.simplefilter("ignore")  # a spoiled formula divides by zero and the like
    outcomes = []
    for module in modules or [*BY_ROWS, *BY_TESTS]:
        found = tried(module)
        outcomes += found
        print(f"{module}: {sum(one.seen for one in found)} of {len(found)} changes noticed")
    if modules:
        print(page(outcomes))
    else:
        REPORT.write_text(page(outcomes), encoding="utf-8")
    silent = [one.change for one in outcomes if not one.seen]
    return sum(why_survived(one) == "NOT EXPLAINED" for one in silent)


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
