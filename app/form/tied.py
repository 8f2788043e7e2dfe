"""Keep a figure and its unit on one line, on pages and sheets."""

from __future__ import annotations

import re

from app.form.decimal_sign import TAG

_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|cm|m|in|inch|D|h|arcmin|degrees?|minutes?|hours?|years?|people)\b"
    r"|(?:%|&#37;|Δ|×))"
)


def with_units(markup: str) -> str:
    """Return finished markup with its figures tied to their units; tags and styles stay.

    >>> with_units('<path d="M0 5 h 9"/>31 cm away, 8 &#37;').split("\\u00a0")
    ['<path d="M0 5 h 9"/>31', 'cm away, 8', '&#37;']
    """
    parts = TAG.split(markup)
    parts[::2] = [_UNIT.sub("\u00a0", text) for text in parts[::2]]
    return "".join(parts)
