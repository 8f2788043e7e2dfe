"""Words and cells of the Team page, for a reader who knows no optics. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from app.draw.result_words import capital
from app.draw.svg import escaped
from app.views.team.charts import Bar, figure
from engine.errors import InputRefusedError
from engine.roster.rows import Problem
from engine.team.law import NOT_LEGAL_ADVICE, RuleCard
from engine.team.policies import EARNS_H, POLICIES, PRICES, Assumptions, PolicyTotal, Range, Spread
from engine.team.privacy import DEFAULT_THRESHOLD, HIDDEN, LOWEST_THRESHOLD
from engine.team.tables import Shown
from engine.units import day_words, parse_number

"""Where a fact stands among those collected for this program: of no use to a reader of the page."""
WHAT = (
    "Who in a team would gain from other glasses for the screen, how many hours that is, and what "
    "each way of paying for them costs. An hour counts as comfortable when what is looked at is "
    "clear with the head and the eyes in an easy range."
)
PRIVACY = (
    "No names. What you load stays in this computer's memory for this sitting: it is not "
    "written to disk, logged or sent anywhere. Groups of few people are hidden in every table, "
    "chart and file; other counts are blurred and rounded to 5, so that no figure tells of one "
    "person. Your own file is not protected by this: whoever has it has what it says of each row."
)
NOTE = "counts are blurred and rounded to 5; they may be a few off and may not add up"
"""Said in every row of a file of figures, which may be handed on without its page."""


def how_blurred(*, typed: bool) -> str:
    """Return what was done to the figures, and what follows for a reader of them."""
    if typed:
        return (
            "Counts are rounded to 5, up or down by chance, so figures may not add up; shares and "
            "costs follow from the rounded counts."
        )
    return (
        "So that nobody can be made out, about one person in seven of each group is left out and "
        "as many count twice, always the same for the same team; then counts are rounded to 5, up "
        "or down by chance. A count may be a few people off, and figures may not add up. Shares "
        "and costs follow from the rounded counts."
    )


SHORT = {
    "nothing": "Nothing is changed",
    "general_for_all": "All-distance glasses for all",
    "screen_pair": "Screen glasses where they earn it",
    "desk_first": "Desk first, then screen glasses",
    "contribution": "Fixed contribution",
}
LONG = {
    "nothing": "Nothing is changed",
    "general_for_all": "New all-distance glasses (general progressives) for everyone, nothing else",
    "screen_pair": "Glasses for the screen (office or computer pair) for whom they earn enough",
    "desk_first": "Screens are moved first; then glasses for the screen where they still earn it",
    "contribution": "A fixed contribution to glasses for the screen; the worker pays the rest",
}
PRICE_LABELS = {
    "eye_test": "One eye test",
    "general_pair": "One pair of all-distance glasses",
    "screen_pair": "One pair of screen glasses",
    "desk_move": "Moving one screen",
    "contribution": "Fixed contribution, each",
    "setup": "Setting the policy up, once",
}
HEADINGS = (
    "Policy",
    "People helped",
    "Comfortable hours a day gained, all together",
    "Pairs bought",
    "Screens moved",
    "Cost to you",
    "Workers add",
    "Cost of one comfortable hour",
    "Pays for itself from an uptake of",
)
GROUP_HEADINGS = ("Age and screen", "People", "People helped", "Comfortable hours a day gained")
WHY_HIDDEN = (
    "“hidden” stands where fewer people than the smallest group would be told of: in the group, "
    "among those helped, or among those not helped; and where such a figure would follow from the "
    "others and the total."
)
TOO_FEW = (
    "Too few people for any figure to be shown: in every policy those helped, or those not "
    "helped, may be fewer than the smallest group."
)
BESIDE = {"helped": ("hours", "suitability", "review"), "gained_h": ("desk", "preference")}
"""Rows of team_evidence.csv that stand beside each chart; all stand in the table below."""


def assumptions(answers: Mapping[str, Any]) -> tuple[Assumptions, dict[str, InputRefusedError]]:
    """What was typed, and what of it is refused; a refused value stands for none."""
    refused: dict[str, InputRefusedError] = {}

    def read(name: str, most: float = 1e6) -> Range | None:
        try:
            return Range.read(str(answers.get(name, "")), field=name, most=most)
        except InputRefusedError as refusal:
            refused[name] = refusal
            return None

    def share(name: str) -> Range | None:
        found = read(name, most=100.0)
        return None if found is None else Range(found.low / 100, found.high / 100)

    def one(name: str, low: float, high: float) -> float | None:
        text = str(answers.get(name, ""))
        if not text.strip():
            return None
        try:
            value = parse_number(text, field=name)
            if not low <= value <= high:
                raise InputRefusedError(field=name, value=text, allowed=f"{low:g} to {high:g}")
        except InputRefusedError as refusal:
            refused[name] = refusal
            return None
        return value

    uptake = share("team.uptake") or Range(1.0, 1.0)
    earns = one("team.earns_h", 0.25, 8.0)
    return (
        Assumptions(
            earns_h=EARNS_H if earns is None else earns,
            uptake=uptake,
            contribution_uptake=share("team.contribution_uptake") or uptake,
            prices={name: read(f"team.price.{name}") for name in PRICES},
            days_a_year=one("team.days", 1.0, 366.0),
            years=one("team.years", 0.25, 20.0),
            value_of_hour=one("team.value", 0.0, 10_000.0),
        ),
        refused,
    )


def threshold(text: str) -> int:
    """The smallest group shown.

    Raises
        InputRefusedError: not a whole number, or too low.
    """
    if not text.strip():
        return DEFAULT_THRESHOLD
    value = parse_number(text, field="team.threshold")
    if value != int(value) or not LOWEST_THRESHOLD <= value <= 1000:
        allowed = f"a whole number of people, {LOWEST_THRESHOLD} to 1000"
        raise InputRefusedError(field="team.threshold", value=text, allowed=allowed)
    return int(value)


def spread_words(spread: Spread) -> str:
    """The middle with its range."""
    return Bar("", (spread.low, spread.mid, spread.high)).figures


def range_words(found: Range | None, why: str) -> str:
    """Low to high, or why there is none."""
    if found is None:
        return why
    if found.low == found.high:
        return figure(found.low)
    return f"{figure(found.low)} to {figure(found.high)}"


def policy_cells(shown: Sequence[Shown], assumed: Assumptions) -> list[list[str]]:
    """Policies side by side, a row each."""
    return [_cells(one, assumed) for one in shown]


def _cells(shown: Shown, assumed: Assumptions) -> list[str]:
    found = shown.total
    if found is None:
        return [SHORT[shown.policy], *[HIDDEN] * (len(HEADINGS) - 1)]
    no_price = f"no price given: {', '.join(found.no_price_for)}"
    nothing = found.policy == "nothing"
    missing = no_price if found.no_price_for else "nothing gained"
    per_hour = "none" if nothing else range_words(found.cost_per_hour, missing)
    if found.cost_per_hour is not None and found.per != "comfortable hour":
        per_hour += f" for each {found.per}"
    both = assumed.prices.get("screen_pair"), assumed.prices.get("contribution")
    gives = found.policy == "contribution"
    add = range_words(found.top_up, "no price given" if None in both else "none")
    return [
        SHORT[shown.policy],
        spread_words(found.helped),
        spread_words(found.gained_h),
        spread_words(found.pairs),
        spread_words(found.desks),
        "none" if nothing else range_words(found.cost, no_price),
        add if gives else "nothing",
        per_hour,
        "none" if nothing else _break_even(found, assumed),
    ]


def _break_even(found: PolicyTotal, assumed: Assumptions) -> str:
    if found.break_even_uptake is not None:
        return f"{100 * found.break_even_uptake:.0f} %"
    return "not computed" if missing_for_break_even(assumed) or found.cost is None else "never"


def missing_for_break_even(assumed: Assumptions) -> list[str]:
    """What was left blank and is needed for the uptake from which a policy pays for itself."""
    asked = {
        "the days a year": assumed.days_a_year,
        "the years a pair is worn": assumed.years,
        "what an hour is worth to you": assumed.value_of_hour,
        "the price of setting the policy up (0 if there is none)": assumed.prices.get("setup"),
    }
    return [name for name, value in asked.items() if value is None]


def policy_list() -> str:
    """Each policy's name with what it means."""
    said = "".join(
        f"<li><b>{escaped(SHORT[name])}</b>: {escaped(LONG[name])}.</li>"
        for name in POLICIES
        if name != "nothing"
    )
    return f'<ul class="lg-quiet">{said}</ul>'


def all_hidden(shown: Sequence[Shown]) -> bool:
    """Whether nothing is shown of any policy, so that a chart would be empty."""
    return all(one.total is None for one in shown if one.policy != "nothing")


def bars(shown: Sequence[Shown], figure_of: str) -> list[Bar]:
    """One figure of every policy for a chart."""
    found = []
    for one in shown:
        if one.total is None:
            found.append(Bar(SHORT[one.policy], None, HIDDEN))
            continue
        spread = getattr(one.total, figure_of)
        found.append(Bar(SHORT[one.policy], (spread.low, spread.mid, spread.high)))
    return found


def cost_bars(shown: Sequence[Shown]) -> list[Bar]:
    """The cost of every policy that has one."""
    found = []
    for one in shown:
        if one.policy == "nothing":
            continue
        cost = None if one.total is None else one.total.cost
        if one.total is None or cost is None:
            why = HIDDEN if one.total is None else "no price given"
            found.append(Bar(SHORT[one.policy], None, why))
        else:
            found.append(Bar(SHORT[one.policy], (cost.low, cost.mid, cost.high)))
    return found


def group_cells(groups: pd.DataFrame) -> list[list[str]]:
    """The groups of a policy, a row each."""
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


def headline(shown: Sequence[Shown], earns_h: float) -> str:
    """What the figures say first."""
    known = [one.total for one in shown if one.total is not None and one.policy != "nothing"]
    if not known:
        return TOO_FEW
    free = [one for one in known if one.policy != "contribution"] or known
    best = max(free, key=lambda one: one.gained_h.mid)
    if best.gained_h.mid <= 0:
        return f"No policy gains anything for these {figure(best.people)} people."
    return (
        f"Most is gained by “{SHORT[best.policy]}”: {spread_words(best.helped)} of about "
        f"{figure(best.people)} people would gain {earns_h:g} or more comfortable hours a day, "
        f"{spread_words(best.gained_h)} hours a day all together."
    )


def problem_cells(problems: Sequence[Problem]) -> list[list[str]]:
    """What is wrong with rows, a line each."""
    return [[f"row {one.row}", one.column, one.value, one.rule] for one in problems]


def problem_frame(problems: Sequence[Problem]) -> pd.DataFrame:
    """The same as a table to take along."""
    return pd.DataFrame(
        [(one.row, one.column, one.value, one.rule) for one in problems],
        columns=["row", "column", "value", "rule"],
    )


def evidence_list(rows: Sequence[Mapping[str, str]], ids: Sequence[str] | None = None) -> str:
    """Claims with what was found and how sure it is; every word is escaped."""
    chosen = [row for row in rows if ids is None or row["id"] in ids]
    return f'<ul class="lg-claims">{"".join(_claim(row) for row in chosen)}</ul>'


def _claim(row: Mapping[str, str]) -> str:
    size = f", {row['size']}" if row["size"] else ""
    return (
        f'<li><p class="lg-claim">{escaped(row["claim"])} '
        f'<span class="lg-sure">how sure: {escaped(row["certainty"])}</span></p>'
        f'<p class="lg-found">{escaped(row["finding"])}</p>'
        f'<p class="lg-from">{escaped(capital(row["design"]) + size)}. '
        f"{escaped(capital(row['source']))}.</p></li>"
    )


def law_list(cards: Sequence[RuleCard]) -> str:
    """The rules of a country with their sources; a rule not checked for long says so."""
    before = ("", *(card.country for card in cards))
    said = "".join(
        "<li>"
        + (f'<p class="lg-claim">{escaped(card.country)}</p>' if card.country != last else "")
        + f'<p class="lg-found">{escaped(card.meaning)}</p>'
        + (f'<p class="lg-flag">{escaped(card.warning)}</p>' if card.warning else "")
        + f'<p class="lg-from">{escaped(_where(card))}. Checked on '
        f"{escaped(day_words(card.date_checked))}: {escaped(card.how_checked)}.</p></li>"
        for card, last in zip(cards, before, strict=False)
    )
    return f'<ul class="lg-claims">{said}</ul><p class="lg-quiet">{escaped(NOT_LEGAL_ADVICE)}</p>'


def _where(card: RuleCard) -> str:
    """The source and the place in it, without the numbers of the collected facts."""
    place = card.locator
    return ", ".join([card.source, place] if place else [card.source])


def hold_list(rows: Sequence[tuple[bool, str, str]], *, may: bool) -> str:
    """What an employer may hold, or may not."""
    said = "".join(
        f'<li><p class="lg-found">{escaped(text)}</p><p class="lg-from">'
        f"{escaped(capital(source))}.</p></li>"
        for allowed, text, source in rows
        if allowed is may
    )
    return f'<ul class="lg-claims">{said}</ul>'
