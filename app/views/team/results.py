"""The answer for a team: policies side by side, one looked at closely, files to take along."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from app.draw.svg import escaped
from app.form import decimal_sign, keep, pdf
from app.form.fields import picked
from app.form.html import alert, html, listed, quiet, table
from app.form.paper import download
from app.shell import state
from app.views.team import charts as team_charts
from app.views.team import law_words, running
from app.views.team import words as team_words
from app.views.team import work as team_work
from app.views.team.answer import Answer, answer_of
from app.views.team.law_words import Law
from app.views.team.load import Said
from app.views.team.memo import AXIS, PICTURE_TITLE, Memo, memo_page, memo_picture
from engine.team import sensitivity
from engine.team.people import people_by_content
from engine.team.policies import POLICIES, UPTAKE_NOT_SAID, Range
from engine.team.privacy import Session
from engine.team.tables import Shown, export_csv, moves_table, policy_table, published
from engine.wording import say

SESSION = "team.session"
LARGEST_MOVES = 6
ORDER = ("desk_first", "screen_pair", "general_for_all", "contribution")
"""Policies to look at closely; the one that costs least to try comes first."""
BY_UPTAKE = "People helped and comfortable hours gained, by uptake, which you did not give"


def session(threshold: int) -> Session:
    """Return what was shown in this sitting, asked with the smallest group that is typed now."""
    found: Session = state.results().setdefault(SESSION, Session())
    found.threshold = threshold
    return found


def show(
    found: team_work.Found, said: Said, law: Law, ends: sensitivity.Ends | None, *, old: bool
) -> None:
    """Show everything that may be shown of a team."""
    st.header("What to pay for", anchor=False)
    if not found.typed and not session(said.threshold).may_show(people_by_content(found.team)):
        html(alert(say("team_too_alike", threshold=said.threshold)))
        return
    shown = published(found.team, said.assumed, threshold=said.threshold, typed=found.typed)
    if old:
        html(f'<p class="lg-flag" role="status">{say("team_compute_again")}</p>')
    if said.refused:
        html(f'<p class="lg-flag">{say("team_value_refused")}</p>')
    answer = answer_of(
        shown,
        said.assumed,
        law,
        worn_assumed=bool(found.team.assumed_present),
        uptake_said=said.uptake_said,
    )
    html(f'<p class="lg-next"><b>{escaped(answer.says)}</b></p>')
    listed(answer.also)
    _memo(found, shown, said, law, ends, answer)
    _side_by_side(found, shown, said, law)
    _closer(found, shown, said, ends, answer, law)


def _memo(
    found: team_work.Found,
    shown: tuple[Shown, ...],
    said: Said,
    law: Law,
    ends: sensitivity.Ends | None,
    answer: Answer,
) -> None:
    moved: tuple[team_charts.Ends, ...] = ()
    one = next((one for one in shown if one.policy == answer.policy), None)
    if one is not None and one.total is not None:
        moved = tuple(_ends(_moves_of(found, ends, one, said)))
    memo = Memo(
        answer,
        shown,
        said.assumed,
        law,
        moved,
        ends is not None,
        _today(),
        found.typed,
        said.threshold,
    )
    download("Page for your memo", memo_page(memo), "screen-glasses", ".html", also_pdf=True)
    picture = decimal_sign.shown(memo_picture(memo))
    _download("Get the picture alone", picture, "screen-glasses.svg", "image/svg+xml")
    if pdf.can_draw():
        png = partial(pdf.png_of, picture)
        _download("Get the picture as PNG", png, "screen-glasses.png", "image/png")


def _side_by_side(found: team_work.Found, shown: tuple[Shown, ...], said: Said, law: Law) -> None:
    st.header("Policies side by side", anchor=False)
    cells = team_words.policy_cells(shown, said.assumed, law)
    html(table("Policies side by side", team_words.headings(law), cells))
    quiet(
        f"{team_words.RANGES} {team_words.how_blurred(typed=found.typed)} "
        f"{law_words.tests_words(law)}"
    )
    frame = policy_table(shown)
    frame["policy"] = [law.called(one.policy) for one in shown]
    frame[team_words.headings(law)[-1]] = [law.verdict(one.policy) for one in shown]
    _file("Download this table", frame, "policies.csv")
    html(team_words.about_policies(law))
    if not said.uptake_said:
        _uptakes(found, said, law)
    if team_words.all_hidden(shown):
        return
    for name, title, axis in (
        ("helped", "People helped", "people"),
        ("gained_h", PICTURE_TITLE, AXIS),
    ):
        st.subheader(title, anchor=False)
        _ranges(team_words.bars(shown, name, law), title, axis)
    bars = team_words.cost_bars(shown, law)
    if any(bar.span is not None for bar in bars):
        st.subheader("Cost to you, in your own prices", anchor=False)
        _ranges(bars, "Cost to you, in your own prices", "your own currency")


def _uptakes(found: team_work.Found, said: Said, law: Law) -> None:
    """Draw what each policy comes to if few, some or nearly all take it up."""
    by_share = {}
    for share in (UPTAKE_NOT_SAID.low, UPTAKE_NOT_SAID.mid, UPTAKE_NOT_SAID.high):
        taken = Range(share, share)
        assumed = replace(said.assumed, uptake=taken, contribution_uptake=taken)
        by_share[share] = published(
            found.team, assumed, threshold=said.threshold, typed=found.typed
        )
    heads = ("Policy", *(f"If {100 * share:.0f} % accept" for share in by_share))
    html(table(BY_UPTAKE, heads, team_words.uptake_cells(by_share, law)))


def _closer(
    found: team_work.Found,
    shown: Sequence[Shown],
    said: Said,
    ends: sensitivity.Ends | None,
    answer: Answer,
    law: Law,
) -> None:
    st.header("One policy in detail", anchor=False)
    names = sorted(ORDER, key=lambda name: name != answer.policy)
    policy = picked("team.policy", "Policy", names, words=law.called)
    one = next(one for one in shown if one.policy == policy)
    html(table("By age and screen", team_words.GROUP_HEADINGS, team_words.group_cells(one.groups)))
    quiet(team_words.why_groups(one, said.threshold, said.assumed))
    _file("Download the groups", one.groups, keep.file_name(f"groups {law.called(policy)}", ".csv"))
    st.subheader("What changes the total most", anchor=False)
    if one.total is None:
        quiet(say("team_hidden_because_total_hidden"))
    elif ends is not None:
        _moves(_moves_of(found, ends, one, said), policy, one.total.gained_h.mid)
    else:
        running.watch(running.ENDS)


def _moves_of(
    found: team_work.Found, ends: sensitivity.Ends | None, one: Shown, said: Said
) -> pd.DataFrame:
    """Return each assumption changed by itself, the largest first; eyes and desks with the ends."""
    every = sensitivity.moves(found.team, ends, one.policy, said.assumed, typed=found.typed)
    return moves_table(one, every)


def _ends(moved: pd.DataFrame) -> list[team_charts.Ends]:
    return [
        team_charts.Ends(row["assumption"], row["gained_h_low_end"], row["gained_h_high_end"])
        for row in moved.to_dict("records")
    ]


def _moves(moved: pd.DataFrame, policy: str, middle_h: float) -> None:
    quiet(say("team_one_assumption_changed_at", people=sensitivity.SAMPLE_PEOPLE))
    drawn = _ends(moved)[:LARGEST_MOVES]
    title = "Comfortable hours a day gained, all together, with one assumption changed"
    _vega(
        team_charts.moves(drawn, axis="comfortable hours a day gained", middle=middle_h),
        team_charts.moves_text(drawn, title=title, middle=middle_h),
    )
    quiet(say("team_first_value_named_second"))
    headings = [team_words.COLUMNS[str(name)] for name in moved.columns]
    cells = [[_cell(value) for value in row.values()] for row in moved.to_dict("records")]
    html(table("Each assumption changed by itself", headings, cells))
    name = keep.file_name(f"assumptions {POLICIES[policy]}", ".csv")
    _file("Download what changes it", moved, name)


def _cell(value: object) -> str:
    return team_charts.figure(value) if isinstance(value, float) else str(value)


def _ranges(bars: Sequence[team_charts.Bar], title: str, axis: str) -> None:
    _vega(team_charts.ranges(bars, axis=axis), team_charts.ranges_text(bars, title=title))


def _vega(spec: team_charts.Spec, alt: str) -> None:
    st.vega_lite_chart(spec=decimal_sign.in_chart(spec), theme=None, width="stretch", alt=alt)


def _file(label: str, frame: Any, name: str) -> None:
    """Offer a table under the names of the page."""
    named = frame.rename(columns=team_words.COLUMNS).assign(Note=team_words.NOTE)
    _download(label, decimal_sign.in_table(export_csv(named)), name, "text/csv")


def _download(label: str, made: str | Callable[[], bytes], name: str, mime: str) -> None:
    st.download_button(
        label, made, file_name=name, mime=mime, on_click="ignore", key=state.passing(name)
    )


def _today() -> date:
    return date.today()
