"""Read headings and cells as people write them: the words stand in roster_words.csv.

A cell comes out as the strict readers of `engine.roster.rows` take it, or as it was: what is not
understood is refused there, with what is allowed.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from typing import TYPE_CHECKING

from engine import tables
from engine.errors import InputRefusedError
from engine.roster.words import BAND, EVERYWHERE, FORMAT, HEADER, UNIT, words
from engine.units import CM_PER_INCH, parse_length_cm, plain_text, refuse_folded_digits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from engine.roster.columns import Column

_EXPONENT = re.compile(r"[+-]?\d([.,]\d+)?e[+-]\d{2}")
_MEASURED = re.compile(r"(?P<number>[+-]?[\d.,]*\d)[\s-]*(?P<unit>\D+)")
_BETWEEN = re.compile(r"(\d{2,3})\s*(\D+?)\s*(\d{2,3})")
_FROM = re.compile(r"(\d{2,3})\s*(\D+)")
_HOURS = re.compile(r"(\d{1,2})[:h](\d{2})(?::00)?")
_SIDES = re.compile(r"(\d{1,2})\s*[:x×/]\s*(\d{1,2})(?::00)?\s*(am|pm)?")
_OF_A_DAY = re.compile(r"0[.,]\d{3,}")
_MINUTES_A_DAY = 1440
_WHOLE_MINUTE = 0.1
"""A spreadsheet shows a time as a share of the day with four places or more: to 0.07 minutes."""


def column_of(heading: str) -> str:
    """Return the column a heading means, "" where it is not known.

    Capitals, accents, spaces and marks do not matter, nor does what stands in brackets.

    >>> column_of("Screen Kind"), column_of("Âge (years)"), column_of("Department")
    ('screen_kind', 'age_years', '')
    """
    for text in (heading, re.sub(r"[(\[].*", "", heading)):
        found = _headings().get(_letters(text))
        if found is not None:
            return found
    return ""


def plain_cell(text: str, *, column: Column) -> str:
    """Return a cell of a column as the strict readers take it, or as it was.

    >>> from engine.roster.columns import columns
    >>> known = columns()
    >>> [plain_cell(text, column=known["screen_in"]) for text in ('24"', "24 in", "61 cm", "n/a")]
    ['24', '24', '24.02', '']
    >>> plain_cell("16:09:00", column=known["screen_aspect"])
    '16:9'
    >>> plain_cell("Varifocals", column=known["present_kind"])
    'general_progressive'
    >>> plain_cell("60 and over", column=known["age_band"])
    '60+'
    """
    try:
        refuse_folded_digits(text, field=column.id)
    except InputRefusedError:
        return text
    plain = " ".join(plain_text(text).casefold().split())
    for applies_to in (column.id, EVERYWHERE):
        if plain in words(applies_to):
            return words(applies_to)[plain]
    if column.kind == "choice":
        return _choices(column.id, column.choices).get(_letters(plain), text)
    read = {"number": _number, "band": _band, "ratio": _ratio}.get(column.kind)
    found = read(plain, column) if read is not None else None
    return text if found is None else found


def _number(plain: str, column: Column) -> str | None:
    """Return a number without its unit and without an exponent."""
    if _EXPONENT.fullmatch(plain):
        return f"{float(plain.replace(',', '.')):.10g}"
    hours = _HOURS.fullmatch(plain)
    if column.unit == "h" and hours:
        return f"{int(hours[1]) + int(hours[2]) / 60:.4g}"
    found = _MEASURED.fullmatch(plain)
    if not found:
        return None
    unit = found["unit"].strip()
    if column.unit == "in" and unit in ("cm", "mm"):
        return f"{parse_length_cm(plain, field=column.id) / CM_PER_INCH:.4g}"
    return found["number"] if words(UNIT).get(unit) == column.unit else None


def _band(plain: str, column: Column) -> str | None:
    """Return ages such as 54, 50-54 or 60+."""
    plain = _number(plain, column) or plain
    between, from_on = _BETWEEN.match(plain), _FROM.fullmatch(plain)
    if between and words(BAND).get(between[2]) == "-":
        rest = plain[between.end() :].strip()
        if not rest or words(UNIT).get(rest) == column.unit:
            return f"{between[1]}-{between[3]}"
    if from_on and words(BAND).get(from_on[2].strip()) == "+":
        return f"{from_on[1]}+"
    return plain if plain[:1].isdigit() else None


def _ratio(plain: str, column: Column) -> str | None:
    """Return width:height, also where a spreadsheet took 16:9 for nine minutes past four."""
    del column
    if _OF_A_DAY.fullmatch(plain):
        minutes = float(plain.replace(",", ".")) * _MINUTES_A_DAY
        sides = "{}:{}".format(*divmod(round(minutes), 60))
        near = abs(minutes - round(minutes)) <= _WHOLE_MINUTE
        return sides if near and sides in words(FORMAT) else None
    found = _SIDES.fullmatch(plain)
    if not found:
        return None
    wide = int(found[1]) % 12 + 12 * (found[3] == "pm") if found[3] else int(found[1])
    return f"{wide}:{int(found[2])}"


@cache
def _headings() -> Mapping[str, str]:
    """Return columns by the letters of their headings."""
    own = {_letters(row["id"]): row["id"] for row in tables.rows("roster_columns")}
    said = {_letters(word): means for word, means in words(HEADER).items()}
    return {_letters(means): means for means in said.values()} | said | own


@cache
def _choices(column: str, choices: tuple[str, ...]) -> Mapping[str, str]:
    """Return the choices of a column by the letters of each word for them."""
    said = {_letters(word): means for word, means in words(column).items()}
    return {_letters(choice): choice for choice in choices} | said


def _letters(text: str) -> str:
    """Return letters and digits alone, small and without accents."""
    apart = unicodedata.normalize("NFKD", text).casefold()
    return "".join(sign for sign in apart if sign.isalnum())
