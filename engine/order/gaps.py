"""What an order lacks, each by the name of its field.

A value from home, or one the program assumed, counts as lacking where it would be cut into a lens.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from engine import tables, wording
from engine.case.model import Fit
from engine.lenses.kinds import KINDS
from engine.order.lens import heights_measured, strongest_meridian_d
from engine.order.types import Gap

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
    for side in ("right", "left"):
        if case.origin.get(f"/wearer/{side}/sphere_d") in NOT_PRESCRIBED:
            yield Gap(
                field=f"wearer.{side}.sphere_d",
                missing=f"the prescription of the {side} eye; so far only an add is known",
                why="an assumed power is never ordered",
            )
    if derived and details.power_authorised_by is None:
        yield Gap(
            field="power_authorised_by",
            missing="who authorised the power not on the prescription: prescriber, or optician "
            "where local rules allow",
            why="the prescription has no intermediate or near-only power",
        )
    strongest = max(strongest_meridian_d(eye) for eye in (wearer.right, wearer.left))
    vertex_mm = details.refraction_vertex_mm
    is_strong = strongest >= judgements.strong_power_d
    if is_strong and vertex_mm is None:
        yield Gap(
            field="refraction_vertex_mm",
            missing="the vertex distance of the refraction",
            why=f"a power of {strongest:.2f} D changes with the vertex distance",
        )
    if vertex_mm is not None and is_strong and details.power_basis is None:
        yield Gap(
            field="power_basis",
            missing="whether to make the prescribed or the vertex-compensated power",
            why="both are shown; the laboratory must make one",
        )
    if wearer.add_d is not None and derived and wearer.near_test_distance_cm is None:
        yield Gap(
            field="wearer.near_test_distance_cm",
            missing="the working distance of the add",
            why="a near power is right only at the distance it was tested at",
        )
    if details.compensated_power_wanted is None:
        yield Gap(
            field="compensated_power_wanted",
            missing="whether the laboratory's compensated power is wanted in writing",
            why="an as-worn lens reads differently on the focimeter",
        )


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
    return ", ".join(wording.say(f"topic_{one}") for one in ask)


def _prescriber(case: Case, details: OrderDetails, judgements: Judgements) -> Iterator[Gap]:
    topics = asked_of_prescriber(case, judgements=judgements)
    if topics and not details.prescriber_agreed:
        yield Gap(
            field="prescriber_agreed",
            missing=wording.say("gap_prescriber", topics=topics),
            why="the prescriber decides before a lens is made",
        )


def _centration(case: Case, wants: tuple[str, ...]) -> Iterator[Gap]:
    for side in ("right", "left"):
        value = getattr(case.wearer, f"pd_{side}_mm")
        origin = case.origin.get(f"/wearer/pd_{side}_mm", "measured")
        if value is None or origin != "measured":
            yield Gap(
                field=f"wearer.pd_{side}_mm",
                missing=f"the {side} monocular centration distance, measured by the optician",
                why="a lens is never cut to a value from home or an assumed one",
            )
    for zone in wants:
        kind = "page" if zone == "near" else "screen"
        yield Gap(
            field=f"targets.{kind}",
            missing=f"a {kind} to work out the {zone} centration for",
            why=f"the {zone} centration depends on the distance",
        )


def _heights(case: Case, kind: str, details: OrderDetails) -> Iterator[Gap]:
    if not heights_measured(case):
        yield Gap(
            field="fit.fitting_height_mm",
            missing="the fitting height of each eye, measured in the fitted frame",
            why="1 mm of height is about 2 degrees of gaze",
        )
    if KINDS[kind].height_reference == "laboratory":
        yield from _office_heights(details)


def _office_heights(details: OrderDetails) -> Iterator[Gap]:
    lab = details.lab_design
    reference = lab.reference if lab is not None else details.office_reference
    if reference is None:
        yield Gap(
            field="office_reference",
            missing="the reference of the fitting height of this design",
            why="ask the laboratory: pupil centre, lower limbus or box centre",
        )
    if reference == "lower_limbus":
        for side in ("right", "left"):
            if getattr(details, f"reference_height_{side}_mm") is None:
                yield Gap(
                    field=f"reference_height_{side}_mm",
                    missing=f"the {side} height to the lower limbus",
                    why="this design is measured to the lower limbus",
                )
    if lab is None and details.minimum_height_mm is None:
        yield Gap(
            field="minimum_height_mm",
            missing="the minimum fitting height of this design",
            why="it is the laboratory's own number",
        )


def _frame(case: Case, details: OrderDetails) -> Iterator[Gap]:
    for name in WORN:
        if origin_of(case, name) == "not stated":
            yield Gap(
                field=f"fit.{name}",
                missing=f"whether the {Fit.model_fields[name].title} was measured or is a default",
                why="an unnoticed default becomes a remake",
            )
    for name in BOX:
        if origin_of(case, name) not in ("measured", "not stated"):
            yield Gap(
                field=f"fit.{name}",
                missing=f"the {Fit.model_fields[name].title} of the chosen frame",
                why="the lens is cut to it",
            )
    words = {
        "effective_diameter_mm": (
            "the effective diameter of the frame shape",
            "for the cut-out check",
        ),
        "blank_diameter_mm": ("the uncut diameter", "for the cut-out check"),
        "shape_trace": ("whether a trace is sent or the frame enclosed", "the lens is cut to it"),
    }
    yield from _unsaid(details, words)


def _lens(case: Case, option: OptionResult, design: Design, details: OrderDetails) -> Iterator[Gap]:
    words = {
        "lens_index": ("the refractive index", "this is chosen, never assumed"),
        "coating": ("the coating, or none", "this is chosen, never assumed"),
        "tint": ("the tint, or none", "this is chosen, never assumed"),
        "remake_terms": (
            "the remake terms agreed with the laboratory",
            "agree them before the order, not after",
        ),
    }
    if "safety_rating_needed" in case.wearer.conditions:
        words["safety_rating"] = ("the safety rating", "the work needs rated eyewear")
    yield from _unsaid(details, words)
    prism = any(eye.prism for eye in (case.wearer.right, case.wearer.left))
    multifocal = not KINDS[option.kind].is_single_vision
    if prism and multifocal and details.prism_in_near_zone is None:
        yield Gap(
            field="prism_in_near_zone",
            missing="whether the prism is wanted in the near zone too",
            why="prism is prescribed and the lens has more than one zone",
        )
    if KINDS[option.kind].is_lined and not case.wearer.accepts_lined:
        yield Gap(
            field="wearer.accepts_lined",
            missing="the wearer's agreement to a visible line",
            why="the lens has a line",
        )
    yield from _laboratory(option, design, details)


def _laboratory(option: OptionResult, design: Design, details: OrderDetails) -> Iterator[Gap]:
    lab = details.lab_design
    if lab is None:
        return
    if lab.kind != option.kind:
        yield Gap(
            field="lab_design",
            missing=f"a design of this kind; {lab.design} is another kind",
            why="the laboratory makes the kind that was chosen or another is ordered",
        )
    degression = design.degression_d
    made_so = degression in lab.degressions_d or not KINDS[lab.kind].has_degression
    if degression is not None and not made_so:
        made = " ".join(f"{one:.2f}" for one in lab.degressions_d)
        yield Gap(
            field="design.degression_d",
            missing=f"a degression {lab.design} is made with ({made}); {degression:.2f} is not",
            why="choose an equivalent design; the nearest is never substituted unasked",
        )
    if lab.verification_power == "on_order":
        for side in ("right", "left"):
            if getattr(details, f"verification_{side}") is None:
                yield Gap(
                    field=f"verification_{side}",
                    missing=f"the {side} verification power the laboratory states",
                    why="this laboratory states it with each order",
                )


def _unsaid(details: OrderDetails, words: dict[str, tuple[str, str]]) -> Iterator[Gap]:
    for name, (missing, why) in words.items():
        if getattr(details, name) is None:
            yield Gap(field=name, missing=missing, why=why)
