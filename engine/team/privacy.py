"""Small groups: what may be shown of the groups of a team, and what is hidden.

The groups are one partition of the people (age band and kind of screen), the only one there is:
every table, chart, filter and export shows sums of its groups, so that two of them differ by whole
groups. A group under the threshold is hidden; so is a share of it with few people on either side.
Where what is hidden would follow from the total, further groups are hidden with it (complementary
suppression). Figures are rounded to 5, up or down by chance with the right mean; the chance hangs
on who is in the group, so the same people give the same figure and one person more or less gives
a fresh one.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

DEFAULT_THRESHOLD = 10
"""Research networks often use 10 (job page section 9)."""
LOWEST_THRESHOLD = 5
ROUND_TO = 5
"""NHS practice rounds to 5 (job page section 9)."""
HIDDEN = "hidden"
TOO_ALIKE = (
    "Fewer than {threshold} people came or left since the figures shown before: the two sets"
    " of figures together would tell of single people. Nothing is shown."
)


def check_threshold(value: int) -> int:
    """A threshold, not below 5.

    Raises
        InputRefusedError: too low.
    """
    if value < LOWEST_THRESHOLD:
        allowed = f"{LOWEST_THRESHOLD} people or more"
        raise InputRefusedError(field="threshold", value=value, allowed=allowed)
    return value


def hidden_groups(
    people: Sequence[float] | Floats,
    *,
    having: Sequence[float] | Floats | None = None,
    also: Bools | None = None,
    threshold: int = DEFAULT_THRESHOLD,
) -> tuple[Bools, bool]:
    """Which groups of a partition are hidden, and whether their total is.

    people: (groups,) in each. having: (groups,) how many of them have what is told; None where
    the number of people itself is told. also: hidden already, for another reason.

    >>> hidden, total = hidden_groups([40, 3, 30, 25])
    >>> hidden.tolist(), total
    ([False, True, False, True], False)
    """
    everyone = np.asarray(people, dtype=np.float64)
    sides = [everyone]
    if having is not None:
        told = np.asarray(having, dtype=np.float64)
        sides = [told, everyone - told]
    smaller = np.minimum.reduce(sides)
    hidden = (everyone > 0) & (smaller < threshold)
    if also is not None:
        hidden = hidden | (also & (everyone > 0))
    for candidate in np.argsort(smaller, kind="stable"):
        if _safe(sides, hidden, threshold):
            break
        hidden[candidate] |= everyone[candidate] > 0
    too_few = any(side.sum() < threshold for side in sides)
    return hidden, too_few or not _safe(sides, hidden, threshold)


def _safe(sides: list[Floats], hidden: Bools, threshold: int) -> bool:
    """Whether the hidden groups cannot be told from the total: none, or several and enough."""
    if not np.any(hidden):
        return True
    return int(hidden.sum()) >= 2 and all(side[hidden].sum() >= threshold for side in sides)


def rounded(value: float, *, members: str, figure: str) -> float:
    """A figure rounded to 5, up or down by a chance that hangs on who is in the group.

    members: digest of the people of the group. figure: what is told.

    >>> rounded(40.0, members="ab", figure="people")
    40.0
    """
    low = np.floor(value / ROUND_TO) * ROUND_TO
    word = hashlib.sha256(f"{members} {figure}".encode()).digest()[:8]
    chance = int.from_bytes(word) / 2.0**64
    return float(low + ROUND_TO * (chance < (value - low) / ROUND_TO))


def digest_of(refs: Iterable[str]) -> str:
    """A digest of who is in a group; it is kept in memory only."""
    return hashlib.sha256("\n".join(sorted(refs)).encode()).hexdigest()


@dataclass
class Session:
    """What was shown in this session, so that two downloads cannot be set against each other.

    Kept in memory and gone with the session; it holds pseudonyms, no values.
    """

    threshold: int = DEFAULT_THRESHOLD
    _shown: list[frozenset[tuple[str, int]]] = field(default_factory=list)

    def may_show(self, refs: Iterable[str]) -> bool:
        """Whether these people may be shown after those shown before; remembers them if so.

        A pseudonym that stands for several people counts as often as it stands.
        """
        times = Counter(refs)
        people = frozenset((ref, at) for ref, count in times.items() for at in range(count))
        changes = [len(one) for before in self._shown for one in (people - before, before - people)]
        if any(0 < count < self.threshold for count in changes):
            return False
        if people not in self._shown:
            self._shown.append(people)
        return True
