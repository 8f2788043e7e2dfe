"""The two-minute path: a usual desk, eyes, frame and an order draft; each entry is counted."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest

from app.form import case_of_answers
from app.form.presets import presets, usual_desks
from engine import tables
from engine.files import practice
from tests.pages import draft_of, field, opened, said, whole, widget
from tests.test_app_order import downloads
from tests.test_practice import HERE

MOST = 11
"""Entries: under twelve."""


class Hand:
    """Enters one value after the other and counts."""

    def __init__(self, page: AppTest) -> None:
        self.page, self.entries = page, 0

    def _entered(self) -> None:
        self.entries += 1
        self.page.run()
        whole(self.page)

    def press(self, label: str) -> None:
        widget(self.page, "button", label).click()
        self._entered()

    def type(self, label: str, text: str) -> None:
        field(self.page, label).set_value(text)
        self._entered()

    def choose(self, label: str, value: str) -> None:
        widget(self.page, "selectbox", label).set_value(value)
        self._entered()


pytestmark = pytest.mark.usefixtures("own_drafts")


def test_a_usual_desk_the_eyes_and_the_frame_make_an_order_draft_in_under_twelve_entries() -> None:
    practice.keep(HERE)
    hand = Hand(opened("interview", {}))
    hand.press("Screen, papers, phone")
    hand.type("Age", "56")
    hand.type("Add, or the whole", "R +0.50 -0.25 x 90 L +0.75 DS add +2.00")
    assert "h comfortable" in said(hand.page)
    assert hand.entries == 3
    hand.page.switch_page("views/order/page.py").run()
    for label, text in {
        "Monocular centration distance": "31/32.5",
        "Working distance of the add": "40",
        "Fitting height": "20/20.5",
        "Boxed lens width": "52",
        "Bridge": "18",
        "Boxed lens height": "34",
    }.items():
        hand.type(label, text)
    hand.choose("Frame shape", "sent")
    hand.choose("Power not on the prescription, authorised by", "prescriber")
    assert hand.entries <= MOST
    assert "Order sheet, not complete" in downloads(hand.page)
    text = said(hand.page)
    left = text[text.index("Before it can be sent") : text.index("Lenses, right before left")]
    assert left.count(": for the cut-out check.") == 2
    assert "Not complete: 3 missing." in text


@pytest.mark.parametrize("desk", usual_desks(), ids=lambda desk: desk.id)
def test_a_usual_desk_holds_its_things_and_measures_nothing(desk) -> None:
    page = opened("interview", {"papers": "yes", "other0.preset": "second_screen"})
    widget(page, "button", desk.name).click()
    values = draft_of(whole(page.run())).values
    slots = case_of_answers.slots_of(values)
    assert slots["main"] == desk.main
    assert set(case_of_answers.things_of(slots)) == set(desk.things)
    asked = case_of_answers.ask({**values, "wearer.age_years": "56"})
    assert asked.case is not None
    assert {one.kind for one in asked.case.targets} == {
        presets()[name].kind for name in (desk.main, *desk.things)
    }
    assert not [
        name
        for name, origin in asked.case.origin.items()
        if name.startswith("/targets/") and origin == "measured"
    ]


def test_a_usual_desk_names_what_is_known() -> None:
    known = {row["id"] for row in tables.rows("presets")}
    for desk in usual_desks():
        assert {desk.main, *desk.things} <= known
