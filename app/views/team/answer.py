"""What to pay for, in a sentence: whom it helps, what it brings and costs, what it rests on. Pure.

Put first is the policy that brings most hours, of those that are shown, cost the worker nothing
and do not fall short of the law. Where others bring about as many, the one that costs least for
them is put first; without prices, the one that buys fewest pairs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.views.team import words as team_words
from app.views.team.charts import figure
from app.views.team.law_words import Law
from app.views.team.words import range_words, spread_words, two_digits
from engine.tables import Judgements
from engine.team.policies import COUNTED, PAID, PRICES, Assumptions, PolicyTotal, Range
from engine.team.privacy import ROUND_TO
from engine.team.tables import Shown
from engine.wording import joined, say

AS_MANY = Judgements.standard().plan_most_share
SURE = say("team_how_sure")
BOUGHT = {
    "eye_test": ("eye test", "eye tests"),
    "general_pair": ("pair of all-distance glasses", "pairs of all-distance glasses"),
    "screen_pair": ("pair of screen glasses", "pairs of screen glasses"),
    "desk_move": ("screen to move", "screens to move"),
}
"""What is paid for, one and many."""


@dataclass(frozen=True)
class Answer:
    """What is said first.

    Attributes:
        policy: put first; "" where none is. says: the sentence. also: how sure, what it rests on,
            what is not compared, what else to know; a sentence or two each.
    """

    policy: str
    says: str
    also: tuple[str, ...] = ()


def answer_of(
    shown: Sequence[Shown], assumed: Assumptions, law: Law, *, worn_assumed: bool, uptake_said: bool
) -> Answer:
    """Return what the figures say first.

    worn_assumed: the glasses worn today are assumed for somebody. uptake_said: by the user.
    """
    paid = [one for one in shown if one.policy != "nothing"]
    known = {one.policy: one.total for one in paid if one.total is not None}
    hidden = [law.called(one.policy) for one in paid if one.total is None]
    if not known:
        return Answer("", team_words.TOO_FEW)
    may = [
        one for name, one in known.items() if name != "contribution" and not law.falls_short(name)
    ]
    gaining = [one for one in may if one.gained_h.mid > 0.0]
    if not gaining:
        people = figure(next(iter(known.values())).people)
        identity = "team_no_gain_shown" if hidden or len(may) < len(known) else "team_no_gain"
        return Answer("", say(identity, people=people))
    most = max(one.gained_h.mid for one in gaining)
    as_many = [one for one in gaining if one.gained_h.mid >= most - max(ROUND_TO, AS_MANY * most)]
    first = min(as_many, key=_dearness)
    error = next(one.sampling_error for one in shown if one.policy == first.policy)
    also = (
        f"{team_words.LONG[first.policy]}. {_bought(first)}",
        f"{team_words.COMFORTABLE} {say('team_helped', least=f'{assumed.earns_h:g}')}",
        f"{SURE} {_sampling(error)}",
        _rests(first, assumed, worn_assumed=worn_assumed, uptake_said=uptake_said),
        *_others(first, as_many, known, hidden, law),
    )
    return Answer(first.policy, _sentence(first, assumed, law, uptake_said=uptake_said), also)


def _dearness(found: PolicyTotal) -> tuple[float, float]:
    cost = math.inf if found.cost_per_hour is None else found.cost_per_hour.mid
    return cost, found.pairs.mid


def _sentence(found: PolicyTotal, assumed: Assumptions, law: Law, *, uptake_said: bool) -> str:
    said = say(
        "team_answer",
        policy=law.called(found.policy),
        helped=spread_words(found.helped),
        people=figure(found.people),
        hours=spread_words(found.gained_h),
        uptake=_taken(assumed.uptake),
        uptake_note="" if uptake_said else " (no uptake was given)",
    )
    return f"{said} {_cost(found, assumed)}"


def _cost(found: PolicyTotal, assumed: Assumptions) -> str:
    if found.cost is None:
        return say("team_no_cost")
    every = "year" if assumed.years == 1.0 else f"{assumed.years:g} years"
    cost = range_words(found.cost, "")
    if found.cost_per_hour is None:
        return say("team_cost", cost=cost, every=every)
    a_year = range_words(two_digits(found.cost_per_hour), "")
    return say("team_cost_hour", cost=cost, every=every, a_year=a_year)


def _bought(found: PolicyTotal) -> str:
    """Return what is paid for and how often, as far as it is surely needed."""
    said = []
    for name in PAID[found.policy]:
        count = getattr(found, COUNTED[name])
        if count.high > 0.0:
            said.append(f"{spread_words(count)} {BOUGHT[name][count.mid != 1.0]}")
    return say("team_bought", things=joined(said))


def _taken(uptake: Range) -> str:
    ends = dict.fromkeys(f"{100 * end:.0f}" for end in (uptake.low, uptake.high))
    return f"{' to '.join(ends)} %"


def _sampling(error: float | None) -> str:
    if error is None:
        return ""
    return say("team_chance", percent=max(math.ceil(100 * error), 1))


def _rests(
    found: PolicyTotal, assumed: Assumptions, *, worn_assumed: bool, uptake_said: bool
) -> str:
    on = [f"an uptake of {_taken(assumed.uptake)}{'' if uptake_said else ' (not given)'}"]
    on.append(f"a pair worn for {assumed.years:g} years")
    on.append(_prices(found.policy, assumed))
    if worn_assumed:
        on.append("glasses worn today that are partly assumed")
    return say("team_assumes", assumptions="; ".join(on))


def _prices(policy: str, assumed: Assumptions) -> str:
    """Return the prices that count, as they were given."""
    asked = {PRICES[name]: assumed.prices.get(name) for name in (*PAID[policy], "setup")}
    given = [f"{name} {range_words(price, '')}" for name, price in asked.items() if price]
    blank = [name for name, price in asked.items() if price is None and name != PRICES["setup"]]
    said = f"prices given: {', '.join(given)}" if given else ""
    none = f"no price for {', '.join(blank)}" if blank else ""
    return "; ".join(filter(None, [said, none]))


def _others(
    first: PolicyTotal,
    as_many: Sequence[PolicyTotal],
    known: dict[str, PolicyTotal],
    hidden: Sequence[str],
    law: Law,
) -> Iterator[str]:
    """Yield what is to be known of the policies not put first."""
    close = [law.called(one.policy) for one in as_many if one.policy != first.policy]
    if close:
        identity = "team_as_many" if first.cost_per_hour else "team_as_many_pairs"
        yield say(identity, policies=_quoted(close))
    short = [name for name in known if law.falls_short(name)]
    if short:
        identity = "team_fall_short" if len(short) > 1 else "team_falls_short"
        yield say(identity, policies=_quoted([law.called(name) for name in short]), country=law.of)
    if hidden:
        yield say("team_not_compared", policies=_quoted(hidden))


def _quoted(names: Sequence[str]) -> str:
    return " and ".join(f"“{name}”" for name in names)
