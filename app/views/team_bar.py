"""A progress bar with the time that is left, and a button that stops the search."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import streamlit as st

from app import state


@contextmanager
def bar(label: str) -> Iterator[Callable[[float, float], None]]:
    """A bar while something is searched; it is gone afterwards.

    label: what a screen reader calls it. Any press on the page stops the search, so does "Stop".
    """
    place = st.empty()
    with place.container():
        drawn = st.empty()
        st.button("Stop", key=state.passing(f"stop {label}"))

    def tell(done: float, seconds_left: float) -> None:
        percent = round(100 * done)
        left = "" if percent in (0, 100) else f", about {max(round(seconds_left), 1)} s left"
        drawn.markdown(
            f'<div role="progressbar" aria-label="{label}" aria-valuemin="0" aria-valuemax="100" '
            f'aria-valuenow="{percent}" style="border:1px solid currentColor;padding:2px">'
            f'<div style="height:10px;width:{percent}%;background:var(--lg-accent)"></div></div>'
            f'<p class="lg-quiet">{percent} % done{left}</p>',
            unsafe_allow_html=True,
        )

    tell(0.0, 0.0)
    yield tell
    place.empty()
