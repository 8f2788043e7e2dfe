"""What is told only when asked for, in a terminal and on the Interview page."""

from __future__ import annotations

import pytest

from app.form import questions
from app.views.interview.answer import GOOD_ENOUGH, RESTS_ON
from engine.__main__ import main
from engine.examples import path_of
from tests.pages import field, opened, said


@pytest.mark.parametrize(
    ("option", "begins"),
    [
        ("--sources", "\nWhat this answer rests on\nMeasured in a study\n- "),
        ("--good-enough", "\n> If a little blur is good enough"),
    ],
)
def test_a_terminal_adds_it_to_the_answer(
    option: str, begins: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(path_of("laptop_only"))
    assert main(["explain", path, option]) == 0
    asked_for = capsys.readouterr().out
    assert main(["explain", path]) == 0
    alone = capsys.readouterr().out
    assert asked_for.startswith(alone)
    added = asked_for.removeprefix(alone)
    assert added.startswith(begins)
    assert max(map(len, added.splitlines())) <= 80


@pytest.mark.usefixtures("own_drafts")
@pytest.mark.parametrize(
    ("title", "button", "words"),
    [
        (RESTS_ON, "list-sources", "Measured in a study"),
        (GOOD_ENOUGH, "good-enough", "up to 1.7 times what is just noticed"),
    ],
)
def test_the_interview_tells_it_for_this_answer_only(title: str, button: str, words: str) -> None:
    page = opened(answers=questions.EXAMPLE)
    assert title in [one.label for one in page.expander]
    assert words not in said(page)
    page.button(key=button).click()
    page.run()
    assert not page.exception
    assert words in said(page)
    field(page, "Age").set_value("61")
    page.run()
    assert words not in said(page)
    assert page.button(key=button)
