"""Random edits of the interview meet no fault: add, remove, move, clear, open, bring back."""

from __future__ import annotations

import random
import re
from contextlib import suppress
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from app.form import questions
from app.form.case_of_answers import MOST_OTHERS
from app.form.html import anchor
from app.form.presets import presets
from app.shell import words
from engine import tables
from engine.case.model import BOTHER_WORDS
from engine.lenses.kinds import KINDS, POWER_FALL_WORDS
from tests.invented_result import LENSES
from tests.pages import opened, unfold

RUNS = 100
"""Of the page, each after one to three edits: some 170 edits."""
MANY = 500
SEED = 16
TEXTS = (
    "",
    "0",
    "-30",
    "15",
    "40",
    "54",
    "68",
    "5",
    "1e9",
    "x",
    "+2.00",
    "R +1 L -1 add +2",
    "30/31",
)
"""What is typed into any field: usual values, values out of range, and what no number is."""
COMMON = ("Load an invented wearer", words.DELETE_ANSWERS)
"""Buttons that replace everything: pressed now and then, so that cases grow in between."""
RARELY = 0.05
AGE = "Age (years)"
IDS = (
    "",
    *presets(),
    *KINDS,
    *(row["id"] for table in ("lens_kinds", "conditions") for row in tables.rows(table)),
    *questions.NEEDS,
    *questions.TURNS,
    *questions.ON_THE_DESK,
    *BOTHER_WORDS,
    *(slot for slot in ("main", "papers", *(f"other{place}" for place in range(MOST_OTHERS)))),
    *POWER_FALL_WORDS,
    *(kind for kind in LENSES),
)
"""Whatever an option of the Interview may be called."""


pytestmark = pytest.mark.usefixtures("invented_answers")


def raw(field: Any, label: str) -> str:
    """What the page calls the option of this label: the test library knows only the labels."""
    for name in (label, *IDS):
        with suppress(KeyError):
            if field.format_func(name) == label:
                return str(name)
    raise AssertionError(f"{field.key} has an option {label} of no known name")


def edit(page: AppTest, dice: random.Random) -> str:
    """Change one thing on the page; says which."""
    kind = dice.choice(("text", "text", "text", "select", "select", "radio", "several", "button"))
    if kind == "text":
        field = dice.choice(page.text_input)
        text = dice.choice(TEXTS)
        field.set_value(text)
        return f"{field.key} = {text!r}"
    if kind == "several":
        field = dice.choice(page.multiselect)
        chosen = dice.sample(field.options, dice.randint(0, len(field.options)))
        field.set_value(list({raw(field, label): label for label in chosen}))
        return f"{field.key} = {chosen}"
    if kind in ("select", "radio"):
        field = dice.choice(page.selectbox if kind == "select" else page.radio)
        label = dice.choice(field.options)
        field.set_value(raw(field, label))
        return f"{field.key} = {label}"
    rare = dice.random() < RARELY
    buttons = [one for one in page.button if not one.disabled and (one.label in COMMON) == rare]
    if not buttons:
        return "nothing"
    button = dice.choice(buttons)
    button.click()
    return f"press {button.label}"


def mend(page: AppTest, said: str, dice: random.Random) -> str:
    """Half of the time, do what the line in view asks for: mend what is refused, or type the age.

    Without it nearly every step would meet a case that is refused already. Shares are mended
    together, since it is their sum that is refused. Says what was typed.
    """
    if dice.random() < 0.5:
        return ""
    found = re.search('href="#(at-[^"]*)"', said)
    for field in page.text_input if found else ():
        name = field.key.partition(".")[2]
        if found and anchor(name) == found[1]:
            text = "54" if field.label == AGE else ""
            shares = page.text_input if name.endswith(".share_pct") else ()
            for one in (field, *(one for one in shares if one.key.endswith(".share_pct"))):
                one.set_value(text)
            return f"mend {field.key}"
    for field in page.text_input if "Type the age" in said else ():
        if field.label == AGE:
            field.set_value("54")
            return "the age = 54"
    return ""


def edits(page: AppTest, dice: random.Random) -> list[str]:
    """Change up to three things before the page answers, as a quick hand does; says which."""
    done: list[str] = []
    for _ in range(dice.randint(1, 3)):
        done.append(edit(page, dice))
        if done[-1].startswith("press"):
            break
    return done


@pytest.mark.parametrize("runs", [RUNS, pytest.param(MANY, marks=pytest.mark.long)])
def test_random_edits_meet_no_fault(runs: int):
    dice, page, done = random.Random(SEED), opened(), []
    answered = out_of_date = most = 0
    for _ in range(runs):
        said = "\n".join(one.value for one in page.markdown)
        mended = mend(page, said, dice)
        done += [mended] if mended else edits(page, dice)
        unfold(page)  # a deletion shuts every part
        page.run()
        last = "\n".join(done[-12:])
        assert not page.exception, last
        assert words.FAULT not in [one.value for one in page.error], last
        said = "\n".join(one.value for one in page.markdown)
        answered += "h comfortable" in said
        out_of_date += "out of date" in said
        most = max(most, sum(one.label == "Take away" for one in page.button))
    assert answered - out_of_date > runs / 5, (answered, out_of_date)
    assert out_of_date > runs / 20, out_of_date
    assert most >= 2, most
