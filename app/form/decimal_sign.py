"""Write the decimal sign that this computer's practice chose, in what is shown or printed.

Everything is written with points inside the program; the sign changes in finished markup, where it
is known which words a user typed: those stay as they are. Typing takes either sign (engine.units).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from html import escape
from typing import Any

from app.draw.svg import escaped
from app.shell import state
from engine.files import practice
from engine.roster.decimal_comma import with_decimal_commas

_DECIMAL = r"(?<![\w.#])\d+(?:\.|&#46;)\d+(?!\w*(?:\.|&#46;)\d)"
"""A number with one decimal point, plain or as `escaped` writes it; not 1.4.12, not 29.11.2026."""
_TAG = re.compile(r"(<style.*?</style>|<[^>]*>)", re.DOTALL)
_WORDS_OF_A_USER = (
    "name", "label", "coating", "tint", "safety_rating", "remake_terms", "laboratory", "frame",
)  # fmt: skip
"""How the fields end into which words are typed, not numbers."""


def is_comma() -> bool:
    """Return whether the practice chose the decimal comma."""
    return practice.usual().decimal_sign == "comma"


def shown(markup: str) -> str:
    """Return finished markup of ours with the sign that was chosen."""
    here = practice.usual()
    if here.decimal_sign != "comma":
        return markup
    return with_commas(markup, as_typed=[*_typed_words(), *here.letter_head])


def with_commas(markup: str, *, as_typed: Collection[str] = ()) -> str:
    """Return markup with decimal commas in its words; tags and styles stay, and what was typed.

    >>> with_commas('<p x="1.5">+1.25 D at 60 cm, index 1.6, frame R 1.5</p>', as_typed=["R 1.5"])
    '<p x="1.5">+1,25 D at 60 cm, index 1,6, frame R 1.5</p>'
    """
    typed = sorted({form(one) for one in as_typed for form in (escape, escaped)}, key=len)
    kept = "|".join(re.escape(one) for one in reversed(typed) if re.search(r"\d", one))
    found = re.compile(f"({kept})|{_DECIMAL}" if kept else _DECIMAL)

    def comma(match: re.Match[str]) -> str:
        if kept and match[1]:
            return match[0]
        return match[0].replace("&#46;", ",").replace(".", ",")

    parts = _TAG.split(markup)
    parts[::2] = [found.sub(comma, text) for text in parts[::2]]
    return "".join(parts)


def in_chart(spec: Any) -> Any:
    """Return a drawing's specification with the sign that was chosen, in its axes and its words."""
    if not is_comma():
        return spec
    number = {"decimal": ",", "thousands": " ", "grouping": [3]}
    config = {**spec.get("config", {}), "locale": {"number": number}}
    return {**_values(spec), "config": config}


def _values(part: Any) -> Any:
    """Return a part of a specification, its words with commas; formats and fields as they are."""
    if isinstance(part, Mapping):
        return {
            name: with_commas(value)
            if isinstance(value, str) and name in _SHOWN
            else _rows(value)
            if name in ("datasets", "values")
            else _values(value)
            for name, value in part.items()
        }
    return [_values(one) for one in part] if isinstance(part, list) else part


def in_table(csv_text: str) -> str:
    """Return a table as an office with the chosen sign opens it, semicolons beside commas."""
    return with_decimal_commas(csv_text) if is_comma() else csv_text


_SHOWN = ("title", "text", "description")


def _rows(data: Any) -> Any:
    """Return rows of data, the words in them with commas."""
    if isinstance(data, Mapping):
        return {name: _rows(one) for name, one in data.items()}
    if isinstance(data, list):
        return [_rows(one) for one in data]
    return with_commas(data) if isinstance(data, str) else data


def _typed_words() -> list[str]:
    """Return what was typed as words in this draft."""
    return [
        value
        for name, value in state.answers().items()
        if isinstance(value, str) and value and name.rpartition(".")[2] in _WORDS_OF_A_USER
    ]
