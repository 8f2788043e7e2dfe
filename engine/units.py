"""Numbers as people write them, and the few unit changes the program needs.

Lengths on a desk are centimetres, lengths on a lens millimetres, powers dioptres, angles degrees.
"""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from engine.errors import InputRefusedError

CM_PER_INCH = 2.54
"""Exact by definition (international inch, 1959)."""
MM_PER_CM = 10.0
CM_PER_M = 100.0
DAY_RULE = "a day such as 2 Jan 2030 or 2030-01-02"

_MINUS_SIGNS = "\u2212\u2013\u2014\u2012\ufe63\uff0d"
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
_LENGTH = re.compile(r"(?P<number>.*?)\s*(?P<unit>cm|mm|m|inches|inch|in|\"|”|''|′′)?")
"""The double prime of inches is two single ones here: plain_text folds it into them."""
_DAY = re.compile(r"(\d{1,2})\.? ([A-Za-z]{3,9})\.?,? (\d{4})")
_ISO_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})")
_MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_CM_PER = {"": 1.0, "cm": 1.0, "mm": 0.1, "m": 100.0}


def plain_text(text: str) -> str:
    """Fold compatibility forms and every kind of minus sign, and trim the ends."""
    folded = unicodedata.normalize("NFKC", text)
    return folded.translate({ord(sign): "-" for sign in _MINUS_SIGNS}).strip()


def refuse_folded_digits(
    text: str, *, field: str, allowed: str = "plain digits: no superscripts, fractions or circles"
) -> None:
    """Refuse a character that only looks like digits: 65\u00b2 would be folded into 652.

    Raises
        InputRefusedError: with the character.

    >>> refuse_folded_digits("65", field="distance")
    """
    for sign in text:
        folded = unicodedata.normalize("NFKC", sign)
        if any(part.isdigit() for part in folded) and not sign.isdecimal():
            raise InputRefusedError(field=field, value=sign, allowed=allowed)


def parse_number(text: str, *, field: str) -> float:
    """Read one number: "65.5", "65,5", "−2.25", "+1".

    Parameters
        text: what the user wrote; a comma is a decimal comma, never a thousands mark.
        field: named in the refusal.

    Raises
        InputRefusedError: the text is not one finite decimal number.

    >>> parse_number("65,5", field="distance")
    65.5
    """
    refuse_folded_digits(text, field=field)
    candidate = plain_text(text).replace(",", ".")
    if not _NUMBER.fullmatch(candidate) or len(candidate) > 20:
        raise InputRefusedError(field=field, value=text, allowed="one number, such as 65 or 65.5")
    return float(candidate)


def parse_length_cm(text: str, *, field: str) -> float:
    """Read a length in cm; mm, m and inches are accepted when the unit is written.

    >>> parse_length_cm('16 in', field="distance"), parse_length_cm("16″", field="distance")
    (40.64, 40.64)
    """
    refuse_folded_digits(text, field=field)
    match = _LENGTH.fullmatch(plain_text(text).lower())
    unit = (match["unit"] or "") if match else ""
    number = parse_number(match["number"] if match else text, field=field)
    return number * _CM_PER.get(unit, CM_PER_INCH)


def round_half_up(value: float, *, step: float) -> float:
    """Round to the nearest multiple of step, halves away from zero, free of binary residue.

    >>> round_half_up(1.125, step=0.25)
    1.25
    """
    exact_step = Decimal(str(step))
    count = (Decimal(str(abs(value))) / exact_step).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return float((count * exact_step).copy_sign(Decimal(str(value)))) + 0.0


def signed_power(power_d: float) -> str:
    """Return a power as an order writes it: sign and two decimals.

    >>> signed_power(-0.5)
    '-0.50'
    """
    return f"{power_d + 0.0:+.2f}"


def day_words(day: date) -> str:
    """Return a day as a person writes it.

    >>> from datetime import date
    >>> day_words(date(2030, 1, 2))
    '2 January 2030'
    """
    return f"{day.day} {day:%B %Y}"


def parse_day(text: str, *, field: str) -> date:
    """Read a day whose month is a word, or one that begins with the year.

    Parameters
        text: what the user wrote; a day such as 3/4/2030 is refused, for it has two readings.
        field: named in the refusal.

    Raises
        InputRefusedError: the text is no such day.

    >>> str(parse_day("2 Jan 2030", field="day")), str(parse_day("2030-01-02", field="day"))
    ('2030-01-02', '2030-01-02')
    """
    refuse_folded_digits(text, field=field)
    plain = plain_text(text)
    worded, iso = _DAY.fullmatch(plain), _ISO_DAY.fullmatch(plain)
    try:
        if iso:
            return date(*map(int, iso.groups()))
        if worded:
            return date(int(worded[3]), _month(worded[2]), int(worded[1]))
    except ValueError:
        pass
    raise InputRefusedError(field=field, value=text, allowed=DAY_RULE)


def _month(word: str) -> int:
    """Return the number of a month by its name, or by its first three letters or more."""
    found = [at for at, name in enumerate(_MONTHS, start=1) if name.startswith(word.lower())]
    if len(found) != 1:
        raise ValueError(word)
    return found[0]
