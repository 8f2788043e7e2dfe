"""Keep the case on this computer: the small panel of the Interview, and what it has to tell."""

from __future__ import annotations

import streamlit as st

from app.draw.svg import escaped
from app.form import keep
from app.form.compute import Answer
from app.form.fields import PAUSE
from app.form.html import alert, html, listed, quiet
from app.form.keep import LABEL, NEWS, Clash
from app.shell import state, words
from engine.errors import InputRefusedError
from engine.files.store_file import StoreError
from engine.wording import capital, say

TYPED = "keep.label"
_CLASH, _TROUBLE = "keep_clash", "keep_trouble"


def kept_words(answer: Answer | None, *, old: bool) -> str:
    """Say whether the answers are kept, in the line in view; nothing until kept once."""
    held = state.answers()
    if not held.get(LABEL):
        return ""
    return keep.kept_words(held, None if old or answer is None else answer.case)


def panel(answer: Answer | None, *, old: bool) -> None:
    """Draw a label, a button, and the state in words."""
    held, results = state.answers(), state.results()
    case = answer.case if answer is not None and not old else None
    with st.container(border=True, key="keep"):
        st.subheader("Keep this case", anchor=False)
        key = state.seed(TYPED, held.get(LABEL) or "")
        left, right = st.columns([3, 2], vertical_alignment="bottom")
        label = left.text_input(
            "Label of your choice, no name needed", key=key, live=PAUSE, autocomplete="off"
        )
        state.keep(TYPED, label)
        right.button(
            "Save",
            key="keep-save",
            type="primary",
            width="stretch",
            disabled=case is None,
            on_click=_save,
            args=(answer, TYPED),
        )
        said = keep.kept_words(held, case)
        also = f"Case {held[LABEL]}: " if held.get(LABEL) else ""
        html(f'<p class="lg-kept">{escaped(capital(also + said))}.</p>')
        if case is None:
            none = say("keep_needs_answer")
            st.caption(none if answer is None else say("correct_first", what="the case"))
        if results.get(_TROUBLE):
            html(alert(results[_TROUBLE]))
        if answer is not None and results.get(_CLASH):
            _clash(answer, results[_CLASH])
        st.page_link("views/cases/page.py", label=words.OPEN_CASES)


def _clash(answer: Answer, clash: Clash) -> None:
    """Offer to save on top or as a copy: another session was ahead, and both cases stay."""
    html(alert(f"{clash.label}: {clash.sentence}"))
    left, right = st.columns(2)
    on_top = "Save as a new case again" if clash.found is None else "Save mine on top"
    left.button(on_top, width="stretch", on_click=_save_on_top, args=(answer, clash))
    right.button("Save mine as a copy", width="stretch", on_click=_save_copy, args=(answer, clash))
    quiet(f"The copy is called {clash.free}.")


def _save(answer: Answer, field: str) -> None:
    _keep(answer, label=str(state.shown(field)))


def _save_on_top(answer: Answer, clash: Clash) -> None:
    if clash.found is None:
        state.put({keep.REVISION: None})
    _keep(answer, label=clash.label, on_top_of=clash.found)


def _save_copy(answer: Answer, clash: Clash) -> None:
    _keep(answer, label=clash.free)


def _keep(answer: Answer, *, label: str, on_top_of: int | None = None) -> None:
    results = state.results()
    results.pop(_CLASH, None)
    results.pop(_TROUBLE, None)
    try:
        found = keep.save(answer, label=label, held=state.answers(), on_top_of=on_top_of)
    except (InputRefusedError, StoreError) as error:
        results[_TROUBLE] = keep.trouble(error)
        return
    if isinstance(found, Clash):
        results[_CLASH] = found
        return
    state.put({**found, TYPED: found[LABEL]})


def news() -> None:
    """Say what to know of the case just opened: other numbers, parts left aside."""
    lines: list[str] = state.held(NEWS) or []
    if not lines:
        return
    with st.container(border=True, key="news"):
        first, *rest = lines
        quiet(first)
        if rest:
            listed(rest)
        st.button("Read", key="news-read", on_click=state.put, args=({NEWS: []},))
