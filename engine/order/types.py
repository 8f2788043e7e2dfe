"""What an order is asked with and what it holds, as frozen models."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from engine.case.model import Design, Name, Part
from engine.case.prescription import CylinderForm, EyePrescription
from engine.errors import LevelgazeError
from engine.lenses.kinds import Zone
from engine.order.lab_designs import LabDesign, Reference

Role = Literal["prescriber", "optician_under_local_rules"]
"""Who may stand for a derived power; a role, never a name."""
Side = Literal["right", "left"]
SIDES: tuple[Side, Side] = ("right", "left")
"""Right before left, everywhere."""


ZONE_WORDS: dict[Zone, str] = {
    "distance": "distance",
    "intermediate": "intermediate",
    "near": "near",
    "top": "top of the lens",
    "upper": "upper part",
}
REFERENCE_WORDS: dict[Reference, str] = {
    "pupil_centre": "the pupil centre, level gaze",
    "lower_limbus": "the lower limbus, level gaze",
    "box_centre": "the centre line of the box",
}
"""What a laboratory measures the fitting height to."""


class OrderRefusedError(LevelgazeError):
    """No order can be made from this answer; `reason` says why, as a sentence."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(f"no order: {reason}")


USUAL = (
    "laboratory",
    "lens_index",
    "coating",
    "tint",
    "remake_terms",
    "refraction_vertex_mm",
    "compensated_power_wanted",
    "office_reference",
    "cylinder_form",
)
"""Details that a practice orders alike each time, and may keep."""
Millimetres = Annotated[float, Field(strict=True, ge=6, le=50)]


class OrderDetails(Part):
    """What an order needs beyond the case. Everything left out is named on the order."""

    design: Design | None = Field(None, title="another design that is as good")
    cylinder_form: CylinderForm = "minus"
    refraction_vertex_mm: float | None = Field(None, strict=True, ge=5, le=25)
    power_basis: Literal["as_prescribed", "at_fitted_vertex"] | None = None
    compensated_power_wanted: bool | None = Field(
        None, title="the laboratory's compensated power is wanted in writing"
    )
    power_authorised_by: Role | None = None
    prescriber_agreed: bool | None = Field(None, title="prescriber asked about the conditions")
    prism_in_near_zone: bool | None = None
    lab_design: LabDesign | None = None
    office_reference: Reference | None = Field(
        None, title="what the laboratory measures the height to, where no list is loaded"
    )
    reference_height_right_mm: Millimetres | None = None
    reference_height_left_mm: Millimetres | None = None
    minimum_height_mm: Millimetres | None = None
    verification_right: EyePrescription | None = None
    verification_left: EyePrescription | None = None
    effective_diameter_mm: float | None = Field(None, strict=True, ge=30, le=90)
    blank_diameter_mm: float | None = Field(None, strict=True, ge=40, le=90)
    shape_trace: Literal["sent", "frame_enclosed"] | None = None
    lens_index: float | None = Field(None, strict=True, ge=1.4, le=2.0)
    coating: Name | None = None
    tint: Name | None = None
    safety_rating: Name | None = None
    remake_terms: Name | None = None
    laboratory: Name | None = None
    frame: Name | None = Field(None, title="the frame by its model and colour")
    by_default: tuple[str, ...] = Field((), title="details that are the practice's defaults")


class Gap(Part):
    """Something the order lacks: the field, what is missing in words, and why it is needed."""

    field: str
    missing: str
    why: str


class ZonePower(Part):
    """The power of one zone of one lens."""

    zone: Zone
    added_d: float
    derived: bool
    power: EyePrescription
    written: str


class NearCentration(Part):
    """Monocular centration for something nearer than far, and what it was worked out for."""

    zone: Literal["near", "intermediate"]
    mm: float
    target: str
    distance_cm: float


class Height(Part):
    """A height from the lowest point of the lens shape, and what it is measured to."""

    name: Literal["fitting height", "segment height", "optical-centre height"]
    mm: float | None
    reference: str
    below_pupil_mm: float | None

    @property
    def says(self) -> str:
        """The height with what it is measured to; what it is measured to where it is not known."""
        if self.mm is None:
            return self.reference
        joined = ": " if self.reference[:1].isdigit() else " to "
        return f"{self.mm:.1f}{joined}{self.reference}"


class EyeOrder(Part):
    """One lens."""

    side: Side
    prescribed: EyePrescription
    prescribed_written: str
    at_fitted_vertex: EyePrescription | None
    at_fitted_vertex_written: str | None
    powers: tuple[ZonePower, ...]
    add_d: float | None
    degression_d: float | None
    distance_centration_mm: float | None
    near_centration: tuple[NearCentration, ...]
    height: Height
    decentration_in_mm: float | None = None
    decentration_up_mm: float | None = None
    smallest_blank_mm: float | None = None
    verification: EyePrescription | None = Field(
        None, description="what the laboratory marks for checking; an office lens has only this"
    )

    @property
    def is_centred_near(self) -> bool:
        """Return whether the lens has one power, for something nearer than far."""
        return len(self.powers) == 1 and self.powers[0].zone != "distance"

    @property
    def centration_mm(self) -> float | None:
        """Return the monocular distance the lens is centred at: that of its one near power, or far.

        Common practice, no source. None where it is not known.
        """
        if not self.is_centred_near:
            return self.distance_centration_mm
        return self.near_centration[0].mm if self.near_centration else None


class WornValue(Part):
    """A measure of the frame as worn or as made, and where it comes from."""

    name: str
    value: float
    unit: str
    origin: Literal["measured", "default", "assumed", "at_home", "not stated"]


class OrderCheck(Part):
    """A check by geometry; `passed` is None where a number is missing."""

    id: str
    says: str
    value: float | None
    limit: float | None
    passed: bool | None
    source: str


class Order(Part):
    """The order, right before left; complete when nothing is missing and no check fails."""

    label: str
    option: str
    kind: str
    kind_name: str
    design: Design
    design_name: str | None
    cylinder_form: CylinderForm
    power_basis: Literal["as_prescribed", "at_fitted_vertex"]
    eyes: tuple[EyeOrder, EyeOrder]
    near_add_set_for_cm: float | None
    refraction_vertex_mm: float | None
    worn: tuple[WornValue, ...]
    checks: tuple[OrderCheck, ...]
    authorised_by: Role | None
    details: OrderDetails
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    missing: tuple[Gap, ...]

    @property
    def complete(self) -> bool:
        """Nothing is missing and no check fails."""
        return not self.missing and all(check.passed is not False for check in self.checks)

    def eye(self, side: Side) -> EyeOrder:
        """Return one lens."""
        return self.eyes[SIDES.index(side)]

    def worn_as(self, name: str) -> float:
        """Return a measure of the frame by its name in the case."""
        return next(one.value for one in self.worn if one.name == name)
