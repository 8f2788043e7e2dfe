"""What the home check found, and the sheet and the file to bring along."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from app.draw.side_view import Posture, Seen, side_view
from app.draw.svg import escaped
from app.form.html import html, listed, picture, scrolled
from app.shell import state
from app.views.home import words as home_words
from app.views.home.sheet import desk_table, visit_sheet
from app.views.home.typed_answers import Reading
from engine.case.model import Case
from engine.case.read import build_case
from engine.case.scene import stop_mm_of
from engine.case.targets import centre_above_eye_cm, size_cm, tilt_deg
from engine.home.answers import STEPS, HomeAnswers
from engine.home.case import case_content, visit_file
from engine.home.check import HomeResult, home_result
from engine.home.text import thing
from engine.tables import Judgements

KEPT = "home"


def show(reading: Reading, *, go: Callable[[str], None]) -> None:
    """The whole result; only called when no question is open and no warning sign stands."""
    answers = reading.answers
    result = _kept(answers)
    html(f'<div class="lg-answer"><b class="lg-say">{escaped(result.headline)}</b></div>')
    for name in ("first", "doubts"):
        _part(name, getattr(result, name))
    _to_bring(answers, result)
    if result.postures or result.habits:
        st.subheader(home_words.HEADINGS["postures"], anchor=False)
        if result.postures_lead:
            st.write(result.postures_lead)
        _picture(answers, result)
        listed([*(" ".join(one.says) for one in result.postures), *result.habits])
    _part("move", result.move)
    if result.kinds or result.kinds_say:
        st.subheader(home_words.HEADINGS["kinds"], anchor=False)
        if result.now_says:
            st.write(result.now_says)
        for kind in result.kinds:
            name = f"{kind.name[:1].upper()}{kind.name[1:]}"
            html(f"<p><b>{escaped(name)}</b>. {escaped(' '.join(kind.says))}</p>")
        listed(result.kinds_say)
    _part("ask", result.ask)
    _part("unseen", result.unseen)
    _change(go)


def _kept(answers: HomeAnswers) -> HomeResult:
    """The result to these answers, computed unless the draft holds it already."""
    kept = state.results()
    last = kept.get(KEPT)
    if last is None or last[0] != answers:
        last = kept[KEPT] = (answers, home_result(answers))
    found: HomeResult = last[1]
    return found


def _to_bring(answers: HomeAnswers, result: HomeResult) -> None:
    with st.container(border=True):
        st.write(home_words.SHEET_NOTE)
        left, right = st.columns(2)
        left.download_button(
            home_words.SHEET,
            visit_sheet(answers, result),
            file_name="my-desk.html",
            mime="text/html",
            on_click="ignore",
            type="primary",
            width="stretch",
        )
        right.download_button(
            home_words.FILE,
            visit_file(answers),
            file_name="my-desk.json",
            mime="application/json",
            on_click="ignore",
            width="stretch",
        )
        st.subheader(home_words.HEADINGS["facts"], anchor=False)
        name = home_words.HEADINGS["facts"]
        html(scrolled(name, desk_table(result.facts)))


def _picture(answers: HomeAnswers, result: HomeResult) -> None:
    """The head at the screen, in the middle of the range told."""
    shown = next((one for one in result.postures if one.target.endswith("screen")), None)
    if shown is None or shown.low_deg is None or shown.high_deg is None:
        return
    case = build_case(case_content(answers))
    at = [target.name for target in case.targets].index(shown.target)
    told = Posture(
        heading="About as you sit now",
        chin_up_deg=(shown.low_deg + shown.high_deg) / 2,
        drawn_deg=shown.free_deg,
    )
    drawn = side_view(target=_seen(case, at), posture=told, name="home-side")
    picture(drawn)


def _seen(case: Case, at: int) -> Seen:
    judged, target = Judgements.standard(), case.targets[at]
    stop_mm = stop_mm_of(case, judgements=judged)
    above = centre_above_eye_cm(target, stop_mm=stop_mm)
    reach = target.distance_cm + stop_mm / 10.0
    return Seen(
        name=thing(target.name),
        kind=target.kind,
        ahead_cm=max(reach**2 - above**2, 1.0) ** 0.5,
        above_cm=above,
        height_cm=size_cm(target)[1],
        tilt_deg=tilt_deg(target) or 0.0,
        distance_cm=target.distance_cm,
    )


def _change(go: Callable[[str], None]) -> None:
    with st.expander(home_words.CHANGE):
        for step in STEPS:
            if st.button(home_words.STEP_NAMES[step], key=f"home_change_{step}", width="stretch"):
                go(step)


def _part(name: str, lines: Sequence[str]) -> None:
    if lines:
        st.subheader(home_words.HEADINGS[name], anchor=False)
        listed(lines)
