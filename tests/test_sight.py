"""What the pictures need computed: places from above, turns, and points on the lens."""

from __future__ import annotations

import math

import pytest

from engine.assemble import advise
from engine.case.read import build_case
from engine.desk import sight
from tests import examples


@pytest.fixture(scope="module")
def answered():
    activities = [
        {
            "name": "desk",
            "hours": 6,
            "looks": [{"target": "screen", "share": 0.8}, {"target": "papers", "share": 0.2}],
        }
    ]
    case = build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {"age_years": 56, "right": examples.eye(), "left": examples.eye()},
            "targets": [examples.screen(offset_cm=15, top_above_eye_cm=-12), examples.paper()],
            "activities": activities,
        }
    )
    return case, advise(case)


def edge_deg(place: sight.FromAbove) -> float:
    """How far the edge that is farther to the side lies there, without sign."""
    return max(math.degrees(abs(math.atan2(right, ahead))) for ahead, right in place.edges)


def test_a_thing_to_the_side_is_seen_there_from_above_and_faces_the_wearer(answered):
    case, _ = answered
    aside, ahead = sight.from_above(case)
    assert abs(aside.right_cm - 15.0) <= 1e-9
    assert ahead.right_cm == 0.0
    (left_ahead, left), (right_ahead, right) = aside.edges
    # 24 in of 16:9 are 53.13 cm wide; turned to the wearer, so square to the line to its centre.
    assert abs(math.hypot(right_ahead - left_ahead, right - left) - 53.13) <= 0.01
    across = (right - left) * aside.right_cm + (right_ahead - left_ahead) * aside.forward_cm
    assert abs(across) <= 1e-9
    assert edge_deg(aside) > aside.aside_deg > 0.0


def test_head_and_eyes_share_the_turn_and_show_the_whole_where_they_can(answered):
    case, result = answered
    place = sight.from_above(case)[0]
    found = set()
    for option in result.options:
        through = option.targets[0]
        turn = sight.turn_to(place, through)
        if turn is None:
            assert through.clear_width_cm is None
            continue
        width_cm = 2.0 * place.level_cm * math.tan(math.radians(turn.eyes_deg))
        assert abs(width_cm - through.clear_width_cm) <= 1e-9
        assert 0.0 <= turn.head_deg <= place.aside_deg + 1e-9
        whole = turn.head_deg < place.aside_deg - 1e-9
        if whole:  # the outermost column of points stands a ninth of half the width inside
            assert turn.head_deg + turn.eyes_deg >= edge_deg(place) - 4.0
        found.add(whole)
    assert found == {True, False}


def test_a_turn_to_the_left_is_negative(answered):
    case, result = answered
    place = sight.from_above(case)[0]
    mirrored = sight.FromAbove(place.forward_cm, -place.right_cm, place.edges)
    through = result.option("general_progressive").targets[0]
    right, left = sight.turn_to(place, through), sight.turn_to(mirrored, through)
    assert right.head_deg > 0.0
    assert left.head_deg == -right.head_deg


def test_points_on_the_lens_are_those_of_the_answer_and_lie_on_the_side_looked_to(answered):
    case, result = answered
    for option in result.options:
        points = sight.lens_points(option, case)
        if option.kind == "unaided":
            assert points == ()
            continue
        rows = {(t.target, row.row): row for t in option.targets for row in t.rows}
        assert {(one.target, one.row) for one in points} == set(rows)
        for one in points:
            row = rows[one.target, one.row]
            assert one.clear == (row.chin_up_deg is not None)
            assert one.side_mm >= 0.0
            if row.drop_mm is not None:
                assert abs(one.drop_mm - row.drop_mm) <= 1e-9


def test_a_lens_beside_the_one_held_is_told_at_the_other_desk_too(answered):
    case, result = answered
    one, other = result.option("office"), result.option("general_progressive")
    pairs = [(one, tuple(activity.name for activity in case.activities))]
    there = sight.shifted(case, 0, up_cm=-9, away_cm=0)
    found = sight.held(there, pairs, through=one, like=case, beside=other)
    alone = sight.held(there, pairs, through=other, like=case)
    assert alone.beside is None
    assert found.beside.targets == alone.through.targets
    assert found.beside.targets != other.targets
