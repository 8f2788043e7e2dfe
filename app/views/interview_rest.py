"""What stands below the answer: the next question, the optician's details, the draft's foot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from app import asking, figures, lens_map, pictures, scenery, state, telling, words
from app.compute import Answer
from app.lens_picture import lens_picture
from app.next_question import next_question
from app.rows import Row
from app.svg import escaped
from app.views.fields import alert
from app.views.interview_answer import table
from app.words import GRADE_MEANING
from engine.results import OptionResult, Result
from engine.workstation import declination_deg, free_chin_up_deg

ANY_AGE = "50"
"""The desk is drawn before the age is told; no geometry depends on it."""
STOPPED = "Stop. No lens is advised while this stands."
OUT_OF_DATE = "Out of date: these are the bars and pictures of the last answers that could be used."


def nothing_yet(answer: Answer | None, answers: Mapping[str, Any]) -> None:
    """The empty and the stopped state of the right-hand side."""
    if answer is None:
        st.header("The desk as told so far", anchor=False)
        _html(_desk_so_far(answers))
        _html(
            '<p class="lg-quiet">Six answers are enough for a first look. What is not measured is '
            "assumed from published distances and marked so; each value typed makes the answer "
            "sharper. No name is wanted, and nothing leaves this computer.</p>"
        )
        return
    stopped(answer.result)


def stopped(result: Result) -> None:
    """What stops everything, in full, the same on every page."""
    said = "".join(f"<p>{escaped(stop.text)}</p>" for stop in result.stops)
    _html(f'<div class="lg-stopped"><p>{STOPPED}</p>{said}</div>')


def out_of_date() -> None:
    """What stands below is of the last answers that could be used."""
    _html(f'<div class="lg-flag" style="margin-top: 1rem">{OUT_OF_DATE}</div>')


def _desk_so_far(answers: Mapping[str, Any]) -> str:
    """The main screen before anything is known of the eyes: geometry alone."""
    case = asking.ask({**answers, "wearer.age_years": ANY_AGE}).case
    if case is None:
        return ""
    thing = scenery.seen(case.targets[0], case=case)
    down = declination_deg(below_eye_cm=-thing.above_cm, horizontal_cm=thing.ahead_cm)
    free = float(free_chin_up_deg(declination_deg=down))
    posture = pictures.Posture("Head left free", free, free, chosen=False)
    panel = pictures.side_view(target=thing, posture=posture, name="side-desk")
    return f'<div class="lg-picture lg-lens">{panel}</div>'


def ask_next(answer: Answer, asked: asking.Asking) -> None:
    """One sentence: what to measure or ask next; what decides a tested answer comes first."""
    plan = telling.chosen_plan(answer.result)
    if plan is None:
        return
    sentence = telling.next_words(answer.result, assumed_paths=asked.assumed_paths)
    if sentence is None:
        option = answer.result.option(plan.pairs[0].option)
        sentence = next_question(answer.case, option, assumed_paths=asked.assumed_paths)
    if sentence:
        _html(f'<div class="lg-next"><b>Next:</b> {escaped(sentence)}</div>')


def for_the_optician(answer: Answer, row: Row, shown: Sequence[Row]) -> None:
    """Folded: cautions first, open where one fires; then reasons, numbers, the lens."""
    cautions = telling.caution_lines(answer.result, row.options)
    with st.expander(f"Cautions: {len(cautions)}", expanded=bool(cautions)):
        _list(cautions or ["None fires for this lens and this day."])
    with st.expander("Reasons, and what would change the answer"):
        meanings = [f"{grade.capitalize()}: {said}." for grade, said in GRADE_MEANING.items()]
        groups = {**telling.reason_groups(answer.result), "The three grades": meanings}
        for title, lines in groups.items():
            _list(lines, title=title)
    with st.expander("Head, eyes and power for each thing looked at"):
        _figures(answer, row, shown)
    with st.expander("The lens: power, clear zone, and where each thing is seen"):
        for option in row.options:
            _lens(answer, option)


def _figures(answer: Answer, row: Row, shown: Sequence[Row]) -> None:
    for option in row.options:
        words = f"{telling.option_name(option)}: {telling.design_words(option)}"
        _html(f'<p class="lg-quiet"><b>{escaped(words)}</b></p>')
        equivalents = telling.equivalent_lines(option)
        if equivalents:
            _list(equivalents, title="Designs that serve this day as well")
    needs = figures.need_rows(answer.result)
    _html(table("What each thing looked at asks for", figures.NEED_HEADINGS, needs))
    lenses = {option.option: option for one in shown for option in one.options}
    through = figures.target_rows(list(lenses.values()))
    _html(table("Middle row through each lens shown", figures.TARGET_HEADINGS, through))
    rules = figures.rule_rows(answer.result)
    _html(table("Rules of thumb here", figures.RULE_HEADINGS, rules))


def without_field(homeless: Sequence[str]) -> None:
    """Refusals of values that have no field of their own in view."""
    for refused in homeless:
        _html(alert(refused))


def draft_foot() -> None:
    """The deletion of the answers, and how long they are kept."""
    st.button(words.DELETE_ANSWERS, on_click=state.forget, type="secondary")
    st.caption(words.DELETE_NOTE)


def _lens(answer: Answer, option: OptionResult) -> None:
    points = lens_map.gaze_points(option)
    svg_text = lens_picture(
        heading=telling.option_name(option),
        power_at=lens_map.power_at(option, answer.case),
        frame=lens_map.frame_shape(answer.case),
        points=points,
    )
    _html(f'<div class="lg-picture lg-lens">{svg_text}</div>')


def _list(lines: Sequence[str], *, title: str = "") -> None:
    items = "".join(f"<li>{escaped(text)}</li>" for text in lines)
    head = f'<p class="lg-quiet"><b>{escaped(title)}</b></p>' if title else ""
    _html(f'{head}<ul class="lg-quiet">{items}</ul>')


def _html(text: str) -> None:
    st.markdown(text, unsafe_allow_html=True)
