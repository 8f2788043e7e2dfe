"""Measures that cannot be right: each rule just inside, at and just outside its number."""

from __future__ import annotations

from typing import Any

import pytest

from engine.errors import InputRefusedError
from engine.home.answers import check_measures, scale_is_off
from engine.home.check import home_result
from engine.home.text import number
from tests.home_sessions import invented


def _ids(**changes: Any) -> list[str]:
    return [doubt.id for doubt in check_measures(invented(**changes))]


def _screen(**changes: Any) -> dict[str, Any]:
    usual = {"size_in": 24.0, "distance_cm": 65.0, "top_above_desk_cm": 46.0}
    return {"screens": [{**usual, **changes}], "hours": None, "skipped": ["hours"]}


def test_good_measures_raise_no_doubt() -> None:
    assert _ids() == []
    assert _ids(**_screen()) == []


@pytest.mark.parametrize(
    ("card_cm", "off"),
    [(8.56, False), (8.475, False), (8.474, True), (8.645, False), (8.646, True), (8.0, True)],
)
def test_a_ruler_more_than_one_percent_off_is_caught(card_cm: float, off: bool) -> None:
    """1 % of the 85.6 mm of a bank card is 0.856 mm."""
    assert scale_is_off(card_cm=card_cm) is off
    assert ("scale" in _ids(ruler="printed", card_cm=card_cm)) is off


def test_a_paper_ruler_is_checked_before_it_counts() -> None:
    assert _ids(ruler="printed") == ["scale_missing"]
    assert _ids(ruler="tape", card_cm=8.0) == []
    with pytest.raises(InputRefusedError):
        home_result(invented(ruler="printed", card_cm=8.2))


def test_inches_written_as_centimetres() -> None:
    assert "inches" in _ids(**_screen(distance_cm=33.9, reach=None))
    assert "inches" not in _ids(**_screen(distance_cm=34.0, reach=None))
    assert "inches" in _ids(reading=[{"what": "papers", "distance_cm": 19.9}])
    assert "inches" not in _ids(reading=[{"what": "papers", "distance_cm": 20.0}])


@pytest.mark.parametrize(
    ("reach", "cm", "doubt"),
    [
        ("touch", 85.0, None),
        ("touch", 85.1, "touch"),
        ("just", 95.0, None),
        ("no", 50.0, None),
        ("no", 49.9, "reach"),
        (None, 95.0, None),
    ],
)
def test_the_arm_against_the_tape(reach: str | None, cm: float, doubt: str | None) -> None:
    assert _ids(**_screen(reach=reach, distance_cm=cm)) == ([doubt] if doubt else [])


def test_a_picture_that_would_hang_below_the_desk() -> None:
    """24 in 16:9 is 29.9 cm high; tilted by 30 degrees 25.9 cm."""
    assert "bottom" in _ids(**_screen(top_above_desk_cm=25.8))
    assert "bottom" not in _ids(**_screen(top_above_desk_cm=25.9))


def test_eyes_far_too_low_or_high() -> None:
    low, high = number("eyes_low_cm"), number("eyes_high_cm")
    inside = {"top_above_desk_cm": 46.0}
    assert "eyes" not in _ids(eyes_above_desk_cm=low, **_screen(**inside))
    assert "eyes" in _ids(eyes_above_desk_cm=low - 0.1, **_screen(**inside))
    assert "eyes" not in _ids(eyes_above_desk_cm=high, **_screen(**inside))
    assert "eyes" in _ids(eyes_above_desk_cm=high + 0.1, **_screen(**inside))


def test_a_screen_beside_another_cannot_be_nearer_than_it_is_sideways() -> None:
    """Two 34-inch wide pictures side by side: middles 82.7 cm apart, 16.7 cm below the eyes.

    sqrt(82.7^2 + 16.7^2) / 0.9 = 93.7 cm at the least.
    """
    wide = {"size_in": 34.0, "shape": "extra_wide", "top_above_desk_cm": 48.0}
    for cm, blocked in ((93.5, True), (93.9, False)):
        screens = [{**wide, "distance_cm": 80.0}, {**wide, "distance_cm": cm, "side": "left"}]
        changes = {"screens": screens, "hours": None, "skipped": ["hours"]}
        doubts = [doubt for doubt in check_measures(invented(**changes)) if doubt.blocks]
        assert bool(doubts) is blocked
        assert all(doubt.step == "distances" and doubt.place == 1 for doubt in doubts)
        if blocked:
            with pytest.raises(InputRefusedError):
                home_result(invented(**changes))


def test_a_phone_far_beyond_the_papers() -> None:
    def reading(phone: float) -> list[dict[str, Any]]:
        return [
            {"what": "papers", "distance_cm": 40.0},
            {"what": "phone", "distance_cm": phone},
        ]

    assert "phone" not in _ids(reading=reading(65.0))
    assert "phone" in _ids(reading=reading(65.1))
    assert "page" in _ids(reading=reading(75.1))


def test_doubts_that_do_not_block_are_told_with_the_result() -> None:
    result = home_result(invented(**_screen(reach="touch", distance_cm=95.0)))
    assert len(result.doubts) == 1
    assert "Measure again" in result.doubts[0]
