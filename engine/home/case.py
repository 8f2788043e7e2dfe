"""From the answers at home to a case, and the file the wearer brings along.

What was measured at home has the origin at_home, everything else assumed. No power is known: the
eyes of the case are plain, and the optician fills them in.
"""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from engine import tables
from engine.case.targets import height_in_reach_cm, least_distance_cm, offset_in_reach_cm
from engine.errors import InputRefusedError, Limits
from engine.home.answers import (
    SCREEN_NAMES,
    HomeAnswers,
    answers_from,
    choices,
    sideways_cm,
    worn_kind,
)
from engine.home.code import holds_code, unpack
from engine.home.numbers import number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.case.model import Bother
    from engine.home.answers import HomeScreen

VISIT_FILE = "levelgaze home check"
VISIT_VERSION = 1
_NO_LONGER_ASKED = ("ruler", "card_cm")
"""What files of the first home check hold about the tape that was used."""
LARGEST_FILE = 100_000
"""Characters; a filled visit file has about 2,000."""
HOME_CHECK = "home_check"
"""Under which name a case holds what was told at home and has no field of its own."""
LAPTOP_BETWEEN_IN = 14.8
LAPTOPS = ("laptop_14", "laptop_156")
"""Presets of smaller and of larger laptops."""
_BOTHERS: dict[str, Bother] = {
    "screen_blurred": "screen_blurred",
    "papers_blurred": "near_blurred",
    "far_blurred": "far_blurred",
    "neck": "neck",
    "tired": "tired_eyes",
    "glare": "glare",
}
"""What bothers at home and in a case alike."""


class _Sheet:
    """The content of a case under construction, with the origin of its values."""

    def __init__(self) -> None:
        self.targets: list[dict[str, Any]] = []
        self.origin: dict[str, str] = {}

    def target(self, name: str, measured: Mapping[str, Any], usual: Mapping[str, Any]) -> None:
        at = f"/targets/{len(self.targets)}"
        for field in measured:
            self.origin[f"{at}/{field}"] = "at_home"
        for field in usual:
            self.origin[f"{at}/{field}"] = "assumed"
        self.targets.append({"name": name, **usual, **measured})


def case_content(answers: HomeAnswers) -> dict[str, Any]:
    """Return the content of a `Case` from the answers; see `engine.case.read.build_case`.

    Raises
        InputRefusedError: age or screens are not answered.
    """
    for field in ("age", "screens"):
        if getattr(answers, field) is None:
            raise InputRefusedError(field=field, value="nothing", allowed="an answer")
    sheet = _Sheet()
    for place, screen in enumerate(answers.screens or ()):
        _screen(sheet, answers, screen, place)
    for one in answers.reading or ():
        measured = {} if one.distance_cm is None else {"distance_cm": one.distance_cm}
        _preset(sheet, one.what, measured)
    for what in answers.others or ():
        _preset(sheet, what, {})
    eye = {"sphere_d": 0.0}
    sheet.origin |= {f"/wearer/{side}/sphere_d": "assumed" for side in ("right", "left")}
    sheet.origin["/wearer/age_years"] = "at_home"
    content: dict[str, Any] = {
        "schema": 1,
        "label": "home check",
        "wearer": {
            "age_years": float(tables.by_id("home_ages")[answers.age or ""]["age_years"]),
            "right": eye,
            "left": dict(eye),
            "conditions": _conditions(answers),
        },
        "targets": sheet.targets,
        "activities": _day(sheet, answers),
        "origin": sheet.origin,
        "extensions": {HOME_CHECK: _words(answers)},
    }
    if answers.bothers is not None or "chin_up" in (answers.coping or ()):
        content["wearer"]["bothers"] = _bothers(answers)
    kind = worn_kind(answers)
    if kind is not None:
        content["owned_pairs"] = [{"kind": kind}]
        sheet.origin["/owned_pairs/0/kind"] = "at_home"
    return content


def read_visit_file(text: str) -> HomeAnswers:
    """Return the answers of a visit file, or of the text of a code (see `engine.home.code`).

    Raises
        InputRefusedError: it is neither, holds a refused value, or a warning sign that no
            doctor has looked at.
    """
    if len(text) > LARGEST_FILE:
        raise InputRefusedError(
            field="file",
            value=f"{len(text)} characters",
            allowed=f"at most {LARGEST_FILE} characters in a visit file",
            limits=Limits(high=LARGEST_FILE, unit="characters"),
            number=len(text),
        )
    if holds_code(text):
        return _refuse_open_flags(answers_from(unpack(text)))
    try:
        content = json.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError):
        raise InputRefusedError(field="file", value="no JSON", allowed="a visit file") from None
    if not isinstance(content, dict) or content.get("file") != VISIT_FILE:
        raise InputRefusedError(field="file", value="another file", allowed="a visit file")
    if content.get("version") != VISIT_VERSION:
        raise InputRefusedError(
            field="version", value=content.get("version"), allowed=str(VISIT_VERSION)
        )
    answers = content.get("answers")
    if not isinstance(answers, dict):
        raise InputRefusedError(field="answers", value="nothing", allowed="the answers")
    for key in content:
        if key not in ("file", "version", "answers"):
            allowed = "file, version and answers, nothing else"
            raise InputRefusedError(field=key, value="given", allowed=allowed)
    asked = {name: one for name, one in answers.items() if name not in _NO_LONGER_ASKED}
    return _refuse_open_flags(answers_from(asked))


def _refuse_open_flags(answers: HomeAnswers) -> HomeAnswers:
    """Return answers with no warning sign open, or refuse them."""
    if answers.flags is None or answers.open_flags:
        allowed = "none, or signs that a doctor has looked at since"
        value = ", ".join(answers.open_flags) or "nothing"
        raise InputRefusedError(field="warning signs", value=value, allowed=allowed)
    return answers


def case_from_visit_file(text: str) -> dict[str, Any]:
    """Return the content of a `Case` from a visit file: the same numbers, origin at_home.

    The powers of the eyes are plain and of origin assumed: no power comes from home.

    Raises
        InputRefusedError: as `read_visit_file` and `case_content`.
    """
    return case_content(read_visit_file(text))


def _screen(sheet: _Sheet, answers: HomeAnswers, screen: HomeScreen, place: int) -> None:
    preset = _preset_of(screen)
    offset = round(sideways_cm(answers.screens or (), place), 1)
    measured: dict[str, Any] = {
        "kind": "screen",
        "diagonal_in": screen.size_in,
        "aspect": screen.aspect,
        "movable": screen.movable,
        "laptop": screen.form == "laptop",
    }
    usual: dict[str, Any] = {name: float(preset[name]) for name in ("tilt_deg", "text_height_mm")}
    eyes, top, distance_cm = (
        answers.eyes_above_desk_cm,
        screen.top_above_desk_cm,
        screen.distance_cm,
    )
    half_cm = screen.size_cm[1] / 2
    heights_cm: tuple[float, ...] = (half_cm / 2,)  # with eye level amid its upper half
    if eyes is not None:
        measured["desk_below_eye_cm"] = eyes
    if eyes is not None and top is not None:
        measured["top_above_eye_cm"] = above = round(top - eyes, 1) + 0.0
        heights_cm = (above, above - half_cm)
    if distance_cm is not None:
        measured["distance_cm"] = distance_cm
        offset = offset_in_reach_cm(
            offset_cm=offset, heights_cm=heights_cm, distance_cm=distance_cm
        )
    else:
        usual_cm = math.hypot(float(preset["distance_cm"]), offset)
        least_cm = least_distance_cm(heights_cm=heights_cm, offset_cm=offset)
        usual["distance_cm"] = round(max(usual_cm, least_cm), 1)
    usual["offset_cm"] = offset
    if "top_above_eye_cm" not in measured:
        usual["top_above_eye_cm"] = _usual_top_cm(preset, screen, offset)
    sheet.target(SCREEN_NAMES[place], measured, usual)


def _usual_top_cm(preset: Mapping[str, str], screen: HomeScreen, offset_cm: float) -> float:
    """Return the usual height of a top edge, as far as the taped distance leaves room for it."""
    top, distance_cm = float(preset["top_above_eye_cm"]), screen.distance_cm
    if distance_cm is None:
        return top
    fits_cm = height_in_reach_cm(
        height_cm=top, half_cm=screen.size_cm[1] / 2, distance_cm=distance_cm, offset_cm=offset_cm
    )
    return round(fits_cm, 1) + 0.0


def _preset_of(screen: HomeScreen) -> Mapping[str, str]:
    """Return the preset whose usual values a screen has until measured."""
    rows = tables.by_id("presets")
    if screen.form == "laptop":
        return rows[LAPTOPS[screen.size_in >= LAPTOP_BETWEEN_IN]]
    return min(desktop_presets(), key=lambda row: abs(float(row["diagonal_in"]) - screen.size_in))


def desktop_presets() -> list[Mapping[str, str]]:
    """Return the presets of main screens that are no laptops."""
    return [
        row
        for row in tables.rows("presets")
        if row["main"] == "yes" and not row["laptop"] and row["diagonal_in"]
    ]


_OF_PRESET = ("distance_cm", "centre_above_eye_cm", "width_cm", "height_cm", "tilt_deg",
              "text_height_mm", "text_arcmin")  # fmt: skip


def _preset(sheet: _Sheet, name: str, measured: dict[str, Any]) -> None:
    """Add a thing with its usual place; what is held nearer than usual is held less low."""
    row = tables.by_id("presets")[name]
    usual: dict[str, Any] = {field: float(row[field]) for field in _OF_PRESET if row[field]}
    if "distance_cm" in measured and "centre_above_eye_cm" in usual:
        nearer = min(1.0, measured["distance_cm"] / usual["distance_cm"])
        usual["centre_above_eye_cm"] = round(nearer * usual["centre_above_eye_cm"], 1)
    usual = {field: value for field, value in usual.items() if field not in measured}
    sheet.target(name, {"kind": row["kind"], **measured}, usual)


def _conditions(answers: HomeAnswers) -> list[str]:
    told = [*answers.open_flags, *(answers.tell or ())]
    if answers.glasses == "contacts":
        told.append("contact_lenses")
    return list(dict.fromkeys(told))


def _bothers(answers: HomeAnswers) -> list[Bother]:
    """Return what bothers, in the words of a case; a chin that is lifted to see is among them."""
    found = [_BOTHERS[one] for one in answers.bothers or () if one in _BOTHERS]
    return [*found, "chin_up"] if "chin_up" in (answers.coping or ()) else found


def desk_hours(answers: HomeAnswers) -> dict[str, float]:
    """Return hours a day on each thing: those told, or usual shares of a usual day."""
    told = {name: hours for name, hours in (answers.hours or {}).items() if hours > 0}
    if told:
        return told
    weights = dict.fromkeys(SCREEN_NAMES[: len(answers.screens or ())], number("screen_weight"))
    weights |= {one.what: number("reading_weight") for one in answers.reading or ()}
    weights |= dict.fromkeys(answers.others or (), number("others_weight"))
    scale = number("assumed_hours") / sum(weights.values())
    return {name: weight * scale for name, weight in weights.items()}


def _day(sheet: _Sheet, answers: HomeAnswers) -> list[dict[str, Any]]:
    hours = desk_hours(answers)
    total = sum(hours.values())
    looks = [{"target": name, "share": one / total} for name, one in hours.items()]
    desk = {"name": "desk", "hours": total, "looks": looks, "needs": []}
    told = any((answers.hours or {}).values())
    sheet.origin["/activities/0/hours"] = "at_home" if told else "assumed"
    if not answers.needs:
        return [desk]
    away = {
        "name": "away from the desk",
        "hours": min(number("need_hours"), max(24.0 - total, 0.1)),
        "looks": [],
        "needs": list(answers.needs),
    }
    sheet.origin["/activities/1/hours"] = "assumed"
    sheet.origin["/activities/1/needs"] = "at_home"
    return [desk, away]


def _words(answers: HomeAnswers) -> dict[str, Any]:
    """Return what has no place in a case: signs a doctor saw, pair as told, habits, complaints."""
    told = {
        "seen_by_doctor": list(answers.flags or ()) if answers.seen_by_doctor else [],
        "age": answers.age,
        "glasses": answers.glasses,
        "lens_part": answers.lens_part,
        "coping": list(answers.coping or ()),
        "bothers": list(answers.bothers or ()),
    }
    return {name: value for name, value in told.items() if value}


def told_at_home(extensions: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return what a case from home holds beside its fields, in the wearer's words, by question.

    Only choices of the check are told: a file may hold anything under this name.

    >>> told_at_home({"home_check": {"lens_part": "top", "coping": ["chin_up", "<b>"]}})
    {'coping': ('I lift my chin',), 'lens_part': ('The top part',)}
    """
    words = extensions.get(HOME_CHECK)
    found = {}
    for name in ("seen_by_doctor", "bothers", "coping", "lens_part", "glasses", "age"):
        labels = choices("flags" if name == "seen_by_doctor" else name)
        said = words.get(name) if isinstance(words, dict) else None
        ids = said if isinstance(said, list) else [said]
        told = tuple(labels[one] for one in ids if isinstance(one, str) and one in labels)
        if told:
            found[name] = told
    return found
