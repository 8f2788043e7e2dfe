"""What a reading has settled comes before any guess, and what it rules out comes last."""

from __future__ import annotations

import json
from typing import Any

import pytest

from engine.collection.as_worn import CrossError
from engine.collection.complaints import (
    Complaint,
    RankedCause,
    SeenTarget,
    checks_in_order,
    rank_causes,
)
from engine.collection.settled import Settled, settled_by
from engine.collection.verify import Check, Outcome, Verification
from tests.orders import answered, content

TABLE = json.dumps(content())
LEANS = Complaint(
    seen=(SeenTarget(target="main screen", farthest_clear_cm=80.0),), answers={"leans_in": True}
)


def check(
    quantity: str, outcome: Outcome, *, side: Any = "right", difference: float = 0.0
) -> Check:
    return Check(
        quantity=quantity,
        side=side,
        ordered="",
        read="",
        difference=difference,
        limit=0.1,
        unit="D",
        outcome=outcome,
        says=f"off by {difference:+.2f} D, allowed 0.16 D",
    )


def settled(
    *checks: Check, kind: str = "office", crosses: tuple[CrossError, CrossError] | None = None
) -> Settled:
    covers = answered(TABLE)[1].option(kind).covers_distance
    found = Verification(standard="ANSI Z80.1", checks=checks)
    return settled_by(found, kind=kind, covers_distance=covers, crosses=crosses)


def ranked(kind: str, *, by: Settled | None = None) -> tuple[RankedCause, ...]:
    case, result = answered(TABLE)
    return rank_causes(case=case, option=result.option(kind), complaint=LEANS, settled=by)


def test_a_failed_power_comes_before_any_guess() -> None:
    before = ranked("office")[0]
    assert before.id != "one_eye_power"
    assert before.shown is None
    by = settled(check("sphere", "fail", difference=0.37))
    assert set(by.shown) == {"one_eye_power", "screen_power_too_strong"}
    first = ranked("office", by=by)
    assert {one.id for one in first[:2]} == set(by.shown)
    assert first[0].settled == "right power off by +0.37 D, allowed 0.16 D"
    assert checks_in_order(first)[0].shown


def test_a_power_of_the_distance_part_is_no_screen_power() -> None:
    by = settled(check("sphere", "fail", difference=0.37), kind="general_progressive")
    assert set(by.shown) == {"one_eye_power"}


@pytest.mark.parametrize(
    ("kind", "difference", "cause"),
    [
        ("office", 0.37, "screen_power_too_strong"),
        ("office", -0.37, "screen_power_too_weak"),
        ("general_progressive", 0.37, "base_too_plus"),
        ("general_progressive", -0.37, "base_too_minus"),
    ],
)
def test_a_power_wrong_the_same_way_in_both_eyes_is_of_no_one_eye(
    kind: str, difference: float, cause: str
) -> None:
    both = [check("sphere", "fail", side=one, difference=difference) for one in ("right", "left")]
    assert set(settled(*both, kind=kind).shown) == {cause}
    other = check("sphere", "fail", side="left", difference=-difference)
    assert "one_eye_power" in settled(both[0], other, kind=kind).shown


@pytest.mark.parametrize(
    ("difference", "cause"), [(0.25, "add_too_strong"), (-0.25, "add_too_weak")]
)
def test_the_sign_of_a_failed_add_says_which_way(difference: float, cause: str) -> None:
    assert set(settled(check("add", "fail", difference=difference)).shown) == {cause}


def test_what_passed_in_full_is_ruled_out_and_checked_no_more() -> None:
    passed = settled(check("sphere", "pass"), check("height", "pass", side="left"))
    assert passed.ruled_out == {"one_eye_power": "power, height passed in both eyes"}
    without = settled(check("sphere", "pass"), check("axis", "not_judged"), kind="sv_computer")
    assert without.ruled_out == {"one_eye_power": "power passed in both eyes"}
    last = ranked("office", by=passed)[-1]
    assert (last.id, last.shown) == ("one_eye_power", False)
    assert "one_eye_power" not in [one.id for one in checks_in_order((last,))]


@pytest.mark.parametrize("missing", ["not_measured", "ask_laboratory"])
def test_a_line_that_was_not_read_settles_nothing(missing: Outcome) -> None:
    assert settled(check("sphere", "pass"), check("height", missing)) == Settled()


def test_crosses_settle_the_height_of_the_lens() -> None:
    low = settled(crosses=(CrossError(below_mm=2.0), CrossError()))
    assert set(low.shown) == {"fitted_low"}
    assert set(low.ruled_out) == {"fitted_high"}
    within = settled(check("centration", "pass"), crosses=(CrossError(below_mm=1.0), CrossError()))
    assert within.shown == {}
    assert set(within.ruled_out) == {"fitted_low", "fitted_high", "pd_error"}
    aside = settled(check("centration", "pass"), crosses=(CrossError(right_mm=-1.5), CrossError()))
    assert set(aside.shown) == {"pd_error"}


def test_no_check_names_a_part_that_the_lens_has_not() -> None:
    for kind in ("office", "sv_computer", "sv_near"):
        said = [one.check for one in ranked(kind)]
        assert not [one for one in said if "distance part" in one]
        assert not [one for one in said if "corridor" in one]
        assert all(said)
    assert [one for one in ranked("general_progressive") if "distance part" in one.check]
    assert [one for one in ranked("general_progressive") if "corridor" in one.check]
