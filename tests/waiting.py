"""Wait for a condition, looking again and again; never for a time."""

from __future__ import annotations

import time
from collections.abc import Callable

LONGEST_S = 60.0
POLL_S = (0.02, 0.1)
"""Between the first two looks, and at most: a pause leaves a core to what is waited for."""


def until(condition: Callable[[], bool], *, seconds: float = LONGEST_S) -> bool:
    """Wait for a condition, and return whether it came about in time."""
    end = time.monotonic() + seconds
    pause, longest = POLL_S
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(pause)
        pause = min(1.5 * pause, longest)
    return True
