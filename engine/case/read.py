"""Cases from outside: made or refused value by value, and flagged where unusual."""

from __future__ import annotations

import json
import math
import os
import re
import stat
from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from engine import tables, wording
from engine.case.model import NAME_RULE, Case
from engine.errors import Flag, InputRefusedError, Limits

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

LARGEST_BYTES = 5_000_000
"""Of a file with a case: the largest one with 12 targets and 12 activities has some 20,000."""
DEEPEST = 100
"""Lists and objects in each other: far above any case, far below what Python can follow."""
MOST_VALUES = 5000
"""Entries of all lists and objects but extensions: far above any case, checked in no time."""
MOST_NAMED = 3
"""Keys of a crowd that a refusal names one by one."""


def build_case(content: Mapping[str, Any]) -> Case:
    """Make a case, or refuse the first value that is wrong.

    What nobody gave and the program fills in has the origin "default" (`mark_defaults`).

    Raises
        InputRefusedError: with the path of the field, its value and what is allowed.
    """
    if _is_deeper(content, DEEPEST):
        raise InputRefusedError(
            field="case", value="nested too deeply", allowed=f"nested {DEEPEST} deep"
        )
    _refuse_a_crowd(content)
    try:
        return mark_defaults(Case.model_validate(content))
    except ValidationError as error:
        raise refusals(error)[0] from None


def read_case(path: Path) -> Case:
    """Read a case from a JSON file (UTF-8).

    Raises
        InputRefusedError: the file cannot be read, is not JSON, or holds a refused value.
    """
    try:
        text = _text_of(path)
        content = json.loads(text, object_pairs_hook=keys_once)
    except OSError as error:
        raise _bad_file(path, "a JSON file", f"no file to read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise _bad_file(path, "a JSON file in UTF-8", "another encoding") from None
    except json.JSONDecodeError as error:
        found = (
            f"a break in line {error.lineno} ({error.msg})"
            if path.stat().st_size
            else "an empty file"
        )
        raise _bad_file(path, "a whole JSON file", found) from None
    except RecursionError:
        raise _bad_file(path, "a JSON file", "nested too deeply") from None
    except InputRefusedError:
        raise
    except ValueError:
        raise _bad_file(path, "a JSON file", "a number of thousands of digits") from None
    if not isinstance(content, dict):
        raise _bad_file(path, "one JSON object", f"a {type(content).__name__}")
    return build_case(content)


def _text_of(path: Path) -> str:
    """Return the text of a file, if it is one and small enough.

    Raises
        InputRefusedError: a folder, pipe or device, which might never end; or too large.
        OSError, UnicodeDecodeError: as `open` and `read` raise them.
    """
    no_waiting = getattr(os, "O_NONBLOCK", 0)  # for somebody to write into a pipe
    handle = os.open(path, os.O_RDONLY | no_waiting | getattr(os, "O_BINARY", 0))
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise _bad_file(path, "a JSON file", "a folder, pipe or device")
        content = file.read(LARGEST_BYTES + 1)
    if len(content) > LARGEST_BYTES:
        raise _bad_file(path, f"a JSON file of at most {LARGEST_BYTES / 1e6:g} MB", "a larger one")
    return content.decode("utf-8-sig")


def keys_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON, for `json.loads`; the last of two equal keys would silently win.

    Raises
        InputRefusedError: a key stands twice.
    """
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = Counter(name for name, _ in pairs).most_common(1)[0][0]
        raise InputRefusedError(field=twice, value="twice", allowed="each key once")
    return found


_INSTEAD = {
    "top_above_eye_cm": "centre_above_eye_cm",
    "centre_above_eye_cm": "top_above_eye_cm",
    "text_height_mm": "text_arcmin",
    "fitting_height_mm": "fitting_height_right_mm",
}
"""What is given in place of a value, which is then not left out."""


def mark_defaults(case: Case) -> Case:
    """Return the case with the origin "default" at each value that was left out of it.

    Those are the values that have a spread in assumed_spreads.csv, since the program fills them in.

    >>> eye, screen = {"sphere_d": 0.0}, {"name": "screen", "kind": "screen", "distance_cm": 65}
    >>> screen |= {"width_cm": 50, "height_cm": 30, "top_above_eye_cm": 0, "text_height_mm": 3}
    >>> desk = {"name": "desk", "hours": 6, "looks": [{"target": "screen", "share": 1.0}]}
    >>> case = Case.model_validate({"label": "invented", "targets": [screen], "activities": [desk],
    ...     "wearer": {"age_years": 50, "near_test_distance_cm": 40, "right": eye, "left": eye},
    ...     "fit": {"vertex_mm": 13.0, "fitting_height_mm": 20}})
    >>> sorted(mark_defaults(case).origin)
    ['/fit/pantoscopic_deg', '/targets/0/tilt_deg']
    """
    left_out = {
        f"{at}/{row['id']}": "default"
        for row in tables.rows("assumed_spreads")
        for at, part in _parts(case, row["applies_to"])
        if _is_left_out(part, row["id"])
    }
    return case.model_copy(update={"origin": left_out | case.origin})


def _parts(case: Case, applies_to: str) -> Iterator[tuple[str, BaseModel]]:
    """Yield the parts of a case that a row of assumed_spreads.csv applies to, with their paths."""
    if applies_to in ("wearer", "fit"):
        yield f"/{applies_to}", getattr(case, applies_to)
    for index, target in enumerate(case.targets):
        if target.kind == applies_to:
            yield f"/targets/{index}", target


def _is_left_out(part: BaseModel, name: str) -> bool:
    """Tell whether a field of a part was not given, nor what may stand in its place."""
    if (
        name not in type(part).model_fields
        or getattr(part, _INSTEAD.get(name, ""), None) is not None
    ):
        return False
    return getattr(part, name) is None or name not in part.model_fields_set


def _is_deeper(content: Any, limit: int) -> bool:
    """Tell whether lists and objects stand in each other more than limit deep."""
    level = [content]
    for _ in range(limit + 1):
        inner = [list(one.values()) if isinstance(one, dict) else one for one in level]
        level = [value for one in inner if isinstance(one, list | tuple) for value in one]
        if not level:
            return False
    return True


def _refuse_a_crowd(content: Any) -> None:
    """Refuse what may be wrong in thousands of places before each of them is looked at."""
    level: list[tuple[str, Any]] = [("case", content)] if isinstance(content, dict) else []
    count = 0
    while level:
        inner = []
        for path, part in level:
            count += len(part)
            if count > MOST_VALUES:
                most = f"at most {MOST_VALUES:,} values in a case"
                allowed = f"{most}; foreign data goes into extensions"
                raise InputRefusedError(field=path, value=_crowd(path, part), allowed=allowed)
            named = part.items() if isinstance(part, dict) else enumerate(part)
            before = "" if path == "case" else f"{path}."
            inner += [
                (f"{before}{name}", value)
                for name, value in named
                if isinstance(value, dict | list | tuple) and (before or name != "extensions")
            ]
        level = inner


def _crowd(path: str, part: Any) -> str:
    """Return how many there are, and the first few names that no field of a case has there."""
    if not isinstance(part, dict):
        return f"{len(part):,} items"
    _, model = _field_at(tuple(path.split(".")), Case)
    known = {info.alias or name for name, info in model.model_fields.items()}
    strange = [str(name) for name in part if name not in known]
    named = ", ".join(f"{name:.12}" for name in strange[:MOST_NAMED])
    more = len(strange) - MOST_NAMED
    return f"{named} and {more:,} more keys" if more > 0 else named


def _bad_file(path: Path, allowed: str, found: str) -> InputRefusedError:
    return InputRefusedError(field=path.name, value=found, allowed=allowed)


def refusals(error: ValidationError, *, model: type[BaseModel] = Case) -> list[InputRefusedError]:
    """Return one refusal for each thing that is wrong, in the order of the fields of the model."""
    return [_refusal(found, model) for found in error.errors()]


def _refusal(found: Any, model: type[BaseModel]) -> InputRefusedError:
    """Return one finding of pydantic as a refusal, by the path a file has."""
    path, value, context = found["loc"], found["input"], found.get("ctx", {})
    limits = None
    if found["type"] in _BEYOND:
        own = limits_of(_field_at(path, model)[0])
        limits = own if own.words else _limits(context)
    if found["type"] == "between_fields":
        path, value, limits = (*path, context["field"]), context["value"], context["limits"]
    if found["type"] == "missing" or value is None:
        value = "nothing"
    elif isinstance(value, dict):
        value = "an object"
    field = ".".join(str(part) for part in path if part != "[key]") or "case"
    allowed = _allowed(found, model)
    refusal = InputRefusedError(field=field, value=value, allowed=allowed, limits=limits)
    if not allowed.endswith(" number"):
        return refusal
    return refusal.within(allowed_range(_field_at(path, model)[0]))


_BEYOND = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_ALLOWED = {
    "missing": "a value",
    "extra_forbidden": "the keys of a case; foreign data goes into extensions",
    "float_type": "a number",
    "float_parsing": "a number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "bool_parsing": "true or false",
    "bool_type": "true or false",
    "finite_number": "a finite number",
    "string_type": "a text",
    "string_unicode": "a text in Unicode",
    "tuple_type": "a list",
    "dict_type": "an object",
    "model_type": "an object",
}


def _allowed(found: Any, model: type[BaseModel]) -> str:
    """Return in words what is allowed where pydantic found something wrong."""
    context, kind = found.get("ctx", {}), found["type"]
    if kind in _ALLOWED:
        return _ALLOWED[kind]
    if kind in _BEYOND:
        info, _ = _field_at(found["loc"], model)
        return allowed_range(info) or _limits(context).words
    if kind in ("too_short", "too_long"):
        least, most = context.get("min_length"), context.get("max_length")
        return f"at least {least} item" if most is None else f"at most {most} items"
    if kind == "string_pattern_mismatch":
        return "a ratio such as 16:9" if ":" in context["pattern"] else NAME_RULE
    return _plain(found["msg"])


def _plain(message: str) -> str:
    return re.sub(r"^(Value error, |Input should be )", "", message)


def _field_at(
    path: tuple[str | int, ...], model: type[BaseModel]
) -> tuple[FieldInfo, type[BaseModel]]:
    """Give the definition of the field a path leads to, and the model that is looked into there."""
    info = FieldInfo()
    for part in path:
        if isinstance(part, str) and part in model.model_fields:
            info = model.model_fields[part]
            inner = [kind for kind in _inner_types(info.annotation) if issubclass(kind, BaseModel)]
            model = inner[0] if inner else model
    return info, model


def _inner_types(annotation: Any) -> Iterator[type]:
    if isinstance(annotation, type):
        yield annotation
    for argument in get_args(annotation):
        yield from _inner_types(argument)


def limits_of(info: FieldInfo) -> Limits:
    """Return the limits of a field of a model, with its unit.

    >>> from engine.case.model import Target
    >>> limits_of(Target.model_fields["distance_cm"])
    Limits(low=15, high=2000, above=False, below=False, unit='cm')
    """
    found = {
        name: getattr(rule, name)
        for rule in info.metadata
        for name in ("ge", "gt", "le", "lt")
        if getattr(rule, name, None) is not None
    }
    extra = info.json_schema_extra
    unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
    return _limits(found, unit="" if unit == "ratio" else unit)


def _limits(found: Mapping[str, Any], *, unit: str = "") -> Limits:
    """Return limits as pydantic calls them: ge and le are themselves allowed, gt and lt are not."""
    return Limits(
        low=found.get("gt", found.get("ge")),
        high=found.get("lt", found.get("le")),
        above="gt" in found,
        below="lt" in found,
        unit=unit,
    )


def allowed_range(info: FieldInfo) -> str:
    """Return the limits of a field in words with its unit, or nothing where it has none.

    >>> from engine.case.model import Target
    >>> allowed_range(Target.model_fields["distance_cm"])
    '15 to 2000 cm'
    """
    return limits_of(info).words


def usual_range_flags(case: Case) -> tuple[Flag, ...]:
    """List values outside a published or usual range; they are computed with all the same.

    The ranges are rows of usual_ranges.csv.
    """
    return tuple(
        Flag(
            field=path,
            value=value,
            range=_range_words(row),
            source=f"{row['source']} ({row['status']})",
        )
        for row in tables.rows("usual_ranges")
        for path, value in _values_of(case, row)
        if not usual_range(row["applies_to"], row["field"]).holds(value)
    )


@dataclass(frozen=True)
class UsualRange:
    """What is usual of one value; see usual_ranges.csv."""

    low: float
    high: float
    words: str

    def holds(self, value: float) -> bool:
        """Tell whether a value is inside."""
        return self.low <= value <= self.high


ANY_VALUE = UsualRange(-math.inf, math.inf, "any value")


@cache
def usual_range(applies_to: str, field: str) -> UsualRange:
    """Return what is usual of a field of a screen, laptop, page, fit, wearer or eye.

    >>> usual_range("laptop", "distance_cm").words
    '40 to 75 cm'
    """
    for row in tables.rows("usual_ranges"):
        if (row["applies_to"], row["field"]) == (applies_to, field):
            low, high = float(row["low"]), float(row["high"])
            return UsualRange(low, high, _range_words(row))
    return ANY_VALUE


def _range_words(row: Mapping[str, str]) -> str:
    """Return a usual range as a person reads it."""
    low, high, unit = row["low"], row["high"], "°" if row["unit"] == "deg" else f" {row['unit']}"
    if row["field"] == "centration_difference_mm":
        return f"right and left within {high}{unit} of each other"
    if row["field"] == "azimuth_deg":
        return f"up to {high}{unit} to either side"
    return f"{wording.minus(low)} to {high}{unit}"


def _values_of(case: Case, row: Mapping[str, str]) -> Iterator[tuple[str, float]]:
    """Yield the values of a case that a row of usual_ranges.csv is about, with their paths."""
    part, field = row["applies_to"], row["field"]
    if field == "centration_difference_mm":
        right, left = case.wearer.pd_right_mm, case.wearer.pd_left_mm
        if right is not None and left is not None:
            yield "wearer.pd_right_mm", abs(right - left)
    elif part == "wearer":
        yield from _numbers("wearer", case.wearer, field)
    elif part == "eye":
        for side in ("right", "left"):
            yield from _numbers(f"wearer.{side}", getattr(case.wearer, side), field)
    elif part == "fit" and field == "fitting_height_mm":
        yield from ((f"fit.{field}", height) for height in sorted(set(case.fit.heights_mm)))
    elif part == "fit":
        yield from _numbers("fit", case.fit, field)
    else:
        for index, target in enumerate(case.targets):
            if part == ("laptop" if target.laptop else target.kind):
                yield from _numbers(f"targets.{index}", target, field)


def _numbers(path: str, part: Any, field: str) -> Iterator[tuple[str, float]]:
    """Yield the value of a field where there is one; an angle to the side is worked out."""
    if field == "azimuth_deg":
        field, value = "offset_cm", math.degrees(math.asin(part.offset_cm / part.distance_cm))
    else:
        value = getattr(part, field)
    if value is not None:
        yield f"{path}.{field}", value
