"""The home check: what a wearer can find out before the visit.

Answers in, plain sentences out: what the glasses worn now ask of the head at this desk, what
moving the screen would do, which kinds of lens are worth asking about, what to ask, and what such
a check cannot see. Everything is computed over what is not known and told as a range. No lens
strength, eye distance or lens height is among the results, and no result says that nothing is
wrong.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict

from engine.answer import cautions
from engine.case.read import build_case
from engine.case.results import Told
from engine.errors import InputRefusedError
from engine.home import findings
from engine.home.answers import SCREEN_NAMES, check_measures, next_question
from engine.home.case import case_content, desk_hours
from engine.home.crowd import best_move, crowd_of, held
from engine.home.findings import Fact, KindToAsk, Posture
from engine.home.kinds import compare
from engine.home.text import say, thing
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.case.model import Case
    from engine.home.answers import HomeAnswers
    from engine.home.crowd import Crowd, Held, ScreenMove
    from engine.home.kinds import Comparison

PEOPLE = 48
"""Size of the crowd: its tenth from either end is then the fifth person."""
TOO_YOUNG = "under_40"
SEE_FIRST = ("amblyopia", "recent_eye_surgery", "one_eye_blur", "distorted_lines", "new_headache",
             "fluctuating_sight")  # fmt: skip
"""Told things for which the eyes are looked at before anything else."""


class HomeResult(BaseModel):
    """Everything the home check has to say.

    Attributes:
        stops: what to do about the warning signs; when there are any, there is nothing else.
        first: things to be looked at before any lens.
        move_cm: how much lower and how much farther (negative: nearer) to put the screen.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    stops: tuple[str, ...] = ()
    headline: str = ""
    first: tuple[str, ...] = ()
    postures_lead: str = ""
    postures: tuple[Posture, ...] = ()
    habits: tuple[str, ...] = ()
    move: tuple[str, ...] = ()
    move_cm: tuple[int, int] | None = None
    now_says: str = ""
    kinds: tuple[KindToAsk, ...] = ()
    kinds_say: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()
    facts: tuple[Fact, ...] = ()
    doubts: tuple[str, ...] = ()


def red_flags(answers: HomeAnswers) -> tuple[str, ...]:
    """For each warning sign where to go and how fast; nothing where none stands open.

    >>> from engine.home.answers import HomeAnswers
    >>> red_flags(HomeAnswers(flags=()))
    ()
    """
    return tuple(cautions.wearer_text(Told(id=flag, text="")) for flag in answers.open_flags)


def home_result(
    answers: HomeAnswers, *, people: int = PEOPLE, judgements: Judgements | None = None
) -> HomeResult:
    """What the answers come to.

    Raises
        InputRefusedError: a question is still open, or a measure that blocks stands.
    """
    if stops := red_flags(answers):
        return HomeResult(stops=stops)
    open_step = next_question(answers)
    if open_step is not None:
        raise InputRefusedError(field=open_step, value="nothing", allowed="an answer")
    doubts = check_measures(answers)
    if blocking := [doubt for doubt in doubts if doubt.blocks]:
        raise InputRefusedError(field=blocking[0].step, value="?", allowed=blocking[0].text)
    case = build_case(case_content(answers))
    told = findings.first_things(answers)
    common = {
        "first": told,
        "facts": tuple(findings.facts(answers, case)),
        "doubts": tuple(doubt.text for doubt in doubts),
        "unseen": tuple(findings.unseen()),
    }
    if answers.age == TOO_YOUNG:
        ask = tuple(findings.to_ask(answers, None))
        return HomeResult(headline=say("visit_young"), ask=ask, **common)
    return _computed(answers, case, people, judgements or Judgements.standard(), common)


def _computed(
    answers: HomeAnswers,
    case: Case,
    people: int,
    judgements: Judgements,
    common: dict[str, Any],
) -> HomeResult:
    crowd = crowd_of(
        case, age=answers.age or "", glasses=answers.glasses, people=people, judgements=judgements
    )
    postures = held(crowd, judgements=judgements)
    found = compare(crowd, glasses=answers.glasses, judgements=judgements)
    worn = findings.worn_words(answers)
    move, move_says = _move(answers, case, crowd, postures, judgements)
    return HomeResult(
        headline=_headline(answers, found, move),
        postures_lead=findings.postures_lead(postures, worn),
        postures=tuple(findings.posture(one) for one in postures),
        habits=tuple(findings.habits(answers, postures)),
        move=move_says,
        move_cm=None if move is None else (move.lower_cm, move.farther_cm),
        now_says=findings.now_says(found, answers),
        kinds=tuple(findings.kind_to_ask(one, found.day_h, answers) for one in found.kinds),
        kinds_say=tuple(findings.kinds_say(found, answers)),
        ask=tuple(findings.to_ask(answers, found)),
        **common,
    )


def _headline(answers: HomeAnswers, found: Comparison, move: ScreenMove | None) -> str:
    if set(answers.tell or ()) & set(SEE_FIRST):
        return say("visit_prescriber")
    if found.kinds or move or answers.bothers:
        return say("visit_worth")
    return say("visit_numbers")


def _move(
    answers: HomeAnswers,
    case: Case,
    crowd: Crowd,
    postures: Sequence[Held],
    judgements: Judgements,
) -> tuple[ScreenMove | None, tuple[str, ...]]:
    """What moving the screen most looked at would do."""
    if not postures:
        return None, ()
    hours = desk_hours(answers)
    at = max(range(len(answers.screens or ())), key=lambda one: hours.get(SCREEN_NAMES[one], 0.0))
    name, target = SCREEN_NAMES[at], case.targets[at]
    if not target.movable:
        return None, (say("move_fixed", target=thing(name)),)
    before = next(one.clear_share for one in postures if one.target == name)
    move = best_move(crowd, case, name, before=before, judgements=judgements)
    says = [say("move_none", target=thing(name))]
    if move is not None:
        says = list(findings.move_says(move, findings.worn_words(answers)))
    if target.laptop:
        says.append(say("move_laptop"))
    return move, tuple(says)
