"""What an order lacks, each by the name of its field.

A value from home, or one the program assumed, counts as lacking where it would be cut into a lens.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine import tables
from engine.case.model import Fit
from engine.lenses.kinds import KINDS
from engine.order.lens import heights_measured, strongest_meridian_d
from engine.order.types import SIDES, Gap
from engine.wording import fill, say

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case.model import Case, Design
    from engine.case.results import OptionResult
    from engine.order.types import OrderDetails
    from engine.tables import Judgements

NOT_PRESCRIBED = ("assumed", "default", "at_home")
"""Origins of a power that nobody prescribed."""
WORN = ("pantoscopic_deg", "vertex_mm", "wrap_deg")
BOX = ("lens_width_mm", "bridge_mm", "lens_depth_mm")


def origin_of(case: Case, name: str) -> str:
    """Give where a value of the frame comes from: as said, else default where it was not given."""
    said = case.origin.get(f"/fit/{name}")
    if said is not None:
        return said
    return "not stated" if name in case.fit.model_fields_set else "default"


def gaps(
    *,
    case: Case,
    option: OptionResult,
    design: Design,
    details: OrderDetails,
    derived: bool,
    wants: tuple[str, ...],
    judgements: Judgements,
) -> tuple[Gap, ...]:
    """Return everything missing, in the order of the sheet.

    derived: some power of the lens was not written by the prescriber. wants: near or
    intermediate centration that no target gives a distance for.
    """
    found = [
        *_powers(case, details, derived, judgements),
        *_prescriber(case, details, judgements),
        *_centration(case, wants),
        *_heights(case, option.kind, details),
        *_frame(case, details),
        *_lens(case, option, design, details),
    ]
    return tuple(found)


def _powers(
    case: Case, details: OrderDetails, derived: bool, judgements: Judgements
) -> Iterator[Gap]:
    wearer = case.wearer
    for side in SIDES:
        if case.origin.get(f"/wearer/{side}/sphere_d") in NOT_PRESCRIBED:
            yield _gap("power_of_eye", side=side)
    if derived and details.power_authorised_by is None:
        yield _gap("power_authorised_by")
    strongest = max(strongest_meridian_d(eye) for eye in (wearer.right, wearer.left))
    vertex_mm = details.refraction_vertex_mm
    is_strong = strongest >= judgements.strong_power_d
    if is_strong and vertex_mm is None:
        yield _gap("refraction_vertex_mm", power=f"{strongest:.2f}")
    if vertex_mm is not None and is_strong and details.power_basis is None:
        yield _gap("power_basis")
    if wearer.add_d is not None and derived and wearer.near_test_distance_cm is None:
        yield _gap("near_test_distance")
    yield from _unsaid(details, "compensated_power_wanted")


def asked_of_prescriber(case: Case, *, judgements: Judgements) -> str:
    """Return what the prescriber decides before a lens is made, in words; "" where it is nothing.

    What the wearer has that only a prescriber can judge, and adds that are not alike.
    """
    wearer, conditions = case.wearer, tables.by_id("conditions")
    ask = [name for name in wearer.conditions if conditions[name]["action"] == "prescriber"]
    adds = (wearer.right.add_d, wearer.left.add_d)
    if None in adds and adds != (None, None):
        ask.append("add_for_one_eye_only")
    elif abs((adds[0] or 0.0) - (adds[1] or 0.0)) > judgements.unequal_adds_d:
        ask.append("unequal_adds")
    return ", ".join(say(f"topic_{one}") for one in ask)


def _prescriber(case: Case, details: OrderDetails, judgements: Judgements) -> Iterator[Gap]:
    topics = asked_of_prescriber(case, judgements=judgements)
    if topics and not details.prescriber_agreed:
        yield _gap("prescriber_agreed", topics=topics)


def _centration(case: Case, wants: tuple[str, ...]) -> Iterator[Gap]:
    for side in SIDES:
        value = getattr(case.wearer, f"pd_{side}_mm")
        origin = case.origin.get(f"/wearer/pd_{side}_mm", "measured")
        if value is None or origin != "measured":
            yield _gap("centration_of_eye", side=side)
    for zone in wants:
        yield _gap("centration_of_zone", zone=zone, kind="page" if zone == "near" else "screen")


def _heights(case: Case, kind: str, details: OrderDetails) -> Iterator[Gap]:
    if not heights_measured(case):
        yield _gap("fitting_height")
    if KINDS[kind].height_reference == "laboratory":
        yield from _office_heights(details)


def _office_heights(details: OrderDetails) -> Iterator[Gap]:
    lab = details.lab_design
    reference = lab.reference if lab is not None else details.office_reference
    if reference is None:
        yield _gap("office_reference")
    if reference == "lower_limbus":
        for side in SIDES:
            if getattr(details, f"reference_height_{side}_mm") is None:
                yield _gap("reference_height", side=side)
    if lab is None:
        yield from _unsaid(details, "minimum_height_mm")


def _frame(case: Case, details: OrderDetails) -> Iterator[Gap]:
    for name in WORN:
        if origin_of(case, name) == "not stated":
            yield _gap("worn_not_stated", name=name, title=Fit.model_fields[name].title)
    for name in BOX:
        if origin_of(case, name) not in ("measured", "not stated"):
            yield _gap("box_of_frame", name=name, title=Fit.model_fields[name].title)
    yield from _unsaid(details, "effective_diameter_mm", "blank_diameter_mm", "shape_trace")


def _lens(case: Case, option: OptionResult, design: Design, details: OrderDetails) -> Iterator[Gap]:
    yield from _unsaid(details, "lens_index", "coating", "tint", "remake_terms")
    if "safety_rating_needed" in case.wearer.conditions:
        yield from _unsaid(details, "safety_rating")
    prism = any(eye.prism for eye in (case.wearer.right, case.wearer.left))
    if prism and not KINDS[option.kind].is_single_vision:
        yield from _unsaid(details, "prism_in_near_zone")
    if KINDS[option.kind].is_lined and not case.wearer.accepts_lined:
        yield _gap("accepts_lined")
    yield from _laboratory(option, design, details)


def _laboratory(option: OptionResult, design: Design, details: OrderDetails) -> Iterator[Gap]:
    lab = details.lab_design
    if lab is None:
        return
    if lab.kind != option.kind:
        yield _gap("lab_design", design=lab.design)
    degression = design.degression_d
    made_so = degression in lab.degressions_d or not KINDS[lab.kind].has_degression
    if degression is not None and not made_so:
        made = " ".join(f"{one:.2f}" for one in lab.degressions_d)
        yield _gap("degression", design=lab.design, made=made, degression=f"{degression:.2f}")
    if lab.verification_power == "on_order":
        for side in SIDES:
            if getattr(details, f"verification_{side}") is None:
                yield _gap("verification_of_eye", side=side)


def _unsaid(details: OrderDetails, *names: str) -> Iterator[Gap]:
    """Yield the details that are not told; a row of order_gaps.csv is called as each is."""
    return (_gap(name) for name in names if getattr(details, name) is None)


def _gap(identity: str, **values: object) -> Gap:
    """Return a row of order_gaps.csv with its values filled in."""
    columns = ("field", "missing", "why")
    return Gap(**{name: fill("order_gaps", identity, name, **values) for name in columns})
