"""One lens: a kind of pair with every number of its design, new or owned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.case.prescription import smaller_add_d
from engine.lenses.families import OwnPrescription, Points
from engine.lenses.kinds import KINDS
from engine.optics.accommodation import focus_distance_cm, usual_add_d

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from engine.case.model import Case, Design, OwnedPair
    from engine.case.prescription import EyePrescription, Prescription
    from engine.case.scene import Wearers
    from engine.lenses.families import Family
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

_HEIGHTS_LOOKED_THROUGH = 21
_SAME_D = 1e-9
_NO_LIMIT_FROM_CM = 600.0
"""From the distance of a usual test chart on, a lens has no far limit."""


@dataclass(frozen=True)
class Lens:
    """One design: its kind, family and free power.

    Attributes:
        add_d: the add of the wearer it was made for.
    """

    kind: Kind
    family: Family
    free_d: float
    add_d: float = np.nan

    @property
    def design(self) -> Design:
        """The orderable numbers."""
        return self.family.design(add_d=self.add_d, free_d=self.free_d)

    def power_above_d(self, heights_mm: Floats, *, wearers: Wearers) -> Floats:
        """Return added power (D) at heights above the fitting point, (heights,); of one wearer."""
        return self.at_points_d(0.0 * heights_mm, heights_mm, wearers=wearers)[0]

    def at_points_d(self, x_mm: Floats, y_mm: Floats, *, wearers: Wearers) -> tuple[Floats, Floats]:
        """Return added power and astigmatism (D) at points, (points,) each; of one wearer.

        x_mm to the wearer's right, y_mm up, both from the fitting point.
        """
        one = np.zeros((1, 1))
        across, up = x_mm[None, :], y_mm[None, :]
        points = Points(x_mm=across, y_mm=up, made=one.astype(np.intp), down_mm=one)
        found = self.family.field(points, wearers.as_columns())
        power_d = np.broadcast_to(found.power_d(self.free_d), up.shape)
        return power_d.ravel(), np.broadcast_to(found.astigmatism_d, up.shape).ravel()

    def covers_distance(self, *, wearers: Wearers, judgements: Judgements) -> bool:
        """Tell whether it may be worn for driving, walking and stairs; wearers: of one."""
        most_mm = judgements.clear_distance_up_mm
        heights_mm = np.linspace(0.0, most_mm, _HEIGHTS_LOOKED_THROUGH)
        return self.kind.gives_distance(
            self.power_above_d(heights_mm, wearers=wearers),
            astigmatism_d=float(wearers.unaided_astigmatism_d[0]),
            judgements=judgements,
        )

    def sees_to_cm(self, *, wearers: Wearers) -> float | None:
        """Return how far it shows clearly, eyes at rest and ahead; None without a limit."""
        ahead_d = float(self.power_above_d(np.zeros(1), wearers=wearers)[0])
        far_cm = float(focus_distance_cm(added_power_d=ahead_d))
        return far_cm if far_cm < _NO_LIMIT_FROM_CM else None

    def is_same(self, other: Lens) -> bool:
        """Tell whether two lenses are one thing to wear, whatever they are called."""
        if self.kind.is_lens != other.kind.is_lens:
            return False
        if self.kind.is_single_vision and other.kind.is_single_vision:
            alike = type(self.family) is type(other.family)
            return alike and abs(self.free_d - other.free_d) <= _SAME_D
        is_own, other_own = (isinstance(one.family, OwnPrescription) for one in (self, other))
        return self.kind is other.kind and self.design == other.design and is_own == other_own


def owned_lens(pair: OwnedPair, case: Case, *, wearers: Wearers, judgements: Judgements) -> Lens:
    """Return the lens of a pair somebody owns; wearers: of one."""
    made_for = pair.prescription
    own = None if made_for is None else smaller_add_d(made_for.right, made_for.left)
    lens = lens_of(pair.kind, pair.design, case, wearers=wearers, judgements=judgements, add_d=own)
    if made_for is None or not lens.kind.is_lens:
        return lens
    more_d, cylinder_d = _difference_d(made_for, case.wearer.prescription)
    family = OwnPrescription(lens.family, more_d, cylinder_d)
    return Lens(lens.kind, family, lens.free_d, lens.add_d)


def lens_of(
    kind_id: str,
    design: Design,
    case: Case,
    *,
    wearers: Wearers,
    judgements: Judgements,
    add_d: float | None = None,
) -> Lens:
    """Return the lens of a kind and design for a wearer; wearers: of one.

    add_d: of the pair, where it is not the wearer's. Without any add the usual one for the age
    stands in for numbers the design does not state.
    """
    known_d = float(wearers.add_d[0]) if add_d is None else add_d
    if np.isnan(known_d):
        known_d = float(usual_add_d(age_years=case.wearer.age_years))
    kind = KINDS[kind_id]
    family, free_d = kind.worn(design, add_d=known_d, judgements=judgements)
    bare_d = float(wearers.unaided_power_d[0])
    return Lens(kind, family, bare_d if np.isnan(free_d) else free_d, known_d)


def _difference_d(made_for: Prescription, holds_now: Prescription) -> tuple[float, float]:
    """Return one prescription over another: mean spherical equivalent, and the cylinder left."""
    more, left = [], []
    for own, now in ((made_for.right, holds_now.right), (made_for.left, holds_now.left)):
        more.append(own.spherical_equivalent_d - now.spherical_equivalent_d)
        left.append(abs(_cylinder(own) - _cylinder(now)))
    return sum(more) / 2, max(left)


def _cylinder(eye: EyePrescription) -> complex:
    """Return the cylinder as a vector of twice its axis."""
    turn = np.radians(2.0 * eye.axis_deg)
    return complex(eye.cylinder_d * np.cos(turn), eye.cylinder_d * np.sin(turn))
