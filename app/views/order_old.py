"""The old pair beside the ordered one: what changes, and a sheet of it."""

from __future__ import annotations

import streamlit as st

from app import order_old
from app.sheets import change_sheet
from app.views.desk_parts import html, listed, quiet
from app.views.interview_answer import table
from app.views.order_fields import OrderFields
from app.views.order_sheets import download
from engine.case import Case
from engine.order_types import Order
from engine.pair_change import OldPair


def fields(asked: OrderFields) -> order_old.Old:
    """What is read from the pair worn so far; nothing of it is needed for the order."""
    with st.expander("The pair worn so far, to compare"):
        asked.text(order_old.POWERS, "Old pair on the lensmeter, R and L")
        left, right = st.columns(2, gap="small", wrap=False)
        asked.text(order_old.CENTRATION, "Old centration R/L (mm)", place=left)
        asked.text(order_old.HEIGHT, "Old fitting height R/L (mm)", place=right)
        asked.text(order_old.TILT, "Old pantoscopic tilt (°)")
        st.caption("Base curve, material and use are compared by hand.")
    return order_old.read_old(asked.answers)


def beside(order: Order, old: OldPair, case: Case, *, stale: bool) -> None:
    """The table of changes, what to do about them, and the sheet."""
    st.header("Old pair and this order", anchor=False)
    changes = order_old.compared(order=order, old=old, case=case)
    notes = order_old.notes(changes, old=old, case=case)
    if notes:
        listed(notes)
    else:
        quiet("Nothing changes by more than the usual: see the table.")
    rows = order_old.change_rows(changes)
    html(table("From the old pair to this order", order_old.HEADINGS, rows))
    if not stale:
        page = change_sheet(changes, notes=notes, reference=order.label)
        download("Sheet of old and new pair", page, order.label, "-change.html")
