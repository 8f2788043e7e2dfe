"""The answer for a team: policies side by side, one looked at closely, files to take along."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form.html import alert, html, quiet, table
from app.shell import state
from app.views.team import charts as team_charts
from app.views.team import load
from app.views.team import words as team_words
from app.views.team import work as team_file
from app.views.team import work as team_work
from app.views.team.load import Said
from engine.team import sensitivity
from engine.team.law import evidence
from engine.team.people import people_by_content
from engine.team.privacy import HIDDEN, TOO_ALIKE, Session
from engine.team.tables import Shown, export_csv, moves_table, policy_table, published

SESSION, ENDS = "team.session", "team.ends"
LARGEST_MOVES = 6
ORDER = ("desk_first", "screen_pair", "general_for_all", "contribution")
"""Policies to look at closely; the one that costs least to try comes first."""
CHARTS = (
    ("helped", "People helped", "people"),
    ("gained_h", "Comfortable hours a day gained, all together", "hours a day"),
)
OLD = "Out of date: the team was changed after these figures were computed. Compute again."
REFUSED = "A value typed above is refused; these figures do without it."


def show(found: team_work.Found, rows: team_file.Checked | None, said: Said, *, old: bool) -> None:
    """Everything that may be shown of a team."""
    st.header("Policies side by side", anchor=False)
    if not found.typed and not _may_show(found, said):
        html(alert(TOO_ALIKE.format(threshold=said.threshold)))
        return
    shown = published(found.team, said.assumed, threshold=said.threshold, typed=found.typed)
    if old:
        html(f'<p class="lg-flag" role="status">{OLD}</p>')
    if said.refused:
        html(f'<p class="lg-flag">{REFUSED}</p>')
    first = escaped(team_words.headline(shown, said.assumed.earns_h))
    html(f'<p class="lg-next"><b>{first}</b></p>')
    quiet(_how(found, said))
    html(team_words.policy_list())
    charts = () if team_words.all_hidden(shown) else CHARTS
    for name, title, axis in charts:
        left, right = st.columns([3, 2], gap="medium")
        with left:
            st.subheader(title, anchor=False)
            _ranges(team_words.bars(shown, name), title, axis)
        with right:
            html('<p class="lg-quiet lg-beside"><b>How far that is known</b></p>')
            html(team_words.evidence_list(evidence(), team_words.BESIDE[name]))
    _costs(shown, said)
    _closer(found, rows, shown, said, old=old)


def _may_show(found: team_work.Found, said: Said) -> bool:
    session: Session = state.results().setdefault(SESSION, Session())
    session.threshold = said.threshold
    return session.may_show(people_by_content(found.team))


def _how(found: team_work.Found, said: Said) -> str:
    worn = ""
    if found.team.assumed_present:
        worn = " What people wear at the screen today is partly assumed."
    return (
        "Middle, and in brackets the range that leaves out a tenth of the draws on either side "
        "and takes the ends of your own ranges. "
        f"{team_words.how_blurred(typed=found.typed)} "
        f"Groups under {said.threshold} people are hidden.{worn}"
    )


def _costs(shown: Sequence[Shown], said: Said) -> None:
    bars = team_words.cost_bars(shown)
    if any(bar.span is not None for bar in bars):
        st.subheader("Cost to you, in your own prices", anchor=False)
        _ranges(bars, "Cost to you, in your own prices", "your own currency")
    cells = team_words.policy_cells(shown, said.assumed)
    html(table("Policies side by side", team_words.HEADINGS, cells))
    missing = team_words.missing_for_break_even(said.assumed)
    if missing:
        needs = f"The uptake from which a policy pays for itself needs {', '.join(missing)}."
        quiet(needs)
    _file("Download this table", policy_table(tuple(shown)), "policies.csv")


def _closer(
    found: team_work.Found,
    rows: team_file.Checked | None,
    shown: Sequence[Shown],
    said: Said,
    *,
    old: bool,
) -> None:
    st.header("One policy looked at closely", anchor=False)
    names = list(ORDER)
    policy = st.selectbox(
        "Policy",
        names,
        key=state.among("team.policy", names),
        format_func=lambda name: team_words.LONG[name],
        filter_mode=None,
    )
    state.keep("team.policy", policy)
    one = next(one for one in shown if one.policy == policy)
    html(table("By age and screen", team_words.GROUP_HEADINGS, team_words.group_cells(one.groups)))
    if HIDDEN in one.groups.to_numpy():
        quiet(team_words.WHY_HIDDEN)
    _file("Download the groups", one.groups, f"groups-{policy}.csv")
    st.subheader("What moves the total most", anchor=False)
    if one.total is None:
        quiet("Hidden, since the total is.")
        return
    ends = _ends(found, rows, old=old)
    if ends is not None:
        _moves(found, ends, one, said)


def _ends(
    found: team_work.Found, rows: team_file.Checked | None, *, old: bool
) -> sensitivity.Ends | None:
    kept = state.results()
    known: tuple[team_work.Asked, sensitivity.Ends] | None = kept.get(ENDS)
    if known is not None and known[0].same(found.asked):
        return known[1]
    if rows is None or old:
        return None
    html(
        '<p class="lg-quiet">One assumption is moved at a time. What is not known of eyes and '
        f"desks is searched anew for {sensitivity.SAMPLE_PEOPLE} of the people and carried "
        "over in proportion.</p>"
    )
    if not st.button("Find what moves it most", key=state.passing("ends"), width="stretch"):
        return None
    with load.bar("Search of the ends") as tell:
        ends = team_work.ends_of(rows, found.asked.present, progress=tell)
    kept[ENDS] = (found.asked, ends)
    st.rerun()
    return ends


def _moves(found: team_work.Found, ends: sensitivity.Ends, one: Shown, said: Said) -> None:
    every = sensitivity.moves(found.team, ends, one.policy, said.assumed, typed=found.typed)
    made = moves_table(one, every)
    drawn = [
        team_charts.Ends(row["assumption"], row["gained_h_low_end"], row["gained_h_high_end"])
        for row in made.to_dict("records")
    ][:LARGEST_MOVES]
    middle = one.total.gained_h.mid if one.total is not None else 0.0
    title = "Comfortable hours a day gained, all together, with one assumption moved"
    _vega(
        team_charts.moves(drawn, axis="comfortable hours a day gained", middle=middle),
        team_charts.moves_text(drawn, title=title, middle=middle),
    )
    quiet("○ the first end named, ● the second; dashed: as it is.")
    headings = (
        "Assumption",
        "Hours, first end",
        "Hours, second end",
        "Cost, first end",
        "Cost, second end",
    )
    cells = [[_cell(value) for value in row.values()] for row in made.to_dict("records")]
    html(table("Every assumption moved by itself", headings, cells))
    _file("Download what moves it", made, f"moves-{one.policy}.csv")


def _cell(value: object) -> str:
    return team_charts.figure(value) if isinstance(value, float) else str(value)


def _ranges(bars: Sequence[team_charts.Bar], title: str, axis: str) -> None:
    _vega(team_charts.ranges(bars, axis=axis), team_charts.ranges_text(bars, title=title))


def _vega(spec: team_charts.Spec, alt: str) -> None:
    st.vega_lite_chart(spec=spec, theme=None, width="stretch", alt=alt)


def _file(label: str, frame: Any, name: str) -> None:
    st.download_button(
        label,
        export_csv(frame.assign(note=team_words.NOTE)),
        file_name=name,
        mime="text/csv",
        on_click="ignore",
        key=state.passing(name),
    )
