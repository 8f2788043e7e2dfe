"""Start the command line: `python -m engine advise CASE.json` and its sisters.

Stops are heeded before anything large is loaded, for loading is most of a short run.
"""

from __future__ import annotations

import sys

from engine import stops, threads

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

REFUSED = 2
"""Exit status of a refusal: one line on standard error, nothing on standard output."""
PROGRAM = "python -m engine"


def start(arguments: Sequence[str] | None = None, *, program: str = PROGRAM, also: str = "") -> int:
    """Run one command as the whole of a process, and return its exit status.

    `program` is what its help calls it, and `also` what else its help says.
    """
    stops.heed()
    threads.keep_to_one()
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]
    status = main(arguments, program=program, also=also)
    stops.too_late()
    return status


def main(arguments: Sequence[str] | None = None, *, program: str = PROGRAM, also: str = "") -> int:
    """Run one command and return its exit status; a stop is told in a sentence."""
    try:
        return _run(arguments, program=program, also=also)
    except BaseException as error:
        how = stops.asked() or (stops.INTERRUPTED if isinstance(error, KeyboardInterrupt) else None)
        if how is None:  # a stop that a module being loaded made an error of is still a stop
            raise
        stops.too_late()
    sys.stderr.write(f"{how.words}\n")
    return how.status


def _run(arguments: Sequence[str] | None, *, program: str, also: str) -> int:
    from engine import commands
    from engine.errors import InputRefusedError, LevelgazeError

    try:
        commands.run(arguments, program=program, also=also)
    except InputRefusedError as error:
        from engine.case.named import field_of, refusal_of

        where = "" if field_of(error.field) == error.field else f" In the file: {error.field}."
        sys.stderr.write(f"{' '.join(refusal_of(error).split())}{where}\n")
        return REFUSED
    except LevelgazeError as error:
        sys.stderr.write(f"{' '.join(str(error).split())}\n")
        return REFUSED
    except OSError as error:
        sys.stderr.write(f"{error.filename or 'a file'}: {error.strerror}\n")
        return REFUSED
    return 0


if __name__ == "__main__":
    sys.exit(start())
