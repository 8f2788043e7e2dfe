"""Read the Order page's typed texts: the details of an order, and the pair worn so far.

What belongs to one lens (its design, its laboratory) is kept under that option's name; the frame,
the refraction and how the pair is made are kept once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from app.form.typed import Refused, Typed
from engine.case.model import Case, Design
from engine.case.prescription_doubts import eyes_swapped
from engine.case.prescription_text import parse_eye, parse_prescription
from engine.case.read import limits_of, refusals
from engine.errors import Limits
from engine.order.lab_designs import LabDesign
from engine.order.pair_change import OldPair, PairChange, pair_changes
from engine.order.types import USUAL, Order, OrderDetails
from engine.tables import Judgements
from engine.wording import capital, say, unit_after

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
TEXTS = ("coating", "tint", "safety_rating", "remake_terms", "laboratory", "frame")
CHOICES = ("power_basis", "power_authorised_by", "office_reference", "shape_trace")
YES_NO = ("compensated_power_wanted", "prism_in_near_zone")
VERIFICATIONS = ("verification_right", "verification_left")
_UNITS = {"_mm": "mm", "_cm": "cm", "_pd": "prism dioptres", "_deg": "degrees", "_d": "D"}
_DESIGNS = TypeAdapter(list[LabDesign])
Model = TypeVar("Model", bound=BaseModel)


def widget(name: str, option: str) -> str:
    """Return the name under which the draft holds a detail."""
    return f"order.{option}.{name}" if name in OF_LENS else f"order.{name}"


def read_details(
    answers: Mapping[str, Any],
    *,
    option: str,
    design: Design,
    lab: Sequence[LabDesign],
    usual: Mapping[str, Any],
) -> tuple[OrderDetails | None, Refused]:
    """Return the details of the order of one option, none where one is refused, and the refused.

    usual: what the practice has as its defaults; each fills a detail that was left empty.
    """
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
    if told("cylinder_form") not in ("", usual.get("cylinder_form")):
        typed.content["cylinder_form"] = told("cylinder_form")
    empty = {name: usual[name] for name in USUAL if name in usual and name not in typed.content}
    typed.content |= {**empty, "by_default": tuple(empty)}
    typed.content["design"] = design
    chosen = [one for one in lab if one.design == told("lab_design")]
    typed.content["lab_design"] = chosen[0] if chosen else None
    return made(typed, OrderDetails), typed.refused


def put_eye(typed: Typed, path: str, *, widget: str) -> None:
    """Read the power of one lens, where one was typed."""
    eye = typed.parsed(widget, parse_eye)
    if eye is not None:
        typed.put(path, eye, widget=widget)


def made(typed: Typed, model: type[Model]) -> Model | None:
    """Return the model of the typed values; None where one is refused, which is then named."""
    if typed.refused:
        named = {widget: name for name, widget in typed.where.items()}
        for at, one in typed.refused.items():
            typed.refused[at] = one.within(limits(model, named.get(at, "")).words)
        return None
    try:
        return model.model_validate(typed.content)
    except ValidationError as error:
        for one in reversed(refusals(error)):
            name = one.field.split(".")[0]
            found = limits(model, name)
            changed = {"allowed": found.words, "limits": found} if found.words else {}
            typed.refused[typed.where.get(name, name)] = one.said_of(**changed)
        return None


def limits(model: type[BaseModel], name: str) -> Limits:
    """Return the limits of a number of a model, with its unit; none where it has none."""
    if name not in model.model_fields:
        return Limits()
    info = model.model_fields[name]
    inner = [FieldInfo.from_annotation(one) for one in get_args(info.annotation)]
    said = next((one for one in map(limits_of, (info, *inner)) if one.words), Limits())
    unit = next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")
    return replace(said, unit=said.unit or unit)


def lab_rows(designs: Sequence[LabDesign]) -> list[dict[str, Any]]:
    """Return a laboratory's list as a draft and a file hold it."""
    return [{**asdict(one), "degressions_d": list(one.degressions_d)} for one in designs]


def lab_designs(rows: Any) -> list[LabDesign]:
    """Return the list again; none where it cannot be read."""
    try:
        return _DESIGNS.validate_python(rows or [])
    except ValidationError:
        return []


POWERS, CENTRATION, HEIGHT, TILT = (
    f"order.old.{name}" for name in ("powers", "pd", "height_mm", "pantoscopic_deg")
)
HEADINGS = ("what", "eye", "old pair", "this order", "change", "note")
POINTED_OUT = "look at this"
_PLACES = {"deg": 0, "mm": 1, "D": 2, "prism dioptre": 2}


def read_old(answers: Mapping[str, Any]) -> tuple[OldPair | None, Refused]:
    """Return the old pair, none where its powers are not there or a value is refused."""
    typed = Typed(answers)
    powers = typed.parsed(POWERS, parse_prescription)
    if powers is not None:
        typed.put("powers", powers, widget=POWERS)
    typed.pair(CENTRATION, one=None, each=("pd_right_mm", "pd_left_mm"))
    typed.pair(HEIGHT, one=None, each=("height_right_mm", "height_left_mm"))
    typed.number("pantoscopic_deg", widget=TILT, counted=False)
    is_told = typed.text(POWERS) or typed.refused
    return made(typed, OldPair) if is_told else None, typed.refused


def compared(*, order: Order, old: OldPair, case: Case) -> tuple[PairChange, ...]:
    """Return the changes, those that are pointed out first."""
    found = pair_changes(order=order, old=old, case=case)
    return tuple(sorted(found, key=lambda one: not one.large))


def change_rows(changes: Sequence[PairChange]) -> list[list[str]]:
    """Return one row a change; the last cell says which are pointed out."""
    return [
        [
            one.name,
            one.side,
            *(f"{text}{_of_length(one)}" for text in (one.old, one.new)),
            f"{one.size:.{_PLACES[one.unit]}f}{unit_after(one.unit)}",
            POINTED_OUT if one.large else "",
        ]
        for one in changes
    ]


def _of_length(change: PairChange) -> str:
    """Return the unit of a length or tilt; powers, axes and prisms are written as on a paper."""
    return "" if change.id in ("power", "axis", "add", "prism") else unit_after(change.unit)


def notes(changes: Sequence[PairChange], *, old: OldPair, case: Case) -> list[str]:
    """Return what to do about the changes that are pointed out, each once."""
    said = []
    if eyes_swapped(case.wearer.prescription, earlier=old.powers, judgements=Judgements.standard()):
        said.append(say("order_right_left_may_exchanged"))
    for one in changes:
        if one.large:
            said.append(f"{capital(one.name)}: {one.says}")
    return list(dict.fromkeys(said))
