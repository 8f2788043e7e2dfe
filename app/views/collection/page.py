"""The Collection page: the finished pair against its order, on the face, and after collection."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, keep_line, pair_records, plan_taken
from app.form.compute import Answer, answered
from app.form.fields import Fields
from app.form.html import alert, empty_line, html, line_in_view, quiet
from app.form.slip import slip
from app.shell import state, words
from app.views.collection import aftercare, checks, typed_pair
from app.views.collection import words as collection_words
from app.views.order import orders, pairs, which
from engine.case.results import OptionResult, PlanResult
from engine.collection.followup import Foretold
from engine.collection.mock_desk import range_steps
from engine.collection.verify import Verification
from engine.errors import InputRefusedError
from engine.files import practice
from engine.order.types import Order, OrderRefusedError
from engine.tables import Judgements
from engine.wording import capital, say


@dataclass(frozen=True)
class Made:
    """What the page works on.

    Attributes:
        option: what the record says of the ordered lens; None where today's answer has none.
        says: which order it is, in a sentence.
    """

    answer: Answer
    order: Order
    option: OptionResult | None
    says: str


def page() -> None:
    """Draw the whole page; the line in view comes first and is filled last."""
    in_view = st.container(key="answer")
    st.title(words.PAGES["collection"], anchor=False)
    for key in (*pair_records.ORDERS.values(), *pair_records.COLLECTIONS.values()):
        before = orders.typed_before(state.answers(), key)
        if before:
            state.put(before)
    main, asked = answered(state.results(), case_of_answers.ask(state.answers()))
    refused = bool(asked.refused)
    plan = None if main is None else plan_taken.in_view(main.result, state.answers())
    pair = "1" if main is None else which.pair(plan)
    answer = _answer_of(main, pair)
    made = None if answer is None else _made(answer, pair)
    if made is None or main is None:
        html(empty_line(say("collection_order_first")), place=in_view)
        quiet(say("collection_nothing_yet") if answer is None else say("collection_no_order"))
        st.page_link("views/cases/page.py", label=words.OPEN_CASES)
        st.page_link("views/order/page.py", label="Go to the Order page")
        slip()
        return
    quiet(made.says)
    if not made.order.complete:
        quiet(say("collection_complete_order_what_lacks"))
    fields = Fields(pairs.naming(pair))
    own = pairs.results(state.results(), pair)
    before = pairs.of_pair(state.shown_answers(), pair)
    found, stop = checks.focimeter(fields, made.order, own, before), None
    foretold = None
    if made.option is None:
        html(alert(say("collection_rest_cannot_shown_today")))
    else:
        foretold, stop = _worn(fields, made, made.option, found, before, plan, own)
    _keep(pair, foretold)
    says, verdict = collection_words.outcome_words(found), collection_words.short_outcome(found)
    html_line = _line(made, says, verdict) if stop is None else _line(made, stop, "stop", stop=True)
    html(html_line, place=in_view)
    slip()
    keep_line.panel(main, old=refused)


def _worn(
    fields: Fields,
    made: Made,
    option: OptionResult,
    found: Verification,
    before: Mapping[str, Any],
    plan: PlanResult | None,
    own: dict[str, Any],
) -> tuple[Foretold | None, str | None]:
    """Return what comes once the lenses passed, one part after the other; the next one stands open.

    Returns the hours foretold and reported, and what to do at once where a complaint says so.
    """
    case, passed = made.answer.case, found.outcome == "accept"
    steps = range_steps(case=case, option=option, judgements=Judgements.standard())
    is_taped = not steps or any(typed_pair.read_taped(before, at)[0] for at in range(len(steps)))
    is_crossed = typed_pair.read_crosses(before)[0] is not None
    is_told = any(value for name, value in before.items() if name.startswith("complaint."))
    with fields.drawer("Range test at a mock desk", is_next=passed and not is_taped):
        taped = checks.range_test(fields, made.order, steps)
    is_next = passed and is_taped and not is_crossed
    with fields.drawer(f"As worn: where each {checks.mark_of(made.order)} is", is_next=is_next):
        checks.crosses(fields, case, option, made.order, own)
    with fields.drawer("Follow-up", is_next=passed and is_taped and is_crossed):
        foretold = aftercare.follow_up(fields, made.answer, option, made.order, plan, own)
    with fields.drawer("A complaint", is_next=is_told):
        read = aftercare.Read(found, taped)
        stop = aftercare.complaint(fields, case, option, made.order, read, own)
    return foretold, stop


def _answer_of(main: Answer | None, pair: str) -> Answer | None:
    """Return the answer for the frame of this pair; that of pair one until it has one."""
    if main is None or pair == "1":
        return main
    asked = case_of_answers.ask(pairs.of_pair(state.answers(), pair))
    return answered(pairs.results(state.results(), pair), asked)[0] or main


def _made(answer: Answer, pair: str) -> Made | None:
    """Return the order kept with the case, else the one of the Order page as it stands."""
    kept = orders.kept_order(answer.case, pair=pair)
    if kept is not None:
        identity = "collection_order_kept" if kept.same_case else "collection_order_kept_before"
        says = say(identity, label=kept.order.label, kept_on=kept.kept_on)
        return Made(answer, kept.order, _option(answer, kept.order), says)
    order = _draft_order(answer, pair)
    if order is None:
        return None
    says = say("collection_order_as_on_order", label=order.label)
    return Made(answer, order, _option(answer, order), says)


def _draft_order(answer: Answer, pair: str) -> Order | None:
    try:
        return orders.draft_order(answer, state.answers(), pair=pair, usual=practice.usual())
    except (OrderRefusedError, InputRefusedError) as why:
        html(alert(capital(str(why))))
        return None


def _option(answer: Answer, order: Order) -> OptionResult | None:
    """Return the record of the ordered lens with the design that was ordered."""
    try:
        option = answer.result.option(order.option)
    except KeyError:
        return None
    return orders.made_option(answer.case, option, order.design)


def _line(made: Made, says: str, verdict: str, *, stop: bool = False) -> str:
    line = result_words.Line(says, verdict, None, made.answer.case.day_h, stop=stop)
    name = capital(made.order.kind_name)
    return line_in_view(line, old=False, counts=f"{name}, reference {made.order.label}")


def _keep(pair: str, foretold: Foretold | None) -> None:
    kept = (state.held(case_of_answers.EXTENSIONS) or {}).get(pair_records.COLLECTIONS[pair])
    st.button(
        "Keep these readings with the case",
        key="keep-readings",
        on_click=_put_readings,
        args=(pair, foretold),
    )
    if isinstance(kept, dict):
        kept_on = orders.kept_on(kept)
        quiet(say("collection_readings_pair_kept_case", pair=pair, kept_on=kept_on))


def _put_readings(pair: str, foretold: Foretold | None) -> None:
    found = orders.with_readings(state.answers(), today=date.today(), pair=pair, foretold=foretold)
    state.put({case_of_answers.EXTENSIONS: found})
    orders.rekeyed(state.results(), found)


page()
