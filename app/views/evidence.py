"""Evidence: each claim with its source and how sure it is, the judgements, what is left out."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app import state, words
from app.claims import (
    ANY,
    EVERY,
    SURE,
    Row,
    chosen,
    claims,
    counted,
    in_words,
    left_out,
    what_sure_means,
)
from app.svg import escaped
from app.views.interview_answer import table
from engine.tables import rows


def page() -> None:
    """The page from top to bottom."""
    st.title(words.PAGES["evidence"], anchor=False)
    st.markdown(
        '<p class="lg-quiet">What the program rests on, who found it, with how many people, and '
        "how sure that is. Most studies were read as their abstracts; a number that was not seen "
        "says so.</p>",
        unsafe_allow_html=True,
    )
    _claims(rows("evidence"))
    st.header("What the model leaves out", anchor=False)
    st.markdown(left_out(rows("left_out")), unsafe_allow_html=True)
    st.header("Judgements", anchor=False)
    _judgements(rows("judgements"))


def _claims(every: Sequence[Row]) -> None:
    st.header("Claims", anchor=False)
    st.markdown(what_sure_means(), unsafe_allow_html=True)
    left, right = st.columns(2)
    topics = [EVERY, *dict.fromkeys(row["topic"] for row in every)]
    with left:
        topic = st.selectbox(
            "Topic", topics, key=state.among("evidence.topic", topics), filter_mode=None
        )
    with right:
        sure = st.selectbox(
            "How sure",
            [ANY, *SURE],
            key=state.among("evidence.sure", [ANY, *SURE]),
            filter_mode=None,
        )
    state.keep("evidence.topic", topic)
    state.keep("evidence.sure", sure)
    shown = chosen(every, topic=topic, sure=sure)
    st.markdown(
        f'<p class="lg-quiet" role="status">{escaped(counted(shown, len(every)))}</p>',
        unsafe_allow_html=True,
    )
    st.markdown(claims(shown), unsafe_allow_html=True)


def _judgements(every: Sequence[Row]) -> None:
    st.markdown(
        '<p class="lg-quiet">Numbers that were decided rather than measured, or measured and then '
        "decided upon. Each can be changed in the table of judgements; then every answer is "
        "computed with it.</p>",
        unsafe_allow_html=True,
    )
    with st.expander(f"All {len(every)} judgements"):
        listed = [
            (in_words(row["id"]), f"{row['value']} {row['unit']}", row["reason"], row["source"])
            for row in every
        ]
        html = table("Judgements", ("What", "Value", "Why", "Source"), listed)
        st.markdown(html, unsafe_allow_html=True)


page()
