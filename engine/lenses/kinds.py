"""The kinds of lens behind one small interface.

To add a kind: one class here (and a family in lens_families.py, where none of those fits), one row
of lens_kinds.csv, one test (DEVELOPERS.md has the whole list).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np

from engine import tables
from engine.lenses.families import (
    TRIFOCAL_SHARE,
    Bifocal,
    Family,
    General,
    Office,
    SingleVision,
    Trifocal,
    Unaided,
)
from engine.lenses.surfaces import GENERAL, OFFICE
from engine.optics.spectacles import pantoscopic_centre_drop_mm
from engine.units import round_half_up

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.model import Design
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

Zone = Literal["distance", "intermediate", "near", "top", "upper"]
Zones = tuple[tuple[Zone, float, bool], ...]
"""Each zone of a lens: what it adds to the distance power in D, and whether that is derived."""
PROGRESSIVE_PRISM_REFERENCE_DROP_MM = 4.0
"""Prism reference point below the fitting point (review card: 2 to 4 mm; F102)."""


class Kind:
    """A kind of lens: its families, where its prism is measured, and what it may be used for.

    Attributes:
        id: row of lens_kinds.csv.
        is_lens: false for no glasses: no frame cuts the view and no lens bends the gaze.
        may_cover_distance: whether driving, walking and stairs can be allowed at all.
    """

    id: ClassVar[str]
    is_lens: ClassVar[bool] = True
    may_cover_distance: ClassVar[bool] = False

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        """Every family that can be ordered."""
        raise NotImplementedError

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """A pair as it is worn, as its family and free power.

        add_d: taken where the design does not state its own; other numbers that are not stated
        are those of the middle design.
        """
        raise NotImplementedError

    def zones(self, design: Design) -> Zones:
        """What each zone adds to the distance power, for the order.

        A power is derived where no prescriber wrote it: one worked out for the screen, or near
        without distance. The prescribed add and the fixed half of a trifocal are not.
        """
        raise NotImplementedError

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """Where the two lenses have no difference of prism, mm below the fitting point."""
        return np.zeros_like(stop_mm + tilt_deg)

    @property
    def is_lined(self) -> bool:
        """Whether it has a visible line."""
        return tables.by_id("lens_kinds")[self.id]["lined"] == "yes"

    @property
    def is_single_vision(self) -> bool:
        """Whether it has one power all over."""
        return tables.by_id("lens_kinds")[self.id]["family"] == "single_vision"


class _SingleVisionKind(Kind):
    role: ClassVar[str]
    zone: ClassVar[Zone]

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        return (SingleVision(self.role),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        usual = {"distance": 0.0, "near": add_d, "computer": _to_step(add_d / 2, judgements)}
        stated = design.add_d
        return SingleVision(self.role), usual[self.role] if stated is None else stated

    def zones(self, design: Design) -> Zones:
        return ((self.zone, design.add_d or 0.0, True),)

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """The optical centre, set lower for the tilt as it is ordered."""
        return pantoscopic_centre_drop_mm(pantoscopic_deg=tilt_deg, stop_mm=stop_mm)


class SvDistance(_SingleVisionKind):
    """Single vision for distance."""

    id, role, may_cover_distance = "sv_distance", "distance", True

    def zones(self, design: Design) -> Zones:  # noqa: ARG002
        """The prescription as it is."""
        return (("distance", 0.0, False),)


class SvComputer(_SingleVisionKind):
    """Single vision for the screen."""

    id, role, zone = "sv_computer", "computer", "intermediate"


class SvNear(_SingleVisionKind):
    """Single vision for reading."""

    id, role, zone = "sv_near", "near", "near"


class NoGlasses(Kind):
    """The bare eyes of a myope."""

    id, is_lens = "unaided", False

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        """One."""
        return (Unaided(),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:  # noqa: ARG002
        """The power is that of the eyes: a stated one, or the caller's candidates (nan)."""
        return Unaided(), np.nan if design.add_d is None else design.add_d

    def zones(self, design: Design) -> Zones:  # noqa: ARG002
        """Nothing is made."""
        return ()


class GeneralProgressive(Kind):
    """A progressive for all distances."""

    id, may_cover_distance = "general_progressive", True

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        """One a corridor."""
        return tuple(General(corridor) for corridor in GENERAL)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:  # noqa: ARG002
        """The nearest computed corridor; the middle one where none is stated."""
        stated = 12.5 if design.corridor_mm is None else design.corridor_mm
        corridor = min(GENERAL, key=lambda known: abs(known - stated))
        return General(corridor, add_d if design.add_d is None else design.add_d), 0.0

    def zones(self, design: Design) -> Zones:
        """Distance, and the prescribed add."""
        return ("distance", 0.0, False), ("near", design.add_d or 0.0, False)

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """4 mm below the fitting point."""
        return np.full_like(stop_mm + tilt_deg, PROGRESSIVE_PRISM_REFERENCE_DROP_MM)


class OfficeLens(Kind):
    """A lens for indoor distances whose power falls upwards from near."""

    id = "office"

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        """One a shape and degression."""
        step, least = judgements.design_step_d, judgements.office_degression_min_d
        degressions = np.arange(least, judgements.office_degression_max_d + step / 2, step)
        return tuple(
            Office(shape, round(float(value), 2)) for shape in OFFICE for value in degressions
        )

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """Near power at the add, degression half of it, shape desk, where not stated."""
        near = add_d if design.near_add_d is None else design.near_add_d
        stated = design.degression_d
        degression = _to_step(near / 2, judgements) if stated is None else stated
        return Office(design.shape or "desk", degression), near

    def zones(self, design: Design) -> Zones:
        """Near, and the top that the degression leaves."""
        near = design.near_add_d or 0.0
        return ("near", near, True), ("top", near - (design.degression_d or 0.0), True)

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """4 mm below the fitting point."""
        return np.full_like(stop_mm + tilt_deg, PROGRESSIVE_PRISM_REFERENCE_DROP_MM)


class _BifocalKind(Kind):
    default_line_drop_mm: ClassVar[float]
    for_desk: ClassVar[bool]

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        return (Bifocal(self.default_line_drop_mm, judgements.line_margin_mm, self.for_desk),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        stated = design.line_drop_mm
        line = self.default_line_drop_mm if stated is None else stated
        add = add_d if design.add_d is None else design.add_d
        usual = _to_step(add / 2, judgements) if self.for_desk else 0.0
        upper = usual if design.upper_add_d is None else design.upper_add_d
        return Bifocal(line, judgements.line_margin_mm, self.for_desk, add), upper

    def zones(self, design: Design) -> Zones:
        add = design.add_d or 0.0
        if self.for_desk:
            return ("upper", design.upper_add_d or 0.0, True), ("near", add, True)
        return ("distance", 0.0, False), ("near", add, False)


class FlatTopBifocal(_BifocalKind):
    """A flat-top 28 bifocal for distance and near."""

    id, may_cover_distance = "bifocal_ft28", True
    default_line_drop_mm, for_desk = 5.0, False


class DeskBifocal(_BifocalKind):
    """A bifocal with the screen above the line and paper below it."""

    id = "bifocal_desk"
    default_line_drop_mm, for_desk = 4.0, True


class TrifocalLens(Kind):
    """A 7x28 trifocal."""

    id, may_cover_distance = "trifocal_7x28", True
    default_line_drop_mm: ClassVar[float] = 1.5

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        """One."""
        return (Trifocal(self.default_line_drop_mm, judgements.line_margin_mm),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """Line at its usual place and the add, where not stated."""
        stated = design.line_drop_mm
        line = self.default_line_drop_mm if stated is None else stated
        add = add_d if design.add_d is None else design.add_d
        return Trifocal(line, judgements.line_margin_mm, add), 0.0

    def zones(self, design: Design) -> Zones:
        """Distance, the fixed share of the add in the band, the add."""
        add = design.add_d or 0.0
        band = TRIFOCAL_SHARE * add
        return ("distance", 0.0, False), ("intermediate", band, False), ("near", add, False)


KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in (
        SvDistance(),
        NoGlasses(),
        SvComputer(),
        SvNear(),
        GeneralProgressive(),
        OfficeLens(),
        FlatTopBifocal(),
        DeskBifocal(),
        TrifocalLens(),
    )
}
"""Every kind by id, in the order of lens_kinds.csv."""


def _to_step(power_d: float, judgements: Judgements) -> float:
    return round_half_up(power_d, step=judgements.design_step_d)
