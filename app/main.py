"""The frame every page stands in: title, look, navigation, what is said about the draft."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app.shell import faults, state, style, words

VIEWS = Path(__file__).with_name("views")


def pages() -> list[st.Page]:
    """The pages whose file exists, in the order of the work."""
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
    news = state.notice()
    if news:
        st.info(words.DRAFT_DELETED if news == "deleted" else words.DRAFT_EXPIRED)
    if state.changed_elsewhere():
        with st.container(border=True):
            st.markdown(words.DRAFT_CHANGED)
            left, right = st.columns(2)
            left.button(words.SHOW_THEIRS, on_click=state.show_theirs, width="stretch")
            right.button(words.KEEP_MINE, on_click=state.keep_mine, width="stretch")


st.set_page_config(page_title=words.PROGRAM, layout="wide", initial_sidebar_state="collapsed")
st.html(style.STYLE)
chosen = st.navigation(pages(), position="top")
state.begin()
state.turn_to(chosen.url_path)
say_draft_news()
try:
    chosen.run()
except Exception as fault:
    faults.log(fault)
    st.error(words.FAULT)
