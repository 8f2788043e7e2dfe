"""How fast a roster is: `python -m tests.bench.roster_speed [ROWS] [--two] [--where]`.

Rows of two targets with nothing unknown, all kinds, full search, from file to file. Rows a second
of processor time (a shared machine slows the clock on the wall, less so the processor), the same
in units of a reference loop measured in the same run, the peak of memory, the ratio of two
processes to one by the clock, and where the time goes.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import resource
import tempfile
import time
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd

from engine.assemble import advise
from engine.kernel.compiled import is_loaded
from engine.roster.answer import answer
from engine.roster.file import in_processes, run_file
from tests.bench._cores import pinned
from tests.bench._row import Row, table
from tests.roster_examples import case_of, roster, written

LEAST_ROWS_A_SECOND = 2000.0
MOST_MEMORY_MB = 600.0
LEAST_GAIN_OF_TWO = 1.7
ALL_CORES = True
ROWS, ROWS_FOR_TWO = 3000, 6000
SAMPLE = 40
REFERENCE_LOOP = "200 square roots of 40,000 numbers"
_DISTINCT = 5000
"""Rows are made once and repeated: making them takes longer than reading them."""


def reference_s() -> float:
    """Processor time of a fixed amount of array work that stays in the cache."""
    values = np.random.default_rng(0).random(40_000) + 1.0
    best = np.inf
    for _ in range(5):
        start = time.process_time()
        for _ in range(200):
            np.sqrt(values * values + values)
        best = min(best, time.process_time() - start)
    return float(best)


def make(rows: int, folder: Path) -> Path:
    """A roster of so many rows."""
    path = written(roster(min(rows, _DISTINCT), seed=1), folder / "in.csv")
    head, *lines = path.read_text(encoding="utf-8").splitlines()
    repeated = (lines * (rows // len(lines) + 1))[:rows]
    path.write_text("\n".join([head, *repeated, ""]), encoding="utf-8")
    return path


def peak_mb() -> float:
    """Most memory this process ever held.

    Linux keeps a figure of this process alone; elsewhere that of its rusage, which may be the
    starting process's where that one was larger.
    """
    status = Path("/proc/self/status")
    if status.exists():
        lines = status.read_text(encoding="ascii").splitlines()
        return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure(*, rows: int = ROWS, rows_for_two: int = ROWS_FOR_TWO) -> list[Row]:
    """Rows of the table; started in a process of its own, or memory is that of something else."""
    with tempfile.TemporaryDirectory() as folder:
        with pinned():
            found = one_core(make(rows, Path(folder)), rows)
        return found + two_cores(make(rows_for_two, Path(folder)), rows_for_two)


def one_core(source: Path, rows: int) -> list[Row]:
    """Speed and memory of one process."""
    imports_mb, before = peak_mb(), reference_s()
    start = time.process_time()
    done = run_file(source, source.with_name("out.csv"))
    spent = time.process_time() - start
    peak = peak_mb()
    reference = (before + reference_s()) / 2
    assert done.computed == rows
    way = "compiled, loading it included" if is_loaded() else "searched plainly"
    one_by_one = _one_by_one(source)
    speed = rows / spent
    return [
        Row(
            f"roster of {rows} rows, one core, processor time, {way}",
            speed,
            "rows/s",
            f"the same by advise, one by one, {SAMPLE} rows",
            one_by_one,
            LEAST_ROWS_A_SECOND,
            judge="least",
            source="our target",
        ),
        Row(
            f"the same, against {REFERENCE_LOOP}",
            speed,
            "1/s",
            "such loops",
            1 / reference,
        ),
        Row(
            f"memory of a roster of {rows} rows, at most",
            peak,
            "MB",
            "before the first row",
            imports_mb,
            MOST_MEMORY_MB,
            source="our target",
        ),
    ]


def _one_by_one(source: Path) -> float:
    """Rows a second of processor time when each row is a case of its own."""
    frame = pd.read_csv(source, dtype=str, keep_default_na=False, nrows=SAMPLE)
    found = answer(frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0))
    values = [
        {name: float(one[at]) for name, one in found.drawn.values.items()} for at in range(SAMPLE)
    ]
    cases = [
        case_of(one, present_kind=str(kind))
        for one, kind in zip(values, found.rows.present_kind, strict=True)
    ]
    advise(cases[0])
    start = time.process_time()
    for case in cases:
        advise(case)
    return len(cases) / (time.process_time() - start)


def two_cores(source: Path, rows: int) -> list[Row]:
    """Clock and processor time of one process against two, in turn.

    On a machine that others use the clock says little; the processor time of the workers then
    says whether they are in each other's way, and that of the parent what cannot be shared.
    """
    clock: dict[int, list[float]] = {1: [], 2: []}
    workers_s: dict[int, list[float]] = {1: [], 2: []}
    parent_s: dict[int, list[float]] = {1: [], 2: []}
    for workers in (1, 2, 1, 2):
        start, own, children = time.perf_counter(), time.process_time(), _children_s()
        mapper = partial(in_processes, workers=workers)
        run_file(source, source.with_name("out.csv"), chunk_rows=250, mapper=mapper)
        clock[workers].append(time.perf_counter() - start)
        parent_s[workers].append(time.process_time() - own)
        workers_s[workers].append(_children_s() - children)
    alone, together, parent = (min(spent) for spent in (workers_s[1], workers_s[2], parent_s[2]))
    return [
        Row(
            f"roster of {rows} rows, one process, by the clock",
            min(clock[1]),
            "s",
            "two processes",
            min(clock[2]),
            LEAST_GAIN_OF_TWO,
            of="ratio",
            judge="least",
            source="our target",
        ),
        Row(
            "the same in processor time: with two cores to itself",
            alone + parent,
            "s",
            "half of two workers, and the parent",
            together / 2 + parent,
        ),
    ]


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def where(source: Path) -> None:
    """The functions the time goes to."""
    profile = cProfile.Profile()
    profile.enable()
    run_file(source, source.with_name("out.csv"))
    profile.disable()
    pstats.Stats(profile).sort_stats("tottime").print_stats(16)


def main() -> None:
    """Make a roster and measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rows", type=int, nargs="?", default=100_000)
    parser.add_argument("--two", action="store_true", help="also two processes")
    parser.add_argument("--where", action="store_true", help="also where the time goes")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        source = make(asked.rows, Path(folder))
        with pinned():
            found = one_core(source, asked.rows)
        if asked.two:
            found += two_cores(source, asked.rows)
        print(table(found))
        if asked.where:
            where(make(min(asked.rows, 1000), Path(folder)))


if __name__ == "__main__":
    main()
