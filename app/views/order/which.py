"""Ask which of two pairs the page is about, and lead each to a lens of its own."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app.form.html import quiet
from app.shell import state
from app.views.order import pairs
from engine.case.results import OptionResult, PlanResult

WORDS = {"1": "pair 1", "2": "pair 2"}
OWN = (
    "Pair 2 has its own frame, measures, order, readings and sheets. The Interview's frame is that "
    "of pair 1."
)


def pair() -> str:
    """The pair in view, the same on the Order and the Collection page."""
    key = state.among(pairs.IN_VIEW, pairs.PAIRS)
    chosen = st.radio("Pair", pairs.PAIRS, key=key, format_func=WORDS.get, horizontal=True)
    if chosen == "2":
        quiet(OWN)
    return str(state.keep(pairs.IN_VIEW, chosen))


def leading(choices: Sequence[OptionResult], pair: str) -> str:
    """The lens a pair starts with: pair two starts with one that pair one does not have."""
    names = [one.option for one in choices]
    if pair == "1":
        return names[0]
    first = state.held("order.option") or names[0]
    return next((name for name in names if name != first), names[0])


def frame_of_pair_one() -> None:
    """A button that takes the measured frame of pair one over, where pair two has none yet."""
    values = state.answers()
    found = pairs.same_frame(values)
    if found and not any(values.get(name) for name in found):
        st.button("Take the frame of pair 1", on_click=state.put, args=(found,))


def says(plan: PlanResult | None, pair: str) -> str:
    """Which pair of how many, for the laboratory; nothing where there is one."""
    new = 0 if plan is None else plan.new_pairs
    if pair == "1" and new < 2:
        return ""
    return f"Pair {pair} of 2."
