"""Sheets as text: what stands on them, and that words of a user stay words."""

from __future__ import annotations

import json
import re
from datetime import date
from html.parser import HTMLParser
from typing import Any

import pytest

from app.views.order.sheets import PARTS, change_sheet, order_sheet, prescriber_letter, wearer_page
from app.views.order.typed_order import compared, notes
from engine.case.prescription_text import parse_prescription
from engine.collection.followup import follow_up_dates
from engine.collection.wearer_page import wearer_sheet
from engine.order.letter import letter_fields
from engine.order.pair_change import OldPair
from tests.orders import DETAILS, STRONG_DETAILS, answered, content, order, strong


class _Tags(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def sheets(found: dict[str, Any], details: dict[str, Any]) -> dict[str, str]:
    case, result = answered(json.dumps(found))
    option = result.option("office")
    made = order(found, details=details)
    told = wearer_sheet(
        case=case, result=result, option=option, dates=follow_up_dates(collected=date(2030, 1, 2))
    )
    fields = letter_fields(case=case, result=result, order=made)
    old = OldPair(
        powers=parse_prescription("R +1.00 -1.25 x 040 add +1.00 L -1.50 add +1.00 1.00 base in"),
        pd_right_mm=33.0,
        pd_left_mm=30.0,
        height_right_mm=17.0,
        height_left_mm=17.0,
        pantoscopic_deg=2.0,
    )
    changes = compared(order=made, old=old, case=case)
    said = notes(changes, old=old, case=case)
    return {
        "change": change_sheet(changes, notes=said, reference=case.label),
        "order": order_sheet(made),
        "wearer": wearer_page(told, case=case, option=option),
        "letter": prescriber_letter(fields, order=made, written=date(2030, 1, 2)),
    }


@pytest.mark.parametrize("name", ["order", "wearer", "letter", "change"])
def test_no_script_and_nothing_from_outside(name: str) -> None:
    text = sheets(strong(), STRONG_DETAILS)[name]
    tags = _Tags(text)
    assert not {"script", "img", "link", "iframe", "object", "form"} & {one for one, _ in tags.tags}
    for _, attributes in tags.tags:
        assert not {"src", "href", "onload", "onclick", "style"} & set(attributes)
    assert "url(" not in text
    assert "@import" not in text
    assert ("<svg" in text) is (name == "wearer")


def test_a_figure_and_its_unit_stay_on_one_line() -> None:
    text = sheets(content(), DETAILS)["order"]
    assert "Boxed lens width A 52\u00a0mm: measured" in text
    assert "Working distance of the add: 40\u00a0cm" in text


def test_words_of_a_user_are_escaped_everywhere() -> None:
    """Names are limited already; a sheet must be safe even if they were not."""
    evil = '<img src=x onerror="alert(1)">&{{'
    case, result = answered(json.dumps(content()))
    made = order(content(), details=DETAILS)
    details = made.details.model_copy(
        update=dict.fromkeys(
            ("coating", "tint", "remake_terms", "safety_rating", "laboratory", "frame"), evil
        )
    )
    bad = made.model_copy(
        update={"label": evil, "design_name": evil, "details": details, "notes": (evil,)}
    )
    option = result.option("office")
    target = option.targets[0].model_copy(update={"target": evil})
    renamed = option.model_copy(update={"targets": (target, *option.targets[1:])})
    told = wearer_sheet(case=case, result=result, option=renamed)
    named = case.targets[0].model_copy(update={"name": evil})
    shown = case.model_copy(update={"targets": (named, *case.targets[1:])})
    fields = letter_fields(case=shown, result=result)
    for text in (
        order_sheet(bad, letter_head=(evil,)),
        wearer_page(told, case=shown, option=renamed),
        prescriber_letter(fields, order=bad, letter_head=(evil,)),
    ):
        assert "<img" not in text
        assert "img" not in {tag for tag, _ in _Tags(text).tags}
        assert "alert" in _Tags(text).text


def test_the_order_says_what_is_missing_first_and_never_calls_itself_complete() -> None:
    text = _Tags(sheets(strong(), {})["order"]).text
    assert "Not complete: do not send." in text
    assert text.index("Not complete") < text.index("Prescribed")
    for gap in order(strong(), details={}).missing:
        assert gap.missing in text
    assert "Complete." not in text
    done = _Tags(sheets(strong(), STRONG_DETAILS)["order"]).text
    assert "Complete." in done
    assert "Not complete" not in done


def test_the_order_sheet_carries_the_numbers_of_the_order() -> None:
    made = order(strong(), details=STRONG_DETAILS)
    text = _Tags(order_sheet(made)).text
    assert text.index("Right") < text.index("Left")
    for eye in made.eyes:
        assert eye.prescribed_written in text
        assert eye.at_fitted_vertex_written is not None
        assert eye.at_fitted_vertex_written in text
        for zone in eye.powers:
            assert zone.written in text
        for near in eye.near_centration:
            assert f"{near.mm:.1f}" in text
        assert f"{eye.height.mm:.1f} to {eye.height.reference}" in text
    assert "Cylinder form: minus" in text
    assert "Near (distance + add)" in text
    assert "authorised by: the prescriber" in text
    assert "Vertex-compensated, 12 to 13 mm" in text
    assert "Pantoscopic tilt 9°: measured" in text


def test_a_part_that_is_not_wanted_is_left_out_and_the_order_stays() -> None:
    made = order(strong(), details=STRONG_DETAILS)
    assert made.notes
    whole, bare = _Tags(order_sheet(made)).text, _Tags(order_sheet(made, parts=())).text
    for heading in PARTS:
        assert heading in whole
        assert heading not in bare
    assert whole.startswith(bare[: bare.index("Ordered for the practice by")])


def test_the_laboratory_reads_none_of_the_wearers_own_words() -> None:
    found = strong()
    renamed = json.loads(json.dumps(found).replace('"papers"', '"my sheet music"'))
    made = order(renamed, details=STRONG_DETAILS)
    assert "my sheet music" in [one.target for one in made.eyes[0].near_centration]
    text = _Tags(order_sheet(made)).text
    assert "sheet music" not in text
    assert "centration for 42 cm (mm)" in text


def test_a_default_is_printed_as_a_default() -> None:
    found = content()
    found["origin"]["/fit/vertex_mm"] = "default"
    assert "Vertex distance 13 mm: default" in _Tags(order_sheet(order(found))).text


def test_order_and_letter_carry_day_laboratory_practice_frame_and_lines_to_sign() -> None:
    told = {**DETAILS, "laboratory": "Invented Lab 7", "frame": "Demo 12 black"}
    made, head = order(content(), details=told), ("Invented Optics", "1 Demo Street")
    day = date(2030, 1, 2)
    for page in (
        order_sheet(made, letter_head=head, written=day),
        prescriber_letter((), order=made, letter_head=head, written=day),
    ):
        text = _Tags(page).text
        for said in (*head, "2 January 2030", "Invented Lab 7", "Demo 12 black", "signature"):
            assert said in text


def test_the_letter_holds_the_ticked_fields_and_nothing_else() -> None:
    case, result = answered(json.dumps(strong()))
    fields = letter_fields(case=case, result=result)
    desk = [one for one in fields if one.id == "desk"]
    text = _Tags(prescriber_letter(desk, order=order(strong(), details=STRONG_DETAILS))).text
    assert "65 cm" in text or f"{case.targets[0].distance_cm:g} cm" in text
    assert "-6.50" not in text
    assert not re.search(r"neck", text)


def test_the_wearers_page_has_a_picture_that_speaks() -> None:
    tags = _Tags(sheets(content(), DETAILS)["wearer"])
    names = [tag for tag, _ in tags.tags]
    assert names.count("svg") == 1
    assert {"title", "desc"} <= set(names)
    assert ("html", {"lang": "en"}) in tags.tags
