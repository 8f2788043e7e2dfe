"""Pieces of HTML that several pages show. Every word in them is escaped.

The only module that hands HTML to the page library.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import streamlit as st

from app.draw.result_words import Line
from app.draw.svg import escaped
from app.form import decimal_sign, tied
from engine.case.results import Result
from engine.wording import hours, say

FIGURE = re.compile(r"[+−-]?\d[\d.,]*( (D|cm|mm|h|%|Δ|×)|°)?")
NO_FIGURE = ("–", "", "hidden", "none")
LG_FIGURE, LG_LONG, LG_OFF = ' class="lg-figure"', ' class="lg-long"', ' class="lg-off"'
MANY_COLUMNS, LONG_CELL = 5, 40
"""A table of so many columns is wider than a phone; a cell of so many letters needs room there."""


def html(text: str, *, place: Any = st) -> None:
    """Show our own HTML, made of escaped words and drawings.

    st.html takes the title and the description out of a drawing, and fills that are patterns.

    place: where to show it; below what was drawn last if not given.
    """
    place.markdown(decimal_sign.shown(tied.with_units(text)), unsafe_allow_html=True)


def picture(svg_text: str, *, style: str = "") -> None:
    """Show one drawing on paper, as wide as a lens is drawn unless a style says otherwise."""
    kind = f'lg-picture" style="{style}' if style else "lg-picture lg-lens"
    html(f'<div class="{kind}">{svg_text}</div>')


def quiet(text: str) -> None:
    """Show a paragraph in the small type of explanations."""
    html(f'<p class="lg-quiet">{escaped(text)}</p>')


def flag(text: str) -> None:
    """Show a line that says with what care to read what follows."""
    html(f'<div class="lg-flag">{escaped(text)}</div>')


def listed(lines: Sequence[str], *, title: str = "") -> None:
    """Show sentences one under the other, under a title in bold where there is one."""
    items = "".join(f"<li>{escaped(text)}</li>" for text in lines)
    head = f'<p class="lg-quiet"><b>{escaped(title)}</b></p>' if title else ""
    html(f'{head}<ul class="lg-quiet">{items}</ul>')


def stopped(result: Result) -> None:
    """Show what stops everything, in full, the same on every page."""
    said = "".join(f"<p>{escaped(stop.text)}</p>" for stop in result.stops)
    html(f'<div class="lg-stopped"><p>{say("stopped_lead")}</p>{said}</div>')


def alert(said: str, *, field: str = "") -> str:
    """Return a line that a screen reader says at once.

    field: the name of the field it is about, so that a link leads there.
    """
    at = f' id="{anchor(field)}" tabindex="-1"' if field else ""
    return f'<div class="lg-refused" role="alert"{at}>{escaped(said)}</div>'


def anchor(name: str) -> str:
    """Return the id of the place under a field, which a link on the same page leads to.

    >>> anchor("papers.distance_cm")
    'at-papers-distance_cm'
    """
    return "at-" + re.sub(r"\W", "-", name)


def line_in_view(
    line: Line | None, *, old: bool, counts: str, mend: Sequence[tuple[str, str]] = ()
) -> str:
    """Return the one line that stays in view while a page is scrolled; it is a live region.

    old: a value is refused, so the line is that of the last good answer.
    counts: small print at its end, such as how many values were measured.
    mend: the refused fields of this page, each with what is said of its value.
    """
    mended = _mended(mend)
    if line is None:
        return empty_line(say("line_empty"), mended)
    kinds = ["lg-answer", *(["lg-stop"] if line.stop else []), *(["lg-old"] if old else [])]
    figures = ""
    if line.comfortable_h is not None:
        figures = (
            f'<span class="lg-hours"><strong>{hours(line.comfortable_h)}</strong> of '
            f"{hours(line.day_h)} h comfortable</span>"
        )
    word = "out of date" if old else line.verdict
    small = "; ".join(filter(None, [line.counts, counts]))
    return (
        f'<div class="{" ".join(kinds)}" role="status"><b class="lg-say">{escaped(line.says)}</b>'
        f'{figures}<span class="lg-verdict">{escaped(word)}</span>'
        f'<span class="lg-counts">{escaped(small)}</span>{mended}</div>'
    )


def _mended(mend: Sequence[tuple[str, str]]) -> str:
    """Return the first refusal with a link to its field, and how many more there are."""
    if not mend:
        return ""
    name, said = mend[0]
    more = f" And {len(mend) - 1} more." if len(mend) > 1 else ""
    link = f' <a href="#{anchor(name)}" target="_self">Go to the field</a>' if name else ""
    return f'<span class="lg-mend">{escaped(said)}{link}{escaped(more)}</span>'


def empty_line(says: str, mended: str = "") -> str:
    """Return the same line before there is anything to say.

    mended: HTML on what must be typed anew first.
    """
    return (
        f'<div class="lg-answer lg-empty" role="status"><b class="lg-say">{escaped(says)}</b>'
        f"{mended}</div>"
    )


def table(
    caption: str,
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    off: Sequence[int] = (),
) -> str:
    """Return a plain table whose first column names its rows; every cell is escaped.

    Columns of figures are set to the right. In a table that a phone scrolls sideways a column of
    sentences is not squeezed to one word a line. off: places of the rows to be seen first.
    """
    many = len(headings) >= MANY_COLUMNS
    columns = ([row[place] for row in rows] for place in range(1, len(headings)))
    kinds = ["", *(_kind(cells, many=many) for cells in columns)]
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
    return scrolled(
        caption,
        f'<table class="lg-table"><caption>{escaped(caption)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>",
    )


def scrolled(name: str, inner: str) -> str:
    """Return a region of a width that cannot give way, reached and moved by keyboard."""
    return (
        f'<div class="lg-scroll" tabindex="0" role="region" aria-label="{escaped(name)}">'
        f"{inner}</div>"
    )


def _kind(cells: Sequence[str], *, many: bool) -> str:
    """Return the class of a column: every cell is one figure, or sentences among many columns."""
    figures = [cell for cell in cells if cell not in NO_FIGURE]
    if figures and all(FIGURE.fullmatch(cell) for cell in figures):
        return LG_FIGURE
    return LG_LONG if many and any(len(cell) > LONG_CELL for cell in cells) else ""
