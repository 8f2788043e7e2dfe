"""Assemble the home check: tables, pictures, hours and scripts in one HTML file.

What a wearer reads comes from the tables; what can be worked out beforehand is. No value of a lens
goes in: of a band of ages its name, of a kind of lens its words.
"""

from __future__ import annotations

import base64
import hashlib
import json
from datetime import date
from html import escape
from pathlib import Path
from string import Template
from typing import Any

from app.home_file import pictures, questions, sheet
from engine import __version__, tables
from engine.case.results import RESULTS_VERSION
from engine.home.answers import (
    ASPECTS,
    SCREEN_NAMES,
    HomeAnswers,
    HomeReading,
    HomeScreen,
    choices,
    have_parts,
    kind_of,
    lens_of_answer,
)
from engine.home.numbers import number
from engine.lenses.kinds import KINDS
from engine.units import day_words

FOLDER = Path(__file__).parent
SCRIPTS = ("hours.js", "code.js", "page.js")
GRID = "grid.txt"
QUESTIONS = ("age", *dict.fromkeys(row["question"] for row in tables.rows("home_choices")))
NUMBERS = (
    "a4_long_cm", "letter_long_cm", "card_short_cm", "steepest_share",
    "inches_below_cm", "touch_most_cm", "reach_least_cm", "eyes_low_cm", "eyes_high_cm",
    "most_tilt_deg", "page_inches_below_cm", "page_far_cm", "phone_beyond_page_cm",
    "mostly_blurred_share", "chin_up_felt_deg", "same_chin_deg", "new_page_months",
)  # fmt: skip
"""Numbers of home_numbers.csv that the script reads; no power is among them."""
SEE_FIRST = ("amblyopia", "recent_eye_surgery", "one_eye_blur", "distorted_lines", "new_headache",
             "fluctuating_sight")  # fmt: skip
"""Told things for which the eyes are looked at before anything else."""
SUCH = {"size": "24", "distance": "65", "top": "45", "eyes": "48", "page": "40", "hours": "6.5"}
"""A number to show beside each field, by its kind."""


def home_file(*, made: date | None = None) -> str:
    """Return the whole home check as HTML; `made` is the date it shows, today if not given."""
    scripts = [(FOLDER / name).read_text(encoding="utf-8") for name in SCRIPTS]
    title = _texts()["title"]
    page = Template((FOLDER / "page.html").read_text(encoding="utf-8"))
    return page.substitute(
        policy=_policy(scripts),
        title=escape(title),
        style=(FOLDER / "style.css").read_text(encoding="utf-8"),
        plain_title=escape(_texts()["plain_title"]),
        plain_open=escape(_texts()["plain_open"]),
        blank=sheet.question_sheet(),
        questions=questions.templates(),
        data=json.dumps(content(made=made or date.today()), ensure_ascii=False, sort_keys=True,
                        separators=(",", ":")).replace("<", "\\u003c"),
        grid=(FOLDER / GRID).read_text(encoding="ascii"),
        scripts="\n".join(f"<script>{script}</script>" for script in scripts),
    )  # fmt: skip


def content(*, made: date) -> dict[str, Any]:
    """Return all that the script asks, says and compares, in plain values."""
    return {
        "date": made.isoformat(),
        "day": day_words(made),
        "version": __version__,
        "results": RESULTS_VERSION,
        "texts": _texts(),
        "questions": [dict(row) for row in tables.rows("home_questions")],
        "choices": {one: list(choices(one).items()) for one in QUESTIONS},
        "leads": {
            "age": f"{questions.say('about_age')} ",
            "lens_part": f"{questions.say('about_lens_part')} ",
        },
        "answers": _of_choice("answer"),
        "asks": _of_choice("ask"),
        "things": choices("thing"),
        "screens": SCREEN_NAMES,
        "aspects": {name: list(map(int, ratio.split(":"))) for name, ratio in ASPECTS.items()},
        "numbers": {name: number(name) for name in NUMBERS},
        "limits": _limits(),
        "such": SUCH,
        "tells": {
            told: questions.wearer_text(told) for told in [*choices("tell"), "contact_lenses"]
        },
        "see_first": SEE_FIRST,
        "kinds": _kinds(),
        "worn": {glasses: _worn(glasses) for glasses in choices("glasses")},
        "figure": pictures.figure_parts(),
    }


def _policy(scripts: list[str]) -> str:
    """Return a content policy that lets these scripts run and nothing be fetched."""
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in scripts
    )
    return (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; "
        "base-uri 'none'; form-action 'none'"
    )


def _texts() -> dict[str, str]:
    return {row["id"]: row["text"] for row in tables.rows("home_texts")}


def _of_choice(column: str) -> dict[str, str]:
    """Return what is said to, or asked because of, each choice that has such words."""
    return {row["choice"]: row[column] for row in tables.rows("home_choices") if row[column]}


def _limits() -> dict[str, tuple[float, float]]:
    """Return least and most of each kind of field: the limits of the model."""
    fields = {
        "size": (HomeScreen, "size_in"),
        "distance": (HomeScreen, "distance_cm"),
        "top": (HomeScreen, "top_above_desk_cm"),
        "eyes": (HomeAnswers, "eyes_above_desk_cm"),
        "page": (HomeReading, "distance_cm"),
    }
    found = {"hours": (0.0, 24.0)}
    for kind, (model, name) in fields.items():
        limits = model.model_fields[name].metadata
        low = next(one.ge for one in limits if hasattr(one, "ge"))
        found[kind] = (low, next(one.le for one in limits if hasattr(one, "le")))
    return found


def _kinds() -> dict[str, dict[str, str]]:
    """Return the words about each kind of lens that is worn or asked about."""
    why = tables.by_id("home_kinds")
    return {
        kind: {
            "name": row["wearer_name"],
            **{part: why[kind][part] for part in ("why", "but", "ask") if kind in why},
        }
        for kind, row in tables.by_id("lens_kinds").items()
    }


_WORN_WORDS = {"bare_far": "bare", "bare_near": "bare", "contacts": "contacts"}


def _worn(glasses: str) -> dict[str, Any]:
    """Return what follows from an answer about glasses: lens or none, parts, far away or not."""
    kind = lens_of_answer(glasses)
    lens = kind is not None and kind.is_lens
    return {
        "kind": kind_of(glasses) if lens else None,
        "words": _WORN_WORDS.get(glasses, "glasses"),
        "parts": have_parts(glasses),
        "near_only": lens and not KINDS[kind_of(glasses) or ""].may_cover_distance,
    }
