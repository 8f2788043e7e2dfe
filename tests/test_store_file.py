"""The file of kept cases: older, newer, foreign, damaged, locked, full, read-only, killed."""

from __future__ import annotations

import json
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from engine.files.store import Store
from engine.files.store_file import (
    APPLICATION_ID,
    STORE_VERSION,
    StoreDamagedError,
    StoreError,
    StoreForeignError,
    StoreFullError,
    StoreLockedError,
    StoreNewerError,
    StoreOlderError,
    StoreReadOnlyError,
    StoreUnreachableError,
    _side_file,
)

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "cases.sqlite3"


def case_text(label: str, **more: object) -> str:
    return json.dumps({"label": label, **more})


def older(path: Path, *, version: int = 1) -> None:
    """Make a file of a format before the first released one, with a case in it."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(
            f"""
            PRAGMA journal_mode=WAL;
            CREATE TABLE cases (id INTEGER PRIMARY KEY, label TEXT NOT NULL UNIQUE,
                case_json TEXT NOT NULL, result_json TEXT, saved_at TEXT NOT NULL);
            INSERT INTO cases VALUES (1, 'Old', '{{"label": "Old"}}', NULL, '2024-05-06T07:08Z');
            PRAGMA application_id={APPLICATION_ID};
            PRAGMA user_version={version};
            """
        )


def version_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def folder_bytes(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


@pytest.mark.parametrize("version", [0, 1])
def test_an_older_file_is_refused_and_left_as_it_is(path: Path, version: int) -> None:
    older(path, version=version)
    before, stamp = folder_bytes(path.parent), path.stat().st_mtime_ns
    with pytest.raises(
        StoreOlderError, match=rf"never released \(format {version}; .*left as it is"
    ):
        Store(path)
    assert folder_bytes(path.parent) == before
    assert path.stat().st_mtime_ns == stamp


def count(path: Path) -> int:
    with Store(path) as store:
        return store.count()


def at_once(number: int, work: Callable[[], int]) -> list[object]:
    found: list[object] = []

    def run() -> None:
        try:
            found.append(work())
        except Exception as error:
            found.append(error)

    threads = [threading.Thread(target=run) for _ in range(number)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def test_many_sessions_make_the_file_together(path: Path) -> None:
    assert at_once(8, lambda: count(path)) == [0] * 8


def test_a_side_file_that_another_session_removes_meanwhile_is_none(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be gone between any two looks at it: `exists` says what was true, not what is."""
    monkeypatch.setattr(Path, "exists", lambda *_, **__: True)
    assert not _side_file(path, "-journal")
    path.with_name(path.name + "-journal").write_bytes(b"begun")
    assert _side_file(path, "-journal")


def test_many_sessions_save_together(path: Path) -> None:
    numbers = iter(range(100))

    def work() -> int:
        label = f"C{next(numbers)}"
        with Store(path) as store:
            return store.save(label=label, case_json=case_text(label)).revision

    assert at_once(8, work) == [1] * 8
    assert count(path) == 8


def newer(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A", case_json=case_text("A"))
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version={STORE_VERSION + 1}")


def test_a_newer_file_is_refused_and_left_as_it_is(path: Path) -> None:
    newer(path)
    before, stamp = folder_bytes(path.parent), path.stat().st_mtime_ns
    with pytest.raises(StoreNewerError, match="newer version of this program"):
        Store(path)
    assert folder_bytes(path.parent) == before
    assert path.stat().st_mtime_ns == stamp


def test_a_newer_head_that_is_still_in_the_log_is_refused_too(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A", case_json=case_text("A"))
    script = (
        "import sqlite3, os, sys; c = sqlite3.connect(sys.argv[1]);"
        f"c.execute('PRAGMA user_version={STORE_VERSION + 1}'); os._exit(0)"
    )
    subprocess.run([sys.executable, "-c", script, str(path)], check=True)
    main, log = path.read_bytes(), path.with_name(path.name + "-wal").read_bytes()
    assert log
    assert int.from_bytes(main[60:64], "big") == STORE_VERSION
    with pytest.raises(StoreNewerError):
        Store(path)
    assert path.read_bytes() == main
    assert path.with_name(path.name + "-wal").read_bytes() == log


def other_program(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE theirs (x)")
        connection.execute("PRAGMA user_version=2")


@pytest.mark.parametrize(
    "write",
    [
        other_program,
        lambda path: path.write_text("label;age\nA;54\n" * 20, encoding="utf-8"),
        lambda path: path.write_bytes(b"SQLite format 3\x00 cut"),
        lambda path: path.write_bytes(bytes(4096)),
    ],
    ids=["another database", "a text", "a cut head", "zeros"],
)
def test_a_file_that_is_not_ours_is_refused_and_left_as_it_is(
    path: Path, write: Callable[[Path], object]
) -> None:
    write(path)
    before = folder_bytes(path.parent)
    with pytest.raises(StoreForeignError, match="does not hold kept cases"):
        Store(path)
    assert folder_bytes(path.parent) == before


def test_an_empty_file_has_lost_what_it_held_and_is_left_as_it_is(path: Path) -> None:
    path.touch()
    with pytest.raises(StoreDamagedError, match="is empty, so what it held is lost"):
        Store(path)
    assert path.stat().st_size == 0


def test_a_path_may_hold_any_sign(tmp_path: Path) -> None:
    odd = tmp_path / "é ?mode=ro#1 %41 & 'x'" / "cases.sqlite3"
    with Store(odd) as store:
        store.save(label="A", case_json=case_text("A"))
    assert odd.exists()
    assert count(odd) == 1


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(StoreUnreachableError, match="is a folder"):
        Store(tmp_path)


def test_a_place_below_a_file_is_refused(path: Path) -> None:
    path.write_text("x", encoding="utf-8")
    with pytest.raises(StoreUnreachableError, match="another place"):
        Store(path / "cases.sqlite3")


def test_a_damaged_file_is_told_and_the_sound_cases_still_open(path: Path) -> None:
    with Store(path) as store:
        for number in range(200):
            label = f"C{number}"
            store.save(label=label, case_json=case_text(label, x="y" * 3000))
    sound = bytearray(path.read_bytes())
    told, opened = [], []
    for page in range(1, len(sound) // 4096, 40):
        spoilt = bytearray(sound)
        spoilt[page * 4096 : (page + 1) * 4096] = random.Random(page).randbytes(4096)
        path.write_bytes(spoilt)
        try:
            with Store(path) as store:
                for entry in store.entries():
                    kept = store.open(label=entry.label)
                    assert kept.case_json == case_text(entry.label, x="y" * 3000)
                    opened.append(entry.label)
        except StoreDamagedError as error:
            told.append(str(error))
    assert len(told) >= 5
    assert all("damaged" in sentence for sentence in told)
    assert opened


def test_a_cut_file_is_told(path: Path) -> None:
    with Store(path) as store:
        for number in range(50):
            label = f"C{number}"
            store.save(label=label, case_json=case_text(label, x="y" * 3000))
    path.write_bytes(path.read_bytes()[: 4096 * 7])
    with pytest.raises(StoreDamagedError, match="damaged"):
        open_all(path)


def open_all(path: Path) -> None:
    with Store(path) as store:
        for entry in store.entries():
            store.open(label=entry.label)


def test_a_locked_file_is_told_and_nothing_is_lost(path: Path) -> None:
    with Store(path) as holder, Store(path, wait_s=0.05) as store:
        holder._connection.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreLockedError, match="another session is writing"):
            store.save(label="A", case_json=case_text("A"))
        assert store.count() == 0
        holder._connection.execute("ROLLBACK")
        store.save(label="A", case_json=case_text("A"))
        assert store.count() == 1


def test_a_full_file_is_told_and_keeps_what_it_had(path: Path) -> None:
    with Store(path, most_pages=24) as store:
        with pytest.raises(StoreFullError, match="no room") as told:
            save_many(store)
        saved = store.count()
        assert "Nothing was saved" in str(told.value)
        assert 1 < saved < 24
        for number in range(saved):
            assert store.open(label=f"C{number}").case_json == long_case(f"C{number}")
        store.delete(label="C0")
        store.save(label="small", case_json=case_text("small"))


def long_case(label: str) -> str:
    return case_text(label, x="y" * 5000)


def save_many(store: Store) -> None:
    for number in range(100):
        store.save(label=f"C{number}", case_json=long_case(f"C{number}"))


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that a user without rights can reach."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


_READ_ONLY = """
import sys
sys.path.insert(0, sys.argv[2])
from pathlib import Path
from engine.files.store import Store
from engine.files.store_file import StoreError
import os
if os.geteuid() == 0:  # for root nothing is read-only
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
try:
    with Store(Path(sys.argv[1])) as store:
        print(store.open(label="A").case_json, store.count())
        for work in (lambda: store.save(label="B", case_json='{"label": "B"}'),
                     lambda: store.delete(label="A")):
            try:
                work()
            except StoreError as error:
                print(type(error).__name__, error)
except StoreError as error:
    print(type(error).__name__, error)
"""


def as_nobody(path: Path) -> list[str]:
    """What the script prints when a user without any rights runs it."""
    command = [sys.executable, "-B", "-c", _READ_ONLY, str(path), str(ROOT)]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    return ran.stdout.splitlines()


@pytest.mark.parametrize("protected", ["file", "folder"])
def test_what_may_only_be_read_is_read_and_told(open_folder: Path, protected: str) -> None:
    path = open_folder / "cases.sqlite3"
    with Store(path) as store:
        store.save(label="A", case_json=case_text("A"))
    path.chmod(0o444 if protected == "file" else 0o666)
    open_folder.chmod(0o777 if protected == "file" else 0o555)
    lines = as_nobody(path)
    assert lines[0] == f"{case_text('A')} 1"
    assert [line.split()[0] for line in lines[1:]] == ["StoreReadOnlyError"] * 2
    assert "write-protected" in lines[1]
    assert count(path) == 1


def test_an_older_file_that_may_only_be_read_is_told(open_folder: Path) -> None:
    path = open_folder / "cases.sqlite3"
    older(path)
    path.chmod(0o444)
    assert as_nobody(path)[0].startswith("StoreOlderError")
    assert version_of(path) == 1


def test_a_file_that_may_not_be_read_is_told(open_folder: Path) -> None:
    path = open_folder / "cases.sqlite3"
    count(path)
    assert as_nobody(path)[0].startswith("StoreUnreachableError")


def test_each_trouble_is_a_store_error_of_its_own() -> None:
    kinds = [
        StoreDamagedError,
        StoreForeignError,
        StoreFullError,
        StoreLockedError,
        StoreNewerError,
        StoreOlderError,
        StoreReadOnlyError,
        StoreUnreachableError,
    ]
    assert all(issubclass(kind, StoreError) for kind in kinds)


_WRITER = """
import sys
sys.path.insert(0, sys.argv[2])
from pathlib import Path
from engine.files.store import Store
heavy = {"pydantic", "numpy", "pandas", "engine.case", "engine.files.exchange"} & set(sys.modules)
assert not heavy, heavy
with Store(Path(sys.argv[1])) as store:
    number = int(sys.argv[3])
    while True:
        label = f"C{number % 40}"
        text = '{"label": "%s", "n": %d, "x": "%s"}' % (label, number, str(number) * 2000)
        found = store.entries(search=label.lower())
        known = [entry.revision for entry in found if entry.label == label]
        saved = store.save(label=label, case_json=text, result_json='{"n": %d}' % number,
                           expected_revision=known[0] if known else None)
        print(number, label, saved.revision, flush=True)
        number += 1
"""


def test_no_acknowledged_save_is_lost_and_none_is_half_when_the_writer_is_killed(
    path: Path,
) -> None:
    chance = random.Random(6)
    acknowledged: list[tuple[int, str, int]] = []
    kills = 0
    while len(acknowledged) < 200 or kills < 15:
        start = acknowledged[-1][0] + 2 if acknowledged else 0
        command = [sys.executable, "-c", _WRITER, str(path), str(ROOT), str(start)]
        writer = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        assert writer.stderr is not None
        lines = [writer.stdout.readline() for _ in range(chance.randint(1, 12))]
        time.sleep(chance.random() * 0.004)
        writer.send_signal(signal.SIGKILL)
        with writer:  # not `communicate`: it drops the lines that `readline` has read ahead
            rest, errors = writer.stdout.read(), writer.stderr.read()
        assert errors == ""
        whole = [
            line for line in "".join([*lines, rest]).splitlines(keepends=True) if line[-1] == "\n"
        ]
        for line in whole:
            number, label, revision = line.split()
            acknowledged.append((int(number), label, int(revision)))
        kills += 1
        check_kept(path, acknowledged, kills)


def check_kept(path: Path, acknowledged: list[tuple[int, str, int]], kills: int) -> None:
    with Store(path) as store:
        kept = {}
        for entry in store.entries():
            for one in store.revisions(label=entry.label):
                record = store.open(label=entry.label, revision=one.revision)
                number = json.loads(record.case_json)["n"]
                expected = {"label": entry.label, "n": number, "x": str(number) * 2000}
                assert json.loads(record.case_json) == expected
                assert json.loads(record.result_json or "") == {"n": number}
                kept[number, entry.label, one.revision] = record
        check = store._connection.execute("PRAGMA integrity_check").fetchone()[0]
    assert check == "ok"
    assert set(acknowledged) <= set(kept)
    # At each kill one save may be on the disk whose acknowledgement was not read any more.
    assert len(kept) <= len(acknowledged) + kills
