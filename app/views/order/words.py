"""The order in words and rows, right before left. Pure: nothing is computed here."""

from __future__ import annotations

import re

from engine.case.model import Fit
from engine.case.prescription import format_eye
from engine.lenses.kinds import KINDS
from engine.order.types import ZONE_WORDS, EyeOrder, Order, WornValue, ZonePower
from engine.units import signed_power
from engine.wording import capital, say

NONE = "–"
FACT = re.compile(r" \(F\d+\)")
"""The number of a row among the collected facts: of no use to a reader of the page."""
ORIGIN_WORDS = {
    "measured": "measured",
    "default": "default",
    "assumed": "assumed",
    "at_home": "from home",
    "not stated": "not stated",
}
ROLE_WORDS = {
    "prescriber": "the prescriber",
    "optician_under_local_rules": "the optician, as local rules allow",
}
EYE_HEADINGS = ("lens", "right", "left")
FRAME_HEADINGS = ("frame", "value", "where from")
CHECK_HEADINGS = ("check by geometry", "outcome", "by")
PASSED = {True: "holds", False: "fails", None: "not known"}
USUAL_WORDS = {
    "laboratory": "laboratory",
    "lens_index": "index",
    "coating": "coating",
    "tint": "tint",
    "remake_terms": "remake terms",
    "refraction_vertex_mm": "vertex distance of the refraction",
    "compensated_power_wanted": "laboratory's compensated power",
    "office_reference": "height reference",
    "cylinder_form": "cylinder form",
}
"""The details that a practice may keep as its defaults."""
BY_DEFAULT = "Defaults of the practice, not chosen for this order"
YES_NO_OF = {True: "yes", False: "no"}
SIZES = ("lens_width_mm", "bridge_mm", "lens_depth_mm")
_SAME_D = 0.005
BASES = {"as_prescribed": "as prescribed", "at_fitted_vertex": "vertex-compensated"}


def state_words(order: Order) -> str:
    """Tell whether the order can be sent."""
    if order.complete:
        return "Complete."
    failing = sum(one.passed is False for one in order.checks)
    said = [f"{len(order.missing)} missing"] if order.missing else []
    said += [f"{failing} failing"] if failing else []
    return f"Not complete: {', '.join(said)}."


def lens_words(order: Order) -> str:
    """Return what is ordered and how its powers are written."""
    name = f", {order.design_name}" if order.design_name else ""
    return say(
        "order_cylinder_form_powers_sign",
        kind_name=capital(order.kind_name),
        name=name,
        cylinder_form=order.cylinder_form,
        basis=BASES[order.power_basis],
    )


def made_words(order: Order) -> str:
    """Return who makes it and for which frame, where that is told."""
    said = [("Laboratory", order.details.laboratory), ("Frame", order.details.frame)]
    return " ".join(f"{name}: {value}." for name, value in said if value)


def eye_rows(order: Order, *, targets: bool) -> list[list[str]]:
    """Return powers, centration, heights and blank of both lenses.

    targets: whether the wearer's own words for what is looked at are said.
    """
    right, left = order.eyes
    rows = [["Prescribed, for reference", right.prescribed_written, left.prescribed_written]]
    if order.refraction_vertex_mm is not None:
        fitted = order.worn_as("vertex_mm")
        name = f"Vertex-compensated, {order.refraction_vertex_mm:g} to {fitted:g} mm"
        written = (right.at_fitted_vertex_written, left.at_fitted_vertex_written)
        rows.append([name, *(one or NONE for one in written)])
    rows += [
        [_zone_words(one, add_d=right.prescribed.add_d), one.written, other.written]
        for one, other in zip(right.powers, left.powers, strict=True)
    ]
    rows.append(["Add (D)", _power(right.add_d), _power(left.add_d)])
    rows.append(["Degression (D)", _two(right.degression_d), _two(left.degression_d)])
    near = right.is_centred_near
    name = f"Monocular centration distance{', far: for reference' if near else ''} (mm)"
    rows.append([name, *_both(order, "distance_centration_mm")])
    rows += [
        [
            f"{'Centre the lens' if near else f'{capital(one.zone)} centration'} for "
            f"{one.target + ', ' if targets else ''}"
            f"{one.distance_cm:g} cm (mm)",
            f"{one.mm:.1f}",
            f"{other.mm:.1f}",
        ]
        for one, other in zip(right.near_centration, left.near_centration, strict=False)
    ]
    rows.append([f"{capital(right.height.name)} (mm)", right.height.says, left.height.says])
    rows.append(["Decentration in / up (mm)", _moved(right), _moved(left)])
    rows.append(["Minimum uncut diameter (mm)", *_both(order, "smallest_blank_mm")])
    rows.append(["Laboratory's verification power", _check(order, right), _check(order, left)])
    return [row for row in rows if row[1:] != [NONE, NONE]]


def frame_rows(order: Order) -> list[list[str]]:
    """Return the frame as worn and as made, each measured or a default."""
    units, titles = {"deg": "°", "mm": " mm"}, Fit.model_fields
    rows = [
        [capital(titles[one.name].title), f"{one.value:g}{units[one.unit]}", _origin(one)]
        for one in order.worn
    ]
    diameter = order.details.effective_diameter_mm
    if diameter is not None:
        rows.append(["Effective diameter", f"{diameter:g} mm", "measured"])
    return rows


def check_rows(order: Order) -> list[list[str]]:
    """Return minimum height, depth and cut-out."""
    return [
        [capital(one.says), PASSED[one.passed], FACT.sub("", one.source) or NONE]
        for one in order.checks
    ]


def making_lines(order: Order) -> list[str]:
    """Return how the pair is made, and who stands for a power that is not on the prescription."""
    details = order.details
    role = None if order.authorised_by is None else ROLE_WORDS[order.authorised_by]
    trace = {None: None, "sent": "trace sent", "frame_enclosed": "frame enclosed"}
    said = [
        ("Index", None if details.lens_index is None else f"{details.lens_index:g}"),
        ("Coating", details.coating),
        ("Tint", details.tint),
        ("Safety rating", details.safety_rating),
        ("Uncut diameter", _with(details.blank_diameter_mm, "mm")),
        ("Frame shape", trace[details.shape_trace]),
        *KINDS[order.kind].order_lines(order.design),
        ("Working distance of the add", _with(order.near_add_set_for_cm, "cm")),
        ("Prism in the near zone", YES_NO_OF.get(details.prism_in_near_zone)),
        (
            "Laboratory's compensated power in writing",
            YES_NO_OF.get(details.compensated_power_wanted),
        ),
        ("Remake terms", details.remake_terms),
        ("Power not on the prescription, authorised by", role),
        (BY_DEFAULT, ", ".join(usual_words(order)) or None),
    ]
    return [f"{name}: {value}" for name, value in said if value is not None]


def usual_words(order: Order) -> list[str]:
    """Return what of an order is the practice's default, by name."""
    asked = KINDS[order.kind].height_reference == "laboratory" and not order.details.lab_design
    names = [one for one in order.details.by_default if asked or one != "office_reference"]
    return [USUAL_WORDS[name] for name in names]


def _zone_words(one: ZonePower, *, add_d: float | None) -> str:
    """Name a zone; the distance power with the whole add is the prescribed near power."""
    zone = capital(ZONE_WORDS[one.zone])
    if not one.derived:
        return zone
    is_near = add_d is not None and abs(one.added_d - add_d) < _SAME_D
    return f"{zone} ({'distance + add' if is_near else 'not on the prescription'})"


def _origin(one: WornValue) -> str:
    """Say where a value is from; a size of the frame is never ordered as a default."""
    if one.name in SIZES and one.origin in ("default", "assumed"):
        return "assumed, to be measured"
    return ORIGIN_WORDS[one.origin]


def _both(order: Order, name: str) -> list[str]:
    values = [getattr(eye, name) for eye in order.eyes]
    return [NONE if value is None else f"{value:.1f}" for value in values]


def _power(value: float | None) -> str:
    return NONE if value is None else signed_power(value)


def _two(value: float | None) -> str:
    return NONE if value is None else f"{value:.2f}"


def _with(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:g} {unit}"


def _moved(eye: EyeOrder) -> str:
    inward, upward = eye.decentration_in_mm, eye.decentration_up_mm
    if inward is None or upward is None:
        return NONE
    return f"{inward:+.1f} / {upward:+.1f}"


def _check(order: Order, eye: EyeOrder) -> str:
    if eye.verification is None:
        return NONE
    return format_eye(eye.verification, form=order.cylinder_form)
