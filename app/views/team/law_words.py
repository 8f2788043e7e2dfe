"""Words about the law, the evidence and what may be held, for the Team page. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.draw.svg import escaped
from engine.team.law import NOT_LEGAL_ADVICE, VERDICTS, RuleCard, Standing, standing
from engine.team.policies import POLICIES
from engine.team.tables import Shown
from engine.units import day_words
from engine.wording import capital, say


@dataclass(frozen=True)
class Law:
    """The country chosen, "" where none is, and what its rules make of each policy."""

    country: str
    cards: tuple[RuleCard, ...] = ()

    @property
    def of(self) -> str:
        """Return the country, as it is said after "the law of"."""
        article = "the " if self.country.startswith(("United", "European")) else ""
        return article + self.country

    @property
    def tests_for_all(self) -> bool:
        """Tell whether a rule gives an eye test to everybody at a screen."""
        return any(card.for_everyone for card in self.cards)

    def standing(self, policy: str) -> Standing:
        """Return what the rules make of a policy."""
        return standing(policy, found=self.cards)

    def falls_short(self, policy: str) -> bool:
        """Tell whether a policy is less than the rules ask."""
        return self.standing(policy).verdict == "falls_short"

    def called(self, policy: str) -> str:
        """Return the name of a policy; doing nothing is named for what the law makes of it."""
        if policy == "nothing" and self.falls_short(policy):
            return "No change (less than the law asks)"
        return POLICIES[policy]

    def verdict(self, policy: str) -> str:
        """Return what the rules make of a policy, in a few words."""
        if not self.country:
            return "no country chosen"
        if policy != "nothing" and self.falls_short(policy):
            return "falls short where a special pair is needed"
        return VERDICTS[self.standing(policy).verdict]


def law_whys(shown: Sequence[Shown], law: Law) -> list[str]:
    """Say why the rules make what they do of policies; those of which the same is said together."""
    found: dict[str, list[str]] = {}
    for one in shown:
        found.setdefault(law.standing(one.policy).why, []).append(law.called(one.policy))
    return [f"{'; '.join(names)}: {why}" for why, names in found.items()]


def tests_words(law: Law) -> str:
    """Return for whom eye tests are counted."""
    if law.tests_for_all:
        return say("team_eye_tests_counted_for", of=law.of)
    return say("team_eye_tests_not_counted")


def evidence_list(rows: Sequence[Mapping[str, str]]) -> str:
    """Return claims with what was found and how sure it is; every word is escaped."""
    return f'<ul class="lg-claims">{"".join(_claim(row) for row in rows)}</ul>'


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
    """Return the rules of a country with their sources; a rule not checked for long says so."""
    before = ("", *(card.country for card in cards))
    said = "".join(
        "<li>"
        + (f'<p class="lg-claim">{escaped(card.country)}</p>' if card.country != last else "")
        + f'<p class="lg-found">{escaped(card.meaning)}</p>'
        + (f'<p class="lg-flag">{escaped(card.warning)}</p>' if card.warning else "")
        + f'<p class="lg-from">{escaped(where(card))}. Checked on '
        f"{escaped(day_words(card.date_checked))}: {escaped(card.how_checked)}.</p></li>"
        for card, last in zip(cards, before, strict=False)
    )
    return f'<ul class="lg-claims">{said}</ul><p class="lg-quiet">{escaped(NOT_LEGAL_ADVICE)}</p>'


def where(card: RuleCard) -> str:
    """Return the source and the place in it."""
    return card.source if card.locator == "-" else f"{card.source}, {card.locator}"


def hold_list(rows: Sequence[tuple[bool, str, str]], *, may: bool) -> str:
    """Return what an employer may hold, or may not."""
    said = "".join(
        f'<li><p class="lg-found">{escaped(text)}</p><p class="lg-from">'
        f"{escaped(capital(source))}.</p></li>"
        for allowed, text, source in rows
        if allowed is may
    )
    return f'<ul class="lg-claims">{said}</ul>'
