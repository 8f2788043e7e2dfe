"""Kept cases: find, open, compare, copy, hand on, delete; and open a file."""

from __future__ import annotations

import streamlit as st

from app import keeping, state, words
from app.views import case_file, case_parts
from app.views.fields import PAUSE, alert
from app.views.interview_answer import table
from engine.store import Entry, Store
from engine.store_file import StoreError


def page() -> None:
    """The list at the left with the file below it, the chosen case at the right."""
    st.title(words.PAGES["cases"], anchor=False)
    left, right = st.columns([5, 7], gap="large")
    entry = None
    with left:
        case_parts.told()
        try:
            entry = _list()
        except StoreError as error:
            _html(alert(keeping.trouble(error)))
        case_file.open_a_file()
    with right:
        if entry is not None:
            case_parts.chosen(entry)


def _list() -> Entry | None:
    """Search, one page of what is found, and the choice of a case."""
    st.header("On this computer", anchor=False)
    search = st.text_input(
        "Search the labels", key=state.seed("cases.search", ""), live=PAUSE, autocomplete="off"
    )
    state.keep("cases.search", search)
    with Store() as store:
        everything, total = store.count(), store.count(search=search)
        first = min(int(state.held("cases.first") or 0), max(total - 1, 0))
        found = store.entries(search=search, offset=first, limit=keeping.MOST_LISTED)
    if not found:
        nothing = (
            "No case is kept yet: the Interview keeps one."
            if not everything
            else (f"None of the {everything} kept cases has this in its label.")
        )
        _html(f'<p class="lg-quiet">{nothing}</p>')
        return None
    rows = [
        [entry.label, keeping.when_words(entry.saved_at), str(entry.revision)] for entry in found
    ]
    caption = f"{first + 1} to {first + len(found)} of {total}, the last saved first"
    _html(table(caption, ["label", "saved", "saves"], rows))
    if total > len(found):
        _turn(first, total)
    labels = [entry.label for entry in found]
    chosen = st.selectbox("Case", labels, key=state.among("cases.chosen", labels), filter_mode=None)
    state.keep("cases.chosen", chosen)
    return found[labels.index(chosen)]


def _turn(first: int, total: int) -> None:
    left, right = st.columns(2)
    for place, label, to in (
        (left, "Later saved", first - keeping.MOST_LISTED),
        (right, "Earlier saved", first + keeping.MOST_LISTED),
    ):
        place.button(
            label,
            width="stretch",
            disabled=not 0 <= to < total,
            on_click=state.put,
            args=({"cases.first": max(to, 0)},),
        )


def _html(text: str) -> None:
    st.markdown(text, unsafe_allow_html=True)


page()
