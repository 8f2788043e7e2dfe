"""Turn typed answers into a case: what was measured, what is assumed, what is refused.

`engine.case.model.Case` alone decides what is allowed; here texts become numbers, and every value
remembers the field it was typed in and whether it was measured.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from app.form import clear_ranges
from app.form.presets import NUMBERS, Preset, presets
from app.form.typed import Typed
from engine.case.model import DEFAULT_FITTING_HEIGHT_MM, Case, Design, Fit
from engine.case.prescription_text import parse_prescription
from engine.case.read import mark_defaults, refusals
from engine.case.targets import height_in_reach_cm, least_distance_cm
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.optics.workstation import screen_size_cm
from engine.tables import Judgements
from engine.units import parse_length_cm, parse_number

MOST_OTHERS = 11
MOST_PARTS = 11
FARTHEST_CM = 2000.0
"""Greatest distance that `Case` takes; what was typed beyond its own limits is refused there."""
PAIR_SLOTS = ("present", "owned1", "owned2")
"""The pair worn at the desk today, and further pairs owned."""
MAIN_PRESET = "screen_24"
DAY_NAME = "desk"


def assumed_h() -> float:
    """Return the hours at the desk that are taken until they are told."""
    return Judgements.standard().assumed_desk_h


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
    What is assumed gives way to what was typed: the distance stretches to fit a height or a
    sideways place, and a height shrinks to fit a distance.
    """
    own = answers.get(f"{slot}.own")
    names = own["fields"] if own else preset.numbers
    assumed = {name: preset.numbers.get(name) for name in NUMBERS if name in names}
    typed = _typed_numbers(slot, answers)
    return assumed | _in_reach(assumed, typed, own["aspect"] if own else preset.aspect)


def _in_reach(
    assumed: Mapping[str, float | None], typed: Mapping[str, float], aspect: str | None
) -> dict[str, float]:
    """The assumed distance or height as far as what was typed leaves room for it."""
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
    """What was typed of a slot and can be read as a number."""
    found = {}
    for name in (*NUMBERS, "offset_cm"):
        text = str(answers.get(f"{slot}.{name}") or "").strip()
        with suppress(InputRefusedError):
            if text:
                found[name] = _reader(name)(text, field=name)
    return found


def _reader(name: str) -> Callable[..., float]:
    return parse_length_cm if name.endswith("_cm") else parse_number


def _height_cm(numbers: Mapping[str, float | None], aspect: str | None) -> float:
    """The height of a screen or page, 0 where it cannot be known yet."""
    diagonal_in = numbers.get("diagonal_in")
    if diagonal_in is None or aspect is None:
        return numbers.get("height_cm") or 0.0
    try:
        return screen_size_cm(diagonal_in=diagonal_in, aspect=aspect)[1]
    except InputRefusedError:
        return 0.0


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
            read=_reader(field_name),
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
    typed.number(f"{at}.hours", widget="day.hours", assumed=assumed_h())
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
    judged = Judgements.standard()
    usual = {"papers": judged.assumed_papers_share}
    other = judged.assumed_other_share
    weights = {slot: usual.get(slot, other) for slot in widgets if slot not in told}
    if weights and "main" in weights:
        others = sum(weight for slot, weight in weights.items() if slot != "main")
        weights["main"] = max(judged.assumed_main_min_share, 1.0 - others)
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


FIT_FIELDS = ("vertex_mm", "pantoscopic_deg", "wrap_deg", "lens_width_mm", "bridge_mm",
              "lens_depth_mm")  # fmt: skip
WEARER_NUMBERS = ("near_test_distance_cm", "amplitude_d", "usable_fraction", "chart_distance_m")
EXTENSIONS = "opened.extensions"
"""Where a draft holds the foreign data of an opened case."""
_BARE_NUMBER = re.compile(r"[-+\u2212]?\d*[.,]?\d+")


@dataclass(frozen=True)
class Asking:
    """What the form asks.

    Attributes:
        case: ready to be answered; None while something is missing or refused.
        refused: what is refused, by the field it was typed in.
        missing: fields without which there is no answer.
        measured, from_home, assumed: how many values were typed, taped at home, and are defaults.
        assumed_paths: the paths in the case of the assumed values.
        where: the field in which the value of each path of the case was typed.
        brought: fields whose text came with a file or a kept case, with its origin.
    """

    case: Case | None
    refused: dict[str, InputRefusedError]
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
        """The same, with a value the engine refused, under the field it was typed in."""
        widget = _widget_of(self.where, refusal.field)
        return replace(self, case=None, refused={**self.refused, widget: refusal})


def ask(answers: Mapping[str, Any], *, label: str = "interview") -> Asking:
    """Read every answer of the form and make a case of it, or say what is refused."""
    typed = Typed(answers)
    typed.content = {"schema": 1, "label": label}
    typed.number("wearer.age_years", widget="wearer.age_years")
    _wearer(typed)
    _fit(typed)
    _pairs(typed)
    _prices(typed)
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
    """The field in which a refused value was typed, or the nearest one above it."""
    while path not in where and "." in path:
        path = path.rsplit(".", 1)[0]
    return where.get(path, "form")


def _wearer(typed: Typed) -> None:
    _eyes(typed)
    if turned := typed.text("wearer.turns"):
        typed.put("wearer.turns", turned, widget="wearer.turns")
    for name in WEARER_NUMBERS:
        typed.number(f"wearer.{name}", widget=f"wearer.{name}")
    for name, widget in (
        ("amplitude_through_lenses", "wearer.amplitude_d"),
        ("accepts_lined", "wearer.accepts_lined"),
    ):
        if typed.answers.get(f"wearer.{name}"):
            typed.put(f"wearer.{name}", True, widget=widget)
    conditions = typed.answers.get("wearer.conditions") or []
    typed.put("wearer.conditions", list(conditions), widget="wearer.conditions")
    typed.pair("pd", one=None, each=("wearer.pd_right_mm", "wearer.pd_left_mm"))


def _eyes(typed: Typed) -> None:
    """The add alone, or the prescription of both eyes; plain eyes are assumed until told."""
    text = typed.text("prescription")
    eyes: dict[str, dict[str, Any]] = {"right": {"sphere_d": 0.0}, "left": {"sphere_d": 0.0}}
    origin = "assumed"
    try:
        if _BARE_NUMBER.fullmatch(text.replace(" ", "")):
            add = parse_number(text, field="prescription")
            eyes = {side: {"sphere_d": 0.0, "add_d": add} for side in eyes}
            typed.origin["/wearer/right/add_d"] = typed.origin_of("prescription")
        elif text:
            both = parse_prescription(text, field="prescription")
            eyes = {side: getattr(both, side).model_dump(mode="json") for side in eyes}
            origin = typed.origin_of("prescription")
            if both.right.add_d is not None:
                typed.origin["/wearer/right/add_d"] = origin
    except InputRefusedError as refusal:
        typed.refused["prescription"] = refusal
    for side, eye in eyes.items():
        typed.put(f"wearer.{side}", eye, widget="prescription")
    typed.origin["/wearer/right/sphere_d"] = origin


def _fit(typed: Typed) -> None:
    for name in FIT_FIELDS:
        default = float(Fit.model_fields[name].default)
        typed.number(f"fit.{name}", widget=f"fit.{name}", assumed=default, origin="default")
    one = "fit.fitting_height_mm"
    each = ("fit.fitting_height_right_mm", "fit.fitting_height_left_mm")
    if not typed.pair(one, one=one, each=each):
        typed.put(one, DEFAULT_FITTING_HEIGHT_MM, widget=one, origin="default")


def priced_kinds() -> list[str]:
    """Kinds of lens that have a price."""
    return [kind.id for kind in KINDS.values() if kind.is_lens]


def _prices(typed: Typed) -> None:
    """The user's own prices; a blank is not zero, and a price is not a measure."""
    for kind in priced_kinds():
        typed.number(f"prices.{kind}", widget=f"price.{kind}", counted=False)


def design_numbers(kind: str) -> list[str]:
    """Return the numbers of a design that can be typed of a pair owned; none of no kind."""
    return [name for name in _design_fields(kind) if not Design.choices(name)]


def design_choices(kind: str) -> dict[str, tuple[str, ...]]:
    """Return what is chosen of a design owned rather than typed, and its words."""
    return {name: words for name in _design_fields(kind) if (words := Design.choices(name))}


def _design_fields(kind: str) -> tuple[str, ...]:
    return KINDS[kind].design_fields if kind else ()


def pair_slots(answers: Mapping[str, Any]) -> list[str]:
    """Return the slots of the pairs owned that are named, the one worn at the desk first.

    Without that one there are none: the first pair of a case is the one worn at the desk.
    """
    named = [slot for slot in PAIR_SLOTS if answers.get(f"{slot}.kind")]
    return named if PAIR_SLOTS[0] in named else []


def _pairs(typed: Typed) -> None:
    for place, slot in enumerate(pair_slots(typed.answers)):
        _pair(typed, f"owned_pairs.{place}", slot)


def _pair(typed: Typed, at: str, slot: str) -> None:
    """A pair owned: its kind, the numbers of its design, its own powers, whether it is liked."""
    kind = typed.text(f"{slot}.kind")
    typed.put(f"{at}.kind", kind, widget=f"{slot}.kind", origin=typed.origin_of(f"{slot}.kind"))
    for name in design_numbers(kind):
        typed.number(f"{at}.design.{name}", widget=f"{slot}.{name}")
    for name, words in design_choices(kind).items():
        widget = f"{slot}.{name}"
        typed.put(f"{at}.design.{name}", typed.text(widget) or words[0], widget=widget)
    liked = {"yes": True, "no": False}.get(typed.text(f"{slot}.liked"))
    typed.put(f"{at}.liked", liked, widget=f"{slot}.liked")
    widget = f"{slot}.prescription"
    if text := typed.text(widget):
        try:
            both = parse_prescription(text, field=widget)
        except InputRefusedError as refusal:
            typed.refused[widget] = refusal
            return
        powers, origin = both.model_dump(mode="json"), typed.origin_of(widget)
        typed.put(f"{at}.prescription", powers, widget=widget, origin=origin)
