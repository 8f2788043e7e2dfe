"""From what was computed to the plain sentences of the home check."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict

from engine import tables
from engine.answer import cautions
from engine.case.results import Told
from engine.home.answers import SCREEN_NAMES, choices, worn_kind
from engine.home.text import (
    chin,
    half_hours,
    hour_span,
    length,
    number,
    say,
    say_first,
    tenth,
    thing,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from engine.case.model import Case
    from engine.home.answers import HomeAnswers
    from engine.home.crowd import Held, ScreenMove
    from engine.home.kinds import Comparison, KindWorth


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Fact(_Part):
    """The numbers of one thing looked at, in words; empty where there is none.

    Attributes:
        measured: the distance was measured at home; height_measured: so was the top edge.
    """

    what: str
    distance: str
    measured: bool
    top_edge: str = ""
    height_measured: bool = False
    size: str = ""
    hours: str = ""


class Posture(_Part):
    """What the glasses worn now ask of the head at one thing."""

    target: str
    low_deg: float | None
    high_deg: float | None
    free_deg: float
    blurred_share: float
    clear_share: float
    says: tuple[str, ...]


class KindToAsk(_Part):
    """A kind of lens worth asking about."""

    kind: str
    name: str
    low_h: float
    high_h: float
    says: tuple[str, ...]


def worn_words(answers: HomeAnswers) -> str:
    """What is worn now, as a sentence begins with it."""
    bare = {"bare_far": "worn_bare", "bare_near": "worn_bare", "contacts": "worn_contacts"}
    return say(bare.get(answers.glasses or "", "worn_glasses"))


def posture(one: Held) -> Posture:
    """What the pair worn now asks of the head at one thing."""
    name = thing(one.target)
    middle = say("middle_of", target=name) if one.has_edges else name
    says = []
    if one.chin_up_deg is None or one.blurred_share > number("mostly_blurred_share"):
        says.append(say("posture_blurred", Target=say_first(name)))
    else:
        held_at, free = chin(*one.chin_up_deg), chin(one.free_deg, one.free_deg)
        says.append(say("posture_clear", Target=say_first(middle), chin=held_at, free=free))
        if tenth(one.blurred_share):
            says.append(say("posture_some_blurred", share=tenth(one.blurred_share)))
        top = one.top_deg
        if (
            one.target in SCREEN_NAMES
            and top is not None
            and top.high > one.chin_up_deg.high + number("top_asks_more_deg")
        ):
            says.append(say("posture_top", chin=chin(*top)))
    return Posture(
        target=one.target,
        low_deg=None if one.chin_up_deg is None else one.chin_up_deg.low,
        high_deg=None if one.chin_up_deg is None else one.chin_up_deg.high,
        free_deg=one.free_deg,
        blurred_share=one.blurred_share,
        clear_share=one.clear_share,
        says=tuple(says),
    )


def postures_lead(postures: Sequence[Held], worn: str) -> str:
    """What comes before the postures; what a degree is only where one is said."""
    if not postures:
        return ""
    lead = say("posture_lead", worn=worn)
    degrees = any(_is_clear(one) for one in postures)
    return f"{lead} {say('posture_degrees')}" if degrees else lead


def _is_clear(one: Held) -> bool:
    """Whether the thing is clear to most people with these answers."""
    return one.chin_up_deg is not None and one.blurred_share <= number("mostly_blurred_share")


def habits(answers: HomeAnswers, postures: Sequence[Held]) -> Iterator[str]:
    """What the habits told fit, and what is not known about the pair."""
    if not postures:
        yield say("posture_unknown")
    screens = [one for one in postures if one.target in SCREEN_NAMES]
    if "chin_up" in (answers.coping or ()) and screens:
        asked = [one for one in screens if _asks_chin_up(one)]
        yield say("agrees" if asked else "agrees_not")
    if answers.lens_part in ("top", "middle", "bottom"):
        yield say("part_told", part=choices("lens_part")[answers.lens_part].lower())


def _asks_chin_up(one: Held) -> bool:
    """Whether some part of a screen is not clear, or only with the chin felt to be up."""
    rows = (one.chin_up_deg, one.top_deg)
    return any(row is None or row.high >= number("chin_up_felt_deg") for row in rows)


def move_says(move: ScreenMove, worn: str) -> Iterator[str]:
    """Where to put a screen, and what that brings."""
    away, down, name = length(abs(move.farther_cm)), length(move.lower_cm), thing(move.target)
    if move.lower_cm and move.farther_cm:
        way = "farther away" if move.farther_cm > 0 else "nearer"
        yield say("move_both", target=name, down=down, cm=away, way=way)
    elif move.lower_cm:
        yield say("move_lower", target=name, cm=down)
    else:
        yield say("move_farther" if move.farther_cm > 0 else "move_nearer", target=name, cm=away)
    before, after = tenth(move.before_share), tenth(move.after_share)
    yield say("move_gain", worn=worn, before=before, after=after)


def kind_to_ask(one: KindWorth, day_h: float, answers: HomeAnswers) -> KindToAsk:
    """A kind worth asking about, why, and what it will not do."""
    row = tables.by_id("home_kinds")[one.kind]
    hours = say("kind_hours", hours=hour_span(*one.hours), day=half_hours(day_h))
    says = [row["why"], hours, say("kind_most", target=thing(one.most_at)), row["but"]]
    if one.kind == worn_kind(answers):
        says.insert(0, say("kind_same"))
    return KindToAsk(
        kind=one.kind,
        name=tables.by_id("lens_kinds")[one.kind]["wearer_name"],
        low_h=one.hours.low,
        high_h=one.hours.high,
        says=tuple(says),
    )


def now_says(found: Comparison, answers: HomeAnswers) -> str:
    """The hours that are clear with what is worn now; nothing where that is not known."""
    if found.now is None:
        return ""
    hours, day = hour_span(*found.now), half_hours(found.day_h)
    return say("now_hours", worn=worn_words(answers), hours=hours, day=day)


def kinds_say(found: Comparison, answers: HomeAnswers) -> Iterator[str]:
    """What holds for all the kinds together."""
    if not any((answers.hours or {}).values()):
        yield say("hours_assumed")
    if not found.kinds:
        yield say("kinds_none")
    elif len(found.kinds) > 1:
        yield say("kinds_close")
    new = [one for one in found.kinds if one.kind != worn_kind(answers)]
    if answers.needs and any(one.second_pair for one in new):
        yield say("kind_second")


def to_ask(answers: HomeAnswers, found: Comparison | None) -> Iterator[str]:
    """What to ask at the visit, the most telling first."""
    yield say("ask_distances")
    kinds = () if found is None else found.kinds
    for one in kinds[:2]:
        yield tables.by_id("home_kinds")[one.kind]["ask"]
    yield say("ask_try")
    bothers, needs = set(answers.bothers or ()), set(answers.needs or ())
    asked = {
        "ask_kind": answers.glasses == "unknown",
        "ask_two": any(one.second_pair for one in kinds) and bool(needs),
        "ask_driving": "driving" in needs,
        "ask_stairs": "stairs" in needs,
        "ask_neck": "neck" in bothers,
        "ask_swim": "swimming" in bothers,
        "ask_dry": bool(bothers & {"dry", "glare"}),
        "ask_old": answers.glasses not in ("bare_far", "contacts", None),
    }
    yield from (say(identity) for identity, wanted in asked.items() if wanted)


def unseen() -> Iterator[str]:
    """What this check cannot see."""
    for identity in tables.by_id("home_texts"):
        if identity.startswith("unseen_"):
            yield say(identity)


def facts(answers: HomeAnswers, case: Case) -> Iterator[Fact]:
    """The numbers to bring, in the order of the desk."""
    hours = answers.hours or {}
    for at, target in enumerate(case.targets):
        path, top = f"/targets/{at}", target.top_above_eye_cm
        size = target.diagonal_in
        yield Fact(
            what=say_first(thing(target.name).removeprefix("your ")),
            distance=length(target.distance_cm),
            measured=case.origin.get(f"{path}/distance_cm") == "at_home",
            top_edge="" if top is None else _against(top),
            height_measured=case.origin.get(f"{path}/top_above_eye_cm") == "at_home",
            size="" if size is None else f"{size:g} in, {target.aspect}",
            hours=f"{hours[target.name]:g}" if target.name in hours else "",
        )


def _against(above_eye_cm: float) -> str:
    if abs(above_eye_cm) < 0.5:
        return "level with eyes"
    side = "above" if above_eye_cm > 0 else "below"
    return f"{length(abs(above_eye_cm))} {side} eyes"


def first_things(answers: HomeAnswers) -> tuple[str, ...]:
    """What to tell, or have looked at, before any lens is chosen."""
    told = [*(answers.tell or ())]
    if answers.glasses == "contacts" and "contact_lenses" not in told:
        told.append("contact_lenses")
    return tuple(text for one in told if (text := cautions.wearer_text(Told(id=one, text=""))))
