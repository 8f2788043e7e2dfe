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

from engine.roster_file import in_processes, run_file
from tests.roster_examples import roster, written

LEAST_ROWS_A_SECOND = 300.0
MOST_MEMORY_MB = 600.0
LEAST_GAIN_OF_TWO = 1.7
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
    """Most memory this process ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def one_core(source: Path, rows: int) -> None:
    """Speed and memory of one process."""
    before = reference_s()
    start = time.process_time()
    done = run_file(source, source.with_name("out.csv"))
    spent = time.process_time() - start
    reference = (before + reference_s()) / 2
    assert done.computed == rows
    print(f"one core: {rows / spent:.0f} rows/s of processor time (wanted {LEAST_ROWS_A_SECOND:g})")
    print(f"one core: {reference / (spent / rows):.2f} rows per reference loop ({reference:.3f} s)")
    print(f"memory: {peak_mb():.0f} MB at most (allowed {MOST_MEMORY_MB:g})")


def two_cores(source: Path) -> None:
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
    gain = min(clock[1]) / min(clock[2])
    print(f"two processes: {gain:.2f} times one by the clock (wanted {LEAST_GAIN_OF_TWO:g})")
    alone, together, parent = (min(spent) for spent in (workers_s[1], workers_s[2], parent_s[2]))
    print(f"processor time: one worker {alone:.1f} s, two {together:.1f} s, parent {parent:.1f} s")
    print(f"with two cores to themselves: {(alone + parent) / (together / 2 + parent):.2f} at most")


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
        one_core(source, asked.rows)
        if asked.two:
            two_cores(source)
        if asked.where:
            where(make(min(asked.rows, 1000), Path(folder)))


if __name__ == "__main__":
    main()
