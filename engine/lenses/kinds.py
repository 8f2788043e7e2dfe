"""The kinds of lens behind one small interface.

To add a kind: one class here (and a family in families.py, where none of those fits), one row
of lens_kinds.csv, one test (DEVELOPERS.md has the whole list).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal

import numpy as np

from engine import tables
from engine.case.model import Design
from engine.lenses.families import (
    SEGMENT_CENTRE_BELOW_LINE_MM,
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
from engine.optics.accommodation import blur_d
from engine.optics.spectacles import pantoscopic_centre_drop_mm
from engine.units import round_half_up

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from engine.tables import Judgements

    Floats = NDArray[np.float64]

Zone = Literal["distance", "intermediate", "near", "top", "upper"]
HeightReference = Literal["fitting_point", "laboratory", "optical_centre", "line"]
"""What the height of a lens is measured to: the marked point, the laboratory's own, or geometry."""
Variants = tuple[tuple[Family, "Floats"], ...]
"""Pairs of a kind, each a family and its free power, (wearers,)."""
Zones = tuple[tuple[Zone, float, bool], ...]
"""Each zone of a lens: what it adds to the distance power in D, and whether that is derived."""
_ROUNDING = 1e-9
POWER_FALL_WORDS: dict[str, str] = {"slow": "slowly", "quick": "quickly"}
PROGRESSIVE_PRISM_REFERENCE_DROP_MM = 4.0
"""Prism reference point below the fitting point (as marked: 2 to 4 mm; from memory)."""


@dataclass(frozen=True)
class UsualEyes:
    """What the pairs that people usually wear follow from.

    Attributes:
        add_d: (wearers,) near power of the pair worn.
        bare_d: (wearers,) power of the bare eyes over the distance prescription.
    """

    add_d: Floats
    bare_d: Floats
    judgements: Judgements


class Kind:
    """A kind of lens knows what it is; nothing else in the program lists or tests kinds.

    Attributes:
        id: row of lens_kinds.csv.
        is_lens: false for no glasses: no frame cuts the view and no lens bends the gaze.
        may_cover_distance: whether driving, walking and stairs can be allowed at all.
        design_fields: fields of `Design` that describe a pair of this kind, in the order of asking.
        height_reference: what its height is measured to; None where nothing is made.
        segment_centre_below_line_mm: of a lined kind, where its segment has its optical centre.
    """

    id: ClassVar[str]
    is_lens: ClassVar[bool] = True
    may_cover_distance: ClassVar[bool] = False
    design_fields: ClassVar[tuple[str, ...]] = ()
    height_reference: ClassVar[HeightReference | None] = None
    segment_centre_below_line_mm: ClassVar[float | None] = None

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        """Return every family that can be ordered."""
        raise NotImplementedError

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """Return a pair as it is worn, as its family and free power.

        add_d: taken where the design does not state its own; other numbers that are not stated
        are those of the middle design.
        """
        raise NotImplementedError

    def zones(self, design: Design) -> Zones:
        """Return what each zone adds to the distance power, for the order; 0 where not stated.

        A power is derived where no prescriber wrote it: one worked out for the screen, or near
        without distance. The prescribed add and the fixed half of a trifocal are not.
        """
        raise NotImplementedError

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """Return where the two lenses have no difference of prism, mm below the fitting point."""
        return np.zeros_like(stop_mm + tilt_deg)

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        """Return the pairs of this kind that people with such eyes usually wear."""
        raise NotImplementedError

    def design_words(self, design: Design) -> str:
        """Return the orderable numbers of a design in words."""
        return ", ".join(self._design_parts(design))

    def _design_parts(self, design: Design) -> Iterator[str]:
        if design.add_d is not None:
            yield f"add {design.add_d:+.2f}"

    def order_lines(self, design: Design) -> tuple[tuple[str, str], ...]:  # noqa: ARG002
        """Return what an order states of a design beside its powers and heights: name, value."""
        return ()

    def gives_distance(
        self,
        added_d: Floats,
        *,
        astigmatism_d: float,  # noqa: ARG002
        judgements: Judgements,
    ) -> bool:
        """Return whether a pair may be worn for driving, walking and stairs.

        added_d: at the fitting point and up to 10 mm above it. astigmatism_d: left by bare eyes.
        """
        limit_d = judgements.clear_distance_added_d + _ROUNDING
        return self.may_cover_distance and bool(np.all(np.abs(added_d) <= limit_d))

    @property
    def is_lined(self) -> bool:
        """Whether it has a visible line."""
        return self._row["lined"] == "yes"

    @property
    def is_single_vision(self) -> bool:
        """Whether it has one power all over."""
        return self._row["family"] == "single_vision"

    @property
    def is_progressive(self) -> bool:
        """Whether its power changes without a line."""
        return self._row["family"] == "progressive"

    @property
    def is_multifocal(self) -> bool:
        """Whether it has more than one power."""
        return self.is_progressive or self.is_lined

    @property
    def has_corridor(self) -> bool:
        """Whether it is a progressive for all distances, ordered by its corridor."""
        return "corridor_mm" in self.design_fields

    @property
    def has_degression(self) -> bool:
        """Whether its power falls upwards from near, ordered by how much."""
        return "degression_d" in self.design_fields

    @property
    def is_screen_pair(self) -> bool:
        """Whether it has one power, for a distance between near and far."""
        zones = [zone for zone, *_ in self.zones(Design())]
        return self.is_single_vision and zones == ["intermediate"]

    @property
    def complexity(self) -> int:
        """How much there is to it: no lens, one power, office, progressive, lined."""
        is_simple = (not self.is_lens, self.is_single_vision, self.has_degression)
        return is_simple.index(True) if any(is_simple) else 3 + self.is_lined

    @property
    def is_office_or_computer(self) -> bool:
        """Whether it is made for a screen and what is around it, and has no line."""
        return self.has_degression or self.is_screen_pair

    @property
    def blurs_the_feet(self) -> bool:
        """Whether it is walked in and its lower part is made for near."""
        return self.is_multifocal and self.may_cover_distance

    @property
    def has_derived_power(self) -> bool:
        """Whether an order holds a power that no prescriber wrote."""
        return any(derived for *_, derived in self.zones(Design()))

    def name(self, *, audience: str = "optician") -> str:
        """Return what the optician or the wearer calls it."""
        return self._row["wearer_name" if audience == "wearer" else "optician_name"]

    @property
    def _row(self) -> Mapping[str, str]:
        return tables.by_id("lens_kinds")[self.id]


class _SingleVisionKind(Kind):
    role: ClassVar[str]
    zone: ClassVar[Zone]
    usual_shares: ClassVar[tuple[float, ...]]
    """Free powers that people usually wear, as shares of the near power."""
    design_fields: ClassVar[tuple[str, ...]] = ("add_d",)
    height_reference = "optical_centre"

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        return (SingleVision(self.role),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        usual = {"distance": 0.0, "near": add_d, "computer": _to_step(add_d / 2, judgements)}
        stated = design.add_d
        return SingleVision(self.role), usual[self.role] if stated is None else stated

    def zones(self, design: Design) -> Zones:
        return ((self.zone, design.add_d or 0.0, True),)

    def _design_parts(self, design: Design) -> Iterator[str]:
        if design.add_d is not None:
            yield f"{design.add_d:+.2f} over distance"

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        return tuple((SingleVision(self.role), share * eyes.add_d) for share in self.usual_shares)

    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        """Return the optical centre, set lower for the tilt as it is ordered."""
        return pantoscopic_centre_drop_mm(pantoscopic_deg=tilt_deg, stop_mm=stop_mm)


class SvDistance(_SingleVisionKind):
    """Single vision for distance."""

    id, role, may_cover_distance = "sv_distance", "distance", True
    usual_shares, design_fields = (0.0,), ()

    def zones(self, design: Design) -> Zones:  # noqa: ARG002
        """Return the prescription as it is."""
        return (("distance", 0.0, False),)


class SvComputer(_SingleVisionKind):
    """Single vision for the screen."""

    id, role, zone = "sv_computer", "computer", "intermediate"
    usual_shares = (0.4, 0.5, 0.6)


class SvNear(_SingleVisionKind):
    """Single vision for reading."""

    id, role, zone = "sv_near", "near", "near"
    usual_shares = (1.0,)


class NoGlasses(Kind):
    """The bare eyes, short-sighted or with no power to speak of."""

    id, is_lens, may_cover_distance = "unaided", False, True

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        """Return the one family there is."""
        return (Unaided(),)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:  # noqa: ARG002
        """Return the power of the eyes: a stated one, or the caller's candidates (nan)."""
        return Unaided(), np.nan if design.add_d is None else design.add_d

    def zones(self, design: Design) -> Zones:  # noqa: ARG002
        """Return none: nothing is made."""
        return ()

    def gives_distance(
        self, added_d: Floats, *, astigmatism_d: float, judgements: Judgements
    ) -> bool:
        """Return whether the eyes are off at far by no more than is just noticed."""
        found_d = blur_d(
            defocus_d=added_d, astigmatism_d=astigmatism_d, weight=judgements.astigmatism_weight
        )
        return bool(np.all(found_d <= judgements.bare_far_off_d + _ROUNDING))

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        """Return the bare eyes."""
        return ((Unaided(), eyes.bare_d),)

    def design_words(self, design: Design) -> str:  # noqa: ARG002
        """Return that there is nothing to order."""
        return "nothing to order"


class _ProgressiveKind(Kind):
    def prism_reference_drop_mm(self, *, stop_mm: Floats, tilt_deg: Floats) -> Floats:
        return np.full_like(stop_mm + tilt_deg, PROGRESSIVE_PRISM_REFERENCE_DROP_MM)


class GeneralProgressive(_ProgressiveKind):
    """A progressive for all distances."""

    id, may_cover_distance = "general_progressive", True
    design_fields, height_reference = ("add_d", "corridor_mm"), "fitting_point"

    def families(self, judgements: Judgements) -> tuple[Family, ...]:  # noqa: ARG002
        """Return one for each corridor."""
        return tuple(General(corridor) for corridor in GENERAL)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:  # noqa: ARG002
        """Return the nearest computed corridor; the middle one where none is stated."""
        stated = 12.5 if design.corridor_mm is None else design.corridor_mm
        corridor = min(GENERAL, key=lambda known: abs(known - stated))
        add = add_d if design.add_d is None else design.add_d
        return General(corridor, stated_add_d=add), 0.0

    def zones(self, design: Design) -> Zones:
        """Return distance, and the prescribed add."""
        return ("distance", 0.0, False), ("near", design.add_d or 0.0, False)

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        """Return every corridor."""
        return tuple((General(corridor), np.zeros_like(eyes.add_d)) for corridor in GENERAL)

    def _design_parts(self, design: Design) -> Iterator[str]:
        yield from super()._design_parts(design)
        if design.corridor_mm is not None:
            yield f"corridor {design.corridor_mm:g} mm"

    def order_lines(self, design: Design) -> tuple[tuple[str, str], ...]:
        """Return the corridor."""
        return () if design.corridor_mm is None else (("Corridor", f"{design.corridor_mm:g} mm"),)


class OfficeLens(_ProgressiveKind):
    """A lens for indoor distances whose power falls upwards from near."""

    id = "office"
    design_fields, height_reference = ("near_add_d", "degression_d", "power_fall"), "laboratory"
    usual_degressions_d = (0.75, 1.25, 1.75)

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        """Return one for each power fall and degression."""
        step, least = judgements.design_step_d, judgements.office_degression_min_d
        degressions = np.arange(least, judgements.office_degression_max_d + step / 2, step)
        return tuple(
            Office(fall, round(float(value), 2)) for fall in OFFICE for value in degressions
        )

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """Return near power at the add, half of it as degression, a slow fall, where not stated."""
        near = add_d if design.near_add_d is None else design.near_add_d
        stated = design.degression_d
        degression = _to_step(near / 2, judgements) if stated is None else stated
        return Office(design.power_fall or "slow", degression), near

    def zones(self, design: Design) -> Zones:
        """Return near, and the top that the degression leaves."""
        near = design.near_add_d or 0.0
        return ("near", near, True), ("top", near - (design.degression_d or 0.0), True)

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        """Return each power fall with a small, a middle and a large degression."""
        return tuple(
            (Office(fall, degression), eyes.add_d)
            for fall in OFFICE
            for degression in self.usual_degressions_d
        )

    def _design_parts(self, design: Design) -> Iterator[str]:
        near, degression = design.near_add_d or 0.0, design.degression_d or 0.0
        yield from (f"near {near:+.2f}", f"top {near - degression:+.2f}")
        if design.power_fall is not None:
            yield f"power falls {POWER_FALL_WORDS[design.power_fall]}"

    def order_lines(self, design: Design) -> tuple[tuple[str, str], ...]:
        """Return how the power falls, and between which heights."""
        if design.power_fall is None:
            return ()
        where = OFFICE[design.power_fall]
        low_mm, words = where.length_mm - where.top_mm, POWER_FALL_WORDS[design.power_fall]
        return (
            (
                "Power fall",
                f"{words}, over {where.length_mm:g} mm: from {low_mm:g} mm below the pupil centre"
                f" to {where.top_mm:g} mm above it",
            ),
        )


class _LinedKind(Kind):
    default_line_drop_mm: ClassVar[float]
    usual_line_error_mm = 1.0
    """Lines are made up to so much off their place (ANSI Z80.1)."""
    design_fields: ClassVar[tuple[str, ...]] = ("add_d", "line_drop_mm")
    height_reference = "line"
    segment_centre_below_line_mm = SEGMENT_CENTRE_BELOW_LINE_MM

    def usual_variants(self, eyes: UsualEyes) -> Variants:
        lines_mm = (self.default_line_drop_mm + k * self.usual_line_error_mm for k in (-1, 0, 1))
        free_d = self._usual_free_d(eyes.add_d)
        return tuple((self._family(line_mm, eyes.judgements), free_d) for line_mm in lines_mm)

    def _family(self, line_drop_mm: float, judgements: Judgements) -> Family:
        raise NotImplementedError

    def _usual_free_d(self, add_d: Floats) -> Floats:
        return np.zeros_like(add_d)

    def _line_and_add(self, design: Design, add_d: float) -> tuple[float, float]:
        """Return line drop (mm) and add (D) of a pair as stated, else the usual line and add_d."""
        line_mm, stated_d = design.line_drop_mm, design.add_d
        return (
            self.default_line_drop_mm if line_mm is None else line_mm,
            add_d if stated_d is None else stated_d,
        )

    def families(self, judgements: Judgements) -> tuple[Family, ...]:
        return (self._family(self.default_line_drop_mm, judgements),)


class _BifocalKind(_LinedKind):
    for_desk: ClassVar[bool]

    def _family(self, line_drop_mm: float, judgements: Judgements) -> Family:
        return Bifocal(line_drop_mm, judgements.line_margin_mm, self.for_desk)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        line, add = self._line_and_add(design, add_d)
        usual = _to_step(add / 2, judgements) if self.for_desk else 0.0
        upper = usual if design.upper_add_d is None else design.upper_add_d
        return Bifocal(line, judgements.line_margin_mm, self.for_desk, stated_add_d=add), upper

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
    design_fields = ("upper_add_d", "add_d", "line_drop_mm")

    def _usual_free_d(self, add_d: Floats) -> Floats:
        return add_d / 2

    def _design_parts(self, design: Design) -> Iterator[str]:
        if design.upper_add_d is not None:
            yield f"upper {design.upper_add_d:+.2f}"
        yield from super()._design_parts(design)


class TrifocalLens(_LinedKind):
    """A 7x28 trifocal."""

    id, may_cover_distance = "trifocal_7x28", True
    default_line_drop_mm = 1.5

    def _family(self, line_drop_mm: float, judgements: Judgements) -> Family:
        return Trifocal(line_drop_mm, judgements.line_margin_mm)

    def worn(self, design: Design, *, add_d: float, judgements: Judgements) -> tuple[Family, float]:
        """Return the pair with the line at its usual place and the add, where not stated."""
        line, add = self._line_and_add(design, add_d)
        return Trifocal(line, judgements.line_margin_mm, stated_add_d=add), 0.0

    def zones(self, design: Design) -> Zones:
        """Return distance, the fixed share of the add in the band, the add."""
        add = design.add_d or 0.0
        band = TRIFOCAL_SHARE * add
        return ("distance", 0.0, False), ("intermediate", band, False), ("near", add, False)


BARE_EYES: Kind = NoGlasses()
KINDS: dict[str, Kind] = {
    kind.id: kind
    for kind in (
        SvDistance(),
        BARE_EYES,
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
