"""Blur the figures of a team, and hide those of small groups, before anything of it is shown.

The groups are made of cells (age band and kind of screen), merged by a rule that nothing typed
moves (`engine.team.partition`): every table, chart and file shows sums of them. Four steps lie
between people and a figure.

1. **Stand-ins.** In each group about one person in seven is left out of every count, and as many
   others count twice. Who it is follows from the rows and from a secret of this computer
   (`engine.team.secret`). It is settled once for a team, before anything is counted, so whatever is
   typed afterwards (another threshold, other hours, another present pair) is asked of the same
   blurred team: a hundred answers tell no more of a person than the blurred team holds.
2. **Hiding.** A group under the threshold is hidden, and so is a figure of which fewer than the
   threshold are counted on either side. What would follow from the total takes further groups
   with it (complementary suppression). Since nobody counts more than twice, a figure shown at a
   threshold of 10 is never about fewer than 5 people.
3. **Rounding**, the last step, to 5: up or down by a chance that follows from the secret, the team
   and the two multiples of 5 around the number. Equal numbers of a team round alike whatever they
   are called, and a larger number never rounds below a smaller one.
4. Shares, costs and moves are worked out of rounded counts. Prices and uptakes tell nothing new.

Why the chance hangs on the team and not on the number alone: were it the number alone, a figure
that falls after one person left would have fallen by that person for certain. Why rounding alone
is not enough: each number rounds by a chance of its own, and whoever types the hours a change must
earn up and down gets many numbers, hence a mean. A linear rule learned on invented teams of 45 to
200 (half of the leavers helped) guessed the yes or no of a person who left between two sittings
right in 71 to 74 of 100 from one look and in 78 to 88 from a sweep where figures were rounded
only; with one stand-in in seven it was right in 53 to 59 of 100 either way (50 is a coin).

What this does not protect: the rows themselves, which a coordinator has anyway and can change at
will; many sittings with rows made for the purpose give many blurred teams, and a mean of them.
"""

from __future__ import annotations

import hashlib
import hmac
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import InputRefusedError, Limits
from engine.units import parse_number

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

DEFAULT_THRESHOLD = 10
"""Research networks often use 10 (suppression rules published by one of them)."""
LOWEST_THRESHOLD = 5
ROUND_TO = 5
"""Suppression rules of NHS Digital for published data: rounded to 5."""
HIDDEN = "hidden"
_DIGITS = 6
"""Digits after the point in which sums of draws can be trusted."""
LEFT_OUT = 0.15
"""Share of a group that is left out, and that counts twice (by the rates measured above)."""
LEAST_LEFT_OUT = 2
STAND_INS_SPREAD = 1.0 + 2.0 * LEFT_OUT
"""So much larger is the variance of a total in which some count twice and others not at all."""


def check_threshold(value: int) -> int:
    """Return a threshold, not below 5.

    Raises
        InputRefusedError: too low.
    """
    if value < LOWEST_THRESHOLD:
        allowed = f"{LOWEST_THRESHOLD} people or more"
        limits = Limits(LOWEST_THRESHOLD)
        raise InputRefusedError(field="threshold", value=value, allowed=allowed, limits=limits)
    return value


def hidden_groups(
    people: Floats, sides: Sequence[Floats], *, also: Bools | None, threshold: int
) -> tuple[Bools, bool]:
    """Return which groups of a partition are hidden, and whether their total is.

    people: (groups,) in each. sides: counts, (groups,) each, that must reach the threshold. also:
    hidden already, for another reason.

    >>> people = np.array([40.0, 3.0, 30.0, 25.0])
    >>> hidden, total = hidden_groups(people, [people], also=None, threshold=10)
    >>> hidden.tolist(), total
    ([False, True, False, True], False)
    """
    smaller = np.minimum.reduce(sides)
    hidden = (people > 0) & (smaller < threshold)
    if also is not None:
        hidden = hidden | (also & (people > 0))
    for candidate in np.argsort(smaller, kind="stable"):
        if _safe(sides, hidden, threshold):
            break
        hidden[candidate] |= people[candidate] > 0
    too_few = any(side.sum() < threshold for side in sides)
    return hidden, too_few or not _safe(sides, hidden, threshold)


def _safe(sides: Sequence[Floats], hidden: Bools, threshold: int) -> bool:
    """Return whether the total does not tell the hidden groups: none, or several and enough."""
    if not np.any(hidden):
        return True
    return int(hidden.sum()) >= 2 and all(side[hidden].sum() >= threshold for side in sides)


class Blur:
    """The chances of one team: who stands in for whom, and which way a number rounds.

    >>> blur = Blur(["a", "b"], secret=b"invented")
    >>> blur.rounded(40.0), blur.rounded(41.0) == blur.rounded(41.0), blur.rounded(41.0) in (40, 45)
    (40.0, True, True)
    """

    def __init__(self, people: Iterable[str], *, secret: bytes) -> None:
        """Settle the chances of a team.

        people: digest of each person's values, in any order; the same people, the same chances.
        """
        team = hashlib.sha256("\n".join(sorted(people)).encode()).digest()
        self._key = hmac.digest(secret, team, "sha256")
        self._chances: dict[int, float] = {}

    def rounded(self, value: float) -> float:
        """Return a number rounded to 5, with the right mean over secrets."""
        value = round(value, _DIGITS)
        low = int(value // ROUND_TO)
        if low not in self._chances:
            self._chances[low] = self._chance(f"round {low}")
        share = value / ROUND_TO - low
        return float(ROUND_TO * (low + (self._chances[low] < share)))

    def surely(self, value: float, *, threshold: int) -> float:
        """Return what the threshold is compared with.

        At 5 and at 10 it is the number; at others the least number that rounds as this one does,
        since typing one threshold after the other would find the number itself.
        """
        if threshold <= DEFAULT_THRESHOLD:
            return round(value, _DIGITS)
        return self.rounded(value) - ROUND_TO + 1

    def stand_ins(self, weight: Floats, group: NDArray[np.intp], people: Sequence[str]) -> Floats:
        """Return how many people each one counts for, (people,); groups keep their size.

        people: digest of each person's values, in the order of `weight`.
        """
        seen: Counter[str] = Counter()
        lot = np.empty(len(people))
        for at, one in enumerate(people):
            lot[at] = self._chance(f"lot {one} {seen[one]}")
            seen[one] += 1
        found = weight.copy()
        for number in np.unique(group):
            inside = np.flatnonzero(group == number)
            inside = inside[np.argsort(lot[inside], kind="stable")]
            many = max(LEAST_LEFT_OUT, int(np.ceil(LEFT_OUT * len(inside))))
            many = min(many, len(inside) // 2)
            out, twice = inside[:many], inside[many : 2 * many]
            found[twice] += weight[out]
            found[out] = 0.0
        return found

    def _chance(self, word: str) -> float:
        """Return a number in [0, 1) that only the secret tells."""
        return int.from_bytes(hmac.digest(self._key, word.encode(), "sha256")[:7]) / 2.0**56


def least_shown(threshold: int) -> int:
    """Return the threshold as it is applied: 6 to 9 hide as much as 10 does."""
    return max(threshold, DEFAULT_THRESHOLD) if threshold > LOWEST_THRESHOLD else threshold


def digest_of(values: Iterable[tuple[str, str]]) -> str:
    """Return a digest of what is known of a person, never of the pseudonym; kept in memory only.

    values: name and text; blank ones count for nothing, nor does the way a number is written.

    >>> digest_of([("b", " 1.50"), ("a", "X"), ("c", "")]) == digest_of([("a", "x"), ("b", "1,5")])
    True
    """
    said = sorted((name, _plain(text)) for name, text in values if text.strip())
    return hashlib.sha256(repr(said).encode()).hexdigest()


def _plain(text: str) -> str:
    text = text.strip().casefold()
    try:
        return f"{parse_number(text, field='cell'):g}"
    except InputRefusedError:
        return text


@dataclass
class Session:
    """What was shown in this session, so that two downloads cannot be set against each other.

    Kept in memory and gone with the session; it holds digests, neither pseudonyms nor values.
    """

    threshold: int = DEFAULT_THRESHOLD
    _shown: list[Counter[str]] = field(default_factory=list)

    def may_show(self, people: Mapping[str, int] | Iterable[str]) -> bool:
        """Return whether these may be shown after those shown before; remember them if so.

        people: a digest a person, or how many people each digest is; a person whose values have
        changed is one who left and one who came.
        """
        now = Counter(people)
        if not self.would_show(now):
            return False
        if now not in self._shown:
            self._shown.append(now)
        return True

    def would_show(self, people: Counter[str]) -> bool:
        """Return the same, and remember nothing: asked before anything is computed."""
        changes = [
            part.total() for before in self._shown for part in (people - before, before - people)
        ]
        return not any(0 < count < self.threshold for count in changes)
