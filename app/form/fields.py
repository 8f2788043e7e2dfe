"""The fields of a form: each shows what is assumed, keeps what is typed, and names a refusal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import wraps
from typing import Any, ParamSpec

import streamlit as st

from app.draw.svg import escaped
from app.form import decimal_sign
from app.form.html import alert, html
from app.shell import faults, state, words
from engine.errors import InputRefusedError

P = ParamSpec("P")
PAUSE = "400ms"
"""How long typing must pause before the answer is drawn anew."""
_REFUSED, _HELD = "refused_fields", "drawers"
"""Where a draft's results hold the fields refused last, and those of a drawer."""
BROUGHT = {"at_home": "from home", "assumed": "assumed", "default": "assumed"}
"""What a text that was not typed here is marked with, by its origin."""


def two_to_a_row(*, wrap: bool = True) -> Iterator[Any]:
    """Yield places for fields, two to a row, so that the keyboard goes row by row.

    wrap: whether the two stand one over the other on a phone.
    """
    while True:
        yield from st.columns(2, gap="small", wrap=wrap)


class Fields:
    """Draws fields, gathers their answers, and keeps a place under each for a refusal."""

    def __init__(self, naming: Callable[[str], str] = str) -> None:
        """Take what turns the name of a field into the one under which the draft holds it."""
        self.answers: dict[str, Any] = {}
        self.naming = naming
        self._places: dict[str, Any] = {}
        self._labels: dict[str, str] = {}

    def text(
        self,
        name: str,
        label: str,
        *,
        assumed: object = None,
        by: str = "assumed",
        place: Any = st,
    ) -> str:
        """Return a measured value or a name, as text; empty means the assumed value stands.

        by: why the assumed value stands, in a word.
        """
        value = place.text_input(
            label,
            key=state.seed(self.naming(name), ""),
            placeholder="" if assumed is None else decimal_sign.shown(f"{assumed} {by}"),
            live=PAUSE,
            autocomplete="off",
            max_chars=400,
        )
        self._placed(name, label, place)
        return self._keep(name, value)

    def choice(
        self,
        name: str,
        label: str,
        options: Sequence[str],
        *,
        words: Callable[[str], str] = str,
        place: Any = st,
        then: dict[str, Any] | None = None,
    ) -> str:
        """Give one of a list; the first option is the default. then: set when another is chosen."""
        value = place.selectbox(
            label,
            options,
            key=state.seed(self.naming(name), options[0]),
            format_func=words,
            filter_mode=None,
            on_change=state.put if then else None,
            args=(then,) if then else None,
        )
        self._placed(name, label, place)
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
        """Return one of two or three, all in view."""
        value = place.radio(
            label,
            options,
            key=state.seed(self.naming(name), options[0]),
            format_func=words,
            horizontal=True,
        )
        self._placed(name, label, place)
        return self._keep(name, value)

    def several(
        self,
        name: str,
        label: str,
        options: Sequence[str],
        *,
        words: Callable[[str], str] = str,
        place: Any = st,
        none: str = "none",
    ) -> list[str]:
        """Ask for any number of a list; none of them is the default."""
        value = place.multiselect(
            label,
            options,
            key=state.seed(self.naming(name), []),
            format_func=words,
            placeholder=none,
        )
        self._placed(name, label, place)
        return list(self._keep(name, value))

    def tick(self, name: str, label: str, *, place: Any = st) -> bool:
        """Ask for yes or no."""
        return self._keep(name, place.checkbox(label, key=state.seed(self.naming(name), False)))

    @contextmanager
    def drawer(self, title: str, *, is_next: bool = False) -> Iterator[None]:
        """Draw a folded part of a page, which opens by itself where a field in it is refused.

        is_next: whether it is what comes next, and opens too.

        It stays open once it was opened so, until another page is shown: what is being mended or
        filled in does not fold away.
        """
        results = state.results()
        opened: set[str] = results.setdefault(state.OPENED, set())
        held: dict[str, set[str]] = results.setdefault(_HELD, {})
        if is_next or held.get(title, set()) & set(results.get(_REFUSED, ())):
            opened.add(title)
        before = set(self._places)
        with st.expander(title, expanded=title in opened):
            yield
        held[title] = set(self._places) - before

    def say(self, refused: Mapping[str, InputRefusedError]) -> list[str]:
        """Name each refused value beside its field; return those without a field on the page."""
        homeless = []
        state.results()[_REFUSED] = tuple(refused)
        for name, refusal in refused.items():
            place = self._places.get(name)
            said = refusal_words(refusal)
            if place is None:
                homeless.append(said)
            else:
                html(alert(said, field=name), place=place)
        return homeless

    def mend(
        self, refused: Mapping[str, InputRefusedError], *, of: Callable[[str], str]
    ) -> list[tuple[str, str]]:
        """Return each refused field with a sentence that names it; no name without a field here.

        of: what the field belongs to, such as the thing looked at; empty where its label says all.
        """
        found = []
        for name, refusal in refused.items():
            label = ": ".join(filter(None, [of(name), self._labels.get(name, "")]))
            said = ": ".join(filter(None, [label, refusal_words(refusal)]))
            found.append((name if name in self._places else "", said))
        return found

    def note(self, doubts: Mapping[str, str], brought: Mapping[str, str]) -> None:
        """Say under its field where a text that was brought along comes from, and any doubt."""
        for name in {**brought, **doubts}:
            said = [BROUGHT[brought[name]]] if name in brought else []
            said += [doubts[name]] if name in doubts else []
            kind = "lg-flag" if name in doubts else "lg-from"
            place = self._places.get(name)
            if place is not None:
                html(f'<div class="{kind}">{escaped("; ".join(said))}</div>', place=place)

    def _placed(self, name: str, label: str, place: Any) -> None:
        """Keep the label of a field, and a place under it."""
        self._labels[name] = label
        self._places[name] = place.empty()

    def _keep(self, name: str, value: Any) -> Any:
        self.answers[name] = value
        return state.keep(self.naming(name), value)


def guarded(draw: Callable[P, None]) -> Callable[P, None]:
    """Return a part that is drawn on its own: a failure in it says so and logs no values."""

    @wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            draw(*args, **kwargs)
        except Exception as fault:
            faults.log(fault)
            st.error(words.FAULT)

    return drawn


def refusal_words(refusal: InputRefusedError) -> str:
    """Return what was typed, as it was, and what is allowed."""
    return refusal.sentence
