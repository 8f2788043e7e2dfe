"""How sure the answer is, and the wearer's own focusing taped in place of the averages."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app import compute, desk_words, ranges, state
from app.compute import Answer
from app.views.desk_parts import listed, quiet
from app.views.fields import Fields
from engine.case import Case, MeasuredRange
from engine.case_input import allowed_range
from engine.errors import InputRefusedError
from engine.results import Result

TEST = "Test the answer against measuring errors"
NOT_TESTED = (
    "The answer stands on measurements that are each a little wrong. The test takes all of them "
    "wrong by their usual errors, 300 times, and counts how often the recommended pair is still "
    "the best."
)
LABELS = {
    "trial_add_d": "Trial added power (D)",
    "nearest_clear_cm": "Nearest clear (cm)",
    "farthest_clear_cm": "Farthest clear (cm)",
    "text_arcmin": "Text of the test (arcmin)",
}
HOW = (
    "Over the distance prescription, put a known added power before both eyes. Move small print "
    "in until it is just clear without effort, then out until it just stops being clear; tape both "
    "distances from the bridge of the nose. The two distances give the focusing that is left and "
    "the blur this wearer accepts. The tape is taken to be 1 cm off either way."
)


def how_sure(answer: Answer) -> Result:
    """The verdict in words; a button runs the test. Returns the most thorough result there is."""
    st.header("How sure", anchor=False)
    place = st.empty()
    if answer.result.recommendation.verdict == "not_computed":
        if not place.button(TEST, key="desk-test"):
            quiet(NOT_TESTED)
            return answer.result
        answer = _run(place, answer.case)
    listed(desk_words.sure_lines(answer.case, answer.result))
    return answer.result


def _run(place: st.delta_generator.DeltaGenerator, case: Case) -> Answer:
    """The test with its progress."""
    bar = place.progress(0.0, text="Trying other measurements")

    def told(done: float) -> None:
        bar.progress(min(1.0, done), text=f"Trying other measurements: {100 * done:.0f} %")

    found = compute.kept_test(state.results(), case, progress=told)
    place.empty()
    return found


def calibration(case: Case) -> None:
    """Taped ranges: the fields, what they say, and whether the answer uses them."""
    st.header("The wearer's own focusing, taped", anchor=False)
    with st.expander("Tape the nearest and the farthest clear distance", expanded=_typed()):
        quiet(HOW)
        fields = Fields()
        shown = min(ranges.MOST, _whole(case) + 1)
        for number in range(shown):
            _fields(fields, number)
        reading = ranges.read(fields.answers, case)
        fields.say({name: _with_range(name, one) for name, one in reading.refused.items()})
        for taped in reading.taped:
            which = f"Range {taped.number + 1}: " if shown > 1 else ""
            quiet(which + ranges.fitted_words(taped))
        for number in reading.unfinished:
            quiet(f"Range {number + 1} needs its power and both distances.")
        if reading.taped:
            state.seed(ranges.USED, True)
            fields.tick(ranges.USED, "Use these in place of the averages")
        quiet(ranges.used_words(ranges.into_case(case, fields.answers)))


def shown_ranges() -> dict[str, Any]:
    """What the fields of the ranges show now: the draft learns it only when they are drawn."""
    names = [
        ranges.widget(number, name) for number in range(ranges.MOST) for name in ranges.READERS
    ]
    return {name: state.shown(name) for name in names} | {
        ranges.USED: state.shown(ranges.USED, True)
    }


def _typed() -> bool:
    return any(state.held(ranges.widget(0, name)) for name in ranges.NEEDED)


def _whole(case: Case) -> int:
    """How many ranges, from the first on, can be used: one more is asked for."""
    usable = [taped.number for taped in ranges.read(shown_ranges(), case).taped]
    return next(number for number in range(ranges.MOST + 1) if number not in usable)


def _fields(fields: Fields, number: int) -> None:
    columns = st.columns(2, gap="small", wrap=False) + st.columns(2, gap="small", wrap=False)
    again = "" if number == 0 else f", range {number + 1}"
    for place, (name, label) in zip(columns, LABELS.items(), strict=True):
        assumed = 10 if name == "text_arcmin" else None
        fields.text(ranges.widget(number, name), label + again, assumed=assumed, place=place)


def _with_range(widget: str, refusal: InputRefusedError) -> InputRefusedError:
    """The refusal with the allowed range of its field, where it does not name it already."""
    name = widget.rsplit(".", 1)[-1]
    limits = allowed_range(MeasuredRange.model_fields[name])
    if limits in refusal.allowed:
        return refusal
    allowed = f"{refusal.allowed} ({limits})"
    return InputRefusedError(field=refusal.field, value=refusal.value, allowed=allowed)
