"""End on Ctrl-C, or where the system asks for it: tidy up, say one sentence, print no traceback.

A stop is raised wherever the program happens to be. Compiled modules may swallow it, or turn it
into an error of their own, while they are loaded or call back: so it is remembered, and raised
again until the program is on its way out. Nothing slow to load is imported here.
"""

from __future__ import annotations

import atexit
import signal
import sys
from contextlib import contextmanager

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import FrameType

AGAIN_S = 0.5
"""After so long a stop is raised again if it was swallowed."""


class Stopped(BaseException):
    """Raised where the program is asked to end, so that it tidies up on its way out."""


class Stop:
    """A way to be stopped.

    Attributes:
        status: exit status, as shells know it. words: what is said.
    """

    def __init__(self, status: int, words: str) -> None:
        self.status, self.words = status, words


INTERRUPTED = Stop(130, "Stopped; no file was changed.")
ENDED = Stop(143, "Ended from outside; no file was changed.")


class _State:
    heeded = False
    asked: Stop | None = None
    too_late = False
    held = False


_STATE = _State()


def heed() -> None:
    """Raise Stopped from here on at Ctrl-C and at a request to end; in the main thread only.

    Ctrl-C stays ignored where whoever started the program had it ignored.
    """
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, _on_interrupt)
    signal.signal(signal.SIGTERM, _on_request)
    if hasattr(signal, "SIGALRM"):
        signal.signal(signal.SIGALRM, _raise)
        atexit.register(_disarm)  # an interpreter that ends slowly is killed by an alarm left set
    sys.unraisablehook = _swallowed
    _STATE.heeded = True


def asked() -> Stop | None:
    """Return how the program was asked to stop, if it was in time."""
    return _STATE.asked


def too_late() -> None:
    """Heed no stop from here on: what is asked for is as good as done, and is said to be."""
    if _STATE.heeded:
        _STATE.too_late = True
        _disarm()


def _disarm() -> None:
    """Clear the timer that would raise the stop again."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, 0.0)


@contextmanager
def held_back() -> Iterator[None]:
    """Hold a stop back, and Ctrl-C for good in processes that are started inside.

    A terminal sends it to them as well, and one that is only starting would print a traceback, as
    would one that its parent left half started. Windows knows no mask for those that are starting.
    """
    masked = hasattr(signal, "pthread_sigmask")
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if masked else set()
    _STATE.held = True  # a mask is of one thread, and another may take the signal
    try:
        yield
    finally:
        _STATE.held = False
        if masked:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
    if _STATE.asked is not None and not _STATE.too_late:
        raise Stopped


def _on_interrupt(number: int, frame: FrameType | None) -> None:
    _stop(INTERRUPTED, number, frame)


def _on_request(number: int, frame: FrameType | None) -> None:
    _stop(ENDED, number, frame)


def _stop(how: Stop, number: int, frame: FrameType | None) -> None:
    if not _STATE.too_late:
        _STATE.asked = _STATE.asked or how
        _raise(number, frame)


def _raise(_number: int, _frame: FrameType | None) -> None:
    if _STATE.too_late:
        return
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, AGAIN_S)
    if not _STATE.held and not _on_its_way_out(sys.exc_info()[1]):
        raise Stopped


def _on_its_way_out(error: BaseException | None) -> bool:
    """Tell whether a stop is being handled: what tidies up then is not disturbed."""
    while error is not None:
        if isinstance(error, Stopped):
            return True
        error = error.__context__
    return False


def _swallowed(told: sys.UnraisableHookArgs) -> None:
    """Say what fails where nothing can catch it, but not that a stop did: it comes again."""
    if not isinstance(told.exc_value, Stopped):
        sys.__unraisablehook__(told)
