"""The texts with which the form shows a case that was opened: the way back of `typed`. Pure."""

from __future__ import annotations

from typing import Any

from engine.case.model import Case


class Opened:
    """The answers under construction; every text that was not measured keeps its origin.

    Attributes:
        case: what is shown.
        values: what each widget holds.
        origins: for a widget whose text was not measured, the text and where it comes from.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.values: dict[str, Any] = {}
        self.origins: dict[str, list[str]] = {}

    def put(self, widget: str, value: float | str | None, pointer: str = "") -> None:
        """Put a text with the origin its value has in the case; nothing for None."""
        if value is None:
            return
        text = value if isinstance(value, str) else f"{value:.15g}"
        self.values[widget] = text
        origin = self.case.origin.get(pointer)
        if origin not in (None, "measured"):
            self.origins[widget] = [text, str(origin)]

    def unless(self, widget: str, value: float, default: Any, pointer: str, *, marks: bool) -> None:
        """Put a text, but for a value that the form assumes by itself and nobody gave.

        marks: the form marks what it assumes here, so a value that was given must be typed.
        """
        if value != default or self._is_given(pointer, marks=marks):
            self.put(widget, value, pointer)

    def _is_given(self, pointer: str, *, marks: bool) -> bool:
        """Tell whether somebody gave a value that the form would assume as well.

        What a case is silent about was given (`Case.is_assumed`). Not so of a frame: a case is
        written with its defaults filled in, and a size nobody measured is never cut.
        """
        said = self.case.origin.get(pointer)
        if said or not marks or pointer.startswith("/fit/"):
            return said in ("measured", "at_home")
        return not self.case.is_assumed(pointer)
