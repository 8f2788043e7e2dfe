"""Turn typed answers into a case: what was measured, what is assumed, what is refused.

`engine.case.model.Case` alone decides what is allowed; here texts become numbers, and every value
remembers the field it was typed in and whether it was measured.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from app.form import clear_ranges, field_table, questions
from app.form.field_table import Number, Slot
from app.form.presets import NUMBERS, Preset, presets
from app.form.typed import Refused, Typed, reader_of
from engine.case.model import Case
from engine.case.read import mark_defaults, refusals
from engine.case.targets import height_in_reach_cm, least_distance_cm, offset_in_reach_cm
from engine.errors import InputRefusedError, Limits
from engine.lenses.kinds import KINDS
from engine.optics.workstation import screen_size_cm
from engine.tables import Judgements
from engine.units import parse_number

MOST_OTHERS = 11
MOST_PARTS = 11
FARTHEST_CM = 2000.0
"""Greatest distance that `Case` takes; what was typed beyond its own limits is refused there."""
PAIR_SLOTS = ("present", "owned1", "owned2")
"""The pair worn at the desk today, and further pairs owned."""
MAIN_PRESET = "screen_24"
DAY_NAME = "desk"
UNNAMED = "interview"
"""The label of a case that nobody named."""
PERCENT = Limits(0, 100, unit="%")
"""Of a part of the day that one thing is looked at."""
FIT_FIELDS = tuple(row.name for row in field_table.FIT if isinstance(row, Number))
"""Measures of the frame with a default."""
_ROUNDING = 1e-9


def assumed_h() -> float:
    """Return the hours at the desk that are taken until they are told."""
    return Judgements.standard().assumed_desk_h


def slots_of(answers: Mapping[str, Any]) -> dict[str, str]:
    """Return the things looked at: slot of the form, and the preset it starts from."""
    slots = {"main": str(answers.get("main.preset") or MAIN_PRESET)}
    if answers.get("papers") == "yes":
        slots["papers"] = "papers"
    for index in range(MOST_OTHERS):
        preset = answers.get(f"other{index}.preset")
        if preset in presets():
            slots[f"other{index}"] = str(preset)
    return slots


TABLET = "tablet"


def things_of(slots: Mapping[str, str]) -> list[str]:
    """Return what stands on the desk beside the main screen, of what is asked for by one list."""
    there = {"phone" if preset == TABLET else preset for preset in slots.values()}
    return [thing for thing in questions.ON_THE_DESK if thing in there]


def with_things(slots: Mapping[str, str], things: Collection[str]) -> dict[str, str | None]:
    """Return the answers that put these things on the desk; None takes a slot away.

    What is there already keeps its slot and its measures; what no list asks for stays.
    """
    there, found = things_of(slots), dict[str, str | None]()
    free = iter([f"other{at}" for at in range(MOST_OTHERS) if f"other{at}" not in slots])
    for thing in questions.ON_THE_DESK:
        if thing == "papers":
            found["papers"] = "yes" if thing in things else "no"
        if thing in things and thing not in there and thing != "papers":
            if slot := next(free, None):
                found[f"{slot}.preset"] = thing
        elif thing not in things:
            alike = (thing, TABLET) if thing == "phone" else (thing,)
            others = [one for one, preset in slots.items() if preset in alike]
            found |= dict.fromkeys(one for one in others if one.startswith("other"))
    return found


def names_of(answers: Mapping[str, Any]) -> dict[str, str]:
    """Return what each slot's target is called: as typed, else as the preset."""
    return default_names(answers) | _typed_names(answers)


def default_names(answers: Mapping[str, Any]) -> dict[str, str]:
    """Return what each slot's target is called until it is named: the second phone is "phone 2"."""
    typed = _typed_names(answers)
    defaults: dict[str, str] = {}
    for slot, preset in slots_of(answers).items():
        name = "main screen" if slot == "main" else presets()[preset].name
        taken = {*defaults.values(), *(told for other, told in typed.items() if other != slot)}
        numbered = (f"{name} {number}" for number in itertools.count(2))
        defaults[slot] = next(one for one in itertools.chain([name], numbered) if one not in taken)
    return defaults


def _typed_names(answers: Mapping[str, Any]) -> dict[str, str]:
    typed = {slot: str(answers.get(f"{slot}.name") or "").strip() for slot in slots_of(answers)}
    return {slot: name for slot, name in typed.items() if name}


def numbers_of(slot: str, preset: Preset, answers: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the numbers asked of a slot, with the assumed value where there is one.

    A target opened from a file may be given by others than its preset: {slot}.own names them.
    What is assumed gives way to what was typed: the distance stretches to fit a height or a
    sideways place, and a height, then a sideways place, shrinks to fit a distance.
    """
    own = answers.get(f"{slot}.own")
    names = own["fields"] if own else preset.numbers
    assumed = {name: preset.numbers.get(name) for name in NUMBERS if name in names}
    typed, aspect = _typed_numbers(slot, answers), own["aspect"] if own else preset.aspect
    fitted = assumed | _in_reach(assumed, typed, aspect)
    if preset.offset_cm and "offset_cm" not in typed:
        fitted["offset_cm"] = _offset_in_reach_cm(preset.offset_cm, {**fitted, **typed}, aspect)
    return fitted


def _offset_in_reach_cm(
    offset_cm: float, known: Mapping[str, float | None], aspect: str | None
) -> float:
    """Return the assumed sideways place, as far as distance and height leave room for it."""
    height = "top_above_eye_cm" if "top_above_eye_cm" in known else "centre_above_eye_cm"
    above_cm, distance_cm = known.get(height), known.get("distance_cm")
    if above_cm is None or distance_cm is None:
        return offset_cm
    half_cm = _height_cm(known, aspect) / 2 if height == "top_above_eye_cm" else 0.0
    heights_cm = (above_cm, above_cm - half_cm)
    return offset_in_reach_cm(offset_cm=offset_cm, heights_cm=heights_cm, distance_cm=distance_cm)


def _in_reach(
    assumed: Mapping[str, float | None], typed: Mapping[str, float], aspect: str | None
) -> dict[str, float]:
    """Return the assumed distance or height as far as what was typed leaves room for it."""
    known = {**assumed, **typed}
    height = "top_above_eye_cm" if "top_above_eye_cm" in assumed else "centre_above_eye_cm"
    above_cm, offset_cm = known.get(height), typed.get("offset_cm", 0.0)
    distance_cm = known.get("distance_cm")
    if above_cm is None or distance_cm is None:
        return {}
    half_cm = _height_cm(known, aspect) / 2 if height == "top_above_eye_cm" else 0.0
    if "distance_cm" not in typed:
        heights_cm = (above_cm, above_cm - half_cm)
        least_cm = least_distance_cm(heights_cm=heights_cm, offset_cm=offset_cm)
        return {"distance_cm": max(distance_cm, min(math.ceil(least_cm), FARTHEST_CM))}
    if height in typed:
        return {}
    fits_cm = height_in_reach_cm(
        height_cm=above_cm, half_cm=half_cm, distance_cm=distance_cm, offset_cm=offset_cm
    )
    return {height: round(fits_cm, 1) + 0.0}


def _typed_numbers(slot: str, answers: Mapping[str, Any]) -> dict[str, float]:
    """Return what was typed of a slot and can be read as a number."""
    typed = Typed(answers)
    numbers = {
        name: typed.parsed(f"{slot}.{name}", reader_of(name)) for name in (*NUMBERS, "offset_cm")
    }
    return {name: number for name, number in numbers.items() if number is not None}


def _height_cm(numbers: Mapping[str, float | None], aspect: str | None) -> float:
    """Return the height of a screen or page, 0 where it cannot be known yet."""
    diagonal_in = numbers.get("diagonal_in")
    if diagonal_in is None or aspect is None:
        return numbers.get("height_cm") or 0.0
    try:
        return screen_size_cm(diagonal_in=diagonal_in, aspect=aspect)[1]
    except InputRefusedError:
        return 0.0


def target_slot(index: int, slot: str, answers: Mapping[str, Any]) -> Slot:
    """Return what a slot assumes and asks of the thing looked at there."""
    preset_id = slots_of(answers)[slot]
    assumed = numbers_of(slot, presets()[preset_id], answers)
    told = slot == "main" and answers.get("main.preset_chosen")
    return Slot(
        f"targets.{index}",
        slot,
        assumed={"name": default_names(answers)[slot], **assumed},
        told=("diagonal_in",) if told else (),
        asks=tuple(assumed),
    )


def put_targets(typed: Typed) -> dict[str, str]:
    """Put every thing looked at; return the name of each slot's target."""
    names = names_of(typed.answers)
    for index, (slot, preset_id) in enumerate(slots_of(typed.answers).items()):
        _target(typed, target_slot(index, slot, typed.answers), presets()[preset_id])
        name, widget = names[slot], f"{slot}.name"
        if list(names.values()).index(name) < index:
            refusal = InputRefusedError(field=widget, value=name, allowed="a name used once")
            typed.refused[widget] = refusal
    return names


def _target(typed: Typed, slot: Slot, preset: Preset) -> None:
    own = typed.answers.get(f"{slot.name}.own") or {
        "aspect": preset.aspect,
        "laptop": preset.laptop,
    }
    widget = f"{slot.name}.preset"
    typed.put(f"{slot.at}.kind", preset.kind, widget=widget)
    typed.where[slot.at] = f"{slot.name}.distance_cm"
    field_table.read(field_table.TARGET, typed, slot)
    if own["aspect"]:
        typed.put(f"{slot.at}.aspect", own["aspect"], widget=widget)
    if own["laptop"]:
        typed.put(f"{slot.at}.laptop", True, widget=widget)


def day_slot() -> Slot:
    """Return what is assumed of the hours at the desk."""
    return Slot("activities.0", "day", assumed={"name": DAY_NAME, "hours": assumed_h()})


def part_slot(index: int) -> Slot:
    """Return what is assumed of another part of the day."""
    at = f"activities.{index + 1}"
    return Slot(at, f"part{index}", assumed={"name": f"part {index + 2}"})


def put_day(typed: Typed, slots: dict[str, str]) -> None:
    """Put the hours at the desk and every other part of the day into the case."""
    at = "activities.0"
    field_table.read(field_table.DAY, typed, day_slot())
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


def _share(text: str, *, field: str) -> float:
    """Return a share of looking, typed in percent."""
    percent = parse_number(text.rstrip("% "), field=field)
    if PERCENT.side(percent):
        raise InputRefusedError(
            field=field, value=text, allowed=PERCENT.words, limits=PERCENT, number=percent
        )
    return percent / 100


def _shares(typed: Typed, widgets: Mapping[str, str]) -> dict[str, float]:
    """Return typed shares, none where 0 was typed, and what is left in the assumed proportions."""
    shares = {
        slot: typed.parsed(widget, _share, allowed=PERCENT.words)
        for slot, widget in widgets.items()
    }
    told = {slot: share for slot, share in shares.items() if share is not None}
    judged = Judgements.standard()
    usual = {"papers": judged.assumed_papers_share}
    other = judged.assumed_other_share
    weights = {slot: usual.get(slot, other) for slot in widgets if slot not in told}
    if weights and "main" in weights:
        others = sum(weight for slot, weight in weights.items() if slot != "main")
        weights["main"] = max(judged.assumed_main_min_share, 1.0 - others)
    left, total = 1.0 - sum(told.values()), sum(weights.values())
    if left < -_ROUNDING:
        last = widgets[list(told)[-1]]
        allowed = "100 % at most for all that is looked at"
        typed.refused[last] = InputRefusedError(field=last, value=typed.text(last), allowed=allowed)
    whole = {s: told[s] if s in told else left * weights[s] / total for s in widgets}
    return {slot: share for slot, share in whole.items() if share > _ROUNDING}


def _part_slots(typed: Typed, index: int) -> list[str]:
    return list(typed.answers.get(f"part{index}.slots") or [])


def _part(typed: Typed, index: int, slots: Mapping[str, str]) -> None:
    """Read another part of the day, if it has hours: what is looked at, what it needs."""
    part = f"part{index}"
    if not typed.text(f"{part}.hours"):
        return
    at = part_slot(index).at
    field_table.read(field_table.PART, typed, part_slot(index))
    typed.where[f"{at}.looks"] = f"{part}.slots"
    looked = {slot: slots[slot] for slot in _part_slots(typed, index) if slot in slots}
    widgets = {slot: f"{part}.{slot}.share_pct" for slot in looked}
    shares = dict.fromkeys(looked, 1.0) if len(looked) == 1 else _shares(typed, widgets)
    _put_looks(typed, at, shares, looked, widgets)


EXTENSIONS = "opened.extensions"
"""Where a draft holds the foreign data of an opened case."""


@dataclass(frozen=True)
class Asking:
    """What the form asks.

    Attributes:
        case: ready to be answered; None while something is missing or refused.
        missing: fields without which there is no answer.
        measured, from_home, assumed: how many values were typed, taped at home, and are defaults.
        assumed_paths: the paths in the case of the assumed values.
        where: the field in which the value of each path of the case was typed.
        brought: fields whose text came with a file or a kept case, with its origin.
    """

    case: Case | None
    refused: Refused
    missing: tuple[str, ...]
    measured: int
    assumed: int
    from_home: int = 0
    assumed_paths: tuple[str, ...] = ()
    where: Mapping[str, str] = field(default_factory=dict)
    brought: Mapping[str, str] = field(default_factory=dict)

    @property
    def counts(self) -> str:
        """How many values are measured, from home and assumed."""
        home = f"{self.from_home} from home, " if self.from_home else ""
        return f"{self.measured} measured, {home}{self.assumed} assumed"

    def with_refusal(self, refusal: InputRefusedError) -> Asking:
        """Return the same, with a value the engine refused, under the field it was typed in."""
        widget = _widget_of(self.where, refusal.field)
        return replace(self, case=None, refused={**self.refused, widget: refusal})


def ask(answers: Mapping[str, Any], *, label: str = UNNAMED) -> Asking:
    """Read every answer of the form and make a case of it, or say what is refused."""
    typed = Typed(answers)
    typed.content = {"schema": 1, "label": label}
    field_table.read(field_table.WEARER, typed, field_table.WEARER_SLOT)
    field_table.read(field_table.FIT, typed, field_table.FIT_SLOT)
    for index, slot in enumerate(pair_slots(answers)):
        asked = pair_slot(index, slot, typed.text(f"{slot}.kind"))
        field_table.read(field_table.PAIR, typed, asked)
    field_table.read(field_table.PRICES, typed, field_table.PRICE_SLOT)
    put_day(typed, put_targets(typed))
    if answers.get(EXTENSIONS):
        typed.content["extensions"] = answers[EXTENSIONS]
    missing = ("wearer.age_years",) if not typed.text("wearer.age_years") else ()
    case = None if missing or typed.refused else _made(typed)
    origins = typed.origin if case is None else case.origin
    counts = list(origins.values())
    measured, from_home = counts.count("measured"), counts.count("at_home")
    return Asking(
        case=case,
        refused=typed.refused,
        missing=missing,
        measured=measured,
        assumed=len(counts) - measured - from_home,
        from_home=from_home,
        assumed_paths=tuple(
            pointer[1:].replace("/", ".")
            for pointer, origin in origins.items()
            if origin in ("assumed", "default")
        ),
        where=typed.where,
        brought=typed.brought,
    )


def _made(typed: Typed) -> Case | None:
    content = {**typed.content, "origin": typed.origin}
    for name in ("owned_pairs", "targets"):
        content[name] = list(content.get(name, {}).values())
    content["activities"] = [
        {**activity, "looks": list(activity.get("looks", {}).values())}
        for activity in content.get("activities", {}).values()
    ]
    try:
        case = mark_defaults(Case.model_validate(content))
        return clear_ranges.into_case(case, typed.answers)
    except ValidationError as error:
        found = {_widget_of(typed.where, one.field): one for one in reversed(refusals(error))}
        if len(found) > 1:
            found.pop("form", None)  # a part refused for what is already named inside it
        typed.refused.update(found)
        return None


def _widget_of(where: Mapping[str, str], path: str) -> str:
    """Return the field in which a refused value was typed, or the nearest one above it."""
    while path not in where and "." in path:
        path = path.rsplit(".", 1)[0]
    return where.get(path, "form")


def pair_slot(index: int, slot: str, kind: str) -> Slot:
    """Return what is asked of a pair owned, which depends on its kind of lens."""
    asks = KINDS[kind].design_fields if kind else ()
    says = {"kind": "Glasses worn at the desk today"} if slot == PAIR_SLOTS[0] else {}
    return Slot(f"owned_pairs.{index}", slot, asks=asks, says=says)


def pair_slots(answers: Mapping[str, Any]) -> list[str]:
    """Return the slots of the pairs owned that are named, the one worn at the desk first.

    Without that one there are none: the first pair of a case is the one worn at the desk.
    """
    named = [slot for slot in PAIR_SLOTS if answers.get(f"{slot}.kind")]
    return named if PAIR_SLOTS[0] in named else []
