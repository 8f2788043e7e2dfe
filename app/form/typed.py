"""The content of a case under construction from typed texts. Pure.

Every value remembers the field it was typed in and where it comes from. A text that came with an
opened case or from home keeps its origin until it is typed over.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from engine.errors import InputRefusedError
from engine.units import parse_length_cm, parse_number

LOADED = "opened.origins"
"""Where a draft holds the texts that came with a file or a kept case, with their origins."""
_TWO = re.compile(r"\s*(?:/|;|\||\s)\s*")
T = TypeVar("T")
Refused = dict[str, InputRefusedError]
"""What is refused, by the field it was typed in."""


@dataclass
class Typed:
    """The content of a case under construction."""

    answers: Mapping[str, Any]
    content: dict[str, Any] = field(default_factory=dict)
    origin: dict[str, str] = field(default_factory=dict)
    where: dict[str, str] = field(default_factory=dict)
    refused: Refused = field(default_factory=dict)
    brought: dict[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """Return what was typed in a field."""
        return str(self.answers.get(name) or "").strip()

    def parsed(self, widget: str, read: Callable[..., T], *, allowed: str = "") -> T | None:
        """Return what was typed in a field, read; None where it is empty, or refused and named.

        allowed: between which numbers it lies, said of a text that is none.
        """
        text = self.text(widget)
        try:
            return read(text, field=widget) if text else None
        except InputRefusedError as refusal:
            self.refused[widget] = refusal.within(allowed)
            return None

    def origin_of(self, widget: str) -> str:
        """Tell where the typed text of a field is from: measured, unless it was brought along."""
        text, origin = (self.answers.get(LOADED) or {}).get(widget, (None, "measured"))
        if text != self.text(widget):
            return "measured"
        if origin != "measured":
            self.brought[widget] = origin
        return str(origin)

    def put(self, path: str, value: Any, *, widget: str, origin: str | None = None) -> None:
        """Set a value by its path in the case."""
        *parents, last = path.split(".")
        here = self.content
        for part in parents:
            here = here.setdefault(part, {})
        here[last] = value
        self.where[path] = widget
        if origin:
            self.origin["/" + path.replace(".", "/")] = origin

    def number(
        self,
        path: str,
        *,
        widget: str,
        assumed: float | None = None,
        read: Callable[..., float] = parse_number,
        origin: str = "assumed",
        counted: bool = True,
        allowed: str = "",
    ) -> None:
        """Take a typed number, or the assumed one, or nothing; allowed: as in `parsed`."""
        self.where[path] = widget
        value = self.parsed(widget, read, allowed=allowed)
        if value is not None:
            self.put(path, value, widget=widget, origin=self.origin_of(widget) if counted else None)
        elif assumed is not None and not self.text(widget):
            self.put(path, assumed, widget=widget, origin=origin)

    def pair(
        self, widget: str, *, one: str | None, each: tuple[str, str], allowed: str = ""
    ) -> bool:
        """Put one number for both eyes, or right/left; return whether anything was typed.

        one: the path of a number that stands for both; None where each eye has its own path.
        allowed: of each number, as in `parsed`.
        """
        for path in (*each, *([one] if one else [])):
            self.where[path] = widget
        numbers = self.parsed(widget, _one_or_two, allowed=allowed) or []
        if one and len(numbers) == 1:
            self.put(one, numbers[0], widget=widget, origin=self.origin_of(widget))
        elif numbers:
            for path, number in zip(each, (numbers * 2)[:2], strict=True):
                self.put(path, number, widget=widget, origin=self.origin_of(widget))
        return bool(self.text(widget))


def reader_of(name: str) -> Callable[..., float]:
    """Return what reads the number of a field: a length may be in another unit."""
    return parse_length_cm if name.endswith("_cm") else parse_number


def _one_or_two(text: str, *, field: str) -> list[float]:
    numbers = [parse_number(part, field=field) for part in _TWO.split(text)]
    if len(numbers) > 2:
        raise InputRefusedError(field=field, value=text, allowed="one number, or right/left")
    return numbers
