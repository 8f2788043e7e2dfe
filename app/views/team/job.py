"""A search in a thread of its own, so that it goes on while the page is drawn anew.

What is found is kept by the draft alone. A job that nobody holds any more (the answers were
deleted, the draft ran out) stops at its next step and forgets what it was given.
"""

from __future__ import annotations

import threading
import time
import weakref
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

T = TypeVar("T")
Tell = Callable[[float], None]
"""Told the share of the work that is done, 0 to 1."""


class _StoppedError(Exception):
    """Nobody waits for the rest."""


@dataclass
class _State(Generic[T]):
    """What the thread and the page share.

    first: when the first step was done, and its share; it is slower than those that follow.
    """

    first: tuple[float, float] | None = None
    done: float = 0.0
    left_s: float | None = None
    found: T | None = None
    error: BaseException | None = None
    stop: threading.Event = field(default_factory=threading.Event)
    ended: threading.Event = field(default_factory=threading.Event)


class Job(Generic[T]):
    """One search that is going on.

    >>> job = Job(lambda tell: tell(1.0) or 7)
    >>> job.wait(60.0), job.result()
    (True, 7)
    """

    def __init__(self, work: Callable[[Tell], T]) -> None:
        """Begin. work: told how to say how far it is; it ends where that raises."""
        self._state: _State[T] = _State()
        weakref.finalize(self, self._state.stop.set)
        threading.Thread(
            target=_run, args=(work, self._state), name="team search", daemon=True
        ).start()

    @property
    def done(self) -> float:
        """Return the share of the work that is done."""
        return self._state.done

    @property
    def left_s(self) -> float | None:
        """Return seconds left by the pace since the first step; None before the second."""
        return self._state.left_s

    @property
    def has_ended(self) -> bool:
        """Tell whether there is a result, or will be none."""
        return self._state.ended.is_set()

    def wait(self, most_s: float) -> bool:
        """Wait for the end, so long at most; whether it came."""
        return self._state.ended.wait(most_s)

    def stop(self) -> None:
        """End at the next step."""
        self._state.stop.set()

    def result(self) -> T:
        """Return what was found, or raise what went wrong; only once it has ended."""
        if self._state.error is not None:
            raise self._state.error
        found = self._state.found
        assert found is not None, "it has ended"
        return found


def _run(work: Callable[[Tell], T], state: _State[T]) -> None:
    """Do the work; it holds the state but not the job, which may be gone meanwhile."""

    def tell(done: float) -> None:
        if state.stop.is_set():
            raise _StoppedError
        state.done = done
        now = time.monotonic()
        if state.first is None:
            state.first = now, done
        elif done > state.first[1]:
            at, share = state.first
            state.left_s = (now - at) * (1.0 - done) / (done - share)

    try:
        state.found = work(tell)
    except BaseException as error:
        state.error = error
    finally:
        state.ended.set()
