"""What changed: between two saves of a case, and between two versions of the numbers.

Both compare JSON texts, not models, so that what an older version kept can still be compared.
Things with a name (a target, an option) are matched by it, so that a changed order is no change.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from engine.case.model import in_present_words, usual_chart_m, with_owned_pairs
from engine.files.case_json import read_object

if TYPE_CHECKING:
    from collections.abc import Iterator

Part = Literal["prescription", "wearer", "frame", "desk", "day", "answer", "other"]
PARTS: tuple[Part, ...] = ("prescription", "wearer", "frame", "desk", "day", "answer", "other")
"""In the order they are told."""
_PART_OF: dict[str, Part] = {
    "wearer": "wearer",
    "measured_ranges": "wearer",
    "fit": "frame",
    "owned_pairs": "frame",
    "targets": "desk",
    "activities": "day",
}
_NAMES = ("name", "target", "option", "plan", "row", "base", "id")
"""Keys that name an entry of a list, the first that is there."""
_HOURS = ("comfortable_h", "awkward_h", "blurred_h", "strained_h", "not_served_h")
"""Answers of version 1 have strained hours in place of two grades."""
_ANSWER = ("recommendation", "usable_accommodation_d", "provisional", "stops")
_NOT_TOLD = ("text", "reasons", "what_would_change", "measure_next", "expected_loss_h")
"""Sentences: they follow from what is compared."""
_ANSWER_OF_EACH = {
    "options": ("design", "recommendable", "excluded_by", "covers_distance", *_HOURS),
    "plans": ("pairs", "swaps", "cost", *_HOURS),
}
_PLACES = 6
"""Differences are told free of the residue of binary fractions."""
_DESIGNS = ("design", "equivalent_designs")
_NOT_COMPARED = ("results_version", "case_digest", "text")


@dataclass(frozen=True)
class Change:
    """One value that differs; None where it is not there.

    Attributes:
        part: of the record.
        path: from the outside in; entries of a list by their name.
        old, new: plain JSON values.
    """

    part: Part
    path: tuple[str, ...]
    old: Any
    new: Any

    @property
    def difference(self) -> float | None:
        """New minus old where both are numbers."""
        if _is_number(self.old) and _is_number(self.new):
            return float(round(self.new - self.old, _PLACES)) + 0.0
        return None


@dataclass(frozen=True)
class Shift:
    """How far one quantity moved: in how many places, and by how much at most."""

    quantity: str
    places: int
    largest_difference: float


@dataclass(frozen=True)
class VersionChanges:
    """What another version of the numbers makes of the same case.

    Attributes:
        stored_version, fresh_version: results_version of the two.
        changes: every value that differs.
        shifts: the numbers among them by quantity, the most moved places first.
    """

    stored_version: str
    fresh_version: str
    changes: tuple[Change, ...]
    shifts: tuple[Shift, ...]

    @property
    def same_version(self) -> bool:
        """Whether both come from the same version, so that nothing should differ."""
        return self.stored_version == self.fresh_version


def changes(
    *, old_case: str, new_case: str, old_result: str | None = None, new_result: str | None = None
) -> tuple[Change, ...]:
    """List what changed between two saves: prescription, wearer, frame, desk, day, answer.

    Of the answers the recommendation, the hours and the designs are compared.

    Raises
        InputRefusedError: a text is not a JSON object.

    >>> old = '{"wearer": {"right": {"add_d": 1.75}}}'
    >>> changes(old_case=old, new_case=old.replace("1.75", "2.0"))[0].path
    ('wearer', 'right', 'add_d')
    """
    found = [
        Change(_part(path), path, old, new)
        for path, old, new in _differences(_read_case(old_case), _read_case(new_case))
    ]
    before, after = _answer(old_result), _answer(new_result)
    found += [Change("answer", *difference) for difference in _differences(before, after)]
    return tuple(sorted(found, key=lambda change: PARTS.index(change.part)))


def version_changes(*, stored_result: str, fresh_result: str) -> VersionChanges:
    """Return what changed between an answer as it was kept and the same case answered now.

    Sentences are left out, since their ids and values are compared.

    Raises
        InputRefusedError: a text is not a JSON object.
    """
    stored, fresh = _read(stored_result), _read(fresh_result)
    versions = [str(one.get("results_version", "")) for one in (stored, fresh)]
    found = tuple(
        Change("answer", path, old, new)
        for path, old, new in _differences(stored, fresh)
        if not set(path) & set(_NOT_COMPARED)
    )
    return VersionChanges(versions[0], versions[1], found, _shifts(found))


def _shifts(found: tuple[Change, ...]) -> tuple[Shift, ...]:
    moved: dict[str, list[float]] = {}
    for change in found:
        if change.difference is not None:
            moved.setdefault(_quantity(change.path), []).append(change.difference)
    shifts = [Shift(name, len(all_), max(all_, key=abs)) for name, all_ in moved.items()]
    return tuple(sorted(shifts, key=lambda shift: (-shift.places, shift.quantity)))


def _quantity(path: tuple[str, ...]) -> str:
    """Return the last name of a path; near, far and value are told with what they belong to."""
    return " ".join(path[-2:]) if path[-1] in ("near", "far", "value") else path[-1]


def _part(path: tuple[str, ...]) -> Part:
    if path[0] == "wearer" and path[1:2] in (("right",), ("left",)):
        return "prescription"
    return _PART_OF.get(path[0], "other")


def _answer(result_json: str | None) -> dict[str, Any]:
    return {} if result_json is None else _summary(_read(result_json))


def _read(text: str) -> dict[str, Any]:
    """Return a kept case or answer with its designs in the words of this version."""
    found: dict[str, Any] = _in_present_words(read_object(text))
    return found


def _read_case(text: str) -> dict[str, Any]:
    """Return a kept case with its pairs where this version keeps them, and the usual chart."""
    found = {"owned_pairs": [], **with_owned_pairs(_read(text))}
    if isinstance(wearer := found.get("wearer"), dict):
        found["wearer"] = {"chart_distance_m": usual_chart_m(), **wearer}
    return found


def _in_present_words(value: Any, key: str = "") -> Any:
    if isinstance(value, list):
        return [_in_present_words(one, key) for one in value]
    if not isinstance(value, dict):
        return value
    found = {name: _in_present_words(one, name) for name, one in value.items()}
    return in_present_words(found) if key in _DESIGNS else found


def _summary(result: dict[str, Any]) -> dict[str, Any]:
    """Return the part of an answer that a person compares."""
    summary = {key: result[key] for key in _ANSWER if key in result}
    for key, wanted in _ANSWER_OF_EACH.items():
        name = key.removesuffix("s")
        summary[key] = [
            {field: one[field] for field in (name, *wanted) if field in one}
            for one in result.get(key, ())
        ]
    return {key: _without_texts(value) for key, value in summary.items()}


def _without_texts(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_texts(one) for key, one in value.items() if key not in _NOT_TOLD}
    return [_without_texts(one) for one in value] if isinstance(value, list) else value


def _differences(
    old: Any, new: Any, at: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], Any, Any]]:
    """Yield every value that differs. Something wholly new or gone is one difference."""
    if isinstance(old, list) and isinstance(new, list):
        old, new = _by_name(old, new)
    if isinstance(old, dict) and isinstance(new, dict):
        for key in [*old, *(key for key in new if key not in old)]:
            yield from _differences(old.get(key), new.get(key), (*at, key))
    elif not _same(old, new):
        yield at, old, new


def _by_name(old: list[Any], new: list[Any]) -> tuple[Any, Any]:
    """Return two lists of objects as objects, under the names of the entries, else their places."""
    if not all(isinstance(one, dict) for one in (*old, *new)):
        return old, new
    for name in _NAMES:
        names = [[one.get(name) for one in side] for side in (old, new)]
        if all(map(_are_names, names)):
            return dict(zip(names[0], old, strict=True)), dict(zip(names[1], new, strict=True))
    counted = [{str(place): one for place, one in enumerate(side, 1)} for side in (old, new)]
    return counted[0], counted[1]


def _are_names(names: list[Any]) -> bool:
    return all(isinstance(one, str) for one in names) and len(set(names)) == len(names)


def _same(old: Any, new: Any) -> bool:
    return bool(old == new) and isinstance(old, bool) == isinstance(new, bool)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
