"""Downloads of the order page: the order, the wearer's page, a letter with the ticked fields."""

from __future__ import annotations

from datetime import date

import streamlit as st

from app.form import pdf
from app.form.compute import Answer
from app.form.html import quiet
from app.form.paper import download
from app.shell import state
from app.views.order import orders, pairs, which
from app.views.order.sheets import PARTS, order_sheet, prescriber_letter, wearer_page
from engine.case.results import OptionResult, PlanResult
from engine.collection.wearer_page import wearer_sheet
from engine.files import practice
from engine.order.letter import letter_fields, ticked
from engine.order.types import Order
from engine.wording import say


def downloads(
    answer: Answer,
    option: OptionResult,
    order: Order,
    *,
    old: bool,
    plan: PlanResult | None,
    pair: str,
) -> None:
    """Draw the buttons of the sheets, one file each; none while a value is refused."""
    st.header("Sheets", anchor=False)
    if old:
        quiet(say("correct_first", what="the sheets"))
        return
    held = pairs.results(state.results(), pair)
    made = orders.made_option(answer.case, option, order.design, kept=held)
    told = wearer_sheet(case=answer.case, result=answer.result, option=made, plan=plan)
    left, right = st.columns(2)
    with left:
        parts = [
            part
            for part in PARTS
            if _ticked(f"order.part.{part}", f"With {part.lower()}", at_first=True)
        ]
        name = "Order sheet" if order.complete else "Order sheet, not complete"
        page = order_sheet(
            order,
            pair=which.says(plan, pair),
            parts=parts,
            letter_head=practice.usual().letter_head,
            written=date.today(),
        )
        download(name, page, order.label, "-order.html", also_pdf=True)
    with right:
        page = wearer_page(told, case=answer.case, option=made)
        download("Wearer's sheet", page, order.label, "-wearer.html")
    _letter(answer, order)
    if not pdf.is_there():
        quiet(pdf.WANTED)


def _ticked(name: str, label: str, *, at_first: bool) -> bool:
    return bool(state.keep(name, st.checkbox(label, key=state.seed(name, at_first))))


def _letter(answer: Answer, order: Order) -> None:
    """Draw a tick for each field; nothing that is not ticked goes in."""
    with st.expander("Letter to the prescriber: tick what goes in"):
        found = letter_fields(case=answer.case, result=answer.result, order=order)
        chosen = [
            one.id for one in found if _ticked(f"order.letter.{one.id}", one.title, at_first=False)
        ]
        if not chosen:
            quiet(say("order_tick_line_get_letter"))
            return
        page = prescriber_letter(
            ticked(found, chosen=chosen),
            order=order,
            letter_head=practice.usual().letter_head,
            written=date.today(),
        )
        download("Letter to the prescriber", page, order.label, "-letter.html", also_pdf=True)
