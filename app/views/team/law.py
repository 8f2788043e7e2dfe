"""What the law asks, what an employer may hold, and the slip of three fields."""

from __future__ import annotations

from datetime import date

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import Fields
from app.form.html import html, quiet
from app.shell import state
from app.views.team import law_words
from app.views.team.law_words import Law
from engine.errors import InputRefusedError
from engine.team.law import ELSEWHERE, LINES, cards, countries, evidence, may_hold, slip_of
from engine.units import day_words, parse_day

NOT_SAID = "not said"


def evidence_of_all() -> None:
    """Every benefit that might be claimed, with what was found."""
    st.header("What the studies show", anchor=False)
    quiet(
        "There are few trials and they are small. The hours on this page come "
        "from geometry, not from a trial; less neck pain is not claimed, and no return on the "
        "money is computed from studies of other people."
    )
    html(law_words.evidence_list(evidence()))


def asked(fields: Fields) -> Law:
    """The country, asked before anything else, with its rules."""
    country = fields.choice(
        "team.country",
        "Country whose law applies",
        ["", *countries(), ELSEWHERE],
        words=lambda name: name or "choose the country",
    )
    known = country in countries()
    return Law(country, cards(country=country, today=_today()) if known else ())


def law(chosen: Law) -> None:
    """The rules of the country chosen."""
    st.header("What the law asks as a minimum", anchor=False)
    if not chosen.cards:
        quiet(
            "No rule of that country is on file here. Ask a lawyer or the regulator."
            if chosen.country
            else "Choose the country at the top of the page."
        )
        return
    quiet(
        f"Rules of: {LINES[chosen.cards[0].line]}. Those of the United Kingdom and of the European "
        "Union differ; only one is shown at a time."
    )
    html(law_words.law_list(chosen.cards))


def hold() -> None:
    """What may be held and what may not."""
    st.header("What you may hold about a worker’s eyes", anchor=False)
    left, right = st.columns(2, gap="medium")
    with left:
        st.subheader("You may hold", anchor=False)
        html(law_words.hold_list(may_hold(), may=True))
    with right:
        st.subheader("You may not hold", anchor=False)
        html(law_words.hold_list(may_hold(), may=False))


def slip(fields: Fields) -> None:
    """The three fields and the file of them."""
    st.header("Slip for the employer", anchor=False)
    quiet(
        "All that whoever tested the eyes has to tell you. There is no place "
        "for a name or a power on it."
    )
    left, middle, right = st.columns(3, gap="medium")
    choices = [NOT_SAID, "yes", "no"]
    tested = fields.either("team.slip.tested", "Tested", choices, place=left)
    needed = fields.either("team.slip.needed", "Special pair needed", choices, place=middle)
    text = fields.text("team.slip.date", "Next test (as 2 Jan 2030)", place=right).strip()
    if not text:
        return
    try:
        made = slip_of(_content(tested, needed, text))
    except InputRefusedError as refusal:
        fields.say({refusal.field: refusal})
        return
    lines = "<br>".join(escaped(line) for line in made.text().splitlines())
    html(f'<p class="lg-quiet">{lines}</p>')
    st.download_button(
        "Download the slip",
        made.text() + "\n",
        file_name="slip.txt",
        mime="text/plain",
        on_click="ignore",
        key=state.passing("slip"),
    )


def _content(tested: str, needed: str, text: str) -> dict[str, object]:
    """What the slip is made of, once whoever tested has said all of it.

    Raises
        InputRefusedError: something is not said, or says that untested eyes need a pair.
    """
    for name, said in (("tested", tested), ("needed", needed)):
        if said == NOT_SAID:
            raise InputRefusedError(field=f"team.slip.{name}", value=NOT_SAID, allowed="yes or no")
    if (tested, needed) == ("no", "yes"):
        allowed = "no, where the eyes were not tested"
        raise InputRefusedError(field="team.slip.needed", value=needed, allowed=allowed)
    return {
        "tested": tested == "yes",
        "special_pair_needed": needed == "yes",
        "retest_date": _date(text),
    }


def _date(text: str) -> date:
    found = parse_day(text, field="team.slip.date")
    today = _today()
    if found < today:
        allowed = f"a day that is still to come; by this computer it is {day_words(today)}"
        raise InputRefusedError(field="team.slip.date", value=text, allowed=allowed)
    return found


def _today() -> date:
    return date.today()
