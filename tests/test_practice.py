"""What a practice keeps once: read, written and refused, and how an order starts from it."""

from __future__ import annotations

import os
import stat

import pytest
from pydantic import ValidationError

from app.form import questions
from app.views.order import practice_form
from engine.files import practice
from engine.files.practice import Practice
from engine.order.types import USUAL, OrderDetails
from tests.pages import draft_of, opened, pressed, said, widget
from tests.test_app_order import TYPED, downloads

USUAL_HERE = {
    "laboratory": "Invented Lab 7",
    "lens_index": 1.67,
    "coating": "anti-reflective",
    "tint": "none",
    "remake_terms": "one remake within 60 days",
    "compensated_power_wanted": False,
    "office_reference": "pupil_centre",
    "cylinder_form": "plus",
}
HERE = Practice(
    letter_head=("Invented Optics", "1 Demo Street"),
    tolerances="ISO 21987",
    details=OrderDetails(**USUAL_HERE),
)
KEPT_TOO = {f"order.{name}" for name in USUAL} | {"order.office.office_reference"}


pytestmark = pytest.mark.usefixtures("own_drafts")


def test_what_is_kept_is_read_again_by_this_user_alone():
    assert practice.read() == Practice()
    practice.keep(HERE)
    assert practice.read() == HERE
    assert practice.usual().usual() == USUAL_HERE
    if os.name == "posix":
        assert stat.S_IMODE(practice.path().stat().st_mode) == 0o600
    assert practice.forget()
    assert not practice.forget()
    assert practice.usual().usual() == {}


@pytest.mark.parametrize(
    "content",
    [
        "",
        "[]",
        '{"wearer": "x"}',
        '{"details": {"frame": "Demo 12"}}',
        '{"letter_head": ["\\u0007"]}',
    ],
)
def test_a_damaged_file_stops_no_order(content):
    practice.path().parent.mkdir()
    practice.path().write_text(content, "utf-8")
    with pytest.raises(ValueError, match="Practice"):
        practice.read()
    assert practice.usual() == Practice()
    page = opened("order", {**questions.EXAMPLE, **TYPED})
    assert "cannot be read. Keeping defaults here replaces it." in said(page)


def test_nothing_of_one_wearer_is_kept():
    for name in set(OrderDetails.model_fields) - {*USUAL}:
        with pytest.raises(ValidationError):
            Practice(details=OrderDetails.model_construct({name}, **{name: "x"}))


def test_an_order_starts_from_the_defaults_and_names_them():
    practice.keep(HERE)
    left = {name: text for name, text in TYPED.items() if name not in KEPT_TOO}
    page = opened("order", {**questions.EXAMPLE, **left})
    text = said(page)
    assert "Order sheet" in downloads(page), "complete without what is usual"
    assert "Index: 1.67" in text
    assert "Laboratory: Invented Lab 7" in text
    assert "Cylinder form: plus" in text
    start = text.index("Defaults of the practice, not chosen for this order:")
    assert "laboratory, index, coating, tint, remake terms" in text[start : start + 200]
    index = widget(page, "text_input", "Refractive index")
    assert index.placeholder == "1.67 by default"
    index.set_value("1.5")
    page.run()
    text = said(page)
    assert "Index: 1.5" in text
    assert "laboratory, coating, tint, remake terms" in text


def test_the_form_keeps_what_is_typed_and_refuses_what_no_order_takes():
    page = opened("order", {})

    def put(label: str, value: str) -> None:
        boxes = [*page.text_input, *page.text_area, *page.selectbox]
        next(one for one in boxes if one.label.startswith(label)).set_value(value)

    put("Usual index", "2.5")
    pressed(page, "Keep these defaults")
    assert "Nothing was kept. Index: 2.5 is too high. Allowed: 1.4 to 2." in said(page)
    assert not practice.path().exists()
    put("Usual index", "1,6")
    put("Letter head", "Invented Optics\n\n1 Demo Street\n")
    put("Usual laboratory's compensated", "no")
    put("Usual cylinder", "plus")
    put("Usual tolerances", "ISO 21987")
    pressed(page, "Keep these defaults")
    assert practice_form.KEPT in said(page)
    kept = practice.read()
    assert kept.letter_head == ("Invented Optics", "1 Demo Street")
    assert kept.tolerances == "ISO 21987"
    assert kept.usual() == {
        "lens_index": 1.6,
        "compensated_power_wanted": False,
        "cylinder_form": "plus",
    }
    assert not draft_of(page).typed(), "defaults are no answers of a wearer"


def test_collection_starts_with_the_usual_tolerances():
    practice.keep(HERE)
    page = opened("order", {**questions.EXAMPLE, **TYPED})
    page.switch_page("views/collection/page.py").run()
    shown = widget(page, "selectbox", "Tolerances")
    assert shown.value == "ISO 21987"
