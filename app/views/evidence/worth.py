"""Show what each judgement is worth: how far hours and plans move where it is moved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from app.form.html import html, quiet, table
from engine.answer.sources import name_of_judgement, value_of_judgement
from engine.tables import rows
from engine.wording import capital, say

Row = Mapping[str, str]
WORTH_H = 0.5
"""What is worth more than this is shown first, with what is done about it."""
HEADINGS = ("What", "Value", "Range", "Mean, low / high", "Most", "Other plan", "What is done")


def show() -> None:
    """Show the section from its heading to its last row."""
    every = rows("judgement_worth")
    most = [row for row in every if float(row["most_h"]) > WORTH_H]
    rest = [row for row in every if row not in most]
    st.header("What a judgement is worth", anchor=False)
    quiet(say("evidence_each_number_was_moved", cases=every[0]["cases"]))
    html(table("Judgements worth more than half an hour", HEADINGS, listed(most)))
    with st.expander(f"The other {len(rest)}"):
        html(table("Judgements worth half an hour or less", HEADINGS, listed(rest)))


def listed(some: Sequence[Row]) -> list[tuple[str, ...]]:
    """Return the cells of some rows."""
    return [
        (
            capital(name_of_judgement(row["id"])),
            value_of_judgement(row),
            f"{value_of_judgement(row, 'low')} to {value_of_judgement(row, 'high')}",
            f"{_signed(row['changed_low_h'])} / {_signed(row['changed_high_h'])} h",
            f"{row['most_h']} h",
            f"{row['plans_low']} / {row['plans_high']}",
            row["settled"],
        )
        for row in some
    ]


def _signed(text: str) -> str:
    """Return hours with a sign, none for nothing.

    >>> _signed("0.25"), _signed("-0.10"), _signed("0.00")
    ('+0.25', '-0.10', '0.00')
    """
    return f"{float(text):+.2f}" if float(text) else "0.00"
