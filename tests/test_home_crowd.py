"""The crowd at home: what differs between the pairs people wear."""

from __future__ import annotations

import numpy as np

from engine.case.read import build_case
from engine.home.case import case_content
from engine.home.crowd import crowd_of
from engine.tables import Judgements
from tests.home_sessions import invented


def test_zones_of_the_pairs_worn_differ_as_designs_do() -> None:
    """Their width has a deviation of 0.2 in its logarithm (designs differ 2:1, Sheedy 2004).

    Numbers spread evenly from -1 to 1 have a deviation of 1 / sqrt(3); sixty steps, a 7200th less.
    """
    case = build_case(case_content(invented()))
    judged = Judgements.standard()
    crowd = crowd_of(case, age="55_59", glasses="general_progressive", people=60, judgements=judged)
    width = np.log(crowd.scene.wearers.zone_width)
    assert abs(float(width.std()) - 0.2) <= 0.0001
    assert abs(float(width.mean())) <= 1e-9, "as many wider as narrower; residue of the sum"


def test_half_of_the_crowd_turns_the_eyes() -> None:
    case = build_case(case_content(invented()))
    judged = Judgements.standard()
    crowd = crowd_of(case, age="55_59", glasses="general_progressive", people=60, judgements=judged)
    share = crowd.scene.wearers.eyes_first
    assert set(share) == {0.0, judged.eye_turner_eye_share}
    assert int((share > 0.0).sum()) == 30
