"""The README does what it says: its example, its commands, its links."""

from __future__ import annotations

import contextlib
import io
import os
import re
import subprocess
import sys
import tomllib
from datetime import datetime
from pathlib import Path

import pytest

from engine import __version__
from engine.assemble import advise
from engine.case.read import read_case
from engine.explain import explain

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = ("README.md", "DEVELOPERS.md", "reference_tables/README.md", "tests/published/README.md")
ONE_TEST = "tests/test_quality.py::test_the_bans_are_in_force"


def blocks(language: str) -> list[str]:
    """The fenced blocks of a language, without their fences."""
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def command_after(line: str) -> str:
    """The first fenced block after a line that starts so, as .ci/run reads it."""
    found = re.search(rf"^{line}.*?^```\w*\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    assert found, f"README.md has no block after {line!r}"
    return found[1].strip()


def test_the_example_prints_what_is_written() -> None:
    (example,) = blocks("python")
    lines = [line for line in example.splitlines() if line.strip()]
    assert len(lines) <= 12, "about ten lines"
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(example, "README.md", "exec"), {})
    assert printed.getvalue() == blocks("text")[-1]


def test_the_terminal_answer_is_that_of_the_program() -> None:
    """Lines of three dots stand for lines left out."""
    shown = blocks("text")[0].splitlines()
    command, *lines = shown
    path = ROOT / command.split()[-1]
    case = read_case(path)
    answer = iter(explain(case, advise(case)).splitlines())
    skipping = False
    for line in lines:
        if line == "...":
            skipping = True
            continue
        if skipping:
            assert line in answer, f"not in the answer, or not in this order: {line}"
        else:
            assert next(answer) == line
        skipping = False


def test_the_command_of_the_tests_sets_up_and_runs_them() -> None:
    """Tried with one named test and no workers, so that it neither calls itself nor takes long."""
    command = command_after("Run the tests:")
    steps = [step.strip() for step in command.split("&&")]
    assert steps[:2] == ["python3 -m venv .venv", ".venv/bin/pip install -q -e '.[test]'"]
    assert len(steps) == 4
    for step, said in ((steps[2], ""), (f"{steps[3]} -n 0 {ONE_TEST}", "1 passed")):
        program, *arguments = step.split()
        assert program == ".venv/bin/python"
        done = subprocess.run(
            [sys.executable, *arguments],
            capture_output=True,
            encoding="utf-8",
            check=False,
            cwd=ROOT,
        )
        assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-1000:]
        assert said in done.stdout
        assert "skipped" not in done.stdout


def test_without_a_name_the_command_of_the_tests_runs_all_of_them() -> None:
    *_, last = command_after("Run the tests:").split("&&")
    arguments = last.split("pytest")[1].split()
    assert not [name for name in arguments if name.startswith(("tests", "-k", "-m", "--ignore"))]
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert settings["tool"]["pytest"]["ini_options"]["testpaths"] == ["tests"]


def test_the_command_of_the_program_sets_up_and_starts_it() -> None:
    command = command_after("## Run it")
    steps = [step.strip() for step in command.split("&&")]
    assert steps[:2] == ["python3 -m venv .venv", ".venv/bin/pip install -q -e ."]
    program, *arguments = steps[2].split()
    assert program == ".venv/bin/python"
    done = subprocess.run(
        [sys.executable, *arguments, "--help"],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    assert "--port" in done.stdout


def test_the_other_commands_run(tmp_path: Path) -> None:
    """In a folder of their own, for one of them writes a file."""
    (tmp_path / "engine").symlink_to(ROOT / "engine")
    lines = [line for block in blocks("sh")[2:] for line in block.splitlines()]
    assert lines
    for line in lines:
        program, *arguments = line.split()
        assert program == ".venv/bin/python"
        done = subprocess.run(
            [sys.executable, *arguments],
            capture_output=True,
            check=False,
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        assert done.returncode == 0, line


@pytest.mark.parametrize("page", PAGES)
def test_every_link_and_path_leads_somewhere(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    folder = (ROOT / page).parent
    for link in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
        assert "://" not in link, "pages of this project name sources, they do not link away"
        assert (folder / link).exists(), link
    for path in re.findall(r"`((?:engine|app|tests|reference_tables|\.ci)/[\w./-]+)`", text):
        assert (ROOT / path).exists(), path
    assert not re.search(r"(?<![\w.])/(?:work|tmp|home|root|opt)\b", text)


def test_the_news_begin_with_this_version_and_go_back_day_by_day() -> None:
    news = README.split("\n## News\n")[1].split("\n## ")[0]
    told = re.findall(
        r"^- (\d+)\.(\d+)\.(\d+), (\d{1,2} [A-Z][a-z]{2} \d{4}): \w", news, re.MULTILINE
    )
    assert len(told) == news.count("\n- ")
    assert ".".join(told[0][:3]) == __version__
    versions = [tuple(map(int, numbers)) for *numbers, _ in told]
    days = [datetime.strptime(day, "%d %b %Y") for *_, day in told]
    assert versions == sorted(set(versions), reverse=True)
    assert days == sorted(days, reverse=True)


def test_the_cautions_and_the_licence_are_there() -> None:
    for words in ("not a medical device", "prescriber", "127.0.0.1", "health data", "AS IS"):
        assert words in README
    assert README.rstrip().endswith("DEALINGS IN THE SOFTWARE.")
