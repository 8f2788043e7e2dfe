"""What lint and types do not see of the form; `.ci/run` runs ruff and mypy themselves."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
FOLDERS = ("engine", "app", "tests", "reference_tables")


def test_the_bans_are_in_force(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text(
        '"""A module."""\n\nimport numpy as np\nimport streamlit\n\n'
        "print(np.isclose(1, 1), streamlit)\n"
    )
    command = [sys.executable, "-m", "ruff", "check", "--config", str(ROOT / "pyproject.toml")]
    done = subprocess.run(
        [*command, "--no-cache", str(bad)], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 1
    assert done.stdout.count("TID251") == 2


@cache
def sources() -> dict[Path, str]:
    """The text of every module."""
    return {
        path: path.read_text(encoding="utf-8")
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*.py")
    }


def test_no_test_skips_or_expects_to_fail() -> None:
    banned = re.compile(r"\b(?:skip|skipif|xfail|importorskip)\b")
    for path, text in sources().items():
        if not banned.search(text) or ROOT / "tests" not in path.parents:
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Attribute):
                assert not banned.fullmatch(node.attr), path.name


def test_no_float_is_compared_by_a_tolerance_nobody_states() -> None:
    banned = re.compile(r"np\.(isclose|allclose)\(|assert_allclose\(|assert_almost_equal\(")
    for path, text in sources().items():
        if path.name != "test_quality.py":
            assert not banned.search(text), path.name


def test_every_module_says_what_it_is() -> None:
    for path, text in sources().items():
        if not text.startswith('"""'):
            assert not text.strip() or ast.get_docstring(ast.parse(text)), path.name


VERBS = """
Add Answer Ask Begin Bring Check Choose Clear Compare Count Cut Delete Do Draw End Fill Find Fold
Forget Give Go Have Heed Hold Import Join Judge Keep Leave Let List Load Make Name Offer Open
Print Put Raise Read Refuse Remember Remove Return Rewrite Round Run Save Say Search Serve Set
Settle Show Solve Store Take Tell Tick Turn Wait Work Write Yield
"""
"""What a function does, as the first word of its docstring; another verb is added here."""


def undescribed(text: str) -> list[str]:
    """Return the functions and methods whose docstring begins with no verb.

    A public one has a docstring; a private one, or one inside a function, may do without. A
    property is described as what it is.
    """
    tree = ast.parse(text)
    owners: list[ast.Module | ast.ClassDef] = [tree]
    owners += [one for one in tree.body if isinstance(one, ast.ClassDef)]
    public = {
        one
        for owner in owners
        if not getattr(owner, "name", "").startswith("_")
        for one in owner.body
        if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef) and not one.name.startswith("_")
    }
    return [
        one.name
        for one in ast.walk(tree)
        if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef)
        and not any("property" in ast.unparse(each) for each in one.decorator_list)
        and ((said := ast.get_docstring(one)) or one in public)
        and (said or "").split(" ")[0].strip(",.:") not in VERBS.split()
    ]


def test_every_function_is_described_by_a_verb() -> None:
    found = {
        str(path.relative_to(ROOT)): names
        for path, text in sources().items()
        if path.relative_to(ROOT).parts[0] in ("engine", "app") and (names := undescribed(text))
    }
    assert found == {}


def test_a_function_described_by_a_noun_is_found() -> None:
    text = 'def names():\n    """Names of all."""\n\n\ndef _own():\n    """Names."""\n\n\n'
    assert undescribed(text) == ["names", "_own"]
    assert undescribed("def names():\n    pass\n\n\ndef _own():\n    pass\n") == ["names"]
    assert undescribed('def a():\n    """Return."""\n    def b():\n        """A b."""\n') == ["b"]
    assert undescribed('class _A:\n    def b(self):\n        """True where it is."""\n') == ["b"]
    assert undescribed('class A:\n    @property\n    def b(self):\n        """The unit."""\n') == []
    assert undescribed('class A:\n    def b(self):\n        """True where it is."""\n') == ["b"]
