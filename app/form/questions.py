"""Labels of the interview's fields and the values it starts from. Pure."""

from __future__ import annotations

from app.form.case_of_answers import assumed_h
from app.form.presets import presets
from engine import tables
from engine.case.model import Fit, PowerFall, usual_chart_m
from engine.lenses.kinds import POWER_FALL_WORDS
from engine.lenses.surfaces import OFFICE

NEEDS = {
    "walking": "walking about",
    "stairs": "stairs",
    "driving": "driving",
}
YES_NO = {"no": "no", "yes": "yes"}
LIKED = {"": "not asked", "yes": "yes", "no": "no"}
TURNS = {"": "not known", "head": "the head", "eyes": "the eyes"}

FIT_LABELS = {
    "vertex_mm": "Vertex distance (mm)",
    "pantoscopic_deg": "Pantoscopic tilt (°)",
    "wrap_deg": "Wrap (°)",
    "lens_width_mm": "Lens width (mm)",
    "bridge_mm": "Bridge (mm)",
    "lens_depth_mm": "Lens depth (mm)",
}
DESIGN_LABELS = {
    "add_d": "Add (D)",
    "corridor_mm": "Corridor length (mm)",
    "near_add_d": "Near added power (D)",
    "degression_d": "Degression (D)",
    "upper_add_d": "Upper added power (D)",
    "line_drop_mm": "Line below the fitting point (mm)",
    "power_fall": "Power fall upwards",
}
TARGET_LABELS = {
    "distance_cm": "Distance (cm)",
    "top_above_eye_cm": "Top edge to eyes, − below (cm)",
    "centre_above_eye_cm": "Centre to eyes, − below (cm)",
    "diagonal_in": "Diagonal (in)",
    "width_cm": "Width (cm)",
    "height_cm": "Height (cm)",
    "tilt_deg": "Tilt, top away (°)",
    "text_height_mm": "Height of capitals (mm)",
    "text_arcmin": "Detail size (arcmin)",
}
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
    """A preset in the list of a field."""
    return presets()[name].name if name in presets() else "…"


def design_choice_words(choice: PowerFall) -> str:
    """A word of a design in the list of a field.

    >>> design_choice_words("slow")
    'slowly (over 26 mm)'
    """
    return f"{POWER_FALL_WORDS[choice]} (over {OFFICE[choice].length_mm:g} mm)"


def kind_words(kind: str) -> str:
    """A kind of lens in the list of a field."""
    return tables.by_id("lens_kinds")[kind]["optician_name"] if kind else "not known, or none"


def condition_words(name: str) -> str:
    """A condition as it is asked."""
    return tables.by_id("conditions")[name]["question"]


def assumed_words(value: float | None) -> str:
    """An assumed value, as the form shows it."""
    return "" if value is None else f"{value:g}".replace("-", "−")


def fit_assumed(field: str) -> str:
    """The default of a fit value, as the form shows it."""
    return f"{Fit.model_fields[field].default:g}"


HOURS_ASSUMED = f"{assumed_h():g}"
CHART_ASSUMED = f"{usual_chart_m():g}"
