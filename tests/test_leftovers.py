"""When a session or a file goes: with the clock in hand, and the library's own file manager."""

from __future__ import annotations

from types import SimpleNamespace as Some

import pytest
from streamlit.runtime.media_file_manager import MediaFileManager
from streamlit.runtime.memory_media_file_storage import MemoryMediaFileStorage

from app.shell.internals import CLOSED_TAB_S, UNUSED_S, UNUSED_WHILE_DRAWN_S, Leftovers

FIRST, SECOND = "first", "second"


class World:
    """Sessions by name, each with one file; only the file manager is the library's."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.active, self.away, self.closed = [FIRST, SECOND], [], []
        self.drawn: set[str] = set()
        self.storage = MemoryMediaFileStorage("/media")
        self.media_file_mgr = MediaFileManager(self.storage)
        self._session_mgr = Some(
            list_active_sessions=lambda: [self._shown(one) for one in self.active],
            _session_storage=Some(list=lambda: [self._shown(one) for one in self.away]),
        )
        self.leftovers = Leftovers(clock=lambda: self.now_s)

    def _shown(self, name: str) -> Some:
        state = "APP_IS_RUNNING" if name in self.drawn else "APP_NOT_RUNNING"
        return Some(session=Some(id=name, _state=Some(name=state)))

    def close_session(self, name: str) -> None:
        self.away.remove(name)
        self.closed.append(name)

    def offer(self, name: str, content: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
        where = "streamlit.runtime.media_file_manager._get_session_id"
        monkeypatch.setattr(where, lambda: name)
        self.media_file_mgr.add(content, "text/plain", "1", is_for_static_download=True)

    def after(self, seconds: float) -> int:
        """Let time pass and clear; return how many files are left."""
        self.now_s += seconds
        self.leftovers.clear(self)
        return len(self.storage._files_by_id)


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    made = World()
    made.offer(FIRST, b"one", monkeypatch)
    made.offer(SECOND, b"two", monkeypatch)
    return made


def test_what_open_tabs_offer_stays(world: World) -> None:
    assert world.after(0) == world.after(3600) == 2


def test_a_tab_that_comes_back_in_time_keeps_its_session(world: World) -> None:
    world.active.remove(FIRST)
    world.away.append(FIRST)
    assert world.after(0) == world.after(CLOSED_TAB_S - 0.1) == 2
    world.away.remove(FIRST)
    world.active.append(FIRST)
    assert world.after(1) == 2
    world.active.remove(FIRST)
    world.away.append(FIRST)
    world.after(0)
    assert world.after(CLOSED_TAB_S - 0.1) == 2
    assert world.closed == []


def test_a_tab_that_stays_away_loses_its_session_and_its_file(world: World) -> None:
    world.active.remove(FIRST)
    world.away.append(FIRST)
    world.after(0)
    world.after(CLOSED_TAB_S)
    assert world.closed == [FIRST]
    world.after(0)
    assert world.after(UNUSED_S) == 1


def test_a_file_taken_off_the_page_goes_and_one_offered_again_stays(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    world.media_file_mgr.clear_session_refs(FIRST)
    world.media_file_mgr.clear_session_refs(SECOND)
    assert world.after(0) == world.after(UNUSED_S - 0.1) == 2
    world.offer(SECOND, b"two", monkeypatch)
    assert world.after(0.1) == 1
    assert [one.content for one in world.storage._files_by_id.values()] == [b"two"]


def test_while_a_page_is_drawn_its_files_wait_but_not_for_ever(world: World) -> None:
    world.drawn.add(FIRST)
    world.media_file_mgr.clear_session_refs(FIRST)
    world.after(0)
    assert world.after(UNUSED_WHILE_DRAWN_S - 0.1) == 2
    assert world.after(0.1) == 1


def test_a_file_of_a_session_that_nobody_knows_goes(world: World) -> None:
    world.active.remove(FIRST)
    world.after(0)
    assert world.after(UNUSED_S) == 1
