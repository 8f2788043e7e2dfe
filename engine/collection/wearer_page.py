"""What the wearer takes home, in plain words: where to look, what is blurred, when to come back.

Every number is one of the record. Nothing here promises less pain.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine import tables
from engine.collection.followup import far_limit_cm, told_range
from engine.lenses.kinds import KINDS
from engine.tables import Judgements
from engine.units import day_words
from engine.wording import capital, fill, length, shift

if TYPE_CHECKING:
    from engine.case.model import Case
    from engine.case.results import (
        ClearRange,
        MoveResult,
        OptionResult,
        OptionTarget,
        PlanResult,
        Result,
    )
    from engine.collection.followup import Dates

CLEAR_SHARE = 0.999
"""All of a target, to the three places a result is rounded to."""
MOST_SHARE = 0.5
"""From half of a target on, it is most of it."""


@dataclass(frozen=True)
class Look:
    """One thing to look at, and how."""

    target: str
    says: tuple[str, ...]


@dataclass(frozen=True)
class WearerSheet:
    """The sheet in parts; every part is whole sentences."""

    lens: str
    desk: str | None
    looks: tuple[Look, ...]
    limits: tuple[str, ...]
    safety: tuple[str, ...]
    handling: tuple[str, ...]
    first_days: tuple[str, ...]
    come_back: tuple[str, ...]
    warning: str
    warnings: tuple[str, ...]
    when: tuple[str, ...] = ()


def wearer_sheet(
    *,
    case: Case,
    result: Result,
    option: OptionResult,
    dates: Dates | None = None,
    plan: PlanResult | None = None,
    judgements: Judgements | None = None,
) -> WearerSheet:
    """Return the sheet for one pair.

    plan: the pairs that share the day; where this is one of several, the sheet says when to wear
    which.
    """
    judged = judgements or Judgements.standard()
    kinds = tables.by_id("lens_kinds")
    move = result.recommendation.move_first
    when = _when(plan, option, result)
    come_back = (
        []
        if dates is None
        else [
            _say("come_first", first=day_words(dates.first)),
            _say("come_late", by=day_words(dates.decide_by)),
        ]
    )
    return WearerSheet(
        lens=_say("lens", lens=kinds[option.kind]["wearer_name"]),
        desk=None if move is None else _desk(move),
        looks=tuple(
            _look(seen, option, target.distance_cm, judged)
            for seen, target in zip(option.targets, case.targets, strict=True)
        ),
        limits=_limits(option, case),
        safety=_safety(case, option),
        handling=_handling(option),
        first_days=(_first_days(option, two=bool(when)), _say("settle")),
        come_back=tuple(come_back),
        warning=_say("warn_lead"),
        warnings=(_say("warn_sudden"), _say("warn_double"), _say("warn_red"), _say("warn_hurt")),
        when=when,
    )


def _when(plan: PlanResult | None, option: OptionResult, result: Result) -> tuple[str, ...]:
    """Say what this pair is worn for and what another is; nothing where it serves the day alone."""
    worn = () if plan is None else plan.pairs
    if len(worn) < 2 or option.option not in [pair.option for pair in worn]:
        return ()
    kinds, names = tables.by_id("lens_kinds"), {one.option: one.kind for one in result.options}
    said = []
    for pair in sorted(worn, key=lambda one: one.option != option.option):
        parts = ", ".join(pair.activities)
        kind = names.get(pair.option)
        if pair.option == option.option:
            said.append(_say("wear_for", parts=parts))
        elif kind is not None and not KINDS[kind].is_lens:
            said.append(_say("take_off_for", parts=parts))
        elif kind is not None:
            said.append(_say("change_for", lens=kinds[kind]["wearer_name"], parts=parts))
    return tuple(said)


def _say(identity: str, **values: str) -> str:
    return fill("wearer_sheet", identity, **values)


def _look(
    target: OptionTarget, option: OptionResult, distance_cm: float, judgements: Judgements
) -> Look:
    """Say how to look at one thing; its middle is promised nothing that most of it does not get."""
    centre = target.centre
    sharp_share = _sharp_share(target)
    usable_share = sharp_share + target.blurred_share
    if centre.chin_up_deg is None or usable_share < MOST_SHARE:
        return Look(target.target, (_say(_unclear(target)),))
    part = _part(option.kind, centre.drop_mm, judgements)
    if target.comfortable_share < MOST_SHARE:
        effort = "all_effort" if sharp_share >= CLEAR_SHARE else "most_effort"
        says = [part, _say(effort if sharp_share >= MOST_SHARE else "most_blurred")]
        if usable_share < CLEAR_SHARE:
            says.append(_say("part_clear"))
        return Look(target.target, tuple(says))
    says = [part, _head(centre.chin_up_deg, judgements)]
    turn_deg = target.head_turn_deg
    if turn_deg is not None and turn_deg > judgements.wearer_head_turn_deg:
        says.append(_say("turn"))
    if target.clear_range_cm is not None:
        says.append(_range(target.clear_range_cm, option, distance_cm))
    if usable_share < CLEAR_SHARE:
        says.append(_say("part_clear"))
    elif target.comfortable_share < judgements.wearer_effort_share:
        much = (1.0 - target.comfortable_share) / 2
        parts = (("part_effort", target.awkward_share), ("part_blurred", target.blurred_share))
        says += [_say(identity) for identity, share in parts if share >= much]
    return Look(target.target, tuple(says))


def _unclear(target: OptionTarget) -> str:
    """Return the sentence for a target whose middle, or most of it, is not clear."""
    if target.comfortable_share >= MOST_SHARE:
        return "part_clear"
    nothing = target.comfortable_share <= 0.0
    return "not_clear" if nothing else "most_not_clear"


def _part(kind: str, drop_mm: float | None, judgements: Judgements) -> str:
    if KINDS[kind].is_single_vision or drop_mm is None:
        return _say("part_any")
    if drop_mm < -judgements.wearer_top_part_mm:
        return _say("part_up")
    if drop_mm < judgements.wearer_ahead_mm:
        return _say("part_ahead")
    is_low = drop_mm >= judgements.wearer_low_part_mm
    return _say("part_low" if is_low else "part_little_down")


def _head(chin_up_deg: float, judgements: Judgements) -> str:
    if abs(chin_up_deg) <= judgements.comfortable_chin_up_max_deg:
        return _say("head_level")
    degrees = f"{abs(chin_up_deg):.0f}"
    return _say("head_up" if chin_up_deg > 0 else "head_down", deg=degrees)


def _range(clear: ClearRange, option: OptionResult, distance_cm: float) -> str:
    told = told_range(clear, option, distance_cm=distance_cm)
    if told is None:
        return _say("clear_there")
    near, far = told.near, told.far
    if near is None:
        return _say("no_limit") if far is None else _say("range_within", far=length(far))
    if far is None:
        return _say("range_open", near=length(near))
    return _say("range", near=length(near), far=length(far))


def _limits(option: OptionResult, case: Case) -> tuple[str, ...]:
    """Return the far limit of the pair, eyes at rest, straight ahead; a pair for far has none.

    What is clear beyond it in another posture is named, for the sheet has just said so.
    """
    if option.covers_distance:
        return (_say("no_limit"),)
    limit = far_limit_cm(option)
    if limit is None:
        return ()
    said = [_say("limit", far=length(limit))]
    beyond = [
        seen.target
        for seen, target in zip(option.targets, case.targets, strict=True)
        if target.distance_cm > limit and _sharp_share(seen) >= MOST_SHARE
    ]
    if beyond:
        said.append(_say("beyond_limit", targets=capital(", ".join(beyond))))
    return (" ".join(said),)


def _sharp_share(target: OptionTarget) -> float:
    """Return how much of a target is sharp, in whatever posture."""
    return target.comfortable_share + target.awkward_share


def _handling(option: OptionResult) -> tuple[str, ...]:
    """Return how to wear them; one power needs no aim of the nose."""
    any_part = KINDS[option.kind].is_single_vision
    return (*(() if any_part else (_say("nose"),)), _say("hands"), _say("sit"))


def _first_days(option: OptionResult, *, two: bool) -> str:
    """Say how to begin; who may not walk in them has to change, so only the desk is meant."""
    if two:
        return _say("first_of_two")
    return _say("first" if option.covers_distance else "first_at_desk")


def _safety(case: Case, option: OptionResult) -> tuple[str, ...]:
    if not option.covers_distance:
        return _say("not_driving"), _say("not_stairs")
    said = []
    if KINDS[option.kind].is_lens and not KINDS[option.kind].is_single_vision:
        said.append(_say("stairs_chin"))
    if any("driving" in activity.needs for activity in case.activities):
        said.append(_say("ask_driving"))
    return tuple(said)


def _desk(move: MoveResult) -> str:
    return _say("desk", target=move.target, change=shift(**move.change.model_dump()))
