"""From typed answers to the content of a case: what was measured, what is assumed, what is refused.

Pure: no page library. `engine.case.Case` alone decides what is allowed; here texts become numbers
and every value remembers the field it was typed in and whether it was measured.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from app.presets import presets
from engine.case import Case, Fit
from engine.case_input import refusals
from engine.errors import InputRefusedError
from engine.prescription_text import parse_prescription
from engine.units import parse_length_cm, parse_number

MOST_OTHERS = 6
MOST_PARTS = 4
ASSUMED_HOURS = 7.0
"""Hours at the desk until told: judgement of the authors, no source."""
ASSUMED_SHARES = {"main": 0.85, "papers": 0.15, "other": 0.10}
"""Shares of looking until told: judgement of the authors, no source."""
FIT_FIELDS = ("vertex_mm", "pantoscopic_deg", "wrap_deg", "lens_width_mm", "bridge_mm",
              "lens_depth_mm")  # fmt: skip
_BARE_NUMBER = re.compile(r"[-+\u2212]?\d*[.,]?\d+")
_TWO = re.compile(r"\s*(?:/|;|\||\s)\s*")


@dataclass(frozen=True)
class Asking:
    """What the form asks.

    Attributes:
        case: ready to be answered; None while something is missing or refused.
        refused: what is refused, by the field it was typed in.
        missing: fields without which there is no answer.
        measured, assumed: how many values were typed and how many are defaults.
        assumed_paths: the paths in the case of the assumed values.
        where: the field in which the value of each path of the case was typed.
    """

    case: Case | None
    refused: dict[str, InputRefusedError]
    missing: tuple[str, ...]
    measured: int
    assumed: int
    assumed_paths: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)

    def with_refusal(self, refusal: InputRefusedError) -> Asking:
        """The same, with a value the engine refused, under the field it was typed in."""
        widget = _widget_of(self.where, refusal.field)
        return replace(self, case=None, refused={**self.refused, widget: refusal})


@dataclass
class _Sheet:
    """The content of a case under construction."""

    answers: Mapping[str, Any]
    content: dict[str, Any] = field(default_factory=dict)
    origin: dict[str, str] = field(default_factory=dict)
    where: dict[str, str] = field(default_factory=dict)
    refused: dict[str, InputRefusedError] = field(default_factory=dict)

    def text(self, name: str) -> str:
        return str(self.answers.get(name) or "").strip()

    def put(self, path: str, value: Any, *, widget: str, origin: str | None = None) -> None:
        *parents, last = path.split(".")
        here = self.content
        for part in parents:
            here = here.setdefault(part, {})
        here[last] = value
        self.where[path] = widget
        if origin:
            self.origin["/" + path.replace(".", "/")] = origin

    def number(
        self,
        path: str,
        *,
        widget: str,
        assumed: float | None = None,
        read: Callable[..., float] = parse_number,
        origin: str = "assumed",
        scale: float = 1.0,
    ) -> None:
        """A typed number, or the assumed one, or nothing."""
        text = self.text(widget)
        self.where[path] = widget
        if text:
            try:
                self.put(path, read(text, field=widget) * scale, widget=widget, origin="measured")
            except InputRefusedError as refusal:
                self.refused[widget] = refusal
        elif assumed is not None:
            self.put(path, assumed * scale, widget=widget, origin=origin)


def ask(answers: Mapping[str, Any], *, label: str = "interview") -> Asking:
    """Read every answer of the form and make a case of it, or say what is refused."""
    sheet = _Sheet(answers)
    sheet.content = {"schema": 1, "label": label}
    sheet.number("wearer.age_years", widget="wearer.age_years")
    _wearer(sheet)
    _fit(sheet)
    _present(sheet)
    slots = _targets(sheet)
    _day(sheet, slots)
    missing = ("wearer.age_years",) if not sheet.text("wearer.age_years") else ()
    case = None if missing or sheet.refused else _made(sheet)
    counts = list(sheet.origin.values())
    return Asking(
        case=case,
        refused=sheet.refused,
        missing=missing,
        measured=counts.count("measured"),
        assumed=len(counts) - counts.count("measured"),
        assumed_paths=tuple(
            pointer[1:].replace("/", ".")
            for pointer, origin in sheet.origin.items()
            if origin != "measured"
        ),
        where=sheet.where,
    )


def _made(sheet: _Sheet) -> Case | None:
    content = {**sheet.content, "origin": sheet.origin}
    content["targets"] = list(content.get("targets", {}).values())
    content["activities"] = [
        {**activity, "looks": list(activity.get("looks", {}).values())}
        for activity in content.get("activities", {}).values()
    ]
    try:
        return Case.model_validate(content)
    except ValidationError as error:
        found = {_widget_of(sheet.where, one.field): one for one in reversed(refusals(error))}
        if len(found) > 1:
            found.pop("form", None)  # a part refused for what is already named inside it
        sheet.refused.update(found)
        return None


def _widget_of(where: Mapping[str, str], path: str) -> str:
    """The field in which a refused value was typed, or the nearest one above it."""
    while path not in where and "." in path:
        path = path.rsplit(".", 1)[0]
    return where.get(path, "form")


def _wearer(sheet: _Sheet) -> None:
    text = sheet.text("prescription")
    eyes: dict[str, dict[str, Any]] = {"right": {"sphere_d": 0.0}, "left": {"sphere_d": 0.0}}
    origin = "assumed"
    try:
        if _BARE_NUMBER.fullmatch(text.replace(" ", "")):
            add = parse_number(text, field="prescription")
            eyes = {side: {"sphere_d": 0.0, "add_d": add} for side in eyes}
            sheet.origin["/wearer/right/add_d"] = "measured"
        elif text:
            both = parse_prescription(text, field="prescription")
            eyes = {side: getattr(both, side).model_dump(mode="json") for side in eyes}
            origin = "measured"
            if both.right.add_d is not None:
                sheet.origin["/wearer/right/add_d"] = "measured"
    except InputRefusedError as refusal:
        sheet.refused["prescription"] = refusal
    for side, eye in eyes.items():
        sheet.put(f"wearer.{side}", eye, widget="prescription")
    sheet.origin["/wearer/right/sphere_d"] = origin
    for name in ("near_test_distance_cm", "amplitude_d"):
        sheet.number(f"wearer.{name}", widget=f"wearer.{name}")
    if sheet.answers.get("wearer.amplitude_through_lenses"):
        sheet.put("wearer.amplitude_through_lenses", True, widget="wearer.amplitude_d")
    if sheet.answers.get("wearer.accepts_lined"):
        sheet.put("wearer.accepts_lined", True, widget="wearer.accepts_lined")
    conditions = sheet.answers.get("wearer.conditions") or []
    sheet.put("wearer.conditions", list(conditions), widget="wearer.conditions")
    _pair(sheet, "pd", ("wearer.pd_right_mm", "wearer.pd_left_mm"))


def _fit(sheet: _Sheet) -> None:
    for name in FIT_FIELDS:
        default = float(Fit.model_fields[name].default)
        sheet.number(f"fit.{name}", widget=f"fit.{name}", assumed=default, origin="default")
    heights = ("fit.fitting_height_right_mm", "fit.fitting_height_left_mm")
    if not _pair(sheet, "fit.fitting_height_mm", heights):
        sheet.put("fit.fitting_height_mm", 20.0, widget="fit.fitting_height_mm", origin="default")


def _pair(sheet: _Sheet, widget: str, paths: tuple[str, str]) -> bool:
    """One number for both eyes, or right/left; True when anything was typed."""
    for path in paths:
        sheet.where[path] = widget
    text = sheet.text(widget)
    if not text:
        return False
    parts = _TWO.split(text)
    try:
        numbers = [parse_number(part, field=widget) for part in parts]
        if len(numbers) > 2:
            raise InputRefusedError(field=widget, value=text, allowed="one number, or right/left")
        for path, number in zip(paths, (numbers * 2)[:2], strict=True):
            sheet.put(path, number, widget=widget, origin="measured")
    except InputRefusedError as refusal:
        sheet.refused[widget] = refusal
    return True


def _present(sheet: _Sheet) -> None:
    kind = sheet.text("present.kind")
    if not kind:
        return
    sheet.put("present_pair.kind", kind, widget="present.kind", origin="measured")
    for name in DESIGN_FIELDS.get(kind, ()):
        sheet.number(f"present_pair.design.{name}", widget=f"present.{name}")
    if kind == "office":
        shape = sheet.text("present.shape") or "desk"
        sheet.put("present_pair.design.shape", shape, widget="present.shape")
    liked = bool(sheet.answers.get("present.liked"))
    sheet.put("present_pair.liked", liked, widget="present.liked")


DESIGN_FIELDS: dict[str, tuple[str, ...]] = {
    "general_progressive": ("add_d", "corridor_mm"),
    "office": ("near_add_d", "degression_d"),
    "sv_computer": ("add_d",),
    "sv_near": ("add_d",),
    "bifocal_ft28": ("add_d", "line_drop_mm"),
    "bifocal_desk": ("upper_add_d", "add_d", "line_drop_mm"),
    "trifocal_7x28": ("add_d", "line_drop_mm"),
}
"""What can be typed of a pair worn today, by kind."""


def slots_of(answers: Mapping[str, Any]) -> dict[str, str]:
    """The things looked at: slot of the form, and the preset it starts from."""
    slots = {"main": str(answers.get("main.preset") or "screen_24")}
    if answers.get("papers") == "yes":
        slots["papers"] = "papers"
    for index in range(MOST_OTHERS):
        preset = answers.get(f"other{index}.preset")
        if preset in presets():
            slots[f"other{index}"] = str(preset)
    return slots


def name_of(slot: str, preset: str, answers: Mapping[str, Any]) -> str:
    """What the slot's target is called: as typed, else as the preset."""
    typed = str(answers.get(f"{slot}.name") or "").strip()
    return typed or ("main screen" if slot == "main" else presets()[preset].name)


def _targets(sheet: _Sheet) -> dict[str, str]:
    named: dict[str, str] = {}
    for index, (slot, preset_id) in enumerate(slots_of(sheet.answers).items()):
        preset = presets()[preset_id]
        name = name_of(slot, preset_id, sheet.answers)
        named[slot] = name
        at = f"targets.{index}"
        sheet.put(f"{at}.name", name, widget=f"{slot}.name")
        sheet.put(f"{at}.kind", preset.kind, widget=f"{slot}.preset")
        sheet.where[at] = f"{slot}.distance_cm"
        for field_name, assumed in preset.numbers.items():
            read = parse_length_cm if field_name.endswith("_cm") else parse_number
            widget = f"{slot}.{field_name}"
            sheet.number(f"{at}.{field_name}", widget=widget, assumed=assumed, read=read)
        if preset.aspect:
            sheet.put(f"{at}.aspect", preset.aspect, widget=f"{slot}.preset")
        if preset.laptop:
            sheet.put(f"{at}.laptop", True, widget=f"{slot}.preset")
        if sheet.answers.get(f"{slot}.fixed"):
            sheet.put(f"{at}.movable", False, widget=f"{slot}.fixed")
        for extra in ("offset_cm", "desk_below_eye_cm"):
            widget = f"{slot}.{extra}"
            sheet.number(f"{at}.{extra}", widget=widget, read=parse_length_cm)
    return named


def _day(sheet: _Sheet, slots: dict[str, str]) -> None:
    at = "activities.0"
    sheet.put(f"{at}.name", "desk", widget="day.hours")
    sheet.number(f"{at}.hours", widget="day.hours", assumed=ASSUMED_HOURS)
    need = sheet.text("day.need")
    sheet.put(f"{at}.needs", [need] if need not in ("", "no") else [], widget="day.need")
    sheet.where[f"{at}.looks"] = "main.share_pct"
    in_parts = {sheet.text(f"part{i}.slot") for i in range(MOST_PARTS)}
    own = {slot: name for slot, name in slots.items() if slot not in in_parts or slot == "main"}
    for index, (slot, share) in enumerate(_shares(sheet, own).items()):
        look = f"{at}.looks.{index}"
        sheet.put(f"{look}.target", own[slot], widget=f"{slot}.name")
        origin = "measured" if sheet.text(f"{slot}.share_pct") else "assumed"
        sheet.put(f"{look}.share", share, widget=f"{slot}.share_pct", origin=origin)
    for index in range(MOST_PARTS):
        _part(sheet, index, slots)


def _shares(sheet: _Sheet, slots: dict[str, str]) -> dict[str, float]:
    """Typed shares as they are; the rest shared out in the assumed proportions."""
    typed: dict[str, float] = {}
    for slot in slots:
        if text := sheet.text(f"{slot}.share_pct"):
            try:
                typed[slot] = parse_number(text.rstrip("% "), field=f"{slot}.share_pct") / 100
            except InputRefusedError as refusal:
                sheet.refused[f"{slot}.share_pct"] = refusal
    weights = {s: ASSUMED_SHARES.get(s, ASSUMED_SHARES["other"]) for s in slots if s not in typed}
    if weights and "main" in weights:
        others = sum(weight for slot, weight in weights.items() if slot != "main")
        weights["main"] = max(0.25, 1.0 - others)
    left, total = 1.0 - sum(typed.values()), sum(weights.values())
    return {s: typed[s] if s in typed else left * weights[s] / total for s in slots}


def _part(sheet: _Sheet, index: int, slots: dict[str, str]) -> None:
    """Another part of the day: its hours, what is looked at, what it needs."""
    slot, need = sheet.text(f"part{index}.slot"), sheet.text(f"part{index}.need")
    if not sheet.text(f"part{index}.hours"):
        return
    at = f"activities.{index + 1}"
    name = sheet.text(f"part{index}.name") or f"part {index + 2}"
    sheet.put(f"{at}.name", name, widget=f"part{index}.name")
    sheet.number(f"{at}.hours", widget=f"part{index}.hours")
    sheet.put(f"{at}.needs", [need] if need not in ("", "no") else [], widget=f"part{index}.need")
    sheet.where[f"{at}.looks"] = f"part{index}.slot"
    if slot in slots:
        sheet.put(f"{at}.looks.0.target", slots[slot], widget=f"part{index}.slot")
        sheet.put(f"{at}.looks.0.share", 1.0, widget=f"part{index}.slot")
