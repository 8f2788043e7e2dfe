"""The second answer, for a wearer to whom a little blur is good enough."""

from __future__ import annotations

from pathlib import Path

from engine.answer.good_enough import good_enough
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import read_case
from engine.case.results import Told
from engine.examples import path_of
from engine.tables import Judgements

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
