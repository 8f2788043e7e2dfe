"""How sure: the test against measuring errors, run once the quick answer is on screen."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from app.form import compute
from app.form.compute import Answer
from app.form.fields import guarded
from app.form.html import html
from app.shell import state
from app.shell.page_first import TURNS
from engine.errors import InputRefusedError

WAIT_S = 0.8
"""Rest after a change before the test begins: a person still typing is not made to wait.

Where another session's answer is being tested, this one asks again after the same time.
"""


@dataclass
class _Turn:
    """The fragment draws an empty bar with the page, and tests when it is called again."""

    first: bool = True


def test_when_idle(answer: Answer | None, *, old: bool) -> None:
    """A bar under the answer; it fills while the answer is tested, then the page is drawn anew."""
    if answer is None or old or not can_be_tested(answer):
        _bar(st.empty(), None)
        return
    _test(answer, _Turn())


def can_be_tested(answer: Answer) -> bool:
    """There is a recommendation, and it has not been tested."""
    said = answer.result.recommendation
    return not answer.result.stops and said.plan is not None and said.verdict == "not_computed"


@st.fragment(run_every=WAIT_S)
@guarded
def _test(answer: Answer, turn: _Turn) -> None:
    place = st.empty()
    if turn.first:
        turn.first = False
        _bar(place, None)
        return
    with TURNS.test() as mine:
        _bar(place, 0.0 if mine else None)
        if not mine or not _tested(answer, place):
            return
    st.rerun()


def _tested(answer: Answer, place: object) -> bool:
    def told(done: float) -> None:
        _bar(place, done)
        TURNS.stand_aside()

    try:
        compute.kept_test(state.results(), answer.case, progress=told)
    except InputRefusedError:
        _bar(place, None)  # the full page names the refused value
        return False
    return True


def _bar(place: object, done: float | None) -> None:
    if done is None:
        bar = '<div class="lg-testing"></div>'
    else:
        percent = round(100 * done)
        bar = (
            '<div class="lg-testing" role="progressbar" aria-label="Test against measuring errors" '
            f'aria-valuemin="0" aria-valuemax="100" aria-valuenow="{percent}">'
            f'<i style="width:{percent}%"></i></div>'
        )
    html(bar, place=place)
