"""Ask what an order needs: measures, the laboratory's own list of designs, the old pair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

import streamlit as st

from app.draw.svg import escaped
from app.form import field_table
from app.form.case_of_answers import FIT_FIELDS
from app.form.fields import Fields, two_to_a_row
from app.form.html import alert, html, listed, quiet, table
from app.form.typed import Refused
from app.shell import state
from app.views.order import pairs, typed_order
from app.views.order.downloads import download
from app.views.order.sheets import change_sheet
from app.views.order.words import ROLE_WORDS, YES_NO_OF
from engine import tables
from engine.case.model import Case
from engine.case.prescription import CylinderForm
from engine.case.results import OptionResult
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.order.gaps import origin_of
from engine.order.lab_designs import LabDesign, LabList, read_lab_file, template_csv
from engine.order.pair_change import OldPair
from engine.order.types import REFERENCE_WORDS, Order
from engine.tables import Judgements
from engine.wording import capital, say

SHARED = (
    "prescription",
    "pd",
    "fit.fitting_height_mm",
    "wearer.near_test_distance_cm",
    *[f"fit.{name}" for name in FIT_FIELDS],
)
"""Fields of the Interview that are asked for again where an order needs them."""
LINED = "wearer.accepts_lined"
UNSAID = "not said yet"
REFERENCES = {"": "ask the laboratory", **REFERENCE_WORDS}
BASES = {
    "": UNSAID,
    "as_prescribed": "the power as prescribed",
    "at_fitted_vertex": "the vertex-compensated power",
}
TRACES = {"": UNSAID, "sent": "a trace is sent", "frame_enclosed": "the frame is enclosed"}
BY_PRACTICE = "by default"
YES_NO = {"": UNSAID, "yes": "yes", "no": "no"}
ROLES = {"": UNSAID, **ROLE_WORDS}
HEIGHT = "Fitting height R/L, pupil centre to lowest point of the lens (mm)"
MEASURED = "measured"
ORDERABLE_DEFAULTS = ("vertex_mm", "pantoscopic_deg", "wrap_deg")
"""Measures whose default may be ordered, marked as one."""


class OrderFields(Fields):
    """The fields of an order; a measure carries where it comes from."""

    def __init__(self, option: OptionResult, *, pair: str = "1", usual: Mapping[str, Any]) -> None:
        super().__init__(pairs.naming(pair))
        self.option = option.option
        self.usual = usual

    def told(self, name: str, label: str, place: Any = st, *, assumed: object = None) -> str:
        """Return a detail of the order as text; the practice's default stands while it is empty."""
        widget, usual = typed_order.widget(name, self.option), self.usual.get(name)
        if usual is None:
            return self.text(widget, label, assumed=assumed, place=place)
        shown = f"{usual:g}" if isinstance(usual, float) else usual
        return self.text(widget, label, assumed=shown, by=BY_PRACTICE, place=place)

    def chosen(self, name: str, label: str, words: dict[str, str], place: Any = st) -> str:
        """Ask a detail of the order from a list; the first is what is not said, or the default."""
        widget, usual = typed_order.widget(name, self.option), self.usual.get(name)
        if usual is not None:
            held = YES_NO_OF.get(usual, usual)
            words = {**words, "": f"{words[held]}, {BY_PRACTICE}"}
        state.among(self.naming(widget), list(words))
        return self.choice(widget, label, list(words), words=words.get, place=place)

    def mark(self, name: str, said: str) -> None:
        """Say under a field where its value comes from."""
        place = self._places.get(name)
        if place is not None:
            html(f'<div class="lg-from">{escaped(said)}</div>', place=place)


def shown_measures(pair: str = "1") -> dict[str, Any]:
    """Return what the fields of the Interview hold before they are drawn: the case comes first."""
    named = pairs.naming(pair)
    found = {name: state.shown(named(name), "") for name in SHARED}
    return found | {LINED: state.shown(LINED, False)}


MEASURES, FRAME, POWERS, LABORATORY, MAKING = (
    "Measured on the wearer",
    "Frame, as worn",
    "Powers",
    "The laboratory's own design",
    "Making",
)
_PART_OF = {
    "wearer": MEASURES,
    "targets": MEASURES,
    "fit": FRAME,
    "fit.fitting_height_mm": MEASURES,
    "effective_diameter_mm": FRAME,
    "shape_trace": FRAME,
    "refraction_vertex_mm": POWERS,
    "power_basis": POWERS,
    "compensated_power_wanted": POWERS,
    "power_authorised_by": POWERS,
    "prism_in_near_zone": POWERS,
    "prescriber_agreed": POWERS,
    "lens_index": MAKING,
    "blank_diameter_mm": MAKING,
    "coating": MAKING,
    "tint": MAKING,
    "safety_rating": MAKING,
    "remake_terms": MAKING,
}
"""Where on the page a gap is filled, by its field or the first word of it; else the laboratory."""


def all_fields(
    fields: OrderFields, option: OptionResult, case: Case, lab: list[LabDesign], *, next_part: str
) -> None:
    """Draw every field this lens needs, in the order of the sheet; the next part is open."""
    with fields.drawer(MEASURES, is_next=next_part == MEASURES):
        _wearer(fields, option)
    with fields.drawer(FRAME, is_next=next_part == FRAME):
        _frame(fields)
    with fields.drawer(POWERS, is_next=next_part == POWERS):
        _powers(fields, option, case)
    if KINDS[option.kind].is_progressive or any(one.kind == option.kind for one in lab):
        with fields.drawer(LABORATORY, is_next=bool(lab) or next_part == LABORATORY):
            _laboratory(fields, option, lab)
    with fields.drawer(MAKING, is_next=next_part == MAKING):
        _making(fields, case)


def next_part(order: Order) -> str:
    """Return the first part of the form in which something is missing; nothing where none is."""
    gaps = {part_of(gap.field) for gap in order.missing}
    parts = (MEASURES, FRAME, POWERS, LABORATORY, MAKING)
    return next((part for part in parts if part in gaps), "")


def part_of(field: str) -> str:
    """Return the part of the form in which a gap is filled."""
    return _PART_OF.get(field) or _PART_OF.get(field.partition(".")[0], LABORATORY)


def mark_origins(fields: OrderFields, case: Case, refused: Sequence[str]) -> None:
    """Ask whether measured or default, under each measure of the frame and the face."""
    for name in FIT_FIELDS:
        if f"fit.{name}" not in refused:
            said = _origin_words(origin_of(case, name), may=name in ORDERABLE_DEFAULTS)
            fields.mark(f"fit.{name}", said)
    heights = {case.origin.get(f"/fit/{name}") for name in _HEIGHTS} - {None}
    if "fit.fitting_height_mm" not in refused:
        fields.mark("fit.fitting_height_mm", _origin_words(next(iter(heights), MEASURED)))
    if "pd" not in refused and case.wearer.pd_right_mm is not None:
        fields.mark("pd", _origin_words(case.origin.get("/wearer/pd_right_mm", MEASURED)))


_HEIGHTS = ("fitting_height_mm", "fitting_height_right_mm", "fitting_height_left_mm")


def _origin_words(origin: str, *, may: bool = False) -> str:
    if origin == "at_home":
        return "from home: measure it"
    if origin == MEASURED:
        return MEASURED
    return "default" if may else "assumed: measure it"


def _wearer(fields: OrderFields, option: OptionResult) -> None:
    fields.text("prescription", "Whole prescription")
    places = two_to_a_row(wrap=False)
    fields.text("pd", "Monocular centration distance R/L (mm)", place=next(places))
    fields.text(
        "wearer.near_test_distance_cm", "Working distance of the add (cm)", place=next(places)
    )
    fields.text("fit.fitting_height_mm", HEIGHT, assumed=20)
    if KINDS[option.kind].is_lined:
        fields.tick(LINED, "accepts a visible line")


def _frame(fields: OrderFields) -> None:
    places = two_to_a_row(wrap=False)
    for row in field_table.FIT:
        if row.name in FIT_FIELDS:
            row.draw(fields, field_table.FIT_SLOT, next(places))
    fields.told("effective_diameter_mm", "Effective diameter (mm)", next(places))
    fields.chosen("shape_trace", "Frame shape", TRACES, next(places))
    fields.told("frame", "Frame, model and colour")
    st.caption(say("order_value_you_type_counts"))


def _powers(fields: OrderFields, option: OptionResult, case: Case) -> None:
    first = fields.usual.get("cylinder_form", "minus")
    forms = sorted(get_args(CylinderForm), key=lambda one: one != first)
    fields.either("order.cylinder_form", "Cylinder form", forms)
    places = two_to_a_row(wrap=False)
    fields.told("refraction_vertex_mm", "Vertex distance of the refraction (mm)", next(places))
    fields.chosen(
        "compensated_power_wanted",
        "Laboratory's compensated power in writing",
        YES_NO,
        next(places),
    )
    if fields.answers[typed_order.widget("refraction_vertex_mm", option.option)]:
        fields.chosen("power_basis", "Power to be made", BASES)
    if KINDS[option.kind].has_derived_power:
        fields.chosen("power_authorised_by", "Power not on the prescription, authorised by", ROLES)
    prism = any(eye.prism for eye in (case.wearer.right, case.wearer.left))
    if prism and not KINDS[option.kind].is_single_vision:
        fields.chosen("prism_in_near_zone", "Prism in the near zone too", YES_NO)
    fields.tick("order.prescriber_agreed", "the prescriber was asked and agreed")


def _laboratory(fields: OrderFields, option: OptionResult, lab: list[LabDesign]) -> None:
    fitting = {one.design: one.design for one in lab if one.kind == option.kind}
    if fitting:
        words = {"": "none of the list", **fitting}
        fields.chosen("lab_design", "Design of the loaded list", words)
    held = fields.answers.get(typed_order.widget("lab_design", option.option))
    design = next((one for one in lab if one.design == held), None)
    if design is None:
        _without_list(fields, option)
    by_laboratory = KINDS[option.kind].height_reference == "laboratory"
    if by_laboratory:
        reference = fields.answers.get(typed_order.widget("office_reference", option.option))
        reference = reference or fields.usual.get("office_reference")
        if (reference if design is None else design.reference) == "lower_limbus":
            label = "Height R/L, lower limbus to lowest point of the lens (mm)"
            fields.told("reference_height_mm", label)
    if by_laboratory or (design and design.verification_power == "on_order"):
        places = two_to_a_row(wrap=False)
        fields.told("verification_right", "Verification power, right", next(places))
        fields.told("verification_left", "Verification power, left", next(places))


def _without_list(fields: OrderFields, option: OptionResult) -> None:
    """Ask the laboratory's numbers one by one."""
    if KINDS[option.kind].height_reference == "laboratory":
        fields.chosen("office_reference", "Height is measured to", REFERENCES)
    if KINDS[option.kind].is_progressive:
        corridor = option.design.corridor_mm
        more = Judgements.standard().corridor_to_height_mm
        least = None if corridor is None else f"{corridor + more:g}"
        fields.told("minimum_height_mm", "Minimum fitting height (mm)", assumed=least)


def _making(fields: OrderFields, case: Case) -> None:
    places = two_to_a_row(wrap=False)
    fields.told("lens_index", "Refractive index", next(places))
    fields.told("blank_diameter_mm", "Uncut diameter (mm)", next(places))
    fields.told("coating", "Coating, or none", next(places))
    fields.told("tint", "Tint, or none", next(places))
    if "safety_rating_needed" in case.wearer.conditions:
        fields.told("safety_rating", "Safety rating")
    fields.told("remake_terms", "Remake terms")
    fields.told("laboratory", "Laboratory")


HEADINGS = ("row", "column", "value", "rule")
MOST_SHOWN = 40
LARGEST_MB = 1
FORGOTTEN = "order.lab_forgotten"
"""How often this draft forgot a list: each time the uploader starts empty."""


def loaded(pair: str) -> list[LabDesign]:
    """Return the list this draft holds for a pair."""
    return typed_order.lab_designs(pairs.of_pair(state.answers(), pair).get(typed_order.LAB))


def lab_list(pair: str) -> None:
    """Offer template and upload; a row with an error is left out and named.

    What is said of a file stands under the folded part, which closes when new fields appear.
    """
    held = loaded(pair)
    with st.expander("Load a laboratory's list"):
        if held:
            quiet(f"Designs loaded: {len(held)}.")
        quiet(say("order_references_degressions_minimum_fitting"))
        rows = [[row["id"], row["meaning"], row["rule"]] for row in tables.rows("lab_list_columns")]
        html(table("Columns of the list", ("column", "meaning", "allowed"), rows))
        st.download_button(
            "Template (CSV)",
            template_csv().encode(),
            file_name="laboratory-designs.csv",
            mime="text/csv",
            on_click="ignore",
        )
        given = st.file_uploader(
            "Filled list (CSV)",
            type=["csv"],
            max_upload_size=LARGEST_MB,
            key=state.passing(f"lab {state.results().get(FORGOTTEN, 0)}"),
        )
        if held:
            st.button("Forget the list", on_click=_forget)
    if given is not None:
        _take(given.getvalue(), pair)


def _forget() -> None:
    """Forget the list, and the file in the uploader, which would load it again."""
    results = state.results()
    results[FORGOTTEN] = results.get(FORGOTTEN, 0) + 1
    state.put({pairs.naming(pair)(typed_order.LAB): [] for pair in pairs.PAIRS})


def _take(content: bytes, pair: str) -> None:
    try:
        found = read_lab_file(content)
    except InputRefusedError as refusal:
        what = "header: " if refusal.field == "header" else ""
        said = capital(f"{what}{refusal.sentence}")
        html(alert(say("order_list_was_not_loaded", said=said)))
        return
    rows = typed_order.lab_rows(found.designs)
    own = pairs.naming(pair)(typed_order.LAB)
    if rows and rows != state.held(own):
        state.keep(own, rows)
        st.rerun()
    _told(found)


def _told(found: LabList) -> None:
    quiet(f"Usable designs: {len(found.designs)}.")
    if not found.errors:
        return
    html(alert(say("order_values_do_not_fit", count=len(found.errors))))
    rows = [[str(one.row), one.column, one.value, one.rule] for one in found.errors[:MOST_SHOWN]]
    html(table("Values of the list that do not fit", HEADINGS, rows))


def old_pair(asked: OrderFields) -> tuple[OldPair | None, Refused]:
    """Return what is read from the pair worn so far; nothing of it is needed for the order."""
    with st.expander("The pair worn until now, to compare"):
        asked.text(typed_order.POWERS, "Old pair on the focimeter, R and L")
        left, right = st.columns(2, gap="small", wrap=False)
        asked.text(typed_order.CENTRATION, "Old monocular centration distance R/L (mm)", place=left)
        asked.text(typed_order.HEIGHT, "Old fitting height R/L (mm)", place=right)
        asked.text(typed_order.TILT, "Old pantoscopic tilt (°)")
        st.caption(say("order_compare_base_curve_material"))
    return typed_order.read_old(asked.answers)


def beside(order: Order, old: OldPair, case: Case, *, stale: bool) -> None:
    """Draw the table of changes, what to do about them, and the sheet."""
    st.header("Old pair and this order", anchor=False)
    changes = typed_order.compared(order=order, old=old, case=case)
    notes = typed_order.notes(changes, old=old, case=case)
    if notes:
        listed(notes)
    else:
        quiet(say("order_nothing_changes_by_more"))
    rows = typed_order.change_rows(changes)
    html(table("From the old pair to this order", typed_order.HEADINGS, rows))
    if not stale:
        page = change_sheet(changes, notes=notes, reference=order.label)
        download("Sheet of old and new pair", page, order.label, "-change.html")
