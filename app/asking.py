"""From typed answers to the content of a case: what was measured, what is assumed, what is refused.

Pure: no page library. `engine.case.Case` alone decides what is allowed; here texts become numbers
and every value remembers the field it was typed in and whether it was measured.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import ValidationError

from app import ranges
from app.asking_desk import (
    ASSUMED_HOURS,
    MOST_OTHERS,
    MOST_PARTS,
    name_of,
    numbers_of,
    put_day,
    put_targets,
    slots_of,
)
from app.typed import Typed
from engine import tables
from engine.case import DEFAULT_FITTING_HEIGHT_MM, Case, Fit
from engine.case_input import refusals
from engine.errors import InputRefusedError
from engine.prescription_text import parse_prescription
from engine.units import parse_number

__all__ = [
    "ASSUMED_HOURS",
    "DESIGN_FIELDS",
    "FIT_FIELDS",
    "MOST_OTHERS",
    "MOST_PARTS",
    "Asking",
    "ask",
    "name_of",
    "numbers_of",
    "slots_of",
]

FIT_FIELDS = ("vertex_mm", "pantoscopic_deg", "wrap_deg", "lens_width_mm", "bridge_mm",
              "lens_depth_mm")  # fmt: skip
EXTENSIONS = "opened.extensions"
"""Where a draft holds the foreign data of an opened case."""
NOT_SOLD = ("unaided",)
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
    _present(typed)
    _prices(typed)
    put_day(typed, put_targets(typed))
    if answers.get(EXTENSIONS):
        typed.content["extensions"] = answers[EXTENSIONS]
    missing = ("wearer.age_years",) if not typed.text("wearer.age_years") else ()
    case = None if missing or typed.refused else _made(typed)
    counts = list(typed.origin.values())
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
            for pointer, origin in typed.origin.items()
            if origin in ("assumed", "default")
        ),
        where=typed.where,
        brought=typed.brought,
    )


def _made(typed: Typed) -> Case | None:
    content = {**typed.content, "origin": typed.origin}
    content["targets"] = list(content.get("targets", {}).values())
    content["activities"] = [
        {**activity, "looks": list(activity.get("looks", {}).values())}
        for activity in content.get("activities", {}).values()
    ]
    try:
        return ranges.into_case(Case.model_validate(content), typed.answers)
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
    for name in ("near_test_distance_cm", "amplitude_d", "usable_fraction"):
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
    return [row["id"] for row in tables.rows("lens_kinds") if row["id"] not in NOT_SOLD]


def _prices(typed: Typed) -> None:
    """The user's own prices; a blank is not zero, and a price is not a measure."""
    for kind in priced_kinds():
        typed.number(f"prices.{kind}", widget=f"price.{kind}", counted=False)


def _present(typed: Typed) -> None:
    kind = typed.text("present.kind")
    if not kind:
        return
    origin = typed.origin_of("present.kind")
    typed.put("present_pair.kind", kind, widget="present.kind", origin=origin)
    for name in DESIGN_FIELDS.get(kind, ()):
        typed.number(f"present_pair.design.{name}", widget=f"present.{name}")
    if kind == "office":
        shape = typed.text("present.shape") or "desk"
        typed.put("present_pair.design.shape", shape, widget="present.shape")
    liked = bool(typed.answers.get("present.liked"))
    typed.put("present_pair.liked", liked, widget="present.liked")


DESIGN_FIELDS: dict[str, tuple[str, ...]] = {
    "general_progressive": ("add_d", "corridor_mm"),
    "office": ("near_add_d", "degression_d"),
    "sv_computer": ("add_d",),
    "sv_near": ("add_d",),
    "bifocal_ft28": ("add_d", "line_drop_mm"),
    "bifocal_desk": ("upper_add_d", "add_d", "line_drop_mm"),
    "trifocal_7x28": ("add_d", "line_drop_mm"),
}
"""What can be typed of a pair worn today, by kind."""
