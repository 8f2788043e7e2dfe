"""The pair on the face: the range test at a mock desk, and the crosses before the pupils."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app import pickup_typed, pickup_words, state
from app.pickup_typed import ENDS, taped_widget, widget
from app.svg import escaped
from app.views.desk_parts import html, listed, quiet
from app.views.fields import Fields
from app.views.interview_answer import table
from engine.as_worn import WornEffect, worn_effect
from engine.case import Case
from engine.order_types import SIDES, Order
from engine.results import OptionResult
from engine.tables import Judgements
from engine.verify_range import compare_range, range_steps

END_LABELS = {"nearest_cm": "nearest clear (cm)", "farthest_cm": "farthest clear (cm)"}
CROSS_LABELS = {
    "below_mm": "cross below pupil, − above (mm)",
    "right_mm": "cross to the wearer's right, − left (mm)",
}
CROSS_HOW = (
    "Marks on, frame adjusted, head as usual, eyes level. Zero where the cross stands before the "
    "pupil. The eye that loses more hours stands for both."
)


def range_test(fields: Fields, case: Case, option: OptionResult, order: Order) -> None:
    """One place after the other; both taped ends against the computed range."""
    st.header("Range test at a mock desk", anchor=False)
    if order.kind == "office":
        quiet("For an office lens this is the only check of its power change.")
    steps = range_steps(case=case, option=option, judgements=Judgements.standard())
    if not steps:
        quiet("Nothing near is clear through this lens on the record, so there is nothing to tape.")
    for number, step in enumerate(steps):
        quiet(f"{number + 1}. {pickup_words.step_words(step)}")
        left, right = st.columns([5, 7], gap="large")
        places = left.columns(2, gap="small", wrap=False)
        for name, place in zip(ENDS, places, strict=True):
            label = f"{plain(step.target)}: {END_LABELS[name]}"
            fields.text(taped_widget(number, name), label, place=place)
        taped, refused = pickup_typed.read_taped(fields.answers, number)
        fields.say(refused)
        found = compare_range(
            step=step, nearest_cm=taped.get("nearest_cm"), farthest_cm=taped.get("farthest_cm")
        )
        with right:
            for one in found:
                kind = "lg-done" if one.agrees else "lg-flag"
                html(f'<div class="{kind}">{escaped(pickup_words.finding_words(one))}</div>')


def plain(text: str) -> str:
    """A name inside a label, without whatever could be Markdown."""
    return "".join(letter if letter not in "[]()<>*_`~$#!|\\" else " " for letter in text)


def crosses(fields: Fields, case: Case, option: OptionResult, order: Order) -> None:
    """The pupil against the cross by eye, and what it does to the day."""
    st.header("As worn: cross before the pupil", anchor=False)
    left, right = st.columns([5, 7], gap="large")
    with left:
        quiet(CROSS_HOW)
        for name, label in CROSS_LABELS.items():
            for side, place in zip(SIDES, st.columns(2, gap="small", wrap=False), strict=True):
                fields.text(widget(side, name), f"{side.capitalize()}: {label}", place=place)
    both, refused = pickup_typed.read_crosses(fields.answers)
    fields.say(refused)
    with right:
        effect = _effect(case, option, order, both, refused=bool(refused))
        if effect is None:
            quiet("Type where the crosses stand; a field left empty counts as zero.")
        else:
            _shown(effect, case, old=bool(refused))


def _effect(
    case: Case, option: OptionResult, order: Order, both: Any, *, refused: bool
) -> WornEffect | None:
    """Computed once for the same crosses; the last good one where a value is refused."""
    kept = state.results()
    if refused:
        return kept["worn"][1] if "worn" in kept else None
    if both is None:
        kept.pop("worn", None)
        return None
    asked = (case, order.option, order.design, both)
    if "worn" not in kept or kept["worn"][0] != asked:
        right, left = both
        effect = worn_effect(case=case, option=option, right=right, left=left, design=order.design)
        kept["worn"] = (asked, effect)
    found: WornEffect = kept["worn"][1]
    return found


def _shown(effect: WornEffect, case: Case, *, old: bool) -> None:
    if old:
        html('<div class="lg-flag">Out of date: the last crosses before one was refused.</div>')
    within = "Within 1 mm." if effect.within_tolerance else "More than 1 mm off."
    html(f'<p class="lg-next"><b>{escaped(within)}</b></p>')
    quiet(pickup_words.worn_line(effect, day_h=case.day_h))
    rows = pickup_words.worn_rows(effect)
    html(table("What it does to each thing looked at", pickup_words.WORN_HEADINGS, rows))
    html('<p class="lg-quiet"><b>Adjust before any remake</b></p>')
    listed(effect.advice)
