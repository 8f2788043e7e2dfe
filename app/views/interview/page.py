"""The interview: an optician with the wearer opposite, two minutes to a first answer."""

from __future__ import annotations

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, keep_line, questions
from app.form.compute import answered
from app.form.fields import Fields
from app.form.html import html, line_in_view
from app.shell import state, words
from app.views.interview import answer as interview_answer
from app.views.interview import form, picture, test_run


def page() -> None:
    """Draw the whole page; the answer's place comes first and is filled last."""
    in_view = st.container(key="answer", gap=None)
    keep_line.news()
    left, right = st.columns([5, 7], gap="large")
    with left:
        fields = _questions()
    asked = case_of_answers.ask({**state.answers(), **fields.answers})
    answer, asked = answered(state.results(), asked)
    homeless = fields.say(asked.refused)
    if answer is not None:
        fields.note(result_words.flag_notes(answer.result, asked.where), asked.brought)
    with left:
        interview_answer.without_field(homeless)
    old = bool(asked.refused) and answer is not None
    line = result_words.recommendation_line(answer.case, answer.result) if answer else None
    kept = keep_line.kept_words(answer, old=old)
    counts = "; ".join(filter(None, [asked.counts, kept]))
    html(line_in_view(line, old=old, counts=counts), place=in_view)
    with in_view:
        test_run.test_when_idle(answer, old=old)
    with right:
        if answer is None or answer.result.stops:
            interview_answer.nothing_yet(answer, fields.answers)
        else:
            if old:
                interview_answer.out_of_date()
            row, shown = interview_answer.first_look(answer)
            picture.picture(answer, row, asked)
            interview_answer.ask_next(answer, asked)
    if answer is not None and not answer.result.stops:
        interview_answer.for_the_optician(answer, row, shown)
    keep_line.panel(answer, old=old)
    interview_answer.draft_foot()


def _questions() -> Fields:
    title, example = st.columns(2, vertical_alignment="bottom")
    title.title(words.PAGES["interview"], anchor=False)
    example.button(
        "Load an invented wearer",
        on_click=state.replace,
        args=(questions.EXAMPLE,),
        width="stretch",
    )
    fields = Fields()
    form.six_answers(fields)
    form.folded(fields)
    return fields


page()
