"""Read the numbers of the home check from their table."""

from __future__ import annotations

from engine import tables


def number(name: str) -> float:
    """Return a number of home_numbers.csv.

    >>> number("card_short_cm")
    5.4
    """
    return float(tables.by_id("home_numbers")[name]["value"])
