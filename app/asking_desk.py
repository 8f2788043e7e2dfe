"""From typed answers to the things looked at and the parts of the day. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.presets import NUMBERS, Preset, presets
from app.typed import Typed
from engine.errors import InputRefusedError
from engine.units import parse_length_cm, parse_number

MOST_OTHERS = 11
MOST_PARTS = 11
ASSUMED_HOURS = 7.0
"""Hours at the desk until told: judgement of the authors, no source."""
ASSUMED_SHARES = {"main": 0.85, "papers": 0.15, "other": 0.10}
"""Shares of looking until told: judgement of the authors, no source."""
MAIN_PRESET = "screen_24"
DAY_NAME = "desk"


def slots_of(answers: Mapping[str, Any]) -> dict[str, str]:
    """The things looked at: slot of the form, and the preset it starts from."""
    slots = {"main": str(answers.get("main.preset") or MAIN_PRESET)}
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
    return typed or default_name(slot, preset)


def default_name(slot: str, preset: str) -> str:
    """What a slot's target is called until it is named."""
    return "main screen" if slot == "main" else presets()[preset].name


def numbers_of(slot: str, preset: Preset, answers: Mapping[str, Any]) -> dict[str, float | None]:
    """The numbers asked of a slot, with the assumed value where there is one.

    A target opened from a file may be given by others than its preset: {slot}.own names them.
    """
    own = answers.get(f"{slot}.own")
    if not own:
        return dict(preset.numbers)
    return {name: preset.numbers.get(name) for name in NUMBERS if name in own["fields"]}


def height_of(slot: str, preset: Preset, answers: Mapping[str, Any]) -> str:
    """The field that gives the height of a slot's target."""
    numbers = numbers_of(slot, preset, answers)
    return "top_above_eye_cm" if "top_above_eye_cm" in numbers else "centre_above_eye_cm"


def put_targets(typed: Typed) -> dict[str, str]:
    """Every thing looked at; returns the name of each slot's target."""
    named: dict[str, str] = {}
    for index, (slot, preset_id) in enumerate(slots_of(typed.answers).items()):
        preset = presets()[preset_id]
        named[slot] = name_of(slot, preset_id, typed.answers)
        _target(typed, f"targets.{index}", slot, preset, named[slot])
    return named


def _target(typed: Typed, at: str, slot: str, preset: Preset, name: str) -> None:
    own = typed.answers.get(f"{slot}.own") or {"aspect": preset.aspect, "laptop": preset.laptop}
    typed.put(f"{at}.name", name, widget=f"{slot}.name")
    typed.put(f"{at}.kind", preset.kind, widget=f"{slot}.preset")
    typed.where[at] = f"{slot}.distance_cm"
    for field_name, assumed in numbers_of(slot, preset, typed.answers).items():
        typed.number(
            f"{at}.{field_name}",
            widget=f"{slot}.{field_name}",
            assumed=assumed,
            read=parse_length_cm if field_name.endswith("_cm") else parse_number,
            origin=_origin_of_preset(typed, slot, field_name),
        )
    if own["aspect"]:
        typed.put(f"{at}.aspect", own["aspect"], widget=f"{slot}.preset")
    if own["laptop"]:
        typed.put(f"{at}.laptop", True, widget=f"{slot}.preset")
    if typed.answers.get(f"{slot}.fixed"):
        typed.put(f"{at}.movable", False, widget=f"{slot}.fixed")
    for extra in ("offset_cm", "desk_below_eye_cm"):
        typed.number(f"{at}.{extra}", widget=f"{slot}.{extra}", read=parse_length_cm)


def _origin_of_preset(typed: Typed, slot: str, field_name: str) -> str:
    """A screen that was chosen from the list has a size that was told."""
    chosen = typed.answers.get("main.preset_chosen")
    told = slot == "main" and field_name == "diagonal_in" and chosen
    return "measured" if told else "assumed"


def put_day(typed: Typed, slots: dict[str, str]) -> None:
    """The hours at the desk and every other part of the day."""
    at = "activities.0"
    typed.put(f"{at}.name", typed.text("day.name") or DAY_NAME, widget="day.name")
    typed.number(f"{at}.hours", widget="day.hours", assumed=ASSUMED_HOURS)
    typed.put(f"{at}.needs", list(typed.answers.get("day.needs") or []), widget="day.needs")
    typed.where[f"{at}.looks"] = "main.share_pct"
    in_parts = {slot for index in range(MOST_PARTS) for slot in _part_slots(typed, index)}
    own = {
        slot: name
        for slot, name in slots.items()
        if slot == "main" or slot not in in_parts or typed.text(f"{slot}.share_pct")
    }
    widgets = {slot: f"{slot}.share_pct" for slot in own}
    _put_looks(typed, at, _shares(typed, widgets), own, widgets)
    for index in range(MOST_PARTS):
        _part(typed, index, slots)


def _put_looks(
    typed: Typed,
    at: str,
    shares: Mapping[str, float],
    names: Mapping[str, str],
    widgets: Mapping[str, str],
) -> None:
    for index, (slot, share) in enumerate(shares.items()):
        look, widget = f"{at}.looks.{index}", widgets[slot]
        typed.put(f"{look}.target", names[slot], widget=f"{slot}.name")
        origin = typed.origin_of(widget) if typed.text(widget) else "assumed"
        typed.put(f"{look}.share", share, widget=widget, origin=origin)


def _shares(typed: Typed, widgets: Mapping[str, str]) -> dict[str, float]:
    """Typed shares as they are, none where 0 was typed; the rest in the assumed proportions."""
    told: dict[str, float] = {}
    for slot, widget in widgets.items():
        if text := typed.text(widget):
            try:
                told[slot] = parse_number(text.rstrip("% "), field=widget) / 100
            except InputRefusedError as refusal:
                typed.refused[widget] = refusal
    weights = {s: ASSUMED_SHARES.get(s, ASSUMED_SHARES["other"]) for s in widgets if s not in told}
    if weights and "main" in weights:
        others = sum(weight for slot, weight in weights.items() if slot != "main")
        weights["main"] = max(0.25, 1.0 - others)
    left, total = 1.0 - sum(told.values()), sum(weights.values())
    shares = {s: told[s] if s in told else left * weights[s] / total for s in widgets}
    return {slot: share for slot, share in shares.items() if share != 0.0 or slot not in told}


def _part_slots(typed: Typed, index: int) -> list[str]:
    return list(typed.answers.get(f"part{index}.slots") or [])


def _part(typed: Typed, index: int, slots: Mapping[str, str]) -> None:
    """Another part of the day: its hours, what is looked at, what it needs."""
    part = f"part{index}"
    if not typed.text(f"{part}.hours"):
        return
    at = f"activities.{index + 1}"
    name = typed.text(f"{part}.name") or f"part {index + 2}"
    typed.put(f"{at}.name", name, widget=f"{part}.name")
    typed.number(f"{at}.hours", widget=f"{part}.hours")
    needs = list(typed.answers.get(f"{part}.needs") or [])
    typed.put(f"{at}.needs", needs, widget=f"{part}.needs")
    typed.where[f"{at}.looks"] = f"{part}.slots"
    looked = {slot: slots[slot] for slot in _part_slots(typed, index) if slot in slots}
    widgets = {slot: f"{part}.{slot}.share_pct" for slot in looked}
    shares = dict.fromkeys(looked, 1.0) if len(looked) == 1 else _shares(typed, widgets)
    _put_looks(typed, at, shares, looked, widgets)
