"""Team: what an employer's vision-benefit coordinator needs, in plain words."""

from __future__ import annotations

import streamlit as st

from app.form.fields import Fields
from app.form.html import html, quiet
from app.shell import state, words
from app.views.collection.slip import slip
from app.views.team import law as team_law
from app.views.team import load
from app.views.team import results as team_results
from app.views.team import words as team_words
from app.views.team import work as team_file
from app.views.team import work as team_work

FOUND = "team.found"


def page() -> None:
    """The page from top to bottom."""
    st.title(words.PAGES["team"], anchor=False)
    quiet(team_words.WHAT)
    quiet(team_words.PRIVACY)
    fields = Fields()
    left, right = st.columns(2, gap="large")
    with left:
        rows = load.people(fields)
        present = load.present(fields)
    with right:
        said = load.assumptions(fields)
    _compute(rows, present)
    found: team_work.Found | None = state.results().get(FOUND)
    if found is not None:
        team_results.show(found, rows, said, old=_old(found, rows, present))
    team_law.evidence_of_all()
    team_law.law()
    team_law.hold()
    slip()
    st.divider()
    st.button(words.DELETE_ANSWERS, on_click=state.forget, type="secondary")
    st.caption(words.DELETE_NOTE)


def _compute(rows: team_file.Checked | None, present: str) -> None:
    if rows is None:
        html('<p class="lg-next">Say who is in the team: the button to compute appears here.</p>')
        return
    left_out = f", leaving out {_rows(rows.bad_rows)}" if rows.bad_rows else ""
    wait = team_work.seconds(_drawn(rows))
    label = f"Compute for {rows.people:,} people{left_out} ({_wait(wait)})"
    if not st.button(label, type="primary", key=state.passing("compute"), width="stretch"):
        return
    with load.bar("Search of the team") as tell:
        found = team_work.searched(rows, present, progress=tell)
    state.results()[FOUND] = found


def _old(found: team_work.Found, rows: team_file.Checked | None, present: str) -> bool:
    return rows is None or not found.asked.same(team_work.Asked(rows.good, present))


def _drawn(rows: team_file.Checked) -> int:
    """People who are searched; a large band stands for itself by fewer."""
    return len(team_file.expanded(rows.good)[0])


def _rows(count: int) -> str:
    return f"{count} row{'' if count == 1 else 's'}"


def _wait(seconds: float) -> str:
    if seconds < 90:
        return f"about {max(5 * round(seconds / 5), 5)} s"
    return f"about {round(seconds / 60)} min"


page()
