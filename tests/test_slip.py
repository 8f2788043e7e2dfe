"""The slip for the employer: four fields, no name, no power, on a page that prints."""

from __future__ import annotations

import html
import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from streamlit.testing.v1 import AppTest

from app.form import slip as slip_page
from app.form.slip import employer_slip
from engine.errors import InputRefusedError
from engine.team.slip import slip_of
from tests.pages import opened, said, whole

GOOD: dict[str, Any] = {
    "tested": True,
    "test_date": date(2026, 3, 1),
    "special_pair_needed": False,
    "retest_date": date(2028, 3, 1),
}


WHAT_A_SLIP_HOLDS = (
    "slip: what was given (not repeated here) cannot be used. Allowed: "
    "tested and special_pair_needed (true or false), test_date and retest_date (dates)."
)


def test_the_slip_has_exactly_four_fields() -> None:
    slip = slip_of(GOOD)
    assert set(json.loads(slip.model_dump_json())) == set(GOOD)
    assert len(slip.lines()) == 4


@pytest.mark.parametrize(
    "wrong",
    [
        {"tested": False},
        {"test_date": None},
        {"tested": False, "test_date": None, "special_pair_needed": True},
        {"retest_date": date(2026, 3, 1)},
    ],
)
def test_a_slip_that_contradicts_itself_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(InputRefusedError, match="not repeated"):
        slip_of({**GOOD, **wrong})
    assert slip_of({**GOOD, "tested": False, "test_date": None}).lines()[0] == ("Eyes tested", "no")


@given(
    key=st.text(min_size=1, max_size=30).filter(lambda key: key not in GOOD),
    value=st.one_of(st.text(max_size=30), st.floats(), st.dictionaries(st.text(), st.text())),
)
def test_nothing_else_gets_into_a_slip_or_out_of_its_refusal(key: str, value: Any) -> None:
    with pytest.raises(InputRefusedError) as refused:
        slip_of({**GOOD, key: value})
    assert str(refused.value) == WHAT_A_SLIP_HOLDS


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("tested", "add 2.25"),
        ("tested", 1),
        ("special_pair_needed", "yes, +1.25"),
        ("special_pair_needed", None),
        ("retest_date", "2028-03-01 cataract"),
        ("retest_date", 20280301),
    ],
)
def test_a_field_takes_its_own_sort_of_value_only(field: str, value: Any) -> None:
    with pytest.raises(InputRefusedError, match=field):
        slip_of({**GOOD, field: value})


def test_a_slip_cannot_be_changed_or_extended_afterwards() -> None:
    slip = slip_of(GOOD)
    with pytest.raises(ValidationError):
        slip.tested = False  # type: ignore[misc]
    with pytest.raises(ValueError, match="diagnosis"):
        slip.diagnosis = "x"  # type: ignore[attr-defined]


def test_the_page_has_what_was_said_and_lines_for_what_is_written_by_hand() -> None:
    page = html.unescape(employer_slip(slip_of(GOOD)))
    for words in ("1 March 2026", "1 March 2028", "Worker's name or number, by hand", "Tested by"):
        assert words in page
    assert not any(form in page for form in ("<input", "<script", "http"))


# --- where it is asked for ---------------------------------------------------------------------


def filled(page: AppTest, **answers: str) -> AppTest:
    """Answer the fields of the slip by the ends of their names."""
    for name, value in answers.items():
        label = slip_page.LABELS[f"slip.{name}"]
        kinds = [*page.radio, *page.text_input]
        next(one for one in kinds if one.label == label).set_value(value)
        whole(page.run())
    return page


def given_out(page: AppTest) -> bool:
    buttons = page.get("download_button")
    return any(one.proto.label == "Slip for the employer" for one in buttons)


@pytest.mark.usefixtures("own_drafts")
@pytest.mark.parametrize("view", ["collection", "team"])
def test_it_is_offered_where_the_optician_works_and_on_team(
    monkeypatch: pytest.MonkeyPatch, view: str
) -> None:
    monkeypatch.setattr(slip_page, "_today", lambda: date(2026, 11, 26))
    page = filled(opened(view), test_date="2026-03-01")
    assert "Still to say: Eyes tested, Special pair for the screen needed, Next test." in said(page)
    page = filled(page, tested="yes", needed="no", next="tomorrow")
    assert not given_out(page)
    assert "tomorrow cannot be used" in said(page)
    assert "Allowed: a day that is still to come" in said(filled(page, next="2026-11-25"))
    assert given_out(filled(page, next="2028-03-01"))


@pytest.mark.usefixtures("own_drafts")
def test_untested_eyes_have_no_date_and_need_no_pair() -> None:
    page = filled(opened("collection"), tested="no", needed="yes", next="2098-03-01")
    assert not given_out(page)
    assert "yes cannot be used. Allowed: no date of a test and no special pair" in said(page)
    assert given_out(filled(page, needed="no"))
