"""After collection: the wearer's page with its dates, what to ask, how it ended, complaints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form import keep
from app.form.compute import Answer
from app.form.fields import Fields
from app.form.html import alert, flag, html, listed, quiet, table
from app.shell import state
from app.views.collection import typed_pair
from app.views.collection import words as collection_words
from app.views.collection.checks import plain
from app.views.collection.typed_pair import (
    COLLECTED,
    FILLED,
    NO,
    REPORTED,
    SEEN,
    YES,
    seen_widget,
)
from app.views.order.sheets import wearer_page
from engine import tables
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult
from engine.collection import complaints
from engine.collection.complaints import Complaint, RankedCause, checks_in_order, rank_causes
from engine.collection.followup import (
    Dates,
    Foretold,
    follow_up_dates,
    follow_up_questions,
)
from engine.collection.settled import Settled, settled_by
from engine.collection.verify import Verification
from engine.collection.wearer_page import wearer_sheet
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.order.types import Order
from engine.units import day_words
from engine.wording import capital, say

STAGES = {"first": "first contact", "late": "four to six weeks"}
SEEN_LABELS = {
    "chin_up_deg": "chin up (+) or down (−), from the side, °",
    "nearest_clear_cm": "nearest clear (cm)",
    "farthest_clear_cm": "farthest clear (cm)",
    "clear_width_cm": "clear width on a ruler (cm)",
}
FIRST = 3


@dataclass(frozen=True)
class Read:
    """What was read of the pair before any complaint.

    Attributes:
        lenses: every line against the order.
        taped: the ends of the range test, by target.
    """

    lenses: Verification
    taped: Mapping[str, Mapping[str, float]]


def follow_up(
    fields: Fields,
    answer: Answer,
    option: OptionResult,
    order: Order,
    plan: PlanResult | None,
    kept: dict[str, Any],
) -> Foretold | None:
    """Show dates, questions, the code of how it ended, and what was predicted and is reported.

    kept: where what was last good of this pair is kept.
    """
    left, right = st.columns([5, 7], gap="large")
    with left:
        today = date.today()
        text = fields.text(COLLECTED, "Collected on (as 2 Jan 2030)", assumed=day_words(today))
        dates = _dates(fields, text, today, kept)
        stage = fields.either("collection.stage", "Contact", list(STAGES), words=STAGES.get)
        codes = tables.by_id("outcome_codes")
        state.among(fields.naming("collection.outcome"), ["", *codes])
        said = {"": "open", **{name: capital(row["meaning"]) for name, row in codes.items()}}
        ended = fields.choice("collection.outcome", "How it ended", list(said), words=said.get)
        foretold = _foretold(fields, option, plan)
        if ended:
            quiet(f"Code {ended}. Next: {codes[ended]['next_step']}.")
    with right:
        listed(collection_words.date_lines(dates))
        quiet(say("collection_ask_numbers_from_record"))
        stage_ = "late" if stage == "late" else "first"
        asked = follow_up_questions(case=answer.case, option=option, stage=stage_)
        listed([capital(one.text) for one in asked])
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
    return foretold


def _foretold(fields: Fields, option: OptionResult, plan: PlanResult | None) -> Foretold | None:
    """Return the line that compares; of two pairs that share the day, for both together."""
    shared = plan is not None and len(plan.pairs) > 1
    both = shared and option.option in [pair.option for pair in plan.pairs]  # type: ignore[union-attr]
    predicted_h = plan.comfortable_h if both and plan is not None else option.comfortable_h
    label = "Hours a day that the wearer finds comfortable"
    fields.text(REPORTED, f"{label}, all pairs together" if both else label)
    found, refused = typed_pair.read_reported(fields.answers, predicted_h=predicted_h)
    fields.say(refused)
    if found is not None:
        html(f'<p class="lg-next"><b>{escaped(found.says)}</b></p>')
    return found


def _dates(fields: Fields, text: str, today: date, kept: dict[str, Any]) -> Dates:
    try:
        day = typed_pair.read_day(text, otherwise=today)
        kept["collected"] = day
    except InputRefusedError as refusal:
        fields.say({COLLECTED: refusal})
        day = kept.get("collected", today)
    return follow_up_dates(collected=day)


def complaint(
    fields: Fields,
    case: Case,
    option: OptionResult,
    order: Order,
    read: Read,
    kept: dict[str, Any],
) -> str | None:
    """Return what is complained of, and the causes that fit: what was read first, then any guess.

    Returns what to do at once where a sign of an urgent eye is told, else None.
    """
    left, right = st.columns([5, 7], gap="large")
    with left:
        askable = complaints.questions("asked") | complaints.questions("tried")
        fields.several(YES, "Asked or tried, and yes", list(askable), words=askable.get)
        fields.several(NO, "Asked or tried, and no", list(askable), words=askable.get)
        for number, target in enumerate(case.targets):
            with st.expander(f"{capital(plain(target.name))}: seen and measured"):
                _seen(fields, number, target.name, read.taped.get(target.name, {}))
    told, refused = typed_pair.read_complaint(fields.answers, case.targets, read.taped)
    fields.say(refused)
    if told is None:
        told = kept.get("complaint")
    else:
        kept["complaint"] = told
    with right:
        if refused and told is not None:
            flag(say("out_of_date", what="causes"))
        for line in collection_words.failed_lines(read.lenses.checks):
            html(alert(line))
        if told is None or (not told.seen and not told.answers):
            quiet(say("collection_note_what_you_see"))
            return None
        return _ranked(case, option, order, told, _settled(fields, option, read.lenses))


def _settled(fields: Fields, option: OptionResult, lenses: Verification) -> Settled:
    crosses, _ = typed_pair.read_crosses(fields.answers)
    covers = option.covers_distance
    return settled_by(lenses, kind=option.kind, covers_distance=covers, crosses=crosses)


def _seen(fields: Fields, number: int, name: str, taped: Mapping[str, float]) -> None:
    """Ask what is seen at one target; an end that the range test gave is not asked again."""
    known = {FILLED[end]: value for end, value in taped.items()}
    places = [*st.columns(2, gap="small", wrap=False), *st.columns(2, gap="small", wrap=False)]
    for field, place in zip(SEEN, places, strict=True):
        widget = fields.naming(seen_widget(number, field))
        if field in known and not state.shown(widget):
            what = SEEN_LABELS[field].removesuffix(" (cm)")
            said = escaped(
                say("collection_cm_from_range_test", what=capital(what), known=f"{known[field]:g}")
            )
            html(f'<p class="lg-quiet">{said}</p>', place=place)
            continue
        label = f"{plain(name)}: {SEEN_LABELS[field]}"
        fields.text(seen_widget(number, field), label, place=place)
    label = f"{plain(name)}: blurred in every posture"
    fields.tick(seen_widget(number, "never_clear"), label)


def _ranked(
    case: Case, option: OptionResult, order: Order, told: Complaint, settled: Settled
) -> str | None:
    ranked = rank_causes(
        case=case,
        option=option,
        complaint=told,
        office_reference_stated=_stated(order),
        settled=settled,
    )
    if ranked[0].remedy_step == "urgent":
        stop = f"{capital(ranked[0].check)}. {capital(ranked[0].remedy)}."
        html(alert(stop))
        return stop
    likely = checks_in_order(ranked, first=FIRST)
    first = escaped(collection_words.first_check(likely))
    lead = "Shown by a reading:" if likely[0].shown else "Check first:"
    html(f'<p class="lg-next"><b>{lead}</b> {first}</p>')
    quiet(collection_words.how_ranked())
    items = "".join(_cause(one) for one in likely)
    html(f'<ul class="lg-claims">{items}</ul>')
    with st.expander("All other causes for this kind of lens"):
        rows = collection_words.cause_rows([one for one in ranked if one not in likely])
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
