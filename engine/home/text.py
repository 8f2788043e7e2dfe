"""Read the numbers and the sentences of the home check from their tables.

No sentence holds a lens strength, an eye distance or a height on the lens.
"""

from __future__ import annotations

import string
from typing import TYPE_CHECKING

from engine import tables

if TYPE_CHECKING:
    from collections.abc import Iterator


def number(name: str) -> float:
    """Return a number of home_numbers.csv.

    >>> number("card_short_cm")
    5.4
    """
    return float(tables.by_id("home_numbers")[name]["value"])


def texts() -> Iterator[str]:
    """Yield every sentence and label of the home check, values left out; what its tests read."""
    for table, columns in _WRITTEN.items():
        for row in tables.rows(table):
            for column in columns:
                if row[column]:
                    yield _without_values(row[column])


_WRITTEN = {
    "home_questions": ("short", "title", "help"),
    "home_choices": ("label", "answer"),
    "home_kinds": ("why", "but", "ask"),
    "home_texts": ("text",),
}


def _without_values(text: str) -> str:
    parts = string.Formatter().parse(text)
    return "".join(before + ("ten" if name else "") for before, name, _, _ in parts)
