"""Finds a lens strength, an eye distance or a lens height in what a wearer is given.

Two nets. The first knows how such values are written. The second knows every number a wearer may
be given and calls whatever digit is left over. Written without a look at how the texts are made.
"""

from __future__ import annotations

import html
import re

_SIGNED = r"(?<![\w.])[+\-\u2212\u2013]\s?\d"
_QUARTERS = r"(?<![\d.,])\d{1,2}[.,](?:00|12|25|37|50|62|75|87)\d?(?!\d)"
_UNIT = r"\d\s?(?:D|DS|DC|dpt|dptr|dioptres?|diopters?|prism)\b"
_WORDS = (
    r"dioptr|diopter|\bsph(?:ere)?\b|\bcyl(?:inder)?\b|\baxis\b|\badds?\b|\baddition\b|\bprism\b"
    r"|\bpupil(?:lary)?[ -]dist|\binterpupillary\b|\bfitting[ -](?:height|point)|\bseg(?:ment)?\b"
    r"|\bcorridor\b|\bdegression\b|\bvertex\b|\bpantoscopic\b|\bmm\b|\bmillimet|\bnear[_ ]power\b"
)
_LETTERS = r"\b(?:PD|IPD|NPD|ADD|SPH|CYL|OD|OS|BVD|OC)\b"
_KEYS = r'"[^"]*(?:_d|_mm|_pd|sphere|cylinder|axis|add|power)"\s*:'
_AXIS = r"\d\s?[x\u00d7@]\s?\d{1,3}\b"
_MM = r"\d\s?mm\b"
_READERS = r"\d(?:[.,]\d+)?\s+(?:reader|reading glasses|strength|power)"
PATTERNS = (_SIGNED, _QUARTERS, _UNIT, _LETTERS, _KEYS, _AXIS, _MM, _READERS)

ALLOWED = (
    r"\d+ cm \(\d+ in\)",
    r"\d+(?:\.\d)? inch",
    r"(?:\d+ to )?\d+ degrees?",
    r"\d+ in 10\b",
    r"\d+(?:\.\d)? of your \d+(?:\.\d)? hours",
    r"(?:[Nn]ow it is about|After the move it is about) \d+(?:\.\d)?(?=\.)",
    r"would give about \d+(?:\.\d)? hours",
    r"Most people like you get \d+(?:\.\d)? to \d+(?:\.\d)? hours",
    r"\b(?:40 to 44|45 to 49|50 to 54|55 to 59|60 to 64|65 or over|Under 40)\b",
)


def orders_in(text: str) -> list[str]:
    """What reads like a value to order."""
    found = [match.group() for pattern in PATTERNS for match in re.finditer(pattern, text)]
    return found + [match.group() for match in re.finditer(_WORDS, text, re.IGNORECASE)]


def stray_numbers_in(text: str) -> str:
    """The digits left when every number a wearer may be given is taken away, with neighbours."""
    for pattern in ALLOWED:
        text = re.sub(pattern, " ", text)
    return " ".join(re.findall(r"\S*\d\S*", text))


def words_of(sheet: str) -> str:
    """What a person reads on a sheet; the words in its pictures are left out."""
    sheet = re.sub(r"<svg.*?</svg>", " ", sheet, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", sheet))
