"""The words, signs and numbers of a written prescription.

Folds what people type to one spelling and cuts it into tokens. Anything unknown, and any number
that lacks its decimal point, is refused here.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import NoReturn

from engine.errors import InputRefusedError
from engine.units import parse_number, plain_text

LONGEST_TEXT = 300
EXAMPLE = "-2.25 -0.50 x 180 add +2.00"
BASES = ("up", "down", "in", "out")
EYE_NAMES = ("right", "left", "both")
_KINDS = {
    "right": "r rt re od right",
    "left": "l lt le os left",
    "both": "ou be both",
    "times": "x × * axis ax",
    "at": "@ at",
    "add": "add adds addition",
    "near": "near reading read nv n",
    "between": "intermediate inter int computer screen",
    "plano": "plano plan pl ∞ infinity",
    "sphere": "ds sph sphere",
    "cylinder": "dc cyl cylinder",
    "unit": "d dpt dptr dioptre dioptres diopter diopters",
    "mark": "^ δ ∆ △",
    "pd": "pd",
    "prism": "prism prisms",
    "base": "base",
    "up": "up bu",
    "down": "down dn bd",
    "in": "in bi",
    "out": "out bo",
    "degree": "° deg degree degrees",
    "none": "no nil none",
    "filler": "eye eyes rx dist distance dv and with",
    "balance": "bal balance",
}
_KIND_OF = {word: kind for kind, words in _KINDS.items() for word in words.split()}
_STEPS = ("125", "375", "625", "875")
_POINTLESS = ("12", "13", "25", "37", "38", "50", "62", "63", "75", "87", "88")
"""Two digits that are the decimals of an eighth or quarter step."""
_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"))
_DEGREE_LOOKALIKES = {ord("º"): "°", ord("˚"): "°"}
_BOTH = re.compile(r"\b(?:right|re|od|r)\s*(?:[+&/]|and)\s*(?:left|le|os|l)\b")
_ACUITY = re.compile(r"(?<![0-9.,/+-])(?:6|20)/[0-9]{1,3}\b")
_TOKEN = re.compile(
    r"(?P<gap>[\s.,;:/|()\[\]=&\\]*?)"
    r"(?:(?P<number>(?:[+-]\s*)*[.,]?[0-9]+(?:[.,][0-9]+)*)"
    r"|(?P<word>(?:ds|dc|d|sph|cyl)(?=x(?![a-z]))|[^\W\d_]+|[×*@^∆△°∞])|(?P<sign>[+-])|(?P<end>$)|(?P<other>[^\s.,;:/|()\[\]=&\\]))"
)


@dataclass(frozen=True)
class Token:
    """One word, sign or number, with the separators that stood before it."""

    kind: str
    text: str
    gap: str = ""

    @property
    def sign(self) -> str:
        """Every sign before the number."""
        return "".join(c for c in self.text if c in "+-")

    @property
    def body(self) -> str:
        """The number without its signs."""
        return self.text.lstrip("+- \t\n")


def refuse(field: str, value: str, allowed: str) -> NoReturn:
    """Refuse a part of a prescription."""
    raise InputRefusedError(field=field, value=value, allowed=allowed)


def tokens_of(text: str, *, field: str) -> list[Token]:
    """Cut a text into its numbers and known words; fillers are dropped.

    Raises
        InputRefusedError: a part that is not understood.

    >>> [token.kind for token in tokens_of("PL/-0.75x90", field="prescription")]
    ['plano', 'number', 'times', 'number']
    """
    if len(text) > LONGEST_TEXT:
        refuse(field, text, f"at most {LONGEST_TEXT} characters")
    found: list[Token] = []
    gap = ""
    for match in _TOKEN.finditer(_folded(text, field)):
        kind, gap = match.lastgroup or "other", gap + match["gap"]
        word = match[kind]
        if kind == "end":
            break
        if kind == "word":
            kind = _KIND_OF.get(word, "other")
        if kind == "other":
            refuse(field, word, f"a prescription such as {EXAMPLE}; this part is not understood")
        if kind == "number" and word[0] in ".," and (word[0] == "," or (found and not gap)):
            refuse(field, word, "a digit or a sign before the decimal mark")
        if kind != "filler":
            found.append(Token(kind, word, gap))
            gap = ""
    if not found:
        refuse(field, text, f"a prescription such as {EXAMPLE}")
    return found


def _folded(text: str, field: str) -> str:
    """Lower case, one kind of minus, abbreviations without points."""
    text = text.translate(_INVISIBLE).translate(_DEGREE_LOOKALIKES)
    for sign in text:
        plain = unicodedata.normalize("NFKC", sign)
        if any(c.isdigit() for c in plain) and not sign.isdecimal():
            refuse(field, sign, "plain digits with a decimal point, such as 0.50 for a half")
    text = plain_text(text).lower().replace("\u2010", "-")
    acuity = _ACUITY.search(text)
    if acuity:
        refuse(field, acuity[0], "powers only: leave the visual acuity out")
    text = re.sub(r"\b([a-z])\.([a-z])\b\.?", r"\1\2", text)
    text = re.sub(r"\bbase\s*[-:]\s*", "base ", text)
    return _BOTH.sub(" ou ", text)


def power_of(token: Token, *, field: str) -> float:
    """The power in a number: one sign at most, one decimal mark, quarter steps with their point.

    Raises
        InputRefusedError: two signs, two decimal marks, a missing point, too many decimals.

    >>> power_of(Token("number", "-2,25"), field="sphere")
    -2.25
    """
    if len(token.sign) > 1:
        refuse(field, token.text, "one sign")
    whole, *parts = re.split("[.,]", token.body)
    if len(parts) > 1:
        refuse(field, token.text, "one decimal mark in a number, and a space between numbers")
    decimals = "".join(parts)
    if not decimals and whole.strip("0"):
        _refuse_missing_point(token, field)
    if len(decimals) > 2 and decimals.rstrip("0") not in _STEPS and len(decimals.rstrip("0")) > 2:
        refuse(field, token.text, "at most two decimals, or an eighth such as 0.125")
    return parse_number(token.sign + token.body, field=field)


def _refuse_missing_point(token: Token, field: str) -> None:
    """Refuse "-225" and "-25", which may be meant with a point; "-2" and "-10" stand."""
    sign, digits = token.sign, token.body
    readings = [int(digits) / 100]
    if len(digits) == 2:
        if digits[0] != "0" and digits not in _POINTLESS:
            return
        readings = [int(digits) / (10 if digits[0] == "0" else 100), float(digits)]
    if len(digits) > 1:
        meant = " or ".join(f"{sign}{reading:.2f}" for reading in readings)
        refuse(field, token.text, f"a number with its decimal point: {meant}, whichever is meant")
