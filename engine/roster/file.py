"""A roster from file to file, chunk by chunk: memory stays bounded however long a CSV file is.

Every row of the file is a row of the answer, in its order: computed, too young, or refused with
what is wrong. Cells that a spreadsheet would run as a formula are neutralised.
"""

from __future__ import annotations

import signal
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from engine.answer.choice import RULES
from engine.errors import LevelgazeError
from engine.files.output import check_readable, refuse_same_file, written_whole
from engine.roster.answer import HOURS, Answer, Settings, answer
from engine.roster.decimal_comma import with_decimal_commas
from engine.roster.reading import read_list
from engine.roster.rows import Problem
from engine.roster.search import OPTIONS
from engine.roster.usual import CHUNK_ROWS
from engine.stops import held_back
from engine.wording import say

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    Task = Callable[[pd.DataFrame], "Written"]
    Mapper = Callable[[Task, Iterable[pd.DataFrame]], Iterable["Written"]]

ASSUMED = ("sphere_d", "screen_aspect")
"""Columns that are not drawn where they are blank: 0, and the usual shape of a screen."""
QUANTILES = ("p10", "p90")
"""The spread shown of what was drawn (LOW_SHARE of the draws is left out on either side)."""
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_NUDGE = 1e-9
"""A half of the third place is rounded up whatever the last bit of a sum says."""
_HEAD = (
    "row",
    "ref",
    "status",
    "problems",
    "doubts",
    "drawn",
    "assumed",
    "draws",
    "most_hours",
    "most_hours_share",
    "put_first",
    "put_first_by",
)


@dataclass(frozen=True)
class Written:
    """A chunk as it is written.

    Attributes:
        text: lines of the answer. computed, refused, young, idle: rows of each sort.
        first_problem: of the chunk, in words; "" where there is none.
        notes: what of the file is not used, in sentences.
    """

    text: str
    computed: int
    refused: int
    young: int
    first_problem: str = ""
    notes: tuple[str, ...] = ()
    idle: int = 0

    @property
    def rows(self) -> int:
        """Return rows of every sort."""
        return self.computed + self.refused + self.young + self.idle

    def __add__(self, other: Written) -> Written:
        """Add the counts together; texts are not kept."""
        return Written(
            "",
            self.computed + other.computed,
            self.refused + other.refused,
            self.young + other.young,
            self.first_problem or other.first_problem,
            self.notes or other.notes,
            self.idle + other.idle,
        )


class WorkerLostError(LevelgazeError):
    """A process that computed a chunk was ended from outside."""

    def __init__(self) -> None:
        super().__init__(say("roster_worker_lost"))


_ON_ONE_LINE = str.maketrans("\t\r\n", "   ")


def neutral(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula.

    >>> neutral("=1+1"), neutral("plain")
    ("'=1+1", 'plain')
    """
    runs = text.lstrip(" ").startswith(_STARTS_A_FORMULA)
    plain = text.translate(_ON_ONE_LINE)
    return f"'{plain}" if runs else plain


def header() -> list[str]:
    """Return the columns of the answer."""
    names = ("comfortable_h", *(f"comfortable_h_{name}" for name in QUANTILES), *HOURS[1:])
    return [*_HEAD, *(f"{one}_{name}" for one in OPTIONS for name in (*names, "design"))]


def run_file(
    source: Path,
    target: Path,
    *,
    settings: Settings | None = None,
    chunk_rows: int = CHUNK_ROWS,
    mapper: Mapper = map,
    progress: Callable[[int], None] | None = None,
    decimal_comma: bool = False,
) -> Written:
    """Answer a roster, and return the counts of the whole file.

    mapper: runs the task over the chunks, lazily and in order, like the builtin map.
    progress: told the number of rows done after every chunk.
    decimal_comma: write 7,5 for 7.5, and semicolons between the cells.

    Raises
        InputRefusedError: the source cannot be read as a roster, or is the target.
        OSError: the target cannot be written; what was there is left as it was.
    """
    check_readable(source, field="IN")
    refuse_same_file(source, target, field="OUT")
    task = partial(write_chunk, settings=settings or Settings())
    shaped = with_decimal_commas if decimal_comma else str
    with source.open("rb") as file, written_whole(target, field="OUT") as out:
        listed = read_list(file, field=source.name)
        done = Written("", 0, 0, 0, notes=listed.notes)
        frames = listed.frames(rows=chunk_rows)
        out.write(shaped(",".join(header()) + "\n"))
        for written in mapper(task, frames):
            out.write(shaped(written.text))
            done += written
            if progress is not None:
                progress(done.rows)
    return done


def in_processes(task: Task, frames: Iterable[pd.DataFrame], *, workers: int) -> Iterator[Written]:
    """Work as the builtin map, in other processes of this machine; a few chunks wait at a time.

    Whoever stops half-way does not wait for the chunks in work: their processes are ended.

    Raises
        WorkerLostError: one of the processes was ended from outside.
    """
    from concurrent.futures import Future, ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import active_children, get_context

    others = set(active_children())
    waiting: list[Future[Written]] = []
    with ProcessPoolExecutor(
        workers, mp_context=get_context("spawn"), initializer=ignore_interrupt
    ) as pool:
        try:
            for frame in frames:
                with held_back():  # a worker is started here
                    waiting.append(pool.submit(task, frame))
                if len(waiting) > 2 * workers:
                    yield waiting.pop(0).result()
            for one in waiting:
                yield one.result()
        except BrokenProcessPool:
            raise WorkerLostError from None
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            for child in set(active_children()) - others:
                child.terminate()
            raise


def ignore_interrupt() -> None:
    """Leave Ctrl-C to the process that started this one, which ends its workers itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def write_chunk(frame: pd.DataFrame, *, settings: Settings) -> Written:
    """Return the lines of the answer to a chunk."""
    found = answer(frame, settings=settings)
    problems, rows = found.rows.problems, found.rows
    lines = dict(zip(rows.row[found.computed], _computed(found), strict=True))
    doubted = in_words(rows.doubts)
    idle = rows.idle & ~rows.young
    for status, which in (("too_young", rows.young), ("no_hours", idle)):
        for at in np.flatnonzero(which):
            row = rows.row[at]
            lines[row] = _cells(str(row), rows.ref[at], status, "", doubted.get(int(row), ""))
    told = in_words(problems)
    for row, words in told.items():
        lines[np.int64(row)] = _cells(str(row), "", "refused", words, doubted.get(row, ""))
    return Written(
        "".join(f"{lines[row]}\n" for row in frame.index),
        computed=len(found.computed),
        refused=len(told),
        young=int(rows.young.sum()),
        first_problem=f"row {problems[0].row}, {problems[0].column}" if problems else "",
        idle=int(idle.sum()),
    )


def in_words(problems: Iterable[Problem]) -> dict[int, str]:
    """Return what is wrong or unusual in each row, by row, in one cell."""
    told: dict[int, list[str]] = {}
    for one in problems:
        told.setdefault(one.row, []).append(one.sentence)
    return {row: " | ".join(words) for row, words in told.items()}


def _computed(found: Answer) -> Iterator[str]:
    """Yield a line for every computed row."""
    by_row, rows = found.by_row(), found.rows
    names = list(found.drawn.unknown)
    unknown = np.stack([found.drawn.unknown[name] for name in names], axis=1)
    numbers = np.stack(
        [
            by_row.mean["comfortable_h"],
            by_row.low_h,
            by_row.high_h,
            *(by_row.mean[name] for name in HOURS[1:]),
        ],
        axis=2,
    ).tolist()
    designs = np.array([*found.designs, ""])[by_row.design].tolist()
    doubted = in_words(found.rows.doubts)
    for at, position in enumerate(found.computed):
        head = _cells(
            str(rows.row[position]),
            rows.ref[position],
            "computed",
            "",
            doubted.get(int(rows.row[position]), ""),
            " ".join(name for name, was in zip(names, unknown[at], strict=True) if was),
            " ".join(name for name in ASSUMED if np.isnan(rows.values[name][position])),
            str(by_row.draws[at]),
            OPTIONS[by_row.most_hours[at]],
            f"{by_row.most_hours_share[at]:.2f}",
            (*OPTIONS, "")[by_row.put_first[at]],
            (*RULES, "")[by_row.put_first_by[at]],
        )
        options = (
            ",".join([*map(_number, told), design])
            for told, design in zip(numbers[at], designs[at], strict=True)
        )
        yield ",".join([head[:-_OPTION_COMMAS], *options])


_OPTION_COMMAS = len(OPTIONS) * (len(HOURS) + len(QUANTILES) + 1)


def _cells(*cells: str) -> str:
    """Return the first cells of a line; the rest are left blank."""
    blank = "," * (len(_HEAD) - len(cells) + _OPTION_COMMAS)
    return ",".join(_quoted(neutral(cell)) for cell in cells) + blank


_QUOTED_FOR = frozenset(',"\n\r')


def _quoted(cell: str) -> str:
    return cell if _QUOTED_FOR.isdisjoint(cell) else '"' + cell.replace('"', '""') + '"'


def _number(value: float) -> str:
    """Write three places; nothing for what was not computed."""
    return "" if value != value else f"{value + _NUDGE:.3f}"
