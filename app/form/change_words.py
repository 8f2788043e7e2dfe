"""What changed, in words and figures: between two saves, and between two versions. Pure."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from engine import tables
from engine.answer import plans
from engine.case.model import Activity, Fit, Target, Wearer
from engine.case.prescription import EyePrescription
from engine.files.changes import Change, VersionChanges
from engine.wording import capital, counted, figure, say, uncapital

HEADINGS = ["what", "earlier", "later", "difference"]
PART_WORDS = {
    "prescription": "Prescription",
    "wearer": "Wearer",
    "frame": "Frame and pairs owned",
    "desk": "Desk",
    "day": "Day",
    "answer": "Answer",
    "other": "Other",
}
UNITS = {
    "_cm": "cm", "_mm": "mm", "_m": "m", "_deg": "°", "_d": "D", "_h": "h", "_in": "in", "_pd": "Δ",
    "_arcmin": "arcmin", "_years": "years",
}  # fmt: skip
_FIELDS = {
    "plan": "recommended",
    "verdict": "how sure",
    "clearly_better_share": "another plan clearly better, % of such wearers",
    "put_first_by": "put first by",
    "comfortable_h": "comfortable, h",
    "distance_cm": "distance, cm",
    "before_h": "without it, h",
    "after_h": "with it, h",
    "value": "usable accommodation, D",
}
_TITLES = {
    name: uncapital(info.title)
    for part in (EyePrescription, Wearer, Fit, Target, Activity)
    for name, info in part.model_fields.items()
    if info.title
}
"""What the model calls a value of a case."""
_GROUPS = {"moves": "move at the desk", "as_good": "equally good"}
_TIMES = {"clearly_better_share": 100.0}
"""What is kept as a share and told in percent."""
_CONTAINERS = ("targets", "activities", "wearer", "fit", "options", "plans", "recommendation",
               "usable_accommodation_d", "looks", "design", "change")  # fmt: skip
_PAIRS = "owned_pairs"
_ANSWER_TOLD = ("recommendation", "usable_accommodation_d", "provisional", "stops")
_OPTION_TOLD = ("design", "comfortable_h", "recommendable")
_LINES_TOLD = (("plan",), ("verdict",))
_VERDICTS = {"toss_up": "toss-up", "not_computed": "not compared with others"}
_LONGEST = 60
_MOST_SHIFTS = 6
_PATH = re.compile(r"(wearer|fit|targets)\.[a-z0-9_.]+")


def tables_of(
    found: Sequence[Change], *, results: Sequence[str] = ()
) -> list[tuple[str, list[list[str]]]]:
    """Return a table for each part of the record: its caption and its rows.

    results: the answers compared, as JSON. Of all their lenses those are told that either puts
    first or calls as good, and those owned; without them every lens is.
    """
    lenses = {lens for result in results for lens in _lenses(json.loads(result))}
    told = [change for change in found if _is_told(change, lenses)]
    parts = dict.fromkeys(change.part for change in told)
    return [
        (PART_WORDS[part], [row_of(change) for change in told if change.part == part])
        for part in parts
    ]


def _lenses(result: Mapping[str, Any]) -> Iterator[str]:
    said = result.get("recommendation") or {}
    plans_told = [said.get("plan"), *(one.get("plan") for one in said.get("as_good") or ())]
    yield from (lens for plan in plans_told if plan for lens in plan.split("+"))
    yield from (one["option"] for one in result.get("options", ()) if one["option"] != one["kind"])


def _is_told(change: Change, lenses: Collection[str]) -> bool:
    old, new = (_told(value, change.path[-1]) for value in (change.old, change.new))
    if old == new and not isinstance(old, bool) and change.old is not None:
        return False
    if change.part == "other":
        return change.path[0] not in ("origin", "label")
    if change.part != "answer":
        return True
    if change.path[0] == "options":
        if lenses and change.path[1:2] and change.path[1] not in lenses:
            return False
        return len(change.path) < 3 or change.path[2] in _OPTION_TOLD
    return change.path[0] in _ANSWER_TOLD


def row_of(change: Change) -> list[str]:
    """Return what, earlier, later, and how much more."""
    old, new = (_told(value, change.path[-1]) for value in (change.old, change.new))
    difference = Change(change.part, change.path, old, new).difference
    return [
        what(change.path),
        _value(old),
        _value(new),
        "" if difference is None else figure(difference, digits=3, signed=True),
    ]


def _told(value: Any, name: str) -> Any:
    """Return a value as told: a share in percent, hours to a tenth, all else as it is kept."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return value
    if name in _TIMES:
        return round(value * _TIMES[name])
    return round(value, 1) if name.endswith("_h") else value


def what(path: Sequence[str]) -> str:
    """Return the path of a value in words: whose, then which, with its unit."""
    if path[0] == _PAIRS and len(path) > 1:
        path = [_pair_words(path[1]), *path[2:]]
    names = [name for name in path if name not in _CONTAINERS] or [path[-1]]
    *whose, last = names
    return ": ".join([*map(_name, whose), _field(last)])


def _pair_words(place: str) -> str:
    """Return which of the pairs owned: the first is worn at the desk."""
    return _name(plans.PRESENT) if place == "1" else f"pair owned {place}"


def _name(name: str) -> str:
    kinds = tables.by_id("lens_kinds")
    if name == plans.PRESENT:
        return "present pair"
    if "+" in name and all(part in kinds or part == plans.PRESENT for part in name.split("+")):
        return " + ".join(_name(part) for part in name.split("+"))
    if name in kinds:
        return kinds[name]["optician_name"]
    return _GROUPS.get(name, name.replace("_", " "))


def _field(name: str) -> str:
    if name in _FIELDS:
        return _FIELDS[name]
    for ending, unit in UNITS.items():
        if name.endswith(ending):
            said = _TITLES.get(name, name.removesuffix(ending).replace("_", " "))
            return f"{said}, {unit}"
    return _name(name)


def _value(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return figure(round(value, 3), digits=6)
    if isinstance(value, list):
        return ", ".join(_value(one) for one in value) or "none"
    if isinstance(value, dict) and {"field", "unit"} <= value.keys():
        turns = value.get("turns_at")
        at = "" if turns is None else f", turning at {_value(turns)} {value['unit']}"
        return f"{_measurement(value['field'])}{at}"
    if isinstance(value, dict):
        said = [f"{_field(key)} {_value(one)}" for key, one in value.items()]
        text = "; ".join(said)
        return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
    text = str(value)
    if text in _VERDICTS:
        return _VERDICTS[text]
    return _measurement(text) if _PATH.fullmatch(text) else _name(text)


def _measurement(field: str) -> str:
    """Return an input that can be measured again, by its path in the case."""
    part, *_, last = field.split(".")
    number = f" of thing {int(field.split('.')[1]) + 1}" if part == "targets" else ""
    for ending in UNITS:
        last = last.removesuffix(ending)
    return last.replace("_", " ") + number


def version_lines(found: VersionChanges) -> list[str]:
    """Return what another version of the numbers makes of a kept answer, and by how much."""
    if found.same_version:
        return []
    lead = say("kept_version", kept=found.stored_version, today=found.fresh_version)
    if not found.changes:
        return [f"{lead} {say('kept_version_same')}"]
    lines = [lead]
    for change in found.changes:
        if change.path[0] == "recommendation" and change.path[1:] in _LINES_TOLD:
            what_, old, new, _ = row_of(change)
            lines.append(say("kept_version_changed", what=capital(what_), before=old, now=new))
    for shift in found.shifts[:_MOST_SHIFTS]:
        largest = figure(_told(shift.largest_difference, shift.quantity), digits=3, signed=True)
        what_, places = capital(_field(shift.quantity)), counted(shift.places, "place")
        lines.append(say("kept_version_shift", what=what_, largest=largest, places=places))
    more = len(found.shifts) - _MOST_SHIFTS
    if more > 0:
        lines.append(say("kept_version_more", values=counted(more, "more value")))
    return lines
