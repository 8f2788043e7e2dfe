"""Open the file the cases are kept in: where it lies, who may read it, what can go wrong.

One SQLite file. It is opened only when its head says that this program wrote it and that this
version can read it; any other file is refused and left as it is. Each thing that can go wrong with
it has an error of its own, whose sentence never holds a label or a value of a case. Light on
purpose: a writer that only saves loads neither models nor numbers.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import sqlite3
import sys
import tempfile
import time
import unicodedata
import zlib
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from engine import wording
from engine.errors import InputRefusedError, LevelgazeError

if TYPE_CHECKING:
    from collections.abc import Iterator

LABEL_RULE = "1 to 40 letters, digits, spaces or - . , ' + & / _, starting with a letter or digit"
LONGEST_LABEL = 40
_JOINERS = "\u200c\u200d"
_CIRCLED_LETTERS = (
    ("\u24b6", "\u24e9"),
    ("\U0001f130", "\U0001f149"),
    ("\U0001f150", "\U0001f169"),
    ("\U0001f170", "\U0001f189"),
)
_WHOLE = "one whole JSON object"


def search_key(label: str) -> str:
    """Return what a label is searched by: without case, width or the way an accent is written.

    >>> search_key("  Desk A ") == search_key("desk a")
    True
    """
    return unicodedata.normalize("NFKC", label).casefold().strip()


def checksum(case_json: str, result_json: str | None) -> int:
    """Return a CRC-32 over both texts, kept beside them so that damaged bytes are noticed.

    >>> checksum("{}", None) == checksum("{}", "")
    False
    """
    found = zlib.crc32(case_json.encode(), 0 if result_json is None else 1)
    return found if result_json is None else zlib.crc32(result_json.encode(), found)


def check_label(label: str) -> None:
    """Refuse a label that engine.case.model would refuse too (a test compares the two rules).

    Raises
        InputRefusedError: with the rule.
    """
    inside = all(_is_word(character) or character in " -.,'+&/" for character in label[1:])
    first = _is_word(label[:1]) and label[:1] != "_"
    if not (first and inside and len(label) <= LONGEST_LABEL and label == label.strip()):
        raise InputRefusedError(field="label", value=label, allowed=LABEL_RULE)


def _is_word(character: str) -> bool:
    """Tell what a Unicode regular expression takes for a part of a word."""
    if not character:
        return False
    kind = unicodedata.category(character)
    circled = any(first <= character <= last for first, last in _CIRCLED_LETTERS)
    return kind[0] in "LM" or kind in ("Nd", "Nl", "Pc") or character in _JOINERS or circled


def check_texts(label: str, case_json: str, result_json: str | None) -> None:
    """Refuse a text that is not whole JSON, or a case under another label than its own.

    Raises
        InputRefusedError: with what is allowed.
    """
    content = _read(case_json)
    if not isinstance(content, dict):
        raise InputRefusedError(field="case", value=case_json[:40], allowed=_WHOLE)
    if content.get("label") != label:
        raise InputRefusedError(field="label", value=label, allowed="the label of the case itself")
    if result_json is not None and not _looks_whole(result_json):
        raise InputRefusedError(field="result", value=result_json[:40], allowed=_WHOLE)


def _looks_whole(text: str) -> bool:
    """Check the two ends of a result, no more: this program wrote it, and it is large."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return text[:1] == "{" and text.rstrip()[-1:] == "}"


def _read(text: str) -> Any:
    try:
        text.encode()
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


PATH_VARIABLE = "LEVELGAZE_STORE"
"""Environment variable with the path of the file; without it the user's data folder is used."""
FILE_NAME = "cases.sqlite3"
APPLICATION_ID = 0x4C76677A
"""Written into the head of the file, so that no other program's database is taken for a store."""
STORE_VERSION = 2
"""The only format there is. Format 1 was never released; a file of it is refused."""
WAIT_S = 5.0
"""How long to wait for another session that is writing."""
ROOM_FOR_LOG_BYTES = 2**17
"""A log and its index want some 70 kB: with less room on the disk they may not open."""
_HEAD_BYTES = 100
_MAGIC = b"SQLite format 3\x00"

_TABLES = (
    "CREATE TABLE cases (id INTEGER PRIMARY KEY AUTOINCREMENT, label TEXT NOT NULL UNIQUE,"
    " search_key TEXT NOT NULL, revision INTEGER NOT NULL, saved_at TEXT NOT NULL)",
    "CREATE INDEX cases_saved_at ON cases (saved_at)",
    "CREATE TABLE revisions (case_id INTEGER NOT NULL REFERENCES cases (id) ON DELETE CASCADE,"
    " revision INTEGER NOT NULL, saved_at TEXT NOT NULL, case_json TEXT NOT NULL,"
    " result_json TEXT, checksum INTEGER NOT NULL, PRIMARY KEY (case_id, revision))",
    "CREATE TABLE duties (name TEXT PRIMARY KEY)",
)


class StoreError(LevelgazeError):
    """The kept cases cannot be read or written.

    Attributes:
        path: the file.
    """

    def __init__(self, path: Path, sentence: str) -> None:
        self.path = path
        super().__init__(f"{path}: {sentence}")


class StoreLockedError(StoreError):
    """Another session is writing."""


class StoreTracesError(StoreLockedError):
    """What was deleted is gone from the list, but its last traces are still in the file."""


class StoreReadOnlyError(StoreError):
    """The file or its folder may only be read."""


class StoreFullError(StoreError):
    """No room is left."""


class StoreDamagedError(StoreError):
    """The file does not hold together."""


class StoreForeignError(StoreError):
    """The file is not one this program wrote."""


class StoreNewerError(StoreError):
    """A newer version of this program wrote the file."""


class StoreOlderError(StoreError):
    """A format that was never released."""


class StoreUnreachableError(StoreError):
    """The file cannot be opened or made."""


class StoreMissingError(StoreError):
    """No case was ever kept here."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, wording.say("store_missing"))


_NOT_SAVED = "store_not_saved"
_TOLD: dict[int, tuple[type[StoreError], tuple[str, ...]]] = {
    sqlite3.SQLITE_BUSY: (StoreLockedError, ("store_locked", _NOT_SAVED, "store_try_again")),
    sqlite3.SQLITE_READONLY: (StoreReadOnlyError, ("store_read_only", _NOT_SAVED)),
    sqlite3.SQLITE_FULL: (StoreFullError, ("store_full", _NOT_SAVED, "store_free_space")),
    sqlite3.SQLITE_CORRUPT: (StoreDamagedError, ("store_damaged",)),
    sqlite3.SQLITE_NOTADB: (StoreForeignError, ("store_foreign",)),
    sqlite3.SQLITE_CANTOPEN: (StoreUnreachableError, ("store_unreachable",)),
}
"""What an SQLite result code means, and which sentences say so."""
_TOLD[sqlite3.SQLITE_LOCKED] = _TOLD[sqlite3.SQLITE_BUSY]
_TOLD[sqlite3.SQLITE_PERM] = _TOLD[sqlite3.SQLITE_READONLY]
_ANY_OTHER = (StoreError, ("store_other", _NOT_SAVED))
wording.say(_NOT_SAVED)  # so that the table is read before anything can go wrong with files


def error_for(path: Path, error_code: int) -> StoreError:
    """Return the error that tells an SQLite result code in a sentence.

    >>> type(error_for(Path("cases.sqlite3"), sqlite3.SQLITE_FULL)).__name__
    'StoreFullError'
    """
    kind, said = _TOLD.get(error_code & 0xFF, _ANY_OTHER)
    return kind(path, " ".join(wording.say(one, variable=PATH_VARIABLE) for one in said))


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn whatever SQLite or the file system raises inside into a StoreError."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
        raise error_for(path, code) from None
    except UnicodeDecodeError:  # SQLite quotes a damaged name in its own message
        raise error_for(path, sqlite3.SQLITE_CORRUPT) from None
    except PermissionError:
        raise error_for(path, sqlite3.SQLITE_CANTOPEN) from None
    except OSError as error:
        full = error.errno == errno.ENOSPC
        code = sqlite3.SQLITE_FULL if full else sqlite3.SQLITE_CANTOPEN
        raise error_for(path, code) from None


def default_path() -> Path:
    """Return where the cases are kept: LEVELGAZE_STORE, else the user's data folder."""
    chosen = os.environ.get(PATH_VARIABLE)
    return Path(chosen).expanduser() if chosen else _data_folder() / FILE_NAME


def _data_folder() -> Path:
    """Return the folder a system names for a program's data; XDG base directories elsewhere."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "Levelgaze"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "Levelgaze"
    named = os.environ.get("XDG_DATA_HOME", "")
    base = Path(named) if Path(named).is_absolute() else home / ".local" / "share"
    return base / "levelgaze"


def connect(path: Path, *, wait_s: float = WAIT_S, alone: bool = False) -> sqlite3.Connection:
    """Open the file, or make it.

    alone: without a log, and with what undoes a change in memory, so that a change needs no room on
    the disk; no other session may have the file open, and a process killed in the middle of a
    change could damage it. Taken of itself where a full disk has no room for the log.

    Every commit is flushed to the disk before it returns (write-ahead log, synchronous FULL), so
    an acknowledged save outlives the process and a power cut. Deleted content is overwritten.

    Raises
        StoreError: one of its kinds, for a file that cannot be used.
    """
    with told(path):
        if path.is_dir():
            raise StoreUnreachableError(path, wording.say("store_folder"))
        writable = _make_ready(path)
        _refuse_others(path)
        try:
            return _ready(path, wait_s=wait_s, writable=writable, alone=alone)
        except sqlite3.OperationalError as error:
            if alone or not writable or not _has_no_room(path, error):
                raise
        # Only now is the connection that failed let go of, with its lock.
        return _ready(path, wait_s=wait_s, writable=True, alone=True)


def _ready(path: Path, *, wait_s: float, writable: bool, alone: bool) -> sqlite3.Connection:
    connection = _opened(path, wait_s=wait_s, writable=writable, alone=alone)
    try:
        _judge(path, *_identity(connection))
        if writable and not alone:
            _use_log(connection, wait_s)
    except BaseException:
        connection.close()
        raise
    return connection


def _make_ready(path: Path) -> bool:
    """Make a missing file for the user alone; True where it can be written.

    It is made whole under another name first: a file that is empty is never one of ours.
    """
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".levelgaze-", dir=path.parent)
        os.close(handle)
        whole = Path(name)
        try:
            made = closing(sqlite3.connect(whole, isolation_level=None))
            with made as connection, transaction(connection):
                _create(connection)
            with suppress(FileExistsError):  # another session was quicker
                _named(whole, path)
        finally:
            whole.unlink(missing_ok=True)
    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def _named(whole: Path, path: Path) -> None:
    """Give a file its name, unless there is one of that name; Windows refuses that by itself."""
    if sys.platform == "win32":
        whole.rename(path)
    else:
        path.hardlink_to(whole)


def _opened(path: Path, *, wait_s: float, writable: bool, alone: bool) -> sqlite3.Connection:
    mode = "mode=rw" if writable else "mode=ro"
    if not writable and not _side_file(path, "-wal"):
        mode += "&immutable=1"
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?{mode}", uri=True, timeout=wait_s, isolation_level=None
    )
    # Damaged bytes are let through here and found by the checksum, which can name the revision.
    connection.text_factory = lambda raw: raw.decode(errors="replace")
    try:
        if alone:  # before anything is read: an index of the log in shared memory needs room too
            connection.execute("PRAGMA locking_mode=EXCLUSIVE").close()
            connection.execute("PRAGMA journal_mode=MEMORY").close()
        for setting in (
            "foreign_keys=ON",
            "synchronous=FULL",
            "secure_delete=ON",
            "temp_store=MEMORY",
        ):
            connection.execute(f"PRAGMA {setting}").close()
    except BaseException:
        connection.close()
        raise
    return connection


def _side_file(path: Path, ending: str) -> bool:
    """Tell whether a log or journal with content lies beside the file."""
    try:
        return path.with_name(path.name + ending).stat().st_size > 0
    except FileNotFoundError:  # also one that another session removed this moment
        return False


def _refuse_others(path: Path) -> None:
    """Refuse what is not ours or of another format, without a byte written."""
    if _side_file(path, "-journal"):
        return  # a first write was cut short: SQLite takes it back when the file is opened
    with path.open("rb") as file:
        head = file.read(_HEAD_BYTES)
    if not head:
        raise StoreDamagedError(path, wording.say("store_empty"))
    if len(head) < _HEAD_BYTES or not head.startswith(_MAGIC):
        raise error_for(path, sqlite3.SQLITE_NOTADB)
    _judge(path, int.from_bytes(head[68:72], "big"), int.from_bytes(head[60:64], "big"))
    if _side_file(path, "-wal"):
        # The log may hold a newer head. A connection that may only read leaves the log alone.
        uri = f"{path.absolute().as_uri()}?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as connection:
            _judge(path, *_identity(connection))


def is_ours(connection: sqlite3.Connection) -> bool:
    """Tell whether a database is a store of this format."""
    return _identity(connection) == (APPLICATION_ID, STORE_VERSION)


def _identity(connection: sqlite3.Connection) -> tuple[int, int]:
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    return application, connection.execute("PRAGMA user_version").fetchone()[0]


def _judge(path: Path, application: int, version: int) -> None:
    if application != APPLICATION_ID:
        raise error_for(path, sqlite3.SQLITE_NOTADB)
    formats = {"version": version, "ours": STORE_VERSION}
    if version > STORE_VERSION:
        raise StoreNewerError(path, wording.say("store_newer", **formats))
    if version < STORE_VERSION:
        raise StoreOlderError(path, wording.say("store_older", **formats))


def _create(connection: sqlite3.Connection) -> None:
    for statement in _TABLES:
        connection.execute(statement)
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={STORE_VERSION}")


def _use_log(connection: sqlite3.Connection, wait_s: float) -> None:
    """Turn the write-ahead log on; SQLite does not wait for others here, so we do."""
    end_s = time.monotonic() + wait_s
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL").close()
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > end_s:
                raise
            time.sleep(0.01)


def _has_no_room(path: Path, error: sqlite3.OperationalError) -> bool:
    """Tell whether a file could not be opened because the log beside it finds no room."""
    of_files = error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR)
    return of_files and shutil.disk_usage(path.parent).free < ROOM_FOR_LOG_BYTES


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Do all of it or nothing; taken for writing at once, so what is read inside stays true."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise
