"""The fields of a form: each shows what is assumed, keeps what is typed, and names a refusal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import wraps
from typing import Any, ParamSpec, TypeVar

import streamlit as st

from app.draw.svg import escaped
from app.form import decimal_sign
from app.form.html import alert, html
from app.shell import faults, state, words
from engine.errors import InputRefusedError

P = ParamSpec("P")
T = TypeVar("T")
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
        self._shut: dict[str, set[str] | None] = {}
        """Parts that are shut, with their fields; None for one that is not drawn."""

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
        opened = self._opened()
        if is_next or self._held(title) & self._refused():
            opened.add(title)
        before = set(self._places)
        with st.expander(title, expanded=title in opened):
            yield
        self._hold(title, before)
        if title not in opened:
            self._shut[title] = self._held(title)

    @contextmanager
    def lazy_drawer(self, title: str) -> Iterator[bool]:
        """Draw a folded part as `drawer` does; yield whether what is in it is to be drawn now.

        It is while the part is open, and while anything is refused, which may be in it. Who folds
        a part away in which a value is refused is not shown it again before that is mended.
        """
        opened, refused = self._opened(), self._refused()
        is_wanted = bool(self._held(title) & refused)
        if not is_wanted:
            opened.discard(title)
        before = set(self._places)
        with open_when_asked(title, now=is_wanted and title not in opened) as is_open:
            is_drawn = is_open or bool(refused)
            yield is_drawn
        if is_drawn:
            self._hold(title, before)
        if is_open and is_wanted:
            opened.add(title)
        if not is_open and title not in opened:
            self._shut[title] = self._held(title) if is_drawn else None

    def _opened(self) -> set[str]:
        found: set[str] = state.results().setdefault(state.OPENED, set())
        return found

    def _refused(self) -> set[str]:
        return set(state.results().get(_REFUSED, ()))

    def _held(self, title: str) -> set[str]:
        found: set[str] = state.results().setdefault(_HELD, {}).get(title, set())
        return found

    def _hold(self, title: str, before: set[str]) -> None:
        """Keep which fields were drawn in a part."""
        state.results().setdefault(_HELD, {})[title] = set(self._places) - before

    def _reveal(self, refused: set[str]) -> None:
        """Draw the page again where a refused field is, or may be, in a part that is shut."""
        may_be = bool(refused - set(self._places)) and None in self._shut.values()
        if may_be or any(refused & held for held in self._shut.values() if held):
            st.rerun()

    def say(self, refused: Mapping[str, InputRefusedError]) -> list[str]:
        """Name each refused value beside its field; return those without a field on the page."""
        homeless = []
        state.results()[_REFUSED] = tuple(refused)
        self._reveal(set(refused))
        for name, refusal in refused.items():
            place = self._places.get(name)
            said = refusal.sentence
            if place is None:
                homeless.append(said)
            else:
                html(alert(said, field=name), place=place)
        return homeless

    def mend(
        self, refused: Mapping[str, InputRefusedError], *, of: Callable[[str], str] = lambda _: ""
    ) -> list[tuple[str, str]]:
        """Return each refused field with a sentence that names it; no name without a field here.

        of: what the field belongs to, such as the thing looked at; empty where its label says all.
        """
        found = []
        for name, refusal in refused.items():
            label = ": ".join(filter(None, [of(name), self._labels.get(name, "")]))
            said = ": ".join(filter(None, [label, refusal.sentence]))
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


def picked(
    name: str,
    label: str,
    options: Sequence[T],
    *,
    words: Callable[[T], str] = str,
    place: Any = st,
) -> T:
    """Ask which of a list is shown; it is kept under its name, and is no answer of a case."""
    value = place.selectbox(
        label, options, key=state.among(name, options), format_func=words, filter_mode=None
    )
    chosen: T = state.keep(name, value)
    return chosen


@contextmanager
def open_when_asked(title: str, *, now: bool = False) -> Iterator[bool]:
    """Draw a folded part; yield whether to draw what is in it, which nobody sees while it is shut.

    In the run that shuts it, it is drawn once more: a text typed just before is not lost.

    now: open it.
    """
    with st.expander(title, key=state.fold(title, opens=now), on_change="rerun") as part:
        is_open = bool(part.open)
        yield is_open or state.was_open(title)
    state.keep_fold(title, is_open=is_open)


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
