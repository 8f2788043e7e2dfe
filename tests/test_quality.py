"""What lint and types do not see of the form; `.ci/run` runs ruff and mypy themselves."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
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


def test_no_test_skips_or_expects_to_fail() -> None:
    banned = {"skip", "skipif", "xfail", "importorskip"}
    for path in (ROOT / "tests").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute):
                assert node.attr not in banned, path.name


def test_no_float_is_compared_by_a_tolerance_nobody_states() -> None:
    banned = re.compile(r"np\.(isclose|allclose)\(|assert_allclose\(|assert_almost_equal\(")
    for folder in FOLDERS:
        for path in (ROOT / folder).rglob("*.py"):
            if path.name != "test_quality.py":
                assert not banned.search(path.read_text(encoding="utf-8")), path.name


def test_every_module_says_what_it_is() -> None:
    for folder in FOLDERS:
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            assert not text.strip() or ast.get_docstring(ast.parse(text)), path.name
