"""The content of a case under construction from typed texts. Pure.

Every value remembers the field it was typed in and where it comes from. A text that came with an
opened case or from home keeps its origin until it is typed over.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.errors import InputRefusedError
from engine.units import parse_number

LOADED = "opened.origins"
"""Where a draft holds the texts that came with a file or a kept case, with their origins."""
_TWO = re.compile(r"\s*(?:/|;|\||\s)\s*")


@dataclass
class Typed:
    """The content of a case under construction."""

    answers: Mapping[str, Any]
    content: dict[str, Any] = field(default_factory=dict)
    origin: dict[str, str] = field(default_factory=dict)
    where: dict[str, str] = field(default_factory=dict)
    refused: dict[str, InputRefusedError] = field(default_factory=dict)
    brought: dict[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """Return what was typed in a field."""
        return str(self.answers.get(name) or "").strip()

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
        """Take a typed number, or the assumed one, or nothing.

        allowed: between which numbers it lies, said of a text that is none.
        """
        text = self.text(widget)
        self.where[path] = widget
        if text:
            try:
                value = read(text, field=widget)
            except InputRefusedError as refusal:
                self.refused[widget] = refusal.within(allowed)
                return
            self.put(path, value, widget=widget, origin=self.origin_of(widget) if counted else None)
        elif assumed is not None:
            self.put(path, assumed, widget=widget, origin=origin)

    def pair(
        self, widget: str, *, one: str | None, each: tuple[str, str], allowed: str = ""
    ) -> bool:
        """Return one number for both eyes, or right/left; True when anything was typed.

        one: the path of a number that stands for both; None where each eye has its own path.
        allowed: of each number, as in `number`.
        """
        for path in (*each, *([one] if one else [])):
            self.where[path] = widget
        text = self.text(widget)
        if not text:
            return False
        parts = _TWO.split(text)
        try:
            numbers = [parse_number(part, field=widget) for part in parts]
            if len(numbers) > 2:
                raise InputRefusedError(
                    field=widget, value=text, allowed="one number, or right/left"
                )
        except InputRefusedError as refusal:
            self.refused[widget] = refusal.within(allowed)
            return True
        origin = self.origin_of(widget)
        if len(numbers) == 1 and one is not None:
            self.put(one, numbers[0], widget=widget, origin=origin)
            return True
        for path, number in zip(each, (numbers * 2)[:2], strict=True):
            self.put(path, number, widget=widget, origin=origin)
        return True
