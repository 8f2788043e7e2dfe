"""What lenses that are held show: at another desk, from above, and on the lens itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from pydantic import ValidationError

from engine.answer.options import Solver, lens_of_option
from engine.case.model import Target
from engine.case.read import refusals
from engine.case.scene import scene_of, stop_mm_of
from engine.case.targets import centre_above_eye_cm, size_cm
from engine.kernel.details import Closeup
from engine.kernel.draws import Draws, height_field
from engine.kernel.posture import View, any_posture
from engine.lenses.kinds import KINDS
from engine.optics.workstation import face_points_mm
from engine.tables import Judgements
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.case.model import Case
    from engine.case.results import OptionResult, OptionTarget

Worn = tuple["OptionResult", tuple[str, ...]]
"""A lens and the names of the activities it is worn for."""


@dataclass(frozen=True)
class Held:
    """What held lenses give at another desk.

    Attributes:
        comfortable_h: expected hours of the day.
        through: the lens looked through, with its targets as they are there.
        beside: another lens, for comparison, with its targets as they are there.
    """

    comfortable_h: float
    through: OptionResult
    beside: OptionResult | None = None


@dataclass(frozen=True)
class FromAbove:
    """Where a target stands, seen from above, in cm from the centre of rotation, head at zero.

    Attributes:
        forward_cm, right_cm: its centre; right is the wearer's.
        edges: its left and its right edge, (forward, right) each; both the centre if far.
    """

    forward_cm: float
    right_cm: float
    edges: tuple[tuple[float, float], tuple[float, float]]

    @property
    def level_cm(self) -> float:
        """How far the centre is along the floor."""
        return float(np.hypot(self.forward_cm, self.right_cm))

    @property
    def aside_deg(self) -> float:
        """How far the centre lies to the side, positive to the right."""
        return float(np.degrees(np.arctan2(self.right_cm, self.forward_cm)))


@dataclass(frozen=True)
class Turn:
    """How head and eyes share the turn to a target through one lens, in degrees.

    Attributes:
        head_deg: turn of the head, positive to the right: as little as shows all of the target,
            and no more than to its centre.
        eyes_deg: how far the eyes then see clearly to either side of that.
    """

    head_deg: float
    eyes_deg: float


@dataclass(frozen=True)
class LensPoint:
    """Where one row of a target is looked through, in mm from the fitting point.

    Attributes:
        side_mm: to the wearer's right. drop_mm: down.
        clear: the row is clear there; else it is where the free head looks through.
    """

    target: str
    row: str
    side_mm: float
    drop_mm: float
    clear: bool


def from_above(case: Case) -> tuple[FromAbove, ...]:
    """Return where each target stands, in the order of the case.

    Raises
        InputRefusedError: a target that cannot stand where it was measured.
    """
    stop_mm = stop_mm_of(case, judgements=Judgements.standard())
    return tuple(_place(target, stop_mm) for target in case.targets)


def _place(target: Target, stop_mm: float) -> FromAbove:
    """Return where one target stands, seen from above."""
    width_cm = size_cm(target)[0]
    # The centres of two cells of twice the width are the edges.
    forward, right, _ = face_points_mm(
        distance_cm=target.distance_cm,
        centre_above_eye_cm=centre_above_eye_cm(target, stop_mm=stop_mm),
        width_cm=2.0 * width_cm,
        height_cm=0.0,
        stop_mm=stop_mm,
        tilt_deg=target.tilt_deg,
        offset_cm=target.offset_cm,
        n=2,
    )
    ahead, aside = (np.ravel(one[..., 0, :]) / MM_PER_CM for one in (forward, right))
    left_edge, right_edge = zip(ahead.tolist(), aside.tolist(), strict=True)
    return FromAbove(float(ahead.mean()), float(aside.mean()), edges=(left_edge, right_edge))


def turn_to(place: FromAbove, through: OptionTarget) -> Turn | None:
    """Return how head and eyes turn to a target; None where its centre is nowhere clear."""
    if through.clear_width_cm is None or through.head_turn_deg is None:
        return None
    half_cm = through.clear_width_cm / 2.0
    eyes_deg = float(np.degrees(np.arctan2(half_cm, place.level_cm)))
    head_deg = min(through.head_turn_deg, abs(place.aside_deg))
    return Turn(float(np.copysign(head_deg, place.aside_deg)) + 0.0, eyes_deg)


def lens_points(option: OptionResult, case: Case) -> tuple[LensPoint, ...]:
    """Return where each row of each target is looked through; none without a lens.

    Raises
        InputRefusedError: a target that cannot stand where it was measured.
    """
    if not KINDS[option.kind].is_lens:
        return ()
    judged = Judgements.standard()
    names = tuple(target.target for target in option.targets)
    closeup = Closeup(scene_of([case], judgements=judged), names, judged)
    found = []
    for target, points in zip(option.targets, closeup.rows, strict=True):
        rows = {str(row.row): row for row in target.rows}
        for name, point in points:
            row = rows[name]
            is_clear = row.chin_up_deg is not None
            chin_up_deg = row.free_chin_up_deg if row.chin_up_deg is None else row.chin_up_deg
            side_mm, drop_mm = _looked_through(closeup, point, chin_up_deg)
            found.append(LensPoint(target.target, name, side_mm, drop_mm, is_clear))
    return tuple(found)


def _looked_through(closeup: Closeup, point: int, chin_up_deg: float) -> tuple[float, float]:
    """Return where on the lens a point is seen at one chin-up: mm to the right, mm down."""
    scene = closeup.scene.points_at(np.array([point]))
    view = View(
        scene,
        chin_up_deg=np.array([[chin_up_deg]]),
        band=any_posture(closeup.judgements),
        through_lens=True,
    )
    side_mm = np.copysign(np.ravel(view.points.x_mm)[0], scene.right_mm[0])
    return float(side_mm) + 0.0, float(-np.ravel(view.points.y_mm)[0])


def shifted_fields(target: Target, *, up_cm: float, away_cm: float) -> dict[str, float]:
    """Return the fields of a target that a move changes, with their new values, to a millimetre."""
    changed = {}
    if up_cm:
        name = height_field(target)
        changed[name] = round(getattr(target, name) + up_cm, 1) + 0.0
    if away_cm:
        changed["distance_cm"] = round(target.distance_cm + away_cm, 1)
    return changed


def shifted(case: Case, index: int, *, up_cm: float, away_cm: float) -> Case:
    """Return the case with one thing higher and farther away, in cm.

    Raises
        InputRefusedError: it cannot stand there.
    """
    target = case.targets[index]
    fields = shifted_fields(target, up_cm=up_cm, away_cm=away_cm)
    try:
        there = Target.model_validate({**target.model_dump(), **fields})
    except ValidationError as error:
        raise refusals(error)[0] from None
    return case.with_target(index, there)


def held(
    there: Case,
    pairs: Sequence[Worn],
    *,
    through: OptionResult,
    like: Case,
    beside: OptionResult | None = None,
) -> Held:
    """Return hours of the day through held pairs at another desk, and one of them there.

    pairs: see `held_h`. like: the case as it stands, whose luck is kept.
    beside: another lens to be compared with it.

    Raises
        InputRefusedError: something cannot stand there.
    """
    judged = Judgements.standard()
    solver = Solver(there, judged, like=Draws(like, judgements=judged))
    return Held(
        held_h(pairs, solver),
        _through(through, there, solver),
        None if beside is None else _through(beside, there, solver),
    )


def held_h(pairs: Sequence[Worn], there: Solver) -> float:
    """Return the expected comfortable hours of the day through pairs held at another desk.

    pairs: each activity belongs to one of them.
    """
    in_draws_h = np.zeros(1)
    for option, activities in pairs:
        wears = [one.name in activities for one in there.case.activities]
        if any(wears):
            lens = lens_of_option(option, there.case, judgements=there.judgements)
            hours = there.desk.comfortable_h(lens, covers_distance=option.covers_distance)
            in_draws_h = in_draws_h + hours[:, wears].sum(axis=1)
    return float(in_draws_h.mean())


def _through(option: OptionResult, there: Case, solver: Solver) -> OptionResult:
    """Return a lens with its targets as they are there."""
    lens = lens_of_option(option, there, judgements=solver.judgements)
    targets = solver.closeup.targets(lens, solver.desk.measured_shares(lens))
    measured = option.as_measured.model_copy(update={"targets": targets})
    return option.model_copy(update={"as_measured": measured})
