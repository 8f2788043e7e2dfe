"""Pieces of text the Desk page is made of; every word is escaped."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app.draw.svg import escaped


def html(text: str) -> None:
    """Our own HTML, made of escaped words."""
    st.markdown(text, unsafe_allow_html=True)


def quiet(text: str) -> None:
    """A paragraph."""
    html(f'<p class="lg-quiet">{escaped(text)}</p>')


def listed(lines: Sequence[str]) -> None:
    """Sentences one under the other."""
    items = "".join(f"<li>{escaped(text)}</li>" for text in lines)
    html(f'<ul class="lg-quiet">{items}</ul>')
