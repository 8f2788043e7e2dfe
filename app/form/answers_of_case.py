"""From a case back to the answers of the form: what a kept case or a file is opened as. Pure.

Whatever the form cannot show is named by `left_aside`, never dropped in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.form import case_of_answers, clear_ranges
from app.form.case_of_answers import (
    DAY_NAME,
    EXTENSIONS,
    FIT_FIELDS,
    MAIN_PRESET,
    PAIR_SLOTS,
    WEARER_NUMBERS,
    default_name,
    design_choices,
    design_numbers,
)
from app.form.presets import NUMBERS, Preset, main_screens, presets
from app.form.typed import LOADED
from engine.case.model import (
    DEFAULT_FITTING_HEIGHT_MM,
    Activity,
    Case,
    Fit,
    OwnedPair,
    Target,
    usual_chart_m,
)
from engine.case.prescription import EyePrescription, Prescription
from engine.case.targets import hours_on
from engine.files.exchange import Change, case_to_json, changes

SAME = 1e-6
"""Relative difference under which two numbers are one: the residue of a share written in %."""


class _Answers:
    """The answers under construction; every text that was not measured keeps its origin."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.values: dict[str, Any] = {}
        self.origins: dict[str, list[str]] = {}

    def put(self, widget: str, value: float | str | None, pointer: str = "") -> None:
        """A text with the origin its value has in the case."""
        if value is None:
            return
        text = value if isinstance(value, str) else f"{value:.15g}"
        self.values[widget] = text
        origin = self.case.origin.get(pointer)
        if origin not in (None, "measured"):
            self.origins[widget] = [text, str(origin)]

    def unless(self, widget: str, value: float, default: float | None, pointer: str) -> None:
        """A text, but for a value that the form assumes by itself."""
        measured = self.case.origin.get(pointer) in ("measured", "at_home")
        if measured or value != default:
            self.put(widget, value, pointer)


def answers_of(case: Case) -> dict[str, Any]:
    """The answers with which the form shows this case."""
    found = _Answers(case)
    _wearer(found)
    _fit(found)
    _pairs(found)
    slots = _targets(found)
    _day(found, slots)
    for kind, price in case.prices.items():
        found.put(f"price.{kind}", price)
    for number, taped in enumerate(case.measured_ranges[: clear_ranges.MOST]):
        for name in clear_ranges.READERS:
            found.put(clear_ranges.widget(number, name), getattr(taped, name))
    if case.extensions:
        found.values[EXTENSIONS] = case.extensions
    found.values[LOADED] = found.origins
    return _with_assumed_shares(case, found.values)


def left_aside(case: Case, answers: Mapping[str, Any]) -> tuple[Change, ...]:
    """What of a case the form does not show with these answers."""
    shown = case_of_answers.ask(answers, label=case.label).case
    if shown is None:
        return ()
    found = changes(old_case=case_to_json(case), new_case=case_to_json(shown))
    return tuple(change for change in found if not _is_only_form(change))


def _is_only_form(change: Change) -> bool:
    if change.part == "other":
        return True
    if "fitting_height" in change.path[-1]:
        return True  # one number for both eyes, or the same twice
    if isinstance(change.old, float) and change.difference is not None:
        return abs(change.difference) <= SAME * max(1.0, abs(change.old))
    return change.old in (None, False, [], {}) and change.new in (None, False, [], {}, 0.0)


def _wearer(found: _Answers) -> None:
    wearer = found.case.wearer
    found.put("wearer.age_years", wearer.age_years, "/wearer/age_years")
    found.put("prescription", _prescription(found), "/wearer/right/add_d")
    usual = {"chart_distance_m": usual_chart_m()}
    for name in WEARER_NUMBERS:
        if (value := getattr(wearer, name)) is not None:
            found.unless(f"wearer.{name}", value, usual.get(name), f"/wearer/{name}")
    if wearer.turns is not None:
        found.values["wearer.turns"] = wearer.turns
    for name in ("amplitude_through_lenses", "accepts_lined"):
        found.values[f"wearer.{name}"] = getattr(wearer, name)
    found.values["wearer.conditions"] = list(wearer.conditions)
    if wearer.pd_right_mm is not None and wearer.pd_left_mm is not None:
        text = f"{wearer.pd_right_mm:g}/{wearer.pd_left_mm:g}"
        found.put("pd", text, "/wearer/pd_right_mm")


def _prescription(found: _Answers) -> str | None:
    """The add alone where the eyes are assumed plain, nothing where no add is known either."""
    right, left = found.case.wearer.right, found.case.wearer.left
    plain = {**EyePrescription(sphere_d=0.0, add_d=right.add_d).model_dump()}
    assumed = found.case.origin.get("/wearer/right/sphere_d") == "assumed"
    if assumed and right.model_dump() == left.model_dump() == plain:
        return None if right.add_d is None else f"{right.add_d:+.2f}"
    return prescription_words(found.case.wearer.prescription)


def prescription_words(prescription: Prescription) -> str:
    """Both eyes as the form's one field reads them back, powers as exact as they are."""
    return f"R {_eye(prescription.right)} L {_eye(prescription.left)}"


def _eye(eye: EyePrescription) -> str:
    said = [_power(eye.sphere_d)]
    said += [f"{_power(eye.cylinder_d)} x {eye.axis_deg}"] if eye.cylinder_d else ["DS"]
    said.append("no add" if eye.add_d is None else f"add {_power(eye.add_d)}")
    said += [f"{_power(prism.amount_pd)[1:]} base {prism.base}" for prism in eye.prism]
    return " ".join(said)


def _power(value: float) -> str:
    """Two decimals, or as many as an odd power has."""
    two = f"{value + 0.0:+.2f}"
    return two if float(two) == value else f"{value:+.15g}"


def _fit(found: _Answers) -> None:
    fit = found.case.fit
    for name in FIT_FIELDS:
        default = float(Fit.model_fields[name].default)
        found.unless(f"fit.{name}", getattr(fit, name), default, f"/fit/{name}")
    one, each = "fit.fitting_height_mm", fit.heights_mm
    if each[0] != each[1]:
        found.put(one, f"{each[0]:g}/{each[1]:g}", "/fit/fitting_height_right_mm")
    else:
        found.unless(one, each[0], DEFAULT_FITTING_HEIGHT_MM, "/fit/fitting_height_mm")


def _pairs(found: _Answers) -> None:
    pairs = found.case.owned_pairs
    for place, (slot, pair) in enumerate(zip(PAIR_SLOTS, pairs, strict=False)):
        _pair(found, f"/owned_pairs/{place}", slot, pair)


def _pair(found: _Answers, at: str, slot: str, pair: OwnedPair) -> None:
    found.put(f"{slot}.kind", pair.kind, f"{at}/kind")
    for name in design_numbers(pair.kind):
        found.put(f"{slot}.{name}", getattr(pair.design, name), f"{at}/design/{name}")
    for name in design_choices(pair.kind):
        if (chosen := getattr(pair.design, name)) is not None:
            found.values[f"{slot}.{name}"] = chosen
    if pair.prescription is not None:
        powers = prescription_words(pair.prescription)
        found.put(f"{slot}.prescription", powers, f"{at}/prescription")
    if pair.liked is not None:
        found.values[f"{slot}.liked"] = "yes" if pair.liked else "no"


def _targets(found: _Answers) -> dict[str, str]:
    """The slot of each target, by its name."""
    slots: dict[str, str] = {}
    targets = found.case.targets
    main = _main_of(found.case)
    others = 0
    for index in sorted(range(len(targets)), key=lambda at: at != main):
        target = targets[index]
        if index == main:
            slot, preset = "main", _preset_of(target, main=True)
            found.values["main.preset"] = preset.id
        else:
            preset = _preset_of(target, main=False)
            if preset.id == "papers" and "papers" not in slots.values():
                slot = "papers"
                found.values["papers"] = "yes"
            else:
                slot, others = f"other{others}", others + 1
                found.values[f"{slot}.preset"] = preset.id
        slots[target.name] = slot
        _target(found, index, slot, preset)
    return slots


def _main_of(case: Case) -> int:
    """The screen looked at most, else the thing looked at most."""

    def weight(at: int) -> tuple[bool, float, int]:
        target = case.targets[at]
        return target.kind == "screen", hours_on(target.name, case.activities), -at

    return max(range(len(case.targets)), key=weight)


def _preset_of(target: Target, *, main: bool) -> Preset:
    """The preset nearest to a target: same kind and fields, then size, then most equal values."""

    def likeness(preset: Preset) -> tuple[int, ...]:
        numbers = _numbers(target)
        equal = [name for name, value in preset.numbers.items() if numbers.get(name) == value]
        return (
            preset.laptop == target.laptop,
            set(numbers) == set(preset.numbers),
            preset.name == target.name,
            preset.aspect == target.aspect,
            "diagonal_in" in equal,
            len(equal),
        )

    same = [one for one in presets().values() if one.kind == target.kind]
    if target.kind == "screen":
        same = [one for one in same if (one.id in main_screens()) == main] or same
    return max(same, key=likeness) if same else presets()[MAIN_PRESET]


def _numbers(target: Target) -> dict[str, float]:
    return {name: value for name in NUMBERS if (value := getattr(target, name)) is not None}


def _target(found: _Answers, index: int, slot: str, preset: Preset) -> None:
    target, at = found.case.targets[index], f"/targets/{index}"
    numbers = _numbers(target)
    if (set(numbers), target.aspect, target.laptop) != (
        set(preset.numbers), preset.aspect, preset.laptop
    ):  # fmt: skip
        own = {"fields": list(numbers), "aspect": target.aspect, "laptop": target.laptop}
        found.values[f"{slot}.own"] = own
    if target.name != default_name(slot, preset.id):
        found.values[f"{slot}.name"] = target.name
    for name, value in numbers.items():
        pointer = f"{at}/{name}"
        told = slot == "main" and name == "diagonal_in" and value == preset.numbers.get(name)
        if told and found.case.origin.get(pointer) == "measured":
            found.values["main.preset_chosen"] = True
            continue
        found.unless(f"{slot}.{name}", value, preset.numbers.get(name), pointer)
    found.unless(f"{slot}.offset_cm", target.offset_cm, 0.0, f"{at}/offset_cm")
    found.put(f"{slot}.desk_below_eye_cm", target.desk_below_eye_cm, f"{at}/desk_below_eye_cm")
    if not target.movable:
        found.values[f"{slot}.fixed"] = True


def _day(found: _Answers, slots: Mapping[str, str]) -> None:
    first, *rest = found.case.activities
    if first.name != DAY_NAME:
        found.values["day.name"] = first.name
    found.unless("day.hours", first.hours, case_of_answers.assumed_h(), "/activities/0/hours")
    found.values["day.needs"] = list(first.needs)
    _looks(found, 0, first, slots, "{}.share_pct", every=True)
    for number, activity in enumerate(rest):
        part, at = f"part{number}", f"/activities/{number + 1}"
        found.values[f"{part}.name"] = activity.name
        found.put(f"{part}.hours", activity.hours, f"{at}/hours")
        found.values[f"{part}.needs"] = list(activity.needs)
        found.values[f"{part}.slots"] = [slots[look.target] for look in activity.looks]
        if len(activity.looks) > 1:
            _looks(found, number + 1, activity, slots, f"{part}.{{}}.share_pct", every=False)


def _looks(
    found: _Answers,
    number: int,
    activity: Activity,
    slots: Mapping[str, str],
    widget: str,
    *,
    every: bool,
) -> None:
    """The shares in %; where every slot is asked, 0 for what is not looked at."""
    if every:
        found.values |= dict.fromkeys(map(widget.format, slots.values()), "0")
    for place, look in enumerate(activity.looks):
        pointer = f"/activities/{number}/looks/{place}/share"
        if pointer not in found.case.origin:
            pointer = f"/activities/{number}/hours"  # told with the hours, as at home
        found.put(widget.format(slots[look.target]), f"{100 * look.share:.15g}", pointer)


def _with_assumed_shares(case: Case, values: dict[str, Any]) -> dict[str, Any]:
    """The answers without the shares of the first hours, where the form assumes the same ones."""
    shares = {name for name in values if name.endswith(".share_pct") and name[:4] != "part"}
    told = {look.target: look.share for look in case.activities[0].looks}
    pointers = [f"/activities/0/looks/{at}/share" for at in range(len(told))]
    if any(case.origin.get(pointer) in ("measured", "at_home") for pointer in pointers):
        return values
    plain = {name: value for name, value in values.items() if name not in shares}
    assumed = case_of_answers.ask(plain).case
    if assumed is None:
        return values
    again = {look.target: look.share for look in assumed.activities[0].looks}
    same = told.keys() == again.keys() and all(abs(told[n] - again[n]) <= SAME for n in told)
    return plain if same else values
