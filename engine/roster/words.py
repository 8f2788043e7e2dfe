"""Look up the everyday words of a list of people: roster_words.csv."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from engine import tables

if TYPE_CHECKING:
    from collections.abc import Mapping

EVERYWHERE, HEADER, UNIT, BAND, FORMAT = "all", "header", "unit", "band", "format"
"""What a word of the table applies to, beside single columns."""


@cache
def words(applies_to: str) -> Mapping[str, str]:
    """Return the everyday words of a column, or those that several share, with what they mean.

    >>> words("present_kind")["varifocal"], words("all")["n/a"]
    ('general_progressive', '')
    """
    return {
        row["word"]: row["means"]
        for row in tables.rows("roster_words")
        if row["applies_to"] == applies_to
    }


def word_for(choice: str, *, column: str) -> str:
    """Return the first everyday word for a choice, the choice itself where there is none.

    >>> word_for("sv_near", column="present_kind")
    'reading glasses'
    """
    return next((word for word, means in words(column).items() if means == choice), choice)
