"""Hours lost to small text are told apart from hours lost to a lens; a bench is not enlarged."""

from __future__ import annotations

import pytest

from engine.answer import cautions
from engine.assemble import advise
from engine.case.results import Told
from engine.tables import Judgements
from tests.caution_cases import PAPER, SCREEN, case

BENCH = {**PAPER, "name": "bench", "text_arcmin": 8}


def text_of(height_mm: float) -> dict[str, object]:
    """A screen at 80 cm with capitals of this height."""
    found = {**SCREEN, "distance_cm": 80, "text_height_mm": height_mm}
    del found["text_arcmin"]
    return found


def told_of_size(target: dict[str, object]) -> list[Told]:
    """What a day at one target is told of the size of its text."""
    result = advise(case(targets=[target]))
    return [one for one in result.recommendation.reasons if one.id.startswith("small_")]


def test_hours_lost_to_small_text_are_told_with_the_size_that_mends_it():
    # 16 arcmin at 80 cm are 3.72 mm: 3.8 mm is 2.38 times 1.6 mm, and 1.6 mm is 6.9 arcmin.
    (told,) = told_of_size(text_of(1.6))
    assert told.values["percent"] == "240"
    assert told.values["needed_mm"] == "3.8"
    assert 5.0 < float(told.values["hours_h"]) <= 6.0


def test_text_enlarged_as_told_loses_no_hours():
    assert told_of_size(text_of(3.8)) == []


def test_of_a_bench_nothing_is_said_of_enlarging():
    (told,) = told_of_size(BENCH)
    assert told.id == "small_detail"
    judged = Judgements.standard()
    said = [
        told.text,
        *(one.text for one in cautions.case_cautions(case(targets=[BENCH]), judgements=judged)),
    ]
    assert not [text for text in said if "nlarge" in text or "capitals" in text or "%" in text]


@pytest.mark.parametrize("height_mm", [1.6, 2.0])
def test_the_hours_lost_are_those_no_lens_serves(height_mm):
    # The same in every lens: each leaves at least these hours not served.
    result = advise(case(targets=[text_of(height_mm)]))
    (told,) = [one for one in result.recommendation.reasons if one.id == "small_text"]
    lost_h = float(told.values["hours_h"])
    assert all(option.not_served_h >= lost_h - 0.1 for option in result.options)
