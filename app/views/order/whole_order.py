"""The order on the page: what is missing first, then every number, right before left."""

from __future__ import annotations

import streamlit as st

from app.draw.svg import escaped
from app.form.html import flag, html, listed, quiet, table
from app.views.order import words as order_words
from engine.order.types import Order
from engine.wording import capital, say

BEFORE = "Before it can be sent"


def whole_order(order: Order, *, old: bool) -> None:
    """Draw the whole order in words and tables."""
    st.header("The order", anchor=False)
    with st.container():  # however much is in it, the parts below keep their place and stay open
        if old:
            flag(say("out_of_date", what="order"))
        _missing(order)
    quiet(f"{order_words.lens_words(order)} {order_words.made_words(order)}")
    html(
        table(
            "Lenses, right before left",
            order_words.EYE_HEADINGS,
            order_words.eye_rows(order, targets=True),
        )
    )
    off = [place for place, one in enumerate(order.checks) if one.passed is False]
    with st.expander("Frame, checks, manufacture and glazing", expanded=bool(off)):
        rows = order_words.frame_rows(order)
        html(table("Frame and position of wear", order_words.FRAME_HEADINGS, rows))
        rows = order_words.check_rows(order)
        html(table("Checks", order_words.CHECK_HEADINGS, rows, off=off))
        if lines := order_words.making_lines(order):
            listed(lines, title="Making")
    if order.notes or order.cautions:
        count = len(order.notes) + len(order.cautions)
        with st.expander(f"Notes and cautions: {count}", expanded=bool(order.cautions)):
            listed([capital(line) for line in (*order.notes, *order.cautions)])


def _missing(order: Order) -> None:
    failing = [("Fails", one.says) for one in order.checks if one.passed is False]
    lines = [*failing, *((capital(gap.missing), gap.why) for gap in order.missing)]
    if lines:
        items = "".join(f"<li><b>{escaped(what)}</b>: {escaped(why)}.</li>" for what, why in lines)
        html(f'<p class="lg-next"><b>{BEFORE}</b></p><ul class="lg-quiet">{items}</ul>')
