"""The Collection page's typed texts as readings, crosses, taped ranges and a complaint. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from app.form.typed import Refused, Typed
from app.views.order.typed_order import made, put_eye
from engine.case.model import Target
from engine.collection import complaints
from engine.collection.as_worn import CrossError
from engine.collection.complaints import Complaint, SeenTarget
from engine.collection.followup import Foretold, follow_up_dates
from engine.collection.verify import EyeReading, Readings, lens_class
from engine.errors import InputRefusedError, Limits
from engine.order.types import SIDES, EyeOrder, Order
from engine.units import DAY_RULE, parse_day, parse_length_cm

COLLECTED = "collection.collected"
YES, NO = "complaint.yes", "complaint.no"
ENDS = ("nearest_cm", "farthest_cm")
CROSS = ("below_mm", "right_mm")
SEEN = ("chin_up_deg", "nearest_clear_cm", "farthest_clear_cm", "clear_width_cm")
FILLED = {"nearest_cm": "nearest_clear_cm", "farthest_cm": "farthest_clear_cm"}
"""What an end of the range test is called in a complaint."""
REPORTED = "collection.reported_h"
_TAPED = {
    "nearest_cm": Limits(10.0, 600.0, unit="cm"),
    "farthest_cm": Limits(10.0, 2000.0, unit="cm"),
}


def asked_of(order: Order, eye: EyeOrder) -> tuple[str, ...]:
    """Return what is read from one lens of an order."""
    kind = lens_class(order.kind)
    fields = ["power"]
    fields += ["add_d"] if eye.add_d is not None and eye.degression_d is None else []
    fields += ["prism_up_pd", "prism_in_pd"]
    fields += [] if kind == "single_or_lined" else ["centration_mm", "height_mm"]
    return tuple(fields)


def widget(side: str, name: str) -> str:
    """Return the name under which the draft holds a value of one eye."""
    return f"collection.{side}.{name}"


def read_lenses(values: Mapping[str, Any], order: Order) -> tuple[Readings | None, Refused]:
    """Return the readings of both lenses; None where a value is refused."""
    found, refused = {}, Refused()
    for side in SIDES:
        typed = Typed(values)
        for name in asked_of(order, order.eye(side)):
            if name == "power":
                put_eye(typed, name, widget=widget(side, name))
            else:
                typed.number(name, widget=widget(side, name), counted=False)
        found[side] = made(typed, EyeReading)
        refused |= typed.refused
    right, left = found["right"], found["left"]
    readings = None if right is None or left is None else Readings(right=right, left=left)
    return readings, refused


def with_verification(values: Mapping[str, Any], order: Order) -> tuple[Order, Refused]:
    """Return the order with the verification powers the laboratory sent along."""
    refused, eyes = {}, []
    for eye in order.eyes:
        typed = Typed(values)
        put_eye(typed, "power", widget=widget(eye.side, "verification"))
        refused |= typed.refused
        stated = typed.content.get("power", eye.verification)
        eyes.append(eye.model_copy(update={"verification": stated}))
    return order.model_copy(update={"eyes": tuple(eyes)}), refused


def read_crosses(
    values: Mapping[str, Any],
) -> tuple[tuple[CrossError, CrossError] | None, Refused]:
    """Read both crosses; None where nothing is typed or a value is refused."""
    found, refused, given = [], {}, False
    for side in SIDES:
        typed = Typed(values)
        for name in CROSS:
            typed.number(name, widget=widget(side, name), counted=False)
            given = given or bool(typed.text(widget(side, name)))
        found.append(made(typed, CrossError))
        refused |= typed.refused
    right, left = found
    if right is None or left is None or not given:
        return None, refused
    return (right, left), refused


def read_taped(values: Mapping[str, Any], number: int) -> tuple[dict[str, float], Refused]:
    """Read both taped ends at one place of the mock desk, in cm."""
    typed = Typed(values)
    for name in ENDS:
        at = taped_widget(number, name)
        limits = _TAPED[name]
        typed.number(name, widget=at, read=parse_length_cm, counted=False, allowed=limits.words)
        value = typed.content.get(name)
        if value is not None and limits.side(value):
            typed.content.pop(name)
            typed.refused[at] = InputRefusedError(
                field=at, value=value, allowed=limits.words, limits=limits
            )
    _refuse_crossed(typed, *ENDS)
    return typed.content, typed.refused


def _refuse_crossed(typed: Typed, near: str, far: str) -> None:
    """Refuse a nearest clear distance that is not nearer than the farthest, both in cm."""
    near_cm, far_cm = (typed.content.get(name) for name in (near, far))
    if near_cm is None or far_cm is None or near_cm < far_cm:
        return
    at = typed.where[near]
    allowed = f"less than the farthest clear distance, {far_cm:g} cm"
    limits = Limits(high=far_cm, below=True, unit="cm")
    typed.refused[at] = InputRefusedError(field=at, value=near_cm, allowed=allowed, limits=limits)
    typed.content.pop(near)


def taped_widget(number: int, name: str) -> str:
    """Return the name under which the draft holds a taped end."""
    return f"collection.range{number}.{name}"


def seen_widget(number: int, name: str) -> str:
    """Return the name under which the draft holds what is seen at one target."""
    return f"complaint.{number}.{name}"


def read_complaint(
    values: Mapping[str, Any],
    targets: tuple[Target, ...],
    taped: Mapping[str, Mapping[str, float]] | None = None,
) -> tuple[Complaint | None, Refused]:
    """Return what is seen at the targets and what was answered; None where a value is refused.

    taped: both ends of the range test by target, taken where the complaint has none of its own.
    They alone are no complaint.
    """
    refused = Refused()
    seen, complained = [], bool(values.get(YES) or values.get(NO))
    for number, target in enumerate(targets):
        typed = Typed(values)
        for name in SEEN:
            typed.number(name, widget=seen_widget(number, name), counted=False)
        if values.get(seen_widget(number, "never_clear")):
            typed.put("never_clear", True, widget=seen_widget(number, "never_clear"))
        complained = complained or bool(typed.content)
        for end, value in (taped or {}).get(target.name, {}).items():
            typed.content.setdefault(FILLED[end], value)
        typed.where.setdefault(FILLED[ENDS[0]], seen_widget(number, FILLED[ENDS[0]]))
        _refuse_crossed(typed, *FILLED.values())
        if typed.content or typed.refused:
            typed.content["target"] = target.name
            one = made(typed, SeenTarget)
            refused |= typed.refused
            seen += [] if one is None else [one]
    yes, no = values.get(YES) or [], values.get(NO) or []
    both = [name for name in yes if name in no]
    if both:
        text = (complaints.questions("asked") | complaints.questions("tried"))[both[0]]
        allowed = "each question answered once, yes or no"
        refused[NO] = InputRefusedError(field=NO, value=text, allowed=allowed)
    if refused:
        return None, refused
    answers = dict.fromkeys(yes, True) | dict.fromkeys(no, False)
    return Complaint(seen=tuple(seen) if complained else (), answers=answers), refused


def read_reported(
    values: Mapping[str, Any], *, predicted_h: float
) -> tuple[Foretold | None, Refused]:
    """Return what was predicted with what the wearer reports; None where nothing was reported."""
    typed = Typed(values)
    typed.number("reported_h", widget=REPORTED, counted=False)
    if not typed.content:
        return None, typed.refused
    typed.content["predicted_h"] = round(predicted_h, 2)
    return made(typed, Foretold), typed.refused


def read_day(text: str, *, otherwise: date) -> date:
    """Return the day of collection.

    Raises
        InputRefusedError: it is no date, or one so late that no later date can be told.
    """
    if not text.strip():
        return otherwise
    found = parse_day(text, field=COLLECTED)
    try:
        follow_up_dates(collected=found)
    except OverflowError:
        raise InputRefusedError(field=COLLECTED, value=text, allowed=DAY_RULE) from None
    return found
