"""Fill in a sentence of a table, and write the numbers in it as a person reads them.

Sentences are in tables: sentences.csv for the optician and the coordinator, wearer_sheet.csv and
home_texts.csv for the wearer, and beside the rule they belong to in cautions.csv, order_gaps.csv,
pair_changes.csv and follow_up_questions.csv. Whatever the table, `fill` fills it.
"""

from __future__ import annotations

from math import floor, log10
from typing import TYPE_CHECKING

from engine import tables
from engine.errors import TableError
from engine.units import CM_PER_INCH

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAST_SAID = 0.5
"""Centimetres or degrees: a smaller change rounds to none and is not said."""
MINUS = "\u2212"
_AFTER_FIGURE = {"deg": "°", "prism dioptre": " Δ", "pd": " Δ", "ratio": "", "count": ""}


def fill(table: str, identity: str, column: str = "text", /, **values: object) -> str:
    """Return the text of one row with its values filled in.

    Parameters
        table: a reference table whose rows have an id.
        column: where the text is.
        values: at least one for each name in the text.

    Raises
        TableError: there is no such row, or a value is missing.

    >>> fill("wearer_sheet", "limit", far="90 cm (35 in)")[-1]
    '.'
    """
    rows = tables.by_id(table)
    if identity not in rows:
        raise TableError(f"{table}.csv has no row called {identity}")
    try:
        return rows[identity][column].format_map(values)
    except KeyError as missing:
        raise TableError(f"{table}.csv: {identity} lacks {missing}") from None


def say(identity: str, /, **values: object) -> str:
    """Return a sentence of sentences.csv, for the optician or the coordinator.

    >>> say("desk_no_move_needed")
    'No move is needed for this lens.'
    """
    return fill("sentences", identity, **values)


def capital(text: str) -> str:
    """Return a text as it begins a sentence.

    >>> capital("office lens"), capital("")
    ('Office lens', '')
    """
    return text[:1].upper() + text[1:]


def uncapital(text: str) -> str:
    """Return a text that begins with a small letter.

    >>> uncapital("Neck pain falls")
    'neck pain falls'
    """
    return text[:1].lower() + text[1:]


def counted(count: int, thing: str) -> str:
    """Return how many things there are; thousands have a comma.

    thing: one of them; more of them end in s.

    >>> counted(1, "row"), counted(1200, "row")
    ('1 row', '1,200 rows')
    """
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def joined(things: Sequence[str]) -> str:
    """Return things as a sentence lists them.

    >>> joined(["a", "b", "c"]), joined(["a"])
    ('a, b and c', 'a')
    """
    return " and ".join(filter(None, [", ".join(things[:-1]), *things[-1:]]))


def tenth(value: float) -> str:
    """Return a number to a tenth, without a place that is nothing.

    >>> tenth(1.98), tenth(1.25)
    ('2', '1.2')
    """
    return number(value, places=1).removesuffix(".0")


def hours(value_h: float) -> str:
    """Return hours as a person says them.

    >>> hours(5.44), hours(6.0), hours(-0.01)
    ('5.4', '6', '0')
    """
    return tenth(value_h)


def hours_between(low_h: float, high_h: float) -> str:
    """Return the range of the hours, the 10th to the 90th percentile.

    >>> hours_between(6.2, 7.0)
    '8 times in 10 between 6.2 and 7'
    """
    return f"8 times in 10 between {hours(low_h)} and {hours(high_h)}"


def number(value: float, *, places: int = 0, signed: bool = False) -> str:
    """Return a rounded number; nothing has no sign, and the minus does not break off at a line end.

    >>> number(-0.04, places=1), number(-4.0, places=1), number(3.26, places=1, signed=True)
    ('0.0', '−4.0', '+3.3')
    """
    rounded = round(value, places) + 0.0
    return minus(f"{rounded:{'+' if signed and rounded else ''}.{places}f}")


def figure(value: float, *, digits: int, signed: bool = False) -> str:
    """Return a number to so many digits, never with an exponent nor with places that are nothing.

    >>> figure(1234.6, digits=3), figure(0.04567, digits=3), figure(-0.25, digits=3, signed=True)
    ('1,235', '0.0457', '−0.25')
    """
    size = floor(log10(abs(value))) if value else 0
    places = max(digits - 1 - size, 0)
    said = f"{value + 0.0:{'+' if signed and value else ''},.{places}f}"
    return minus(said.rstrip("0").rstrip(".") if places else said)


def unit_after(unit: str) -> str:
    """Return a unit of the tables as it is written after its figure; nothing for a plain number.

    >>> unit_after("mm"), unit_after("deg"), unit_after("prism dioptre"), unit_after("ratio")
    (' mm', '°', ' Δ', '')
    """
    return _AFTER_FIGURE.get(unit, f" {unit}")


def minus(text: str) -> str:
    """Return figures with a typographic minus.

    >>> minus("-0.50")
    '−0.50'
    """
    return text.replace("-", MINUS)


def percent(share: float) -> str:
    """Return a share in whole percent.

    >>> percent(0.456)
    '46 %'
    """
    return f"{number(100 * share)} %"


def length(distance_cm: float) -> str:
    """Return a distance as every wearer reads it: whole centimetres, and whole inches in brackets.

    >>> length(65.4), length(130.0)
    ('65 cm (26 in)', '130 cm (51 in)')
    """
    return f"{number(distance_cm)} cm ({number(distance_cm / CM_PER_INCH)} in)"


def height(above_eye_cm: float) -> str:
    """Return a height against the eyes.

    >>> height(-12.4), height(3.0), height(0.2)
    ('12 cm below the eyes', '3 cm above the eyes', 'eye level')
    """
    said = number(abs(above_eye_cm))
    if said == "0":
        return "eye level"
    return f"{said} cm {'above' if above_eye_cm > 0 else 'below'} the eyes"


def at_height(above_eye_cm: float) -> str:
    """Return a height against the eyes as the place of something.

    >>> at_height(-12.4), at_height(0.2)
    ('12 cm below the eyes', 'at eye level')
    """
    said = height(above_eye_cm)
    return f"at {said}" if said == "eye level" else said


def beside(offset_cm: float) -> str:
    """Return how far to a side something is; empty where it is straight ahead.

    >>> beside(55.0), beside(-20.4), beside(0.3)
    ("55 cm to the wearer's right", "20 cm to the wearer's left", '')
    """
    said = number(abs(offset_cm))
    return (
        "" if said == "0" else f"{said} cm to the wearer's {'right' if offset_cm > 0 else 'left'}"
    )


def chin(chin_up_deg: float) -> str:
    """Return where the chin is: whole degrees, up with the neck bent back.

    >>> chin(-4.0), chin(0.3), chin(1.0)
    ('4° down', 'level', '1° up')
    """
    said = number(abs(chin_up_deg))
    if said == "0":
        return "level"
    return f"{said}° {'up' if chin_up_deg > 0 else 'down'}"


def head_words(chin_up_deg: float) -> str:
    """Return the same with its noun, as it is beside a picture.

    >>> head_words(-4.0), head_words(0.0)
    ('chin 4° down', 'head level')
    """
    said = chin(chin_up_deg)
    return "head level" if said == "level" else f"chin {said}"


def shift(
    *, up_cm: float, farther_cm: float = 0.0, tilt_deg: float = 0.0, joined: str = " and "
) -> str:
    """Return how a screen is placed after a move, against where it was: height, distance, tilt.

    >>> shift(up_cm=-21.0, tilt_deg=10.0)
    '21 cm lower and tilted 10° back'
    """
    parts = (
        (up_cm, "{} cm lower", "{} cm higher"),
        (farther_cm, "{} cm nearer", "{} cm farther away"),
        (tilt_deg, "tilted {}° forward", "tilted {}° back"),
    )
    return joined.join(
        (less if value < 0.0 else more).format(number(abs(value)))
        for value, less, more in parts
        if abs(value) >= LEAST_SAID
    )


def move(name: str, *, up_cm: float, farther_cm: float = 0.0, tilt_deg: float = 0.0) -> str:
    """Return what to do with a screen: height first, then distance, then tilt.

    name: with its article.

    >>> move("the main screen", up_cm=-21.0, tilt_deg=10.0)
    'lower the main screen by 21 cm and tilt its top 10° back'
    >>> move("the laptop", up_cm=0.0)
    'leave the laptop where it is'
    """
    said = []
    if abs(up_cm) >= LEAST_SAID:
        verb = "raise" if up_cm > 0 else "lower"
        said.append(f"{verb} {name} by {number(abs(up_cm))} cm")
    if abs(farther_cm) >= LEAST_SAID:
        what = "it" if said else name
        way = "farther away" if farther_cm > 0 else "nearer"
        said.append(f"move {what} {number(abs(farther_cm))} cm {way}")
    if abs(tilt_deg) >= LEAST_SAID:
        what = "its top" if said else f"the top of {name}"
        said.append(f"tilt {what} {number(abs(tilt_deg))}° {'back' if tilt_deg > 0 else 'forward'}")
    return " and ".join(said) or f"leave {name} where it is"
