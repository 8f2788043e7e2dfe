"""A complaint about a finished pair: which causes fit what is seen, and the cheapest check first.

The optician notes a few things anyone can see, tape or try; each is a sign. A table gives each
cause points for the signs that speak for or against it. The causes with the most points come first.
Nothing here knows the true cause, and nothing is concluded: the next check is named.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from engine import tables
from engine.case.model import Part
from engine.case.targets import size_cm
from engine.collection.settled import Settled
from engine.errors import InputRefusedError
from engine.lenses.kinds import KINDS
from engine.order.lens import strongest_meridian_d
from engine.tables import Judgements
from engine.units import CM_PER_M

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from engine.case.model import Case, Target
    from engine.case.results import OptionResult, OptionTarget


_URGENT = "urgent_eye"
_PLACE = {True: 0, None: 1, False: 2}
"""What a reading shows comes first, what it rules out last."""


class SeenTarget(Part):
    """What is seen at one target with the pair on; None or empty where it was not looked at."""

    target: str
    chin_up_deg: float | None = Field(None, ge=-60, le=60, title="chin-up from a side view")
    nearest_clear_cm: float | None = Field(None, ge=10, le=600)
    farthest_clear_cm: float | None = Field(None, ge=10, le=2000)
    never_clear: bool | None = Field(None, title="blurred in every posture")
    blurred_rows: tuple[Literal["top", "bottom"], ...] | None = None
    clear_width_cm: float | None = Field(None, ge=0, le=400)


class Complaint(Part):
    """What the optician notes: what is seen at the targets, and yes or no to some questions.

    answers: by id of a sign that is asked or tried; what was not asked is left out.
    """

    seen: tuple[SeenTarget, ...] = ()
    answers: dict[str, bool] = Field(default_factory=dict)


@dataclass(frozen=True)
class RankedCause:
    """A cause with its points and the check that would show it.

    Attributes:
        signs_for, signs_against: signs found that speak for it, and against it.
        remedy_step: adjust, desk, coach, remake, prescriber or urgent.
        shown: True where a reading shows it, False where the readings rule it out, None while open.
        settled: the reading that settled it.
    """

    id: str
    cause: str
    points: float
    signs_for: tuple[str, ...]
    signs_against: tuple[str, ...]
    check: str
    check_minutes: float
    remedy: str
    remedy_step: str
    source: str
    shown: bool | None = None
    settled: str = ""


def questions(how: str) -> dict[str, str]:
    """Return the signs got in one way: asked, seen, taped, tried or record; text by id.

    >>> questions("tried")["better_frame_up"]
    'Frame lifted 2 mm: better?'
    """
    signs = tables.by_id("complaint_signs")
    return {name: row["text"] for name, row in signs.items() if row["how"] == how}


def rank_causes(
    *,
    case: Case,
    option: OptionResult,
    complaint: Complaint,
    office_reference_stated: bool | None = None,
    settled: Settled | None = None,
    judgements: Judgements | None = None,
) -> tuple[RankedCause, ...]:
    """Give every cause that fits this kind of lens, the most points first, then the cheapest check.

    option: what the record says of the pair that was ordered. office_reference_stated: whether
    the order names the laboratory's reference; None where not known. settled: what readings have
    settled; a cause that one shows comes before any guess, one that is ruled out comes last. A sign
    of an urgent eye stands alone.

    Raises
        InputRefusedError: an answer to a question that is not in the table, or an unknown target.
    """
    judged = judgements or Judgements.standard()
    signs = signs_of(
        case=case,
        option=option,
        complaint=complaint,
        office_reference_stated=office_reference_stated,
        judgements=judged,
    )
    ranked = [
        _scored(row, signs, judged, option=option, settled=settled or Settled())
        for row in tables.rows("complaint_causes")
        if _fits_kind(row["lens_kinds"], option.kind)
    ]
    ranked.sort(
        key=lambda cause: (_PLACE[cause.shown], -cause.points, cause.check_minutes, cause.id)
    )
    urgent = [cause for cause in ranked if cause.id == _URGENT]
    if urgent and urgent[0].signs_for:
        return (urgent[0],)
    return tuple(cause for cause in ranked if cause.id != _URGENT)


def checks_in_order(ranked: Sequence[RankedCause], *, first: int = 3) -> tuple[RankedCause, ...]:
    """Give the first few causes: those a reading shows, then the cheapest check; none ruled out."""
    likely = [cause for cause in ranked if cause.shown is not False][:first]
    return tuple(
        sorted(likely, key=lambda cause: (_PLACE[cause.shown], cause.check_minutes, -cause.points))
    )


def signs_of(
    *,
    case: Case,
    option: OptionResult,
    complaint: Complaint,
    office_reference_stated: bool | None = None,
    judgements: Judgements | None = None,
) -> dict[str, bool]:
    """Return every sign that was looked for, found (True) or not found (False)."""
    judged = judgements or Judgements.standard()
    askable = questions("asked") | questions("tried")
    for name in complaint.answers:
        if name not in askable:
            raise InputRefusedError(field="answers", value=name, allowed="a sign that is asked")
    differing = _seen_signs(case, option, complaint, judged)
    signs = differing | complaint.answers
    for name, value in differing.items():
        signs[name] = value or complaint.answers.get(name, False)
    return signs | _record_signs(case, option, signs, office_reference_stated, judged)


def _scored(
    row: Mapping[str, str],
    signs: Mapping[str, bool],
    judgements: Judgements,
    *,
    option: OptionResult,
    settled: Settled,
) -> RankedCause:
    points = 0.0
    supports: list[str] = []
    opposes: list[str] = []
    opposites = tables.by_id("complaint_signs")
    for word in row["signs"].split():
        name, worth = word.split("=")
        if name not in signs:
            continue
        if signs[name]:
            points += float(worth)
            (supports if float(worth) > 0 else opposes).append(name)
        elif float(worth) > 0 and not signs.get(opposites[name]["opposite"], False):
            points -= judgements.absent_sign_share * float(worth)
    return RankedCause(
        id=row["id"],
        cause=row["cause"],
        points=points,
        signs_for=tuple(supports),
        signs_against=tuple(opposes),
        check=row["check"] if _has_part(row["part"], option) else row["check_otherwise"],
        check_minutes=float(row["check_minutes"]),
        remedy=row["remedy"],
        remedy_step=row["remedy_step"],
        source=row["source"],
        shown=True
        if row["id"] in settled.shown
        else False
        if row["id"] in settled.ruled_out
        else None,
        settled=settled.shown.get(row["id"], settled.ruled_out.get(row["id"], "")),
    )


def _has_part(part: str, option: OptionResult) -> bool:
    """Tell whether a lens has the part that a check needs."""
    if part == "distance":
        return option.covers_distance
    return part != "corridor" or option.design.corridor_mm is not None


def _fits_kind(kinds: str, kind: str) -> bool:
    family = tables.by_id("lens_kinds")[kind]["family"]
    return bool({"all", family, kind} & set(kinds.split()))


def _seen_signs(
    case: Case, option: OptionResult, complaint: Complaint, judgements: Judgements
) -> dict[str, bool]:
    """Find signs from numbers: True if any target of a class shows it, False if none does."""
    recorded = {target.target: target for target in option.targets}
    kinds = {target.name: _seen_as(target, judgements) for target in case.targets}
    signs: dict[str, bool] = {}
    for seen in complaint.seen:
        if seen.target not in recorded:
            allowed = ", ".join(recorded)
            raise InputRefusedError(field="seen.target", value=seen.target, allowed=allowed)
        of_target = _target_signs(kinds[seen.target], recorded[seen.target], seen, judgements)
        for name, found in of_target:
            signs[name] = signs.get(name, False) or found
    return signs


def _seen_as(target: Target, judgements: Judgements) -> str:
    """Return which class of signs a target has: screen, page or far."""
    as_far = target.distance_cm >= judgements.page_as_screen_cm
    return "screen" if target.kind == "page" and as_far else target.kind


def _target_signs(
    kind: str, recorded: OptionTarget, seen: SeenTarget, judgements: Judgements
) -> list[tuple[str, bool]]:
    signs: list[tuple[str, bool]] = []
    centre = recorded.centre
    if seen.chin_up_deg is not None and centre.chin_up_deg is not None:
        more, differs = seen.chin_up_deg - centre.chin_up_deg, judgements.chin_differs_deg
        signs.append((f"chin_up_more_{kind}", more >= differs))
        signs.append((f"chin_down_more_{kind}", more <= -differs))
        signs.append(("chin_much", abs(more) >= judgements.chin_much_deg))
    if seen.never_clear is not None and kind != "far":
        signs.append((f"{kind}_blurred", seen.never_clear and centre.chin_up_deg is not None))
    if seen.blurred_rows is not None and kind == "screen":
        clear = {row.row for row in recorded.rows if row.chin_up_deg is not None}
        for row in ("top", "bottom"):
            signs.append((f"screen_{row}_blurred", row in clear and row in seen.blurred_rows))
    if kind != "far":
        signs += _range_signs(kind, recorded, seen, judgements)
    width = recorded.clear_width_cm
    if seen.clear_width_cm is not None and width is not None and kind == "screen":
        narrower = seen.clear_width_cm < judgements.strip_narrower_share * width
        signs.append(("strip_narrower", narrower))
    return signs


def _range_signs(
    kind: str, recorded: OptionTarget, seen: SeenTarget, judgements: Judgements
) -> list[tuple[str, bool]]:
    if recorded.clear_range_cm is None:
        return []
    ends = (
        ("near_end", recorded.clear_range_cm.near, seen.nearest_clear_cm),
        ("far_end", recorded.clear_range_cm.far, seen.farthest_clear_cm),
    )
    signs = []
    for end, foretold_cm, taped_cm in ends:
        if taped_cm is None:
            continue
        foretold_d = 0.0 if foretold_cm is None else CM_PER_M / foretold_cm
        more = CM_PER_M / taped_cm - foretold_d
        signs.append((f"{kind}_{end}_nearer", more >= judgements.range_differs_d))
        signs.append((f"{kind}_{end}_farther", more <= -judgements.range_differs_d))
    return signs


def _record_signs(
    case: Case,
    option: OptionResult,
    signs: Mapping[str, bool],
    reference_stated: bool | None,
    judgements: Judgements,
) -> dict[str, bool]:
    """Return what the record itself says about where a fault is likely."""
    eyes = (case.wearer.right, case.wearer.left)
    strong = max(map(strongest_meridian_d, eyes)) >= judgements.strong_power_d
    unequal = case.wearer.vertical_difference_d >= judgements.unequal_powers_d
    found = {
        "record_strong_power": strong,
        "record_weak_power": not strong,
        "record_unequal_powers": unequal,
        "record_has_prism": any(eye.prism for eye in eyes),
        "record_first_multifocal": "first_multifocal" in case.wearer.conditions,
        "record_accommodation_not_measured": case.wearer.amplitude_d is None,
        "strip_narrow": _strip_is_narrow(case, option),
        "as_the_record_said": _foretold(option, signs, judgements),
    }
    if reference_stated is not None and KINDS[option.kind].height_reference == "laboratory":
        found["record_reference_not_stated"] = not reference_stated
    corridor = option.design.corridor_mm
    if corridor is not None:
        over_mm = min(case.fit.heights_mm) - corridor
        found["record_height_short"] = over_mm < judgements.height_short_mm
    return found | _unmeasured_signs(case)


def _unmeasured_signs(case: Case) -> dict[str, bool]:
    places = {
        "record_height_not_measured": ("/fit/fitting_height",),
        "record_tilt_not_measured": ("/fit/pantoscopic_deg",),
        "record_vertex_not_measured": ("/fit/vertex_mm",),
        "record_pd_not_measured": ("/wearer/pd_",),
        "record_distance_not_measured": tuple(
            f"/targets/{index}/" for index, one in enumerate(case.targets) if one.kind == "screen"
        ),
    }
    return {
        name: any(
            origin != "measured" and pointer.startswith(starts)
            for pointer, origin in case.origin.items()
        )
        for name, starts in places.items()
    }


def _strip_is_narrow(case: Case, option: OptionResult) -> bool:
    widths = {target.name: size_cm(target)[0] for target in case.targets}
    return any(
        target.clear_width_cm is not None and target.clear_width_cm < widths[target.target]
        for target in option.targets
    )


def _foretold(option: OptionResult, signs: Mapping[str, bool], judgements: Judgements) -> bool:
    """Tell where a target was foretold to be a compromise, and nothing measured differs.

    Where all is well at a desk set up as recorded, the record foretold nothing of it.
    """
    if signs.get("fine_at_mock_desk", False):
        return False
    measured = questions("seen") | questions("taped")
    looked_for = [found for name, found in signs.items() if name in measured]
    return (
        bool(looked_for)
        and not any(looked_for)
        and any(target.comfortable_share < judgements.compromise_share for target in option.targets)
    )
