"""Files written whole or not at all, and sources that are no files: real files, real processes."""

from __future__ import annotations

import errno
import os
import signal
import socket
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from engine.__main__ import main
from engine.case.read import LARGEST_BYTES, read_case
from engine.errors import InputRefusedError
from engine.examples import path_of
from engine.files import output
from engine.files.output import check_readable, refuse_same_file, write_new, written_whole
from engine.files.store import Store
from engine.roster.file import run_file
from engine.roster.template import template_csv
from tests.waiting import until

ROOT = Path(__file__).parent.parent
HEADER, ROW = template_csv().splitlines()


def listing(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def roster(path: Path, *, rows: int = 1, row: str = ROW) -> Path:
    path.write_text("\n".join([HEADER, *[row] * rows]) + "\n", encoding="utf-8")
    return path


@pytest.fixture(params=["nameless", "named"])
def folder(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder, once as here and once as on a system that has no files without a name."""
    if request.param == "named":
        monkeypatch.delattr(os, "O_TMPFILE", raising=False)
    return tmp_path


def test_a_file_is_private_and_takes_its_place_only_when_whole(folder: Path) -> None:
    target = folder / "OUT.csv"
    target.write_text("old", encoding="utf-8")
    with written_whole(target, field="OUT") as out:
        out.write("new")
        assert target.read_text(encoding="utf-8") == "old"
        assert set(listing(folder)) - {"OUT.csv"} <= {
            name for name in listing(folder) if name.startswith(".levelgaze-")
        }
    assert target.read_text(encoding="utf-8") == "new"
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert listing(folder) == ["OUT.csv"]


def test_a_failure_leaves_the_old_file_and_nothing_else(folder: Path) -> None:
    target = folder / "OUT.csv"
    target.write_text("old", encoding="utf-8")
    with pytest.raises(UnicodeEncodeError), written_whole(target, field="OUT") as out:
        out.write("half \ud800")
    assert target.read_text(encoding="utf-8") == "old"
    assert listing(folder) == ["OUT.csv"]


def test_a_link_stays_a_link(folder: Path) -> None:
    real, link = folder / "real.csv", folder / "OUT.csv"
    real.write_text("old", encoding="utf-8")
    link.symlink_to(real)
    with written_whole(link, field="OUT") as out:
        out.write("new")
    assert link.is_symlink()
    assert real.read_text(encoding="utf-8") == "new"


def test_a_folder_and_a_socket_are_refused_and_a_device_stays_one(folder: Path) -> None:
    taken = folder / "socket"
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(taken))
        for path, kind in ((folder, "a folder"), (taken, "a socket")):
            with (
                pytest.raises(InputRefusedError, match=kind),
                written_whole(path, field="OUT") as out,
            ):
                out.write("text")
    with written_whole(Path(os.devnull), field="OUT") as out:
        out.write("text")
    assert stat.S_ISCHR(Path(os.devnull).stat().st_mode)


def test_the_source_is_never_the_target(folder: Path) -> None:
    source = roster(folder / "IN.csv")
    hard, soft = folder / "hard.csv", folder / "soft.csv"
    hard.hardlink_to(source)
    soft.symlink_to(source)
    for target in (source, hard, soft):
        with pytest.raises(InputRefusedError, match="another file than IN"):
            run_file(source, target)
    assert source.read_text(encoding="utf-8").startswith(HEADER)
    refuse_same_file(source, folder / "other.csv", field="OUT")


def test_a_file_named_part_of_the_user_is_not_touched(folder: Path) -> None:
    source = roster(folder / "OUT.csv.part")
    before = source.read_bytes()
    done = run_file(source, folder / "OUT.csv")
    assert done.computed == 1
    assert source.read_bytes() == before
    assert listing(folder) == ["OUT.csv", "OUT.csv.part"]


def test_what_is_no_file_or_too_large_is_not_read(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path, pipe, Path("/dev/zero")):
        with pytest.raises(InputRefusedError):
            check_readable(path, field="IN")
        with pytest.raises(InputRefusedError, match=r"a folder, pipe or device|Is a directory"):
            read_case(path)
    large = tmp_path / "large.json"
    large.write_bytes(b" " * (LARGEST_BYTES + 1))
    with pytest.raises(InputRefusedError, match="at most 5 MB"):
        read_case(large)
    with pytest.raises(InputRefusedError, match="at most 1 MB"):
        check_readable(large, field="IN", most_bytes=1_000_000)


@pytest.mark.parametrize(
    ("how", "status", "says"),
    [
        (signal.SIGINT, 130, "Stopped; no file was changed."),
        (signal.SIGTERM, 143, "Ended from outside; no file was changed."),
        (signal.SIGKILL, -signal.SIGKILL, ""),
    ],
)
def test_a_roster_that_is_stopped_leaves_nothing(
    tmp_path: Path, how: signal.Signals, status: int, says: str
) -> None:
    source, target = roster(tmp_path / "IN.csv", rows=50_000), tmp_path / "OUT.csv"
    target.write_text("old", encoding="utf-8")
    command = [sys.executable, "-m", "engine", "roster", str(source), str(target)]
    running = subprocess.Popen(
        [*command, "--chunk-rows", "10"],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=heed_interrupt,
    )
    wait_until_begun(running, lambda: _has_begun(running.pid, tmp_path))
    running.send_signal(how)
    _, said = running.communicate(timeout=60)
    assert running.returncode == status
    assert said.strip() == says
    assert target.read_text(encoding="utf-8") == "old"
    assert listing(tmp_path) == ["IN.csv", "OUT.csv"]


def started_in_two(
    source: Path, target: Path, *more: str, chunk_rows: int, **how: Any
) -> subprocess.Popen[str]:
    """Start a roster in two processes."""
    command = [sys.executable, "-m", "engine", "roster", str(source), str(target), *more]
    return subprocess.Popen(
        [*command, "--processes", "2", "--chunk-rows", str(chunk_rows)],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


def wait_until_begun(running: subprocess.Popen[str], begun: Callable[[], bool]) -> None:
    """Wait until a roster is at work; one that ended or hangs fails with what it said."""
    if not until(lambda: running.poll() is not None or begun(), seconds=BEGUN_S):
        running.kill()
        running.wait()
    assert running.poll() is None, running.communicate()


def at_work(running: subprocess.Popen[str]) -> list[str]:
    """Return its workers that are in a chunk: in its first each loads the compiled search."""
    return [one for one in workers_of(running) if "llvmlite" in mapped(one)]


def workers_of(running: subprocess.Popen[str]) -> list[str]:
    """Return the processes a running one has started."""
    children = Path(f"/proc/{running.pid}/task/{running.pid}/children")
    return children.read_text(encoding="ascii").split()


@pytest.mark.parametrize(
    ("how", "status"),
    [(signal.SIGINT, 130), pytest.param(signal.SIGTERM, 143, marks=pytest.mark.long)],
)
def test_a_roster_in_two_processes_does_not_finish_its_chunks_when_it_is_stopped(
    tmp_path: Path, how: signal.Signals, status: int
) -> None:
    """A chunk of 200 rows, each drawn 1,000 times, takes minutes: without an end this fails."""
    blank = ROW.split(",")
    blank[HEADER.split(",").index("screen_distance_cm")] = ""
    source, target = tmp_path / "IN.csv", tmp_path / "OUT.csv"
    roster(source, rows=400, row=",".join(blank))
    drawn = ("--draws", "1000")
    running = started_in_two(source, target, *drawn, chunk_rows=200, preexec_fn=heed_interrupt)
    wait_until_begun(running, lambda: len(at_work(running)) == 2)
    workers = workers_of(running)
    running.send_signal(how)
    _, said = running.communicate(timeout=30)
    assert running.returncode == status
    assert said.count("\n") == 1, said
    assert listing(tmp_path) == ["IN.csv"]
    gone = until(lambda: not any(map(still_runs, workers)), seconds=30)
    assert gone, "a worker outlives the program"


def test_a_worker_that_is_killed_is_told_in_a_sentence(tmp_path: Path) -> None:
    """In short chunks: a worker is missed at the end of a chunk of another at the latest."""
    source, target = roster(tmp_path / "IN.csv", rows=40_000), tmp_path / "OUT.csv"
    running = started_in_two(source, target, chunk_rows=100)
    wait_until_begun(running, lambda: bool(at_work(running)))
    os.kill(int(at_work(running)[0]), signal.SIGKILL)
    try:
        _, said = running.communicate(timeout=60)
    finally:
        running.terminate()
    assert running.returncode == 2
    assert said.count("\n") == 1, said
    assert said.startswith("A worker process was ended from outside")
    assert listing(tmp_path) == ["IN.csv"]


BEGUN_S = 300.0
"""Longest wait for a roster to be at work, other tests beside it."""


def mapped(process: str) -> str:
    """Return the files that a process has loaded, none where it has ended."""
    try:
        return Path(f"/proc/{process}/maps").read_text(encoding="utf-8")
    except OSError:
        return ""


def still_runs(process: str) -> bool:
    """Tell whether a process has not ended; one that only waits to be counted out has."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="ascii").split()[2] != "Z"
    except OSError:
        return False


def heed_interrupt() -> None:
    """Take Ctrl-C as a terminal gives it: a suite run in the background ignores it otherwise."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _has_begun(process: int, folder: Path) -> bool:
    """Tell whether the process has a part of its answer open."""
    for handle in Path(f"/proc/{process}/fd").iterdir():
        try:
            leads_to = handle.readlink()
        except OSError:
            continue
        if leads_to.parent == folder and leads_to.name.endswith("(deleted)"):
            return handle.stat().st_size > 0
    return False


def test_a_folder_that_is_not_there_is_told_by_the_name_that_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    roster(tmp_path / "IN.csv")
    (tmp_path / "link.csv").symlink_to("gone/OUT.csv")
    monkeypatch.chdir(tmp_path)
    for typed, says in (
        ("none/OUT.csv", "none/OUT.csv: there is no such folder"),
        (".", "OUT: . cannot be used. Allowed: a file; this is a folder."),
        ("./IN.csv", "OUT: IN.csv cannot be used. Allowed: another file than IN."),
        ("link.csv", "link.csv: there is no such folder"),
    ):
        assert main(["roster", "IN.csv", typed]) == 2
        assert capsys.readouterr().err == f"{says}\n"


def test_a_folder_that_cannot_be_written_is_told_by_the_name_that_was_typed(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Root may write everywhere, so the system is made to refuse."""

    def refused(*_: object, **__: object) -> tuple[int, str]:
        raise PermissionError(errno.EACCES, "Permission denied", "/hidden/.levelgaze-x")

    monkeypatch.setattr(output._Part, "_nameless", lambda _: -1)
    monkeypatch.setattr(tempfile, "mkstemp", refused)
    target = folder / "OUT.csv"
    with pytest.raises(PermissionError) as refusal, written_whole(target, field="OUT") as out:
        out.write("text")
    assert refusal.value.filename == str(target)


FULL = """
import sys
from pathlib import Path
from typing import Any
from engine.__main__ import main
folder = Path(sys.argv[1])
with open(folder / "filler", "wb", buffering=0) as file:
    try:
        while file.write(bytes(512)):
            pass
    except OSError:
        pass
print(main(["roster", sys.argv[2], str(folder / "OUT.csv")]), flush=True)
print(main(["backup", str(folder / "copy.sqlite3")]))
print([one.name for one in folder.iterdir()])
"""


def test_a_full_disk_is_told_by_the_name_that_was_typed(tmp_path: Path) -> None:
    disk, source = tmp_path / "disk", roster(tmp_path / "IN.csv", rows=20)
    disk.mkdir()
    kept = tmp_path / "kept.sqlite3"
    with Store(kept) as store:
        store.save(label="A12", case_json='{"label": "A12"}')
    mount = f'mount -t tmpfs -o size=64k tmpfs {disk} && exec {sys.executable} -c "$1" {disk} $2'
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", mount, "sh", FULL, str(source)],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT), "LEVELGAZE_STORE": str(kept)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr.splitlines() == [
        f"{disk / name}: No space left on device" for name in ("OUT.csv", "copy.sqlite3")
    ]
    assert done.stdout == "2\n2\n['filler']\n"


def test_a_full_device_is_told_by_its_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["roster", str(roster(tmp_path / "IN.csv")), "/dev/full"]) == 2
    assert capsys.readouterr().err == "/dev/full: No space left on device\n"
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-W", "error", "-m", "engine", "advise", path_of("eye_level_27in")],
            cwd=tmp_path,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "standard output: No space left on device\n"


def test_a_new_file_is_never_written_over_another(folder: Path) -> None:
    target = folder / "new"
    write_new(target, b"first")
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    with pytest.raises(FileExistsError) as refusal:
        write_new(target, b"second")
    assert refusal.value.filename == str(target)
    assert target.read_bytes() == b"first"
    assert listing(folder) == ["new"]


def test_the_module_needs_nothing_that_windows_lacks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("O_TMPFILE", "O_NONBLOCK", "mkfifo", "geteuid"):
        monkeypatch.delattr(os, name, raising=False)
    target = tmp_path / "OUT.csv"
    with written_whole(target, field="OUT") as out:
        out.write("text")
    case = path_of("musician")
    assert read_case(case).label == "musician"
    assert output._mode_of(target)
