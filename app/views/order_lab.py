"""The laboratory's own list of designs: the template, the upload, and what is wrong in it."""

from __future__ import annotations

import streamlit as st

from app import order_typed, state, telling
from app.views.desk_parts import html, quiet
from app.views.fields import alert, refusal_words
from app.views.interview_answer import table
from engine import tables
from engine.errors import InputRefusedError
from engine.lab_designs import LabDesign, LabList, read_lab_file, template_csv

HEADINGS = ("row", "column", "value", "rule")
MOST_SHOWN = 40
LARGEST_MB = 1
FORGOTTEN = "order.lab_forgotten"
"""How often this draft forgot a list: each time the uploader starts empty."""


def loaded() -> list[LabDesign]:
    """The list this draft holds."""
    return order_typed.lab_designs(state.held(order_typed.LAB))


def lab_list() -> None:
    """Template and upload; a row with an error is left out and named.

    What is said of a file stands under the folded part, which closes when new fields appear.
    """
    held = loaded()
    with st.expander("Load a laboratory's list"):
        if held:
            quiet(f"Designs loaded: {len(held)}.")
        quiet(
            "This program ships no list: references, degressions and least heights are each "
            "laboratory's own. Fill the template from what yours states. Columns:"
        )
        rows = [[row["id"], row["meaning"], row["rule"]] for row in tables.rows("lab_list_columns")]
        html(table("Columns of the list", ("column", "meaning", "allowed"), rows))
        st.download_button(
            "Template (CSV)",
            template_csv().encode(),
            file_name="laboratory-designs.csv",
            mime="text/csv",
            on_click="ignore",
        )
        given = st.file_uploader(
            "Filled list (CSV)",
            type=["csv"],
            max_upload_size=LARGEST_MB,
            key=state.passing(f"lab {state.results().get(FORGOTTEN, 0)}"),
        )
        if held:
            st.button("Forget the list", on_click=_forget)
    if given is not None:
        _take(given.getvalue())


def _forget() -> None:
    """Forget the list, and the file in the uploader, which would load it again."""
    results = state.results()
    results[FORGOTTEN] = results.get(FORGOTTEN, 0) + 1
    state.put({order_typed.LAB: []})


def _take(content: bytes) -> None:
    try:
        found = read_lab_file(content)
    except InputRefusedError as refusal:
        what = "header: " if refusal.field == "header" else ""
        said = telling.capital(f"{what}{refusal_words(refusal)}")
        html(alert(f"The list was not loaded. {said}. Nothing else changed."))
        return
    rows = order_typed.lab_rows(found.designs)
    if rows and rows != state.held(order_typed.LAB):
        state.keep(order_typed.LAB, rows)
        st.rerun()
    _told(found)


def _told(found: LabList) -> None:
    quiet(f"Designs that can be used: {len(found.designs)}.")
    if not found.errors:
        return
    html(alert(f"Values refused: {len(found.errors)}; their rows are left out."))
    rows = [[str(one.row), one.column, one.value, one.rule] for one in found.errors[:MOST_SHOWN]]
    html(table("Refused values of the list", HEADINGS, rows))
