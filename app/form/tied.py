"""Keep a figure and its unit on one line, on pages and sheets."""

from __future__ import annotations

import re

_AS_IT_IS = re.compile(r"(<style.*?</style>|<svg.*?</svg>|<[^>]*>)", re.DOTALL)
"""Tags, and drawings, whose words have lines of their own."""
_UNIT = re.compile(
    r"(?<=\d) (?=(?:mm|cm|m|in|inch|D|h|arcmin|degrees?|minutes?|hours?|years?|people|helped)\b"
    r"|(?:%|&#37;|Δ|×))"
    r"|(?<=\brow) (?=\d)"
)


def with_units(markup: str) -> str:
    """Return finished markup with its figures tied to their units, and a row to its number.

    >>> with_units('<svg><text>5 cm</text></svg>31 cm away, 8 &#37;').split("\\u00a0")
    ['<svg><text>5 cm</text></svg>31', 'cm away, 8', '&#37;']
    >>> with_units("row 38").split("\\u00a0")
    ['row', '38']
    """
    parts = _AS_IT_IS.split(markup)
    parts[::2] = [_UNIT.sub("\u00a0", text) for text in parts[::2]]
    return "".join(parts)
