"""The interview's answer: the line in view, the day bars, the picture, and the folded rest."""

from __future__ import annotations

import re
from collections.abc import Sequence

import streamlit as st

from app import charts, marks, rows, state, telling
from app.compute import Answer
from app.rows import Row
from app.svg import escaped
from app.words import hours

FIGURE = re.compile(r"[+−-]?\d[\d.,]*( (D|cm|mm|h|%|Δ|×)|°)?")
NO_FIGURE = ("–", "", "hidden", "none")
LG_FIGURE, LG_OFF = ' class="lg-figure"', ' class="lg-off"'


def line_in_view(line: telling.Line | None, *, old: bool, counts: str) -> str:
    """The one line always in view, as HTML; the only live region of the page."""
    if line is None:
        return empty_line("Type the age and the add: the first answer appears here.")
    kinds = ["lg-answer", *(["lg-stop"] if line.stop else []), *(["lg-old"] if old else [])]
    figures = ""
    if line.comfortable_h is not None:
        figures = (
            f'<span class="lg-hours"><strong>{hours(line.comfortable_h)}</strong> of '
            f"{hours(line.day_h)} h comfortable</span>"
        )
    word = "out of date" if old else line.verdict
    return (
        f'<div class="{" ".join(kinds)}" role="status"><b class="lg-say">{escaped(line.says)}</b>'
        f'{figures}<span class="lg-verdict">{escaped(word)}</span>'
        f'<span class="lg-counts">{escaped(counts)}</span></div>'
    )


def empty_line(says: str) -> str:
    """The same line before there is anything to say."""
    return (
        f'<div class="lg-answer lg-empty" role="status"><b class="lg-say">{escaped(says)}</b></div>'
    )


def first_look(answer: Answer) -> tuple[Row, list[Row]]:
    """Day bars and the choice of a row; returns the chosen row and all that are shown."""
    st.header("The day through each lens", anchor=False)
    drawn = st.container()
    key_of_grades, more = st.columns([3, 2], vertical_alignment="center")
    every = more.toggle("Show every kind of lens", key=state.seed("view.every", False))
    state.keep("view.every", every)
    found = rows.all_rows(answer.result) if every else rows.first_look(answer.result)
    by_name = {row.name: row for row in found}
    key = state.among("view.option", list(by_name))
    bars = rows.bars(found, chosen=state.shown("view.option"))
    drawn.vega_lite_chart(
        spec=charts.day_bars(bars), theme=None, width="stretch", alt=charts.alt_text(bars)
    )
    key_of_grades.markdown(marks.key(), unsafe_allow_html=True)
    worn = rows.worn_lines(found)
    if worn:
        items = "".join(f"<li>{escaped(line)}</li>" for line in worn)
        st.markdown(f'<ul class="lg-quiet lg-worn">{items}</ul>', unsafe_allow_html=True)
    chosen = st.radio(
        "Look through",
        list(by_name),
        key=key,
        format_func=lambda name: by_name[name].label,
        horizontal=True,
    )
    state.keep("view.option", chosen)
    return by_name[chosen], found


def table(
    caption: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    off: Sequence[int] = (),
) -> str:
    """A plain table whose first column names its rows; every cell is escaped.

    Columns of figures stand to the right. off: the rows that are to be seen first.
    """
    kinds = ["", *(_kind([row[place] for row in rows]) for place in range(1, len(headings)))]
    head = "".join(
        f'<th scope="col"{kind}>{escaped(heading)}</th>'
        for heading, kind in zip(headings, kinds, strict=True)
    )
    body = "".join(
        f'<tr{LG_OFF if place in off else ""}><th scope="row">{escaped(row[0])}</th>'
        + "".join(
            f"<td{kind}>{escaped(cell)}</td>" for cell, kind in zip(row[1:], kinds[1:], strict=True)
        )
        + "</tr>"
        for place, row in enumerate(rows)
    )
    return (
        f'<div class="lg-scroll" tabindex="0" role="region" aria-label="{escaped(caption)}">'
        f'<table class="lg-table"><caption>{escaped(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _kind(cells: Sequence[str]) -> str:
    """Marks a column of which every cell is one figure, or nothing."""
    figures = [cell for cell in cells if cell not in NO_FIGURE]
    return LG_FIGURE if figures and all(FIGURE.fullmatch(cell) for cell in figures) else ""
