"""What the law asks, and what an employer may hold."""

from __future__ import annotations

from datetime import date

import streamlit as st

from app.draw.svg import escaped
from app.form.html import html, quiet
from app.shell import state
from app.views.team import words as team_words
from engine.team.law import LINES, cards, countries, evidence, may_hold


def evidence_of_all() -> None:
    """Every benefit that might be claimed, with what was found."""
    st.header("What the studies show", anchor=False)
    quiet(
        "There are few trials and they are small. The hours on this page come "
        "from geometry, not from a trial; less neck pain is not claimed, and no return on the "
        "money is computed from studies of other people."
    )
    html(team_words.evidence_list(evidence()))


def law(today: date | None = None) -> None:
    """The rules of one country at a time."""
    st.header("What the law asks as a minimum", anchor=False)
    key = state.among("team.country", countries())
    country = st.selectbox("Country", countries(), key=key, filter_mode=None)
    state.keep("team.country", country)
    found = cards(country=country, today=today or _today())
    line = LINES[found[0].line]
    html(
        f'<p class="lg-quiet">Line of the law: {escaped(line)}. The lines of the United Kingdom '
        "and of the European Union differ; only one is shown at a time.</p>"
    )
    html(team_words.law_list(found))


def hold() -> None:
    """What may be held and what may not."""
    st.header("What you may hold about a worker’s eyes", anchor=False)
    left, right = st.columns(2, gap="medium")
    with left:
        st.subheader("You may hold", anchor=False)
        html(team_words.hold_list(may_hold(), may=True))
    with right:
        st.subheader("You may not hold", anchor=False)
        html(team_words.hold_list(may_hold(), may=False))


def _today() -> date:
    return date.today()
