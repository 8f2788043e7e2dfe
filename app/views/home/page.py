"""The home check: one question at a time, the step in the address, the answers in the draft.

The warning signs are tested at the top of every run, before the step in the address is looked at:
no address and no Back key leads past them.
"""

from __future__ import annotations

import streamlit as st

from app.draw.svg import escaped
from app.form.html import alert, html
from app.shell import internals as at
from app.shell import state, theme, words
from app.views.home import answer, questions, typed_answers
from app.views.home import words as home_words
from app.views.home.typed_answers import PREFIX, Reading
from engine import tables
from engine.errors import InputRefusedError
from engine.home.answers import STEPS, answered, choices, progress
from engine.home.check import red_flags

STEP = "step"
RESULT = "result"
SKIPPABLE = ("distances", "heights", "hours")
"""Questions whose numbers not everybody can give; the others hold a choice for that."""


def page() -> None:
    """Draw the question asked for in the address, or the first one that is still open."""
    st.html(_STYLE)
    with st.container(key="home_body"):
        st.title(home_words.TITLE, anchor=False)
        reading = typed_answers.read(state.answers())
        stops = red_flags(reading.answers)
        step = _step(reading)
        if stops:
            _stop(stops)
        elif step == RESULT:
            _heading(step, home_words.RESULT_TITLE)
            answer.show(reading, go=_go)
        else:
            _question(step)
        st.divider()
        st.button(words.DELETE_ANSWERS, on_click=_forget)
        st.caption(words.DELETE_NOTE)


def _step(reading: Reading) -> str:
    """The step to show; the address is set right where it asks for too much."""
    first_open = reading.open_step
    asked = st.query_params.get(STEP)
    order = [*STEPS, RESULT]
    last = order.index(RESULT if first_open is None else first_open)
    step = order[last]
    if asked in order and order.index(asked) <= last:
        step = asked
    if asked != step:
        st.query_params[STEP] = step
    return step


def _question(step: str) -> None:
    number, count = progress(step)
    row = tables.by_id("home_questions")[step]
    said = home_words.PROGRESS.format(number=number, count=count) if number else home_words.BEFORE
    if number:
        _progress(number, count)
    else:
        st.write(home_words.LEAD)
    _heading(step, f"{said}. {row['title']}")
    st.write(row["help"])
    with st.container(key=f"home_{step}"):
        drawn = questions.ask(step)
    typed = state.answers()
    if red_flags(typed_answers.read(typed).answers):
        st.rerun()
    drawn.notes(typed_answers.read({f"{PREFIX}done.{step}": True, **typed}))
    problem = st.empty()
    _buttons(step, problem)


def _progress(number: int, count: int) -> None:
    """How far one has come, as a bar; the heading says it in words."""
    part = round(100 * number / count)
    html(
        f'<div aria-hidden="true" style="height:6px;border:1px solid {theme.RULE}">'
        f'<div style="height:100%;width:{part}%;background:{theme.ACCENT}"></div></div>'
    )


def _stop(stops: tuple[str, ...]) -> None:
    """Where to go and how fast, and nothing else, while a warning sign stands."""
    _heading("stop", home_words.STOP_TITLE)
    items = "".join(f"<p>{escaped(text)}</p>" for text in dict.fromkeys(stops))
    html(f'<div class="lg-answer lg-stop" role="alert"><div>{items}</div></div>')
    none = {f"{PREFIX}flags.{flag}": False for flag in choices("flags")}
    st.button(home_words.STOP_MISTAKE, on_click=state.put, args=(none,))


def _buttons(step: str, problem: object) -> None:
    left, middle, right = st.columns([2, 3, 2])
    onward = left.button(home_words.NEXT, type="primary", width="stretch", key=f"home_next_{step}")
    passing = step in SKIPPABLE and middle.button(
        home_words.SKIP, width="stretch", key=f"home_skip_{step}"
    )
    at = STEPS.index(step)
    if at and right.button(home_words.BACK, width="stretch", key=f"home_back_{step}"):
        _go(STEPS[at - 1])
    if passing or onward:
        state.keep(f"{PREFIX}done.{step}", "skipped" if passing else True)
        complaint = _complaint(step)
        if complaint:
            html(alert(complaint), place=problem)
        else:
            _after(step)


def _complaint(step: str) -> str | None:
    """Why one cannot go on from a question yet; None when one can."""
    reading = typed_answers.read(state.answers())
    if step in reading.blocks:
        return home_words.TO_MEND
    if answered(reading.answers, step):
        return None
    asked = {
        "flags": home_words.TICK_ONE,
        "age": home_words.CHOOSE_AGE,
        "screens": home_words.SIZE_NEEDED,
        "distances": home_words.NUMBER_NEEDED,
        "heights": home_words.NUMBER_NEEDED,
    }
    return asked.get(step, home_words.CHOOSE_ONE)


def _after(step: str) -> None:
    """On to the next question, or to the result once nothing is open."""
    order = [*STEPS, RESULT]
    _go(order[order.index(step) + 1])


def _go(step: str) -> None:
    st.query_params[STEP] = step
    st.rerun()


def _forget() -> None:
    st.query_params.pop(STEP, None)
    state.forget()


def _heading(step: str, title: str) -> None:
    """The heading of a step; the focus moves to it when the step is new."""
    with st.container(key=f"home_head_{step}"):
        st.header(title, anchor=False)
        st.html(_FOCUS.format(step=step, main=at.MAIN), unsafe_allow_javascript=True)


_FOCUS = """<script>
(() => {{
  if (window.lgStep === "{step}") return;
  const first = window.lgStep === undefined;
  window.lgStep = "{step}";
  let tries = 40;
  const look = () => {{
    const heading = document.querySelector(".st-key-home_head_{step} h2");
    if (!heading) {{ if (tries--) setTimeout(look, 50); return; }}
    heading.tabIndex = -1;
    if (first) return;
    document.querySelector('{main}')?.scrollTo(0, 0);
    heading.focus({{preventScroll: true}});
  }};
  look();
}})();
</script>"""
_STYLE = f"""<style>
.st-key-home_body {{ max-width: 46rem; }}
.st-key-home_body h2:focus {{ outline: none !important; }}
.st-key-home_body :is(label, {at.TEXT_FIELD} input) p, .st-key-home_body {at.TEXT_FIELD} input {{
  font-size: 1rem; }}
.st-key-home_body .lg-stop p {{ font-size: 1.125rem; margin: 0.3rem 0; }}
.st-key-home_body :is({at.CHECKBOX}, {at.RADIO}) label {{ padding-block: 0.2rem; }}
.st-key-home_body .lg-stop {{ margin-bottom: 1rem; }}
.st-key-home_body .lg-scroll p {{ margin: 0.3rem 0 0; }}
</style>"""


try:
    page()
except InputRefusedError as refusal:
    html(alert(str(refusal.allowed)))
