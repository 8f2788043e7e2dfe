"""The fields of a form: each shows what is assumed, keeps what is typed, and names a refusal."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import streamlit as st

from app import state
from app.svg import escaped
from engine.errors import InputRefusedError

PAUSE = "400ms"
"""How long typing must pause before the answer is drawn anew."""


class Fields:
    """Draws fields, gathers their answers, and keeps a place under each for a refusal."""

    def __init__(self) -> None:
        self.answers: dict[str, Any] = {}
        self._places: dict[str, Any] = {}

    def text(self, name: str, label: str, *, assumed: object = None, place: Any = st) -> str:
        """A measured value or a name, as text; empty means the assumed value stands."""
        value = place.text_input(
            label,
            key=state.seed(name, ""),
            placeholder="" if assumed is None else f"{assumed} assumed",
            live=PAUSE,
            autocomplete="off",
            max_chars=400,
        )
        self._places[name] = place.empty()
        return self._keep(name, value)

    def choice(
        self,
        name: str,
        label: str,
        options: Sequence[str],
        *,
        words: Callable[[str], str] = str,
        place: Any = st,
    ) -> str:
        """One of a list; the first option is the default."""
        value = place.selectbox(
            label, options, key=state.seed(name, options[0]), format_func=words, filter_mode=None
        )
        self._places[name] = place.empty()
        return self._keep(name, value)

    def either(
        self,
        name: str,
        label: str,
        options: Sequence[str],
        *,
        words: Callable[[str], str] = str,
        place: Any = st,
    ) -> str:
        """One of two or three, all in view."""
        value = place.radio(
            label, options, key=state.seed(name, options[0]), format_func=words, horizontal=True
        )
        self._places[name] = place.empty()
        return self._keep(name, value)

    def tick(self, name: str, label: str, *, place: Any = st) -> bool:
        """Yes or no."""
        return self._keep(name, place.checkbox(label, key=state.seed(name, False)))

    def say(self, refused: Mapping[str, InputRefusedError]) -> list[str]:
        """Name each refused value beside its field; return those without a field on the page."""
        homeless = []
        for name, refusal in refused.items():
            place = self._places.get(name)
            words = refusal_words(refusal)
            if place is None:
                homeless.append(words)
            else:
                place.markdown(alert(words), unsafe_allow_html=True)
        return homeless

    def note(self, notes: Mapping[str, str]) -> None:
        """Say a doubt under its field."""
        for name, words in notes.items():
            place = self._places.get(name)
            if place is not None:
                place.markdown(
                    f'<div class="lg-flag">{escaped(words)}</div>', unsafe_allow_html=True
                )

    def _keep(self, name: str, value: Any) -> Any:
        self.answers[name] = value
        return state.keep(name, value)


def refusal_words(refusal: InputRefusedError) -> str:
    """The refused value and what is allowed, in plain words."""
    value = f"{refusal.value:g}" if isinstance(refusal.value, float) else str(refusal.value)
    shown = value if len(value) <= 40 else value[:39] + "…"
    return f"{shown} is refused; allowed: {refusal.allowed}"


def alert(words: str) -> str:
    """A line that a screen reader says at once."""
    return f'<div class="lg-refused" role="alert">{escaped(words)}</div>'
