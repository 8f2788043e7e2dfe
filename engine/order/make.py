"""Turn a chosen option into an order: complete, or with its gaps named, checked by geometry."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine import tables, wording
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.order.gaps import BOX, WORN, gaps, origin_of
from engine.order.lens import LensWriter, strongest_meridian_d
from engine.order.types import Order, OrderCheck, OrderDetails, OrderRefusedError, WornValue
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case.model import Case, Design
    from engine.case.results import OptionResult, Result
    from engine.order.types import EyeOrder


def order_checks(
    *,
    case: Case,
    kind: str,
    design: Design,
    details: OrderDetails,
    eyes: tuple[EyeOrder, EyeOrder],
    judgements: Judgements,
) -> tuple[OrderCheck, ...]:
    """Return every check that this kind of lens has."""
    found = list(_heights(kind, design, details, eyes, judgements))
    made = KINDS[kind]
    if made.is_progressive:
        least = judgements.least_frame_depth_mm
        known = origin_of(case, "lens_depth_mm") in ("measured", "not stated")
        depth = case.fit.lens_depth_mm if known else None
        said = "not measured" if depth is None else f"{depth:g} mm"
        found.append(
            OrderCheck(
                id="frame_depth",
                says=f"boxed lens height {said}, at least {least:g} mm",
                value=depth,
                limit=least,
                passed=None if depth is None else depth >= least,
                source="common practice, no source: 25 to 30 mm",
            )
        )
    found += _blanks(details, eyes, judgements)
    if made.has_degression:
        top_d = (design.near_add_d or 0.0) - (design.degression_d or 0.0)
        found.append(
            OrderCheck(
                id="top_not_below_distance",
                says=f"top of the lens {top_d:+.2f} D over distance, at least 0 D",
                value=top_d,
                limit=0.0,
                passed=top_d >= -1e-9,
                source="geometry: more degression than near power leaves minus at the top",
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
        if KINDS[kind].is_progressive:
            limit, source = stated, "stated by the laboratory"
            if limit is None and design.corridor_mm is not None:
                limit = design.corridor_mm + judgements.corridor_to_height_mm
                source = "corridor + 4 mm: common practice, no source"
            known = height is not None and limit is not None
            yield OrderCheck(
                id=f"minimum_height_{eye.side}",
                says=_against(f"{eye.side} height", height, "at least", limit),
                value=height,
                limit=limit,
                passed=height >= limit - 1e-9 if known else None,  # type: ignore[operator]
                source=source,
            )
        elif (centre_mm := KINDS[kind].segment_centre_below_line_mm) is not None and height:
            limit = centre_mm + judgements.frame_margin_mm
            yield OrderCheck(
                id=f"segment_inside_{eye.side}",
                says=f"{eye.side} segment height {height:.1f} mm, its centre inside from {limit:g}",
                value=height,
                limit=limit,
                passed=height >= limit - 1e-9,
                source=f"segment centre {centre_mm:g} mm below its line and margin of the frame",
            )


def _blanks(
    details: OrderDetails, eyes: tuple[EyeOrder, EyeOrder], judgements: Judgements
) -> Iterator[OrderCheck]:
    allowance = f"{judgements.edging_allowance_mm:g} mm"
    for eye in eyes:
        needed, blank = eye.smallest_blank_mm, details.blank_diameter_mm
        known = needed is not None and blank is not None
        box = " (box diagonal for the shape)" if needed is not None else ""
        box = "" if details.effective_diameter_mm is not None else box
        yield OrderCheck(
            id=f"cut_out_{eye.side}",
            says=_against(f"{eye.side} uncut diameter", blank, "minimum", needed) + box,
            value=blank,
            limit=needed,
            passed=blank >= needed if known else None,  # type: ignore[operator]
            source=f"effective diameter + total decentration + {allowance}, a rule of thumb; the "
            "trace decides",
        )


def _against(what: str, value: float | None, least: str, limit: float | None) -> str:
    """Return a size against its limit, in words, whichever of the two is known.

    >>> _against("right height", 20.0, "at least", 17.0)
    'right height 20.0 mm, at least 17.0 mm'
    >>> _against("right height", None, "at least", 17.0), _against("left height", 20.0, "of", None)
    ('right height, at least 17.0 mm', 'left height 20.0 mm: limit not known')
    """
    name = what if value is None else f"{what} {value:.1f} mm"
    if limit is not None:
        return f"{name}, {least} {limit:.1f} mm"
    return name if value is None else f"{name}: limit not known"


_UNITS = {"pantoscopic_deg": "deg", "wrap_deg": "deg"}


def order_for(
    *,
    case: Case,
    result: Result,
    option: str,
    details: OrderDetails | None = None,
    judgements: Judgements | None = None,
) -> Order:
    """Return the order for one option of an answer.

    details: what an order needs beyond the case; each part left out is named in `missing`.

    Raises
        OrderRefusedError: the answer stops, has no add, is of another case, or the option is
            nothing that is made.
        InputRefusedError: another design was asked for that is not as good.
    """
    chosen = _orderable(case, result, option)
    asked, judged = details or OrderDetails(), judgements or Judgements.standard()
    design = _design(chosen, asked)
    writer = LensWriter(case, chosen.kind, design, asked, judged)
    eyes = (writer.eye("right"), writer.eye("left"))
    derived = any(power.derived for power in eyes[0].powers)
    lab = asked.lab_design
    return Order(
        label=case.label,
        option=option,
        kind=chosen.kind,
        kind_name=tables.by_id("lens_kinds")[chosen.kind]["optician_name"],
        design=design,
        design_name=None if lab is None else lab.design,
        cylinder_form=asked.cylinder_form,
        power_basis=asked.power_basis or "as_prescribed",
        eyes=eyes,
        near_add_set_for_cm=case.wearer.near_test_distance_cm,
        refraction_vertex_mm=asked.refraction_vertex_mm,
        worn=_worn(case),
        checks=order_checks(
            case=case,
            kind=chosen.kind,
            design=design,
            details=asked,
            eyes=eyes,
            judgements=judged,
        ),
        authorised_by=asked.power_authorised_by if derived else None,
        details=asked,
        cautions=tuple(told.text for told in chosen.cautions),
        notes=_notes(case, chosen, derived, judged),
        missing=gaps(
            case=case,
            option=chosen,
            design=design,
            details=asked,
            derived=derived,
            wants=writer.wanting(),
            judgements=judged,
        ),
    )


def is_made(option: OptionResult) -> bool:
    """Tell whether an option is a lens to be made: no pair owned, and not no glasses."""
    return option.option == option.kind and KINDS[option.kind].is_lens


def _orderable(case: Case, result: Result, option: str) -> OptionResult:
    if result.case_digest != case.digest():
        raise OrderRefusedError(wording.say("order_of_another_case"))
    if result.stops:
        raise OrderRefusedError(result.stops[0].text)
    if case.wearer.add_d is None:
        raise OrderRefusedError(wording.say("order_without_add"))
    try:
        chosen = result.option(option)
    except KeyError:
        raise OrderRefusedError(wording.say("order_no_such_option")) from None
    if not is_made(chosen):
        raise OrderRefusedError(wording.say("order_worn_already"))
    return chosen


def _design(chosen: OptionResult, details: OrderDetails) -> Design:
    if details.design is None:
        return chosen.design
    if details.design not in (chosen.design, *chosen.equivalent_designs):
        raise InputRefusedError(
            field="design",
            value=details.design.numbers(),
            allowed="the design of the option or one listed as equivalent",
        )
    return details.design


def _worn(case: Case) -> tuple[WornValue, ...]:
    return tuple(
        WornValue(
            name=name,
            value=getattr(case.fit, name),
            unit=_UNITS.get(name, "mm"),
            origin=origin_of(case, name),
        )
        for name in (*WORN, *BOX)
    )


def _notes(
    case: Case, chosen: OptionResult, derived: bool, judgements: Judgements
) -> tuple[str, ...]:
    notes = []
    if chosen.excluded_by:
        because = "; ".join(wording.say(f"excluded_{one}") for one in chosen.excluded_by)
        notes.append(wording.say("note_not_only_pair", because=because))
    if derived:
        notes.append(wording.say("note_authorised"))
    strongest_d = max(strongest_meridian_d(eye) for eye in (case.wearer.right, case.wearer.left))
    if strongest_d < judgements.strong_power_d:
        notes.append(wording.say("note_no_vertex", power_d=f"{judgements.strong_power_d:g}"))
    if KINDS[chosen.kind].has_degression:
        notes.append(wording.say("note_degression"))
    return tuple(notes)
