"""Run the command `roster IN OUT.csv`: its options, its progress bar, its last line.

Every core takes a share of a search; with `--processes` each has rows of its own. With the extra
`cluster` it hands the rows to a Dask scheduler of yours, for long rosters on several machines. The
answer is the same, byte for byte, as that of one process.
"""

from __future__ import annotations

import sys
from collections import deque
from contextlib import contextmanager, nullcontext
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from engine.errors import InputRefusedError, Limits
from engine.roster.usual import CHUNK_ROWS, DRAWS, SEED
from engine.threads import cores

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterable, Iterator
    from contextlib import AbstractContextManager

    import pandas as pd

    from engine.roster.file import Mapper, Task, Written


WAITING_PER_WORKER = 3
"""Chunks sent ahead: enough to keep a worker busy, few enough to bound the memory."""


@contextmanager
def on_cluster(scheduler: str) -> Iterator[Mapper]:
    """Yield a mapper over the workers of a running Dask scheduler, such as tcp://10.0.0.2:8786.

    This program opens no port: it calls the scheduler. Who may reach that scheduler is settled
    where it is started.

    Raises
        InputRefusedError: the extra is not installed, or no scheduler answers.
    """
    try:
        distributed = import_module("dask.distributed")
    except ImportError:
        raise InputRefusedError(
            field="--scheduler", value="the extra is missing", allowed='pip install ".[cluster]"'
        ) from None
    try:
        client = distributed.Client(scheduler, timeout=10)
    except (OSError, ValueError) as error:
        raise InputRefusedError(
            field="--scheduler", value=scheduler, allowed="a scheduler that answers"
        ) from error
    with client:
        limit = WAITING_PER_WORKER * max(1, len(client.scheduler_info()["workers"]))

        def mapper(task: Task, frames: Iterable[pd.DataFrame]) -> Iterator[Written]:
            waiting: deque[Any] = deque()
            for frame in frames:
                waiting.append(client.submit(task, frame, pure=False))
                if len(waiting) >= limit:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()

        yield mapper


_TEXT = "answer a roster of many people, a row each, from a CSV, .xlsx or .ods file to a CSV file"
_BAR = 30


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `roster` to the commands."""
    command = commands.add_parser("roster", help=_TEXT, description=_TEXT)
    command.add_argument("source", type=Path, metavar="IN", nargs="?", help=".csv, .xlsx or .ods")
    command.add_argument("target", type=Path, metavar="OUT.csv", nargs="?", help="their answers")
    command.add_argument("--template", action="store_true", help="print an IN.csv to fill in")
    command.add_argument(
        "--employer-template",
        metavar="NAME.xlsx",
        nargs="?",
        const="",
        help="print the columns an employer may hold, or write them with lists to choose from",
    )
    command.add_argument(
        "--draws", type=int, default=DRAWS, help="draws of what a row leaves unknown"
    )
    command.add_argument("--seed", type=int, default=SEED, help="of the draws")
    command.add_argument("--chunk-rows", type=int, default=CHUNK_ROWS, help="rows in memory")
    command.add_argument(
        "--decimal-comma", action="store_true", help="write 7,5 for 7.5, and ; between cells"
    )
    command.add_argument(
        "--processes", type=int, default=1, help="processes of this machine (from 10,000 rows)"
    )
    command.add_argument(
        "--scheduler", help="address of a Dask scheduler of yours (extra `cluster`)"
    )
    command.set_defaults(run=run)


def run(asked: argparse.Namespace) -> str:
    """Run the command and return its last line; what it takes is loaded only now."""
    if asked.employer_template:
        return _written(asked.employer_template)
    if asked.template or asked.employer_template is not None:
        return _template(asked)
    if asked.source is None or asked.target is None:
        raise InputRefusedError(field="roster", value="nothing", allowed="IN OUT.csv")
    for name, most in (("draws", 1000), ("chunk_rows", 100_000), ("processes", 64)):
        _within(name, getattr(asked, name), most)
    from engine.roster.answer import Settings
    from engine.roster.file import run_file

    with _mapper(asked) as mapper:
        done = run_file(
            asked.source,
            asked.target,
            settings=Settings(draws=asked.draws, seed=asked.seed),
            chunk_rows=asked.chunk_rows,
            mapper=mapper,
            progress=_progress(asked.source),
            decimal_comma=asked.decimal_comma,
        )
    return _told(done)


def _template(asked: argparse.Namespace) -> str:
    from engine.roster.decimal_comma import with_decimal_commas
    from engine.roster.template import employer_csv, template_csv

    table = template_csv() if asked.template else employer_csv()
    return with_decimal_commas(table) if asked.decimal_comma else table


def _written(name: str) -> str:
    """Write the employer's template as a spreadsheet of a name that none has yet."""
    from engine.files.output import write_new
    from engine.roster.template import employer_xlsx

    path = Path(name)
    if path.suffix.lower() != ".xlsx":
        allowed = "a name that ends in .xlsx, or no name to print CSV"
        raise InputRefusedError(field="--employer-template", value=name, allowed=allowed)
    write_new(path, employer_xlsx())
    return f"{name}: an empty list with the columns an employer may hold\n"


def _within(name: str, value: int, most: int) -> None:
    if not 1 <= value <= most:
        field = f"--{name.replace('_', '-')}"
        limits = Limits(1, most)
        raise InputRefusedError(field=field, value=value, allowed=f"1 to {most}", limits=limits)


def _mapper(asked: argparse.Namespace) -> AbstractContextManager[Mapper]:
    from engine.kernel.compiled import share_among
    from engine.roster.file import in_processes

    if asked.scheduler is not None:
        return on_cluster(asked.scheduler)
    if asked.processes > 1:
        return nullcontext(partial(in_processes, workers=asked.processes))
    share_among(cores())
    return nullcontext(map)


def _progress(source: Path) -> Callable[[int], None] | None:
    """Draw a bar on standard error, where a person is looking at it."""
    from engine.roster.spreadsheet import ZIP_START

    if not sys.stderr.isatty():
        return None
    with source.open("rb") as file:
        if file.read(len(ZIP_START)) == ZIP_START:
            return None  # a spreadsheet is read whole before its first row is answered
        rows = max(sum(block.count(b"\n") for block in iter(lambda: file.read(1 << 20), b"")), 1)

    def show(done: int) -> None:
        full = min(_BAR * done // rows, _BAR)
        sys.stderr.write(f"\r[{'#' * full}{'.' * (_BAR - full)}] {done} rows")
        sys.stderr.flush()

    return show


def _told(done: Written) -> str:
    text = f"{done.computed} rows computed, {done.young} too young for an add"
    text += f", {done.idle} with 0 h a day" if done.idle else ""
    refused = f"{done.refused} refused (first: {done.first_problem}); see OUT.csv"
    last = f"{text}, {refused if done.refused else 'none refused'}"
    return "".join(f"{one}\n" for one in (*done.notes, last))
