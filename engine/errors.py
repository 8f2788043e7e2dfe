"""What the engine says when it cannot or should not go on: refusals and doubts.

A refusal stops the work and names the field, the value and what is allowed. A doubt does not
stop it: the value is computed with, and shown with the range it falls outside of and who
published that range.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


class LevelgazeError(Exception):
    """Base of every error this program raises on purpose."""


class InputRefusedError(LevelgazeError, ValueError):
    """A value that cannot be computed with.

    Attributes:
        field: where the value stands, as a path ("wearer.right.axis_deg"); signs that would not be
            seen, or would turn a line round, are written as escapes.
        value: the value as given.
        allowed: the rule in words ("1 to 180").
    """

    def __init__(self, *, field: str, value: Any, allowed: str) -> None:
        self.field, self.value, self.allowed = _visible(field), value, allowed
        super().__init__(f"{self.field}: {_short(value)} is refused; allowed: {allowed}")


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


def _visible(field: str, *, limit: int = 200) -> str:
    """Put a path that may end in a key somebody else chose on one line of bounded length."""
    shown = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in field)
    return shown if len(shown) <= limit else shown[: limit - 3] + "..."


def _short(value: Any, *, limit: int = 60) -> str:
    text = repr(value)
    return text if len(text) <= limit else text[: limit - 3] + "..."
