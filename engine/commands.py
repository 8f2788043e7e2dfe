"""The commands of `python -m engine`: what each takes, does and prints.

Each loads what it needs when it runs, so that help, templates and copies come at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from engine import examples
from engine.roster.command import add_command as add_roster

if TYPE_CHECKING:
    from collections.abc import Sequence

LARGEST_COPY_BYTES = 2_000_000_000
"""Of a copy that is brought back: it is read into memory."""


def run(arguments: Sequence[str] | None = None, *, program: str, also: str = "") -> None:
    """Run one command and print what it says.

    `program` is what the help calls it, and `also` what else the help says.

    Raises
        LevelgazeError: it is refused, or what is kept cannot be used.
        OSError: a file cannot be read or written; its name is that of the command line.
    """
    asked = _parser(program, also).parse_args(arguments)
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
    from engine.assemble import advise
    from engine.case.read import read_case

    return advise(read_case(asked.case)).to_json() + "\n"


def _explain(asked: argparse.Namespace) -> str:
    from engine.answer.good_enough import good_enough
    from engine.answer.sources import Reading, sources
    from engine.assemble import advise
    from engine.case.read import read_case
    from engine.explain import explain, explain_sources, explain_told
    from engine.tables import Judgements

    case = read_case(asked.case)
    reading = Reading.standard()
    result = advise(case, judgements=reading) if asked.sources else advise(case)
    parts = [explain(case, result)]
    if asked.good_enough:
        found = good_enough(case, result, judgements=Judgements.standard())
        parts += [] if found is None else [explain_told(found)]
    if asked.sources:
        parts.append(explain_sources(sources(case, result, read=reading.read)))
    return "\n".join(parts)


def _example(asked: argparse.Namespace) -> str:
    if asked.name is None:
        return "".join(f"{_in_a_line(name)}\n" for name in examples.names())
    path = examples.path_of(asked.name)
    if asked.case:
        return path.read_text(encoding="utf-8")
    return _explain(argparse.Namespace(case=path, sources=False, good_enough=False))


def _in_a_line(name: str) -> str:
    from engine.case.read import read_case

    case = read_case(examples.path_of(name))
    add_d = max(case.wearer.right.add_d or 0.0, case.wearer.left.add_d or 0.0)
    looked_at = ", ".join(target.name for target in case.targets)
    return f"{name:<20}{case.wearer.age_years:g} years, add {add_d:+.2f}: {looked_at}"


def _backup(asked: argparse.Namespace) -> str:
    from engine.files.store import Store
    from engine.files.store_file import StoreMissingError, default_path
    from engine.wording import counted, say

    if not default_path().exists():
        raise StoreMissingError(default_path())
    with Store() as store:
        return say("copy_saved", cases=counted(store.backup(asked.file), "case")) + "\n"


def _restore(asked: argparse.Namespace) -> str:
    from engine.files.output import check_readable
    from engine.files.store import restored

    check_readable(asked.file, field="FILE", most_bytes=LARGEST_COPY_BYTES)
    return restored(asked.file.read_bytes()).words() + "\n"


class _Version(argparse.Action):
    """Print what is installed, and end."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from engine import installed

        _print(installed.told())
        parser.exit()


def _parser(program: str, also: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog=program,
        description="Which lens lets a presbyope see a day of work, clear and with a level head. "
        + also,
        epilog="A refused input ends with status 2 and one line: field, value, allowed range. "
        "Ctrl-C ends with status 130, a request to end with 143; no file is changed then.",
    )
    parser.add_argument(
        "--version", action=_Version, nargs=0, help="tell what is installed, and where cases lie"
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, work, text in (
        ("advise", _advise, "print the whole answer to a case as one JSON object"),
        ("explain", _explain, "print the answer to a case for a person, 80 columns wide"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("case", type=Path, metavar="CASE.json", help="the case, UTF-8 JSON")
        command.set_defaults(run=work)
        if work is _explain:
            text = "then also the papers and judgements this answer rests on, the strongest first"
            command.add_argument("--sources", action="store_true", help=text)
            text = "then also which lens comes first if a little blur is good enough"
            command.add_argument("--good-enough", action="store_true", help=text)
    text = "print the answer to an invented wearer; without a name, list the wearers"
    command = commands.add_parser("example", help=text, description=text)
    command.add_argument("name", nargs="?", metavar="NAME", help="one of the list")
    command.add_argument("--case", action="store_true", help="print the case itself, as JSON")
    command.set_defaults(run=_example)
    add_roster(commands)
    for name, work, text in (
        ("backup", _backup, "save a copy of all kept cases as a file of its own"),
        ("restore", _restore, "bring the cases of a copy back; nothing is overwritten"),
    ):
        command = commands.add_parser(name, help=text, description=text)
        command.add_argument("file", type=Path, metavar="FILE", help="the copy")
        command.set_defaults(run=work)
    return parser
