"""Whose turn it is among the sessions of this process: a page someone waits for goes first.

The test against measuring errors takes several times as long as a page. Run for each session at
once, tests would take the processor from every page; so one runs at a time, and it stands aside
while a page is drawn.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

LONGEST_ASIDE_S = 1.0
"""A test that stood aside so long goes on: a busy hour delays tests, it does not stop them."""


class Turns:
    """Pages being drawn, and the one test that may run behind them."""

    def __init__(self) -> None:
        self._pages = 0
        self._change = threading.Condition()
        self._test = threading.Lock()

    @contextmanager
    def page(self) -> Iterator[None]:
        """Hold this while something is drawn that a person waits for."""
        with self._change:
            self._pages += 1
        try:
            yield
        finally:
            with self._change:
                self._pages -= 1
                self._change.notify_all()

    @contextmanager
    def test(self) -> Iterator[bool]:
        """Whether a test may begin now; no other begins until this one is left."""
        mine = self._test.acquire(blocking=False)
        try:
            yield mine
        finally:
            if mine:
                self._test.release()

    def stand_aside(self) -> None:
        """Wait, between two steps of a test, until no page is being drawn."""
        with self._change:
            self._change.wait_for(lambda: not self._pages, timeout=LONGEST_ASIDE_S)


TURNS = Turns()
"""The one of this process."""
