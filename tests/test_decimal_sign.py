"""The decimal sign that a practice chose: on pages, sheets, charts and tables, never in a name."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from app.draw import charts
from app.draw.svg import escaped
from app.form import decimal_sign, questions
from app.form.decimal_sign import with_commas
from app.views.interview import rows
from engine.files import practice
from engine.files.practice import Practice
from tests.orders import DETAILS, answered, content
from tests.pages import draft_of, opened, pressed, said, widget
from tests.test_app_order import TYPED
from tests.test_order_sheets import sheets

pytestmark = pytest.mark.usefixtures("own_drafts", "answers_once")
DECIMAL = re.compile(r"(?<![\w.])\d+\.\d+(?![\w.])")
NAME = "Bench 1.5"


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ("R +0.50 −0.25 × 90", "R +0,50 −0,25 × 90"),
        ("6.3 of 7 h; between 5.7 and 6.9.", "6,3 of 7 h; between 5,7 and 6,9."),
        ("WCAG 1.4.12, 29.11.2026, v1.5", "WCAG 1.4.12, 29.11.2026, v1.5"),
        ('<path d="M1.5 2.5"/><style>p{margin:0.3cm}</style><td>1.60</td>',
         '<path d="M1.5 2.5"/><style>p{margin:0.3cm}</style><td>1,60</td>'),
    ],
)  # fmt: skip
def test_commas_stand_in_words_alone(given: str, wanted: str) -> None:
    assert with_commas(given) == wanted


def test_what_was_typed_as_words_stays() -> None:
    text = f"{escaped(NAME + ': 1.5 h')} {NAME}: 1.5 h"
    assert with_commas(text, as_typed=[NAME]) == text.replace("1.5 h", "1,5 h").replace(
        escaped("1.5 h"), escaped("1") + "," + escaped("5 h")
    )


def test_pages_have_commas_and_typed_numbers_and_names_stay() -> None:
    answers = {**questions.EXAMPLE, **TYPED, "papers": "yes", "papers.name": NAME}
    for view in ("interview", "desk", "order"):
        with_points = said(opened(view, answers))
        practice.keep(Practice(decimal_sign="comma"))
        page = opened(view, answers)
        found = set(DECIMAL.findall(said(page)))
        assert DECIMAL.search(with_points)
        assert found <= {"1.5"} if NAME in with_points else not found, (view, found)
        hints = [one.placeholder for one in page.text_input]
        assert not [hint for hint in hints if DECIMAL.search(hint)]
        practice.forget()


def test_every_sheet_can_be_written_with_commas() -> None:
    practice.keep(Practice(decimal_sign="comma"))
    opened("order", {})
    for name, sheet in sheets(content(), DETAILS).items():
        body = re.sub(r"<style.*?</style>|<[^>]*>", " ", with_commas(sheet), flags=re.DOTALL)
        assert not DECIMAL.search(body), name
        assert name != "order" or re.search(r"\d,\d", body)


def test_a_chart_has_commas_in_axes_and_words_and_keeps_its_numbers() -> None:
    bars = rows.bars(rows.all_rows(*answered(json.dumps(content())), plans=[]), chosen="office")
    drawn = charts.day_bars(bars)
    assert decimal_sign.in_chart(drawn) == drawn
    practice.keep(Practice(decimal_sign="comma"))
    made = decimal_sign.in_chart(drawn)
    assert made["config"]["locale"]["number"]["decimal"] == ","
    words = [text for text in _leaves(made["datasets"], str) if re.search(r"\d", text)]
    assert words
    assert not [text for text in words if DECIMAL.search(text)]
    assert _leaves(made["datasets"], float) == _leaves(drawn["datasets"], float)


def test_a_table_has_semicolons_beside_its_commas() -> None:
    assert decimal_sign.in_table("a,b\nx,1.5\n") == "a,b\nx,1.5\n"
    practice.keep(Practice(decimal_sign="comma"))
    assert decimal_sign.in_table("a,b\nx,1.5\n") == "a;b\nx;1,5\n"


def test_the_sign_is_chosen_among_the_defaults_of_the_practice() -> None:
    page = opened("order", {})
    box = widget(page, "selectbox", "Decimal sign")
    box.set_value("comma")
    pressed(page, "Keep these defaults")
    assert practice.read().decimal_sign == "comma"
    assert not draft_of(page).typed()


def _leaves(part: object, kind: type) -> list[Any]:
    """Return what of a kind stands anywhere in lists and objects."""
    if isinstance(part, dict):
        part = list(part.values())
    if isinstance(part, list):
        return [found for one in part for found in _leaves(one, kind)]
    return [part] if isinstance(part, kind) else []
