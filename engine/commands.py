"""The commands of `python -m engine`: what each takes, does and prints."""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from engine.assemble import advise
from engine.case.read import read_case
from engine.explain import explain
from engine.roster.command import add_command as add_roster

if TYPE_CHECKING:
    from collections.abc import Sequence

LARGEST_COPY_BYTES = 2_000_000_000
"""Of a copy that is brought back: it is read into memory."""


def run(arguments: Sequence[str] | None = None) -> None:
    """Run one command and print what it says.

    Raises
        LevelgazeError: it is refused, or what is kept cannot be used.
        OSError: a file cannot be read or written; its name is that of the command line.
    """
    asked = _parser().parse_args(arguments)
    _print(asked.run(asked))


def _print(text: str) -> None:
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        with suppress(OSError):  # what is left of the text is not tried again at the end
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, sys.stdout.fileno())
            os.close(nowhere)
        raise OSError(error.errno, error.strerror, "standard output") from None


def _advise(asked: argparse.Namespace) -> str:
    return advise(read_case(asked.case)).to_json() + "\n"


def _explain(asked: argparse.Namespace) -> str:
    case = read_case(asked.case)
    return explain(case, advise(case))


def _backup(asked: argparse.Namespace) -> str:
    from engine.files.store import Store, counted_cases
    from engine.files.store_file import StoreMissingError, default_path

    if not default_path().exists():
        raise StoreMissingError(default_path())
    with Store() as store:
        return f"A copy of {counted_cases(store.backup(asked.file))} is saved.\n"


def _restore(asked: argparse.Namespace) -> str:
    from engine.files.output import check_readable
    from engine.files.store import restored

    check_readable(asked.file, field="FILE", most_bytes=LARGEST_COPY_BYTES)
    return restored(asked.file.read_bytes()).words() + "\n"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m engine",
        description="Which lens lets a presbyope see a day of work, clear and with a level head.",
        epilog="A refused input ends with status 2 and one line: field, value, allowed range. "
        "Ctrl-C ends with status 130, a request to end with 143; no file is changed then.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, work, text in (
        ("advise", _advise, "print the whole answer to a case as one JSON object"),
        ("explain", _explain, "print the answer to a case for a person, 80 columns wide"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("case", type=Path, metavar="CASE.json", help="the case, UTF-8 JSON")
        command.set_defaults(run=work)
    add_roster(commands)
    for name, work, text in (
        ("backup", _backup, "save a copy of all kept cases as a file of its own"),
        ("restore", _restore, "bring the cases of a copy back; nothing is overwritten"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("file", type=Path, metavar="FILE", help="the copy")
        command.set_defaults(run=work)
    return parser
