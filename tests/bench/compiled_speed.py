"""How much the compiled search saves: `python -m tests.bench.compiled_speed [--sizes]`.

Each figure has the same thing searched plainly beside it, in the same run, on one core, in
processor time. --sizes prints instead what a roster costs by its size, 100 to 100,000 rows.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pandas as pd

from engine.assemble import advise
from engine.kernel import compiled
from engine.roster.answer import BATCH, COMPILED_BATCH, Settings, answer
from engine.roster.file import run_file
from engine.roster.scene import scene_of_rows
from engine.roster.search import search_rows
from engine.tables import Judgements
from engine.team.people import team_of
from tests.bench._cores import pinned
from tests.bench._row import Row, table
from tests.bench.engine_speed import median_ms, three_faces
from tests.bench.roster_speed import make, peak_mb
from tests.plainly import plainly
from tests.roster_examples import roster, with_unknowns

ANSWER_MS, LEAST_GAIN, TEAM_S = 60.0, 4.0, 30.0
LEAST_ROWS, LEAST_PLAIN_ROWS = 2000.0, 700.0
TEAM, TEAM_DRAWS, SAMPLE = 5000, 10, 60
SIZES = (100, 1000, 10_000, 100_000)
STANDARD = Judgements.standard()


def measure() -> list[Row]:
    """Rows of the table."""
    if not compiled.load():
        raise RuntimeError("the extra `fast` is not installed: nothing to measure")
    case = three_faces()
    answer_ms = median_ms(lambda: advise(case), runs=9)
    search_s = _best_s(lambda: _search(COMPILED_BATCH))
    rows_s = _rows_a_second(3000)
    team_s = _team_s(TEAM)
    with plainly():
        plain_answer_ms = median_ms(lambda: advise(case), runs=5)
        plain_search_s = _best_s(lambda: _search(BATCH))
        plain_rows_s = _rows_a_second(1000)
        plain_team_s = _team_s(SAMPLE) * TEAM / SAMPLE
    return [
        Row(
            f"search of {COMPILED_BATCH} rows through every kind, plain",
            1e3 * plain_search_s,
            "ms",
            "compiled",
            1e3 * search_s,
            LEAST_GAIN,
            of="ratio",
            judge="least",
            source="our target",
        ),
        Row(
            "advise, warm: 3 targets of 81 points, verdict, moves, measures",
            answer_ms,
            "ms",
            "searched plainly",
            plain_answer_ms,
            ANSWER_MS,
            source="our target",
        ),
        Row(
            "roster of 3000 rows, from file to file",
            rows_s,
            "rows/s",
            "searched plainly, 1000 rows",
            plain_rows_s,
            LEAST_ROWS,
            judge="least",
            source="our target",
        ),
        Row(
            "roster of 1000 rows, searched plainly",
            plain_rows_s,
            "rows/s",
            "compiled, 3000 rows",
            rows_s,
            LEAST_PLAIN_ROWS,
            judge="least",
            source="our target",
        ),
        Row(
            f"team of {TEAM}, {TEAM_DRAWS} draws each, screens as they are and moved",
            team_s,
            "s",
            f"searched plainly, from {SAMPLE} people",
            plain_team_s,
            TEAM_S,
            source="our target",
        ),
    ]


def _best_s(run: Callable[[], object]) -> float:
    run()
    found = []
    for _ in range(3):
        start = time.process_time()
        run()
        found.append(time.process_time() - start)
    return min(found)


def _search(batch: int) -> None:
    """The search alone, of as many rows whatever the batch."""
    drawn = answer(_texts(roster(COMPILED_BATCH, seed=1)), settings=Settings(kinds=())).drawn
    for start in range(0, COMPILED_BATCH, batch):
        part = {name: found[start : start + batch] for name, found in drawn.values.items()}
        scene = scene_of_rows(part, judgements=STANDARD)
        search_rows(scene, [""] * len(part["add_d"]), judgements=STANDARD)


def _texts(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0).fillna("").astype(str)


def _rows_a_second(rows: int) -> float:
    with tempfile.TemporaryDirectory() as folder:
        source = make(rows, Path(folder))
        start = time.process_time()
        run_file(source, source.with_name("out.csv"))
        return rows / (time.process_time() - start)


def _team_s(people: int) -> float:
    frame = _texts(with_unknowns(roster(people, seed=5)))
    start = time.process_time()
    team_of(
        frame,
        settings=Settings(draws=TEAM_DRAWS),
        assumed_present="general_progressive",
        slice_people=120 if compiled.is_loaded() else 12,
    )
    return time.process_time() - start


def sizes(counts: Sequence[int] = SIZES) -> list[tuple[int, float, float]]:
    """Seconds of processor time and most memory in MB of rosters of so many rows."""
    found = []
    for count in counts:
        with tempfile.TemporaryDirectory() as folder:
            source = make(count, Path(folder))
            start = time.process_time()
            run_file(source, source.with_name("out.csv"))
            found.append((count, time.process_time() - start, peak_mb()))
    return found


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", action="store_true", help="what a roster costs by its size")
    with pinned():
        if not parser.parse_args().sizes:
            print(table(measure()))
            return
        print("| rows | seconds | rows a second | memory at most, MB |\n|---|---|---|---|")
        compiled.load()
        for count, spent, memory in sizes():
            print(f"| {count:,} | {spent:.2f} | {count / spent:.0f} | {memory:.0f} |", flush=True)


if __name__ == "__main__":
    main()
