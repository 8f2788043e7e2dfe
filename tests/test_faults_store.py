"""The file of kept cases in trouble: what a person reads, and that nothing typed is lost.

What the file itself does then is in test_store_file.py; here it is the pages that meet it. Every
trouble but one is a real one of a real file; the write-protected one is real for SQLite, since the
system would let root write.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from engine.files.store import Store
from engine.files.store_file import STORE_VERSION
from tests.pages import pressed, said, typed, widget
from tests.test_app_cases import kept_page, opened_page, store_path

__all__ = ["store_path"]

NOT_SAVED = "Nothing was saved, and what was kept before is as it was."
Trouble = Callable[[Path, pytest.MonkeyPatch], Iterator[None]]


def locked(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """Another session is in the middle of a save and does not end."""
    patch.setitem(Store.__init__.__kwdefaults__, "wait_s", 0.05)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def full(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """The file may not grow by a page."""
    with closing(sqlite3.connect(path)) as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    patch.setitem(Store.__init__.__kwdefaults__, "most_pages", pages)
    yield


def write_protected(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """The system says that the file may not be written."""
    assert path.exists()
    allowed = os.access
    patch.setattr(os, "access", lambda at, mode: mode != os.W_OK and allowed(at, mode))
    yield


def newer(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """A newer version of the program has been here."""
    del patch
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version={STORE_VERSION + 1}")
    yield
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version={STORE_VERSION}")


def damaged(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """The disk gave back other bytes than it was given, everywhere but in the head."""
    del patch
    sound = path.read_bytes()
    path.write_bytes(sound[:4096] + bytes([0xA5]) * (len(sound) - 4096))
    yield
    path.write_bytes(sound)


def unreachable(path: Path, patch: pytest.MonkeyPatch) -> Iterator[None]:
    """The place named for the file is a folder."""
    patch.setenv("LEVELGAZE_STORE", str(path.parent))
    yield


TROUBLES: dict[str, tuple[Trouble, str, bool]] = {
    "locked": (
        locked,
        f"another session is writing to the kept cases. {NOT_SAVED} Try again",
        True,
    ),
    "full": (full, f"there is no room left for the kept cases. {NOT_SAVED} Free some disk", True),
    "write-protected": (
        write_protected,
        "the kept cases may be read but not changed, because the file or its folder is"
        f" write-protected. {NOT_SAVED}",
        True,
    ),
    "newer": (
        newer,
        f"a newer version of this program keeps its cases here (format {STORE_VERSION + 1}; this"
        f" one reads up to {STORE_VERSION}). The file was left as it is; use the newer version.",
        False,
    ),
    "damaged": (
        damaged,
        "the file of kept cases is damaged; nothing in it was changed. Close the program, move the"
        " file away, start again and bring your last copy back under Kept cases.",
        False,
    ),
    "unreachable": (unreachable, "this is a folder; name a file in it.", False),
}
"""The trouble, the sentence a person reads, and whether the kept cases can still be read."""


def test_a_trouble_of_the_store_is_a_sentence_and_what_was_typed_stays(store_path: Path) -> None:
    """One case kept, then changed in the form and given another name, in one trouble after another.

    Each is over when the next begins, and the changed case is saved in between.
    """
    page, kept = kept_page(), ["A12"]
    for number, (name, (trouble, sentence, readable)) in enumerate(TROUBLES.items()):
        age, label = str(55 + number), f"B{number}"
        widget(page, "text_input", "Age (years)").set_value(age)
        typed(page, **{"Label of your choice, no name needed": label})
        with pytest.MonkeyPatch.context() as patch, contextmanager(trouble)(store_path, patch):
            pressed(page, "Save")
            assert sentence in said(page), name
            assert str(store_path.parent) in said(page), name
            ages = [one.value for one in page.text_input if one.label == "Age (years)"]
            assert ages == [age], name
            listed = said(opened_page("cases"))
            assert ("A12" in listed) == readable, name
            assert (sentence in listed) == (not readable), name
        pressed(page, "Save")
        assert f"Case {label}: saved" in said(page), name
        kept.insert(0, label)
        with Store(store_path) as store:
            assert [entry.label for entry in store.entries()] == kept, name


def test_a_case_that_cannot_be_deleted_is_told_and_stays(store_path: Path) -> None:
    kept_page()
    with pytest.MonkeyPatch.context() as patch, contextmanager(locked)(store_path, patch):
        found = opened_page("cases")
        widget(found, "checkbox", "Yes, delete its").check()
        found.run()
        pressed(found, "Delete")
        assert "another session is writing to the kept cases" in said(found)
    with Store(store_path) as store:
        assert store.count() == 1
