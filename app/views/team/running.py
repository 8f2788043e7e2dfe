"""The searches of this draft that are going on: begun, watched, stopped, taken in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import guarded
from app.form.html import html
from app.shell import state
from app.views.team import work as team_work
from app.views.team.job import Job
from app.views.team.work import Asked, Checked, Found
from engine.team.sensitivity import Ends
from engine.wording import say

FOUND, ENDS = "team.found", "team.ends"
"""What was found of a team, and of a sample of it with the unknown at its ends; with the draft."""
JOB = "team.job"
EVERY_S = 1.0
AT_ONCE_S = 0.2
"""A search that is done by then is shown without a bar."""
WORDS = {
    FOUND: "Search of the team",
    ENDS: "Looking for what changes it most",
}


@dataclass(frozen=True)
class _Running:
    """A search that is going on, what it will be kept as, and what it was asked."""

    name: str
    asked: Asked
    job: Job[Any]


def search(rows: Checked, present: str) -> None:
    """Begin to search everyone, in place of what is being searched."""
    asked = Asked(rows.good, present)
    _begin(FOUND, asked, lambda tell: team_work.searched(rows, present, progress=tell))


def look_for_ends(rows: Checked, present: str) -> None:
    """Begin to search what moves the total, unless it is known or something is being searched."""
    asked = Asked(rows.good, present)
    known = state.results().get(ENDS)
    if JOB in state.results() or (known is not None and known[0].same(asked)):
        return
    _begin(ENDS, asked, lambda tell: (asked, team_work.ends_of(rows, present, progress=tell)))


def is_searching(rows: Checked, present: str) -> bool:
    """Tell whether these people are being searched."""
    job: _Running | None = state.results().get(JOB)
    return job is not None and job.name == FOUND and job.asked.same(Asked(rows.good, present))


def found() -> Found | None:
    """Return what was found last."""
    known: Found | None = state.results().get(FOUND)
    return known


def ends(of: Found) -> Ends | None:
    """Return the ends of a team, once they are known."""
    known: tuple[Asked, Ends] | None = state.results().get(ENDS)
    return known[1] if known is not None and known[0].same(of.asked) else None


def take_in() -> None:
    """Keep what a search has found that has ended; what went wrong in it is raised here."""
    kept = state.results()
    job: _Running | None = kept.get(JOB)
    if job is not None and job.job.has_ended:
        del kept[JOB]
        kept[job.name] = job.job.result()


def watch(name: str) -> None:
    """Show how far a search is that will be kept under this name, if there is one."""
    job: _Running | None = state.results().get(JOB)
    if job is not None and job.name == name:
        _bar()


def _begin(name: str, asked: Asked, work: Any) -> None:
    kept = state.results()
    before: _Running | None = kept.get(JOB)
    if before is not None:
        before.job.stop()
    kept[JOB] = _Running(name, asked, Job(work))
    if kept[JOB].job.wait(AT_ONCE_S):
        take_in()


@st.fragment(run_every=EVERY_S)
@guarded
def _bar() -> None:
    """Draw a bar, alone and again and again, so that a field can be typed in meanwhile."""
    kept = state.results()
    job: _Running | None = kept.get(JOB)
    if job is None or job.job.has_ended:
        st.rerun()
    percent = round(100 * job.job.done)
    left = "" if job.job.left_s is None else f", about {_rounded(job.job.left_s)} left"
    label = WORDS[job.name]
    said = escaped(say("team_running", label=label, percent=percent, left=left))
    html(
        f'<div role="progressbar" aria-label="{label}" aria-valuemin="0" aria-valuemax="100" '
        f'aria-valuenow="{percent}" style="border:1px solid currentColor;padding:2px">'
        f'<div style="height:10px;width:{percent}%;background:var(--lg-accent)"></div></div>'
        f'<p class="lg-quiet">{said}</p>'
    )
    if job.name == FOUND and st.button("Stop", key=state.passing("stop")):
        job.job.stop()
        del kept[JOB]
        st.rerun()


def _rounded(seconds: float) -> str:
    if seconds >= 90:
        return f"{round(seconds / 60)} min"
    return f"{max(round(seconds), 1)} s"
