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
