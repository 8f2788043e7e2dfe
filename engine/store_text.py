"""What may be kept: labels by their rule, whole JSON texts, and what finds and proves them.

Light on purpose: a writer that only saves loads neither models nor numbers.
"""

from __future__ import annotations

import json
import unicodedata
import zlib
from typing import Any

from engine.errors import InputRefusedError

LABEL_RULE = "1 to 40 letters, digits, spaces or - . , ' + & / _, starting with a letter or digit"
LONGEST_LABEL = 40
_JOINERS = "\u200c\u200d"
_CIRCLED_LETTERS = (
    ("\u24b6", "\u24e9"),
    ("\U0001f130", "\U0001f149"),
    ("\U0001f150", "\U0001f169"),
    ("\U0001f170", "\U0001f189"),
)
_WHOLE = "one whole JSON object"


def search_key(label: str) -> str:
    """What a label is searched by: without case, width or the way an accent is written.

    >>> search_key("  Desk A ") == search_key("desk a")
    True
    """
    return unicodedata.normalize("NFKC", label).casefold().strip()


def checksum(case_json: str, result_json: str | None) -> int:
    """CRC-32 over both texts, kept beside them so that damaged bytes are noticed.

    >>> checksum("{}", None) == checksum("{}", "")
    False
    """
    found = zlib.crc32(case_json.encode(), 0 if result_json is None else 1)
    return found if result_json is None else zlib.crc32(result_json.encode(), found)


def check_label(label: str) -> None:
    """Refuse a label that engine.case would refuse too (a test compares the two rules).

    Raises
        InputRefusedError: with the rule.
    """
    inside = all(_is_word(character) or character in " -.,'+&/" for character in label[1:])
    first = _is_word(label[:1]) and label[:1] != "_"
    if not (first and inside and len(label) <= LONGEST_LABEL and label == label.strip()):
        raise InputRefusedError(field="label", value=label, allowed=LABEL_RULE)


def _is_word(character: str) -> bool:
    """True for what a Unicode regular expression takes for a part of a word."""
    if not character:
        return False
    kind = unicodedata.category(character)
    circled = any(first <= character <= last for first, last in _CIRCLED_LETTERS)
    return kind[0] in "LM" or kind in ("Nd", "Nl", "Pc") or character in _JOINERS or circled


def check_texts(label: str, case_json: str, result_json: str | None) -> None:
    """Refuse a text that is not whole JSON, or a case under another label than its own.

    Raises
        InputRefusedError: with what is allowed.
    """
    content = _read(case_json)
    if not isinstance(content, dict):
        raise InputRefusedError(field="case", value=case_json[:40], allowed=_WHOLE)
    if content.get("label") != label:
        raise InputRefusedError(field="label", value=label, allowed="the label of the case itself")
    if result_json is not None and not _looks_whole(result_json):
        raise InputRefusedError(field="result", value=result_json[:40], allowed=_WHOLE)


def _looks_whole(text: str) -> bool:
    """A result is written by this program and is large: its two ends are looked at, no more."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return text[:1] == "{" and text.rstrip()[-1:] == "}"


def _read(text: str) -> Any:
    try:
        text.encode()
        return json.loads(text)
    except (ValueError, RecursionError):
        return None
