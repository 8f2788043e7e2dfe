"""Checks of an order by geometry: height, depth, segment and cut-out, before anything is made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine.lens_families import SEGMENT_CENTRE_BELOW_LINE_MM
from engine.order_types import OrderCheck

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case import Case, Design
    from engine.order_types import EyeOrder, OrderDetails
    from engine.tables import Judgements

LEAST_DEPTH_MM = 25.0
"""Frame depth a progressive wants at least (Meister 2008; 20/20: 25 to 30 mm)."""


def order_checks(
    *,
    case: Case,
    kind: str,
    design: Design,
    details: OrderDetails,
    eyes: tuple[EyeOrder, EyeOrder],
    judgements: Judgements,
) -> tuple[OrderCheck, ...]:
    """Every check that this kind of lens has."""
    found = list(_heights(kind, design, details, eyes, judgements))
    if kind in ("general_progressive", "office"):
        depth = case.fit.lens_depth_mm
        found.append(
            OrderCheck(
                id="frame_depth",
                says=f"frame depth {depth:g} mm, at least {LEAST_DEPTH_MM:g}",
                value=depth,
                limit=LEAST_DEPTH_MM,
                passed=depth >= LEAST_DEPTH_MM,
                source="Meister 2008; 20/20 segment height (25 to 30 mm)",
            )
        )
    found += _blanks(details, eyes)
    if kind == "office":
        top_d = (design.near_add_d or 0.0) - (design.degression_d or 0.0)
        found.append(
            OrderCheck(
                id="top_not_below_distance",
                says=f"top of the lens {top_d:+.2f} D over distance, at least 0",
                value=top_d,
                limit=0.0,
                passed=top_d >= -1e-9,
                source="opticaltraining.com, course text, page 6 (F149)",
            )
        )
    return tuple(found)


def _heights(
    kind: str,
    design: Design,
    details: OrderDetails,
    eyes: tuple[EyeOrder, EyeOrder],
    judgements: Judgements,
) -> Iterator[OrderCheck]:
    lab = details.lab_design
    stated = lab.minimum_height_mm if lab is not None else details.minimum_height_mm
    for eye in eyes:
        height = eye.height.mm
        if kind in ("general_progressive", "office"):
            limit, source = stated, "stated by the laboratory"
            if limit is None and design.corridor_mm is not None:
                limit = design.corridor_mm + judgements.corridor_to_height_mm
                source = "corridor + 4 mm, 20/20 CE-plus Nov 2015 (F096)"
            known = height is not None and limit is not None
            yield OrderCheck(
                id=f"minimum_height_{eye.side}",
                says=_against(f"{eye.side} height", height, "at least", limit),
                value=height,
                limit=limit,
                passed=height >= limit - 1e-9 if known else None,  # type: ignore[operator]
                source=source,
            )
        elif eye.height.name == "segment height" and height is not None:
            limit = SEGMENT_CENTRE_BELOW_LINE_MM + judgements.frame_margin_mm
            yield OrderCheck(
                id=f"segment_inside_{eye.side}",
                says=f"{eye.side} segment height {height:.1f} mm, its centre inside from {limit:g}",
                value=height,
                limit=limit,
                passed=height >= limit - 1e-9,
                source="segment centre 5 mm below its line (F084) and the margin of the frame",
            )


def _blanks(details: OrderDetails, eyes: tuple[EyeOrder, EyeOrder]) -> Iterator[OrderCheck]:
    for eye in eyes:
        needed, blank = eye.smallest_blank_mm, details.blank_diameter_mm
        known = needed is not None and blank is not None
        box = " (box diagonal for the shape)" if needed is not None else ""
        box = "" if details.effective_diameter_mm is not None else box
        yield OrderCheck(
            id=f"cut_out_{eye.side}",
            says=_against(f"{eye.side} uncut lens", blank, "needs about", needed) + box,
            value=blank,
            limit=needed,
            passed=blank >= needed if known else None,  # type: ignore[operator]
            source="effective diameter + total decentration + 2 mm, a rule of thumb"
            " (open-exam-prep.com); the trace decides",
        )


def _against(what: str, value: float | None, least: str, limit: float | None) -> str:
    """A size against its limit, in words, whichever of the two is known.

    >>> _against("right height", 20.0, "at least", 17.0)
    'right height 20.0 mm, at least 17.0 mm'
    >>> _against("right height", None, "at least", 17.0), _against("left height", 20.0, "of", None)
    ('right height, at least 17.0 mm', 'left height 20.0 mm, its limit not known')
    """
    name = what if value is None else f"{what} {value:.1f} mm"
    if limit is not None:
        return f"{name}, {least} {limit:.1f} mm"
    return name if value is None else f"{name}, its limit not known"
