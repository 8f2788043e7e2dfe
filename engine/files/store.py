"""Cases kept on this computer: save, list, search, open, copy, export, delete.

Case and result are JSON texts here; engine.files.exchange makes and reads them. Every save is
kept as a revision. Nothing of a case goes into an error's sentence. A Store belongs to the thread
that opened it; open one for each piece of work:

>>> import json, tempfile
>>> folder = tempfile.TemporaryDirectory()
>>> with Store(Path(folder.name) / "cases.sqlite3") as store:
...     first = store.save(label="A12", case_json=json.dumps({"label": "A12"}))
...     second = store.save(label="A12", case_json=json.dumps({"label": "A12", "schema": 1}),
...                         expected_revision=first.revision)
...     store.open(label="A12").entry.revision
2
>>> folder.cleanup()
"""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from engine import stops
from engine.errors import InputRefusedError, LevelgazeError
from engine.files.output import write_new
from engine.files.store_file import (
    LONGEST_LABEL,
    WAIT_S,
    StoreDamagedError,
    StoreTracesError,
    check_label,
    check_texts,
    checksum,
    connect,
    default_path,
    is_ours,
    search_key,
    told,
    transaction,
)
from engine.wording import counted, say

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

RECORD_KEY, RECORD_VERSION = "levelgaze_record", 1
"""How an exported record begins, which `engine.files.exchange` reads."""
LARGEST_REWRITTEN_BYTES = 256 * 2**20
"""Up to this size a deletion also rewrites the whole file, in memory; beyond it the deleted parts
are overwritten with zeros and reused."""
_SCRUB = "scrub"
_JOURNAL_AT, _NO_LOG = 18, b"\x01\x01"
"""Write and read version in the head of an SQLite file: 1 without a write-ahead log."""


class StaleError(LevelgazeError):
    """Someone saved this case after it was opened here; nothing was saved, nothing is lost.

    Attributes:
        expected: the revision that was opened; None for a case thought to be new.
        found: the revision kept now; None where the case was deleted meanwhile.
    """

    def __init__(self, *, expected: int | None, found: int | None) -> None:
        self.expected, self.found = expected, found
        if expected is None:
            sentence = say("stale_taken", found=found)
        elif found is None:
            sentence = say("stale_deleted", expected=expected)
        else:
            sentence = say("stale_changed", expected=expected, found=found)
        super().__init__(f"{sentence} {say('stale_what_to_do')}")


class CaseMissingError(LevelgazeError, KeyError):
    """No case, or no revision of it, is kept under this label."""

    def __str__(self) -> str:
        return "no such case is kept; it may have been deleted or given another label"


@dataclass(frozen=True)
class Entry:
    """What a list shows of a case: its label and its newest save (UTC)."""

    label: str
    revision: int
    saved_at: datetime


@dataclass(frozen=True)
class Record:
    """One kept revision of a case."""

    entry: Entry
    case_json: str
    result_json: str | None


@dataclass(frozen=True)
class Restored:
    """What became of a copy.

    Attributes:
        added: cases brought back. same: cases that were kept just so. apart: of those added, how
            many under another label. damaged: saves that were left out.
    """

    added: int
    same: int
    apart: int
    damaged: int

    def words(self) -> str:
        """Return it in sentences."""
        parts = [f"{counted(self.added, 'case')} brought back"]
        if self.apart:
            parts.append(f"{self.apart} of them under another label, since theirs is taken")
        if self.same:
            parts.append(f"{counted(self.same, 'case')} kept already")
        if self.damaged:
            parts.append(f"{counted(self.damaged, 'damaged save')} left out")
        return "; ".join(parts) + "."


@dataclass(frozen=True)
class _Save:
    """One revision as it is written, or stands in a copy."""

    revision: int
    saved_at: str
    case_json: str
    result_json: str | None


def _under(label: str, case_json: str) -> str:
    """Return a case under a label: its text as it is where it has that label already."""
    content = json.loads(case_json)
    if content["label"] == label:
        return case_json
    return json.dumps(content | {"label": label}, indent=1, ensure_ascii=False)


def _saves_of(content: bytes) -> tuple[dict[str, list[_Save]], int]:
    """Read every sound save of a copy, by label, and count the damaged ones.

    Raises
        InputRefusedError: not a copy of kept cases, or one that does not hold together.
    """
    allowed = "a copy of everything, as Kept cases or `backup` makes it"
    found: dict[str, list[_Save]] = {}
    damaged = 0
    try:
        with closing(sqlite3.connect(":memory:")) as copy:
            copy.text_factory = lambda raw: raw.decode(errors="replace")
            copy.deserialize(content)
            if not is_ours(copy):
                raise InputRefusedError(field="copy", value="another file", allowed=allowed)
            rows = copy.execute(
                "SELECT c.label, r.revision, r.saved_at, r.case_json, r.result_json, r.checksum"
                " FROM cases c JOIN revisions r ON r.case_id = c.id ORDER BY c.id, r.revision"
            ).fetchall()
    except (sqlite3.Error, UnicodeDecodeError, OverflowError, MemoryError):
        raise InputRefusedError(field="copy", value="a damaged file", allowed=allowed) from None
    for label, revision, saved_at, case_json, result_json, sum_ in rows:
        try:
            datetime.fromisoformat(saved_at)
            check_label(label)
            check_texts(label, case_json, result_json)
            sound = checksum(case_json, result_json) == sum_
        except (TypeError, ValueError, AttributeError, LevelgazeError):
            sound = False
        if sound:
            found.setdefault(label, []).append(_Save(revision, saved_at, case_json, result_json))
        else:
            damaged += 1
    return found, damaged


class Store:
    """The kept cases; use it in a `with` block.

    Parameters
        path: the file; default_path() where left out.
        wait_s: how long to wait for another session that is writing.
        most_pages: the file may not grow beyond so many pages of 4096 bytes; no limit where None.
        clock: what time it is. Revisions go by their number: a clock that jumps loses nothing.

    Raises
        StoreError: on opening and in every method, one of its kinds.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        wait_s: float = WAIT_S,
        most_pages: int | None = None,
        clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._clock, self._wait_s = clock, wait_s
        self.path = path if path is not None else default_path()
        self._connection = connect(self.path, wait_s=wait_s)
        try:
            self._limit(most_pages)
            self._finish_deletion()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def save(
        self,
        *,
        label: str,
        case_json: str,
        result_json: str | None = None,
        expected_revision: int | None = None,
    ) -> Entry:
        """Keep a case as its next revision; it is on the disk when this returns.

        Parameters
            expected_revision: the revision this one grew from; None for a new case.

        Raises
            StaleError: another revision is kept by now. To keep both, save again with
                expected_revision=error.found, or under free_label().
            InputRefusedError: the label breaks its rule, or a text is not what it should be.
        """
        check_label(label)
        check_texts(label, case_json, result_json)
        at = self._clock().astimezone(UTC).isoformat(timespec="microseconds")
        with told(self.path), transaction(self._connection):
            case_id, found = self._find(label)
            if found != expected_revision:
                raise StaleError(expected=expected_revision, found=found)
            revision = (found or 0) + 1
            if case_id is None:
                case_id = self._begin(label, revision, at)
            else:
                self._connection.execute(
                    "UPDATE cases SET revision = ?, saved_at = ? WHERE id = ?",
                    (revision, at, case_id),
                )
            self._add(case_id, _Save(revision, at, case_json, result_json))
        return Entry(label, revision, datetime.fromisoformat(at))

    def open(self, *, label: str, revision: int | None = None) -> Record:
        """Return a kept case: its newest revision, or the one that is named.

        Raises
            CaseMissingError: there is none.
            StoreDamagedError: its bytes are not those that were saved.
        """
        found = self._rows(
            "SELECT r.revision, r.saved_at, r.case_json, r.result_json, r.checksum FROM cases c"
            " JOIN revisions r ON r.case_id = c.id AND r.revision = coalesce(?, c.revision)"
            " WHERE c.label = ?",
            (revision, label),
        )
        if not found:
            raise CaseMissingError(label)
        return self._record(label, *found[0])

    def revisions(self, *, label: str) -> tuple[Entry, ...]:
        """Return every revision kept of a case, the oldest first."""
        found = self._rows(
            "SELECT c.label, r.revision, r.saved_at FROM cases c JOIN revisions r"
            " ON r.case_id = c.id WHERE c.label = ? ORDER BY r.revision",
            (label,),
        )
        if not found:
            raise CaseMissingError(label)
        return self._entries(found)

    def entries(
        self, *, search: str = "", offset: int = 0, limit: int | None = None
    ) -> tuple[Entry, ...]:
        """Return the kept cases whose label holds the text, the latest time of saving first."""
        found = self._rows(
            "SELECT label, revision, saved_at FROM cases WHERE instr(search_key, ?)"
            " ORDER BY saved_at DESC, id DESC LIMIT ? OFFSET ?",
            (search_key(search), -1 if limit is None else limit, offset),
        )
        return self._entries(found)

    def newest_with(self, *, word: str) -> tuple[str, ...]:
        """Return the newest save, as JSON text, of every case in which a word is; damaged ones not.

        The word is as it stands in the file, and decides alone what is read from the disk.
        """
        found = self._rows(
            "SELECT r.case_json, r.result_json, r.checksum FROM cases c JOIN revisions r"
            " ON r.case_id = c.id AND r.revision = c.revision WHERE instr(r.case_json, ?)"
            " ORDER BY c.id",
            (word,),
        )
        return tuple(
            case
            for case, result, sum_ in found
            if isinstance(case, str) and checksum(case, result) == sum_
        )

    def unreadable(self) -> int:
        """Return how many cases have a row whose time is damaged: `entries` omits them."""
        return sum(self._when(at) is None for (at,) in self._rows("SELECT saved_at FROM cases", ()))

    def count(self, *, search: str = "") -> int:
        """Return how many cases there are whose label holds the text."""
        sql = "SELECT count(*) FROM cases WHERE instr(search_key, ?)"
        return int(self._rows(sql, (search_key(search),))[0][0])

    def free_label(self, *, label: str) -> str:
        """Return a label near this one that no case has yet: "A12 2"."""
        with told(self.path):
            number, candidate = 1, label
            while self._find(candidate)[0] is not None:
                number += 1
                ending = f" {number}"
                candidate = label[: LONGEST_LABEL - len(ending)].rstrip() + ending
        return candidate

    def copy(self, *, label: str, new_label: str) -> Entry:
        """Keep the newest revision of a case again, as a new case.

        Raises
            StaleError: a case with the new label is kept already.
        """
        kept = self.open(label=label)
        text = _under(new_label, kept.case_json)
        return self.save(label=new_label, case_json=text, result_json=kept.result_json)

    def export(self, *, label: str) -> str:
        """Return the whole record of a case as one JSON text: every revision, case and answer."""
        revisions = []
        for entry in self.revisions(label=label):
            kept = self.open(label=label, revision=entry.revision)
            answer = None if kept.result_json is None else json.loads(kept.result_json)
            revisions.append(
                {
                    "revision": entry.revision,
                    "saved_at": entry.saved_at.isoformat(timespec="microseconds"),
                    "case": json.loads(kept.case_json),
                    "result": answer,
                }
            )
        record = {RECORD_KEY: RECORD_VERSION, "label": label, "revisions": revisions}
        return json.dumps(record, indent=1, ensure_ascii=False)

    def delete(self, *, label: str) -> None:
        """Delete a case with all its revisions, and overwrite what the files held of it.

        The bytes of the file and of its log no longer hold it. What a disk or a backup keeps of
        files as they were is out of reach.

        Raises
            CaseMissingError: there is none.
            StoreTracesError: it is deleted, but another session still reads the log; the rest is
                done when the store is next opened.
        """
        with told(self.path):
            case_id, _ = self._find(label)
            if case_id is None:
                raise CaseMissingError(label)
        self._delete("DELETE FROM cases WHERE id = ?", (case_id,))

    def delete_all(self) -> int:
        """Delete every case as `delete` does one; return how many there were.

        Raises
            StoreTracesError: as in `delete`.
        """
        return self._delete("DELETE FROM cases", ())

    def _delete(self, sql: str, values: tuple[Any, ...]) -> int:
        """Delete rows and what the files held of them, on a full disk too; return how many.

        Freed pages are overwritten in place (secure_delete), so a deletion itself needs no room.
        """
        with told(self.path):
            try:
                with transaction(self._connection):
                    count = self._connection.execute(sql, values).rowcount
                    self._connection.execute("INSERT OR IGNORE INTO duties VALUES (?)", (_SCRUB,))
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_FULL:
                    raise
                self._connection.close()
                self._connection = connect(self.path, wait_s=self._wait_s, alone=True)
                with transaction(self._connection):
                    return self._connection.execute(sql, values).rowcount  # zeroed in place
        self._scrub()
        return count

    def backup(self, target: Path) -> int:
        """Save a copy of everything as a file of its own; return how many cases it holds.

        Raises
            InputRefusedError: there is a file of that name.
            StoreError: the store cannot be used.
            OSError: the copy cannot be written; nothing is left of it.
        """
        content, count = self.as_bytes(), self.count()
        try:
            write_new(target, content)
        except FileExistsError:
            allowed = "a name that no file has yet"
            raise InputRefusedError(field="FILE", value=str(target), allowed=allowed) from None
        return count

    def as_bytes(self) -> bytes:
        """Return everything kept, as the bytes of a store."""
        with told(self.path), closing(sqlite3.connect(":memory:")) as copy:
            self._connection.backup(copy)
            content = copy.serialize()
        # The copy has no log beside it: SQLite reads it from memory only where it says so.
        return content[:_JOURNAL_AT] + _NO_LOG + content[_JOURNAL_AT + len(_NO_LOG) :]

    def restore(self, content: bytes) -> Restored:
        """Bring the cases of a copy back beside those that are kept; none is overwritten.

        A case that is kept just so already is passed over. One that differs is kept under a label
        of its own ("A12 2"). A save whose bytes are damaged is left out and counted.

        Raises
            InputRefusedError: this is no copy of kept cases.
            StoreError: the store cannot be written.
        """
        return self._bring_back(*_saves_of(content))

    def _bring_back(self, saves: Mapping[str, Sequence[_Save]], damaged: int) -> Restored:
        added = same = apart = 0
        with told(self.path), transaction(self._connection):
            for label, found in saves.items():
                if self._mended(label, found):
                    added += 1
                elif any(self._holds(one, found) for one in self._names_of(label)):
                    same += 1
                else:
                    free = self.free_label(label=label)
                    added, apart = added + 1, apart + (free != label)
                    self._keep_all(free, found)
            stops.too_late()
        return Restored(added, same, apart, damaged)

    def _names_of(self, label: str) -> list[str]:
        """Return a label and those that `free_label` makes of it."""
        found = self._connection.execute("SELECT label FROM cases").fetchall()
        ends = re.compile(rf"{re.escape(label)}( \d+)?")
        return [one for (one,) in found if ends.fullmatch(one)]

    def _holds(self, label: str, saves: Sequence[_Save]) -> bool:
        kept = self._connection.execute(
            "SELECT r.case_json, r.result_json FROM cases c JOIN revisions r ON r.case_id = c.id"
            " WHERE c.label = ? ORDER BY r.revision",
            (label,),
        ).fetchall()
        return kept == [(_under(label, one.case_json), one.result_json) for one in saves]

    def _mended(self, label: str, saves: Sequence[_Save]) -> bool:
        """Give a case whose rows are damaged in their times alone its times back."""
        case_id, _ = self._find(label)
        if case_id is None or not self._holds(label, saves):
            return False
        times = self._connection.execute(
            "SELECT saved_at FROM cases WHERE id = ? UNION ALL"
            " SELECT saved_at FROM revisions WHERE case_id = ?",
            (case_id, case_id),
        ).fetchall()
        if all(self._when(at) is not None for (at,) in times):
            return False
        newest = saves[-1].saved_at
        self._connection.execute("UPDATE cases SET saved_at = ? WHERE id = ?", (newest, case_id))
        self._connection.executemany(
            "UPDATE revisions SET saved_at = ? WHERE case_id = ? AND revision = ?",
            [(one.saved_at, case_id, one.revision) for one in saves],
        )
        return True

    def _keep_all(self, label: str, saves: Sequence[_Save]) -> None:
        case_id = self._begin(label, saves[-1].revision, saves[-1].saved_at)
        for one in saves:
            self._add(case_id, replace(one, case_json=_under(label, one.case_json)))

    def _begin(self, label: str, revision: int, at: str) -> int | None:
        """Add a case and return its number; its revisions are added one by one."""
        return self._connection.execute(
            "INSERT INTO cases (label, search_key, revision, saved_at) VALUES (?, ?, ?, ?)",
            (label, search_key(label), revision, at),
        ).lastrowid

    def _add(self, case_id: int | None, save: _Save) -> None:
        sum_ = checksum(save.case_json, save.result_json)
        self._connection.execute(
            "INSERT INTO revisions VALUES (?, ?, ?, ?, ?, ?)",
            (case_id, save.revision, save.saved_at, save.case_json, save.result_json, sum_),
        )

    def _scrub(self) -> None:
        if not self._scrubbed():
            raise StoreTracesError(self.path, say("store_traces"))

    def _scrubbed(self) -> bool:
        """Rewrite the file, empty its log; False where something is in the way."""
        try:
            if self.path.stat().st_size <= LARGEST_REWRITTEN_BYTES:
                with suppress(sqlite3.OperationalError):  # what is deleted is zeroed in any case
                    self._connection.execute("VACUUM")
            if self._log_emptied():
                self._connection.execute("DELETE FROM duties WHERE name = ?", (_SCRUB,))
                self._log_emptied()
                return True
        except (sqlite3.OperationalError, OSError):
            return False
        return False

    def _log_emptied(self) -> bool:
        busy = self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        return not busy

    def _finish_deletion(self) -> None:
        """End a deletion that was cut short, if nothing is in the way."""
        if self._rows("SELECT 1 FROM duties WHERE name = ?", (_SCRUB,)):
            self._scrubbed()

    def _limit(self, most_pages: int | None) -> None:
        if most_pages is not None:
            self._rows(f"PRAGMA max_page_count={int(most_pages)}", ())

    def _find(self, label: str) -> tuple[int | None, int | None]:
        row = self._connection.execute(
            "SELECT id, revision FROM cases WHERE label = ?", (label,)
        ).fetchone()
        return row or (None, None)

    def _rows(self, sql: str, values: tuple[Any, ...]) -> list[Any]:
        with told(self.path):
            return self._connection.execute(sql, values).fetchall()

    def _record(
        self,
        label: str,
        revision: int,
        at: str,
        case_json: str,
        result_json: str | None,
        sum_: int,
    ) -> Record:
        if checksum(case_json, result_json) != sum_:
            raise StoreDamagedError(self.path, say("store_revision_damaged", revision=revision))
        when = self._when(at)
        if when is None:
            raise StoreDamagedError(self.path, say("store_time_damaged", revision=revision))
        return Record(Entry(label, revision, when), case_json, result_json)

    def _entries(self, rows: list[tuple[str, int, str]]) -> tuple[Entry, ...]:
        found = ((label, revision, self._when(at)) for label, revision, at in rows)
        return tuple(Entry(label, revision, at) for label, revision, at in found if at is not None)

    @staticmethod
    def _when(at: str) -> datetime | None:
        """Return when it was saved; None where the row is damaged."""
        try:
            return datetime.fromisoformat(at)
        except (TypeError, ValueError):
            return None


def restored(content: bytes) -> Restored:
    """Bring a copy back as `Store.restore` does; where there is no store, a copy makes one.

    Raises
        InputRefusedError: this is no copy of kept cases; nothing is made.
        StoreError: the store cannot be written.
    """
    saves, damaged = _saves_of(content)
    with Store() as store:
        return store._bring_back(saves, damaged)
