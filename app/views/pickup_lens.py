"""Lensmeter, heights, centration and prism of the finished pair against the order."""

from __future__ import annotations

import streamlit as st

from app import pickup_typed, pickup_words, state
from app.order_words import ZONE_WORDS
from app.pickup_typed import asked_of, widget
from app.svg import escaped
from app.views.desk_parts import html, quiet
from app.views.fields import Fields
from app.views.interview_answer import table
from engine.order_types import SIDES, Order
from engine.tolerances import STANDARDS, Standard
from engine.verify import verify
from engine.verify_types import Readings, Verification

LABELS = {
    "power": "power read",
    "add_d": "add read (D)",
    "prism_up_pd": "prism up, − down (Δ)",
    "prism_in_pd": "prism in, − out (Δ)",
    "centration_mm": "centration (mm)",
    "height_mm": "height (mm)",
}
OFFICE = (
    "An office lens has one reference point. Its laboratory says which power stands there; what "
    "the lens does above it is never read as passed on a lensmeter. The range test below shows it."
)


def lensmeter(fields: Fields, order: Order) -> Verification:
    """Fields at the left, every line with its outcome at the right."""
    st.header("Lensmeter and marks", anchor=False)
    left, right = st.columns([5, 7], gap="large")
    with left:
        standard = _standard(fields)
        if order.kind == "office":
            _verification_fields(fields)
        else:
            zone = ZONE_WORDS[order.eyes[0].powers[0].zone]
            quiet(f"Power and prism are read where the order states them: {zone.lower()}.")
        for name in asked_of(order, order.eyes[0]):
            for side, place in zip(SIDES, st.columns(2, gap="small", wrap=False), strict=True):
                label = f"{side.capitalize()}: {LABELS[name]}"
                fields.text(widget(side, name), label, place=place)
    stated, refused = pickup_typed.with_verification(fields.answers, order)
    read = pickup_typed.read_lenses(fields.answers, order)
    fields.say({**refused, **read.refused})
    found = verify(order=stated, readings=_last_good(read.readings), standard=standard)
    with right:
        _shown(found, office=order.kind == "office", old=bool(refused or read.refused))
    return found


def _standard(fields: Fields) -> Standard:
    state.among("pickup.standard", list(STANDARDS))
    chosen = fields.choice("pickup.standard", "Tolerances", list(STANDARDS))
    return next(one for one in STANDARDS if one == chosen)


def _verification_fields(fields: Fields) -> None:
    quiet(OFFICE)
    for side, place in zip(SIDES, st.columns(2, gap="small", wrap=False), strict=True):
        label = f"{side.capitalize()}: laboratory's verification power"
        fields.text(widget(side, "verification"), label, place=place)


def _last_good(readings: Readings | None) -> Readings:
    kept = state.results()
    if readings is not None:
        kept["readings"] = readings
    found: Readings = kept.get("readings") or Readings()
    return found


def _shown(found: Verification, *, office: bool, old: bool) -> None:
    if old:
        html('<div class="lg-flag">Out of date: the last readings before one was refused.</div>')
    if office:
        quiet("The power change of an office lens is not among the lines that can pass.")
    rows = pickup_words.check_rows(found.checks)
    off = [place for place, row in enumerate(rows) if row[1] == pickup_words.FAILED]
    html(table("Each line against the order", pickup_words.CHECK_HEADINGS, rows, off=off))
    memory = any(one.from_memory for one in found.checks)
    for line in pickup_words.standing_lines(found.checks):
        kind = "lg-flag" if memory else "lg-quiet"
        html(f'<div class="{kind}">{escaped(line)}.</div>')
