"""A case as versioned JSON text, and the strict reader behind every file from outside.

A case is written with its defaults filled in, so that a later change of a default does not change
what is kept; what was not given is left out. Unknown keys are refused by name: foreign data rides
in `extensions`.
"""

from __future__ import annotations

import json
from typing import Any, NoReturn

from engine.case.model import Case
from engine.case.read import build_case, keys_once
from engine.errors import InputRefusedError, Limits

SCHEMA = 1
"""Of a case."""
_AS_GIVEN = ("extensions", "prices")
"""Parts whose nulls are the user's own and stay."""


def case_content(case: Case) -> dict[str, Any]:
    """Return the case as plain JSON values, without what was not given."""
    content = case.model_dump(mode="json", by_alias=True)
    return {
        key: value if key in _AS_GIVEN else _without_nulls(value)
        for key, value in content.items()
        if value is not None
    }


def case_to_json(case: Case) -> str:
    """Return the case as one JSON object; case_from_json gives the equal case back."""
    return json.dumps(case_content(case), indent=1, ensure_ascii=False, allow_nan=False)


def case_from_json(text: str | bytes) -> Case:
    """Read a case, or refuse it.

    Raises
        InputRefusedError: not JSON, not a case, of a newer schema, or with a refused value.
    """
    content = read_object(text)
    _refuse_newer(content)
    return build_case(content)


def read_object(text: str | bytes) -> dict[str, Any]:
    """Return one JSON object, read strictly: UTF-8, no key twice, no NaN, no broken characters.

    Raises
        InputRefusedError: anything else.

    >>> read_object('{"a": 1}')
    {'a': 1}
    >>> read_object('{"a": 1, "a": 2}')
    Traceback (most recent call last):
    engine.errors.InputRefusedError: a: this is there twice. Allowed: each key once.
    """
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text.removeprefix("\ufeff")
        content = json.loads(
            plain, object_pairs_hook=keys_once, parse_constant=_no_number, parse_int=_whole_number
        )
        json.dumps(content, ensure_ascii=False, allow_nan=False).encode()
    except InputRefusedError:
        raise
    except UnicodeError:
        _refuse("another encoding or broken characters", "JSON in UTF-8")
    except json.JSONDecodeError as error:
        _refuse(_broken(plain, error.lineno), "whole JSON")
    except ValueError:
        _refuse("a number out of range", "finite numbers")
    except RecursionError:
        _refuse("nested too deeply", "JSON of usual depth")
    if not isinstance(content, dict):
        _refuse(_WORDS.get(type(content), "a number"), "one JSON object")
    return content


_WORDS: dict[type, str] = {list: "a list", str: "a text", bool: "true or false", type(None): "null"}


def _broken(text: str, line: int) -> str:
    """Return what is wrong with a text that is no JSON, for somebody who never saw one."""
    if not text.strip():
        return "an empty file"
    if "\0" in text or text.lstrip()[0] not in "{[":
        return "a file of another kind"
    return f"a damaged or cut off file, from line {line} on,"


def _refuse(value: str, allowed: str) -> NoReturn:
    raise InputRefusedError(field="file", value=value, allowed=allowed) from None


def _whole_number(digits: str) -> int:
    """Return a whole number that is also a finite float, so that it can be computed with."""
    value = int(digits)
    try:
        float(value)
    except OverflowError:
        _refuse("a number out of range", "finite numbers")
    return value


def _no_number(value: str) -> NoReturn:
    _refuse(value, "finite numbers")


def _refuse_newer(content: dict[str, Any]) -> None:
    schema = content.get("schema")
    if isinstance(schema, int) and schema > SCHEMA:
        allowed = f"up to {SCHEMA}; a newer version of this program wrote this case"
        limits = Limits(high=SCHEMA)
        raise InputRefusedError(field="schema", value=schema, allowed=allowed, limits=limits)


def _without_nulls(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_nulls(inner) for key, inner in value.items() if inner is not None}
    return [_without_nulls(inner) for inner in value] if isinstance(value, list) else value
