"""The interview: an optician with the wearer opposite, two minutes to a first answer."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, keep_line, plan_taken, questions
from app.form.case_of_answers import Asking
from app.form.compute import answered, told_late
from app.form.fields import Fields
from app.form.html import html, line_in_view
from app.shell import state, words
from app.views.interview import answer as interview_answer
from app.views.interview import form, from_home, picture


def page() -> None:
    """Draw the whole page; the answer's place comes first and is filled last."""
    in_view = st.container(key="answer", gap=None)
    keep_line.news()
    left, right = st.columns([5, 7], gap="large")
    with left:
        home, fields = _questions()
    asked = case_of_answers.ask({**state.answers(), **fields.answers})
    with home:
        from_home.block(asked.case)
    with in_view:
        line_place, bar = st.empty(), st.empty()
    _bar(bar, None)
    try:
        _answer_part(fields, asked, left, right, line_place, bar)
    except Exception:
        interview_answer.draft_foot()
        raise
    interview_answer.draft_foot()


def _answer_part(
    fields: Fields, asked: Asking, left: Any, right: Any, line_place: Any, bar: Any
) -> None:
    """Show everything but the questions, which stay on the page when this fails."""
    tell = told_late(lambda done: _bar(bar, done))
    answer, asked = answered(state.results(), asked, progress=tell)
    _bar(bar, None)
    homeless = fields.say(asked.refused)
    if answer is not None:
        fields.note(result_words.flag_notes(answer.result, asked.where), asked.brought)
    with left:
        interview_answer.without_field(homeless)
    to_type = result_words.still_to_type(answer.case) if answer is not None else ""
    old = bool(asked.refused) and answer is not None
    plan = plan_taken.in_view(answer.result, state.answers()) if answer else None
    line = (
        result_words.recommendation_line(answer.case, answer.result, plan=plan) if answer else None
    )
    kept = keep_line.kept_words(answer, old=old)
    counts = "; ".join(filter(None, [asked.counts, kept]))
    mend = fields.mend(asked.refused, of=form.belongs_to)
    html(line_in_view(line, old=old, counts=counts, mend=mend), place=line_place)
    with right:
        if answer is None or answer.result.stops:
            interview_answer.nothing_yet(answer, {**state.answers(), **fields.answers})
        elif to_type:
            interview_answer.without_powers(answer, to_type)
        else:
            if old:
                interview_answer.out_of_date()
            row, shown = interview_answer.first_look(answer, plan)
            if plan is not None:
                interview_answer.offers(answer, plan)
            picture.picture(answer, row, asked)
    if answer is not None and not answer.result.stops and not to_type:
        interview_answer.for_the_optician(answer, row, shown, old=old)
    keep_line.panel(answer, old=old)


def _bar(place: Any, done: float | None) -> None:
    """Draw a bar under the answer that fills while it is computed; empty when nothing is."""
    if done is None:
        bar = '<div class="lg-computing"></div>'
    else:
        percent = round(100 * done)
        bar = (
            '<div class="lg-computing" role="progressbar" aria-label="Computing the answer" '
            f'aria-valuemin="0" aria-valuemax="100" aria-valuenow="{percent}">'
            f'<i style="width:{percent}%"></i></div>'
        )
    html(bar, place=place)


def _questions() -> tuple[Any, Fields]:
    """Draw the questions; return the place above them for what was told at home, and the fields."""
    title, example = st.columns(2, vertical_alignment="bottom")
    title.title(words.PAGES["interview"], anchor=False)
    example.button(
        "Load an invented wearer",
        on_click=state.replace,
        args=(questions.EXAMPLE,),
        width="stretch",
    )
    st.page_link("views/home/page.py", label=words.HOME_LINK)
    home, fields = st.container(), Fields()
    form.six_answers(fields)
    form.folded(fields)
    return home, fields


page()
