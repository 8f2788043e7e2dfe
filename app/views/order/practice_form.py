"""Ask once what this practice usually orders; every later order starts from it."""

from __future__ import annotations

from typing import Any

import streamlit as st
from pydantic import ValidationError

from app.form.fields import two_to_a_row
from app.form.html import alert, html, quiet
from app.form.typed import Typed
from app.shell import state
from app.views.order import typed_order
from app.views.order.form import REFERENCES, YES_NO
from app.views.order.words import USUAL_WORDS, YES_NO_OF
from engine.collection.tolerances import STANDARDS
from engine.files import practice
from engine.files.practice import LINE_RULE, MOST_LINES, Practice
from engine.order.types import OrderDetails
from engine.wording import capital, say

TITLE = "This practice: defaults and letter head"
_UNITS = {"refraction_vertex_mm": " (mm)"}
KEPT = say("order_practice_kept")
_NUMBERS = ("lens_index", "refraction_vertex_mm")
_NONE = {"": "no default"}
DECIMAL_SIGNS = {"point": "6.5", "comma": "6,5"}
_LISTS: dict[str, dict[str, str]] = {
    "compensated_power_wanted": {**YES_NO, **_NONE},
    "office_reference": {**REFERENCES, **_NONE},
    "cylinder_form": {**_NONE, "minus": "minus", "plus": "plus"},
}


def practice_form() -> None:
    """Draw the defaults of this computer, to be changed and kept."""
    with st.expander(TITLE):
        quiet(say("order_practice_lead"))
        try:
            held = practice.read()
        except (OSError, ValueError):
            held = Practice()
            html(alert(say("order_cannot_read_keeping_defaults", path=practice.path())))
        with st.form("practice", border=False):
            typed = _fields(held)
            sent = st.form_submit_button("Keep these defaults")
        if sent:
            trouble = _keep(typed)
            html(alert(trouble) if trouble else f'<div class="lg-done">{KEPT}</div>')


def _fields(held: Practice) -> dict[str, Any]:
    """Return every default as it is kept, by the name of its detail."""
    lines, usual = "\n".join(held.letter_head), held.usual()
    label = f"Letter head, up to {MOST_LINES} lines"
    found: dict[str, Any] = {
        "letter_head": st.text_area(label, lines, key=state.passing("practice.letter_head"))
    }
    places = two_to_a_row(wrap=False)
    for name, words in USUAL_WORDS.items():
        key = state.passing(f"practice.{name}")
        value, place = usual.get(name), next(places)
        if name in _LISTS:
            options = list(_LISTS[name])
            at = options.index(YES_NO_OF.get(value, value)) if name in usual else 0
            found[name] = place.selectbox(
                f"Usual {words}", options, at, key=key, format_func=_LISTS[name].get
            )
        else:
            shown = "" if value is None else f"{value:g}" if name in _NUMBERS else str(value)
            label = f"Usual {words}{_UNITS.get(name, '')}"
            found[name] = place.text_input(label, shown, key=key, autocomplete="off")
    options = ["", *STANDARDS]
    found["tolerances"] = next(places).selectbox(
        "Usual tolerances",
        options,
        options.index(held.tolerances or ""),
        key=state.passing("practice.tolerances"),
        format_func=lambda one: one or "no default",
    )
    signs = list(DECIMAL_SIGNS)
    found["decimal_sign"] = next(places).selectbox(
        "Decimal sign on pages and sheets",
        signs,
        signs.index(held.decimal_sign),
        key=state.passing("practice.decimal_sign"),
        format_func=DECIMAL_SIGNS.get,
    )
    return found


def _keep(texts: dict[str, Any]) -> str:
    """Keep what was typed; return what is wrong with it, or nothing."""
    typed = Typed(texts)
    for name in USUAL_WORDS:
        if name in _NUMBERS:
            typed.number(name, widget=name, counted=False)
        elif text := typed.text(name):
            value = text == "yes" if _LISTS.get(name, {}).keys() == YES_NO.keys() else text
            typed.put(name, value, widget=name)
    details = typed_order.made(typed, OrderDetails)
    if details is None:
        said = [
            f"{capital(USUAL_WORDS[name])}: {one.sentence}" for name, one in typed.refused.items()
        ]
        return f"Nothing was kept. {' '.join(said)}"
    lines = [line.strip() for line in str(texts["letter_head"]).splitlines() if line.strip()]
    tolerances = texts["tolerances"] or None
    kept = {"letter_head": tuple(lines), "tolerances": tolerances, "details": details}
    try:
        practice.keep(Practice(**kept, decimal_sign=texts["decimal_sign"]))
    except ValidationError:
        return say("order_nothing_was_kept_letter", rule=LINE_RULE)
    except OSError:
        return say("order_nothing_was_kept_cannot", path=practice.path())
    return ""
