"""How long keeping a case takes, beside one raw SQLite statement on the same disk.

The raw side has the same settings (write-ahead log, synchronous FULL, secure delete) and writes
and reads the same two texts in one table without anything else. Both sides take turns, so that a
busy disk slows both; medians are compared.
"""

from __future__ import annotations

import json
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from statistics import median

from engine.case.read import read_case
from engine.examples import path_of
from engine.files.case_json import case_to_json
from engine.files.store import Store
from tests.bench._row import Row, table
from tests.invented_result import invented_result

ROUNDS = 200
LISTED = 10_000
MOST_TIMES_RAW = 3.0
MOST_LIST_MS = 100.0
CASE = path_of("two_screens")


def measure() -> list[Row]:
    """Rows of the table."""
    with tempfile.TemporaryDirectory() as folder:
        return [
            *_against_raw(Path(folder), reopened=False),
            *_against_raw(Path(folder), reopened=True),
            *_list_of_many(Path(folder)),
            _deletion_among_many(Path(folder)),
        ]


def _texts(label: str) -> tuple[str, str]:
    case = read_case(CASE)
    answer = invented_result(case).to_json()
    return case_to_json(case.model_copy(update={"label": label})), answer


def _raw(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    for setting in ("journal_mode=WAL", "synchronous=FULL", "secure_delete=ON"):
        connection.execute(f"PRAGMA {setting}").close()
    connection.execute("CREATE TABLE IF NOT EXISTS raw (case_json TEXT, result_json TEXT)")
    return connection


def _against_raw(folder: Path, *, reopened: bool) -> list[Row]:
    """Save and open; with the file opened and closed around each one, on both sides, or not."""
    ours, theirs = folder / f"ours{reopened}.sqlite3", folder / f"raw{reopened}.sqlite3"
    times: dict[str, list[float]] = {name: [] for name in ("save", "insert", "open", "select")}
    texts = [(f"C{number}", *_texts(f"C{number}")) for number in range(ROUNDS)]
    kept, raw = Store(ours), _raw(theirs)
    if reopened:
        kept.close()
        raw.close()

    def with_store(work: Callable[[Store], object]) -> None:
        if not reopened:
            work(kept)
            return
        with Store(ours) as store:
            work(store)

    def with_raw(sql: str, values: tuple[object, ...]) -> None:
        if not reopened:
            raw.execute(sql, values).fetchone()
            return
        with closing(_raw(theirs)) as connection:
            connection.execute(sql, values).fetchone()

    for label, case, answer in texts:
        save = {"label": label, "case_json": case, "result_json": answer}
        times["save"].append(_ms(lambda save=save: with_store(lambda s: s.save(**save))))
        insert = ("INSERT INTO raw VALUES (?, ?)", (case, answer))
        times["insert"].append(_ms(lambda insert=insert: with_raw(*insert)))
    for number, (label, *_) in enumerate(texts, start=1):
        times["open"].append(_ms(lambda label=label: with_store(lambda s: s.open(label=label))))
        select = ("SELECT case_json, result_json FROM raw WHERE rowid = ?", (number,))
        times["select"].append(_ms(lambda select=select: with_raw(*select)))
    kept.close()
    raw.close()
    how = ", file opened for it" if reopened else ""
    return [
        _row(f"save a case{how}", times["save"], "one raw SQLite insert", times["insert"]),
        _row(f"open a case{how}", times["open"], "one raw SQLite select", times["select"]),
    ]


def _row(name: str, ours_ms: list[float], raw: str, raw_ms: list[float]) -> Row:
    ours, theirs = median(ours_ms), median(raw_ms)
    return Row(name, ours, "ms", raw, theirs, MOST_TIMES_RAW, of="ratio", source="our target")


def _ms(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def _many(folder: Path) -> Path:
    """A file of 10,000 cases with a short text each, written past the store's own saving."""
    path = folder / "many.sqlite3"
    if path.exists():
        return path
    with Store(path) as store:
        store.save(label="C0", case_json=json.dumps({"label": "C0"}))
    case, answer = _texts("C")
    with closing(sqlite3.connect(path)) as connection:
        connection.executemany(
            "INSERT INTO cases (label, search_key, revision, saved_at) VALUES (?, ?, 1, ?)",
            (
                (f"Case {n}", f"case {n}", f"2025-01-{n % 28 + 1:02}T08:00:00+00:00")
                for n in range(1, LISTED)
            ),
        )
        connection.execute(
            "INSERT INTO revisions SELECT id, 1, saved_at, ?, ?, 0 FROM cases WHERE id > 1",
            (case, answer),
        )
        connection.commit()
    return path


def _list_of_many(folder: Path) -> list[Row]:
    with Store(_many(folder)) as store:
        times = [_ms(store.entries) for _ in range(9)]
        assert len(store.entries()) == LISTED
        searched = median([_ms(lambda: store.entries(search="99", limit=50)) for _ in range(9)])
        with closing(_raw(_many(folder))) as connection:
            sql = "SELECT label, revision, saved_at FROM cases ORDER BY saved_at DESC"
            raw = median([_ms(lambda: connection.execute(sql).fetchall()) for _ in range(9)])
    return [
        Row(
            f"{what} {LISTED} kept cases",
            taken,
            "ms",
            "raw select of the same columns, all cases",
            raw,
            MOST_LIST_MS,
            source="our target",
        )
        for what, taken in (("list", median(times)), ("search 50 of", searched))
    ]


def _deletion_among_many(folder: Path) -> Row:
    """For information, beside a bare VACUUM: what leaving nothing behind costs; no target."""
    path = _many(folder)
    with Store(path) as store:
        took = _ms(lambda: store.delete(label="Case 77"))
    with closing(_raw(path)) as connection:
        raw = _ms(lambda: connection.execute("VACUUM"))
    megabytes = path.stat().st_size / 2**20
    name = f"delete one of {LISTED} cases ({megabytes:.0f} MiB), nothing left behind"
    return Row(name, took, "ms", "raw vacuum", raw)


if __name__ == "__main__":
    print(table(measure()))
