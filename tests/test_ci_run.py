"""`.ci/run` on a stand-in for the tests: it passes only what ran, passed, is clean and typed."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PASSED = "===== 5001 passed in 312.88s (0:05:12) ====="
RUNS = {
    "all passed": (PASSED, 0, "", 0),
    "one failed": ("===== 1 failed, 4 passed in 3.21s =====", 1, "", 1),
    "one skipped": ("===== 4 passed, 1 skipped in 3.21s =====", 0, "", 1),
    "one expected to fail": ("===== 4 passed, 1 xfailed in 3.21s =====", 0, "", 1),
    "none found": ("===== no tests ran in 0.01s =====", 5, "", 1),
    "no summary": ("gw0 [5001]\n....", 0, "", 1),
    "an error after the summary": (PASSED, 3, "", 1),
    "not clean": (PASSED, 0, "ruff check .", 1),
    "not formatted": (PASSED, 0, "ruff format --check .", 1),
    "not typed": (PASSED, 0, "mypy", 1),
}
"""What pytest prints and its status, the step after it that fails, and whether the run does."""


@pytest.mark.parametrize("name", RUNS)
def test_only_a_whole_run_passes(name: str, tmp_path: Path) -> None:
    printed, status, bad_step, wanted = RUNS[name]
    (tmp_path / ".ci").mkdir()
    shutil.copy(ROOT / ".ci" / "run", tmp_path / ".ci" / "run")
    (tmp_path / "printed").write_text(f"bringing up nodes...\n{printed}\n", encoding="utf-8")
    command = f"cat printed && (exit {status})"
    text = f"Words.\n\nRun the tests:\n\n```sh\n{command}\n```\n\n```sh\nfalse\n```\n"
    (tmp_path / "README.md").write_text(text, encoding="utf-8")
    python = tmp_path / ".venv" / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.write_text(
        f'#!/bin/sh\necho "$*" >>steps\n[ "$*" != "-m {bad_step}" ]\n', encoding="utf-8"
    )
    python.chmod(0o755)
    done = subprocess.run([tmp_path / ".ci" / "run"], capture_output=True, text=True, check=False)
    assert (done.returncode != 0) == bool(wanted), done.stdout + done.stderr
    if name != "no summary":
        steps = (tmp_path / "steps").read_text(encoding="utf-8").splitlines()
        assert steps == ["-m ruff check .", "-m ruff format --check .", "-m mypy"]
