"""From what stands in the fields of the home check to its answers. Pure: no page library.

A question counts as answered once its reader has gone on from it; the choices themselves may all
be empty then. Names of values begin with "home.".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.errors import InputRefusedError
from engine.home.answers import (
    STEPS,
    Doubt,
    HomeAnswers,
    Step,
    answered,
    answers_from,
    check_measures,
    choices,
    have_parts,
)
from engine.units import parse_length_cm, parse_number

PREFIX = "home."
NONE = "none"
"""The last box of the warning signs: nothing of this."""
MANY: tuple[Step, ...] = ("coping", "others", "needs", "bothers", "tell")
"""Questions of boxes to tick, any number of them."""
MOST_SCREENS = 3
SHAPES = {"usual": "Usual (wide)", "square": "Nearly square", "extra_wide": "Extra wide"}
FORMS = {"screen": "A screen of its own", "laptop": "A laptop"}
SIDES = {"left": "To the left", "right": "To the right", "ahead": "Above or below"}
_INCHES = ' in "inch inches ”″'


@dataclass(frozen=True)
class Reading:
    """What the fields say.

    Attributes:
        answers: as far as they are good. refused: a refusal by the name of its field.
        doubts: measures that cannot be right, by the name of the field to mend.
    """

    answers: HomeAnswers
    refused: Mapping[str, InputRefusedError]
    doubts: Mapping[str, Doubt]

    @property
    def blocks(self) -> frozenset[Step]:
        """Questions that cannot be left as they are."""
        refused = {step_of(name) for name in self.refused}
        return frozenset(refused | {doubt.step for doubt in self.doubts.values() if doubt.blocks})

    @property
    def open_step(self) -> Step | None:
        """The first question to be answered or mended; None when all are done."""
        if self.answers.flags is None or self.answers.flags:
            return "flags"
        for step in STEPS:
            if not answered(self.answers, step) or step in self.blocks:
                return step
        return None


@dataclass
class _Sheet:
    values: Mapping[str, Any]
    refused: dict[str, InputRefusedError] = field(default_factory=dict)

    def of(self, name: str, default: Any = None) -> Any:
        return self.values.get(PREFIX + name, default)

    def ticked(self, question: str) -> list[str]:
        return [choice for choice in choices(question) if self.of(f"{question}.{choice}")]

    def done(self, step: Step) -> bool:
        return bool(self.of(f"done.{step}"))

    def number(self, name: str, read: Callable[..., float]) -> float | None:
        text = str(self.of(name) or "").strip()
        if not text:
            return None
        try:
            return read(text, field=name)
        except InputRefusedError as refusal:
            self.refused[name] = refusal
            return None


def read(values: Mapping[str, Any]) -> Reading:
    """The answers in a draft. A refused value counts as not answered yet."""
    sheet = _Sheet(values)
    content = _content(sheet)
    answers = _accepted(content, sheet)
    doubts = {field_of(doubt, answers): doubt for doubt in check_measures(answers)}
    return Reading(answers=answers, refused=sheet.refused, doubts=doubts)


def step_of(name: str) -> Step:
    """The question a field belongs to.

    >>> step_of("s1.top"), step_of("s0.distance"), step_of("hours.papers")
    ('heights', 'distances', 'hours')
    """
    first, _, last = name.partition(".")
    if first.startswith("s") and first[1:].isdigit():
        places: dict[str, Step] = {"distance": "distances", "reach": "distances", "top": "heights"}
        return places.get(last, "screens")
    own: dict[str, Step] = {"card": "distances", "ruler": "distances", "eyes": "heights"}
    if first in own:
        return own[first]
    return next((step for step in STEPS if step == first), "screens")


def field_of(doubt: Doubt, answers: HomeAnswers) -> str:
    """The field under which a doubt is said."""
    if doubt.id in ("scale", "scale_missing"):
        return "card"
    if doubt.id == "eyes":
        return "eyes"
    if doubt.step == "reading":
        reading = answers.reading or ()
        return f"reading.{reading[doubt.place].what}.cm"
    return f"s{doubt.place}.{'top' if doubt.step == 'heights' else 'distance'}"


def things(values: Mapping[str, Any]) -> tuple[str, ...]:
    """Names of all that is looked at, as far as told."""
    return read(values).answers.things


def screen_count(values: Mapping[str, Any]) -> int:
    """How many screens there are."""
    return min(max(int(values.get(f"{PREFIX}screens.count") or 1), 1), MOST_SCREENS)


def _content(sheet: _Sheet) -> dict[str, Any]:
    """Plain values of the questions that are done."""
    content: dict[str, Any] = {"flags": _flags(sheet)}
    if sheet.of("age"):
        content["age"] = sheet.of("age")
    for name in ("glasses", "ruler"):
        content[name] = sheet.of(name)
    if have_parts(content["glasses"]):
        content["lens_part"] = sheet.of("lens_part")
    for question in MANY:
        if sheet.done(question):
            content[question] = sheet.ticked(question)
    content["card_cm"] = sheet.number("card", parse_length_cm)
    content["eyes_above_desk_cm"] = sheet.number("eyes", parse_length_cm)
    content["screens"] = _screens(sheet)
    if sheet.done("reading"):
        content["reading"] = [
            {"what": what, "distance_cm": sheet.number(f"reading.{what}.cm", parse_length_cm)}
            for what in sheet.ticked("reading")
        ]
    content["skipped"] = [step for step in STEPS if sheet.of(f"done.{step}") == "skipped"]
    return content


def _flags(sheet: _Sheet) -> list[str] | None:
    """The signs ticked; no sign only where the last box says so."""
    ticked = sheet.ticked("flags")
    return ticked if ticked or sheet.of(f"flags.{NONE}") else None


def _screens(sheet: _Sheet) -> list[dict[str, Any]] | None:
    found = []
    for at in range(screen_count(sheet.values)):
        size = sheet.number(f"s{at}.size", _inches)
        if size is None:
            return None
        found.append(
            {
                "form": sheet.of(f"s{at}.form") or "screen",
                "size_in": size,
                "shape": sheet.of(f"s{at}.shape") or "usual",
                "side": (sheet.of(f"s{at}.side") or "left") if at else "ahead",
                "movable": not sheet.of(f"s{at}.fixed"),
                "distance_cm": sheet.number(f"s{at}.distance", parse_length_cm),
                "reach": sheet.of(f"s{at}.reach"),
                "top_above_desk_cm": sheet.number(f"s{at}.top", parse_length_cm),
            }
        )
    return found


def _inches(text: str, *, field: str) -> float:
    """A diagonal: inches unless another unit is written."""
    if text.rstrip(_INCHES) == text and text[-1:].isdigit():
        return parse_number(text, field=field)
    return parse_length_cm(text, field=field) / 2.54


_FIELDS = {"distance_cm": "distance", "top_above_desk_cm": "top", "size_in": "size"}


def _accepted(content: dict[str, Any], sheet: _Sheet) -> HomeAnswers:
    """The answers without what the model refuses; each refusal under its field."""
    for _ in range(20):
        try:
            answers = answers_from({**content, "hours": None})
            break
        except InputRefusedError as refusal:
            _drop(content, sheet, refusal)
    else:
        answers = answers_from({"flags": content["flags"]})
    return _with_hours(answers, content, sheet)


def _with_hours(answers: HomeAnswers, content: dict[str, Any], sheet: _Sheet) -> HomeAnswers:
    if not sheet.done("hours") or "hours" in answers.skipped:
        return answers
    hours = {name: sheet.number(f"hours.{name}", _hours) for name in answers.things}
    told = {name: value for name, value in hours.items() if value is not None}
    try:
        return answers_from({**content, "hours": told})
    except InputRefusedError as refusal:
        whole = not refusal.field.startswith("hours.")
        sheet.refused[f"hours.{next(iter(told))}" if whole else refusal.field] = refusal
        return answers


def _hours(text: str, *, field: str) -> float:
    return parse_number(text.lower().removesuffix("hours").removesuffix("h"), field=field)


def _drop(content: dict[str, Any], sheet: _Sheet, refusal: InputRefusedError) -> None:
    """Take a refused value out and remember the refusal under the field it was typed in."""
    first, *rest = refusal.field.split(".")
    if first == "screens" and len(rest) == 2:
        place, inner = int(rest[0]), rest[1]
        sheet.refused[f"s{place}.{_FIELDS.get(inner, inner)}"] = refusal
        if inner in ("distance_cm", "top_above_desk_cm", "reach"):
            content["screens"][place][inner] = None
        else:
            content["screens"] = None
        return
    if first == "reading" and len(rest) == 2:
        what = content["reading"][int(rest[0])]["what"]
        sheet.refused[f"reading.{what}.cm"] = refusal
        content["reading"][int(rest[0])]["distance_cm"] = None
        return
    names = {"card_cm": "card", "eyes_above_desk_cm": "eyes"}
    sheet.refused[names.get(first, first)] = refusal
    content.pop(first, None)
