"""Check the finished pair: focimeter readings, heights, centration, and the pair on the face."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import Fields
from app.form.html import flag, html, listed, quiet, table
from app.shell import state
from app.views.collection import typed_pair
from app.views.collection import words as collection_words
from app.views.collection.typed_pair import ENDS, asked_of, taped_widget, widget
from engine.case.model import Case
from engine.case.results import OptionResult
from engine.collection.as_worn import WornEffect, worn_effect
from engine.collection.mock_desk import STRAIGHT_AHEAD, RangeStep, compare_range
from engine.collection.tolerances import STANDARDS, Standard
from engine.collection.verify import Readings, Verification, verify
from engine.files import practice
from engine.lenses.kinds import KINDS
from engine.order.types import SIDES, ZONE_WORDS, Order
from engine.wording import capital, say

LABELS = {
    "power": "power read",
    "add_d": "add read (D)",
    "prism_up_pd": "base up (+) or down (−), Δ",
    "prism_in_pd": "base in (+) or out (−), Δ",
    "centration_mm": "centration (mm)",
    "height_mm": "height (mm)",
}


def focimeter(
    fields: Fields, order: Order, kept: dict[str, Any], before: Mapping[str, Any]
) -> Verification:
    """Show fields at the left, lines with their outcome at the right; open until all have passed.

    kept: where what was last good of this pair is kept. before: what was typed when it is drawn.
    """
    stated, _ = typed_pair.with_verification(before, order)
    so_far = verify(
        order=stated,
        readings=typed_pair.read_lenses(before, order)[0] or Readings(),
        standard=before.get("collection.standard") or STANDARDS[0],
    )
    with fields.drawer("Focimeter and marks", is_next=so_far.outcome != "accept"):
        return _focimeter(fields, order, kept)


def _focimeter(fields: Fields, order: Order, kept: dict[str, Any]) -> Verification:
    left, right = st.columns([5, 7], gap="large")
    with left:
        standard = _standard(fields)
        if KINDS[order.kind].has_degression:
            quiet(say("collection_office_reference"))
            _both_eyes(fields, "verification", "laboratory's verification power")
        else:
            zone = ZONE_WORDS[order.eyes[0].powers[0].zone]
            quiet(say("collection_read_power_prism_where", zone=zone))
        for name in asked_of(order, order.eyes[0]):
            _both_eyes(fields, name, LABELS[name])
    stated, refused = typed_pair.with_verification(fields.answers, order)
    readings, unread = typed_pair.read_lenses(fields.answers, order)
    fields.say({**refused, **unread})
    found = verify(order=stated, readings=_last_good(readings, kept), standard=standard)
    with right:
        _shown(found, office=KINDS[order.kind].has_degression, old=bool(refused or unread))
    return found


def _standard(fields: Fields) -> Standard:
    usual = practice.usual().tolerances
    standards = sorted(STANDARDS, key=lambda one: one != usual)
    state.among(fields.naming("collection.standard"), standards)
    chosen = fields.choice("collection.standard", "Tolerances", standards)
    return next(one for one in STANDARDS if one == chosen)


def _both_eyes(fields: Fields, name: str, label: str) -> None:
    for side, place in zip(SIDES, st.columns(2, gap="small", wrap=False), strict=True):
        fields.text(widget(side, name), f"{capital(side)}: {label}", place=place)


def _last_good(readings: Readings | None, kept: dict[str, Any]) -> Readings:
    if readings is not None:
        kept["readings"] = readings
    found: Readings = kept.get("readings") or Readings()
    return found


def _shown(found: Verification, *, office: bool, old: bool) -> None:
    if old:
        flag(say("out_of_date", what="readings"))
    if office:
        quiet(say("note_degression"))
    rows = collection_words.check_rows(found.checks)
    off = [place for place, row in enumerate(rows) if row[1] == collection_words.FAILED]
    html(table("Each line against the order", collection_words.CHECK_HEADINGS, rows, off=off))
    memory = any(one.from_memory for one in found.checks)
    for line in collection_words.standing_lines(found.checks):
        kind = "lg-flag" if memory else "lg-quiet"
        html(f'<div class="{kind}">{escaped(line)}.</div>')


END_LABELS = {"nearest_cm": "nearest clear (cm)", "farthest_cm": "farthest clear (cm)"}
CROSS_LABELS = {
    "below_mm": "fitting cross below (+) or above (−) the pupil, mm",
    "right_mm": "fitting cross to the wearer's right (+) or left (−), mm",
}
PLACE_LABELS = {
    "below_mm": "{mark} below (+) or above (−) its ordered place, mm",
    "right_mm": "{mark} right (+) or left (−) of its ordered place as worn, mm",
}
"""For a lens without a fitting cross: it is ordered below the pupil, so it is not to be at 0."""
MARKS = {"optical_centre": "optical centre", "line": "segment top"}
CROSS_HOW = say("collection_cross_how")


def range_test(
    fields: Fields, order: Order, steps: Sequence[RangeStep]
) -> dict[str, dict[str, float]]:
    """Return one place after the other; both taped ends against the computed range.

    Returns the taped ends by target, which a complaint need not ask again.
    """
    at_targets: dict[str, dict[str, float]] = {}
    if KINDS[order.kind].has_degression:
        quiet(say("collection_for_office_lens_only"))
    if not steps:
        quiet(say("collection_nothing_measure_nothing_near"))
    for number, step in enumerate(steps):
        quiet(f"{number + 1}. {collection_words.step_words(step)}")
        left, right = st.columns([5, 7], gap="large")
        places = left.columns(2, gap="small", wrap=False)
        asked = ENDS if step.near_cm is not None else ENDS[1:]
        for name, place in zip(asked, places, strict=False):
            label = f"{plain(step.target)}: {END_LABELS[name]}"
            fields.text(taped_widget(number, name), label, place=place)
        taped, refused = typed_pair.read_taped(fields.answers, number)
        fields.say(refused)
        if taped and step.target != STRAIGHT_AHEAD:
            at_targets[step.target] = taped
        found = compare_range(
            step=step, nearest_cm=taped.get("nearest_cm"), farthest_cm=taped.get("farthest_cm")
        )
        with right:
            for one in found:
                kind = "lg-done" if one.agrees else "lg-flag"
                html(f'<div class="{kind}">{escaped(collection_words.finding_words(one))}</div>')
    return at_targets


def plain(text: str) -> str:
    """Return a name inside a label, without whatever could be Markdown."""
    return "".join(letter if letter not in "[]()<>*_`~$#!|\\" else " " for letter in text)


def mark_of(order: Order) -> str:
    """Return what of a lens is compared with the pupil: it has a fitting cross, or none."""
    return MARKS.get(KINDS[order.kind].height_reference or "", "fitting cross")


def place_labels(order: Order) -> dict[str, str]:
    """Return the labels of the two fields of an eye, by what the lens is ordered to."""
    mark = mark_of(order)
    labels = PLACE_LABELS if mark in MARKS.values() else CROSS_LABELS
    return {name: label.format(mark=mark) for name, label in labels.items()}


def how_words(order: Order) -> str:
    """Say how to compare it; an optical centre and a segment are ordered below the pupil."""
    mark, drop_mm = mark_of(order), order.eyes[0].height.below_pupil_mm
    if mark not in MARKS.values() or drop_mm is None:
        return CROSS_HOW
    return say("collection_place_how", mark=mark, drop=f"{drop_mm:.1f}")


def crosses(
    fields: Fields, case: Case, option: OptionResult, order: Order, kept: dict[str, Any]
) -> None:
    """Draw the pupil against the fitting cross by eye, and what it does to the day."""
    left, right = st.columns([5, 7], gap="large")
    with left:
        quiet(how_words(order))
        for name, label in place_labels(order).items():
            _both_eyes(fields, name, label)
    both, refused = typed_pair.read_crosses(fields.answers)
    fields.say(refused)
    with right:
        effect = _effect(case, option, order, both, kept, refused=bool(refused))
        if effect is None:
            quiet(say("collection_type_where_each_empty", mark=mark_of(order)))
        else:
            _effects(effect, case, old=bool(refused))


def _effect(
    case: Case,
    option: OptionResult,
    order: Order,
    both: Any,
    kept: dict[str, Any],
    *,
    refused: bool,
) -> WornEffect | None:
    """Return what the crosses do, computed once for the same ones.

    Where a value is refused, the last good effect; None where no crosses were read.
    """
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


def _effects(effect: WornEffect, case: Case, *, old: bool) -> None:
    if old:
        flag(say("out_of_date", what="places"))
    within = "Within 1 mm." if effect.within_tolerance else say("collection_more_than_mm_off")
    html(f'<p class="lg-next"><b>{escaped(within)}</b></p>')
    quiet(collection_words.worn_line(effect, day_h=case.day_h))
    rows = collection_words.worn_rows(effect)
    html(table("What it does to each thing looked at", collection_words.WORN_HEADINGS, rows))
    html('<p class="lg-quiet"><b>Adjust before any remake</b></p>')
    listed(effect.advice)
