"""A copy of everything, saved and brought back; a damaged store; a deletion on a full disk."""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from engine.__main__ import main
from engine.errors import InputRefusedError
from engine.files.store import Restored, Store
from engine.files.store_file import StoreError

ROOT = Path(__file__).parent.parent


def case_text(label: str, **more: object) -> str:
    return json.dumps({"label": label, **more})


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A store with two cases, one of them saved twice."""
    kept = tmp_path / "kept" / "cases.sqlite3"
    with Store(kept) as store:
        store.save(label="A12", case_json=case_text("A12", n=1))
        store.save(label="A12", case_json=case_text("A12", n=2), expected_revision=1)
        store.save(label="B7", case_json=case_text("B7"), result_json="{}")
    return kept


def content(path: Path) -> dict[str, list[tuple[str, str | None]]]:
    with Store(path) as store:
        return {
            entry.label: [
                (kept.case_json, kept.result_json)
                for one in store.revisions(label=entry.label)
                for kept in [store.open(label=entry.label, revision=one.revision)]
            ]
            for entry in store.entries()
        }


def test_a_copy_brings_everything_back(path: Path, tmp_path: Path) -> None:
    copy, other = tmp_path / "copy.sqlite3", tmp_path / "new" / "cases.sqlite3"
    with Store(path) as store:
        assert store.backup(copy) == 2
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    with Store(other) as store:
        assert store.restore(copy.read_bytes()) == Restored(added=2, same=0, apart=0, damaged=0)
    assert content(other) == content(path)


def test_bringing_back_overwrites_nothing(path: Path) -> None:
    with Store(path) as store:
        copy = store.as_bytes()
        store.save(label="A12", case_json=case_text("A12", n=3), expected_revision=2)
        store.delete(label="B7")
        done = store.restore(copy)
        assert done == Restored(added=2, same=0, apart=1, damaged=0)
        assert done.words() == (
            "2 cases brought back; 1 of them under another label, since theirs is taken."
        )
        assert store.restore(copy) == Restored(added=0, same=2, apart=0, damaged=0)
    kept = content(path)
    assert json.loads(kept["A12"][-1][0])["n"] == 3
    assert [json.loads(text)["n"] for text, _ in kept["A12 2"]] == [1, 2]
    assert {json.loads(text)["label"] for text, _ in kept["A12 2"]} == {"A12 2"}
    assert kept["B7"] == [(case_text("B7"), "{}")]


def test_a_copy_never_replaces_a_file(path: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine", encoding="utf-8")
    with Store(path) as store, pytest.raises(InputRefusedError, match="no file has yet"):
        store.backup(taken)
    assert taken.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "bad", [b"", b"text", b"SQLite format 3\x00" + bytes(2000), sqlite3.__name__.encode()]
)
def test_what_is_no_copy_is_refused_and_changes_nothing(path: Path, bad: bytes) -> None:
    before = content(path)
    with Store(path) as store, pytest.raises(InputRefusedError, match="a copy of everything"):
        store.restore(bad)
    with closing(sqlite3.connect(":memory:")) as foreign:
        foreign.execute("CREATE TABLE cases (label TEXT)")
        with Store(path) as store, pytest.raises(InputRefusedError, match="a copy of everything"):
            store.restore(foreign.serialize())
    assert content(path) == before


def test_a_damaged_save_of_a_copy_is_left_out_and_counted(path: Path, tmp_path: Path) -> None:
    with Store(path) as store:
        store._connection.execute("UPDATE revisions SET checksum = 1 WHERE revision = 2")
        copy = store.as_bytes()
    with Store(tmp_path / "new.sqlite3") as store:
        assert store.restore(copy) == Restored(added=2, same=0, apart=0, damaged=1)
        assert store.open(label="A12").entry.revision == 1


def test_bytes_that_are_no_text_spoil_one_save_only(path: Path, tmp_path: Path) -> None:
    with Store(path) as store:
        copy = store.as_bytes()
    at = copy.index(b'{"label": "B7"') + 3
    with Store(tmp_path / "new.sqlite3") as store:
        done = store.restore(copy[:at] + b"\xff" + copy[at + 1 :])
        assert done == Restored(added=1, same=0, apart=0, damaged=1)
        assert [entry.label for entry in store.entries()] == ["A12"]


def test_a_copy_mends_a_damaged_time(path: Path) -> None:
    with Store(path) as store:
        copy = store.as_bytes()
        store._connection.execute("UPDATE cases SET saved_at = 'x' WHERE label = 'B7'")
        assert store.restore(copy) == Restored(added=1, same=1, apart=0, damaged=0)
        assert store.unreadable() == 0
        assert {entry.label for entry in store.entries()} == {"A12", "B7"}


def test_both_commands(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("LEVELGAZE_STORE", str(path))
    copy = tmp_path / "copy.sqlite3"
    assert main(["backup", str(copy)]) == 0
    assert capsys.readouterr().out == "A copy of 2 cases is saved.\n"
    monkeypatch.setenv("LEVELGAZE_STORE", str(tmp_path / "new.sqlite3"))
    assert main(["restore", str(copy)]) == 0
    assert capsys.readouterr().out == "2 cases brought back.\n"
    assert main(["restore", str(tmp_path)]) == 2
    assert "a folder" in capsys.readouterr().err


def test_a_copy_of_nothing_is_refused_and_makes_no_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    nowhere = tmp_path / "none" / "cases.sqlite3"
    monkeypatch.setenv("LEVELGAZE_STORE", str(nowhere))
    assert main(["backup", str(tmp_path / "copy.sqlite3")]) == 2
    said = f"{nowhere}: no case is kept here yet, so there is nothing to copy.\n"
    assert capsys.readouterr() == ("", said)
    assert list(tmp_path.iterdir()) == []


def test_what_is_no_copy_makes_no_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("LEVELGAZE_STORE", str(tmp_path / "none" / "cases.sqlite3"))
    wrong = tmp_path / "wrong.sqlite3"
    wrong.write_bytes(b"something else")
    assert main(["restore", str(wrong)]) == 2
    assert "Allowed: a copy of everything" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [wrong]


def test_a_copy_in_no_folder_is_told_by_the_name_that_was_typed(
    path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("LEVELGAZE_STORE", str(path))
    assert main(["backup", "none/copy.sqlite3"]) == 2
    assert capsys.readouterr().err == "none/copy.sqlite3: there is no such folder\n"


def test_one_bad_row_shuts_nothing_else(path: Path) -> None:
    with Store(path) as store:
        store._connection.execute("UPDATE cases SET saved_at = 'x' WHERE label = 'B7'")
        assert [entry.label for entry in store.entries()] == ["A12"]
        assert store.unreadable() == 1
        assert store.open(label="A12").entry.revision == 2


def test_a_damaged_schema_is_a_sentence(path: Path, tmp_path: Path) -> None:
    sound = path.read_bytes()
    start, end = sound.index(b"CREATE TABLE cases"), sound.index(b"CREATE TABLE duties")
    chance, troubles = random.Random(1), 0
    for number in range(80):
        damaged = tmp_path / str(number) / "cases.sqlite3"
        damaged.parent.mkdir()
        at = chance.randrange(min(start, end) - 40, max(start, end) + 60)
        damaged.write_bytes(sound[:at] + bytes([chance.randrange(128, 256)]) + sound[at + 1 :])
        before = damaged.read_bytes()
        trouble = trouble_of(damaged)
        if trouble:
            troubles += 1
            assert "kept cases" in trouble
            assert damaged.read_bytes() == before
        shutil.rmtree(damaged.parent)
    assert troubles > 20


def trouble_of(path: Path) -> str:
    """Return what opening and listing a store says; nothing where it works."""
    try:
        with Store(path) as store:
            store.entries()
    except StoreError as error:
        return str(error)
    return ""


FULL = """
import json, os, sys
from pathlib import Path
from engine.files.store import Store
from engine.files.store_file import StoreFullError
folder = Path(sys.argv[1])
path = folder / "kept" / "cases.sqlite3"
with Store(path) as store:
    for label in ("A", "B"):
        text = json.dumps({"label": label, "mark": f"{label}-QUILL" * 4000})
        store.save(label=label, case_json=text)
with open(folder / "filler", "wb", buffering=0) as file:
    try:
        while file.write(bytes(512)):
            pass
    except OSError:
        pass
try:
    with Store(path) as store:
        store.save(label="C", case_json=json.dumps({"label": "C", "mark": "x" * 60000}))
    raise SystemExit("the disk is not full")
except StoreFullError:
    pass
with Store(path) as store:
    store.delete(label="A")
with Store(path) as store:
    print([entry.label for entry in store.entries()])
    print(len(json.loads(store.open(label="B").case_json)["mark"]))
print(sum(b"A-QUILL" in one.read_bytes() for one in path.parent.iterdir()))
"""


def test_a_case_is_deleted_on_a_full_disk(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = f'mount -t tmpfs -o size=600k tmpfs {disk} && exec {sys.executable} -c "$1" {disk}'
    done = subprocess.run(
        ["unshare", "-rm", "sh", "-c", mount, "sh", FULL],
        capture_output=True,
        encoding="utf-8",
        check=False,
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split("\n") == ["['B']", str(len("B-QUILL") * 4000), "0", ""]
