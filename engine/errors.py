"""What the engine says when it cannot or should not go on: refusals and doubts.

A refusal stops the work and says in sentences what was given and what is allowed; its field is a
path, which `case.named` puts into words. A doubt does not
stop it: the value is computed with, and shown with the range it falls outside of and who
published that range.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any


class LevelgazeError(Exception):
    """Base of every error this program raises on purpose."""


class InputRefusedError(LevelgazeError, ValueError):
    """A value that cannot be computed with.

    Attributes:
        field: where the value stands, as a path ("wearer.right.axis_deg"); signs that would not be
            seen, or would turn a line round, are written as escapes.
        value: the value as given.
        allowed: the rule in words ("1 to 180").
        sentence: what was typed and what is allowed, for a person, without the field.

    >>> error = InputRefusedError(field="wearer.age_years", value=5.0, allowed="18 to 110 years")
    >>> error.sentence
    '5 is too low. Allowed: 18 to 110 years.'
    >>> str(error)
    'wearer.age_years: 5 is too low. Allowed: 18 to 110 years.'
    """

    def __init__(self, *, field: str, value: Any, allowed: str) -> None:
        self.field, self.value, self.allowed = _visible(field), value, allowed
        self.sentence = refused(value, allowed, field=field)
        super().__init__(f"{self.field}: {self.sentence}")


class TableError(LevelgazeError):
    """A reference table that is missing, damaged or does not hold what was asked for."""


@dataclass(frozen=True)
class Flag:
    """A doubt: the value is used, but it lies outside a published or usual range.

    Attributes:
        field: where the value stands, as a path.
        value: the value as used.
        range: the range or expectation in words, with its unit.
        source: who published it, or "common practice, no source".
    """

    field: str
    value: float | str
    range: str
    source: str


_SAID = {
    "": "nothing is given",
    "nothing": "nothing is given",
    "none": "nothing is given",
    "twice": "this is there twice",
    "nested too deeply": "this is nested too deeply",
    "given": "this cannot be used",
    "(not repeated)": "what was given (not repeated here) cannot be used",
}
"""What is said of a value that is no noun."""
_LACKS = ("nothing is given", "there is no")
LONGEST_SHOWN = 60
_NUMBER = r"-?\d[\d,]*(?:\.\d+)?(?:e[-+]?\d+)?"
_LEAST = re.compile(rf"(?:^|more than |at least |above |, |from )({_NUMBER})(?= to )|"
                    rf"(?:more than|at least|above) ({_NUMBER})|"
                    rf"^({_NUMBER})(?: \w+)? or more")  # fmt: skip
_MOST = re.compile(rf" to (?:less than )?({_NUMBER})|(?:at most|less than|up to) ({_NUMBER})|"
                   rf"^({_NUMBER}) \w+ at most")  # fmt: skip
_COUNTED = ("rows", "characters")
_SIZE = re.compile(r" (?:cm|mm|m|in|MB|characters)\b")


def refused(value: Any, allowed: str, *, field: str = "") -> str:
    """Return as sentences why a value cannot be used, and what is allowed.

    Parameters
        value: as given, or in words what was found: "an empty file", "no column ref", "twice".
        allowed: the rule in words, without a full stop.
        field: where it stands; a distance is too near where another number is too low.

    >>> refused("12", "15 to 2000 cm", field="targets.0.distance_cm")
    '12 is too near. Allowed: 15 to 2000 cm.'
    >>> refused("wall", "one of monitor, laptop")
    'wall cannot be used. Allowed: one of monitor, laptop.'
    >>> refused("nothing", "a value")
    'nothing is given. Needed: a value.'
    """
    shown = _shown(value)
    if isinstance(value, str) and allowed in ("a number", "a whole number") and _is_number(shown):
        shown += " in quotes"
    wrong = _SAID.get(shown.strip("'")) or (f"there is {shown}" if shown.startswith("no ") else "")
    if not wrong:
        why = _against(shown, allowed, field) or "cannot be used"
        wrong = f"{'this' if isinstance(value, list | tuple | dict) else shown} {why}"
    end = "" if allowed.endswith((".", "?", "!")) else "."
    return f"{wrong}. {'Needed' if wrong.startswith(_LACKS) else 'Allowed'}: {allowed}{end}"


def _against(shown: str, allowed: str, field: str) -> str:
    """Return on which side of its limits a number is; nothing where it is no number, or within."""
    found = re.fullmatch(rf"'?({_NUMBER})(?: (\w+))?'?", shown)
    if not found or (found[2] and not re.search(rf"\b{found[2]}\b", allowed)):
        return ""
    number, is_size = _float(found[1]), bool(_SIZE.search(allowed))
    words = ("small", "large") if is_size else ("low", "high")
    if re.search(r"distance|clear|(?:near|far)[a-z]*_cm", field):
        words = ("near", "far")
    for limits, sign, word in ((_LEAST, -1.0, words[0]), (_MOST, 1.0, words[1])):
        limit = limits.search(allowed)
        if limit:
            bound = _float(next(one for one in limit.groups() if one))
            beyond = sign * (number - bound)
            strict = re.search(r"more than|less than|above", limit[0]) is not None
            if beyond > 0.0 or (strict and beyond == 0.0):
                return "are too many" if found[2] in _COUNTED and sign > 0 else f"is too {word}"
    return ""


def _is_number(text: str) -> bool:
    return re.fullmatch(_NUMBER, text) is not None


def _float(text: str) -> float:
    return float(text.replace(",", ""))


def _shown(value: Any) -> str:
    """Return a value as it was typed, on one line of bounded length."""
    if value is None:
        return "nothing"
    said = f"{value:.6g}" if isinstance(value, float) else str(value)
    text = _visible(said[: 2 * LONGEST_SHOWN]).strip()
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "\u2026"


def _visible(field: str, *, limit: int = 200) -> str:
    """Put a path that may end in a key somebody else chose on one line of bounded length."""
    shown = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in field)
    return shown if len(shown) <= limit else shown[: limit - 3] + "..."
