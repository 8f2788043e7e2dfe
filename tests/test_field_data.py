"""Chin-up at a screen by add and corridor, and at rest; what studies found is in tests/trials.

Jaschinski et al. 2015 (Clin Exp Optom 98:228-233): 85 wearers of general progressives held the
head about 7 degrees more extended than wearers of single vision.
"""

from __future__ import annotations

import pytest

from tests.oracles import desk_figures as desk

MORE_EXTENDED_DEG = 7.0
ADDS_OF_THE_FIELD_D = (1.5, 2.5)
"""Mean age 54: adds from 1.50 to 2.50 by the usual tables."""


def test_relaxed_chin_up_is_far_above_the_field() -> None:
    """`relaxed_chin_up`, no focusing and hardly any blur: 14 for the middle design, twice as much.

    So people in the field used what focusing they had and put up with some blur. With the largest
    add no focusing is left to rest, and no window is relaxed: its nearest posture is printed.
    """
    found = desk.more_chin_up_deg(2.0, 12.5, relaxed=True)
    assert 5.0 <= found - MORE_EXTENDED_DEG <= 9.0
    every, usual = (desk.over_designs(relaxed=at_rest) for at_rest in (True, False))
    assert min(every) > MORE_EXTENDED_DEG
    pairs = list(zip(every, usual, strict=True))
    assert all(relaxed >= usual for relaxed, usual in pairs)
    assert all(relaxed > usual for relaxed, usual in pairs[:6])  # adds 1.50 and 2.00


@pytest.mark.parametrize("add_d", ADDS_OF_THE_FIELD_D)
def test_more_add_and_a_longer_corridor_ask_for_more_chin(add_d: float) -> None:
    by_corridor = [desk.more_chin_up_deg(add_d, c, relaxed=False) for c in desk.CORRIDORS_MM]
    assert by_corridor == sorted(by_corridor)
    at_125 = [desk.more_chin_up_deg(a, 12.5, relaxed=False) for a in desk.ADDS_D]
    assert at_125 == sorted(at_125)
