"""What the engine says when it cannot or should not go on: refusals and doubts.

A refusal stops the work and says in sentences what was given and what is allowed; its field is a
path, which `case.named` puts into words. Where the rule is one of numbers they come with it, and
say on which side of them the value is. A doubt does not stop the work: the value is computed with,
and shown with the range it falls outside of and who published that range.
"""

from __future__ import annotations

import copyreg
from dataclasses import dataclass
from math import isfinite
from typing import Any, Literal


class LevelgazeError(Exception):
    """Base of every error this program raises on purpose. It can be pickled, to leave a process.

    Errors take what happened by name and put the sentence together, so what is pickled is the
    finished error, not a call that makes it again.
    """

    def __reduce__(self) -> tuple[Any, ...]:
        return copyreg.__newobj__, (type(self), *self.args), self.__dict__  # type: ignore[attr-defined]


Side = Literal["", "low", "high"]
"""On which side of its limits a number is; empty where it is within, or has none."""


@dataclass(frozen=True)
class Limits:
    """Hold between which numbers a value may lie.

    Attributes:
        low, high: the least and the most; None where there is none.
        above, below: the least, or the most, is itself not allowed.
        unit: of both, as it is written.

    >>> Limits(15, 2000, unit="cm").words, Limits(0, above=True, unit="in").words
    ('15 to 2000 cm', 'more than 0 in')
    >>> Limits(1, 180, unit="deg").words, Limits(0, 24, above=True, unit="h").words
    ('1 to 180°', 'more than 0 and at most 24 h')
    """

    low: float | None = None
    high: float | None = None
    above: bool = False
    below: bool = False
    unit: str = ""

    def side(self, number: float) -> Side:
        """Return on which side of the limits a number is, in their unit.

        >>> Limits(15, 2000).side(12), Limits(15, 2000).side(15), Limits(0, above=True).side(0)
        ('low', '', 'low')
        """
        if self.low is not None and (number < self.low or (self.above and number == self.low)):
            return "low"
        if self.high is not None and (number > self.high or (self.below and number == self.high)):
            return "high"
        return ""

    @property
    def words(self) -> str:
        """Return the limits with their unit; nothing where there are none."""
        unit = "°" if self.unit == "deg" else f" {self.unit}" if self.unit else ""
        low = "" if self.low is None else f"{'more than ' if self.above else ''}{self.low:g}"
        high = "" if self.high is None else f"{'less than ' if self.below else ''}{self.high:g}"
        if low and high:
            return f"{low}{' and at most' if self.above else ' to'} {high}{unit}"
        least = low if self.above else f"at least {low}"
        most = high if self.below else f"at most {high}"
        return f"{least if low else most}{unit}" if low or high else ""


class InputRefusedError(LevelgazeError, ValueError):
    """A value that cannot be computed with.

    Attributes:
        field: where the value stands, as a path ("wearer.right.axis_deg"); signs that would not be
            seen, or would turn a line round, are written as escapes.
        value: the value as given.
        allowed: the rule in words ("1 to 180").
        limits: the same rule in numbers, where it is one of numbers.
        number: the value in the unit of the limits, where it was given as a text.
        sentence: what was typed and what is allowed, for a person, without the field.

    >>> years = Limits(18, 110, unit="years")
    >>> error = InputRefusedError(
    ...     field="wearer.age_years", value=5.0, allowed=years.words, limits=years)
    >>> error.sentence
    '5 is too low. Allowed: 18 to 110 years.'
    >>> str(error)
    'wearer.age_years: 5 is too low. Allowed: 18 to 110 years.'
    """

    def __init__(
        self,
        *,
        field: str,
        value: Any,
        allowed: str,
        limits: Limits | None = None,
        number: float | None = None,
    ) -> None:
        self.field, self.value, self.allowed = _visible(field), value, allowed
        self.limits, self.number = limits, number
        self.sentence = refused(value, allowed, side=self.side, unit=self.unit, field=field)
        super().__init__(f"{self.field}: {self.sentence}")

    @property
    def side(self) -> Side:
        """On which side of its limits the value is; empty where it is no number, or has none."""
        number = self.value if self.number is None else self.number
        if self.limits is None or isinstance(number, bool) or not isinstance(number, int | float):
            return ""
        return self.limits.side(number)

    @property
    def unit(self) -> str:
        """The unit of its limits; empty where it has none."""
        return "" if self.limits is None else self.limits.unit

    def said_of(self, **changed: Any) -> InputRefusedError:
        """Return the same refusal of another field, of the value as typed, or in other words."""
        names = ("field", "value", "allowed", "limits", "number")
        return InputRefusedError(**({name: getattr(self, name) for name in names} | changed))

    def within(self, limits: str) -> InputRefusedError:
        """Return the same refusal with the limits of its field in words, if it has none of them.

        >>> error = InputRefusedError(field="x", value="y", allowed="one number, such as 65")
        >>> error.within("15 to 2000 cm").sentence
        'y cannot be used. Allowed: one number (15 to 2000 cm).'
        """
        if limits in self.allowed:
            return self
        return self.said_of(allowed=f"{self.allowed.partition(', such as ')[0]} ({limits})")


class TableError(LevelgazeError):
    """A reference table that is missing, damaged or does not hold what was asked for."""


@dataclass(frozen=True)
class Flag:
    """A doubt: the value is used, but it lies outside a published or usual range.

    Attributes:
        field: where the value stands, as a path.
        value: the value as used.
        range: the range or expectation in words, with its unit.
        source: who published it, or "common practice, no source".
    """

    field: str
    value: float | str
    range: str
    source: str


_SAID = {
    "": "nothing is given",
    "nothing": "nothing is given",
    "none": "nothing is given",
    "twice": "this is there twice",
    "nested too deeply": "this is nested too deeply",
    "given": "this cannot be used",
    "(not repeated)": "what was given (not repeated here) cannot be used",
}
"""What is said of a value that is no noun."""
_NUMBERS = ("a number", "a whole number")
_LACKS = ("nothing is given", "there is no")
LONGEST_FIELD = 200
LONGEST_SHOWN = 60
_COUNTED = ("rows", "characters")
_SIZES = ("cm", "mm", "m", "in", "MB")
_FAR_UNITS = ("cm", "m")
_FAR_NAMES = ("distance", "clear", "near", "far")
"""What the name of a field of a distance away from the eyes has in it."""


def refused(value: Any, allowed: str, *, side: Side = "", unit: str = "", field: str = "") -> str:
    """Return as sentences why a value cannot be used, and what is allowed.

    Parameters
        value: as given, or in words what was found: "an empty file", "no column ref", "twice".
        allowed: the rule in words, without a full stop.
        side, unit: on which side of its limits the value is, and their unit.
        field: where it stands; a distance is too near where another number is too low.

    >>> refused("12", "15 to 2000 cm", side="low", unit="cm", field="targets.0.distance_cm")
    '12 is too near. Allowed: 15 to 2000 cm.'
    >>> refused("wall", "one of monitor, laptop")
    'wall cannot be used. Allowed: one of monitor, laptop.'
    >>> refused("nothing", "a value")
    'nothing is given. Needed: a value.'
    """
    shown = _shown(value)
    if isinstance(value, str) and allowed.partition(" (")[0] in _NUMBERS and _is_number(shown):
        shown += " in quotes"
    wrong = _SAID.get(shown.strip("'")) or (f"there is {shown}" if shown.startswith("no ") else "")
    if not wrong:
        why = _against(side, unit, field) if side else "cannot be used"
        wrong = f"{'this' if isinstance(value, list | tuple | dict) else shown} {why}"
    end = "" if allowed.endswith((".", "?", "!")) else "."
    return f"{wrong}. {'Needed' if wrong.startswith(_LACKS) else 'Allowed'}: {allowed}{end}"


def _against(side: Side, unit: str, field: str) -> str:
    """Return that a number is beyond its limits, in the words for what it measures."""
    last = field.rsplit(".", 1)[-1]
    if unit in _COUNTED and side == "high":
        return "are too many"
    if unit in _FAR_UNITS and any(one in last for one in _FAR_NAMES):
        low, high = "near", "far"
    else:
        low, high = ("small", "large") if unit in _SIZES else ("low", "high")
    return f"is too {low if side == 'low' else high}"


def _is_number(text: str) -> bool:
    """Tell whether a text is one number, which was meant to stand without quotes."""
    try:
        return isfinite(float(text))
    except ValueError:
        return False


def _shown(value: Any) -> str:
    """Return a value as it was typed, on one line of bounded length."""
    if value is None:
        return "nothing"
    said = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = _visible(said[: 2 * LONGEST_SHOWN]).strip()
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "\u2026"


def _visible(field: str) -> str:
    """Put a path that may end in a key somebody else chose on one line of bounded length."""
    shown = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in field)
    return shown if len(shown) <= LONGEST_FIELD else shown[: LONGEST_FIELD - 3] + "..."
