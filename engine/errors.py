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
        field: where the value stands, as a path ("wearer.right.axis_deg").
        value: the value as given.
        allowed: the rule in words ("1 to 180").
    """

    def __init__(self, *, field: str, value: Any, allowed: str) -> None:
        self.field, self.value, self.allowed = field, value, allowed
        super().__init__(f"{field}: {_short(value)} is refused; allowed: {allowed}")


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


def _short(value: Any, *, limit: int = 60) -> str:
    text = repr(value)
    return text if len(text) <= limit else text[: limit - 3] + "..."
