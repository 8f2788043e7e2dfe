"""No network at all: the program's own commands and pages in a namespace with nothing but itself.

Nothing here is skipped: where the system forbids such a namespace the tests fail and say so.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from engine.__main__ import main
from tests.roster_examples import roster, with_unknowns, written

ROOT = Path(__file__).resolve().parent.parent
CASE = "engine/examples/low_24in.json"
COMMANDS = [["advise", CASE], ["explain", CASE], ["roster", "--template"]]
ALL_OF_THEM = """
import json, sys
from engine.__main__ import main
for command in json.loads(sys.argv[1]):
    assert main(command) == 0
"""
ALONE = ["unshare", "--user", "--map-root-user", "--net"]
FORBIDDEN = (
    "no namespace without a network can be made here (unshare -rn), so nothing is known of the"
    " program without one; allow user namespaces on this machine, or run the tests as root"
)
SEND_OUT = "import socket; socket.create_connection(('192.0.2.1', 80), timeout=2)"


def alone(*command: str, seconds: float = 180) -> subprocess.CompletedProcess[str]:
    """Run a command where there is no network; the loopback is down as well."""
    assert shutil.which("unshare"), f"{FORBIDDEN} (the program unshare of util-linux is missing)"
    tried = subprocess.run([*ALONE, "true"], capture_output=True, text=True, check=False)
    assert tried.returncode == 0, f"{FORBIDDEN} ({tried.stderr.strip()})"
    return subprocess.run(
        [*ALONE, *command], cwd=ROOT, capture_output=True, text=True, timeout=seconds, check=False
    )


def test_the_namespace_has_no_way_out() -> None:
    """The test itself is tested: what wants to go out fails at once here."""
    tried = alone(sys.executable, "-c", SEND_OUT)
    assert tried.returncode == 1
    assert "Network is unreachable" in tried.stderr


def test_each_command_says_the_same_with_and_without_a_network(
    capsys: pytest.CaptureFixture[str],
) -> None:
    said = []
    for command in COMMANDS:
        assert main(command) == 0
        said.append(capsys.readouterr())
        assert len(said[-1].out) > 100
    there = alone(sys.executable, "-c", ALL_OF_THEM, json.dumps(COMMANDS))
    assert there.returncode == 0, there.stderr
    assert there.stdout == "".join(here.out for here in said)
    assert there.stderr == "".join(here.err for here in said)


def test_a_roster_is_the_same_with_and_without_a_network(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Also with two processes, which talk to each other."""
    source = written(with_unknowns(roster(30)), tmp_path / "in.csv")
    more = ("--draws", "2", "--chunk-rows", "10")
    assert main(["roster", str(source), str(tmp_path / "here.csv"), *more]) == 0
    command = ("roster", str(source), str(tmp_path / "there.csv"), *more, "--processes", "2")
    there = alone(sys.executable, "-m", "engine", *command)
    assert there.returncode == 0, there.stderr
    assert there.stdout == capsys.readouterr().out
    assert (tmp_path / "there.csv").read_bytes() == (tmp_path / "here.csv").read_bytes()


def test_the_pages_answer_on_the_loopback_alone(tmp_path: Path) -> None:
    """In a browser: an answer, every page, and nothing of the program looks for an address."""
    log = tmp_path / "reached.txt"
    tried = alone(sys.executable, "-m", "tests.faults_alone", str(log))
    assert tried.returncode == 0, tried.stderr
    assert "h comfortable" in tried.stdout
    assert not log.exists(), log.read_text(encoding="utf-8")


def test_the_watch_on_addresses_sees_one(tmp_path: Path) -> None:
    """A name that is looked up, as a program that reports home would do, is written down."""
    from tests.faults_alone import WATCH

    (tmp_path / "sitecustomize.py").write_text(WATCH, encoding="utf-8")
    log = tmp_path / "reached.txt"
    told = ["env", f"PYTHONPATH={tmp_path}", f"LEVELGAZE_TEST_LOG={log}"]
    look_up = "import socket; socket.gethostbyname('example.invalid')"
    tried = alone(*told, sys.executable, "-c", look_up)
    assert tried.returncode == 1
    assert log.read_text(encoding="utf-8").strip() == "socket.gethostbyname 'example.invalid'"
