"""Every text of the home check reads at about age 12, measured by a library.

Two scales that count letters and sentences, so that no word list has to be fetched: each gives a
school grade; reading age is about the grade plus five.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable

import pytest

from engine import tables
from engine.home.text import texts

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import textstat

GRADE_OF_AGE_12 = 7.0
HARDEST_SENTENCE_WORDS = 26
SCALES: list[Callable[[str], float]] = [
    textstat.automated_readability_index,
    textstat.coleman_liau_index,
]


def _whole() -> str:
    return " ".join(text if text.endswith((".", "?")) else f"{text}." for text in texts())


@pytest.mark.parametrize("scale", SCALES)
def test_all_texts_together(scale: Callable[[str], float]) -> None:
    assert scale(_whole()) <= GRADE_OF_AGE_12


@pytest.mark.parametrize("scale", SCALES)
def test_the_help_of_each_question_is_no_harder_than_two_years_more(
    scale: Callable[[str], float],
) -> None:
    for row in tables.rows("home_questions"):
        assert scale(f"{row['title']} {row['help']}") <= GRADE_OF_AGE_12 + 2.0, row["id"]


def test_no_sentence_is_long() -> None:
    for text in texts():
        for sentence in text.replace("?", ".").split("."):
            assert len(sentence.split()) <= HARDEST_SENTENCE_WORDS, sentence


def test_the_scales_tell_a_hard_text_from_an_easy_one() -> None:
    hard = (
        "Occupational progressive spectacle corrections necessitate individualised centration "
        "determinations, notwithstanding comparatively unconstrained postural accommodation."
    )
    assert all(scale(hard) > GRADE_OF_AGE_12 + 5.0 for scale in SCALES)
