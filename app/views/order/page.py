"""The Order page: one lens, complete to the last number, or what is missing by name."""

from __future__ import annotations

from datetime import date

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, keep_line, pair_records, plan_taken
from app.form.compute import Answer, answered
from app.form.html import alert, empty_line, html, line_in_view, quiet, stopped
from app.form.plan_taken import ORDERED_BY_HAND
from app.form.typed import Refused
from app.shell import state, words
from app.views.order import (
    downloads,
    form,
    orders,
    pairs,
    practice_form,
    typed_order,
    which,
    whole_order,
)
from app.views.order.words import state_words
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult
from engine.errors import InputRefusedError
from engine.files import practice
from engine.files.practice import Practice
from engine.order.types import Order, OrderDetails, OrderRefusedError
from engine.wording import capital, say

WHY_NOT = say("order_no_order_possible")


def page() -> None:
    """Draw the whole page; the line in view comes first and is filled last."""
    in_view = st.container(key="answer")
    st.title(words.PAGES["order"], anchor=False)
    for key in pair_records.ORDERS.values():
        before = orders.typed_before(state.answers(), key)
        if before:
            state.put(before)
    typed = {**state.answers(), **form.shown_measures()}
    main, asked = answered(state.results(), case_of_answers.ask(typed))
    if main is None:
        html(empty_line(say("order_interview_first")), place=in_view)
        quiet(say("order_nothing_yet"))
        st.page_link("views/interview/page.py", label="Go to the Interview")
        practice_form.practice_form()
        return
    plan = plan_taken.in_view(main.result, state.answers())
    pair, answer = which.pair(plan), main
    if pair != "1":
        typed = {**pairs.of_pair(state.answers(), pair), **form.shown_measures(pair)}
        own = pairs.results(state.results(), pair)
        found, asked = answered(own, case_of_answers.ask(typed))
        answer = found or main
    choices = orders.orderable(answer.result, plan=plan)
    if answer.result.stops or answer.case.wearer.add_d is None or not choices:
        _no_order(in_view, answer, old=bool(asked.refused))
        return
    left, right = st.columns([5, 7], gap="large")
    with left:
        option, details, fields, refused = _asked(answer, plan, choices, asked, pair)
        worn, unread = form.old_pair(fields)
        which.second_pair(plan)
    reference, refusal = _reference(fields, pair)
    if refusal is not None:
        refused = {**refused, typed_order.REFERENCE: refusal}
    with right:
        order, refused = _ordered(answer, option, details, reference, refused, pair)
        homeless = fields.say({**refused, **unread})
        form.mark_origins(fields, answer.case, list(refused))
        for said in homeless:
            html(alert(said))
        old = bool(refused)
        if order is not None:
            whole_order.whole_order(order, old=old)
            downloads.downloads(answer, option, order, old=old, plan=plan, pair=pair)
            if worn is not None:
                form.beside(order, worn, answer.case, stale=old)
            _keep(answer, order, old=old, pair=pair)
    practice_form.practice_form()
    old = old or bool(asked.refused)
    line, counts = _line(answer, option, order, pair=pair)
    mend = fields.mend({**asked.refused, **refused})
    html(line_in_view(line, old=old, counts=counts, mend=mend), place=in_view)
    keep_line.panel(main, old=bool(asked.refused) and pair == "1")


def _no_order(in_view: st.delta_generator.DeltaGenerator, answer: Answer, *, old: bool) -> None:
    """Refuse an order at a stop, or for an answer without an add."""
    line = result_words.recommendation_line(answer.case, answer.result)
    html(line_in_view(line, old=old, counts="no order"), place=in_view)
    html(alert(WHY_NOT))
    if answer.result.stops:
        stopped(answer.result)
    elif answer.case.wearer.add_d is None:
        quiet(say("order_type_prescription_interview_no"))
    else:
        quiet(say("order_none_lenses_computed_for"))
    st.page_link("views/interview/page.py", label="Go to the Interview")


def _asked(
    answer: Answer,
    plan: PlanResult | None,
    choices: list[OptionResult],
    asked: case_of_answers.Asking,
    pair: str,
) -> tuple[OptionResult, OrderDetails | None, form.OrderFields, Refused]:
    """Return the lens, its design and every field; what was typed, read."""
    case = answer.case
    st.header("What is ordered", anchor=False)
    option = _option(answer, plan, choices, pair)
    found = orders.designs(option)
    name = typed_order.widget("design", option.option)
    design = next(iter(found))
    usual = practice.usual()
    fields = form.OrderFields(option, pair=pair, usual=usual.usual())
    if pair != "1":
        which.frame_of_pair_one()
    if len(found) > 1:
        state.among(fields.naming(name), list(found))
        design = fields.choice(name, "Design: these suit the day as well", list(found))
    fields.text(typed_order.REFERENCE, "Reference on the sheets, no name needed")
    lab = form.loaded(pair)
    form.all_fields(fields, option, case, lab, next_part=_next_part(answer, option, usual, pair))
    form.lab_list(pair)
    details, unread = typed_order.read_details(
        fields.answers, option=option.option, design=found[design], lab=lab, usual=usual.usual()
    )
    return option, details, fields, {**asked.refused, **unread}


def _next_part(answer: Answer, option: OptionResult, usual: Practice, pair: str) -> str:
    """Return the part of the form in which something is missing first; nothing where none is."""
    try:
        order = orders.draft_order(
            answer, state.shown_answers(), pair=pair, usual=usual, option=option.option
        )
    except (OrderRefusedError, InputRefusedError):
        return ""
    return "" if order is None else form.next_part(order)


def _option(
    answer: Answer, plan: PlanResult | None, choices: list[OptionResult], pair: str
) -> OptionResult:
    worn, first = orders.options_of(plan), answer.result.chosen
    taken = plan is not None and first is not None and plan.plan != first.plan
    by_name = {one.option: one for one in choices}
    if plan is not None and taken:
        name = result_words.plan_name(plan, answer.result)
        quiet(say("order_plan_taken_interview", name=name))
    if worn and not set(worn) & set(by_name):
        quiet(say("order_nothing_needs_made_wearer"))
    if sum(name in by_name for name in worn) > 1:
        quiet(say("order_plan_two_pairs_order"))
    if answer.result.recommendation.move_first is not None:
        quiet(say("order_answer_changes_desk_first"))

    def said(name: str) -> str:
        mark = f" ({'taken' if taken else 'recommended'})" if name in worn else ""
        return capital(result_words.option_name(by_name[name])) + mark

    name, by_hand = map(pairs.naming(pair), ("order.option", ORDERED_BY_HAND))
    leading = which.leading(choices, pair)
    if not state.held(by_hand) and state.shown(name, leading) != leading:
        state.put({name: leading})
    key = state.among(name, list(by_name))
    chosen = st.selectbox(
        "Lens to order",
        list(by_name),
        key=key,
        format_func=said,
        filter_mode=None,
        on_change=state.put,
        args=({by_hand: True},),
    )
    state.keep(name, chosen)
    return by_name[chosen]


def _reference(fields: form.OrderFields, pair: str) -> tuple[str, InputRefusedError | None]:
    typed = str(fields.answers[typed_order.REFERENCE]).strip()
    label = pairs.reference(orders.called(state.answers()), pair)
    try:
        return orders.checked_reference(typed, otherwise=label), None
    except InputRefusedError as refusal:
        return label, refusal


def _ordered(
    answer: Answer,
    option: OptionResult,
    details: OrderDetails | None,
    reference: str,
    refused: Refused,
    pair: str,
) -> tuple[Order | None, Refused]:
    """Return the order, or the last good one of this lens where a value is refused."""
    kept = pairs.results(state.results(), pair)
    last = kept.get("order")
    if last is not None and last.option != option.option:
        last = None
    if details is None or refused:
        return last, refused
    try:
        order = orders.order_of(
            case=answer.case,
            result=answer.result,
            option=option.option,
            details=details,
            reference=reference,
        )
    except OrderRefusedError as why:
        html(alert(f"{WHY_NOT} {capital(why.reason)}"))
        return None, refused
    except InputRefusedError as refusal:
        return last, {typed_order.widget(refusal.field, option.option): refusal}
    kept["order"] = order
    return order, refused


def _line(
    answer: Answer, option: OptionResult, order: Order | None, *, pair: str
) -> tuple[result_words.Line, str]:
    """Give the one line always in view: the lens, its hours, and whether the order is complete.

    Which order it is about comes with it.
    """
    if order is None:
        line = result_words.Line(WHY_NOT, "no order", None, answer.case.day_h)
        return line, orders.called(state.answers())
    held = pairs.results(state.results(), pair)
    made = orders.made_option(answer.case, option, order.design, kept=held)
    says = f"{capital(result_words.option_name(made))}: {result_words.design_words(made)}"
    line = result_words.Line(says, state_words(order), made.comfortable_h, answer.case.day_h)
    return line, f"pair {pair}, reference {order.label}"


def _keep(answer: Answer, order: Order, *, old: bool, pair: str) -> None:
    """Put the order with its case, so that the finished pair is held against it later."""
    kept = orders.kept_order(answer.case, pair=pair)
    same = kept is not None and kept.order == order and kept.same_case
    st.button(
        "Keep this order with the case",
        key="keep-order",
        disabled=old or same,
        on_click=_put_order,
        args=(answer.case, order, pair),
    )
    if kept is None:
        quiet(say("order_not_kept_yet_until"))
    elif same:
        quiet(say("order_kept_case_on_save", kept_on=kept.kept_on))
    else:
        quiet(say("order_another_order_pair_was", pair=pair, kept_on=kept.kept_on))


def _put_order(case: Case, order: Order, pair: str) -> None:
    values = state.answers()
    found = orders.with_order(values, order=order, case=case, today=date.today(), pair=pair)
    state.put({case_of_answers.EXTENSIONS: found})
    orders.rekeyed(state.results(), found)


page()
