"""What a wearer reads is easy to read: every page and sheet, and every sentence of its tables.

The result of the home check is read in a browser, by tests/browser/test_reading.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

import pytest

from app.form.slip import employer_slip
from app.home_file import questions, sheet
from app.views.order.sheets import wearer_page
from engine import tables
from engine.assemble import advise
from engine.case.read import read_case
from engine.collection.followup import follow_up_dates, follow_up_questions
from engine.collection.wearer_page import wearer_sheet
from engine.examples import path_of
from engine.home.answers import STEPS
from engine.team.slip import EmployerSlip
from tests.reading import blocks_of, ease_of, hard_words, hard_words_in, sentences, trade_words

GRADE = 7.0
"""Highest grade of a wearer's page; a reading age of about twelve."""
MOST_WORDS = 20
LEAST_WORDS = 100
"""The scales are made for texts, not for single lines."""
EXAMPLES = ("eye_level_27in", "laptop_only", "musician", "reception")
COLUMNS = {
    "home_texts": ("text",),
    "home_questions": ("title", "help"),
    "home_choices": ("label", "answer", "ask"),
    "home_kinds": ("why", "but", "ask"),
    "wearer_sheet": ("text",),
    "cautions": ("wearer_text",),
    "follow_up_questions": ("text",),
}
"""Everything a wearer may read or be asked, by table."""
OF_THE_OPTICIAN = ("decide", "eyes")
"""Rows of these tables that end in a word for the optician."""


LENGTH = "65 cm (26 in)"
VALUES = dict.fromkeys(
    ("cm", "beside", "a4", "letter", "near", "far", "down", "low", "high", "value"), LENGTH
) | {
    "target": "your second screen",
    "Target": "Your second screen",
    "thing": "your second screen",
    "things": "your main screen, your papers and your phone",
    "height": f"{LENGTH} below your eyes",
    "worn": "With the glasses you wear now",
    "kind": "all-distance glasses without a line",
    "lens": "all-distance glasses without a line",
    "chin": "tip your head down (9 to 23 degrees)",
    "change": "12 cm lower and 10 cm nearer",
    "parts": "desk, meetings",
    "first": "16 January 2030",
    "by": "13 February 2030",
    "sign": "An eye is red and it hurts, or light hurts it",
}
"""What a value may be at its longest; any other is a number."""


def flaws_of(blocks: Iterable[str]) -> list[str]:
    """Return what makes a page hard: a grade over the limit, or long sentences."""
    ease = ease_of(blocks, trade=trade_words())
    found = [f"{len(one.split())} words: {one}" for one in ease.longer_than(MOST_WORDS)]
    if ease.words < LEAST_WORDS:
        return found
    grades = {"ARI": ease.ari, "Coleman-Liau": ease.coleman_liau}
    return found + [f"{scale} {grade:.1f}" for scale, grade in grades.items() if grade > GRADE]


def texts(table: str) -> list[str]:
    """Return the sentences of a table with values as long as they get."""
    return [
        re.sub(r"\{(\w+)[^}]*\}", lambda found: VALUES.get(found[1], "12"), row[column])
        for row in tables.rows(table)
        for column in COLUMNS[table]
        if row[column] and row.get("id") not in OF_THE_OPTICIAN
    ]


def home_pages() -> dict[str, list[str]]:
    """Return each question of the home check with its fields, and what is said at a stop."""
    parts = dict(
        re.findall(r'<template id="([\w-]+)">(.*?)</template>', questions.templates(), re.S)
    )
    asked = tables.by_id("home_questions")
    pages = {
        step: [asked[step]["title"], asked[step]["help"], *blocks_of(parts[f"ask-{step}"])]
        for step in STEPS
    }
    return pages | {"stop": blocks_of(parts["stop"]), "sheet": blocks_of(sheet.sheet_page())}


@pytest.mark.parametrize("name", [*STEPS, "stop", "sheet"])
def test_each_page_of_the_home_check(name: str) -> None:
    blocks = home_pages()[name]
    assert flaws_of(blocks) == []
    assert hard_words_in(blocks) == []


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_sheet_of_every_lens(example: str) -> None:
    case = read_case(path_of(example))
    result = advise(case)
    for option in result.options:
        dates = follow_up_dates(collected=date(2030, 1, 2))
        told = wearer_sheet(case=case, result=result, option=option, dates=dates)
        blocks = blocks_of(wearer_page(told, case=case, option=option))
        assert ease_of(blocks).words >= LEAST_WORDS
        asked = [
            one.text
            for stage in ("first", "late")
            for one in follow_up_questions(case=case, option=option, stage=stage)
        ]
        assert flaws_of(blocks) == [], option.option
        assert flaws_of(asked) == [], option.option


def test_the_slip_for_the_employer() -> None:
    slip = EmployerSlip(
        tested=True,
        test_date=date(2030, 1, 2),
        special_pair_needed=True,
        retest_date=date(2032, 1, 2),
    )
    blocks = blocks_of(employer_slip(slip))
    assert flaws_of(blocks) == []
    assert hard_words_in(blocks) == []
    assert ease_of(blocks, trade=trade_words()).coleman_liau <= GRADE


@pytest.mark.parametrize("table", COLUMNS)
def test_no_sentence_of_a_table_is_long_or_has_a_hard_word(table: str) -> None:
    assert flaws_of(texts(table)) == []
    assert hard_words_in(texts(table)) == []


def test_the_scales_agree_with_a_library() -> None:
    import textstat  # two seconds, which only this test needs to wait

    text = texts("home_texts")
    long = [one for one in text if one.endswith((".", "?"))]
    ours, plain = ease_of(long), " ".join(long)
    assert abs(ours.ari - textstat.automated_readability_index(plain)) <= 1.5
    assert abs(ours.coleman_liau - textstat.coleman_liau_index(plain)) <= 1.5


def test_the_scales_tell_a_hard_text_from_an_easy_one() -> None:
    hard = [
        "Occupational progressive spectacle corrections necessitate individualised centration "
        "determinations, notwithstanding comparatively unconstrained postural accommodation."
    ]
    assert ease_of(hard).ari > GRADE + 5
    assert ease_of(hard).coleman_liau > GRADE + 5
    assert hard_words_in(["Your postures count."]) == [f"posture: say {hard_words()['posture']}"]


def test_a_name_of_glasses_is_hard_unless_it_is_in_brackets() -> None:
    assert hard_words_in(["Glasses with one line (bifocals)"]) == []
    assert hard_words_in(["Wear your bifocals (in the car)."])
    assert hard_words_in(["Glasses (with a progressive lens)"])


def test_a_label_is_no_sentence_and_an_item_ends_one() -> None:
    assert list(sentences(["Next", "Size", "It is clear. Is it?", "I lift my chin"])) == [
        ("It", "is", "clear"),
        ("Is", "it"),
        ("I", "lift", "my", "chin"),
    ]


def test_a_trade_word_is_counted_as_short() -> None:
    told = ["Your optician measures it again and again."]
    assert ease_of(told, trade=frozenset({"optician"})).letters == ease_of(told).letters - 4
