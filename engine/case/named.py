"""Name a value of a case as a person does, where a file has a path: doubts, letters, changes."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from engine import wording
from engine.case.model import Case, Design, Fit, OwnedPair, Target, Wearer
from engine.case.prescription import EyePrescription, Prescription
from engine.errors import Flag, InputRefusedError

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic.fields import FieldInfo

    from engine.case.results import FlagResult

_PARTS: dict[str, type[BaseModel]] = {"wearer": Wearer, "fit": Fit, "targets": Target}
_UNITS = {"deg": "°", "years": " years", "ratio": "", "prism dioptre": " Δ"}
BASES = {
    "amplitude": "the measured amplitude",
    "add": "the prescribed add",
    "age": "the age",
    "measured_range": "the measured range",
    "condition": "the replaced lens",
}
"""What usable accommodation is worked out from."""
_PLACES = {"D": 2, "deg": 0, "years": 0}
"""Places of a value that was worked out; a typed one has few anyway."""
MOST_DIGITS = 4
SIDEWAYS = ".offset_cm"
"""A doubt about it has the angle to the side as its value, whatever was typed."""


def name_of(path: str, case: Case) -> str:
    """Return what a value is called: whose it is, then what.

    Parameters
        path: as a doubt or a refusal has it.
        case: names the things looked at.

    >>> from engine.case.read import read_case
    >>> from engine.examples import path_of
    >>> found = read_case(path_of("two_screens"))
    >>> name_of("targets.1.tilt_deg", found), name_of("wearer.right.add_d", found)
    ('right screen: tilt, top away', 'right add')
    """
    parts = path.split(".")
    info = _field(parts)
    title = (info.title if info is not None and info.title else parts[-1].replace("_", " ")).lower()
    if parts[0] == "targets" and parts[1].isdigit():
        name = case.targets[int(parts[1])].name
        return name if path.endswith(SIDEWAYS) else f"{name}: {title}"
    if parts[0] == "owned_pairs" and parts[1].isdigit():
        return f"pair {int(parts[1]) + 1}: {title}"
    side = next((part for part in parts if part in ("right", "left")), "")
    return f"{side} {title}" if side and side not in title else title


def refusal_of(refusal: InputRefusedError) -> str:
    """Return a refusal as sentences that name the field as a person does, not by its path.

    >>> from engine.errors import Limits
    >>> years = Limits(18, 110, unit="years")
    >>> refusal_of(InputRefusedError(
    ...     field="wearer.age_years", value=9, allowed=years.words, limits=years))
    'Age: 9 is too low. Allowed: 18 to 110 years.'
    >>> refusal_of(InputRefusedError(field="case.json", value="an empty file", allowed="JSON"))
    'case.json: an empty file cannot be used. Allowed: JSON.'
    """
    named = field_of(refusal.field)
    return f"{named if named == refusal.field else wording.capital(named)}: {refusal.sentence}"


def field_of(path: str) -> str:
    """Return what a field is called where no case is at hand to name the thing looked at.

    A name that is no path is returned as it is: a column of a list, an option, a file.

    >>> field_of("wearer.right.add_d"), field_of("age_band"), field_of("Bundle.entry.0.resource")
    ('right add', 'age_band', 'entry 1: resource')
    """
    parts = path.split(".")
    if len(parts) > 1 and parts[0] in Case.model_fields:
        info = _field(parts)
        title = info.title if info is not None and info.title else parts[-1]
        sides = [one for one in parts[:-1] if one in ("right", "left") and one not in title]
        last = " ".join([*sides, title])
    elif len(parts) > 1 and parts[0][:1].isupper():
        last = parts[-1]
    else:
        return path
    places = [
        f"{re.sub(r's$', '', re.sub(r'ies$', 'y', before))} {int(number) + 1}"
        for before, number in pairwise(parts)
        if number.isdigit()
    ]
    said = ": ".join([*places, *([] if last.isdigit() else [last])])
    return re.sub(r"(?<=[a-z])(?=[A-Z])|_", " ", said).lower()


def doubt_of(flag: Flag | FlagResult, case: Case) -> str:
    """Return a doubt as a sentence without its end: what, its value, what is usual.

    >>> from engine.case.read import read_case
    >>> from engine.examples import path_of
    >>> found = read_case(path_of("two_screens"))
    >>> doubt_of(Flag("targets.1.offset_cm", 43.4325, "up to 35° to either side", ""), found)
    'right screen: 43° to the side; usual: up to 35° to either side'
    """
    return f"{name_of(flag.field, case)}: {value_of(flag.field, flag.value)}; usual: {flag.range}"


def published(flag: Flag | FlagResult) -> str:
    """Return who published what is usual, to be put after a doubt.

    Sources have brackets of their own, so this has none.

    >>> published(Flag("fit.vertex_mm", 30.0, "10 to 16 mm", "a survey (measured)"))
    '; source: a survey (measured)'
    """
    return f"; source: {flag.source}"


def value_of(path: str, value: float | str) -> str:
    """Return a value with its unit, no finer than it was told.

    >>> value_of("targets.0.distance_cm", 130.0), value_of("wearer.right.add_d", 2.125)
    ('130 cm', '2.12 D')
    """
    if isinstance(value, str):
        return wording.minus(value)
    if path.endswith(SIDEWAYS):
        return f"{with_unit(abs(value), 'deg')} to the side"
    info = _field(path.split("."))
    extra: Any = info.json_schema_extra if info is not None else None
    return with_unit(value, extra["unit"] if isinstance(extra, dict) and "unit" in extra else "")


def with_unit(value: float, unit: str) -> str:
    """Return a number with its unit as a page writes it.

    >>> with_unit(43.4325, "deg"), with_unit(62.5, "cm")
    ('43°', '62.5 cm')
    """
    places = _PLACES.get(unit)
    if places is None:
        said = wording.figure(value, digits=MOST_DIGITS)
    else:
        said = wording.number(value, places=places)
    return said + _UNITS.get(unit, f" {unit}" if unit else "")


def _field(parts: list[str]) -> FieldInfo | None:
    """Return the definition of a field by its path, None where there is none."""
    last, model = parts[-1], _PARTS.get(parts[0])
    models = (EyePrescription, Prescription, Design, OwnedPair, Case)
    if {"right", "left"} & set(parts[:-1]) or model is None or last not in model.model_fields:
        model = next((one for one in models if last in one.model_fields), model)
    return None if model is None else model.model_fields.get(last)
