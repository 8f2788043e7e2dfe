"""The range test: at a mock desk, the taped clear range against the one that was computed.

It is the only check of the power change of an office lens, and a check of any pair as worn. The
head stays still, so that one place on the lens is tested; a chin that rises finds another power.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from engine.case.model import Part
from engine.case.scene import stop_mm_of, wearers_of
from engine.case.targets import centre_above_eye_cm, detail_arcmin
from engine.optics.accommodation import blur_limit_d
from engine.tables import Judgements
from engine.units import CM_PER_M
from engine.wording import at_height, beside, number, say

if TYPE_CHECKING:
    from engine.case.model import Case, Target
    from engine.case.results import OptionResult

STRAIGHT_AHEAD = "straight ahead"
_ROUNDING = 1e-9


class RangeStep(Part):
    """One place of the mock desk; near or far None where the computed range has no end.

    borne_d: blur borne beyond a far end that is where it is sharp; 0 where it is in that end.
    """

    target: str
    distance_cm: float
    centre_above_eye_cm: float
    text_height_mm: float | None
    near_cm: float | None
    far_cm: float | None
    borne_d: float = 0.0
    says: str

    @property
    def blurs_from_cm(self) -> float | None:
        """Where blur is first noticed when the print moves out; None where it is nowhere."""
        if self.far_cm is None:
            return None
        end_d = CM_PER_M / self.far_cm - self.borne_d
        return CM_PER_M / end_d if end_d > _ROUNDING else None


class RangeFinding(Part):
    """One end of one taped range; difference in D is taped minus computed, positive is nearer."""

    target: str
    end: Literal["nearest", "farthest"]
    computed_cm: float | None
    taped_cm: float
    difference_d: float
    agrees: bool
    says: str


def range_steps(
    *, case: Case, option: OptionResult, judgements: Judgements
) -> tuple[RangeStep, ...]:
    """Give the places to try, in the order of the case; no far targets, none that is never clear.

    Last the far limit of a pair that has one: straight ahead, with the print of the first place.
    """
    steps: list[RangeStep] = []
    borne_d: list[float] = []
    stop_mm = stop_mm_of(case, judgements=judgements)
    found = {target.target: target.clear_range_cm for target in option.targets}
    for target in case.targets:
        clear = found[target.name]
        if target.kind == "far" or clear is None:
            continue
        above = centre_above_eye_cm(target, stop_mm=stop_mm)
        steps.append(
            RangeStep(
                target=target.name,
                distance_cm=target.distance_cm,
                centre_above_eye_cm=above,
                text_height_mm=target.text_height_mm,
                near_cm=clear.near,
                far_cm=clear.far,
                says=_says(target, above, clear.near, clear.far),
            )
        )
        borne_d.append(_borne_d(case, target, judgements))
    if steps and option.sees_to_cm is not None and not option.covers_distance:
        steps.append(_straight_ahead(steps[0], option.sees_to_cm, borne_d[0]))
    return tuple(steps)


def _borne_d(case: Case, target: Target, judgements: Judgements) -> float:
    """Return the blur that is just noticed in the print of a target, by this wearer."""
    (tolerance,) = wearers_of([case], judgements=judgements).blur_tolerance
    noticeable_d = tolerance * judgements.blur_limit_base_d
    return float(blur_limit_d(text_arcmin=detail_arcmin(target), noticeable_d=noticeable_d))


def _straight_ahead(first: RangeStep, far_cm: float, borne_d: float) -> RangeStep:
    """Return the far limit: level with the eyes, sharp to there, and blurred a little later."""
    step = RangeStep(
        target=STRAIGHT_AHEAD,
        distance_cm=far_cm,
        centre_above_eye_cm=0.0,
        text_height_mm=first.text_height_mm,
        near_cm=None,
        far_cm=far_cm,
        borne_d=borne_d,
        says="",
    )
    blurs = _cm(step.blurs_from_cm, "no distance")
    says = say("range_test_ahead", far_cm=f"{far_cm:.0f}", blurs=blurs)
    return step.model_copy(update={"says": says})


def compare_range(
    *,
    step: RangeStep,
    nearest_cm: float | None,
    farthest_cm: float | None,
    judgements: Judgements | None = None,
) -> tuple[RangeFinding, ...]:
    """Compare both taped ends with the computed range, each within `range_within_d`.

    An end without limit counts as 0 D, so a far end that is taped shows how short it falls.
    """
    within_d = (judgements or Judgements.standard()).range_within_d
    found = []
    for end, computed, taped in (
        ("nearest", step.near_cm, nearest_cm),
        ("farthest", step.far_cm, farthest_cm),
    ):
        if taped is None or (computed is None and end == "nearest"):
            continue
        blurs = step.blurs_from_cm if end == "farthest" else computed
        difference = CM_PER_M / taped - (0.0 if blurs is None else CM_PER_M / blurs)
        agrees = abs(difference) <= within_d + _ROUNDING
        found.append(
            RangeFinding(
                target=step.target,
                end="nearest" if end == "nearest" else "farthest",
                computed_cm=computed,
                taped_cm=taped,
                difference_d=difference,
                agrees=agrees,
                says=_finding_words(end, blurs, taped, difference, agrees, within_d),
            )
        )
    return tuple(found)


def _says(target: Target, above_cm: float, near: float | None, far: float | None) -> str:
    away = f"{number(target.distance_cm)} cm away"
    return say(
        "range_test",
        place=", ".join(filter(None, [away, beside(target.offset_cm), at_height(above_cm)])),
        near=_cm(near, "the nose"),
        far=_cm(far, "any distance"),
    )


def _finding_words(
    end: str,
    computed: float | None,
    taped: float,
    difference_d: float,
    agrees: bool,
    within_d: float,
) -> str:
    more = "more" if difference_d > 0 else "less"
    judged = (
        f"within {within_d:.2f} D"
        if agrees
        else f"{abs(difference_d):.2f} D {more} plus than computed where this is seen"
    )
    return f"{end} clear {taped:.0f} cm, computed {_cm(computed, 'no limit')}: {judged}"


def _cm(value: float | None, otherwise: str) -> str:
    return otherwise if value is None else f"{value:.0f} cm"
