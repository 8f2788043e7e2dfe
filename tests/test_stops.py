"""Ctrl-C and requests to end, at every stage of a command: one sentence, and it is true."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from engine.examples import path_of
from engine.files.store import Store
from tests.test_output import heed_interrupt, roster, started_in_two, workers_of

ROOT = Path(__file__).parent.parent
CASE = path_of("eye_level_27in")
WAYS = [
    (signal.SIGINT, 130, "Stopped; no file was changed.\n"),
    (signal.SIGTERM, 143, "Ended from outside; no file was changed.\n"),
]


@pytest.mark.parametrize("module", ["argparse", "numpy._core.multiarray", "annotated_types"])
@pytest.mark.parametrize(("how", "status", "says"), WAYS)
def test_while_modules_are_loaded(how: signal.Signals, status: int, says: str, module: str) -> None:
    running = subprocess.Popen(
        [sys.executable, "-X", "importtime", "-m", "engine", "advise", str(CASE)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heed_interrupt,
    )
    assert running.stderr is not None
    while not (line := running.stderr.readline()).endswith(f" {module}\n"):
        assert line, f"{module} is not loaded any more: choose another"
    running.send_signal(how)
    printed, said = running.communicate(timeout=60)
    lines = [line for line in said.splitlines(keepends=True) if "import time:" not in line]
    assert (running.returncode, printed, "".join(lines)) == (status, "", says)


def run(script: str, *arguments: str | Path, store: Path | None = None) -> tuple[int, str, str]:
    """Return status, output and errors of a script in a process of its own."""
    more = {"LEVELGAZE_STORE": str(store)} if store else {}
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script, *map(str, arguments)],
        cwd=ROOT,
        env=os.environ | more,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    return done.returncode, done.stdout, done.stderr


SWALLOWED = """
import signal, sys, time
from engine import stops
stops.heed()
try:
    signal.raise_signal(signal.SIGTERM)
except stops.Stopped:
    pass
try:
    try:
        while True:
            signal.pause()
    finally:
        end = time.monotonic() + 3 * stops.AGAIN_S
        while time.monotonic() < end:
            signal.raise_signal(signal.SIGINT)
            time.sleep(0.001)
        print("tidied")
except stops.Stopped:
    print(stops.asked().status)
"""


def test_a_stop_that_was_swallowed_comes_again_but_disturbs_no_tidying() -> None:
    assert run(SWALLOWED) == (0, "tidied\n143\n", "")


ENDS_SLOWLY = """
import signal, time
from engine import stops
class Slow:
    def __del__(self):
        end = time.monotonic() + 3 * stops.AGAIN_S
        while time.monotonic() < end:
            time.sleep(0.001)
kept = Slow()
stops.heed()
try:
    signal.raise_signal(signal.SIGTERM)
except stops.Stopped:
    print(stops.asked().status, flush=True)
"""


def test_an_interpreter_that_ends_slowly_is_not_killed_by_its_own_alarm() -> None:
    assert run(ENDS_SLOWLY) == (0, "143\n", "")


IGNORED = """
import signal
from engine import stops
stops.heed()
class Held:
    def __del__(self):
        signal.raise_signal(signal.SIGTERM)
try:
    held = Held()
    del held
    while True:
        sum(range(100))
except stops.Stopped:
    print("stopped")
"""


def test_a_stop_where_nothing_can_catch_it_is_not_told_as_a_fault() -> None:
    assert run(IGNORED) == (0, "stopped\n", "")


COMMAND = """
import signal, sys
from engine import commands, stops
from engine.__main__ import main
from engine.files import output, store

def and_then(owner, name):
    whole = getattr(owner, name)
    def work(*given, **more):
        found = whole(*given, **more)
        signal.raise_signal(signal.SIGTERM)
        return found
    setattr(owner, name, work)

def made_another_error(*_, **__):
    try:
        signal.raise_signal(signal.SIGTERM)
    except BaseException:
        raise RuntimeError("a compiled module renames what is raised in it") from None

{before}
stops.heed()
sys.exit(main(sys.argv[1:]))
"""
RENAMED = COMMAND.format(before="commands.run = made_another_error")


def test_a_stop_that_became_another_error_is_still_a_stop() -> None:
    assert run(RENAMED, "advise") == (143, "", WAYS[1][2])


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A store with two cases, and a copy of it beside it."""
    path = tmp_path / "kept" / "cases.sqlite3"
    with Store(path) as store:
        for label in ("A12", "B7"):
            store.save(label=label, case_json=json.dumps({"label": label}))
        store.backup(tmp_path / "copy.sqlite3")
    return path


def labels(path: Path) -> list[str]:
    with Store(path) as store:
        return sorted(entry.label for entry in store.entries())


def test_a_restore_is_undone_or_done_as_is_said(kept: Path) -> None:
    copy, new = kept.parent.parent / "copy.sqlite3", kept.with_name("new.sqlite3")
    early = COMMAND.format(before='and_then(store.Store, "_keep_all")')
    assert run(early, "restore", copy, store=new) == (143, "", WAYS[1][2])
    assert labels(new) == []
    for late, said in (
        ('"_bring_back"', "2 cases brought back.\n"),
        ('"close"', "0 cases brought back; 2 cases kept already.\n"),
    ):
        after = COMMAND.format(before=f"and_then(store.Store, {late})")
        assert run(after, "restore", copy, store=new) == (0, said, "")
    assert labels(new) == ["A12", "B7"]


@pytest.mark.parametrize(
    ("where", "status"),
    [("store.Store, 'as_bytes'", 143), ("output._Part, 'opened'", 143),
     ("output._Part, 'put_new'", 0), ("store, 'write_new'", 0)],
)  # fmt: skip
def test_a_backup_is_not_there_or_whole_as_is_said(
    kept: Path, tmp_path: Path, where: str, status: int
) -> None:
    target = tmp_path / "second" / "copy.sqlite3"
    target.parent.mkdir()
    script = COMMAND.format(before=f"and_then({where})")
    found = run(script, "backup", target, store=kept)
    if status:
        assert found == (143, "", WAYS[1][2])
        assert list(target.parent.iterdir()) == []
    else:
        assert found == (0, "A copy of 2 cases is saved.\n", "")
        assert [path.name for path in target.parent.iterdir()] == ["copy.sqlite3"]
        with Store(tmp_path / "other.sqlite3") as store:
            assert store.restore(target.read_bytes()).added == 2


def test_a_roster_that_is_in_place_is_said_to_be(tmp_path: Path) -> None:
    source, target = roster(tmp_path / "IN.csv"), tmp_path / "OUT.csv"
    script = COMMAND.format(before="and_then(output._Part, 'put_at')")
    status, said, trouble = run(script, "roster", source, target)
    assert (status, trouble) == (0, "")
    assert said.startswith("1 rows computed")
    assert target.read_text(encoding="utf-8").count("\n") == 2


def test_a_worker_that_is_starting_says_nothing_of_ctrl_c(tmp_path: Path) -> None:
    """A terminal sends it to the workers as well."""
    source = roster(tmp_path / "IN.csv", rows=4000)
    own = {"start_new_session": True, "preexec_fn": heed_interrupt}
    running = started_in_two(source, tmp_path / "OUT.csv", chunk_rows=1000, **own)
    while not any(map(is_loading, workers_of(running))):
        assert running.poll() is None, running.communicate()
    os.killpg(running.pid, signal.SIGINT)
    _, said = running.communicate(timeout=60)
    assert (running.returncode, said) == (130, WAYS[0][2])
    assert [path.name for path in tmp_path.iterdir()] == ["IN.csv"]


def is_loading(process: str) -> bool:
    """Tell whether a process has begun to load its modules."""
    try:
        return "numpy" in Path(f"/proc/{process}/maps").read_text(encoding="utf-8")
    except OSError:
        return False
