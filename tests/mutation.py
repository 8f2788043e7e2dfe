"""Spoils each formula, one number or sign at a time, and asks which outside number notices.

Run: python -m tests.mutation            (writes tests/mutation_report.md)
     python -m tests.mutation optics.spectacles (one module, printed only)

A spoiled formula is one change in the body of a public function, or in a helper or constant of its
module: a number made 10 % larger, + for -, * for /, a maximum for a minimum, a sine for a cosine,
the negative of what is returned. For the formulas of engine.optics and the power in a meridian of
engine.case.prescription the judge is tests/published and nothing else: the spoiled module replaces
the real one, every row is run through it, and the change counts as noticed when a row that held no
longer does. Surfaces, postures and clearness have no bare formula a published row could call: they
are judged by the numbers of the design, splines, plain vectors and brute force in
tests/test_surfaces.py and tests/test_posture.py, and counted apart.

Outside the ordinary suite: it takes some minutes.
"""

from __future__ import annotations

import ast
import copy
import importlib
import importlib.util
import sys
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
    ("optics.workstation", "aspect_ratio", "", LIMIT),
    ("optics.spectacles", "tangent_of_drop", "1 -> 1.1", "stands only where the answer is infinite"),
    ("lenses.surfaces", "_wanted_power", "its negative", "the rescaling to P = 1 turns it back"),
    ("lenses.surfaces", "_tabulated", "", "the table is longer than the radius it is read to"),
    ("lenses.surfaces", "_fit_points", "1e-09", RESIDUE),
    ("lenses.surfaces", "_held", "1e-12", RESIDUE),
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
    (
        "kernel.posture",
        "band_chin_ups_deg",
        "free.min()",
        "reached only by a far target more than 50 degrees below the eyes",
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


def seen_by_checks(one: Spoiled) -> bool:
    """Whether a check of the design's numbers or of plain vectors fails."""
    try:
        with in_place_of(one) as module:
            for check in BY_CHECKS[one.module][1](module):
                check()
    except Exception:  # an assertion, or a spoiled formula that fails outright
        return True
    return False


def checks_of_surfaces(module: ModuleType) -> Iterator[Callable[[], None]]:
    """The second implementation's numbers, on the spoiled module's own surfaces."""
    tests = importlib.import_module("tests.test_surfaces")
    yield tests.test_solving_twice_gives_the_same_and_an_unknown_one_is_refused
    yield tests.test_what_is_asked_of_a_surface_is_what_the_design_asks
    yield tests.test_weights_and_wished_power_are_those_of_the_design
    for corridor_mm, drop_mm, peak in ((11.0, 10.9, 1.24), (12.5, 12.6, 1.20), (14.0, 14.2, 1.13)):
        yield partial(
            tests.test_a_corridor_is_named_by_where_85_percent_of_the_add_is_reached,
            corridor_mm,
            drop_mm,
        )
        yield partial(
            tests.test_peak_astigmatism_is_as_stated_and_lies_beside_the_corridor,
            corridor_mm,
            peak,
        )
    yield tests.test_the_corridor_is_as_wide_as_stated
    yield tests.test_the_near_zone_is_as_wide_as_stated
    yield partial(tests.test_the_fitting_point_is_as_sharp_as_stated, 12.5, 12.0)
    yield tests.test_left_and_right_are_alike_and_the_rim_is_held
    for surface in (module.office_surface("slow"), module.office_surface("quick")):
        yield partial(
            tests.test_power_is_one_at_the_near_point_and_almost_nothing_at_the_top, surface
        )
        yield partial(tests.test_the_table_is_within_002_d_of_the_polynomial, surface)
        yield partial(tests.test_power_and_astigmatism_come_from_one_surface, surface)
    yield tests.test_an_office_lens_is_softer_than_a_general_progressive
    yield partial(
        tests.test_the_surface_is_the_least_of_its_functional, module.office_surface("slow")
    )


def module_of(name: str) -> ModuleType:
    """The module now in place."""
    return sys.modules[f"engine.{name}"]


def checks_of_posture(module: ModuleType) -> Iterator[Callable[[], None]]:  # noqa: ARG001
    """Plain vectors, bands and windows by brute force, with the spoiled module in place."""
    tests = importlib.import_module("tests.test_posture")
    yield partial(tests.test_lens_points_are_those_of_plain_vectors, -6.0, 35.0)
    yield partial(tests.test_lens_points_are_those_of_plain_vectors, 4.0, 0.0)
    yield tests.test_an_error_of_the_head_zero_is_added_to_what_is_read
    for band in (module_of("kernel.posture").comfortable, module_of("kernel.posture").awkward):
        yield partial(tests.test_the_gaze_shared_by_all_grades_is_that_of_each, band, 2.0)
    yield tests.test_a_part_of_a_view_is_the_view_of_a_part
    yield tests.test_what_lies_behind_a_right_angle_is_not_seen
    yield tests.test_no_glasses_bend_nothing_and_cut_nothing
    yield partial(tests.test_a_lens_that_sits_lower_is_met_higher_up, {"lens_down_mm": 3.0}, 3.0)
    yield tests.test_what_a_band_allows_at_its_edges
    for band, low_deg, high_deg in (("comfortable", -5.0, 35.0), ("awkward", -15.0, 45.0)):
        yield partial(
            tests.test_how_far_up_and_down_the_eye_may_turn,
            getattr(module_of("kernel.posture"), band),
            low_deg,
            high_deg,
        )
    yield tests.test_the_eye_can_be_told_how_far_to_turn
    yield tests.test_far_things_may_stand_10_degrees_above_the_gaze
    yield tests.test_the_eye_may_turn_sideways_as_far_as_the_grade_says
    yield tests.test_a_far_target_is_judged_from_the_free_posture
    yield tests.test_the_scan_is_the_grid_of_the_design
    for samples in (1, 9):
        for with_lines in (False, True):
            yield partial(tests.test_windows_by_brute_force, samples, with_lines)
    yield tests.test_a_lens_of_one_power_needs_only_one_posture_tried
    yield partial(tests.test_blur_and_power_at_postures_by_hand, 1.25)
    yield tests.test_imbalance_ends_a_grade


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
        for loaded in ("tests.test_surfaces", "tests.test_posture"):
            importlib.import_module(loaded)
        assert not seen_by_checks(unspoiled(module)), f"{module} fails unchanged"
        return [Outcome(one, seen_by_checks(one), False) for one in spoiled(module)]
    rows = published.read_rows()
    sound = holds(rows)
    assert not seen_by_rows(unspoiled(module), rows, sound), f"{module} fails unchanged"
    printed = {row.id for row in rows if row.standing == published.PRINTED}
    found = []
    for one in spoiled(module):
        ids = seen_by_rows(one, rows, sound)
        found.append(Outcome(one, bool(ids), bool(ids & printed)))
    return found


BY_CHECKS = {
    "lenses.surfaces": ("tests/test_surfaces.py", checks_of_surfaces),
    "kernel.posture": ("tests/test_posture.py", checks_of_posture),
    "kernel.search": ("tests/test_posture.py", checks_of_posture),
}
"""Where the checks stand, and those that are quick."""


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
    judge = "rows of tests/published" if name in BY_ROWS else BY_CHECKS[name][0]
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
