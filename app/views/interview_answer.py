"""The interview's answer: the line in view, the day bars, the picture, and the folded rest."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app import charts, marks, pictures, scenery, state, telling
from app.compute import Answer
from app.svg import escaped
from app.words import hours
from engine.results import OptionResult


def line_in_view(line: telling.Line | None, *, old: bool, counts: str) -> str:
    """The one line always in view, as HTML; the only live region of the page."""
    if line is None:
        return (
            '<div class="lg-answer lg-empty" role="status"><b class="lg-say">'
            "Type the age and the add: the first answer appears here.</b></div>"
        )
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


def first_look(answer: Answer) -> tuple[OptionResult, list[OptionResult]]:
    """Day bars and the choice of a row; returns the chosen lens and all that are shown."""
    st.header("The day through each lens", anchor=False)
    every = state.shown("view.every", False)
    rows = telling.all_options(answer.result) if every else telling.first_look(answer.result)
    names = [row.option for row in rows]
    key = state.among("view.option", names)
    bars = telling.bars(rows, chosen=state.shown("view.option"))
    st.vega_lite_chart(
        spec=charts.day_bars(bars), theme=None, width="stretch", alt=charts.alt_text(bars)
    )
    st.markdown(marks.key(), unsafe_allow_html=True)
    chosen = st.radio(
        "Look through",
        names,
        key=key,
        format_func=lambda name: telling.option_name(answer.result.option(name)),
        horizontal=True,
    )
    state.keep("view.option", chosen)
    return answer.result.option(chosen), rows


def picture(answer: Answer, option: OptionResult) -> None:
    """The picture to turn towards the wearer: no power is in it."""
    names = [target.name for target in answer.case.targets]
    key = state.among("view.target", names)
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    looked_at = left.selectbox("Looked at in the picture", names, key=key, filter_mode=None)
    state.keep("view.target", looked_at)
    every = right.toggle("Show every kind of lens", key=state.seed("view.every", False))
    state.keep("view.every", every)
    st.markdown(pair_of_views(answer, option, looked_at), unsafe_allow_html=True)


def pair_of_views(answer: Answer, option: OptionResult, looked_at: str) -> str:
    """The head left free beside the head this lens asks for."""
    things = {t.name: scenery.seen(t, case=answer.case) for t in answer.case.targets}
    target = things[looked_at]
    others = tuple(thing for name, thing in things.items() if name != looked_at)
    rows = next(t.rows for t in option.targets if t.target == looked_at)
    centre = next(row for row in rows if row.row == "centre")
    clear = tuple(row.row for row in rows if row.chin_up_deg is not None)
    free = pictures.Posture(
        heading="Head left free",
        chin_up_deg=centre.free_chin_up_deg,
        drawn_deg=centre.free_chin_up_deg,
        chosen=False,
    )
    with_lens = pictures.Posture(
        heading=telling.capital(telling.option_name(option)),
        chin_up_deg=centre.chin_up_deg,
        drawn_deg=centre.free_chin_up_deg,
        clear_rows=clear,
    )
    fit = answer.case.fit
    panels = [
        pictures.side_view(
            target=target,
            others=others,
            posture=posture,
            pantoscopic_deg=fit.pantoscopic_deg,
            lens_depth_cm=fit.lens_depth_mm / 10,
            fitting_height_cm=min(fit.heights_mm) / 10,
            name=name,
        )
        for name, posture in (("side-free", free), ("side-lens", with_lens))
    ]
    return f'<div class="lg-pair">{"".join(panels)}</div>'


def table(caption: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A plain table whose first column names its rows; every cell is escaped."""
    head = "".join(f'<th scope="col">{escaped(heading)}</th>' for heading in headings)
    body = "".join(
        f'<tr><th scope="row">{escaped(row[0])}</th>'
        + "".join(f"<td>{escaped(cell)}</td>" for cell in row[1:])
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="lg-scroll" tabindex="0" role="region" aria-label="{escaped(caption)}">'
        f'<table class="lg-table"><caption>{escaped(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )
