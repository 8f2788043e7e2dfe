"""What the wearer told at home, in a small block at the top of the interview."""

from __future__ import annotations

from collections.abc import Iterator

import streamlit as st

from app.draw.svg import escaped
from app.form.case_of_answers import EXTENSIONS
from app.form.html import html, quiet
from app.shell import state
from engine.case.model import Case
from engine.home.case import told_at_home
from engine.wording import say

TITLES = {
    "seen_by_doctor": "A doctor has looked at it since",
    "bothers": "What bothers",
    "coping": "To see the screen",
    "lens_part": "Sees the screen best through",
    "glasses": "Glasses at the screen",
    "age": "Age",
}
MEASURES = {"distance_cm": "distance", "top_above_eye_cm": "height of the top edge"}
"""What the check asks a home to measure, by its name in a case."""


def block(case: Case | None) -> None:
    """Show what was told at home and has no field, and what nobody has measured of the case yet.

    case: None while a value is refused.
    """
    told = told_at_home(state.held(EXTENSIONS) or {})
    if not told:
        return
    with st.expander("From home", expanded=True):
        lines = [f"<li><b>{TITLES[name]}:</b> {_quoted(said)}</li>" for name, said in told.items()]
        html(f'<ul class="lg-quiet lg-worn">{"".join(lines)}</ul>')
        if case is not None and (missing := list(_not_measured(case))):
            quiet(say("interview_not_measured_at_home", missing="; ".join(missing)))


def _quoted(said: tuple[str, ...]) -> str:
    return "; ".join(f"“{escaped(one)}”" for one in said)


def _not_measured(case: Case) -> Iterator[str]:
    """Yield what a home could have measured of each thing looked at, and nobody has yet."""
    for place, target in enumerate(case.targets):
        missing = [
            words
            for field, words in MEASURES.items()
            if getattr(target, field) is not None and case.is_assumed(f"/targets/{place}/{field}")
        ]
        if missing and target.kind != "far":
            yield f"{target.name} ({' and '.join(missing)})"
