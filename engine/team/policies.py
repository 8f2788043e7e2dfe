"""Policies of an employer side by side: whom they help, what they gain, what they cost.

Everything is a range: low and high leave out a tenth of the draws on either side and take the ends
of the user's own ranges of prices and uptake. No price is shipped; a blank price is not zero, it
leaves the cost out. Hours are comfortable hours a day, by geometry; nothing is said of pain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from engine.errors import InputRefusedError, Limits
from engine.roster.answer import LOW_SHARE
from engine.tables import Judgements
from engine.units import parse_number, plain_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from engine.team.people import Team
    from engine.team.privacy import Blur

    Floats = NDArray[np.float64]

POLICIES = {
    "nothing": "No change",
    "general_for_all": "All-distance glasses for all",
    "screen_pair": "Screen glasses for those who gain",
    "desk_first": "Desk first, then screen glasses",
    "contribution": "Fixed contribution",
}
"""Names for a reader who knows no optics: all-distance glasses are general progressives, glasses
for the screen an office lens or a computer pair."""
PRICES = {
    "eye_test": "eye test",
    "general_pair": "pair of all-distance glasses",
    "screen_pair": "pair of screen glasses",
    "desk_move": "moving a screen",
    "contribution": "fixed contribution",
    "setup": "set-up",
}
PAID: Mapping[str, tuple[str, ...]] = {
    "nothing": (),
    "general_for_all": ("eye_test", "general_pair"),
    "screen_pair": ("eye_test", "screen_pair"),
    "desk_first": ("eye_test", "screen_pair", "desk_move"),
    "contribution": ("eye_test", "contribution"),
}
"""What each policy pays for, beside setting it up."""
COUNTED = {
    "eye_test": "offered",
    "general_pair": "pairs",
    "screen_pair": "pairs",
    "contribution": "pairs",
    "desk_move": "desks",
}
_JUDGED = Judgements.standard()
EARNS_H = _JUDGED.second_pair_earns_h
"""A pair has to be carried and swapped: it must earn this much, unless the user says another."""
_SMALLEST_H = 0.02
_SAME = 1e-9
"""Draws that differ by less are the same, but for the last bits of a sum."""


_BETWEEN = re.compile(r"(?<=[^-\s])\s*-")
"""The dash of two numbers; one before the first is a minus."""


@dataclass(frozen=True)
class Range:
    """A range the user gives or the program finds; low and high are the same for a single number.

    >>> Range.read("120-180", field="price")
    Range(low=120.0, high=180.0)
    """

    low: float
    high: float

    @property
    def mid(self) -> float:
        """Return the middle of both ends."""
        return (self.low + self.high) / 2

    @classmethod
    def read(cls, text: str, *, field: str, most: float = 1e6) -> Range | None:
        """Read a range as written: one number, or two joined by "-" or "to"; None if blank.

        Raises
            InputRefusedError: not a number, negative, above `most`, or the wrong way round.
        """
        if not text.strip():
            return None
        allowed = f"0 to {most:,.0f}, or two such numbers, the lower first"
        parts = _BETWEEN.split(plain_text(text).replace(" to ", "-"), maxsplit=1)
        try:
            numbers = [parse_number(part, field=field) for part in parts]
        except InputRefusedError as refusal:
            raise refusal.said_of(value=text, allowed=allowed) from None
        low, high = numbers[0], numbers[-1]
        if not 0.0 <= low <= high <= most:
            alone = low if len(numbers) == 1 else None
            raise InputRefusedError(
                field=field, value=text, allowed=allowed, limits=Limits(0.0, most), number=alone
            )
        return cls(low, high)


PAIR_WORN_YEARS = _JUDGED.pair_worn_years
UPTAKE_NOT_SAID = Range(_JUDGED.least_uptake, _JUDGED.most_uptake)


def top_up_uptake(uptake: Range) -> Range:
    """Return the uptake of a contribution where none is said: never above that of a paid pair."""
    low, high = UPTAKE_NOT_SAID.low, UPTAKE_NOT_SAID.high
    return Range(min(low, uptake.low), min(high, uptake.high))


@dataclass(frozen=True)
class Assumptions:
    """What the user says.

    Attributes:
        earns_h: comfortable hours a day a change must earn to count as help.
        uptake: share of those offered that take it up. contribution_uptake: the same where they
            pay the rest themselves.
        prices: by PRICES; left out or None where not known.
        years: how long a pair is worn; what is paid once is spread over them.
        tests_for_all: eye tests are offered to the young too, since the law gives them.
    """

    earns_h: float = EARNS_H
    uptake: Range = Range(1.0, 1.0)
    contribution_uptake: Range = Range(1.0, 1.0)
    prices: Mapping[str, Range | None] = field(default_factory=dict)
    years: float = PAIR_WORN_YEARS
    tests_for_all: bool = False


@dataclass(frozen=True)
class Spread:
    """A number with what is below it in a tenth of the draws, and above it."""

    low: float
    mid: float
    high: float

    def times(self, share: Range) -> Spread:
        """Return those who take it up, of those offered."""
        return Spread(self.low * share.low, self.mid * share.mid, self.high * share.high)

    def rounded(self, blur: Blur) -> Spread:
        """Round each; they keep their order."""
        return Spread(*map(blur.rounded, (self.low, self.mid, self.high)))

    def whole(self) -> Spread:
        """Return whole people or hours, for a share of a rounded count."""
        return Spread(*(float(round(value)) for value in (self.low, self.mid, self.high)))


COUNTS = ("offered", "pairs", "desks", "helped", "gained_h")
Counts: TypeAlias = "Mapping[str, Spread]"
"""Every one of COUNTS by name."""


@dataclass(frozen=True)
class Gain:
    """What a policy does for each person, (people, draws).

    Attributes:
        hours: comfortable hours a day more. helped: by at least `earns_h`.
        pair: gets a pair. desk: has the screen moved. offered: (people,) an eye test.
    """

    hours: Floats
    helped: NDArray[np.bool_]
    pair: NDArray[np.bool_]
    desk: NDArray[np.bool_]
    offered: NDArray[np.bool_]


@dataclass(frozen=True)
class PolicyTotal:
    """A policy for the whole team, or for one group of it.

    Attributes:
        people: in scope. offered: eye tests. pairs, desks: bought, moved.
        helped: people who gain at least `earns_h`. gained_h: comfortable hours a day of all.
        cost: for the employer, with setting up if its price is given; None where a price is
            missing (named in `no_price_for`) or the policy has none. top_up: what the workers pay.
        cost_per_hour: money a year for each comfortable hour a day; None where nothing is gained
            or the cost is not known.
    """

    policy: str
    people: float
    offered: Spread
    pairs: Spread
    desks: Spread
    helped: Spread
    gained_h: Spread
    cost: Range | None
    top_up: Range | None
    no_price_for: tuple[str, ...]
    cost_per_hour: Range | None


def gain_of(
    team: Team, policy: str, *, earns_h: float = EARNS_H, tests_for_all: bool = False
) -> Gain:
    """Return what a policy does for each person.

    tests_for_all: the young are offered an eye test too; they gain nothing by it.
    """
    none = np.zeros(team.present.shape, dtype=bool)
    able = ~team.young
    tested = able | tests_for_all
    if policy == "nothing":
        return Gain(np.zeros(team.present.shape), none, none, none, np.zeros_like(able))
    if policy == "general_for_all":
        hours = np.maximum(team.general - team.present, 0.0)
        return Gain(hours, hours >= earns_h, none | able[:, None], none, tested)
    if policy == "desk_first":
        from_desk = np.maximum(team.present_moved - team.present, 0.0)
        from_pair = team.screen_pair_moved - team.present_moved
        pair = from_pair >= earns_h
        hours = from_desk + np.where(pair, from_pair, 0.0)
        return Gain(hours, hours >= earns_h, pair, from_desk > _SMALLEST_H, tested)
    gained = team.screen_pair - team.present
    pair = gained >= earns_h
    return Gain(np.where(pair, gained, 0.0), pair, pair, none, tested)


def sampling_error(gain: Gain, weight: Floats) -> float | None:
    """Return how far the mean hours may be off by the chance of the draws, as a share of them.

    One standard error; None where nothing is gained or nothing was drawn. weight: (people,).
    """
    by_draw = weight @ gain.hours
    mean = float(by_draw.mean())
    if len(by_draw) < 2 or mean <= 0.0:
        return None
    error = float(by_draw.std(ddof=1) / np.sqrt(len(by_draw)) / mean)
    return error if error > _SAME else None


def draws_needed(pilot: Team, *, rows: int, error: float) -> float:
    """Return how often each row must be drawn for a sampling error of the hours no larger than so.

    It holds for the policies that buy glasses for the screen. pilot: some of the rows, each drawn
    twice at least. rows: all that are drawn. error: one standard error, as a share of the hours.
    """
    needed = [0.0]
    for policy in ("screen_pair", "desk_first"):
        hours = gain_of(pilot, policy).hours
        mean = float(hours.mean())
        if mean > 0.0:
            within = float(hours.var(axis=1, ddof=1).mean())
            needed.append(within / rows / (error * mean) ** 2)
    return max(needed)


def counts_of(gain: Gain, weights: Floats) -> list[Counts]:
    """Return the COUNTS of a policy if everyone offered takes it up, for each set of people.

    weights: (sets, people) whom each one counts for; 0 outside the set.
    """
    by_draw = np.stack([weights @ one for one in (gain.pair, gain.desk, gain.helped, gain.hours)])
    low, high = np.quantile(by_draw, [LOW_SHARE, 1.0 - LOW_SHARE], axis=-1)
    every = np.stack([low, by_draw.mean(axis=-1), high], axis=-1)
    offered = weights @ gain.offered
    return [
        {
            "offered": Spread(*[float(offered[place])] * 3),
            **{
                name: Spread(*every[at, place].tolist())
                for at, name in enumerate(("pairs", "desks", "helped", "gained_h"))
            },
        }
        for place in range(len(weights))
    ]


def uptake_of(policy: str, assumed: Assumptions) -> Range:
    """Return the share of those offered a policy that take it up."""
    return assumed.contribution_uptake if policy == "contribution" else assumed.uptake


def taken_up(policy: str, people: float, counts: Counts, assumed: Assumptions) -> PolicyTotal:
    """Return a policy from its counts at full uptake."""
    uptake = uptake_of(policy, assumed)
    taken = {name: count.times(uptake) for name, count in counts.items()}
    return priced(policy, people, taken, assumed)


def priced(policy: str, people: float, counts: Counts, assumed: Assumptions) -> PolicyTotal:
    """Return counts with what they cost; what is shown is priced from rounded counts."""
    uptake = uptake_of(policy, assumed)
    bill = _bill(policy, counts)
    missing = tuple(name for name in bill if assumed.prices.get(name) is None)
    known = {name: assumed.prices.get(name) or Range(0.0, 0.0) for name in bill}
    setup = assumed.prices.get("setup") or Range(0.0, 0.0)
    cost = None if missing or policy == "nothing" else _sum(bill, known, setup)
    per_hour = None
    if cost is not None:
        per_hour = _per_hour(bill, known, setup, counts["gained_h"], uptake, assumed.years)
    return PolicyTotal(
        policy=policy,
        people=people,
        cost=cost,
        top_up=_top_up(policy, counts["pairs"], assumed),
        no_price_for=tuple(PRICES[name] for name in missing),
        cost_per_hour=per_hour,
        **counts,
    )


def _bill(policy: str, counts: Counts) -> dict[str, Spread]:
    """Return what is paid how often; what is surely not needed is left out."""
    bill = {name: counts[COUNTED[name]] for name in PAID[policy]}
    return {name: count for name, count in bill.items() if count.high > 0.0}


def _sum(bill: Mapping[str, Spread], prices: Mapping[str, Range], setup: Range) -> Range:
    return Range(
        setup.low + sum(count.low * prices[name].low for name, count in bill.items()),
        setup.high + sum(count.high * prices[name].high for name, count in bill.items()),
    )


def _per_hour(
    bill: Mapping[str, Spread],
    prices: Mapping[str, Range],
    setup: Range,
    gained_h: Spread,
    uptake: Range,
    years: float,
) -> Range | None:
    """Return money a year for an hour a day, at the middle uptake: pairs and hours grow with it."""
    if gained_h.low <= 0.0 or uptake.low <= 0.0:
        return None
    least = gained_h.low / uptake.low * uptake.mid
    most = gained_h.high / uptake.high * uptake.mid
    low = setup.low + sum(count.mid * prices[name].low for name, count in bill.items())
    high = setup.high + sum(count.mid * prices[name].high for name, count in bill.items())
    return Range(low / most / years, high / least / years)


def _top_up(policy: str, pairs: Spread, assumed: Assumptions) -> Range | None:
    """Return what workers add to a fixed contribution."""
    price, given = assumed.prices.get("screen_pair"), assumed.prices.get("contribution")
    if policy != "contribution" or price is None or given is None:
        return None
    least, most = max(price.low - given.high, 0.0), max(price.high - given.low, 0.0)
    return Range(pairs.low * least, pairs.high * most)
