"""What is written when the program fails: where, never what was typed."""

from __future__ import annotations

import sys
import traceback
from pathlib import Path


def log(fault: BaseException) -> None:
    """Print the kind of fault and the places it passed through.

    The message and the values are left out: they may hold what a wearer told.
    """
    places = [
        f"{Path(frame.filename).name}:{frame.lineno}"
        for frame in traceback.extract_tb(fault.__traceback__)
    ]
    print(f"fault {type(fault).__name__} at {' < '.join(reversed(places))}", file=sys.stderr)
