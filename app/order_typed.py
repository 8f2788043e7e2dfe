"""The Order page's typed texts as the details of an order. Pure: no page library.

What belongs to one lens (its design, its laboratory) is kept under that option's name; the frame,
the refraction and how the pair is made are kept once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from app.typed import Typed
from engine.case import Design
from engine.case_input import allowed_range, refusals
from engine.errors import InputRefusedError
from engine.lab_designs import LabDesign
from engine.order_types import OrderDetails
from engine.prescription_text import parse_eye

LAB = "order.lab"
"""Where a draft holds the laboratory's list."""
REFERENCE = "order.reference"
OF_LENS = frozenset(
    {
        "design",
        "lab_design",
        "office_reference",
        "reference_height_mm",
        "minimum_height_mm",
        "verification_right",
        "verification_left",
        "power_authorised_by",
        "prism_in_near_zone",
    }
)
"""What is told for one lens and not for another."""
NUMBERS = (
    "refraction_vertex_mm",
    "minimum_height_mm",
    "effective_diameter_mm",
    "blank_diameter_mm",
    "lens_index",
)
TEXTS = ("coating", "tint", "safety_rating", "remake_terms")
CHOICES = ("power_basis", "power_authorised_by", "office_reference", "shape_trace")
YES_NO = ("compensated_power_wanted", "prism_in_near_zone")
VERIFICATIONS = ("verification_right", "verification_left")
_UNITS = {"_mm": " mm", "_cm": " cm", "_pd": " prism dioptres", "_deg": " degrees", "_d": " D"}
_DESIGNS = TypeAdapter(list[LabDesign])
Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class Details:
    """What was typed: the details, or what is refused by the field it was typed in."""

    details: OrderDetails | None
    refused: dict[str, InputRefusedError]


def widget(name: str, option: str) -> str:
    """The name under which the draft holds a detail."""
    return f"order.{option}.{name}" if name in OF_LENS else f"order.{name}"


def read_details(
    answers: Mapping[str, Any], *, option: str, design: Design, lab: Sequence[LabDesign]
) -> Details:
    """The details of the order of one option."""
    typed = Typed(answers)

    def told(name: str) -> str:
        return typed.text(widget(name, option))

    for name in NUMBERS:
        typed.number(name, widget=widget(name, option), counted=False)
    for name in (*TEXTS, *CHOICES):
        if told(name):
            typed.put(name, told(name), widget=widget(name, option))
    for name in YES_NO:
        if told(name):
            typed.put(name, told(name) == "yes", widget=widget(name, option))
    if answers.get("order.prescriber_agreed"):
        typed.put("prescriber_agreed", True, widget="order.prescriber_agreed")
    each = ("reference_height_right_mm", "reference_height_left_mm")
    typed.pair(widget("reference_height_mm", option), one=None, each=each)
    for name in VERIFICATIONS:
        put_eye(typed, name, widget=widget(name, option))
    typed.content["cylinder_form"] = told("cylinder_form") or "minus"
    typed.content["design"] = design
    chosen = [one for one in lab if one.design == told("lab_design")]
    typed.content["lab_design"] = chosen[0] if chosen else None
    return Details(made(typed, OrderDetails), typed.refused)


def put_eye(typed: Typed, path: str, *, widget: str) -> None:
    """The power of one lens, where one was typed."""
    text = typed.text(widget)
    if not text:
        return
    try:
        typed.put(path, parse_eye(text, field=widget), widget=widget)
    except InputRefusedError as refusal:
        typed.refused[widget] = refusal


def made(typed: Typed, model: type[Model]) -> Model | None:
    """The model of the typed values; None where one is refused, which is then named."""
    if typed.refused:
        return None
    try:
        return model.model_validate(typed.content)
    except ValidationError as error:
        for one in reversed(refusals(error)):
            name = one.field.split(".")[0]
            allowed = limits(model, name) or one.allowed
            refusal = InputRefusedError(field=one.field, value=one.value, allowed=allowed)
            typed.refused[typed.where.get(name, name)] = refusal
        return None


def limits(model: type[BaseModel], name: str) -> str:
    """The allowed range of a number of a model, with its unit; nothing where it has none."""
    if name not in model.model_fields:
        return ""
    info = model.model_fields[name]
    inner = [FieldInfo.from_annotation(one) for one in get_args(info.annotation)]
    said = next(filter(None, map(allowed_range, (info, *inner))), "")
    unit = next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")
    return f"{said}{unit}" if said else ""


def lab_rows(designs: Sequence[LabDesign]) -> list[dict[str, Any]]:
    """A laboratory's list as a draft and a file hold it."""
    return [{**asdict(one), "degressions_d": list(one.degressions_d)} for one in designs]


def lab_designs(rows: Any) -> list[LabDesign]:
    """The list again; none where it cannot be read."""
    try:
        return _DESIGNS.validate_python(rows or [])
    except ValidationError:
        return []
