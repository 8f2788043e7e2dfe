"""The command line: `python -m engine advise CASE.json` and its sisters."""

from __future__ import annotations

import argparse
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from engine.assemble import advise
from engine.case.read import read_case
from engine.errors import LevelgazeError
from engine.explain import explain
from engine.roster.command import add_command as add_roster

if TYPE_CHECKING:
    from collections.abc import Sequence

REFUSED = 2
"""Exit status of a refusal: one line on standard error, nothing on standard output."""
LARGEST_COPY_BYTES = 2_000_000_000
"""Of a copy that is brought back: it is read into memory."""
INTERRUPTED, ENDED = 130, 143
"""Exit status after Ctrl-C and after a request to end, as shells know them."""


class Ended(BaseException):
    """Raised where the system asks the program to end, so that it tidies up on its way out."""


def _end(*_: object) -> None:
    raise Ended


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    asked = _parser().parse_args(arguments)
    try:
        sys.stdout.write(asked.run(asked))
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; no file was changed.\n")
        return INTERRUPTED
    except Ended:
        sys.stderr.write("Ended from outside; no file was changed.\n")
        return ENDED
    except LevelgazeError as error:
        sys.stderr.write(f"{' '.join(str(error).split())}\n")
        return REFUSED
    except OSError as error:
        sys.stderr.write(f"{error.filename or 'a file'}: {error.strerror}\n")
        return REFUSED
    return 0


def _advise(asked: argparse.Namespace) -> str:
    return advise(read_case(asked.case), thorough=not asked.quick).to_json() + "\n"


def _explain(asked: argparse.Namespace) -> str:
    case = read_case(asked.case)
    return explain(case, advise(case, thorough=not asked.quick))


def _backup(asked: argparse.Namespace) -> str:
    from engine.files.store import Store

    with Store() as store:
        count = store.backup(asked.file)
    return f"A copy of {count} case{'' if count == 1 else 's'} is saved.\n"


def _restore(asked: argparse.Namespace) -> str:
    from engine.files.output import check_readable
    from engine.files.store import Store

    check_readable(asked.file, field="FILE", most_bytes=LARGEST_COPY_BYTES)
    with Store() as store:
        return store.restore(asked.file.read_bytes()).words() + "\n"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m engine",
        description="Which lens lets a presbyope see a day of work, clear and with a level head.",
        epilog="A refused input ends with status 2 and one line: field, value, allowed range.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, run, text in (
        ("advise", _advise, "print the whole answer to a case as one JSON object"),
        ("explain", _explain, "print the answer to a case for a person, 80 columns wide"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("case", type=Path, metavar="CASE.json", help="the case, UTF-8 JSON")
        command.add_argument(
            "--quick", action="store_true", help="do not test the answer against measuring errors"
        )
        command.set_defaults(run=run)
    add_roster(commands)
    for name, run, text in (
        ("backup", _backup, "save a copy of all kept cases as a file of its own"),
        ("restore", _restore, "bring the cases of a copy back; nothing is overwritten"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("file", type=Path, metavar="FILE", help="the copy")
        command.set_defaults(run=run)
    return parser


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, _end)
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    sys.exit(main())
