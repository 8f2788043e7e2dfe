"""Show what the program predicted of studies, beside what they found; misses stay."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import streamlit as st

from app.draw import svg
from app.draw.svg import escaped
from app.form.html import html, quiet
from app.shell import theme
from engine.tables import by_id, rows
from engine.units import round_half_up
from engine.wording import say, uncapital

Row = Mapping[str, str]
VERDICTS = {
    "inside": "the predicted interval holds what was found",
    "overlaps": "it does not, but the two intervals meet",
    "outside": "they do not meet, or the study printed no interval",
}
REGIMES = {
    "held work": "Held work: what the program is about",
    "reading": "Reading a page",
    "glances": "Short glances: what the program is not about",
}
_WIDE, _HIGH, _MARGIN = 320.0, 40.0, 6.0
_SCALES = {"degrees": (-5.0, 35.0)}
"""Ends of the axis of a unit; 0 to 100 for shares."""
_NONE = "-"


def show() -> None:
    """Show the section from its heading to its last row."""
    every = rows("trials")
    st.header("Predicted and found", anchor=False)
    quiet(say("evidence_program_predicts_what_others"))
    quiet(say("evidence_posture_meant_one_people"))
    html(f'<p class="lg-quiet">{_key()}</p>')
    html(f'<p class="lg-quiet" role="status">{escaped(counted(every))}</p>')
    for regime, heading in REGIMES.items():
        st.subheader(heading, anchor=False)
        html(listed([row for row in every if row["regime"] == regime]))
    for text in limits():
        quiet(text)


def counted(every: Sequence[Row]) -> str:
    """Return how many outcomes of how many studies came out how."""
    found = Counter(row["verdict"] for row in every)
    parts = ", ".join(f"{found[verdict]} {verdict}" for verdict in VERDICTS)
    studies = len({row["source"] for row in every})
    return f"{len(every)} outcomes of {studies} studies: {parts}"


def limits() -> tuple[str, ...]:
    """Return how leaning is drawn, and what is not in the table."""
    lean_cm = float(by_id("measuring_errors")["lean"]["spread"])
    return (
        say("evidence_program_takes_wearer_was", lean_cm=f"{lean_cm:g}"),
        say("evidence_not_table_near_far"),
    )


def listed(every: Sequence[Row]) -> str:
    """Return outcomes as a list, the largest study first, each as a picture and in words."""
    most_first = sorted(every, key=lambda row: -int(row["people"].split()[0]))
    return f'<ul class="lg-claims">{"".join(map(_outcome, most_first))}</ul>'


def _outcome(row: Row) -> str:
    miss = "" if row["verdict"] == "inside" else f" What the miss may mean: {row['a_miss_means']}"
    return (
        f'<li><p class="lg-claim">{escaped(row["what"])} '
        f'<span class="lg-sure">{escaped(row["verdict"])}</span></p>'
        f'{picture(row)}<p class="lg-found">{escaped(said(row) + miss)}</p>'
        f'<p class="lg-from">{escaped(_from(row))}</p></li>'
    )


def _from(row: Row) -> str:
    return say(
        "evidence_read_not_said_there",
        people=row["people"],
        read=row["read"],
        not_said=uncapital(row["does_not_say"]),
        source=row["source"],
    )


def said(row: Row) -> str:
    """Return what was predicted and found, in words.

    >>> said({"unit": "%", "predicted": "82.1", "predicted_low": "66.4", "predicted_high": "93.0",
    ...     "found": "84.0", "found_low": "78.1", "found_high": "88.5", "found_interval": "of 190"})
    'Predicted 82 % (66 to 93); found 84 % (78 to 89; of 190).'
    """
    predicted, low, high = (
        _whole(row[name], row["unit"]) for name in ("predicted", "predicted_low", "predicted_high")
    )
    unit = row["unit"]
    return f"Predicted {predicted} {unit} ({low} to {high}); found {_found(row)}."


def _found(row: Row) -> str:
    value, low, high = (
        _whole(row[name], row["unit"]) for name in ("found", "found_low", "found_high")
    )
    unit, how = row["unit"], row["found_interval"]
    if value == _NONE:
        ends = f"{low} to {high} {unit}" if high != _NONE else "more than none"
        return f"{ends} ({how})"
    between = "" if low == _NONE else f"{low} to {high}; "
    return f"{value} {unit} ({between}{how})"


def _whole(text: str, unit: str) -> str:
    """Return a figure as it is read: whole shares, angles to a half."""
    if text == _NONE:
        return text
    return f"{round_half_up(float(text), step=0.5 if unit == 'degrees' else 1.0) + 0.0:g}"


def picture(row: Row) -> str:
    """Return both intervals on one axis, as SVG; the words beside it say the same."""
    low, high = _SCALES.get(row["unit"], (0.0, 100.0))

    def at(name: str, *, open_end: float) -> float:
        value = open_end if row[name] == _NONE else float(row[name])
        share = (min(max(value, low), high) - low) / (high - low)
        return _MARGIN + share * (_WIDE - 2.0 * _MARGIN)

    start, end = at("predicted_low", open_end=low), at("predicted_high", open_end=high)
    middle = at("predicted", open_end=low)
    unit = row["unit"].removeprefix("points of ")
    parts = [
        svg.line((_MARGIN, 27.0), (_WIDE - _MARGIN, 27.0), stroke=theme.RULE),
        *(
            svg.words(
                f"{value:g} {unit}", x=x, y=38.0, size=11.0, anchor=anchor, fill=theme.SOFT_INK
            )
            for value, x, anchor in (
                (low, 0.0, "start"),
                (high, _WIDE, "end"),
            )
        ),
        svg.line((start, 8.0), (max(end, start + 2.0), 8.0), stroke=theme.ACCENT, width=8.0),
        svg.line((middle, 2.0), (middle, 14.0), stroke=theme.PAPER, width=2.0),
    ]
    if row["found_low"] != _NONE or row["found_high"] != _NONE:
        ends = at("found_low", open_end=low), at("found_high", open_end=high)
        parts.append(svg.line((ends[0], 20.0), (ends[1], 20.0), width=2.0))
    if row["found"] != _NONE:
        parts.append(f'<circle cx="{svg.number(at("found", open_end=low))}" cy="20" r="4.5"/>')
    return (
        f'<svg aria-hidden="true" viewBox="0 0 {_WIDE:g} {_HIGH:g}" fill="{theme.INK}" '
        f'style="display:block;width:100%;max-width:26rem">{"".join(parts)}</svg>'
    )


def _key() -> str:
    """Return the marks of a picture and the words of a verdict."""
    verdicts = "; ".join(f"<b>{escaped(word)}</b>: {escaped(VERDICTS[word])}" for word in VERDICTS)
    return say("evidence_thick_bar_predicted_middle", verdicts=verdicts)
