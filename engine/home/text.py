"""Every sentence a wearer reads from the home check, filled from its tables; numbers in words.

No sentence holds a lens strength, an eye distance or a height on the lens, and none can: nothing
here takes one.
"""

from __future__ import annotations

import string
from functools import cache
from typing import TYPE_CHECKING

from engine import tables
from engine.errors import TableError
from engine.units import CM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Iterator


def number(name: str) -> float:
    """A number of home_numbers.csv.

    >>> number("card_cm")
    8.56
    """
    return float(tables.by_id("home_numbers")[name]["value"])


def say(identity: str, **values: object) -> str:
    """A sentence of home_texts.csv with its values.

    >>> say("posture_top", chin="chin 5 degrees up")
    'The top edge asks for more: chin 5 degrees up.'
    """
    try:
        return tables.by_id("home_texts")[identity]["text"].format_map(values)
    except KeyError as missing:
        raise TableError(f"home_texts.csv: {identity} lacks {missing}") from None


def say_first(sentence: str) -> str:
    """A sentence with a capital, where it begins with a name."""
    return sentence[:1].upper() + sentence[1:]


def length(cm: float) -> str:
    """A length in both units, whole centimetres and whole inches.

    >>> length(65)
    '65 cm (26 in)'
    """
    return f"{cm:.0f} cm ({cm / CM_PER_INCH:.0f} in)"


def degrees(value: float) -> str:
    """Whole degrees, as said.

    >>> degrees(7.6), degrees(1.2)
    ('8 degrees', '1 degree')
    """
    whole = abs(round(value))
    return f"{whole} degree" if whole == 1 else f"{whole} degrees"


def chin(low_deg: float, high_deg: float) -> str:
    """How the chin is held, from the lowest to the highest chin-up.

    >>> chin(6.2, 14.0), chin(-21.0, -0.6)
    ('chin 6 to 14 degrees up', 'chin 1 to 21 degrees down')
    >>> chin(-1.0, 12.0), chin(-0.2, 0.3)
    ('chin anywhere from 1 degree down to 12 degrees up', 'chin level')
    >>> chin(-6.0, 0.2)
    'chin level to 6 degrees down'
    """
    low, high = round(low_deg), round(high_deg)
    if low == high == 0:
        return say("head_level")
    if low < 0 < high:
        return say("head_across", down=degrees(low), up=degrees(high))
    identity = "head_up" if high > 0 else "head_down"
    least, most = sorted((abs(low), abs(high)))
    if least == 0:
        return say(identity.replace("head_", "head_level_"), degrees=degrees(most))
    span = degrees(most) if least == most else f"{least} to {degrees(most)}"
    return say(identity, degrees=span)


def thing(name: str) -> str:
    """What the wearer calls a thing looked at.

    >>> thing("colleague")
    'people across the desk'
    """
    return _things()[name]


@cache
def _things() -> dict[str, str]:
    rows = tables.rows("home_choices")
    return {row["choice"]: row["label"] for row in rows if row["question"] == "thing"}


def hour_span(low_h: float, high_h: float) -> str:
    """Hours from low to high, to the half.

    >>> hour_span(2.4, 3.1), hour_span(2.9, 3.1)
    ('2.5 to 3', '3')
    """
    low, high = half_hours(low_h), half_hours(high_h)
    return low if low == high else f"{low} to {high}"


def half_hours(hours: float) -> str:
    """Hours to the half.

    >>> half_hours(2.4), half_hours(3.1)
    ('2.5', '3')
    """
    return f"{round(hours * 2) / 2:g}"


def tenth(share: float) -> int:
    """A share as so many in 10."""
    return round(10.0 * share)


def texts() -> Iterator[str]:
    """Every sentence and label of the home check, values left out; what its tests read."""
    for table, columns in _WRITTEN.items():
        for row in tables.rows(table):
            for column in columns:
                yield _without_values(row[column])


_WRITTEN = {
    "home_questions": ("title", "help"),
    "home_choices": ("label",),
    "home_kinds": ("why", "but", "ask"),
    "home_texts": ("text",),
}


def _without_values(text: str) -> str:
    parts = string.Formatter().parse(text)
    return "".join(before + ("ten" if name else "") for before, name, _, _ in parts)
