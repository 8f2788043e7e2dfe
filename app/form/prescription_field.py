"""The one field for a prescription: from its text to powers, and from powers back to text. Pure."""

from __future__ import annotations

import re
from typing import Any

from app.form.typed import Typed
from engine.case.model import Case
from engine.case.prescription import EyePrescription, Prescription
from engine.case.prescription_text import parse_prescription
from engine.errors import InputRefusedError
from engine.units import parse_number

_ADD_ALONE = re.compile(r"(?:add:?)?([-+\u2212]?\d*[.,]?\d+)d?(?:add)?")


def read_eyes(typed: Typed, *, at: str, widget: str) -> None:
    """Read the add alone, or both eyes; plain eyes are assumed until told."""
    text = typed.text(widget)
    eyes: dict[str, dict[str, Any]] = {"right": {"sphere_d": 0.0}, "left": {"sphere_d": 0.0}}
    origin, root = "assumed", "/" + at.replace(".", "/")
    try:
        if alone := _ADD_ALONE.fullmatch(text.replace(" ", "").lower()):
            add = parse_number(alone[1], field=widget)
            eyes = {side: {"sphere_d": 0.0, "add_d": add} for side in eyes}
            typed.origin[f"{root}/right/add_d"] = typed.origin_of(widget)
        elif text:
            both = parse_prescription(text, field=widget)
            eyes = {side: getattr(both, side).model_dump(mode="json") for side in eyes}
            origin = typed.origin_of(widget)
            if both.right.add_d is not None:
                typed.origin[f"{root}/right/add_d"] = origin
    except InputRefusedError as refusal:
        typed.refused[widget] = refusal
    for side, eye in eyes.items():
        typed.put(f"{at}.{side}", eye, widget=widget)
    typed.origin[f"{root}/right/sphere_d"] = origin


def read_powers(typed: Typed, path: str, *, widget: str) -> None:
    """Read the powers of both eyes, or nothing where nothing was typed."""
    both = typed.parsed(widget, parse_prescription)
    if both is not None:
        powers, origin = both.model_dump(mode="json"), typed.origin_of(widget)
        typed.put(path, powers, widget=widget, origin=origin)


def eyes_words(case: Case) -> str | None:
    """Return the add alone where the eyes are assumed plain, None where no add is known either."""
    right, left = case.wearer.right, case.wearer.left
    plain = EyePrescription(sphere_d=0.0, add_d=right.add_d).model_dump()
    assumed = case.origin.get("/wearer/right/sphere_d") == "assumed"
    if assumed and right.model_dump() == left.model_dump() == plain:
        return None if right.add_d is None else f"{right.add_d:+.2f}"
    return prescription_words(case.wearer.prescription)


def prescription_words(prescription: Prescription) -> str:
    """Return both eyes as the field reads them back, powers as exact as they are."""
    return f"R {_eye(prescription.right)} L {_eye(prescription.left)}"


def _eye(eye: EyePrescription) -> str:
    said = [_power(eye.sphere_d)]
    said += [f"{_power(eye.cylinder_d)} x {eye.axis_deg}"] if eye.cylinder_d else ["DS"]
    said.append("no add" if eye.add_d is None else f"add {_power(eye.add_d)}")
    said += [f"{_power(prism.amount_pd)[1:]} base {prism.base}" for prism in eye.prism]
    return " ".join(said)


def _power(value: float) -> str:
    """Write two decimals, or as many as an odd power has."""
    two = f"{value + 0.0:+.2f}"
    return two if float(two) == value else f"{value:+.15g}"
