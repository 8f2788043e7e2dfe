"""The fields of each question of the home check: what is asked, kept, refused and doubted."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from app.draw.svg import escaped
from app.form.fields import PAUSE
from app.form.html import alert, html, picture, scrolled, svg
from app.shell import state
from app.views.home import typed_answers
from app.views.home import words as home_words
from app.views.home.pictures import card_bar, measuring_distance, measuring_height, ruler
from app.views.home.sheet import paper_tape
from app.views.home.typed_answers import PREFIX, Reading
from engine.errors import InputRefusedError
from engine.home.answers import SCREEN_NAMES, choices, have_parts
from engine.home.text import number, thing

CARD_PX = (130, 420, 204)
"""Least and most width of the bar in CSS pixels; 204 is true where 96 go to the inch."""
CARD_CM = number("card_short_cm")
SHORT = 48
"""Letters of choices that fit side by side."""


class Questions:
    """Draws the fields of one question; `notes` fills the places under them afterwards."""

    def __init__(self) -> None:
        self._places: dict[str, object] = {}

    def boxes(self, question: str, options: Sequence[str] | None = None) -> None:
        """Boxes to tick."""
        for choice in options or choices(question):
            name = f"{PREFIX}{question}.{choice}"
            label = choices(question)[choice]
            state.keep(name, st.checkbox(label, key=state.seed(name, False)))

    def one(
        self,
        name: str,
        label: str,
        options: dict[str, str],
        *,
        first: bool = False,
        alone: bool = False,
    ) -> None:
        """One of some, all in view; nothing chosen to begin with unless `first` is.

        alone: the only field of its question, whose title says it; the label is for the ear.
        """
        begin = next(iter(options)) if first else None
        key = state.seed(PREFIX + name, begin)
        value = st.radio(
            label,
            list(options),
            key=key,
            format_func=lambda choice: options[choice],
            index=None,
            horizontal=not alone and sum(map(len, options.values())) <= SHORT,
            label_visibility="collapsed" if alone else "visible",
        )
        state.keep(PREFIX + name, value)

    def text(self, name: str, label: str, *, help_text: str = "") -> None:
        """A number as text."""
        value = st.text_input(
            label,
            key=state.seed(PREFIX + name, ""),
            live=PAUSE,
            autocomplete="off",
            max_chars=40,
            placeholder=help_text or None,
        )
        self._places[name] = st.empty()
        state.keep(PREFIX + name, value)

    def notes(self, reading: Reading) -> None:
        """Say each refusal and doubt under its field."""
        for name, doubt in reading.doubts.items():
            place = self._places.get(name)
            if place is not None:
                html(alert(doubt.text) if doubt.blocks else _doubt(doubt.text), place=place)
        for name, refusal in reading.refused.items():
            place = self._places.get(name)
            if place is not None:
                html(alert(_refusal(name, refusal)), place=place)


def ask(step: str) -> Questions:
    """The fields of one question."""
    drawn = Questions()
    _OF_STEP[step](drawn)
    return drawn


def _flags(drawn: Questions) -> None:
    drawn.boxes("flags")
    name = f"{PREFIX}flags.{typed_answers.NONE}"
    state.keep(name, st.checkbox(home_words.NONE_OF_THESE, key=state.seed(name, False)))


def _age(drawn: Questions) -> None:
    drawn.one("age", "Your age", choices("age"), alone=True)


def _glasses(drawn: Questions) -> None:
    drawn.one("glasses", "Your glasses", choices("glasses"), alone=True)


def _coping(drawn: Questions) -> None:
    drawn.boxes("coping")
    if have_parts(state.held(f"{PREFIX}glasses")):
        drawn.one("lens_part", home_words.LENS_PART, choices("lens_part"))


def _screens(drawn: Questions) -> None:
    counts = {str(count): str(count) for count in range(1, typed_answers.MOST_SCREENS + 1)}
    drawn.one("screens.count", home_words.HOW_MANY, counts, first=True)
    for at in range(_count()):
        screen = {"screen": SCREEN_NAMES[at]}
        with st.container(border=True):
            drawn.one(
                f"s{at}.form", home_words.FORM.format(**screen), typed_answers.FORMS, first=True
            )
            drawn.text(f"s{at}.size", home_words.SIZE.format(**screen), help_text="27")
            if state.held(f"{PREFIX}s{at}.form") != "laptop":
                drawn.one(
                    f"s{at}.shape",
                    home_words.SHAPE.format(**screen),
                    typed_answers.SHAPES,
                    first=True,
                )
            if at:
                drawn.one(
                    f"s{at}.side", home_words.SIDE.format(**screen), typed_answers.SIDES, first=True
                )
            name = f"{PREFIX}s{at}.fixed"
            label = home_words.FIXED.format(**screen)
            state.keep(name, st.checkbox(label, key=state.seed(name, False)))


def _distances(drawn: Questions) -> None:
    picture(measuring_distance())
    st.caption(home_words.UNITS)
    for at in range(_count()):
        screen = {"screen": SCREEN_NAMES[at]}
        drawn.text(f"s{at}.distance", home_words.DISTANCE.format(**screen))
        drawn.one(f"s{at}.reach", home_words.REACH.format(**screen), choices("reach"))
    drawn.one("ruler", home_words.RULER, choices("ruler"), first=True)
    if state.held(f"{PREFIX}ruler") == "printed":
        drawn.text("card", home_words.CARD)
    with st.expander(home_words.NO_TAPE):
        st.download_button(
            home_words.PAPER_TAPE,
            paper_tape(),
            file_name="paper-tape.html",
            mime="text/html",
            on_click="ignore",
        )
        _matched_ruler()


def _matched_ruler() -> None:
    """A ruler on the screen, true once its bar fits a bank card."""
    st.write(home_words.MATCH)
    least, most, usual = CARD_PX
    name = f"{PREFIX}card_px"
    wide = st.slider(home_words.MATCH_LABEL, least, most, key=state.seed(name, usual), step=1)
    state.keep(name, wide)
    px_a_cm = wide / CARD_CM
    svg(scrolled("Bar to match", card_bar(px_a_cm=px_a_cm)))
    st.write(home_words.MATCHED)
    svg(scrolled("Ruler", ruler(length_cm=20, unit=f"{px_a_cm:.3f}px")))


def _heights(drawn: Questions) -> None:
    picture(measuring_height())
    st.caption(home_words.UNITS)
    drawn.text("eyes", home_words.EYES)
    for at in range(_count()):
        drawn.text(f"s{at}.top", home_words.TOP.format(screen=SCREEN_NAMES[at]))


def _reading(drawn: Questions) -> None:
    for what, label in choices("reading").items():
        name = f"{PREFIX}reading.{what}"
        if state.keep(name, st.checkbox(label, key=state.seed(name, False))):
            words = home_words.READ_AT.format(thing=thing(what).removeprefix("your "))
            drawn.text(f"reading.{what}.cm", words)
    st.caption(home_words.UNITS)


def _hours(drawn: Questions) -> None:
    for name in typed_answers.things(state.answers()):
        drawn.text(f"hours.{name}", home_words.HOURS.format(thing=thing(name)))


def _boxes_of(question: str) -> Callable[[Questions], None]:
    return lambda drawn: drawn.boxes(question)


_OF_STEP: dict[str, Callable[[Questions], None]] = {
    "flags": _flags,
    "age": _age,
    "glasses": _glasses,
    "coping": _coping,
    "screens": _screens,
    "distances": _distances,
    "heights": _heights,
    "reading": _reading,
    "others": _boxes_of("others"),
    "hours": _hours,
    "needs": _boxes_of("needs"),
    "bothers": _boxes_of("bothers"),
    "tell": _boxes_of("tell"),
}


def _count() -> int:
    return typed_answers.screen_count(state.answers())


def _doubt(text: str) -> str:
    return f'<div class="lg-flag" role="status">{escaped(text)}</div>'


def _refusal(name: str, refusal: InputRefusedError) -> str:
    value = str(state.held(PREFIX + name) or "").strip() or str(refusal.value)
    shown = value if len(value) <= 20 else value[:19] + "…"
    return home_words.REFUSED.format(value=shown, allowed=refusal.allowed)
