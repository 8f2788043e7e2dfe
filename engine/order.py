"""From a chosen option to an order: complete, or with its gaps named."""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine import tables
from engine.errors import InputRefusedError
from engine.lenses import KINDS
from engine.order_checks import order_checks
from engine.order_gaps import BOX, VERTEX_MATTERS_D, WORN, gaps, origin_of
from engine.order_lens import LensWriter
from engine.order_measures import strongest_meridian_d
from engine.order_types import Order, OrderDetails, OrderRefusedError, WornValue
from engine.plans import PRESENT
from engine.tables import Judgements

if TYPE_CHECKING:
    from engine.case import Case, Design
    from engine.results import OptionResult, Result

_UNITS = {"pantoscopic_deg": "deg", "wrap_deg": "deg"}


def order_for(
    *,
    case: Case,
    result: Result,
    option: str,
    details: OrderDetails | None = None,
    judgements: Judgements | None = None,
) -> Order:
    """The order for one option of an answer.

    details: what an order needs beyond the case; each part left out is named in `missing`.

    Raises
        OrderRefusedError: the answer stops, is provisional, is of another case, or the option is
            nothing that is made.
        InputRefusedError: another design was asked for that is not as good.
    """
    chosen = _orderable(case, result, option)
    asked, judged = details or OrderDetails(), judgements or Judgements.standard()
    design = _design(chosen, asked, result)
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
        notes=_notes(case, chosen, derived),
        missing=gaps(
            case=case,
            option=chosen,
            design=design,
            details=asked,
            derived=derived,
            wants=writer.wanting(),
        ),
    )


def _orderable(case: Case, result: Result, option: str) -> OptionResult:
    if result.case_digest != case.digest():
        raise OrderRefusedError("the answer belongs to another case; compute it again")
    if result.stops:
        raise OrderRefusedError(result.stops[0].text)
    if result.provisional or case.wearer.add_d is None:
        raise OrderRefusedError("the answer is provisional: no add is known")
    try:
        chosen = result.option(option)
    except KeyError:
        raise OrderRefusedError("there is no such option in this answer") from None
    if option == PRESENT or not KINDS[chosen.kind].is_lens:
        raise OrderRefusedError("nothing is made for it: it is worn already")
    return chosen


def _design(chosen: OptionResult, details: OrderDetails, result: Result) -> Design:
    if details.design is None:
        return chosen.design
    paired = [
        pair.design for plan in result.plans for pair in plan.pairs if pair.option == chosen.option
    ]
    if details.design not in (chosen.design, *chosen.equivalent_designs, *paired):
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


def _notes(case: Case, chosen: OptionResult, derived: bool) -> tuple[str, ...]:
    notes = []
    if chosen.excluded_by:
        because = ", ".join(one.replace("_", " ") for one in chosen.excluded_by)
        notes.append(f"This lens is not recommended for the whole day: {because}.")
    if derived:
        notes.append("Derived power: not on the prescription; see who authorised it.")
    strongest_d = max(strongest_meridian_d(eye) for eye in (case.wearer.right, case.wearer.left))
    if strongest_d < VERTEX_MATTERS_D:
        notes.append(
            f"Below {VERTEX_MATTERS_D:g} D the vertex distance changes the power by less than it is"
            " made to."
        )
    if chosen.kind == "office":
        notes.append(
            "The lens has one reference point. Its power change is not checked on a lensmeter."
        )
    return tuple(notes)
