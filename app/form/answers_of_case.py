"""From a case back to the answers of the form: what a kept case or a file is opened as. Pure.

Whatever the form cannot show is named by `left_aside`, never dropped in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.form import case_of_answers, clear_ranges, field_table
from app.form.case_of_answers import (
    EXTENSIONS,
    MAIN_PRESET,
    PAIR_SLOTS,
    day_slot,
    default_names,
    pair_slot,
    part_slot,
)
from app.form.field_table import Slot
from app.form.opened import Opened
from app.form.presets import NUMBERS, Preset, main_screens, presets
from app.form.typed import LOADED
from engine.case.model import Activity, Case, Target
from engine.case.targets import hours_on
from engine.files.case_json import case_to_json
from engine.files.changes import Change, changes

SAME = 1e-6
"""Relative difference under which two numbers are one: the residue of a share written in %."""


def answers_of(case: Case) -> dict[str, Any]:
    """Return the answers with which the form shows this case."""
    found = Opened(case)
    field_table.write(field_table.WEARER, found, field_table.WEARER_SLOT, case.wearer)
    field_table.write(field_table.FIT, found, field_table.FIT_SLOT, case.fit)
    for index, (slot, pair) in enumerate(zip(PAIR_SLOTS, case.owned_pairs, strict=False)):
        field_table.write(field_table.PAIR, found, pair_slot(index, slot, pair.kind), pair)
    field_table.write(field_table.PRICES, found, field_table.PRICE_SLOT, case.prices)
    slots = _targets(found)
    _day(found, slots)
    for number, taped in enumerate(case.measured_ranges[: clear_ranges.MOST]):
        for name in clear_ranges.ASKED:
            found.put(clear_ranges.widget(number, name), getattr(taped, name))
    if case.extensions:
        found.values[EXTENSIONS] = case.extensions
    found.values[LOADED] = found.origins
    return _with_assumed_shares(case, found.values)


def left_aside(case: Case, answers: Mapping[str, Any]) -> tuple[Change, ...]:
    """Return what of a case the form does not show with these answers."""
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


def _targets(found: Opened) -> dict[str, str]:
    """Return the slot of each target, by its name."""
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
    """Return the screen looked at most, else the thing looked at most."""

    def weight(at: int) -> tuple[bool, float, int]:
        target = case.targets[at]
        return target.kind == "screen", hours_on(target.name, case.activities), -at

    return max(range(len(case.targets)), key=weight)


def _preset_of(target: Target, *, main: bool) -> Preset:
    """Find the preset nearest to a target: same kind and fields, then size, then equal values."""

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


def _target(found: Opened, index: int, slot: str, preset: Preset) -> None:
    target, at = found.case.targets[index], f"/targets/{index}"
    numbers = _numbers(target)
    if (set(numbers), target.aspect, target.laptop) != (
        set(preset.numbers), preset.aspect, preset.laptop
    ):  # fmt: skip
        own = {"fields": list(numbers), "aspect": target.aspect, "laptop": target.laptop}
        found.values[f"{slot}.own"] = own
    assumed = {name: preset.numbers.get(name) for name in NUMBERS}
    if preset.offset_cm:
        assumed["offset_cm"] = preset.offset_cm
    inch = "diagonal_in"
    chosen = (
        slot == "main"
        and numbers.get(inch) == assumed[inch] is not None
        and found.case.origin.get(f"{at}/{inch}") == "measured"
    )
    if chosen:
        found.values["main.preset_chosen"] = True
    asked = Slot(
        f"targets.{index}",
        slot,
        assumed={"name": default_names(found.values)[slot], **assumed},
        told=(inch,) if chosen else (),
        asks=NUMBERS,
    )
    field_table.write(field_table.TARGET, found, asked, target)


def _day(found: Opened, slots: Mapping[str, str]) -> None:
    first, *rest = found.case.activities
    field_table.write(field_table.DAY, found, day_slot(), first)
    _looks(found, 0, first, slots, "{}.share_pct", every=True)
    for number, activity in enumerate(rest):
        part = part_slot(number).name
        field_table.write(field_table.PART, found, part_slot(number), activity)
        found.values[f"{part}.slots"] = [slots[look.target] for look in activity.looks]
        if len(activity.looks) > 1:
            _looks(found, number + 1, activity, slots, f"{part}.{{}}.share_pct", every=False)


def _looks(
    found: Opened,
    number: int,
    activity: Activity,
    slots: Mapping[str, str],
    widget: str,
    *,
    every: bool,
) -> None:
    """Put the shares in % into answers; where every slot is asked, 0 for what is not looked at."""
    if every:
        found.values |= dict.fromkeys(map(widget.format, slots.values()), "0")
    for place, look in enumerate(activity.looks):
        pointer = f"/activities/{number}/looks/{place}/share"
        if pointer not in found.case.origin:
            pointer = f"/activities/{number}/hours"  # told with the hours, as at home
        found.put(widget.format(slots[look.target]), f"{100 * look.share:.15g}", pointer)


def _with_assumed_shares(case: Case, values: dict[str, Any]) -> dict[str, Any]:
    """Leave out the shares of the first hours where the form assumes the same ones."""
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
