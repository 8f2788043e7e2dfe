"""The second answer, for a wearer to whom a little blur is good enough."""

from __future__ import annotations

import html
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from app.form import questions
from app.views.interview.answer import GOOD_ENOUGH
from engine.__main__ import main
from engine.answer.good_enough import good_enough
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import read_case
from engine.case.results import Told
from engine.examples import path_of
from engine.tables import Judgements
from tests.pages import opened, widget

VIGNETTES = Path(__file__).parent / "vignettes"
JUDGED = Judgements.standard()


def said(case: Case) -> Told:
    found = good_enough(case, advise(case), judgements=JUDGED)
    assert found is not None
    return found


def test_it_names_another_plan_where_there_is_one() -> None:
    """A wearer of 45 with almost nothing to correct: blurred, and good enough, without glasses."""
    found = said(read_case(VIGNETTES / "v02.json"))
    assert found.id == "good_enough_other"
    assert found.values["plan"] == "no glasses"
    assert found.values["ratio"] == "1.7"


def test_it_says_where_the_plan_stays_and_its_hours_are_more() -> None:
    case = read_case(path_of("low_24in"))
    found = said(case)
    assert found.id == "good_enough_same"
    assert found.values["plan"] == "office lens"
    assert float(str(found.values["hours_h"])) > advise(case).plans[0].comfortable_h


def test_it_says_nothing_where_no_plan_is_put_first() -> None:
    case = read_case(VIGNETTES / "v21.json")
    assert good_enough(case, advise(case), judgements=JUDGED) is None


def test_a_terminal_says_it_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    path = str(path_of("laptop_only"))
    assert main(["explain", path, "--good-enough"]) == 0
    asked_for = capsys.readouterr().out
    assert main(["explain", path]) == 0
    alone = capsys.readouterr().out
    assert asked_for.startswith(alone)
    added = asked_for.removeprefix(alone)
    assert added.startswith("\n> If a little blur is good enough")
    assert max(map(len, added.splitlines())) <= 80


def shown(page: AppTest) -> str:
    return html.unescape(" ".join(one.value for one in page.markdown))


@pytest.mark.usefixtures("own_drafts")
def test_the_interview_says_it_for_this_answer_only() -> None:
    page = opened(answers=questions.EXAMPLE)
    assert GOOD_ENOUGH in [one.label for one in page.expander]
    page.button(key="good-enough").click()
    page.run()
    assert not page.exception
    assert "up to 1.7 times what is just noticed" in shown(page)
    age = widget(page, "text_input", "Age")
    age.set_value("61")
    page.run()
    assert "up to 1.7 times" not in shown(page)
    assert page.button(key="good-enough")
