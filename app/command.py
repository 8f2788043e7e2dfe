"""`levelgaze`: the pages in the browser, or a command of the engine, by one name.

Nothing large is loaded here, so that a command heeds a stop from the start.
"""

from __future__ import annotations

import sys

from engine.__main__ import start

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

PROGRAM = "levelgaze"
PAGES = (
    "Without a command it opens the pages in your browser; --port PORT asks for another port "
    "than 8610, --home for the home check alone. home-file OUT.html writes the home check."
)

OWN = ("--port", "--home", "home-file")
"""What the pages read of a command line; all else is for the engine."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Open the pages where no command is named, else run the command; return the exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given and not given[0].startswith(OWN):
        return start(given, program=PROGRAM, also=PAGES)
    from app.__main__ import main as pages

    opens = [] if given[:1] == ["home-file"] else ["--open"]
    return pages([*given, *opens], program=PROGRAM)
