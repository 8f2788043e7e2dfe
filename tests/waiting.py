"""Wait for a condition, looking again and again; never for a time."""

from __future__ import annotations

import time
from collections.abc import Callable

LONGEST_S = 60.0
POLL_S = 0.1
"""Between two looks: without a pause the looks take a core from what is waited for."""


def until(condition: Callable[[], bool], *, seconds: float = LONGEST_S) -> bool:
    """Wait for a condition, and return whether it came about in time."""
    end = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(POLL_S)
    return True
