"""Hold everything the program uses of the page library that the library does not promise to keep.

Nothing outside this module names it. Each use has a test that fails when the library changes:
tests/test_streamlit_internals.py, tests/test_settings.py and those of the server in a browser.
The library is imported where it is used, so that this module costs nothing before a page is drawn.
"""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from app.shell import drafts, faults

if TYPE_CHECKING:
    from streamlit.runtime.scriptrunner_utils.script_run_context import ScriptRunContext
    from streamlit.runtime.state.safe_session_state import SafeSessionState
    from streamlit.runtime.uploaded_file_manager import UploadedFile

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
            drafts.BOOK.tidy()
            if runtime.exists():
                leftovers.clear(runtime.get_instance())
        except Exception as fault:
            faults.log(fault)


def keep_uploads_in_memory(*, of_megabytes: int) -> None:
    """Keep files that are given off the disk: by default one over 1 MB would be parked there."""
    from starlette.formparsers import MultiPartParser

    MultiPartParser.spool_max_size = (of_megabytes + 1) * 2**20


class _Looked(Mapping[str, Any]):
    """What a session holds, looked up when asked; the library's own copies all of it first."""

    def __init__(self, session: SafeSessionState) -> None:
        self._session = session

    def __getitem__(self, key: str) -> Any:
        with self._session._lock:
            return self._session._state[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._whole())

    def __len__(self) -> int:
        return len(self._whole())

    def _whole(self) -> dict[str, Any]:
        with self._session._lock:
            return self._session._state.filtered_state


def look_up_keys_as_asked() -> None:
    """Let a field look for its own key alone: the library builds all of the session for each.

    With a hundred fields on a page that was a fifth of the time of every update.
    """
    from streamlit.runtime.state.safe_session_state import SafeSessionState

    SafeSessionState.filtered_state = property(_Looked)


def forget_uploads() -> None:
    """Delete the library's own copy of every file given in this session."""
    context = _context()
    context.uploaded_file_mgr.remove_session_files(context.session_id)


def forget_upload(given: UploadedFile) -> None:
    """Delete the library's own copy of one file, once it is read."""
    context = _context()
    context.uploaded_file_mgr.remove_file(context.session_id, given.file_id)


def _context() -> ScriptRunContext:
    """Return the running session.

    Raises
        RuntimeError: there is none, so nothing can be deleted; silence would be a broken promise.
    """
    from streamlit.runtime.scriptrunner import get_script_run_ctx

    context = get_script_run_ctx(suppress_warning=True)
    if context is None:
        raise RuntimeError("no session of the page library is running here")
    return context


PARTS: list[str] = []
"""The test ids of the library's pages that our style selects by."""


def _part(test_id: str) -> str:
    PARTS.append(test_id)
    return f'[data-testid="{test_id}"]'


MAIN = _part("stMain")
MAIN_BLOCK = _part("stMainBlockContainer")
HEADER = _part("stHeader")
NAVIGATION_LINK = _part("stTopNavLink")
OPEN_NAVIGATION = _part("stExpandSidebarButton")
NAVIGATION = _part("stSidebar")
COLUMNS = _part("stHorizontalBlock")
COLUMN = _part("stColumn")
BLOCK = _part("stVerticalBlock")
WRAPPER = _part("stLayoutWrapper")
ELEMENT = _part("stElementContainer")
TOOLBAR = _part("stElementToolbar")
MARKDOWN = _part("stMarkdownContainer")
PAGE_LINK = _part("stPageLink")
PRIMARY_BUTTON = _part("stBaseButton-primary")
TEXT_FIELD = _part("stTextInput")
SELECT = _part("stSelectbox")
TEXT_FRAME = _part("stTextInputRootElement")
TYPING_HINT = _part("InputInstructions")
RADIO_OPTION = _part("stRadioOption")
CHECKBOX = _part("stCheckbox")
UPLOAD_HINT = _part("stFileUploaderDropzoneInstructions")
MULTISELECT = _part("stMultiSelect")
CHOSEN = _part("stMultiSelectTagsContainer")
SLIDER = _part("stSlider")
CHART = _part("stVegaLiteChart")
