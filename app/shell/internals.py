"""What is done with parts of the page library that it does not offer for use, in one place."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Callable
from typing import Any

from app.shell import faults

VARIABLES = "STREAMLIT_"
"""How the names of its variables begin."""
LOOK_EVERY_S = 1.0
CLOSED_TAB_S = 5.0
"""A tab that lost its connection is waited for so long; then its session and its files go."""
UNUSED_S = 1.5
"""A file that no page offers any more stays so long, for a page drawn anew offers most again."""
UNUSED_WHILE_DRAWN_S = 20.0
"""The same while some page is being drawn."""


def read_no_settings_of_others() -> None:
    """Let the page library read no settings file and no variable: only what it is given counts."""
    from streamlit import config

    for name in [name for name in os.environ if name.upper().startswith(VARIABLES)]:
        del os.environ[name]
    config.get_config_files = lambda file_name: []  # noqa: ARG005


def redraw_other_tabs() -> None:
    """Have every other open tab draw its page anew, so that none offers what was just deleted."""
    from streamlit import runtime
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    here = get_script_run_ctx()
    if here is None or not runtime.exists():
        return
    running = runtime.get_instance()

    def redraw() -> None:
        for one in running._session_mgr.list_active_sessions():
            if one.session.id != here.session_id:
                one.session.request_rerun(one.session._client_state)

    running._get_async_objs().eventloop.call_soon_threadsafe(redraw)


class Leftovers:
    """Sessions of closed tabs, and files that no page offers any more, and since when."""

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._sessions: dict[str, float] = {}
        self._files: dict[str, float] = {}

    def clear(self, runtime: Any) -> None:
        """End sessions whose tab has been away for long enough, and drop files no page offers."""
        sessions = runtime._session_mgr
        away = {one.session.id for one in sessions._session_storage.list()}
        for name in self._due(self._sessions, away, CLOSED_TAB_S):
            runtime.close_session(name)
        active = sessions.list_active_sessions()
        known = away | {one.session.id for one in active}
        drawing = any(one.session._state.name == "APP_IS_RUNNING" for one in active)
        files = runtime.media_file_mgr
        for name in set(files._files_by_session_and_coord) - known:
            files.clear_session_refs(name)
        with files._lock:
            unused = files._get_inactive_file_ids()
            due = self._due(self._files, unused, UNUSED_WHILE_DRAWN_S if drawing else UNUSED_S)
            for name in due:
                files._delete_file(name)

    def _due(self, since: dict[str, float], names: set[str], after_s: float) -> list[str]:
        now = self._clock()
        for name in set(since) - names:
            del since[name]
        for name in names:
            since.setdefault(name, now)
        return [name for name, began in since.items() if now - began >= after_s]


async def clear_leftovers() -> None:
    """Clear what closed tabs and deleted cases leave behind, until the program stops."""
    from streamlit import runtime

    leftovers = Leftovers()
    while True:
        await asyncio.sleep(LOOK_EVERY_S)
        try:
            if runtime.exists():
                leftovers.clear(runtime.get_instance())
        except Exception as fault:
            faults.log(fault)
