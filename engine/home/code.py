"""Read the answers from the text of a code, as the Home check packs them (`app/home_file/code.js`).

    LG2 fl= ag=5559 gl=gepr co=chup,taof sc=sc/27/us/ah/1/65/ju/52 ho=masc:5,pa:1 ... #123

A field is its name and its answer, each word of an id as its first two letters: gepr is
general_progressive, "main screen" is masc. A field that is left out is not answered; one without a
value is answered by none. What stands on the desk has its values between slashes, in the order of
the model. The three digits at the end change when a part is lost or altered.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from engine.errors import InputRefusedError
from engine.home.answers import (
    ASPECTS,
    SCREEN_NAMES,
    STEPS,
    HomeAnswers,
    HomeReading,
    HomeScreen,
    choices,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic import BaseModel

MARK = "LG2"
"""How a code begins; another number is another way to pack."""
_BEGINS = re.compile(r"\bLG\d+\b")
_ENDS = re.compile(r"#\d{3}\b")
_SUM_FACTOR, _SUMS = 31, 997
_PARTS: dict[str, type[BaseModel]] = {"screens": HomeScreen, "reading": HomeReading}
_NUMBERS = ("eyes_above_desk_cm", "size_in", "distance_cm", "top_above_desk_cm")
_MANY = ("flags", "coping", "others", "needs", "bothers", "tell", "skipped")


def holds_code(text: str) -> bool:
    """Tell whether a text that is no JSON object holds a code of the Home check, of any version.

    >>> holds_code("Look: LG2 fl= #123"), holds_code('{"label": "LG2"}')
    (True, False)
    """
    is_object = text.lstrip("\ufeff \t\r\n").startswith("{")
    return not is_object and _BEGINS.search(text) is not None


def unpack(text: str) -> dict[str, Any]:
    """Return the content of `HomeAnswers` from the code in a text; what stands around it is left.

    Line ends and doubled spaces inside the code do not matter.

    >>> unpack("LG2 fl= ag=5559 #953")
    {'flags': [], 'age': '55_59'}

    Raises
        InputRefusedError: no such code, a part of it lost or altered, or a word that is unknown.
    """
    begin = _BEGINS.search(text)
    if begin is None:
        raise _refused("no code", f"a text that begins with {MARK}")
    if begin.group() != MARK:
        raise _refused(begin.group(), f"{MARK}; this code is of another version of the Home check")
    words = text[begin.start() :].split()
    last = next((at for at, word in enumerate(words) if _ENDS.match(word)), None)
    if last is None:
        raise _refused("a code without its end", "the whole text, to the # and its three digits")
    if not words[last].startswith(_sum(" ".join(words[:last]))):
        raise _refused("a code of which a part is lost or altered", "the text as it was copied")
    fields = {short(name): name for name in HomeAnswers.model_fields}
    found: dict[str, Any] = {}
    for word in words[1:last]:
        name, _, said = word.partition("=")
        field = _known(fields, name, field="field")
        found[field] = _answer(field, said)
    return found


def _refused(value: str, allowed: str) -> InputRefusedError:
    return InputRefusedError(field="file", value=value, allowed=allowed)


def _sum(text: str) -> str:
    total = 0
    for letter in text:
        total = (total * _SUM_FACTOR + ord(letter)) % _SUMS
    return f"#{total:03d}"


def short(name: str) -> str:
    """Return an id as a code writes it.

    >>> short("general_progressive"), short("main screen"), short("55_59")
    ('gepr', 'masc', '5559')
    """
    return "".join(word[:2] for word in re.split("[_ ]", name))


@cache
def words_of(field: str) -> tuple[str, ...]:
    """Return the ids that may stand in a field of a code."""
    if field == "skipped":
        return STEPS
    if field in ("hours", "what"):
        what = tuple(choices("reading"))
        return what if field == "what" else (*SCREEN_NAMES, *what, *choices("others"))
    if field == "shape":
        return tuple(name for name in ASPECTS if name != "laptop")
    if field in ("form", "side"):
        return get_args(HomeScreen.model_fields[field].annotation)
    return tuple(choices(field))


@cache
def _words(field: str) -> dict[str, str]:
    return {short(word): word for word in words_of(field)}


def _answer(field: str, said: str) -> Any:
    if field in _PARTS:
        return [_part(_PARTS[field], one) for one in said.split(",") if one]
    if field == "hours":
        names = _words(field)
        hours = (one.partition(":") for one in said.split(",") if one)
        return {_known(names, name, field=field): _number(field, h) for name, _, h in hours}
    if field in _MANY:
        return [_one(field, one) for one in said.split(",") if one]
    return _one(field, said)


def _part(model: type[BaseModel], said: str) -> dict[str, Any]:
    values = said.split("/")
    if len(values) != len(model.model_fields):
        raise _refused(said, f"{len(model.model_fields)} values between slashes")
    named = zip(model.model_fields, values, strict=True)
    return {name: _one(name, value) for name, value in named if value}


def _one(field: str, said: str) -> Any:
    if field in _NUMBERS:
        return _number(field, said)
    if field in ("movable", "seen_by_doctor"):
        return _known({"1": True, "0": False}, said, field=field)
    return _known(_words(field), said, field=field)


def _known(names: Mapping[str, Any], said: str, *, field: str) -> Any:
    if said not in names:
        raise InputRefusedError(field=field, value=said, allowed=f"one of {', '.join(names)}")
    return names[said]


def _number(field: str, said: str) -> float:
    try:
        return float(said)
    except ValueError:
        raise InputRefusedError(field=field, value=said, allowed="a number") from None
