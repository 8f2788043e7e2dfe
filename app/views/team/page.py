"""Team: what an employer's vision-benefit coordinator needs, in plain words."""

from __future__ import annotations

import streamlit as st

from app.form.fields import Fields
from app.form.html import alert, html, quiet
from app.form.slip import slip
from app.shell import state, words
from app.views.team import law as team_law
from app.views.team import load, running
from app.views.team import results as team_results
from app.views.team import words as team_words
from app.views.team import work as team_work
from engine.wording import say


def page() -> None:
    """Draw the page from top to bottom."""
    st.title(words.PAGES["team"], anchor=False)
    quiet(team_words.WHAT)
    quiet(team_words.PRIVACY)
    fields = Fields()
    law = team_law.asked(fields)
    left, right = st.columns(2, gap="large")
    with left:
        rows = load.people(fields)
        present = load.present(fields)
    with right:
        said = load.assumptions(fields, tests_for_all=law.tests_for_all)
    running.take_in()
    _compute(rows, present, said.threshold)
    found = running.found()
    if found is not None:
        old = rows is None or not found.asked.same(team_work.Asked(rows.good, present))
        if rows is not None and not old:
            running.look_for_ends(rows, present)
        team_results.show(found, said, law, running.ends(found), old=old)
    team_law.evidence_of_all()
    team_law.law(law)
    team_law.hold()
    slip()
    st.divider()
    st.button(words.DELETE_ANSWERS, on_click=state.forget, type="secondary")
    st.caption(words.DELETE_NOTE)


def _compute(rows: team_work.Checked | None, present: str, threshold: int) -> None:
    if rows is None:
        html(f'<p class="lg-next">{say("team_who_first")}</p>')
    elif not rows.typed and not team_results.session(threshold).would_show(rows.content):
        html(alert(say("team_too_alike", threshold=threshold)))
    elif not running.is_searching(rows, present):
        left_out = f", leaving out {_rows(rows.bad_rows)}" if rows.bad_rows else ""
        wait = _wait(team_work.seconds(rows))
        label = f"Compute for {rows.people:,} people{left_out} ({wait})"
        if st.button(label, type="primary", key=state.passing("compute"), width="stretch"):
            running.search(rows, present)
    running.watch(running.FOUND)


def _rows(count: int) -> str:
    return f"{count} row{'' if count == 1 else 's'}"


def _wait(seconds: float) -> str:
    if seconds < 90:
        return f"about {max(5 * round(seconds / 5), 5)} s"
    return f"about {round(seconds / 60)} min"


page()
