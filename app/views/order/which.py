"""Ask which of two pairs the page is about, and lead each to a lens of its own."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app.form.case_of_answers import EXTENSIONS
from app.form.html import quiet
from app.form.pair_records import ORDERS
from app.form.plan_taken import SECOND_BY_HAND
from app.shell import state
from app.views.order import pairs
from engine.case.results import OptionResult, PlanResult
from engine.wording import say

WORDS = {"1": "pair 1", "2": "pair 2"}


def pair(plan: PlanResult | None) -> str:
    """Return the pair in view, the same on Order and Collection; ask where there are two.

    plan: the one in view.
    """
    if not _is_two(plan):
        return pairs.PAIRS[0]
    key = state.among(pairs.IN_VIEW, pairs.PAIRS)
    chosen = st.radio("Pair", pairs.PAIRS, key=key, format_func=WORDS.get, horizontal=True)
    if chosen == "2":
        quiet(say("order_own_frame"))
    return str(state.keep(pairs.IN_VIEW, chosen))


def _is_two(plan: PlanResult | None) -> bool:
    """Tell whether the plan has two new pairs, or a second one was begun or is kept."""
    if plan is not None and plan.new_pairs > 1:
        return True
    values, begun = state.answers(), tuple(pairs.SECOND.values())
    kept = (values.get(EXTENSIONS) or {}).get(ORDERS["2"])
    names = (name for name in values if name != SECOND_BY_HAND)
    return bool(kept) or values.get(pairs.IN_VIEW) == "2" or any(n.startswith(begun) for n in names)


def second_pair(plan: PlanResult | None) -> None:
    """Draw a button that begins a second pair, where there is one only."""
    if not _is_two(plan):
        st.button("Order a second pair too", on_click=state.put, args=({pairs.IN_VIEW: "2"},))


def leading(choices: Sequence[OptionResult], pair: str) -> str:
    """Return the lens a pair starts with: pair two starts with one that pair one does not have.

    Nor does it start with a visible line for a wearer who has not accepted one.
    """
    names = [one.option for one in choices]
    if pair == "1":
        return names[0]
    first = state.held("order.option") or names[0]
    others = [one for one in choices if one.option != first]
    liked = [one for one in others if "line_not_accepted" not in one.excluded_by]
    return next((one.option for one in (*liked, *others)), names[0])


def frame_of_pair_one() -> None:
    """Draw a button that takes over the measured frame of pair one, where pair two has none."""
    values = state.answers()
    found = pairs.same_frame(values)
    if found and not any(values.get(name) for name in found):
        st.button("Take the frame of pair 1", on_click=state.put, args=(found,))


def says(plan: PlanResult | None, pair: str) -> str:
    """Return which pair of how many, for the laboratory; nothing where there is one."""
    new = 0 if plan is None else plan.new_pairs
    if pair == "1" and new < 2:
        return ""
    return f"Pair {pair} of 2."
