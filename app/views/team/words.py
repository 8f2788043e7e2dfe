"""Words and cells of the Team page, for a reader who knows no optics. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from app.draw.svg import escaped
from app.form.typed import Refused
from app.views.team.charts import Bar, figure, rounded
from app.views.team.law_words import Law
from engine.errors import InputRefusedError, Limits
from engine.roster.rows import Problem
from engine.team.policies import (
    EARNS_H,
    PAIR_WORN_YEARS,
    POLICIES,
    PRICES,
    UPTAKE_NOT_SAID,
    Assumptions,
    PolicyTotal,
    Range,
    Spread,
    top_up_uptake,
    uptake_of,
)
from engine.team.privacy import DEFAULT_THRESHOLD, HIDDEN, LOWEST_THRESHOLD
from engine.team.tables import Shown
from engine.units import parse_number
from engine.wording import say

COMFORTABLE = say("team_comfortable")
WHAT = f"{say('team_lead')} {COMFORTABLE}"
PRIVACY = say("team_privacy")
NOTE = say("team_note")
"""Said in every row of a file of figures, which may be handed on without its page."""


def how_blurred(*, typed: bool) -> str:
    """Return what was done to the figures, and what follows for a reader of them."""
    if typed:
        return say("team_counts_rounded_up_or")
    return say("team_protect_each_person_about")


LONG = {
    "nothing": "Nothing is paid for: everyone keeps the glasses and the desk of today",
    "general_for_all": "New all-distance glasses (general progressives) for everyone old enough to "
    "need help with near, nothing else",
    "screen_pair": "Glasses for the screen (office or computer pair) for those who gain enough",
    "desk_first": "Screens are moved first; then glasses for the screen for those who still gain "
    "enough",
    "contribution": "A fixed contribution to glasses for the screen; the worker pays the rest",
}
PRICE_LABELS = {
    "eye_test": "One eye test",
    "general_pair": "One pair of all-distance glasses",
    "screen_pair": "One pair of screen glasses",
    "desk_move": "Moving one screen",
    "contribution": "Fixed contribution, each",
    "setup": "Set-up, once",
}
SHOWN_COUNTS = ("helped", "gained_h", "offered", "pairs", "desks")
HEADINGS = (
    "Policy",
    "People helped",
    "Comfortable hours a day gained, all together",
    "Eye tests",
    "Pairs bought",
    "Screens moved",
    "Cost to you over the life of a pair",
    "Paid by workers",
    "Cost a year for each comfortable hour a day",
)
COLUMNS = {
    "policy": "Policy",
    "people": "People",
    **{
        f"{name}_{part}": f"{words}, {said}"
        for name, words in zip(
            (*SHOWN_COUNTS, "cost", "top_up", "cost_per_hour"), HEADINGS[1:], strict=True
        )
        for part, said in (("low", "low"), ("mid", "likely"), ("high", "high"))
    },
    "no_price_for": "No price given for",
    "age": "Age",
    "screen": "Screen",
    "assumption": "Assumption",
    "gained_h_low_end": "Hours, first end",
    "gained_h_high_end": "Hours, second end",
    "cost_low_end": "Cost, first end",
    "cost_high_end": "Cost, second end",
    "gained_h": "Hours",
}
"""Columns of a file as the page calls them."""
GROUP_HEADINGS = ("Age and screen", "People", "People helped", "Comfortable hours a day gained")
RANGES = say("team_ranges_meant")
TOO_FEW = say("team_too_few")


def why_groups(shown: Shown, threshold: int, assumed: Assumptions) -> str:
    """Say why ages stand together, and how large a group would stand alone."""
    least = max(threshold, DEFAULT_THRESHOLD)
    takes = ""
    share = _share_helped(shown, assumed)
    if 0.0 < share < 1.0:
        people = figure(rounded(5 * math.ceil(least / min(share, 1.0 - share) / 5)))
        takes = f", which takes about {people} people"
    said = [say("team_groups_joined", least=figure(least), takes=takes)]
    if HIDDEN in shown.groups.to_numpy():
        said.append(say("team_groups_hidden", threshold=figure(threshold)))
    return " ".join(said)


def _share_helped(shown: Shown, assumed: Assumptions) -> float:
    """Return the share of people in groups where any are helped, if all offered take it up."""
    told = shown.groups[shown.groups["helped_mid"] != HIDDEN]
    told = told[told["helped_mid"] > 0.0] if len(told) else told
    taken = uptake_of(shown.policy, assumed).mid
    if not len(told) or taken <= 0.0:
        return 0.0
    return float(told["helped_mid"].sum() / told["people"].sum() / taken)


def assumptions(answers: Mapping[str, Any], *, tests_for_all: bool) -> tuple[Assumptions, Refused]:
    """Return what was typed, and what of it is refused; a refused value stands for none."""
    refused = Refused()

    def read(name: str, most: float = 1e6) -> Range | None:
        try:
            return Range.read(str(answers.get(name, "")), field=name, most=most)
        except InputRefusedError as refusal:
            refused[name] = refusal
            return None

    def share(name: str) -> Range | None:
        found = read(name, most=100.0)
        return None if found is None else Range(found.low / 100, found.high / 100)

    def one(name: str, limits: Limits) -> float | None:
        text = str(answers.get(name, ""))
        if not text.strip():
            return None
        try:
            value = parse_number(text, field=name)
            if limits.side(value):
                raise InputRefusedError(
                    field=name, value=text, allowed=limits.words, limits=limits, number=value
                )
        except InputRefusedError as refusal:
            refused[name] = refusal.within(limits.words)
            return None
        return value

    uptake = share("team.uptake") or UPTAKE_NOT_SAID
    years = one("team.years", Limits(0.25, 20.0, unit="years"))
    earns = one("team.earns_h", Limits(0.25, 8.0, unit="h"))
    return (
        Assumptions(
            earns_h=EARNS_H if earns is None else earns,
            uptake=uptake,
            contribution_uptake=share("team.contribution_uptake") or top_up_uptake(uptake),
            prices={name: read(f"team.price.{name}") for name in PRICES},
            years=PAIR_WORN_YEARS if years is None else years,
            tests_for_all=tests_for_all,
        ),
        refused,
    )


def threshold(text: str) -> int:
    """Return the smallest group shown.

    Raises
        InputRefusedError: not a whole number, or too low.
    """
    if not text.strip():
        return DEFAULT_THRESHOLD
    limits = Limits(LOWEST_THRESHOLD, 1000)
    try:
        value = parse_number(text, field="team.threshold")
    except InputRefusedError as refusal:
        raise refusal.within(limits.words) from None
    if value != int(value) or limits.side(value):
        raise InputRefusedError(
            field="team.threshold",
            value=text,
            allowed=f"a whole number of people, {limits.words}",
            limits=limits,
            number=value,
        )
    return int(value)


def spread_words(spread: Spread) -> str:
    """Return the middle with its range."""
    return Bar("", (spread.low, spread.mid, spread.high)).figures


def range_words(found: Range | None, why: str) -> str:
    """Return low to high, or why there is none."""
    if found is None:
        return why
    ends = dict.fromkeys(figure(rounded(end)) for end in (found.low, found.high))
    return " to ".join(ends)


def two_digits(found: Range | None) -> Range | None:
    """Return money for an hour, no finer than the counts it is made of."""
    return found and Range(*(float(f"{end:.2g}") for end in (found.low, found.high)))


def headings(law: Law) -> tuple[str, ...]:
    """Return the columns of the policies side by side."""
    return (*HEADINGS, f"By the law of {law.of}" if law.country else "By the law")


def policy_cells(shown: Sequence[Shown], assumed: Assumptions, law: Law) -> list[list[str]]:
    """Return policies side by side, a row each."""
    return [
        [law.called(one.policy), *_cells(one, assumed), law.verdict(one.policy)] for one in shown
    ]


def _cells(shown: Shown, assumed: Assumptions) -> list[str]:
    found = shown.total
    if found is None:
        return [HIDDEN] * (len(HEADINGS) - 1)
    no_price = f"no price given: {', '.join(found.no_price_for)}"
    counts = [spread_words(getattr(found, name)) for name in SHOWN_COUNTS]
    if found.policy == "nothing":
        return [*counts, "none", "nothing", "none"]
    missing = no_price if found.no_price_for else "nothing gained"
    both = assumed.prices.get("screen_pair"), assumed.prices.get("contribution")
    gives = found.policy == "contribution"
    add = range_words(found.top_up, "no price given" if None in both else "none")
    return [
        *counts,
        range_words(found.cost, no_price),
        add if gives else "nothing",
        range_words(two_digits(found.cost_per_hour), missing),
    ]


def about_policies(law: Law) -> str:
    """Return each policy's name, what it means, and what the law makes of it and why."""
    said = "".join(
        f"<li><b>{escaped(law.called(name))}</b>: {escaped(_about(name, law))}</li>"
        for name in POLICIES
    )
    return f'<ul class="lg-quiet">{said}</ul>'


def _about(policy: str, law: Law) -> str:
    if not law.country:
        return f"{LONG[policy]}."
    return f"{LONG[policy]}. By law: {law.verdict(policy)}. {law.standing(policy).why}"


def uptake_cells(by_share: Mapping[float, Sequence[Shown]], law: Law) -> list[list[str]]:
    """Return what each policy comes to at several uptakes; of those that cost something."""
    found: dict[str, list[str]] = {}
    for shown in by_share.values():
        for one in shown:
            if one.policy != "nothing":
                row = found.setdefault(one.policy, [law.called(one.policy)])
                row.append(_at_uptake(one.total))
    return list(found.values())


def _at_uptake(found: PolicyTotal | None) -> str:
    if found is None:
        return HIDDEN
    cost = "" if found.cost is None else f", for {range_words(found.cost, '')}"
    return f"{figure(found.helped.mid)} helped, {figure(found.gained_h.mid)} h a day{cost}"


def all_hidden(shown: Sequence[Shown]) -> bool:
    """Tell whether nothing is shown of any policy, so that a chart would be empty."""
    return all(one.total is None for one in shown if one.policy != "nothing")


def bars(shown: Sequence[Shown], figure_of: str, law: Law) -> list[Bar]:
    """Return one figure of every policy for a chart."""
    return [_bar(one, figure_of, law) for one in shown]


def cost_bars(shown: Sequence[Shown], law: Law) -> list[Bar]:
    """Return the cost of every policy that has one."""
    return bars([one for one in shown if one.policy != "nothing"], "cost", law)


def _bar(shown: Shown, figure_of: str, law: Law) -> Bar:
    label, found = law.called(shown.policy), shown.total
    spread = None if found is None else getattr(found, figure_of)
    if spread is None:
        return Bar(label, None, HIDDEN if found is None else "no price given")
    return Bar(label, (spread.low, spread.mid, spread.high))


def group_cells(groups: pd.DataFrame) -> list[list[str]]:
    """Return the groups of a policy, a row each."""
    return [
        [
            f"{row['age']}, {row['screen']}",
            _cell(row["people"]),
            _three(row, "helped"),
            _three(row, "gained_h"),
        ]
        for row in groups.to_dict("records")
    ]


def _three(row: Mapping[Any, Any], name: str) -> str:
    values = [row[f"{name}_{part}"] for part in ("low", "mid", "high")]
    if HIDDEN in values:
        return HIDDEN
    return Bar("", (float(values[0]), float(values[1]), float(values[2]))).figures


def _cell(value: object) -> str:
    return value if isinstance(value, str) else figure(float(str(value)))


def problem_cells(problems: Sequence[Problem]) -> list[list[str]]:
    """Return what is wrong with rows, a line each."""
    return [[f"row {one.row}", one.column, one.value, one.rule] for one in problems]


def problem_frame(problems: Sequence[Problem]) -> pd.DataFrame:
    """Return the same as a table to take along."""
    return pd.DataFrame(
        [(one.row, one.column, one.value, one.rule) for one in problems],
        columns=["row", "column", "value", "rule"],
    )
