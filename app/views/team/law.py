"""What the law requires, and what an employer may hold."""

from __future__ import annotations

from datetime import date

import streamlit as st

from app.form.fields import Fields
from app.form.html import html, quiet
from app.views.team import law_words
from app.views.team.law_words import Law
from engine.tables import rows
from engine.team.law import ELSEWHERE, LINES, cards, countries, may_hold
from engine.wording import say


def evidence_of_all() -> None:
    """Draw every benefit that might be claimed, with what was found."""
    st.header("What the studies show", anchor=False)
    quiet(say("team_trials_few_small_hours"))
    html(law_words.evidence_list(rows("team_evidence")))


def asked(fields: Fields) -> Law:
    """Return the country, asked before anything else, with its rules."""
    country = fields.choice(
        "team.country",
        "Country whose law applies",
        ["", *countries(), ELSEWHERE],
        words=lambda name: name or "choose the country",
    )
    known = country in countries()
    return Law(country, cards(country=country, today=_today()) if known else ())


def law(chosen: Law) -> None:
    """Draw the rules of the country chosen."""
    st.header("What the law requires at least", anchor=False)
    if not chosen.cards:
        quiet(say("team_no_rule") if chosen.country else say("team_choose_country_at_top"))
        return
    quiet(say("team_rules_those_united_kingdom", line=LINES[chosen.cards[0].line]))
    html(law_words.law_list(chosen.cards))


def hold() -> None:
    """Draw what may be held and what may not."""
    st.header("What you may hold about a worker’s eyes", anchor=False)
    left, right = st.columns(2, gap="medium")
    with left:
        st.subheader("You may hold", anchor=False)
        html(law_words.hold_list(may_hold(), may=True))
    with right:
        st.subheader("You may not hold", anchor=False)
        html(law_words.hold_list(may_hold(), may=False))


def _today() -> date:
    return date.today()
