"""Whose turn it is: pages first, one test behind them, and garbage searches that stay short."""

from __future__ import annotations

import gc
import threading
import time

import pytest

from app import warm_up
from app.shell import page_first
from app.shell.page_first import Turns

SOON_S = 5.0
"""Far longer than a thread needs to be woken, on a busy machine."""


def test_one_test_at_a_time_and_the_next_once_it_is_left():
    these = Turns()
    with these.test() as mine:
        assert mine
        with these.test() as second:
            assert not second
        with these.test() as third:  # being refused a turn gives up nobody's
            assert not third
    with these.test() as again:
        assert again


def test_a_test_that_fails_leaves_its_turn():
    these = Turns()
    with pytest.raises(ZeroDivisionError), these.test():
        _ = 1 / 0
    with these.test() as mine:
        assert mine


def test_a_test_stands_aside_while_a_page_is_drawn_and_no_longer(monkeypatch):
    monkeypatch.setattr(page_first, "LONGEST_ASIDE_S", SOON_S)
    these, went_on = Turns(), threading.Event()

    def step() -> None:
        these.stand_aside()
        went_on.set()

    with these.page():
        with these.page():
            thread = threading.Thread(target=step)
            thread.start()
            assert not went_on.wait(0.1)
        assert not went_on.wait(0.1)  # one of the two pages is still being drawn
    assert went_on.wait(SOON_S)
    thread.join()


def test_a_page_that_fails_is_no_longer_waited_for(monkeypatch):
    monkeypatch.setattr(page_first, "LONGEST_ASIDE_S", SOON_S)
    these = Turns()
    with pytest.raises(ZeroDivisionError), these.page():
        _ = 1 / 0
    began = time.monotonic()
    these.stand_aside()
    assert time.monotonic() - began < SOON_S / 2


def test_a_test_goes_on_although_pages_never_cease(monkeypatch):
    monkeypatch.setattr(page_first, "LONGEST_ASIDE_S", 0.05)
    these = Turns()
    with these.page():
        began = time.monotonic()
        these.stand_aside()
        assert 0.04 <= time.monotonic() - began < SOON_S


def test_what_is_loaded_is_left_out_of_later_searches_for_garbage():
    try:
        warm_up.settle()
        assert gc.get_freeze_count() > 0
        kept = len(gc.get_objects())
        assert kept < gc.get_freeze_count()
    finally:
        gc.unfreeze()
