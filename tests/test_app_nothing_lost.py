"""Nothing typed is lost: what is replaced, deleted, or met by a fault can be brought back."""

from __future__ import annotations

import re
from html import unescape

import pytest
from streamlit.testing.v1 import AppTest

from app.form import compute
from app.shell import drafts, state, words
from tests.invented_result import invented_result
from tests.pages import draft_of, field, markup, opened, pressed, typed, whole, widget

SECOND_S = 1.0


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture(autouse=True)
def clock(invented_answers, monkeypatch):  # noqa: ARG001
    """An invented result, and drafts that live by a clock of ours."""
    ours = Clock()
    monkeypatch.setattr(drafts, "BOOK", drafts.DraftBook(clock=ours))
    monkeypatch.setattr("app.shell.state.BOOK", drafts.BOOK)
    return ours


def has(page: AppTest, label: str) -> bool:
    """Whether the page has a button of this label."""
    return any(one.label == label for one in page.button)


def test_answers_replaced_by_an_example_are_brought_back():
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61"})
    assert not has(page, words.BRING_BACK)
    page = pressed(page, "Load an invented wearer")
    assert field(page, "Age (years)").value == "54"
    page = pressed(page, words.BRING_BACK)
    assert field(page, "Age (years)").value == "61"
    page = pressed(page, words.BRING_BACK)  # and what that displaced, in turn
    assert field(page, "Age (years)").value == "54"


def test_deleted_answers_are_brought_back():
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61"})
    page = pressed(page, words.DELETE_ANSWERS)
    assert field(page, "Age (years)").value == ""
    page = pressed(page, words.BRING_BACK)
    assert field(page, "Age (years)").value == "61"
    assert "Office lens" in markup(page)


def test_after_a_minute_nothing_is_left(clock):
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61"})
    page = pressed(page, words.DELETE_ANSWERS)
    clock.now_s += drafts.BACK_S + SECOND_S
    page = pressed(page, words.BRING_BACK)
    assert field(page, "Age (years)").value == ""
    assert words.TOO_LATE in [one.value for one in page.info]
    assert not has(page, words.BRING_BACK)


def test_old_answers_go_without_anybody_asking_for_them(clock):
    token = drafts.BOOK.put_aside({"wearer.age_years": "61"})
    clock.now_s += drafts.BACK_S + SECOND_S
    drafts.BOOK.tidy()
    assert drafts.BOOK._aside == {}
    assert drafts.BOOK.take_aside(token) is None


def test_deleted_answers_can_be_forgotten_at_once():
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61"})
    page = pressed(page, words.DELETE_ANSWERS)
    page = pressed(page, words.FORGET_NOW)
    assert not has(page, words.BRING_BACK)
    assert drafts.BOOK._aside == {}


def test_an_empty_form_leaves_nothing_to_bring_back():
    assert not has(pressed(opened(is_unfolded=False), "Load an invented wearer"), words.BRING_BACK)


def test_a_fault_keeps_the_fields_and_the_last_change_is_taken_back(monkeypatch):
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61", "Hours a day": "5"})

    def fails(case, **more):
        if case.activities[0].hours == 6.0:
            raise ZeroDivisionError
        return invented_result(case, **more)

    monkeypatch.setattr(compute, "answer", fails)
    field(page, "Hours a day").set_value("6")
    page.run()
    assert words.FAULT in [one.value for one in page.error]
    assert field(page, "Hours a day").value == "6"
    assert has(page, words.DELETE_ANSWERS)
    page = pressed(page, words.TAKE_BACK)
    assert field(page, "Hours a day").value == "5"
    assert field(page, "Age (years)").value == "61"


def test_a_fault_without_a_change_offers_nothing_to_take_back(monkeypatch):
    page = typed(opened(is_unfolded=False), **{"Age (years)": "61"})

    def fails(*_args, **_more):
        raise ZeroDivisionError

    monkeypatch.setattr("app.draw.result_words.recommendation_line", fails)
    page.run()
    assert words.FAULT in [one.value for one in page.error]
    assert not has(page, words.TAKE_BACK)


def one_line(page: AppTest) -> str:
    """The line in view, with the marks of HTML read back."""
    return unescape(next(one for one in markup(page).split("\n") if 'class="lg-answer' in one))


def papers(page: AppTest, *, distance_cm: str, offset_cm: str) -> AppTest:
    """Type where the papers lie."""
    things = widget(page, "multiselect", "What is on the desk?")
    things.set_value(["papers"])
    page.run()
    key = next(one.key for one in page.text_input if one.key.endswith(".papers.distance_cm"))
    page.text_input(key=key).set_value(distance_cm)
    page.text_input(key=key.replace("distance", "offset")).set_value(offset_cm)
    return whole(page.run())


def test_a_refused_value_is_named_in_view_with_the_least_that_works():
    page = papers(typed(opened(), **{"Age (years)": "57"}), distance_cm="30", offset_cm="-30")
    line = one_line(page)
    found = re.search(r"Papers: Distance \(cm\): 30 is too near\. Allowed: (\d+) cm or more", line)
    assert found, line
    assert 'href="#at-papers-distance_cm"' in line
    assert 'id="at-papers-distance_cm"' in markup(page)
    assert "out of date" in line
    assert "firm" not in line
    least = int(found[1])
    page = papers(page, distance_cm=str(least - 1), offset_cm="-30")
    assert "Allowed: " in one_line(page)
    page = papers(page, distance_cm=str(least), offset_cm="-30")
    assert "Allowed: " not in one_line(page)
    assert "firm" in one_line(page)


DESK = "More at the desk"
FOLD = state.fold(DESK)
REFUSED = {
    "wearer.age_years": "57",
    "papers": "yes",
    "papers.distance_cm": "30",
    "papers.offset_cm": "-30",
}


def is_open(page: AppTest, title: str) -> bool:
    return bool(page.session_state[state.fold(title)])


def test_a_refused_value_opens_its_drawer_until_somebody_shuts_it():
    page = opened(answers=REFUSED, is_unfolded=False)
    assert is_open(page, DESK)
    assert not is_open(page, "Frame and fit")
    assert 'id="at-papers-distance_cm"' in markup(page)
    page.session_state[FOLD] = False
    for _ in range(2):
        whole(page.run())
        assert not is_open(page, DESK)
    assert "30 is too near" in one_line(page)


def test_what_is_folded_is_drawn_while_it_is_open_and_keeps_what_was_typed():
    page = opened(answers={**REFUSED, "papers.distance_cm": "44"}, is_unfolded=False)
    keys = {one.key for one in page.text_input}
    page.session_state[FOLD] = True
    whole(page.run())
    folded = next(
        one for one in page.text_input if one.key not in keys and one.key.endswith(".distance_cm")
    )
    assert folded.value == "44"
    folded.set_value("47")
    page.session_state[FOLD] = False  # typed, and shut before the page has answered
    whole(page.run())
    assert draft_of(page).values["papers.distance_cm"] == "47"
    whole(page.run())
    assert folded.key not in {one.key for one in page.text_input}
    assert draft_of(page).values["papers.distance_cm"] == "47"


def test_other_pages_call_a_stale_answer_out_of_date():
    page = papers(typed(opened(), **{"Age (years)": "57"}), distance_cm="30", offset_cm="-30")
    for name in ("desk", "order"):
        page.switch_page(f"views/{name}/page.py")
        whole(page.run())
        assert '<span class="lg-verdict">out of date</span>' in one_line(page)
