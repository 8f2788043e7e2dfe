"""Say what the law asks of an employer, country by country, and what an employer may hold.

Dated data, not legal advice. The line of the United Kingdom and that of the European Union differ
since the judgment C-392/21; every card belongs to one line, and lines are never put together. The
slip an employer may hold is made by `engine.team.slip`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from engine import tables
from engine.errors import InputRefusedError
from engine.wording import say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

NOT_LEGAL_ADVICE = say("team_not_legal_advice")
STALE_AFTER_MONTHS = 12
ACROSS_ZONES = timedelta(days=1)
"""The date of one part of the world is a day behind that of another."""
ELSEWHERE = "another country"
"""Chosen where no card fits: nothing is known of the law there."""
VERDICTS = {
    "falls_short": "falls short of the duty",
    "unknown": "we do not know",
    "meets": "meets the duty",
    "beyond": "goes beyond the duty",
}
"""What the law makes of a policy, the one that decides first: the worst of its rules."""
LINES = {"uk": "United Kingdom", "eu": "European Union and its members", "us": "United States"}


@dataclass(frozen=True)
class RuleCard:
    """One rule of one country.

    Attributes:
        line: uk, eu or us; cards of different lines are not to be combined.
        for_everyone: it gives an eye test to everybody who works at a screen.
        meaning: in plain words. date_checked, how_checked: when and from what.
        stale: older than 12 months. clock_behind: this computer's date is before that day, so that
            nothing can be said of its age. warning: what to say then, else "".
    """

    id: str
    country: str
    line: str
    for_everyone: bool
    meaning: str
    source: str
    locator: str
    date_checked: date
    how_checked: str
    stale: bool
    clock_behind: bool = False

    @property
    def warning(self) -> str:
        """Return what to say of a card that is too old, or may be."""
        day = self.date_checked.isoformat()
        if self.clock_behind:
            return say("team_rule_ahead", day=day)
        return say("team_rule_old", day=day, months=STALE_AFTER_MONTHS) if self.stale else ""


def countries() -> tuple[str, ...]:
    """Return every country with a card, in the order of the table."""
    return tuple(dict.fromkeys(row["country"] for row in tables.rows("country_rules")))


def cards(*, country: str, today: date) -> tuple[RuleCard, ...]:
    """Return the cards of a country; a member of the Union also gets those of the Union.

    Raises
        InputRefusedError: no card for that country.

    >>> found = cards(country="Ireland", today=date(2027, 11, 26))
    >>> [card.id for card in found], found[0].stale
    (['ie_test', 'eu_test', 'eu_pair'], True)
    """
    if country not in countries():
        raise InputRefusedError(field="country", value=country, allowed=", ".join(countries()))
    found = [_card(row, today) for row in tables.rows("country_rules")]
    own = [card for card in found if card.country == country]
    union = [card for card in found if card.country == "European Union"]
    of_union = own[0].line == "eu" and country != "European Union"
    return (*own, *union) if of_union else tuple(own)


@dataclass(frozen=True)
class Standing:
    """What the rules of a country make of a policy.

    Attributes:
        verdict: one of VERDICTS. why: in a sentence. rule: the card that decides; None where no
            card says anything of it.
    """

    verdict: str
    why: str
    rule: RuleCard | None


NOT_KNOWN = Standing("unknown", say("team_no_rule"), None)


def standing(policy: str, *, found: Sequence[RuleCard]) -> Standing:
    """Return what the cards of a country make of a policy: the worst, the last of equal ones.

    >>> found = cards(country="Germany", today=date(2026, 11, 26))
    >>> standing("contribution", found=found).verdict
    'falls_short'
    """
    judged = {(row["rule"], row["policy"]): row for row in tables.rows("policy_law")}
    said = [(judged[card.id, policy], card) for card in found if (card.id, policy) in judged]
    if not said:
        return NOT_KNOWN
    order = list(VERDICTS)
    worst = min(order.index(row["verdict"]) for row, _ in said)
    row, card = [one for one in said if order.index(one[0]["verdict"]) == worst][-1]
    return Standing(row["verdict"], row["why"], card)


def may_hold() -> tuple[tuple[bool, str, str], ...]:
    """Return what an employer may and may not hold of a worker's eyes: (may, text, source)."""
    return tuple(
        (row["may_hold"] == "yes", row["text"], row["source"])
        for row in tables.rows("employer_may_hold")
    )


def _card(row: Mapping[str, str], today: date) -> RuleCard:
    checked = date.fromisoformat(row["date_checked"])
    return RuleCard(
        id=row["id"],
        country=row["country"],
        line=row["line"],
        for_everyone=row["tests_for"] == "everyone",
        meaning=row["meaning"],
        source=row["source"],
        locator=row["locator"],
        date_checked=checked,
        how_checked=row["how_checked"],
        stale=_months_between(checked, today) >= STALE_AFTER_MONTHS,
        clock_behind=today < checked - ACROSS_ZONES,
    )


def _months_between(earlier: date, later: date) -> int:
    """Return whole months from one day to another."""
    months = 12 * (later.year - earlier.year) + later.month - earlier.month
    return months - (later.day < earlier.day)
