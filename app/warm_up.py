"""What happens between the start of the server and the first page."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import importlib
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from typing import Any

from app.shell import internals, words
from engine.threads import cores

WARMED_MODULES = ["altair", "pandas", "app.draw.charts", "app.draw.side_view", "engine.assemble"]
"""Imported before anyone asks, so that the first page opens at once."""
FIRST_PAGE = threading.Event()
"""Set once a page was drawn to its end."""
LONGEST_S = 10.0
"""Loading the search takes a second of a core: not while the first page opens, if one does."""


def announcing(
    *, entry: str, hand_on: Callable[[], bool] | None
) -> Callable[[Any], AbstractAsyncContextManager[None]]:
    """Return a server start that prints the address and warms the engine in the background.

    `hand_on` opens the browser, beside the server, which it needs.
    """

    @asynccontextmanager
    async def lifespan(_app: Any) -> AsyncIterator[None]:
        threading.Thread(target=warm_up, name="warm-up", daemon=True).start()
        print(words.serving(entry=entry), flush=True)
        if hand_on is not None:
            threading.Thread(target=_handed, args=[hand_on], name="hand-on", daemon=True).start()
        clearing = asyncio.create_task(internals.clear_leftovers(), name="clear-leftovers")
        try:
            yield
        finally:
            clearing.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await clearing

    return lifespan


def _handed(hand_on: Callable[[], bool]) -> None:
    if not hand_on():
        print(words.NO_BROWSER, flush=True)


def warm_up() -> None:
    """Import what the pages need and answer one invented case.

    A failure here is not hidden: the page that needs the module fails with the same error.
    """
    for name in WARMED_MODULES:
        importlib.import_module(name)
    from app.form import case_of_answers, compute, questions
    from engine.kernel import compiled

    FIRST_PAGE.wait(LONGEST_S)
    compiled.share_among(cores())
    compiled.load()  # where it is installed: an answer then takes a quarter of the time
    example = case_of_answers.ask(questions.EXAMPLE).case
    if example is not None:
        compute.answer(example)
    settle()


def settle() -> None:
    """Leave what is loaded by now out of every later search for garbage.

    The page library searches all objects after every run of a page, which took 65 ms, more than
    the answer; modules and tables never become garbage.
    """
    gc.collect()
    gc.freeze()
