"""One core for a while."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def pinned() -> Iterator[None]:
    """This process on one core, and what it starts meanwhile; set back afterwards.

    Where the system cannot say which core (not Linux), nothing is done.
    """
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)
