"""Show the interview's answer: the line in view, the day bars, next question and details."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from app.draw import charts, lens, result_words, side_view
from app.draw.lens import lens_picture
from app.draw.svg import escaped
from app.form import case_of_answers
from app.form.compute import Answer
from app.form.html import alert, html, listed, picture, quiet, stopped, svg, table
from app.shell import state, words
from app.shell.words import GRADE_MEANING
from app.views.interview import rows
from app.views.interview.next_question import next_question
from app.views.interview.rows import Row
from engine.case.results import OptionResult
from engine.optics.workstation import declination_deg, free_chin_up_deg


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
    svg(charts.key(), place=key_of_grades)
    worn = rows.worn_lines(found)
    if worn:
        items = "".join(f"<li>{escaped(line)}</li>" for line in worn)
        html(f'<ul class="lg-quiet lg-worn">{items}</ul>')
    chosen = st.radio(
        "Look through",
        list(by_name),
        key=key,
        format_func=lambda name: by_name[name].label,
        horizontal=True,
    )
    state.keep("view.option", chosen)
    return by_name[chosen], found


ANY_AGE = "50"
"""The desk is drawn before the age is told; no geometry depends on it."""
OUT_OF_DATE = "Out of date: these are the bars and pictures of the last answers that could be used."


def nothing_yet(answer: Answer | None, answers: Mapping[str, Any]) -> None:
    """The empty and the stopped state of the right-hand side."""
    if answer is None:
        st.header("The desk as told so far", anchor=False)
        _desk_so_far(answers)
        quiet(
            "Six answers are enough for a first look. What is not measured is "
            "assumed from published distances and marked so; each value typed makes the answer "
            "sharper. No name is wanted, and nothing leaves this computer."
        )
        return
    stopped(answer.result)


def out_of_date() -> None:
    """What stands below is of the last answers that could be used."""
    html(f'<div class="lg-flag" style="margin-top: 1rem">{OUT_OF_DATE}</div>')


def _desk_so_far(answers: Mapping[str, Any]) -> None:
    """Draw the main screen before anything is known of the eyes: geometry alone."""
    case = case_of_answers.ask({**answers, "wearer.age_years": ANY_AGE}).case
    if case is None:
        return
    thing = side_view.seen(case.targets[0], case=case)
    down = declination_deg(below_eye_cm=-thing.above_cm, horizontal_cm=thing.ahead_cm)
    free = float(free_chin_up_deg(declination_deg=down))
    posture = side_view.Posture("Head left free", free, free, chosen=False)
    picture(side_view.side_view(target=thing, posture=posture, name="side-desk"))


def ask_next(answer: Answer, asked: case_of_answers.Asking) -> None:
    """One sentence: what to measure or ask next; what decides a tested answer comes first."""
    plan = result_words.chosen_plan(answer.result)
    if plan is None:
        return
    sentence = result_words.next_words(answer.result, assumed_paths=asked.assumed_paths)
    if sentence is None:
        option = answer.result.option(plan.pairs[0].option)
        sentence = next_question(answer.case, option, assumed_paths=asked.assumed_paths)
    if sentence:
        html(f'<div class="lg-next"><b>Next:</b> {escaped(sentence)}</div>')


def for_the_optician(answer: Answer, row: Row, shown: Sequence[Row]) -> None:
    """Folded: cautions first, open where one fires; then reasons, numbers, the lens."""
    cautions = result_words.caution_lines(answer.result, row.options)
    with st.expander(f"Cautions: {len(cautions)}", expanded=bool(cautions)):
        listed(cautions or ["None fires for this lens and this day."])
    with st.expander("Reasons, and what would change the answer"):
        meanings = [f"{grade.capitalize()}: {said}." for grade, said in GRADE_MEANING.items()]
        groups = {**result_words.reason_groups(answer.result), "The three grades": meanings}
        for title, lines in groups.items():
            listed(lines, title=title)
    with st.expander("Head, eyes and power for each thing looked at"):
        _figures(answer, row, shown)
    with st.expander("The lens: power, clear zone, and where each thing is seen"):
        for option in row.options:
            _lens(answer, option)


def _figures(answer: Answer, row: Row, shown: Sequence[Row]) -> None:
    for option in row.options:
        words = f"{result_words.option_name(option)}: {result_words.design_words(option)}"
        html(f'<p class="lg-quiet"><b>{escaped(words)}</b></p>')
        equivalents = result_words.equivalent_lines(option)
        if equivalents:
            listed(equivalents, title="Designs that serve this day as well")
    needs = result_words.need_rows(answer.result)
    html(table("What each thing looked at asks for", result_words.NEED_HEADINGS, needs))
    lenses = {option.option: option for one in shown for option in one.options}
    through = result_words.target_rows(list(lenses.values()))
    html(table("Middle row through each lens shown", result_words.TARGET_HEADINGS, through))
    rules = result_words.rule_rows(answer.result)
    html(table("Rules of thumb here", result_words.RULE_HEADINGS, rules))


def without_field(homeless: Sequence[str]) -> None:
    """Refusals of values that have no field of their own in view."""
    for refused in homeless:
        html(alert(refused))


def draft_foot() -> None:
    """The deletion of the answers, and how long they are kept."""
    st.button(words.DELETE_ANSWERS, on_click=state.forget, type="secondary")
    st.caption(words.DELETE_NOTE)


def _lens(answer: Answer, option: OptionResult) -> None:
    points = lens.gaze_points(option)
    drawn = lens_picture(
        heading=result_words.option_name(option),
        power_at=lens.power_at(option, answer.case),
        frame=lens.frame_shape(answer.case),
        points=points,
    )
    picture(drawn)
