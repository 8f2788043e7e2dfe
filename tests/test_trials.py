"""The predicted studies: the table is what the program predicts today, and nothing is left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from app.views.evidence import trials as shown
from engine import tables
from engine.case.results import RESULTS_VERSION
from tests.oracles import desk_figures as desk
from tests.trials import measures, people, predict, studies

OUTCOMES = studies.outcomes()
ROWS = tables.by_id("trials")
AGAIN = "run: python -m tests.trials"
HELD_IN_COMMON = 1e-3
"""Of a stored figure: six digits are kept."""


@pytest.mark.parametrize("outcome", OUTCOMES, ids=lambda outcome: outcome.id)
def test_a_prediction_changes_only_with_the_results_version(outcome: studies.Outcome) -> None:
    row = ROWS[outcome.id]
    assert row["results_version"] == f"version {RESULTS_VERSION}", AGAIN
    values = predict.replicates(outcome, range(predict.FIRST))
    kept = [float(value) for value in row["first_replicates"].split()]
    assert np.abs(values - kept).max() <= HELD_IN_COMMON, (
        f"raise RESULTS_VERSION if the engine changed, then {AGAIN}"
    )


def test_the_table_has_every_outcome_of_enough_studies_and_its_verdict() -> None:
    assert [one.id for one in OUTCOMES] == list(ROWS)
    assert len(ROWS) >= 8
    assert len({row["source"] for row in ROWS.values()}) >= 6
    for outcome in OUTCOMES:
        row = ROWS[outcome.id]
        low, high = (float(row[f"predicted_{end}"]) for end in ("low", "high"))
        assert low <= float(row["predicted"]) <= high
        near_an_end = 0.06  # the table keeps one place
        verdicts = {
            predict.verdict(low - off, high + off, outcome.found)
            for off in (-near_an_end, 0.0, near_an_end)
        }
        assert row["verdict"] in verdicts
        assert row["found"] == predict._written(outcome.found.value)


def test_everything_assumed_has_its_reason() -> None:
    for outcome in OUTCOMES:
        assert set(outcome.assumed) >= {"screen_distance_cm", "age_years", "text_mm"}
        for name, spec in outcome.assumed.items():
            assert spec["why"], f"{outcome.id}: {name}"
        assert outcome.study["read"]
        assert outcome.study["says"]
        assert outcome.study["regime"] in studies.REGIMES
        measures.arguments_of(outcome.measure, outcome.arguments)


def test_a_prediction_is_not_overwritten_under_the_same_version() -> None:
    old = dict(ROWS["office_head_2015"])
    predict.check_may_change([old], [old])
    other = old | {"first_replicates": "1 2 3"}
    with pytest.raises(ValueError, match="raise RESULTS_VERSION"):
        predict.check_may_change([old], [other])
    predict.check_may_change([old], [other | {"results_version": "version 0"}])
    predict.check_may_change([old], [other | {"written_digest": "sha256 0"}])


def test_postures_are_those_that_the_engine_prints() -> None:
    """Three wearers without any error, at the desk of the field studies."""
    outcome = next(one for one in OUTCOMES if one.id == "screens_lower_2010")
    general = {"kind": "general_progressive", "corridor_mm": 12.5}
    outcome = replace(outcome, lenses=outcome.lenses | {"general": general})
    some = people.drawn(outcome, np.random.default_rng(1), people=3)
    one = np.ones(3)
    exact = {
        "add_d": np.array(desk.ADDS_D), "sphere_d": 0.0 * one, "screen_distance_cm": 67.1 * one,
        "screen_tilt_deg": 9.0 * one, "text_mm": 3.2 * one, "screen_in": 18.508 * one,
        "screen_aspect": 41.0 / 23.0 * one, "fitting_height_mm": 20.0 * one,
        "centre_below_deg": 13.7 * one,
    }  # fmt: skip
    errors = dict.fromkeys(some.errors, 0.0 * one) | {
        "slope": measures.J.free_posture_slope * one, "blur": one,
    }  # fmt: skip
    some = replace(some, values=some.values | exact, errors=errors)
    some = some.moved(screen_top_cm=people.top_cm(some.values, exact["centre_below_deg"]))
    more = measures.chin_up(some, "general") - measures.chin_up(some, "single")
    wanted = [desk.more_chin_up_deg(add_d, 12.5, relaxed=False) for add_d in desk.ADDS_D]
    assert more.tolist() == wanted


def test_the_page_says_what_was_predicted_found_and_missed() -> None:
    every = tables.rows("trials")
    text = shown.counted(every)
    assert text.startswith(f"{len(every)} outcomes of ")
    assert {row["verdict"] for row in every} <= set(shown.VERDICTS)
    assert {row["regime"] for row in every} <= set(shown.REGIMES)
    miss = next(row for row in every if row["verdict"] == "outside")
    html = shown.listed([miss])
    assert "What the miss may mean" in html
    inside = next(row for row in every if row["verdict"] == "inside")
    assert "What the miss may mean" not in shown.listed([inside])


def test_a_bar_is_drawn_where_its_figures_are() -> None:
    """Half of the axis lies at half of the picture; an end beyond it is cut there."""
    row = dict(ROWS["office_preferred_2018"])
    row |= {"predicted": "50.0", "predicted_low": "0.0", "predicted_high": "150.0"}
    drawn = shown.picture(row)
    assert 'x1="6" y1="8" x2="314"' in drawn
    assert 'x1="160" y1="2"' in drawn
