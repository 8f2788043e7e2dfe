"""What was predicted beside what a wearer reports: kept, read back, drawn."""

from __future__ import annotations

from app.draw.foretold import describe, foretold_picture
from engine.collection.followup import Foretold, foretold_in


def test_a_prediction_and_a_report_are_kept_and_read_back() -> None:
    one = Foretold(predicted_h=6.42, reported_h=6)
    assert one.says == "Predicted 6.4 h; the wearer reports about 6 h."
    kept = {"a": {"foretold": one.model_dump()}, "b": {"foretold": {"predicted_h": 1}}, "c": 3}
    assert foretold_in(kept, ("a", "b", "c", "d")) == (one,)


def test_the_plot_has_a_dot_for_each_pair_and_says_the_mean() -> None:
    pairs = [Foretold(predicted_h=6.0, reported_h=5.0)] * 9 + [
        Foretold(predicted_h=6.0, reported_h=6.0)
    ]
    assert foretold_picture(pairs).count("<circle") == 10
    assert describe(pairs) == (
        "10 pairs of glasses. On average, wearers report 0.9 h less than predicted."
    )
