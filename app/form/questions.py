"""Words of the lists of the interview, and an invented wearer. Pure."""

from __future__ import annotations

from app.form.presets import presets
from engine import tables
from engine.case.model import PowerFall
from engine.lenses.kinds import POWER_FALL_WORDS
from engine.lenses.surfaces import OFFICE
from engine.wording import minus

NEEDS = {
    "walking": "walking about",
    "stairs": "stairs",
    "driving": "driving",
}
ON_THE_DESK = {
    "second_screen": "second screen",
    "papers": "papers",
    "phone": "phone or tablet",
    "visitor": "visitor",
}
"""What is asked for beside the main screen, by the thing that is put there."""
LIKED = {"": "not asked", "yes": "yes", "no": "no"}
TURNS = {"": "not known", "head": "the head", "eyes": "the eyes"}

EXAMPLE = {
    "wearer.age_years": "54",
    "prescription": "R +0.50 DS L +0.50 DS add +2.00",
    "main.preset": "screen_27",
    "main.preset_chosen": True,
    "main.distance_cm": "65",
    "main.top_above_eye_cm": "5",
    "papers": "yes",
    "papers.distance_cm": "42",
    "day.hours": "6",
    "other0.preset": "colleague",
    "present.kind": "general_progressive",
    "present.add_d": "2.00",
}
"""An invented wearer: a tall screen, a general progressive, a day at a desk."""


def preset_words(name: str) -> str:
    """Return a preset in the list of a field."""
    return presets()[name].name if name in presets() else "…"


def design_choice_words(choice: PowerFall) -> str:
    """Return a word of a design in the list of a field.

    >>> design_choice_words("slow")
    'slowly (over 26 mm)'
    """
    return f"{POWER_FALL_WORDS[choice]} (over {OFFICE[choice].length_mm:g} mm)"


def kind_words(kind: str) -> str:
    """Return a kind of lens in the list of a field."""
    return tables.by_id("lens_kinds")[kind]["optician_name"] if kind else "not known or none"


def condition_words(name: str) -> str:
    """Return a condition as it is asked."""
    return tables.by_id("conditions")[name]["question"]


def assumed_words(value: float | None) -> str:
    """Return an assumed value, as the form shows it."""
    return "" if value is None else minus(f"{value:g}")
