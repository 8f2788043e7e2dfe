"""A wheel, installed into an empty environment with no checkout near, is the whole program."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import sysconfig
import venv
import zipfile
from collections.abc import Callable
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

from engine import __version__, examples, tables
from engine.__main__ import main
from engine.case.results import RESULTS_VERSION
from engine.installed import EXTRAS
from engine.roster.template import template_csv
from tests.house import ROOT

FOLDERS = ("app", "engine", "reference_tables")
WHAT_RUNS = """
import json, sys
from pathlib import Path
import app, engine, reference_tables
from engine import examples, tables
for module in (app, engine, reference_tables):
    place = Path(next(iter(module.__path__))).resolve()
    assert place.is_relative_to(Path(sys.prefix).resolve()), place
rows = {name: len(tables.rows(name)) for name in sys.argv[1:]}
files = {name: examples.path_of(name).read_text("utf-8") for name in examples.names()}
print(json.dumps([rows, files]))
"""

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built as pip builds it, by the hatchling of the running environment, without a network."""
    folder = tmp_path_factory.mktemp("wheel")
    options = ["--no-deps", "--no-build-isolation", "--no-index", "--quiet"]
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        *options,
        "--wheel-dir",
        str(folder),
        str(ROOT),
    ]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    (found,) = folder.glob("levelgaze-*.whl")
    return found


@pytest.fixture(scope="module")
def programs(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the programs of an environment that has the wheel.

    What the program needs is lent by the running environment. The line that lends it does not
    lead to a checkout: `.pth` files of a lent folder are not read.
    """
    place = tmp_path_factory.mktemp("environment")
    venv.create(place, symlinks=os.name != "nt")
    inside = sysconfig.get_paths("venv", {"base": str(place), "platbase": str(place)})
    lent = sysconfig.get_paths()
    lines = "".join(f"{path}\n" for path in sorted({lent["purelib"], lent["platlib"]}))
    (Path(inside["purelib"]) / "lent.pth").write_text(lines, encoding="utf-8")
    programs = Path(inside["scripts"])
    command = [sys.executable, "-m", "pip", "--python", str(programs / "python")]
    command += ["install", "--no-deps", "--no-index", "--ignore-installed", "--quiet", str(wheel)]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    return programs


def surroundings(folder: Path) -> dict[str, str]:
    """Return variables that lead to no checkout and to no kept case."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    return kept | {"LEVELGAZE_STORE": str(folder / "kept" / "cases.sqlite3")}


@pytest.fixture
def run(programs: Path, tmp_path: Path) -> Run:
    """Run a program of the environment from an empty folder."""

    def run_it(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [programs / program, *arguments],
            cwd=tmp_path,
            env=surroundings(tmp_path),
            capture_output=True,
            encoding="utf-8",
            check=False,
        )

    return run_it


def said(done: subprocess.CompletedProcess[str]) -> str:
    """Return what a program that ended well printed, and printed nothing of else."""
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_the_wheel_holds_every_file_of_the_program_and_no_other(wheel: Path) -> None:
    wanted = {
        path.relative_to(ROOT).as_posix()
        for folder in FOLDERS
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    with zipfile.ZipFile(wheel) as archive:
        held = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert {"engine/examples/musician.json", "reference_tables/judgements.csv"} <= held
    assert held == wanted


def test_what_runs_is_the_wheel_with_the_tables_and_examples_of_the_checkout(run: Run) -> None:
    names = sorted(path.stem for path in (ROOT / "reference_tables").glob("*.csv"))
    rows, files = json.loads(said(run("python", "-c", WHAT_RUNS, *names)))
    assert rows == {name: len(tables.rows(name)) for name in names}
    wanted = {name: examples.path_of(name).read_text("utf-8") for name in examples.names()}
    assert files == wanted


def test_version_tells_what_is_installed_and_where_cases_lie(run: Run, tmp_path: Path) -> None:
    lines = said(run("levelgaze", "--version")).splitlines()
    kept = tmp_path / "kept" / "cases.sqlite3"
    assert lines == [
        f"levelgaze {__version__}",
        f"results version {RESULTS_VERSION}",
        "extras: " + ", ".join(f"{extra} found" for extra in EXTRAS),
        f"kept cases: {kept} (nothing kept yet)",
    ]
    assert not kept.parent.exists()


def test_examples_are_listed_answered_and_printed_to_be_changed(
    run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    path = examples.path_of("musician")
    assert main(["explain", str(path)]) == 0
    assert said(run("levelgaze", "example", "musician")) == capsys.readouterr().out
    assert main(["example"]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in listed] == examples.names()
    assert main(["example", "musician", "--case"]) == 0
    assert capsys.readouterr().out == path.read_text(encoding="utf-8")


def test_a_roster_in_two_processes_is_answered(run: Run, tmp_path: Path) -> None:
    """Each process starts the program's script anew."""
    (tmp_path / "in.csv").write_text(template_csv(), encoding="utf-8")
    told = said(run("levelgaze", "roster", "in.csv", "out.csv", "--processes", "2"))
    assert told.startswith("1 rows computed")
    assert (tmp_path / "out.csv").exists()


def test_what_is_refused_is_one_line_and_status_2(
    run: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["example", "nobody"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("example: nobody cannot be used. Allowed: absolute_presbyope, ")
    assert told.err.count("\n") == 1
    wrong = run("levelgaze", "advice")
    assert wrong.returncode == 2
    assert wrong.stderr.startswith("usage: levelgaze ")


def test_help_names_every_command_and_the_pages(run: Run) -> None:
    told = said(run("levelgaze", "--help"))
    for word in ("advise", "explain", "example", "roster", "backup", "restore", "--port PORT"):
        assert word in told
    assert "usage: levelgaze [" in said(run("levelgaze", "--port=8700", "--help"))


def test_without_a_command_the_pages_open_in_the_browser(programs: Path, tmp_path: Path) -> None:
    note, stand_in = tmp_path / "note", tmp_path / "browser"
    stand_in.write_text(f'#!/bin/sh\nprintf "%s" "$1" >"{note}"\n', encoding="utf-8")
    stand_in.chmod(0o700)
    process = subprocess.Popen(
        [programs / "levelgaze"],
        cwd=tmp_path,
        env=surroundings(tmp_path)
        | {"BROWSER": f"{stand_in} %s", "TMPDIR": str(tmp_path), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
    )
    try:
        assert process.stdout is not None
        told = []
        for line in process.stdout:
            told.append(line)
            if "Levelgaze is at " in line:
                break
        assert told, "it ended without a word"
        entry = told[-1].split("Levelgaze is at ")[1].split(" ")[0]
        opener = build_opener(HTTPCookieProcessor(CookieJar()))
        with opener.open(entry, timeout=60) as page:
            assert page.status == 200
            assert "text/html" in page.headers["content-type"]
    finally:
        process.send_signal(signal.SIGINT)
        rest, _ = process.communicate(timeout=60)
    assert process.returncode == 0, "".join(told) + rest
    assert "Traceback" not in rest
    assert note.read_text(encoding="utf-8").startswith("file://")
