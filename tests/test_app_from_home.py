"""What came from home: taken at Kept cases as text, file or picture, and shown in the Interview."""

from __future__ import annotations

import html
import sys
from io import BytesIO

import pytest
import segno
from PIL import Image
from streamlit.testing.v1 import AppTest

from app.form import answers_of_case, case_of_answers, code_picture, compute, keep
from engine.case.results import Told
from engine.errors import InputRefusedError
from engine.home.answers import choices
from engine.home.code import _sum
from tests.home_sessions import invented
from tests.home_visits import visit_file
from tests.invented_result import invented_result
from tests.pages import markup, said, whole, widget
from tests.test_app_cases import open_there, opened_page
from tests.test_home_code import CODE

SEEN = "LG2 fl=neflorfl sebydo=1 ag=5559 gl=gepr co=chup,taof lepa=mi sc=/27//ah/1/// bo=ne,na"
"""Signs seen by a doctor, a sore neck, and nothing measured."""


pytestmark = pytest.mark.usefixtures("invented_answers")


def pasted(text: str) -> AppTest:
    page = opened_page("cases")
    page.text_area[0].set_value(text).run()
    whole(page)
    return page


def in_interview(text: str) -> AppTest:
    return open_there(pasted(text), "Open the file in the Interview")


def png(text: str, **how) -> bytes:
    out = BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="png", scale=4, **how)
    return out.getvalue()


def photo(content: bytes) -> bytes:
    """The same as a camera would have it: larger, askew, grey and with the losses of a JPEG."""
    picture = Image.open(BytesIO(content)).convert("L")
    picture = picture.resize((1400, 1400)).rotate(7, expand=True, fillcolor=200)
    picture = picture.point(lambda value: 40 + value * 3 // 4)
    out = BytesIO()
    picture.save(out, "JPEG", quality=60)
    return out.getvalue()


def cautious(case, **how):
    """An invented result with two cautions."""
    cautions = [Told(id=name, text=f"Mind {name}.") for name in ("no_add_known", "falls_risk")]
    return invented_result(case, **how).model_copy(update={"cautions": tuple(cautions)})


def test_a_pasted_code_opens_with_the_add_to_type_and_no_verdict(monkeypatch):
    monkeypatch.setattr(compute, "answer", cautious)
    page = in_interview(f"{SEEN} {_sum(SEEN)}")
    text = said(page)
    assert "Type the add to compare lenses." in text
    assert "h comfortable" not in text
    assert not page.get("vega_lite_chart")
    assert "Next:" not in text
    assert "Mind falls_risk." in text
    assert "Mind no_add_known." not in text, "the page says so itself"
    assert "Type the add in the form to compare lenses" in text
    told = next(one for one in page.expander if one.label == "From home")
    block = html.unescape(markup(told))
    flag = choices("flags")["new_flashes_or_floaters"]
    bothers, coping = choices("bothers"), choices("coping")
    for words in (
        f"<b>A doctor has looked at it since:</b> “{flag}”",
        f"<b>What bothers:</b> “{bothers['neck']}”; “{bothers['narrow']}”",
        f"<b>To see the screen:</b> “{coping['chin_up']}”; “{coping['take_off']}”",
        "<b>Sees the screen best through:</b> “The middle”",
        "Not measured at home, so assumed: main screen (distance and height of the top edge).",
    ):
        assert words in block
    widget(page, "text_input", "Add, or").set_value("2.00").run()
    whole(page)
    text = said(page)
    assert "h comfortable" in text
    assert "Type the add" not in text
    assert "I lift my chin" in text, "what was told stays"


def test_young_eyes_are_compared_once_their_prescription_is_typed():
    young = f"{SEEN.replace('5559', 'un40')}"
    page = in_interview(f"{young} {_sum(young)}")
    assert "Type the prescription to compare lenses." in said(page)
    field = widget(page, "text_input", "Add, or")
    field.set_value("R -1.00 DS L -1.00 DS").run()
    whole(page)
    assert "Type the prescription" not in said(page)


def test_what_is_wrong_with_a_text_is_said_and_it_stays_to_be_mended():
    page = pasted(CODE[:-9])
    assert "The text was not opened. A code without its end cannot be used" in said(page)
    assert page.text_area[0].value == CODE[:-9]
    assert not any(one.label.startswith("Open the file") for one in page.button)
    page.text_area[0].set_value(CODE).run()
    assert "From home: what the wearer measured and answered." in said(page)


@pytest.mark.parametrize("make", [png, lambda text: photo(png(text))], ids=["screen", "photo"])
def test_a_picture_of_a_code_is_as_good_as_its_text(make):
    found = keep.read_file(make(CODE))
    assert found == keep.read_file(CODE.encode())
    assert found.kind == "visit"
    assert found == keep.read_file(visit_file(invented()).encode())


def test_a_picture_that_holds_no_code_of_ours_says_so():
    blank = BytesIO()
    Image.new("L", (300, 300), 255).save(blank, "PNG")
    for content, says in (
        (blank.getvalue(), "a picture without a code that can be read"),
        (png("https://example.invalid/"), "another code"),
        (png(CODE)[:-200], "a damaged or cut off picture"),
        (photo(png(CODE))[:4000], "a damaged or cut off picture"),
        (b"\xff\xd8\xff" + b" " * 30, "a damaged or cut off picture"),
        (png(CODE) + b" " * 20_000_000, "a picture this large"),
        (png(CODE[:-9]), "a code without its end"),
    ):
        with pytest.raises(InputRefusedError) as refused:
            keep.read_file(content)
        assert refused.value.value == says


def test_a_picture_too_large_for_the_memory_is_refused_unread(monkeypatch):
    monkeypatch.setattr(code_picture, "MOST_DOTS", 10_000)
    with pytest.raises(InputRefusedError, match="million dots"):
        keep.read_file(png(CODE))


def test_without_the_extra_a_picture_is_refused_and_says_what_works(monkeypatch):
    monkeypatch.setitem(sys.modules, "zxingcpp", None)
    with pytest.raises(InputRefusedError, match=r"pasted text.*levelgaze\[codes\]"):
        keep.read_file(png(CODE))


def test_only_choices_of_the_check_are_shown_from_a_file(monkeypatch):
    case = case_of_answers.ask(keep.read_file(CODE.encode()).answers).case
    hostile = "<img src=x onerror=alert(1)> ![x](http://example.invalid/x)"
    bad = {"home_check": {"bothers": [hostile, "neck"], "coping": hostile, "more": hostile}}
    values = answers_of_case.answers_of(case.model_copy(update={"extensions": bad}))
    monkeypatch.setattr(keep, "read_file", lambda _: keep.File("case", values, True, "A1", ()))
    page = open_there(pasted("x"), "Open the file in the Interview")
    assert "My neck or shoulders" in said(page)
    assert "example.invalid" not in html.unescape(markup(page))
    assert "onerror" not in markup(page)
