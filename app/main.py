"""The frame every page stands in: title, look, navigation, what is said about the draft."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app import warm_up
from app.shell import faults, internals, state, style, words

VIEWS = Path(__file__).with_name("views")
NEWS = {
    "deleted": words.DRAFT_DELETED,
    "expired": words.DRAFT_EXPIRED,
    "too late": words.TOO_LATE,
}


def pages() -> list[st.Page]:
    """Return the pages whose file exists, in the order of the work."""
    return [
        st.Page(
            VIEWS / name / "page.py",
            title=title,
            url_path=name,
            default=name == "interview",
        )
        for name, title in words.PAGES.items()
        if (VIEWS / name / "page.py").exists()
    ]


def say_draft_news() -> None:
    """Tell what happened to the draft behind the address, and let the reader settle it."""
    if news := state.notice():
        st.info(NEWS[news])
    if state.can_bring_back():
        _offer_back()
    if state.changed_elsewhere():
        with st.container(border=True):
            st.markdown(words.DRAFT_CHANGED)
            left, right = st.columns(2)
            left.button(words.SHOW_THEIRS, on_click=state.show_theirs, width="stretch")
            right.button(words.KEEP_MINE, on_click=state.keep_mine, width="stretch")


def _offer_back() -> None:
    with st.container(border=True, key="bring-back"):
        said, back, gone = st.columns([3, 1, 1], vertical_alignment="center")
        said.markdown(words.BROUGHT_BACK)
        back.button(words.BRING_BACK, on_click=state.bring_back, width="stretch")
        gone.button(words.FORGET_NOW, on_click=state.forget_aside, width="stretch")


internals.look_up_keys_as_asked()
st.set_page_config(page_title=words.PROGRAM, layout="wide", initial_sidebar_state="collapsed")
st.html(style.STYLE)
chosen = st.navigation(pages(), position="top")
state.begin()
state.turn_to(chosen.url_path)
st.html(style.menu_shuts(chosen.url_path), unsafe_allow_javascript=True)
say_draft_news()
trouble = st.container()
try:
    chosen.run()
except Exception as fault:
    faults.log(fault)
    with trouble:
        st.error(words.FAULT)
        if state.can_take_back():
            st.button(words.TAKE_BACK, key="take-back", on_click=state.take_back)
else:
    state.went_well()
    warm_up.FIRST_PAGE.set()
