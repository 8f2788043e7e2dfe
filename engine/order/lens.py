"""Work out one lens of an order: powers by zone, centration, heights, decentration and blank.

The bare formulas come first (powers in D, lengths in mm, angles in degrees) and know no case.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from pydantic import ValidationError

from engine.case.prescription import EyePrescription, format_eye, meridian_power_d
from engine.case.scene import stop_mm_of
from engine.case.targets import hours_on
from engine.lenses.kinds import KINDS
from engine.optics.spectacles import near_centration_mm, pantoscopic_centre_drop_mm, vertex_power_d
from engine.order.types import (
    REFERENCE_WORDS,
    SIDES,
    EyeOrder,
    Height,
    NearCentration,
    OrderRefusedError,
    ZonePower,
)
from engine.units import MM_PER_CM
from engine.wording import say

if TYPE_CHECKING:
    from engine.case.model import Case, Design
    from engine.order.types import OrderDetails, Side
    from engine.tables import Judgements


def with_added_power(eye: EyePrescription, *, added_d: float) -> EyePrescription:
    """Return the eye with power added to its sphere; the add itself is left out, prism is carried.

    >>> from engine.case.prescription import format_eye
    >>> eye = EyePrescription(sphere_d=-1.0, cylinder_d=-0.5, axis_deg=90, add_d=2.0)
    >>> format_eye(with_added_power(eye, added_d=1.25))
    '+0.25 -0.50 x 090'
    """
    return eye.model_copy(update={"sphere_d": eye.sphere_d + added_d + 0.0, "add_d": None})


def at_vertex(eye: EyePrescription, *, from_mm: float, to_mm: float) -> EyePrescription:
    """Return the eye's power with the same effect at another vertex distance, by meridian.

    Distances from the cornea. Source: effectivity of a thin lens, F / (1 - dF).

    >>> moved = at_vertex(EyePrescription(sphere_d=-10.0), from_mm=12.0, to_mm=14.0)
    >>> round(moved.sphere_d, 2)
    -10.2
    """
    meridians = np.array([eye.sphere_d, eye.sphere_d + eye.cylinder_d])
    first, second = vertex_power_d(power_d=meridians, shift_mm=from_mm - to_mm)
    update = {"sphere_d": float(first), "cylinder_d": float(second - first) + 0.0}
    return eye.model_copy(update=update)


def strongest_meridian_d(eye: EyePrescription) -> float:
    """Return the larger of the two principal powers, without sign.

    >>> strongest_meridian_d(EyePrescription(sphere_d=3.0, cylinder_d=-7.0, axis_deg=20))
    4.0
    """
    return max(abs(eye.sphere_d), abs(eye.sphere_d + eye.cylinder_d))


def decentration_mm(*, lens_width_mm: float, bridge_mm: float, centration_mm: float) -> float:
    """Return how far the centre of one lens is moved from its box centre; positive is inward.

    centration_mm: monocular. Source: geometry, (A + DBL)/2 - monocular distance.

    >>> decentration_mm(lens_width_mm=52, bridge_mm=18, centration_mm=31)
    4.0
    """
    return (lens_width_mm + bridge_mm) / 2.0 - centration_mm


def smallest_blank_mm(
    *, effective_diameter_mm: float, inward_mm: float, upward_mm: float, allowance_mm: float
) -> float:
    """Return the diameter in mm of the smallest round uncut lens that can be cut to the frame.

    The lens is round about the point where it is ordered, `inward_mm` and `upward_mm` from the box
    centre. The farthest edge of the frame shape is then at most half the effective diameter plus
    that distance away, so effective diameter + twice the distance + allowance is enough for any
    shape, and more than many need: the trace decides. Source: geometry; the allowance is a
    judgement.

    >>> smallest_blank_mm(effective_diameter_mm=56, inward_mm=3, upward_mm=4, allowance_mm=2)
    68.0
    """
    return effective_diameter_mm + 2.0 * float(np.hypot(inward_mm, upward_mm)) + allowance_mm


def largest_effective_diameter_mm(*, lens_width_mm: float, lens_depth_mm: float) -> float:
    """Return the diagonal of the box: no shape inside it has a larger effective diameter.

    >>> largest_effective_diameter_mm(lens_width_mm=40, lens_depth_mm=30)
    50.0
    """
    return float(np.hypot(lens_width_mm, lens_depth_mm))


def heights_measured(case: Case) -> bool:
    """Return whether the fitting height of each eye was measured, not assumed or from home."""
    names = ("fitting_height_mm", "fitting_height_right_mm", "fitting_height_left_mm")
    given = [name for name in names if getattr(case.fit, name) is not None]
    origins = {case.origin.get(f"/fit/{name}", "measured") for name in given}
    return origins == {"measured"}


class LensWriter:
    """Writes the lenses of one order."""

    def __init__(
        self, case: Case, kind: str, design: Design, details: OrderDetails, judgements: Judgements
    ) -> None:
        self.case, self.kind, self.design, self.details = case, kind, design, details
        self.judgements, self._zones = judgements, KINDS[kind].zones(design)
        self.stop_mm = stop_mm_of(case, judgements=judgements)

    def eye(self, side: Side) -> EyeOrder:
        """Return one lens."""
        prescribed: EyePrescription = getattr(self.case.wearer, side)
        fitted = self._fitted(prescribed)
        at_fitted = self.details.power_basis == "at_fitted_vertex" and fitted is not None
        powers = self._powers(fitted if at_fitted and fitted is not None else prescribed)
        eye = EyeOrder(
            side=side,
            prescribed=prescribed,
            prescribed_written=self._written(prescribed),
            at_fitted_vertex=fitted,
            at_fitted_vertex_written=None if fitted is None else self._written(fitted),
            powers=powers,
            add_d=self._add_d(prescribed),
            degression_d=self.design.degression_d,
            distance_centration_mm=getattr(self.case.wearer, f"pd_{side}_mm"),
            near_centration=self._near_centration(side, prescribed),
            height=self._height(side),
            verification=self._verification(side, powers),
        )
        inward, upward = self._decentration(eye)
        moved = {"decentration_in_mm": inward, "decentration_up_mm": upward}
        return eye.model_copy(update={**moved, "smallest_blank_mm": self._blank(inward, upward)})

    def wanting(self) -> tuple[str, ...]:
        """Return the zones whose centration no target gives a distance for."""
        return tuple(zone for zone in self._zones_to_centre() if self._looked_at(zone) is None)

    def _written(self, eye: EyePrescription) -> str:
        rounded = eye.model_copy(
            update={
                "sphere_d": round(eye.sphere_d, 2) + 0.0,
                "cylinder_d": round(eye.cylinder_d, 2) + 0.0,
            }
        )
        return format_eye(rounded, form=self.details.cylinder_form)

    def _fitted(self, prescribed: EyePrescription) -> EyePrescription | None:
        vertex_mm = self.details.refraction_vertex_mm
        if vertex_mm is None:
            return None
        return _writable(at_vertex(prescribed, from_mm=vertex_mm, to_mm=self.case.fit.vertex_mm))

    def _powers(self, base: EyePrescription) -> tuple[ZonePower, ...]:
        found = []
        for zone, least_d, derived in self._zones:
            added_d = least_d + self._more_add_d(base, zone)
            power = _writable(with_added_power(base, added_d=added_d))
            found.append(
                ZonePower(
                    zone=zone,
                    added_d=added_d,
                    derived=derived,
                    power=power,
                    written=self._written(power),
                )
            )
        return tuple(found)

    def _more_add_d(self, eye: EyePrescription, zone: str) -> float:
        """Return what this eye's own add has over the smaller one, for the near zone."""
        if zone != "near" or eye.add_d is None or self.case.wearer.add_d is None:
            return 0.0
        return eye.add_d - self.case.wearer.add_d

    def _add_d(self, eye: EyePrescription) -> float | None:
        """Return near less the first zone; None for one power, or a lens written by its near."""
        zones = {zone: added for zone, added, _ in self._zones}
        first = zones.get("distance", zones.get("upper"))
        if first is None or "near" not in zones:
            return None
        return zones["near"] + self._more_add_d(eye, "near") - first

    def _zones_to_centre(self) -> tuple[str, ...]:
        zones = [zone for zone, _, _ in self._zones]
        named = {"near": "near", "intermediate": "intermediate", "upper": "intermediate"}
        return tuple(dict.fromkeys(named[zone] for zone in zones if zone in named))

    def _looked_at(self, zone: str) -> tuple[str, float] | None:
        """Return the nearest page for near, the screen looked at longest for intermediate."""
        kind = "page" if zone == "near" else "screen"
        targets = [target for target in self.case.targets if target.kind == kind]
        if not targets:
            return None
        if zone == "near":
            chosen = min(targets, key=lambda target: target.distance_cm)
        else:
            chosen = max(targets, key=lambda target: hours_on(target.name, self.case.activities))
        return chosen.name, chosen.distance_cm

    def _near_centration(self, side: Side, eye: EyePrescription) -> tuple[NearCentration, ...]:
        """Return where the gaze meets each zone; it goes straight through a sole optical centre."""
        distance_mm = getattr(self.case.wearer, f"pd_{side}_mm")
        found = []
        for zone in self._zones_to_centre():
            looked_at = self._looked_at(zone)
            if distance_mm is None or looked_at is None:
                continue
            name, distance_cm = looked_at
            inset_mm = near_centration_mm(
                distance_centration_mm=distance_mm,
                working_distance_mm=distance_cm * MM_PER_CM,
                stop_mm=self.stop_mm,
                power_d=meridian_power_d(eye, meridian_deg=180.0) if len(self._zones) > 1 else 0.0,
            )
            found.append(
                NearCentration(
                    zone="near" if zone == "near" else "intermediate",
                    mm=float(inset_mm),
                    target=name,
                    distance_cm=distance_cm,
                )
            )
        return tuple(found)

    def _pupil_height_mm(self, side: Side) -> float | None:
        """Return the measured height of the pupil; an assumed one is never ordered by."""
        if not heights_measured(self.case):
            return None
        return self.case.fit.heights_mm[SIDES.index(side)]

    def _height(self, side: Side) -> Height:
        pupil = self._pupil_height_mm(side)
        reference = KINDS[self.kind].height_reference
        if reference == "laboratory":
            return self._office_height(side, pupil)
        if reference == "fitting_point":
            return Height(
                name="fitting height",
                mm=pupil,
                reference=REFERENCE_WORDS["pupil_centre"],
                below_pupil_mm=0.0,
            )
        if reference == "optical_centre":
            return self._centre_height(pupil)
        drop = self.design.line_drop_mm or 0.0
        return Height(
            name="segment height",
            mm=None if pupil is None else pupil - drop,
            reference=f"the top line of the segment, {drop:g} mm below the pupil centre",
            below_pupil_mm=drop,
        )

    def _centre_height(self, pupil: float | None) -> Height:
        tilt = self.case.fit.pantoscopic_deg
        drop = float(pantoscopic_centre_drop_mm(pantoscopic_deg=tilt, stop_mm=self.stop_mm))
        return Height(
            name="optical-centre height",
            mm=None if pupil is None else pupil - drop,
            reference=f"{drop:.1f} mm below the pupil centre for {tilt:g} degrees of tilt",
            below_pupil_mm=drop,
        )

    def _office_height(self, side: Side, pupil: float | None) -> Height:
        lab = self.details.lab_design
        reference = self.details.office_reference if lab is None else lab.reference
        if reference is None:
            words = "ask the laboratory for its reference"
            return Height(name="fitting height", mm=None, reference=words, below_pupil_mm=None)
        height = {
            "pupil_centre": pupil,
            "lower_limbus": getattr(self.details, f"reference_height_{side}_mm"),
            "box_centre": self.case.fit.lens_depth_mm / 2,
        }[reference]
        return Height(
            name="fitting height",
            mm=height,
            reference=REFERENCE_WORDS[reference],
            below_pupil_mm=None if pupil is None or height is None else pupil - height,
        )

    def _decentration(self, eye: EyeOrder) -> tuple[float | None, float | None]:
        fit, centration, height = self.case.fit, eye.centration_mm, eye.height
        inward = None
        if centration is not None:
            inward = decentration_mm(
                lens_width_mm=fit.lens_width_mm,
                bridge_mm=fit.bridge_mm,
                centration_mm=centration,
            )
        upward = None if height.mm is None else height.mm - fit.lens_depth_mm / 2
        return inward, upward

    def _blank(self, inward: float | None, upward: float | None) -> float | None:
        if inward is None or upward is None:
            return None
        diameter, fit = self.details.effective_diameter_mm, self.case.fit
        if diameter is None:
            diameter = largest_effective_diameter_mm(
                lens_width_mm=fit.lens_width_mm, lens_depth_mm=fit.lens_depth_mm
            )
        return smallest_blank_mm(
            effective_diameter_mm=diameter,
            inward_mm=inward,
            upward_mm=upward,
            allowance_mm=self.judgements.edging_allowance_mm,
        )

    def _verification(self, side: Side, powers: tuple[ZonePower, ...]) -> EyePrescription | None:
        stated: EyePrescription | None = getattr(self.details, f"verification_{side}")
        if stated is not None:
            return stated
        lab = self.details.lab_design
        if lab is None or lab.verification_power == "on_order":
            return None
        return next((one.power for one in powers if one.zone == lab.verification_power), None)


def _writable(eye: EyePrescription) -> EyePrescription:
    """Return the power itself, or a refusal where it is more than a prescription can hold."""
    try:
        return type(eye).model_validate(eye.model_dump())
    except ValidationError:
        power_d, cylinder_d = strongest_meridian_d(eye), abs(eye.cylinder_d)
        values = {"power_d": f"{power_d:.2f}", "cylinder_d": f"{cylinder_d:.2f}"}
        raise OrderRefusedError(say("order_too_strong", **values)) from None
