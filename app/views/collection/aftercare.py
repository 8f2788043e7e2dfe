"""After collection: the wearer's page with its dates, what to ask, how it ended, complaints."""

from __future__ import annotations

from datetime import date
from typing import Any

import streamlit as st

from app.draw.result_words import capital
from app.draw.svg import escaped
from app.form import keep
from app.form.compute import Answer
from app.form.fields import Fields
from app.form.html import alert, flag, html, listed, quiet, table
from app.shell import state
from app.views.collection import typed_pair
from app.views.collection import words as collection_words
from app.views.collection.checks import plain
from app.views.collection.typed_pair import COLLECTED, NO, SEEN, YES, seen_widget
from app.views.order.sheets import wearer_page
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult
from engine.collection import complaints
from engine.collection.complaints import Complaint, RankedCause, checks_in_order, rank_causes
from engine.collection.followup import Dates, follow_up_dates, follow_up_questions, outcome_codes
from engine.collection.wearer_page import wearer_sheet
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.order.types import Order
from engine.units import day_words

STAGES = {"first": "first contact", "late": "four to six weeks"}
SEEN_LABELS = {
    "chin_up_deg": "chin up, − down, from the side (°)",
    "nearest_clear_cm": "nearest clear (cm)",
    "farthest_clear_cm": "farthest clear (cm)",
    "clear_width_cm": "clear width on a ruler (cm)",
}
FIRST = 3


def follow_up(
    fields: Fields,
    answer: Answer,
    option: OptionResult,
    order: Order,
    plan: PlanResult | None,
    kept: dict[str, Any],
) -> None:
    """Dates, questions and the code of how it ended.

    kept: where what was last good of this pair is kept.
    """
    st.header("Follow-up", anchor=False)
    left, right = st.columns([5, 7], gap="large")
    with left:
        today = date.today()
        text = fields.text(COLLECTED, "Collected on (as 2 Jan 2030)", assumed=day_words(today))
        dates = _dates(fields, text, today, kept)
        stage = fields.either("collection.stage", "Contact", list(STAGES), words=STAGES.get)
        codes = outcome_codes()
        state.among(fields.naming("collection.outcome"), ["", *codes])
        said = {"": "open", **{name: capital(row["meaning"]) for name, row in codes.items()}}
        ended = fields.choice("collection.outcome", "How it ended", list(said), words=said.get)
        if ended:
            quiet(f"Code {ended}. Next: {codes[ended]['next_step']}.")
    with right:
        listed(collection_words.date_lines(dates))
        quiet("To ask, with the numbers of the record:")
        stage_ = "late" if stage == "late" else "first"
        listed([capital(one.text) for one in follow_up_questions(option=option, stage=stage_)])
        told = wearer_sheet(
            case=answer.case, result=answer.result, option=option, dates=dates, plan=plan
        )
        st.download_button(
            "Wearer's sheet with these dates",
            wearer_page(told, case=answer.case, option=option).encode(),
            file_name=keep.file_name(order.label, "-wearer.html"),
            mime="text/html",
            on_click="ignore",
        )


def _dates(fields: Fields, text: str, today: date, kept: dict[str, Any]) -> Dates:
    try:
        day = typed_pair.read_day(text, otherwise=today)
        kept["collected"] = day
    except InputRefusedError as refusal:
        fields.say({COLLECTED: refusal})
        day = kept.get("collected", today)
    return follow_up_dates(collected=day)


def complaint(
    fields: Fields, case: Case, option: OptionResult, order: Order, kept: dict[str, Any]
) -> str | None:
    """What is complained of, and the causes that fit, the cheapest check first.

    Returns what to do at once where a sign of an urgent eye is told, else None.
    """
    st.header("A complaint", anchor=False)
    left, right = st.columns([5, 7], gap="large")
    with left:
        askable = complaints.questions("asked") | complaints.questions("tried")
        fields.several(YES, "Asked or tried, and yes", list(askable), words=askable.get)
        fields.several(NO, "Asked or tried, and no", list(askable), words=askable.get)
        for number, target in enumerate(case.targets):
            with st.expander(f"{capital(plain(target.name))}: seen and taped"):
                _seen(fields, number, target.name)
    told, refused = typed_pair.read_complaint(fields.answers, case.targets)
    fields.say(refused)
    if told is None:
        told = kept.get("complaint")
    else:
        kept["complaint"] = told
    with right:
        if refused and told is not None:
            flag("Out of date: as told before a value was refused.")
        if told is None or (not told.seen and not told.answers):
            quiet("Note what is seen, taped, asked or tried; the causes that fit appear here.")
            return None
        return _ranked(case, option, order, told)


def _seen(fields: Fields, number: int, name: str) -> None:
    places = [*st.columns(2, gap="small", wrap=False), *st.columns(2, gap="small", wrap=False)]
    for field, place in zip(SEEN, places, strict=True):
        label = f"{plain(name)}: {SEEN_LABELS[field]}"
        fields.text(seen_widget(number, field), label, place=place)
    label = f"{plain(name)}: clear in no posture"
    fields.tick(seen_widget(number, "never_clear"), label)


def _ranked(case: Case, option: OptionResult, order: Order, told: Complaint) -> str | None:
    ranked = rank_causes(
        case=case, option=option, complaint=told, office_reference_stated=_stated(order)
    )
    if ranked[0].remedy_step == "urgent":
        stop = f"{capital(ranked[0].check)}. {capital(ranked[0].remedy)}."
        html(alert(stop))
        return stop
    likely = checks_in_order(ranked, first=FIRST)
    first = escaped(collection_words.first_check(likely))
    html(f'<p class="lg-next"><b>Check first:</b> {first}</p>')
    quiet("The first three causes, the cheapest check first. Nothing is concluded before a check.")
    items = "".join(_cause(one) for one in likely)
    html(f'<ul class="lg-claims">{items}</ul>')
    with st.expander("All other causes for this kind of lens"):
        rows = collection_words.cause_rows(ranked[FIRST:])
        html(table("Other causes", collection_words.CAUSE_HEADINGS, rows))
    return None


def _cause(cause: RankedCause) -> str:
    lines = "".join(
        f'<p class="lg-found">{escaped(line)}</p>' for line in collection_words.cause_lines(cause)
    )
    return f'<li><p class="lg-claim">{escaped(capital(cause.cause))}</p>{lines}</li>'


def _stated(order: Order) -> bool | None:
    if KINDS[order.kind].height_reference != "laboratory":
        return None
    return order.details.lab_design is not None or order.details.office_reference is not None
