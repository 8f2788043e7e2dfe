"""What a running program printed: nothing failed in it, though every page looked well."""

from __future__ import annotations

import re
from collections.abc import Iterable

FAULT = re.compile(r"\bfault \w+ at |\bTraceback\b")
"""The line of app/shell/faults.py, after whatever a log puts before it; or Python's own."""


def faults_in(said: Iterable[str]) -> list[str]:
    """Return the lines that tell of a fault."""
    return [line for line in "".join(said).splitlines() if FAULT.search(line)]
