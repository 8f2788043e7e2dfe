"""Keep the sums of a process on one thread.

The library of linear algebra under numpy starts a thread for each core. The matrices here are small
(79 unknowns): its threads wait for each other, and the first answer of a process took three times
the processor time and twice the time by the clock.
"""

from __future__ import annotations

import os

NAMES = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What such libraries read when numpy is loaded."""


def keep_to_one() -> None:
    """Ask for one thread in this process and those it starts; called before numpy is loaded."""
    os.environ.update(dict.fromkeys(NAMES, "1"))


def cores() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
