"""The slip for the employer: asked for and printed where the optician works, and on Team."""

from __future__ import annotations

from datetime import date
from html import escape

import streamlit as st

from app.form.fields import Fields
from app.form.html import quiet
from app.form.paper import download, page
from app.shell import theme
from engine.errors import InputRefusedError
from engine.team.slip import EmployerSlip, slip_of
from engine.units import day_words, parse_day
from engine.wording import say

NOT_SAID, YES, NO = "not said", "yes", "no"
TESTED, TEST_DATE, NEEDED, NEXT = "slip.tested", "slip.test_date", "slip.needed", "slip.next"
LABELS = {
    TESTED: "Eyes tested",
    TEST_DATE: "Date of the test (as 2 Jan 2026)",
    NEEDED: "Special pair for the screen needed",
    NEXT: "Next test (as 2 Jan 2028)",
}


def slip() -> None:
    """Ask for the four fields, and give the page once all of them are there."""
    st.header("Slip for the employer", anchor=False)
    quiet(say("slip_what"))
    fields = Fields()
    (left, right), (below, beside) = (st.columns(2, gap="medium") for _ in range(2))
    choices = [NOT_SAID, YES, NO]
    answers = {
        TESTED: fields.either(TESTED, LABELS[TESTED], choices, place=left),
        NEEDED: fields.either(NEEDED, LABELS[NEEDED], choices, place=right),
    }
    if answers[TESTED] != NO:
        answers[TEST_DATE] = fields.text(TEST_DATE, LABELS[TEST_DATE], place=below).strip()
    answers[NEXT] = fields.text(NEXT, LABELS[NEXT], place=beside).strip()
    unsaid = [name for name, said in answers.items() if said in ("", NOT_SAID)]
    try:
        days = {name: _day(answers[name], name) for name in (TEST_DATE, NEXT) if answers.get(name)}
        if unsaid:
            labels = [LABELS[name].split(" (")[0] for name in unsaid]
            if len(unsaid) < len(answers):
                quiet(f"Still to say: {', '.join(labels)}.")
            return
        made = _slip(answers, days)
    except InputRefusedError as refusal:
        fields.say({refusal.field: refusal})
        return
    download("Slip for the employer", employer_slip(made), "screen-eye-test", "-slip.html")


def _slip(answers: dict[str, str], days: dict[str, date]) -> EmployerSlip:
    """Make the slip; what does not go together is refused at the later field."""
    content = {
        "tested": answers[TESTED] == YES,
        "test_date": days.get(TEST_DATE),
        "special_pair_needed": answers[NEEDED] == YES,
        "retest_date": days[NEXT],
    }
    try:
        return slip_of(content)
    except InputRefusedError as refusal:
        name = NEXT if days[NEXT] <= days.get(TEST_DATE, date.min) else NEEDED
        raise refusal.said_of(field=name, value=answers[name]) from None


def _day(text: str, name: str) -> date:
    """Read a day; that of the next test is still to come."""
    found, today = parse_day(text, field=name), _today()
    if name == NEXT and found < today:
        allowed = f"a day that is still to come; by this computer it is {day_words(today)}"
        raise InputRefusedError(field=name, value=text, allowed=allowed)
    return found


def _today() -> date:
    return date.today()


def employer_slip(slip: EmployerSlip) -> str:
    """Write all an employer may hold of an eye test on one page, with two lines for a pen."""
    said = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td><b>{escape(says)}</b></td></tr>'
        for name, says in slip.lines()
    )
    by_hand = "".join(
        f'<p style="margin-top:1.4cm;border-top:1px solid {theme.INK};max-width:11cm">{says}</p>'
        for says in ("Worker's name or number, by hand", "Tested by, and stamp or signature")
    )
    body = (
        "<h1>Eye test for screen work</h1>"
        f"<p>{escape(say('slip_lead'))}</p>"
        f'<div class="large"><table>{said}</table>{by_hand}</div>'
    )
    return page("Eye test for screen work", body)
