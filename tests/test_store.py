"""Keeping cases: what was saved comes back, changes are told, deleted cases leave no bytes."""

from __future__ import annotations

import json
import os
import pickle
import stat
import sys
import unicodedata
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

from engine.case.model import Name
from engine.errors import InputRefusedError, LevelgazeError
from engine.files.store import CaseMissingError, StaleError, Store
from engine.files.store_file import (
    FILE_NAME,
    StoreDamagedError,
    StoreTracesError,
    check_label,
    default_path,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kept" / "cases.sqlite3"


def case_text(label: str, **more: object) -> str:
    return json.dumps({"label": label, **more}, indent=1)


def test_what_was_saved_comes_back_byte_for_byte(path: Path) -> None:
    text, answer = case_text("A12", note="é \u2212 1/3"), '{\n "a": 0.1\n}'
    with Store(path) as store:
        saved = store.save(label="A12", case_json=text, result_json=answer)
    with Store(path) as store:
        kept = store.open(label="A12")
    assert (kept.case_json, kept.result_json) == (text, answer)
    assert kept.entry == saved
    assert saved.revision == 1
    assert saved.saved_at.utcoffset() is not None


def test_a_case_may_be_kept_before_it_has_an_answer(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12"))
        assert store.open(label="A12").result_json is None


def test_every_save_is_a_revision_that_can_be_opened(path: Path) -> None:
    with Store(path) as store:
        for number in range(4):
            expected = number or None
            text = case_text("A12", number=number)
            store.save(label="A12", case_json=text, expected_revision=expected)
        assert [entry.revision for entry in store.revisions(label="A12")] == [1, 2, 3, 4]
        for revision in range(1, 5):
            kept = store.open(label="A12", revision=revision)
            assert json.loads(kept.case_json)["number"] == revision - 1
        assert store.open(label="A12").entry.revision == 4
        assert store.count() == 1


def test_the_later_of_two_sessions_is_told_and_loses_nothing(path: Path) -> None:
    with Store(path) as first, Store(path) as second:
        first.save(label="A12", case_json=case_text("A12", by="start"))
        one = first.open(label="A12").entry.revision
        two = second.open(label="A12").entry.revision
        first.save(label="A12", case_json=case_text("A12", by="first"), expected_revision=one)
        mine = case_text("A12", by="second")
        with pytest.raises(StaleError) as told:
            second.save(label="A12", case_json=mine, expected_revision=two)
        assert (told.value.expected, told.value.found) == (1, 2)
        assert "save 1" in str(told.value)
        assert "save 2" in str(told.value)
        assert json.loads(second.open(label="A12").case_json)["by"] == "first"

        second.save(label="A12", case_json=mine, expected_revision=told.value.found)
        other = second.free_label(label="A12")
        second.save(label=other, case_json=case_text(other, by="second"))
        kept = [
            json.loads(first.open(label="A12", revision=entry.revision).case_json)["by"]
            for entry in first.revisions(label="A12")
        ]
    assert kept == ["start", "first", "second"]
    assert other == "A12 2"


def test_a_new_case_never_replaces_one_with_its_label(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12", by="first"))
        with pytest.raises(StaleError, match="kept already"):
            store.save(label="A12", case_json=case_text("A12", by="second"))
        assert json.loads(store.open(label="A12").case_json)["by"] == "first"


@pytest.mark.parametrize(
    "error",
    [
        StaleError(expected=2, found=3),
        StoreDamagedError(Path("cases.sqlite3"), "it is empty"),
        CaseMissingError("A12"),
    ],
    ids=lambda error: type(error).__name__,
)
def test_an_error_of_the_store_leaves_a_process_as_it_was(error: LevelgazeError) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert (str(again), vars(again), again.args) == (str(error), vars(error), error.args)


def test_a_case_deleted_meanwhile_is_told(path: Path) -> None:
    with Store(path) as first, Store(path) as second:
        first.save(label="A12", case_json=case_text("A12"))
        second.delete(label="A12")
        with pytest.raises(StaleError, match="deleted") as told:
            first.save(label="A12", case_json=case_text("A12"), expected_revision=1)
        assert told.value.found is None
        first.save(label="A12", case_json=case_text("A12"), expected_revision=told.value.found)


def test_the_list_is_newest_first_paged_and_searched(path: Path) -> None:
    with Store(path) as store:
        for label in ("Desk A", "desk b", "Café 7", "Zürich"):
            store.save(label=label, case_json=case_text(label))
        store.save(label="Desk A", case_json=case_text("Desk A"), expected_revision=1)
        assert store.entries()[0].label == "Desk A"
        assert [entry.label for entry in store.entries(search="DESK")] == ["Desk A", "desk b"]
        assert [entry.label for entry in store.entries(search="cafe\u0301")] == ["Café 7"]
        assert store.count(search="desk") == 2
        assert [e.label for e in store.entries(offset=1, limit=2)] == ["Zürich", "Café 7"]
        assert store.entries(search="% or 1=1") == ()
        assert store.entries(search="_") == ()


def test_a_copy_is_a_case_of_its_own(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12", x=1.1), result_json='{"r": 1}')
        copied = store.copy(label="A12", new_label="B7")
        kept = store.open(label="B7")
        assert (copied.label, copied.revision) == ("B7", 1)
        assert json.loads(kept.case_json) == {"label": "B7", "x": 1.1}
        assert kept.result_json == '{"r": 1}'
        with pytest.raises(StaleError):
            store.copy(label="A12", new_label="B7")
        with pytest.raises(InputRefusedError):
            store.copy(label="A12", new_label="../B7")


def test_an_export_holds_every_revision(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12", x=1.1))
        text = case_text("A12", x=1.2)
        store.save(label="A12", case_json=text, result_json='{"r": 1}', expected_revision=1)
        record = json.loads(store.export(label="A12"))
    assert record["levelgaze_record"] == 1
    assert [one["case"]["x"] for one in record["revisions"]] == [1.1, 1.2]
    assert [one["result"] for one in record["revisions"]] == [None, {"r": 1}]


@pytest.mark.parametrize("missing", ["open", "revisions", "copy", "export", "delete"])
def test_a_missing_case_has_a_sentence(path: Path, missing: str) -> None:
    more = {"new_label": "B7"} if missing == "copy" else {}
    with Store(path) as store, pytest.raises(CaseMissingError, match="no such case"):
        getattr(store, missing)(label="A12", **more)
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12"))
        with pytest.raises(CaseMissingError):
            store.open(label="A12", revision=2)


@pytest.mark.parametrize(
    ("label", "case_json", "result_json"),
    [
        ("", case_text(""), None),
        ("x" * 41, case_text("x" * 41), None),
        ("<b>", case_text("<b>"), None),
        (" A", case_text(" A"), None),
        ("A\n", case_text("A\n"), None),
        ("A", case_text("B"), None),
        ("A", "", None),
        ("A", '{"label": "A"', None),
        ("A", "[]", None),
        ("A", "[" * 100_000, None),
        ("A", '{"label": "A", "x": "\ud800"}', None),
        ("A", case_text("A"), ""),
        ("A", case_text("A"), '{"r": 1'),
        ("A", case_text("A"), "\ud800"),
    ],
)
def test_what_is_not_a_case_is_refused(
    path: Path, label: str, case_json: str, result_json: str | None
) -> None:
    with Store(path) as store:
        with pytest.raises(InputRefusedError):
            store.save(label=label, case_json=case_json, result_json=result_json)
        assert store.count() == 0


def test_the_label_rule_is_the_one_of_the_case() -> None:
    rule = TypeAdapter(Name)

    def of_the_case(label: str) -> bool:
        try:
            return rule.validate_python(label) == label.strip()
        except ValidationError:
            return False

    def of_the_store(label: str) -> bool:
        try:
            check_label(label)
        except InputRefusedError:
            return False
        return True

    # For private use Unicode has two planes of one kind, of which every 251st is enough.
    private = [*range(0xF0000, sys.maxunicode + 1, 251), sys.maxunicode]
    differing = []
    for code in [*range(0xD800), *range(0xE000, 0xF0000), *private]:
        # Code points that this Python's character tables do not know yet cannot be compared.
        if unicodedata.category(chr(code)) == "Cn":
            continue
        for label in (chr(code), "a" + chr(code) + "a"):
            if of_the_case(label) != of_the_store(label):
                differing.append(label)
    assert differing == []


LABEL = "Quillfeather 7"
CONTENT = "vermilion-tapestry"


def traces(folder: Path) -> list[str]:
    """Files of the folder whose bytes hold the label or the content, in any usual encoding."""
    texts = (LABEL, LABEL.casefold(), CONTENT, "quillfeather", "tapestry")
    needles = [text.encode(code) for text in texts for code in ("utf-8", "utf-16-le", "utf-16-be")]
    return [
        file.name
        for file in folder.iterdir()
        if any(needle in file.read_bytes() for needle in needles)
    ]


def fill(store: Store, *, revisions: int = 5) -> None:
    for number in range(30):
        store.save(label=f"Other {number}", case_json=case_text(f"Other {number}", x="o" * 900))
    for number in range(revisions):
        text = case_text(LABEL, words=[CONTENT] * (400 * number + 1))
        expected = number or None
        answer = json.dumps({"r": CONTENT * 2000})
        store.save(label=LABEL, case_json=text, result_json=answer, expected_revision=expected)
    for number in range(30, 60):
        store.save(label=f"Other {number}", case_json=case_text(f"Other {number}", x="o" * 900))


@pytest.mark.parametrize("rewritten", [True, False])
def test_a_deleted_case_leaves_no_bytes_behind(
    path: Path, monkeypatch: pytest.MonkeyPatch, rewritten: bool
) -> None:
    if not rewritten:
        monkeypatch.setattr("engine.files.store.LARGEST_REWRITTEN_BYTES", 0)
    with Store(path) as other, Store(path) as store:
        fill(store)
        other.open(label=LABEL)
        assert traces(path.parent), "the search must be able to find what is there"
        store.delete(label=LABEL)
        names = {file.name for file in path.parent.iterdir()}
        assert names == {path.name, path.name + "-wal", path.name + "-shm"}
        assert traces(path.parent) == []
        assert store.count() == 60
    assert traces(path.parent) == []


def test_a_deletion_another_session_holds_up_is_told_and_finished_later(path: Path) -> None:
    with Store(path) as store:
        fill(store, revisions=2)
        reader = Store(path)
        reader._connection.execute("BEGIN")
        reader._connection.execute("SELECT count(*) FROM cases").fetchone()
        store._connection.execute("PRAGMA busy_timeout=50")
        with pytest.raises(StoreTracesError, match="deleted"):
            store.delete(label=LABEL)
        assert [entry.label for entry in store.entries(search="quill")] == []
        assert traces(path.parent)
        reader._connection.execute("ROLLBACK")
        reader.close()
        with Store(path):
            assert traces(path.parent) == []


def test_a_changed_byte_is_noticed_and_named(path: Path) -> None:
    with Store(path) as store:
        store.save(label="A12", case_json=case_text("A12", x="sound" * 20))
        store.save(label="A12", case_json=case_text("A12"), expected_revision=1)
    damaged = path.read_bytes()
    assert damaged.count(b"soundsound") == 10
    for spoilt in (b"soundsounD", b"sound\xffound"):
        path.write_bytes(damaged.replace(b"soundsound", spoilt, 1))
        with Store(path) as store:
            assert store.open(label="A12").entry.revision == 2
            with pytest.raises(StoreDamagedError, match="save 1"):
                store.open(label="A12", revision=1)


def test_the_file_lies_where_the_variable_or_the_system_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LEVELGAZE_STORE", str(tmp_path / "mine.db"))
    assert default_path() == tmp_path / "mine.db"
    monkeypatch.setenv("LEVELGAZE_STORE", "")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_DATA_HOME", "relative/is/ignored")
    monkeypatch.setattr(sys, "platform", "linux")
    assert default_path() == tmp_path / ".local" / "share" / "levelgaze" / FILE_NAME
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert default_path() == tmp_path / "data" / "levelgaze" / FILE_NAME
    monkeypatch.setattr(sys, "platform", "darwin")
    expected = tmp_path / "Library" / "Application Support" / "Levelgaze" / FILE_NAME
    assert default_path() == expected
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert default_path() == tmp_path / "local" / "Levelgaze" / FILE_NAME


def test_only_the_user_may_read_the_file(path: Path) -> None:
    before = os.umask(0)
    try:
        with Store(path) as store:
            store.save(label="A12", case_json=case_text("A12"))
            modes = {file.name: stat.S_IMODE(file.stat().st_mode) for file in path.parent.iterdir()}
            folder = stat.S_IMODE(path.parent.stat().st_mode)
    finally:
        os.umask(before)
    assert set(modes.values()) == {0o600}
    assert len(modes) == 3
    assert folder == 0o700


def test_no_sentence_holds_a_label_or_a_value(path: Path) -> None:
    with Store(path) as store:
        store.save(label=LABEL, case_json=case_text(LABEL))
        sentences = []
        for work in (
            lambda: store.save(label=LABEL, case_json=case_text(LABEL, x=CONTENT)),
            lambda: store.open(label=LABEL, revision=9),
            lambda: store.delete(label=LABEL + "x"),
        ):
            with pytest.raises(LevelgazeError) as told:
                work()
            sentences.append(str(told.value))
    assert not [text for text in sentences if LABEL in text or CONTENT in text]
