"""Spoils each formula, one number or sign at a time, and asks which outside number notices.

Run: python -m tests.mutation            (writes tests/mutation_report.md)
     python -m tests.mutation optics.spectacles (one module, printed only)

A spoiled formula is one change in the body of a public function, or in a helper or constant of its
module: a number made 10 % larger, + for -, * for /, a maximum for a minimum, a sine for a cosine,
the negative of what is returned. For the formulas of engine.optics and the power in a meridian of
engine.case.prescription the judge is tests/published and nothing else: the spoiled module replaces
the real one, every row is run through it, and the change counts as noticed when a row that held no
longer does. Surfaces, postures and clearness have no bare formula a published row could call: they
are judged by every test of the files in BY_CHECKS that needs no fixture (numbers of the design,
splines, plain vectors, brute force), and counted apart.

Outside the ordinary suite: it takes some minutes.
"""

from __future__ import annotations

import ast
import copy
import importlib
import importlib.util
import inspect
import itertools
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import ModuleType

from tests.published import rows as published

ROOT = Path(__file__).resolve().parents[1]
REPORT = Path(__file__).with_name("mutation_report.md")
BY_ROWS = (
    "optics.accommodation",
    "optics.spectacles",
    "optics.workstation",
    "case.prescription",
)
ONLY = {
    "case.prescription": ("meridian_power_d", "EyePrescription.spherical_equivalent_d"),
    "kernel.clearness": (
        "_ROUNDING",
        "Demands.__init__",
        "Demands.limit_square",
        "Clearness.points",
        "Clearness._everywhere",
        "Clearness._free_powers",
        "_room_d",
        "runs",
    ),
}
"""Modules of which only this is judged: the rest has no published row or quick check of its own."""
IN_WORDS = "only in the words of a refusal, which the refusal's own tests read"
LIMIT = "a limit of what is refused, not of what is computed"
RESIDUE = "room for rounding: no number reaches it"
COMPILED = "only with the compiled search, which tests/test_compiled.py holds to the plain one"
SEEN_COMPILED = "noticed by tests/test_compiled.py: the compiled search has its own arithmetic"
EXPLAINED = (
    ("optics.accommodation", "calibrate", "TAPE_DEVIATIONS", LIMIT),
    ("optics.accommodation", "calibrate", "MOST_TOLERANCE_D", IN_WORDS),
    ("optics.accommodation", "calibrate", "trial_add_d", IN_WORDS),
    ("optics.accommodation", "calibrate", "100 -> 110", IN_WORDS),
    ("optics.accommodation", "_impossible", "", IN_WORDS),
    ("optics.accommodation", "TAPE_DEVIATIONS", "", LIMIT),
    ("optics.accommodation", "MOST_TOLERANCE_D", "", LIMIT),
    ("optics.accommodation", "_NO_POWER_D", "", RESIDUE),
    ("optics.workstation", "_BAND_RESIDUE_DEG", "", RESIDUE),
    ("optics.workstation", "_band", "180", IN_WORDS),
    ("optics.workstation", "aspect_ratio", "", LIMIT),
    (
        "optics.spectacles",
        "tangent_of_drop",
        "1 -> 1.1",
        "stands only where the answer is infinite",
    ),
    ("lenses.surfaces", "_wanted_power", "its negative", "the rescaling to P = 1 turns it back"),
    ("lenses.surfaces", "_tabulated", "", "the table is longer than the radius it is read to"),
    ("lenses.surfaces", "_fit_points", "1e-09", RESIDUE),
    ("lenses.surfaces", "_held", "1e-12", RESIDUE),
    ("lenses.surfaces", "_held", "2 -> 2.2", "a shortcut: what follows leaves such points alone"),
    ("lenses.surfaces", "_fit_basis", "1", "scales the unknowns; the solution is scaled back"),
    ("lenses.surfaces", "_between", "its negative", "asked twice over: the second turns it back"),
    ("kernel.search", "_TIE", "", RESIDUE),
    ("kernel.search", "best_columns", "_TIE", RESIDUE),
    ("kernel.search", "best_columns", "1000 -> 1100", "any large number puts a liked one first"),
    ("kernel.search", "best_columns", "1 -> 1.1", "cut off: a number of a column is whole"),
    ("kernel.search", "clear_where", "", COMPILED),
    ("kernel.posture", "_add_angle", "1 -> 1.1", "only past a right angle, which no band allows"),
    ("kernel.clearness", "_ROUNDING", "", RESIDUE),
    ("kernel.clearness", "Demands.__init__", "_ROUNDING", RESIDUE),
    ("kernel.clearness", "Demands.limit_square", "_ROUNDING", RESIDUE),
    ("kernel.posture", "_ROUNDING", "", RESIDUE),
    ("kernel.posture", "View.beside", "_ROUNDING", RESIDUE),
    ("kernel.posture", "View._chin_up_in_range", "_ROUNDING", RESIDUE),
    ("kernel.posture", "View._frame_limits", "_ROUNDING", RESIDUE),
    ("kernel.posture", "View.usable", "_ROUNDING", RESIDUE),
    ("kernel.posture", "chin_ups_deg", "_ROUNDING", RESIDUE),
    ("kernel.posture", "gaze_limits", "_ROUNDING", RESIDUE),
    ("kernel.posture", "sideways_limits", "_ROUNDING", RESIDUE),
    ("kernel.posture", "_turned_for", "its negative", SEEN_COMPILED),
    ("kernel.posture", "own_window_samples", "1 -> 1.1", SEEN_COMPILED),
    ("kernel.posture", "View._gaze_limits", "self._bend", SEEN_COMPILED),
    ("kernel.posture", "View._frame_limits", "self._bend", SEEN_COMPILED),
    ("kernel.posture", "View.nearly_within", "minimum", SEEN_COMPILED),
    (
        "kernel.posture",
        "band_chin_ups_deg",
        "free.min()",
        "reached only by a far target more than 50 degrees below the eyes",
    ),
    ("kernel.pairs", "_ROUNDING", "", RESIDUE),
    ("kernel.pairs", "Pairs.balanced", "_ROUNDING", RESIDUE),
    ("kernel.pairs", "Pairs.of_others", "return found", SEEN_COMPILED),
    ("kernel.pairs", "Rows.any_window", "pairs.start", SEEN_COMPILED),
    ("kernel.pairs", "Rows.of_postures", "posture - found", "rows are apart either way"),
    (
        "kernel.posture",
        "View._eye_azimuth",
        "minimum",
        "noticed by tests/test_expected_order.py: a second program's numbers",
    ),
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
    path = ROOT / "engine" / f"{module.replace('.', '/')}.py"
    tree = ast.parse(path.read_text(encoding="utf-8"))
    sites = [
        (function, at, kind)
        for function, at, node in places(tree)
        if module not in ONLY or function in ONLY[module]
        for kind in changes(node)
    ]
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
    """Ids of the rows that notice."""
    try:
        with in_place_of(one):
            return sound - holds(rows)
    except Exception:
        return set(sound)


def is_taken_from(real: ModuleType, attribute: str, value: object) -> bool:
    """Whether a name elsewhere stands for this module's own."""
    own = vars(real)
    same = getattr(value, "__module__", None) == real.__name__ or value is own.get(attribute)
    return attribute in own and same


@contextmanager
def in_place_of(one: Spoiled) -> Iterator[ModuleType]:
    """The spoiled module, and every name taken from the real one bound to it, everywhere."""
    name = f"engine.{one.module}"
    real = importlib.import_module(name)
    module = ModuleType(name)
    module.__dict__.update(__name__=name, __file__=real.__file__, __package__=real.__package__)
    taken = [
        (holder, attribute, value)
        for holder in list(sys.modules.values())
        if getattr(holder, "__name__", "").startswith(("engine", "tests."))
        for attribute, value in list(vars(holder).items())
        if value is real or is_taken_from(real, attribute, value)
    ]
    sys.modules[name] = module
    try:
        exec(compile(one.source, str(real.__file__), "exec"), module.__dict__)
        for holder, attribute, value in taken:
            if holder is not real:
                new = module if value is real else getattr(module, attribute)
                setattr(holder, attribute, new)
        yield module
    finally:
        sys.modules[name] = real
        for holder, attribute, value in taken:
            setattr(holder, attribute, value)


Check = Callable[[], object]


def each(test: Callable[..., object]) -> Iterator[Check]:
    """Yield a test with every set of values it is asked with; none where it needs a fixture."""
    marks = getattr(test, "pytestmark", [])
    asked = [mark.args for mark in marks if mark.name == "parametrize"]
    if any(mark.name == "long" for mark in marks):
        return
    for values in itertools.product(*(every for _, every, *_ in asked)):
        given: dict[str, object] = {}
        for (names, *_), value in zip(asked, values, strict=True):
            split = [name.strip() for name in names.split(",")] if isinstance(names, str) else names
            given |= zip(split, value if len(split) > 1 else [value], strict=True)
        if set(inspect.signature(test).parameters) == set(given):
            yield partial(test, **given)


def checks_of(module: str) -> list[Check]:
    """Return every check of a module's test files, the quickest first.

    All hold with the module as it is, put in its own place.
    """
    files = [importlib.import_module(f"tests.{name}") for name in BY_CHECKS[module]]
    named = [one for file in files for one in vars(file).items() if one[0].startswith("test_")]
    found = [check for _, test in named for check in each(test)]
    took_s = {}
    with in_place_of(unspoiled(module)):
        for check in found:
            start_s = time.process_time()
            check()
            took_s[check] = time.process_time() - start_s
    return sorted(found, key=took_s.__getitem__)


@contextmanager
def ended_after(seconds: float) -> Iterator[None]:
    """Raise TimeoutError in what takes more processor time: a spoiled loop may never end."""

    def end(_number: int, _frame: object) -> None:
        raise TimeoutError

    before = signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def seen_by_checks(one: Spoiled, checks: list[Check]) -> bool:
    """Whether one of them fails, or never ends."""
    try:
        with in_place_of(one), ended_after(LONGEST_S):
            for check in checks:
                check()
    except Exception:  # an assertion, or a spoiled formula that fails outright
        return True
    return False


@dataclass(frozen=True)
class Outcome:
    """One change and who noticed."""

    change: Spoiled
    seen: bool
    by_printed: bool


def unspoiled(module: str) -> Spoiled:
    """Return a module put in its own place unchanged: nobody may notice."""
    path = ROOT / "engine" / f"{module.replace('.', '/')}.py"
    return Spoiled(module, "", 0, "nothing", path.read_text(encoding="utf-8"))


def tried(module: str) -> list[Outcome]:
    """Every change to a module."""
    if module in BY_CHECKS:
        checks = checks_of(module)
        outcomes = [Outcome(one, seen_by_checks(one, checks), False) for one in spoiled(module)]
        assert not seen_by_checks(unspoiled(module), checks), f"{module} left something behind"
        return outcomes
    rows = published.read_rows()
    sound = holds(rows)
    assert not seen_by_rows(unspoiled(module), rows, sound), f"{module} fails unchanged"
    printed = {row.id for row in rows if row.standing == published.PRINTED}
    found = []
    for one in spoiled(module):
        ids = seen_by_rows(one, rows, sound)
        found.append(Outcome(one, bool(ids), bool(ids & printed)))
    return found


LONGEST_S = 60.0
"""All checks of a module take some seconds."""
BY_CHECKS = {
    "lenses.surfaces": ("test_surfaces", "test_made_surfaces"),
    "kernel.posture": ("test_posture",),
    "kernel.pairs": ("test_posture",),
    "kernel.search": ("test_posture", "test_search"),
}
"""Files of tests that judge where no published row could."""


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
    files = " and ".join(f"tests/{file}.py" for file in BY_CHECKS.get(name, ()))
    judge = files or "rows of tests/published"
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
    for module in modules or [*BY_ROWS, *BY_CHECKS]:
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
