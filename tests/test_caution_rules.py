"""Rules of cautions without a number, and the details of those with one."""

from __future__ import annotations

from math import radians, sin

import numpy as np
import pytest

from engine.answer import cautions
from engine.case.scene import wearers_of
from engine.lenses.families import Points
from engine.lenses.kinds import KINDS
from tests.caution_cases import (
    FAR,
    GENERAL,
    PAPER,
    SCREEN,
    STANDARD,
    add_case,
    case,
    eye,
    falls_case,
    ids,
    option,
    seen,
    told_of,
    told_of_case,
)
from tests.kind_table import ROWS, is_multifocal


def covers_distance(kind):
    """By the table; bare eyes that are off, as those of somebody short-sighted, do not."""
    return ROWS[kind]["covers_distance"] == "yes"


@pytest.mark.parametrize("kind", KINDS)
def test_no_desk_pair_is_for_driving_and_every_lower_field_is_told(kind):
    told = ids(told_of(case(), option(kind, covers=covers_distance(kind))))
    assert ("not_for_driving" in told) is (ROWS[kind]["covers_distance"] == "no")
    assert ("stairs_lower_field" in told) is (ROWS[kind]["blurs_the_feet"] == "yes")


@pytest.mark.parametrize("need", ["driving", "walking", "stairs"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_need_for_clear_distance_excludes_every_pair_without_it(kind, need):
    told = told_of(case(needs=[[need]]), option(kind, covers=covers_distance(kind)))
    is_excluded = cautions.excludes(ids(told)) == ("needs_clear_distance",)
    assert is_excluded is (ROWS[kind]["covers_distance"] == "no")
    if is_excluded:
        assert need in told[0].text
        assert "going 0" in told[0].text
        assert cautions.excludes(ids(told), with_another_pair=True) == ()


def test_a_distance_pair_that_does_not_cover_the_distance_is_excluded_too():
    told = ids(told_of(case(needs=[["driving"]]), option(GENERAL, covers=False)))
    assert {"needs_clear_distance", "not_for_driving"} <= set(told)


def test_needs_are_named_once_and_every_activity_is_named():
    told = told_of(case(needs=[["driving", "stairs"], ["driving"]]), option("office"))[0]
    assert told.values == {"activities": "going 0, going 1", "needs": "driving, stairs"}


@pytest.mark.parametrize("kind", KINDS)
def test_falls_and_first_wear_by_kind(kind):
    asked = case(wearer={"conditions": ["falls_risk", "first_multifocal"]})
    told = ids(told_of(asked, option(kind)))
    assert ("falls_multifocal" in told) is (ROWS[kind]["blurs_the_feet"] == "yes")
    assert ("first_multifocal" in told) is is_multifocal(kind)


@pytest.mark.parametrize("present", [None, *KINDS])
def test_changes_from_the_pair_worn(present):
    asked = case(
        wearer={"conditions": ["falls_risk"]},
        present=None if present is None else {"kind": present},
    )
    told = ids(told_of(asked, option(GENERAL)))
    worn = ROWS.get(present, {"single_vision": "no", "lined": "no"})
    from_single = worn["single_vision"] == "yes"
    assert ("falls_single_vision_wearer" in told) is from_single
    assert ("general_lined_wearer" in told) is (worn["lined"] == "yes")
    assert ("general_worn_unhappily" in told) is (present == GENERAL)


def test_a_pair_worn_happily_is_no_past_failure():
    asked = case(present={"kind": GENERAL, "liked": True})
    assert "general_worn_unhappily" not in ids(told_of(asked, option(GENERAL)))


def test_general_progressive_with_prism_or_vertigo():
    asked = case(
        wearer={
            "conditions": ["vertigo"],
            "left": eye(prism=[{"amount_pd": 0.5, "base": "in"}]),
        }
    )
    assert "prism_prescribed" in ids(told_of_case(asked))
    for kind in KINDS:
        found = {"general_vertigo", "general_eye_muscles"} & set(ids(told_of(asked, option(kind))))
        assert len(found) == (2 if kind == GENERAL else 0)


def test_targets_that_stay_unclear_are_named():
    asked = case(targets=[SCREEN, PAPER, FAR])
    lost = [seen("screen", chin=None), seen("papers", chin=None), seen("visitor", chin=None)]
    clear = [seen("screen"), seen("papers"), seen("visitor")]
    for kind, found in (("sv_computer", {"papers", "visitor"}), ("office", {"visitor"})):
        told = told_of(asked, option(kind, targets=lost))
        unclear = [one for one in told if one.id in ("far_beyond_reach", "sv_computer_page")]
        assert {one.values["target"] for one in unclear} == found
        again = ids(told_of(asked, option(kind, targets=clear)))
        assert not {"far_beyond_reach", "sv_computer_page"} & set(again)
    assert "far_beyond_reach" not in ids(told_of(asked, option("sv_distance", targets=lost)))


def test_no_add_is_provisional():
    asked = case(wearer={"right": eye(add_d=None), "left": eye(add_d=None)})
    assert ids(told_of_case(asked)) == ["no_add_known"]
    one_eye = case(wearer={"right": eye(add_d=None)})
    (told,) = told_of_case(one_eye)
    assert (told.id, told.values["eye"]) == ("add_for_one_eye", "left")
    assert one_eye.wearer.add_d == told.values["add_d"], "the smaller of two would be none at all"


def test_far_details_get_no_text_warning():
    assert ids(told_of_case(case(targets=[SCREEN, FAR]))) == []


def test_text_that_is_enlarged_as_told_is_large_enough():
    for distance in (40, 52, 70, 81.3):
        small = {**SCREEN, "distance_cm": distance, "text_height_mm": 1.0}
        del small["text_arcmin"]
        told = told_of_case(case(targets=[small]))
        needed_mm = told[0].values["needed_mm"]
        assert f"{needed_mm:.1f} mm" in told[0].text
        assert f"{needed_mm:.1f} mm" in cautions.wearer_text(told[0])
        again = {**small, "text_height_mm": round(needed_mm, 1)}
        assert told_of_case(case(targets=[again])) == ()


def test_office_far_limit_lies_between_near_power_and_top_power():
    # 2.00 less 1.25 reaches 1.33 m at the top, 2.50 less 1.50 reaches 1.0 m (1 / power).
    for near, degression, top_cm in ((2.0, 1.25, 133.0), (2.5, 1.5, 100.0)):
        for fall in ("slow", "quick"):
            lens = option("office", near_add_d=near, degression_d=degression, power_fall=fall)
            told = next(one for one in told_of(case(), lens) if one.id == "office_far_limit")
            assert told.values == {"ahead_cm": lens.sees_to_cm}
            assert 100 / near < told.values["ahead_cm"] < top_cm


def test_office_far_limit_is_said_of_straight_ahead_and_of_nothing_else():
    # A top without power shows far, but the wearer first gets what stands straight ahead.
    lens = option("office", near_add_d=1.5, degression_d=1.5, power_fall="slow")
    assert 150 < lens.sees_to_cm < 350
    assert "office_far_limit" in ids(told_of(case(), lens))
    unlimited = lens.model_copy(update={"sees_to_cm": None})
    assert "office_far_limit" not in ids(told_of(case(), unlimited))
    for kind in KINDS:
        if not KINDS[kind].has_degression:
            assert "office_far_limit" not in ids(told_of(case(), option(kind)))


def test_over_minused_lens_is_excluded_even_in_a_plan_of_two():
    lens = option("office", near_add_d=1.0, degression_d=1.25)
    told = ids(told_of(case(), lens))
    assert cautions.excludes(told, with_another_pair=True) == ("top_over_minused",)


def test_screens_span():
    # 80 cm at 70 cm spans 2 atan(40 / 70) = 59.49 deg.
    screen = {k: v for k, v in SCREEN.items() if k != "top_above_eye_cm"}
    screen |= {"centre_above_eye_cm": 0, "width_cm": 80}
    assert abs(cautions.screens_span_deg(case(targets=[screen])) - 59.4898) <= 0.0001
    two = [{**screen, "width_cm": 40, "offset_cm": side, "name": f"s{side}"} for side in (-35, 35)]
    # Each is 30 deg off to its side (35 / 70) and spans 2 atan(20 / 70) = 31.89 deg.
    assert abs(cautions.screens_span_deg(case(targets=two)) - 91.8908) <= 0.0001
    assert cautions.screens_span_deg(case(targets=[PAPER])) == 0.0


def test_oblique_difference_that_neither_axis_shows():
    # Crossed cylinders: power differs by 1.50 sin(2 x 45 deg) at 45 deg and not at all at 90.
    right = eye(sphere_d=0.75, cylinder_d=-1.5, axis_deg=45)
    left = eye(sphere_d=0.75, cylinder_d=-1.5, axis_deg=135)
    asked = case(wearer={"right": right, "left": left})
    told = {one.id: one for one in told_of_case(asked)}
    assert set(told) == {"anisometropia"}
    assert abs(told["anisometropia"].values["difference_d"] - 1.5 * sin(radians(90))) <= 1e-9


def test_strong_power_looks_at_both_meridians_of_both_eyes():
    for side in ("right", "left"):
        for values, strongest in (
            ({"sphere_d": -3.0, "cylinder_d": -1.0}, -4.0),
            ({"sphere_d": 3.0, "cylinder_d": 1.25}, 4.25),
            ({"sphere_d": -4.5, "cylinder_d": 2.0}, -4.5),
        ):
            told = told_of_case(case(wearer={side: eye(**values)}))
            found = [one.values["power_d"] for one in told if one.id == "strong_power"]
            assert found == [strongest]


def test_no_need_no_exclusion():
    assert cautions.excludes(ids(told_of(case(), option("office")))) == ()


def test_power_change_counts_both_ways_and_only_between_pairs_worn_walking():
    for now, then in ((1.0, 2.0), (2.0, 1.0)):
        told = {one.id: one for one in told_of(*falls_case(now, then))}
        assert told["falls_power_change"].values["change_d"] == 1.0
    asked = case(
        wearer={"conditions": ["falls_risk"]},
        present={"kind": "sv_near", "design": {"add_d": 1.0}},
    )
    assert "falls_power_change" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))
    asked = case(present={"kind": GENERAL, "design": {"add_d": 1.0}})
    assert "falls_power_change" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))
    asked, _ = falls_case(1.0, 1.0)
    assert "falls_power_change" not in ids(told_of(asked, option("sv_near", add_d=3.0)))


@pytest.mark.parametrize("heights", [(17.9, 20.0), (20.0, 17.9)])
def test_the_lower_fitting_height_decides_about_the_frame(heights):
    right, left = heights
    asked = case(fit={"fitting_height_right_mm": right, "fitting_height_left_mm": left})
    told = told_of(asked, option(GENERAL, add_d=2.0, corridor_mm=14.0))
    assert [one.values["height_mm"] for one in told if one.id == "frame_too_shallow"] == [17.9]


def test_no_glasses_are_no_lens():
    lens = option("unaided", add_d=3.0, targets=[seen(gaze=40.0)])
    assert not {"above_prescribed_add", "steep_gaze"} & set(ids(told_of(case(), lens)))


def test_every_stated_power_is_held_against_the_add():
    for name in ("add_d", "near_add_d", "upper_add_d"):
        lens = option("bifocal_desk", **({"add_d": 1.5} | {name: 2.25}))
        told = {one.id: one for one in told_of(case(), lens)}
        assert told["above_prescribed_add"].values == {"power_d": 2.25, "add_d": 2.0}


def test_the_steepest_row_counts():
    rows = [
        row.model_copy(update={"gaze_down_deg": gaze})
        for row, gaze in zip(seen().rows, (None, 12.0, 28.0), strict=True)
    ]
    lens = option(GENERAL, targets=[seen().model_copy(update={"rows": tuple(rows)})])
    told = {one.id: one for one in told_of(case(), lens)}
    assert told["steep_gaze"].values["gaze_down_deg"] == 28.0


def test_the_add_of_a_general_progressive_is_the_prescribed_one_where_not_stated():
    asked = add_case(2.5)
    assert "general_high_add" in ids(told_of(asked, option(GENERAL)))
    assert "general_high_add" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))


@pytest.mark.parametrize("fall", ["slow", "quick"])
def test_straight_ahead_is_the_power_at_the_fitting_point(fall):
    lens = option("office", near_add_d=2.0, degression_d=1.25, power_fall=fall)
    family, near = KINDS["office"].worn(lens.design, add_d=2.0, judgements=STANDARD)
    zero = np.zeros((1, 1))
    points = Points(x_mm=zero, y_mm=zero, made=zero.astype(np.intp), down_mm=zero)
    wearers = wearers_of([case()], judgements=STANDARD).as_columns()
    power_d = near + float(np.ravel(family.field(points, wearers).offset_d)[0])
    told = next(one for one in told_of(case(), lens) if one.id == "office_far_limit")
    assert abs(told.values["ahead_cm"] - 100 / power_d) <= 1e-6
