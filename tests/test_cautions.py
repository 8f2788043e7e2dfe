"""Cautions: each row has its rule, each number is tested at, just under and just over."""

from __future__ import annotations

import ast
import inspect
import re
import string
from dataclasses import replace
from itertools import pairwise
from math import cos, radians, sin, tan

import numpy as np
import pytest
import textstat
from hypothesis import given, settings
from hypothesis import strategies as st

from engine import caution_case, caution_option, cautions, tables
from engine.case import Case
from engine.case_input import build_case
from engine.lens_families import Points
from engine.lenses import KINDS
from engine.prescription import EyePrescription, meridian_power_d
from engine.prescription_doubts import largest_difference_d
from engine.results import ClearRange, OptionResult, OptionTarget, RowResult, Scales, Told
from engine.scene import wearers_of
from engine.tables import Judgements

STANDARD = Judgements.standard()
TABLE = tables.by_id("cautions")
RULES = {**caution_case.CASE_RULES, **caution_option.OPTION_RULES}
STEP = 0.01
"""Just under and just over: finer than any of these values is given or measured."""


def eye(**values):
    return {"sphere_d": 0.0, "cylinder_d": 0.0, "axis_deg": 180, "add_d": 2.0} | values


SCREEN = {
    "name": "screen",
    "kind": "screen",
    "distance_cm": 70,
    "top_above_eye_cm": 0,
    "width_cm": 50,
    "height_cm": 30,
    "text_arcmin": 20,
}
PAPER = {**SCREEN, "name": "papers", "kind": "page", "distance_cm": 42, "top_above_eye_cm": -20}
FAR = {
    "name": "visitor",
    "kind": "far",
    "distance_cm": 300,
    "centre_above_eye_cm": 0,
    "text_arcmin": 5,
}


def case(*, wearer=None, fit=None, targets=(SCREEN,), present=None, needs=()):
    desk = {"name": "desk", "hours": 6, "looks": [{"target": targets[0]["name"], "share": 1}]}
    day = [desk] + [
        {"name": f"going {number}", "hours": 1, "needs": list(needed)}
        for number, needed in enumerate(needs)
    ]
    content = {
        "label": "invented",
        "wearer": {"age_years": 55, "right": eye(), "left": eye()} | (wearer or {}),
        "fit": fit or {},
        "targets": list(targets),
        "activities": day,
    }
    if present is not None:
        content["present_pair"] = present
    return build_case(content)


def seen(target="screen", *, chin=0.0, gaze=10.0, imbalance=None):
    rows = tuple(
        RowResult(
            row=row,
            chin_up_deg=chin,
            relaxed_chin_up_deg=chin,
            free_chin_up_deg=-4.0,
            gaze_down_deg=gaze,
            drop_mm=4.0,
            blur_at_free_d=0.1,
        )
        for row in ("top", "centre", "bottom")
    )
    return OptionTarget(
        target=target,
        comfortable_share=1.0,
        strained_share=0.0,
        not_served_share=0.0,
        one_posture_share=1.0,
        clear_width_cm=40.0,
        head_turn_deg=0.0,
        clear_range_cm=ClearRange(near=38.0, far=None),
        vertical_imbalance_pd=imbalance,
        scales=Scales(iso11226=None, rula=None),
        rows=rows,
    )


def option(kind, *, targets=(), covers=None, **design):
    return OptionResult(
        option=kind,
        kind=kind,
        design=design,
        recommendable=True,
        comfortable_h=1.0,
        strained_h=0.0,
        not_served_h=0.0,
        reserve_h=1.0,
        covers_distance=KINDS[kind].may_cover_distance if covers is None else covers,
        targets=tuple(targets),
    )


def told_of_case(asked, judgements=STANDARD):
    return cautions.stops(asked, judgements=judgements) + cautions.case_cautions(
        asked, judgements=judgements
    )


def told_of(asked, lens, judgements=STANDARD):
    return cautions.option_cautions(asked, lens, judgements=judgements)


def ids(told):
    return [one.id for one in told]


# --- the table -------------------------------------------------------------------------------


def test_every_row_has_its_rule_and_every_rule_its_row():
    by_scope = {
        scope: {row["id"] for row in TABLE.values() if row["scope"] == scope}
        for scope in ("case", "option")
    }
    assert by_scope["case"] == set(caution_case.CASE_RULES)
    assert by_scope["option"] == set(caution_option.OPTION_RULES)
    assert len(TABLE) == len(by_scope["case"]) + len(by_scope["option"])


def test_every_row_is_whole():
    for identity, row in TABLE.items():
        assert cautions.level(identity) in cautions.LEVELS
        assert row["status"] in tables.STATUSES, identity
        assert row["source"], identity
        assert row["locator"], identity
        assert bool(row["limit"]) == bool(row["unit"]), identity
        assert len(row["text"].split()) <= 30, identity
        assert row["text"].endswith("."), identity
        assert row["text"].isascii(), identity


def test_each_limit_is_a_number_or_a_judgement():
    for identity in TABLE:
        for number in cautions.limits(identity, judgements=STANDARD):
            assert number == number, identity


def test_rules_read_their_numbers_from_the_table():
    # 0 and 1 are ends of scales, 2 halves, 10 and 100 change units, 1e-9 is binary residue.
    allowed = {0, 1, 2, 10, 100, 1e-9}
    for module in (caution_case, caution_option):
        for node in ast.walk(ast.parse(inspect.getsource(module))):
            if isinstance(node, ast.Constant) and type(node.value) in (int, float):
                assert node.value in allowed, (module.__name__, node.lineno)


def test_texts_name_nobodys_product():
    # A maker or a product would show as a capital inside a sentence.
    allowed = {"D"}
    for identity, row in TABLE.items():
        for text in (row["text"], row["wearer_text"]):
            assert not re.search(r"[®™©*_`<>]", re.sub(r"\{[^}]*\}", "x", text)), identity
            for sentence in re.split(r"(?<=[.:])\s+", text):
                inside = re.findall(r"\b[A-Z]\w*", sentence)[1:]
                assert set(inside) <= allowed, (identity, inside)


def test_wearer_texts_give_no_power_and_promise_no_relief():
    for identity, row in TABLE.items():
        for name in cautions.text_values(identity):
            if name.endswith(("_d", "_pd")):
                assert f"{{{name}" not in row["wearer_text"], identity
        assert not re.search(r"dioptre|\bD\b|prism|degression", row["wearer_text"]), identity
        for text in (row["text"], row["wearer_text"]):
            assert not re.search(r"\b(less|no|relieves?) (pain|ache|strain)", text), identity


def test_wearer_texts_read_at_about_age_twelve():
    # Automated readability index 8: 12 to 13 years. Values are read as one short word.
    for identity, row in TABLE.items():
        text = re.sub(r"\{[^}]*\}", "40", row["wearer_text"])
        if text:
            assert textstat.automated_readability_index(text) <= 8.0, identity


def test_wearer_gets_every_grave_caution_that_is_for_a_condition():
    for identity in tables.by_id("conditions"):
        assert TABLE[identity]["wearer_text"], identity


# --- conditions ------------------------------------------------------------------------------


@pytest.mark.parametrize("condition", tables.by_id("conditions"))
def test_each_condition_alone_is_told(condition):
    action = tables.by_id("conditions")[condition]["action"]
    asked = case(wearer={"conditions": [condition]})
    of_case = told_of_case(asked)
    of_lens = [told for kind in KINDS for told in told_of(asked, option(kind))]
    assert condition in ids(of_case) + ids(of_lens)
    stopped = ids(cautions.stops(asked, judgements=STANDARD))
    assert stopped == ([condition] if action == "stop_now" else [])
    wanted = {"stop_now": "stop", "prescriber": "prescriber", "compute": "note", "caution": "care"}
    assert cautions.level(condition) == wanted[action]


def test_red_flags_say_where_to_go_and_how_fast():
    flags = [i for i, row in tables.by_id("conditions").items() if row["action"] == "stop_now"]
    assert len(flags) == 9
    for told in cautions.stops(case(wearer={"conditions": flags}), judgements=STANDARD):
        for text in (told.text, cautions.wearer_text(told)):
            assert re.search(r"emergency|eye doctor", text), told.id
            assert re.search(r"\bnow\b|\btoday\b|same day|at once", text), told.id
        assert cautions.excludes([told.id], with_another_pair=True) == (told.id,)


def test_red_flags_are_all_told_and_other_cautions_stay():
    asked = case(wearer={"conditions": ["eye_injury", "vertigo", "unequal_pupils"]})
    assert ids(cautions.stops(asked, judgements=STANDARD)) == ["eye_injury", "unequal_pupils"]
    assert ids(cautions.case_cautions(asked, judgements=STANDARD)) == ["vertigo"]


def test_a_plain_case_is_told_nothing():
    assert told_of_case(case()) == ()
    assert told_of(case(), option("sv_distance", add_d=0.0)) == ()


# --- each number, at, just under and just over -----------------------------------------------

GENERAL = "general_progressive"


def _eyes(**right):
    return case(wearer={"right": eye(**right)})


def _falls(now_add, then_add):
    asked = case(
        wearer={"conditions": ["falls_risk"], "right": eye(add_d=3.0), "left": eye(add_d=3.0)},
        present={"kind": GENERAL, "design": {"add_d": now_add}},
    )
    return asked, option(GENERAL, add_d=then_add)


def _add(value):
    return case(wearer={"right": eye(add_d=value), "left": eye(add_d=value)})


def _text(value):
    return case(targets=[{**SCREEN, "text_arcmin": value}])


def _span(deg):
    width_cm = 2 * 70 * tan(radians(deg / 2))
    screen = {k: v for k, v in SCREEN.items() if k != "top_above_eye_cm"}
    return case(targets=[{**screen, "centre_above_eye_cm": 0, "width_cm": width_cm}])


def _heights(difference):
    return case(fit={"fitting_height_right_mm": 20.0, "fitting_height_left_mm": 20.0 - difference})


def _shallow(missing):
    asked = case(fit={"fitting_height_mm": 14.0 + STANDARD.corridor_to_height_mm - missing})
    return asked, option(GENERAL, add_d=2.0, corridor_mm=14.0)


def _imbalance(value):
    return case(), option("sv_near", add_d=2.0, targets=[seen(imbalance=value)])


NUMBERS = {
    # id: (makes the case and lens for a value, fires just under, at, just over the limit)
    "unequal_adds": (lambda v: _eyes(add_d=2.0 - v), (False, False, True)),
    "very_high_add": (_add, (False, True, None)),
    "high_add": (_add, (False, True, True)),
    "amplitude_late": (
        lambda v: case(wearer={"age_years": v, "amplitude_d": 2.0}),
        (False, False, True),
    ),
    "eyes_unequal_vertical": (lambda v: _eyes(sphere_d=v), (False, False, True)),
    "heights_unequal": (_heights, (False, False, True)),
    "anisometropia": (lambda v: _eyes(cylinder_d=v, axis_deg=90), (False, False, True)),
    "strong_power": (lambda v: _eyes(sphere_d=-v), (False, True, True)),
    "text_small": (_text, (True, False, False)),
    "text_not_served": (_text, (True, False, False)),
    "falls_power_change": (lambda v: _falls(1.0, 1.0 + v), (False, False, True)),
    "top_over_minused": (
        lambda v: (case(), option("office", near_add_d=1.5, degression_d=1.5 + v)),
        (False, False, True),
    ),
    "low_degression": (
        lambda v: (_add(v), option("office", near_add_d=1.0, degression_d=1.0)),
        (True, True, False),
    ),
    "sv_computer_power": (
        lambda v: (case(), option("sv_computer", add_d=v)),
        (False, False, True),
    ),
    "general_high_add": (
        lambda v: (case(), option(GENERAL, add_d=v)),
        (False, False, True),
    ),
    "general_wide_field": (lambda v: (_span(v), option(GENERAL)), (False, False, True)),
    "frame_too_shallow": (
        lambda v: _shallow(v - STANDARD.corridor_to_height_mm),
        (False, False, True),
    ),
    "above_prescribed_add": (
        lambda v: (case(), option(GENERAL, add_d=2.0 + v)),
        (False, False, True),
    ),
    "imbalance_felt": (_imbalance, (False, False, True)),
    "imbalance_double": (_imbalance, (False, False, True)),
    "steep_gaze": (
        lambda v: (case(), option(GENERAL, targets=[seen(gaze=v)])),
        (False, False, True),
    ),
}


def test_every_number_of_the_table_is_tested():
    assert set(NUMBERS) == {identity for identity, row in TABLE.items() if row["limit"]}


@pytest.mark.parametrize("identity", NUMBERS)
def test_number_at_just_under_and_just_over(identity):
    make, wanted = NUMBERS[identity]
    limit = cautions.limits(identity, judgements=STANDARD)[0]
    for value, fires in zip((limit - STEP, limit, limit + STEP), wanted, strict=True):
        if fires is None:  # 4.00 D is the highest add a case may have
            continue
        made = make(value)
        told = told_of(*made) if isinstance(made, tuple) else told_of_case(made)
        assert (identity in ids(told)) is fires, (identity, value)


@pytest.mark.parametrize(
    ("identity", "judgement", "value"),
    [
        ("text_small", "legible_arcmin", 25.0),
        ("text_not_served", "illegible_arcmin", 25.0),
        ("imbalance_felt", "imbalance_comfortable_pd", 0.5),
        ("imbalance_double", "imbalance_strained_pd", 0.5),
        ("frame_too_shallow", "corridor_to_height_mm", 9.0),
    ],
)
def test_a_changed_judgement_changes_the_caution(identity, judgement, value):
    asked = case()
    lens = option(GENERAL, corridor_mm=14.0, targets=[seen(imbalance=0.8)])
    changed = replace(STANDARD, **{judgement: value})
    assert identity not in ids(told_of_case(asked) + told_of(asked, lens))
    assert identity in ids(told_of_case(asked, changed) + told_of(asked, lens, changed))


def test_second_numbers_of_a_rule():
    # Text of exactly 10 arcmin is small, but served; degression of 0.75 is low enough; imbalance
    # of exactly 2.0 still counts as felt.
    for arcmin, found in ((9.99, "text_not_served"), (10.0, "text_small"), (15.99, "text_small")):
        assert ids(told_of_case(_text(arcmin))) == [found]
    for degression, fires in ((0.74, False), (0.75, False), (0.76, True)):
        lens = option("office", near_add_d=1.0, degression_d=degression)
        assert ("low_degression" in ids(told_of(_add(1.0), lens))) is fires
    for imbalance, found in ((1.99, "felt"), (2.0, "felt"), (2.01, "double")):
        told = [i for i in ids(told_of(*_imbalance(imbalance))) if i.startswith("imbalance")]
        assert told == [f"imbalance_{found}"]


# --- rules without a number ------------------------------------------------------------------

DESK_ONLY = ("office", "bifocal_desk", "sv_computer", "sv_near", "unaided")
WALKING = (GENERAL, "bifocal_ft28", "trifocal_7x28")


@pytest.mark.parametrize("kind", KINDS)
def test_no_desk_pair_is_for_driving_and_every_lower_field_is_told(kind):
    told = ids(told_of(case(), option(kind)))
    assert ("not_for_driving" in told) is (kind in DESK_ONLY)
    assert ("stairs_lower_field" in told) is (kind in WALKING)


@pytest.mark.parametrize("need", ["driving", "walking", "stairs"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_need_for_clear_distance_excludes_every_pair_without_it(kind, need):
    told = told_of(case(needs=[[need]]), option(kind))
    is_excluded = cautions.excludes(ids(told)) == ("needs_clear_distance",)
    assert is_excluded is (kind in DESK_ONLY)
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
    assert ("falls_multifocal" in told) is (kind in WALKING)
    assert ("first_multifocal" in told) is (kind in (*WALKING, "office", "bifocal_desk"))


@pytest.mark.parametrize("present", [None, *KINDS])
def test_changes_from_the_pair_worn(present):
    asked = case(
        wearer={"conditions": ["falls_risk"]},
        present=None if present is None else {"kind": present},
    )
    told = ids(told_of(asked, option(GENERAL)))
    from_single = present in ("sv_distance", "sv_computer", "sv_near")
    assert ("falls_single_vision_wearer" in told) is from_single
    lined = present in ("bifocal_ft28", "bifocal_desk", "trifocal_7x28")
    assert ("general_lined_wearer" in told) is lined
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
    assert ids(told_of_case(one_eye)) == ["unequal_adds"]


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


def test_office_far_limit_is_one_over_the_top_power():
    # 2.00 less 1.25 reaches 1.33 m, 2.50 less 1.50 reaches 1.0 m (F131; half a cm is rounding).
    for near, degression, far_cm in ((2.0, 1.25, 133.0), (2.5, 1.5, 100.0)):
        for shape in ("desk", "room"):
            lens = option("office", near_add_d=near, degression_d=degression, shape=shape)
            told = next(one for one in told_of(case(), lens) if one.id == "office_far_limit")
            assert abs(told.values["top_cm"] - far_cm) <= 0.5
            assert 100 / near < told.values["ahead_cm"] < told.values["top_cm"]


def test_office_far_limit_is_silent_where_there_is_none():
    for degression in (1.5, 1.75):
        lens = option("office", near_add_d=1.5, degression_d=degression)
        assert "office_far_limit" not in ids(told_of(case(), lens))


def test_over_minused_lens_is_excluded_even_in_a_plan_of_two():
    lens = option("office", near_add_d=1.0, degression_d=1.25)
    told = ids(told_of(case(), lens))
    assert cautions.excludes(told, with_another_pair=True) == ("top_over_minused",)


def test_screens_span():
    # 80 cm at 70 cm spans 2 atan(40 / 70) = 59.49 deg.
    screen = {k: v for k, v in SCREEN.items() if k != "top_above_eye_cm"}
    screen |= {"centre_above_eye_cm": 0, "width_cm": 80}
    assert abs(caution_option.screens_span_deg(case(targets=[screen])) - 59.4898) <= 0.0001
    two = [{**screen, "width_cm": 40, "offset_cm": side, "name": f"s{side}"} for side in (-35, 35)]
    # Each is 30 deg off to its side (35 / 70) and spans 2 atan(20 / 70) = 31.89 deg.
    assert abs(caution_option.screens_span_deg(case(targets=two)) - 91.8908) <= 0.0001
    assert caution_option.screens_span_deg(case(targets=[PAPER])) == 0.0


EYES = st.builds(
    EyePrescription,
    sphere_d=st.integers(-40, 40).map(lambda n: n / 4),
    cylinder_d=st.integers(-16, 16).map(lambda n: n / 4),
    axis_deg=st.integers(1, 180),
)


@given(EYES, EYES)
def test_difference_of_the_eyes_is_the_largest_over_all_meridians(right, left):
    scanned = max(
        abs(meridian_power_d(right, meridian_deg=m) - meridian_power_d(left, meridian_deg=m))
        for m in range(180)
    )
    # A cosine of twice the angle scanned in whole degrees misses at most its half-step: the
    # difference has an amplitude of at most 8 D, so 8 (1 - cos 1 deg) = 0.0013 D.
    missed = 8 * (1 - cos(radians(1.0)))
    found = largest_difference_d(right, left)
    assert scanned - 1e-9 <= found <= scanned + missed


def test_oblique_difference_that_neither_axis_shows():
    # Crossed cylinders: power differs by 1.50 sin(2 x 45 deg) at 45 deg and not at all at 90.
    right = eye(sphere_d=0.75, cylinder_d=-1.5, axis_deg=45)
    left = eye(sphere_d=0.75, cylinder_d=-1.5, axis_deg=135)
    asked = case(wearer={"right": right, "left": left})
    told = {one.id: one for one in told_of_case(asked)}
    assert set(told) == {"anisometropia"}
    assert abs(told["anisometropia"].values["difference_d"] - 1.5 * sin(radians(90))) <= 1e-9


# --- details of the rules --------------------------------------------------------------------


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
        told = {one.id: one for one in told_of(*_falls(now, then))}
        assert told["falls_power_change"].values["change_d"] == 1.0
    asked = case(
        wearer={"conditions": ["falls_risk"]},
        present={"kind": "sv_near", "design": {"add_d": 1.0}},
    )
    assert "falls_power_change" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))
    asked = case(present={"kind": GENERAL, "design": {"add_d": 1.0}})
    assert "falls_power_change" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))
    asked, _ = _falls(1.0, 1.0)
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
    asked = _add(2.5)
    assert "general_high_add" in ids(told_of(asked, option(GENERAL)))
    assert "general_high_add" not in ids(told_of(asked, option(GENERAL, add_d=2.0)))


@pytest.mark.parametrize("shape", ["desk", "room"])
def test_straight_ahead_is_the_power_at_the_fitting_point(shape):
    lens = option("office", near_add_d=2.0, degression_d=1.25, shape=shape)
    family, near = KINDS["office"].worn(lens.design, add_d=2.0, judgements=STANDARD)
    zero = np.zeros((1, 1))
    points = Points(x_mm=zero, y_mm=zero, zone_width=zero + 1.0, down_mm=zero)
    wearers = wearers_of([case()], judgements=STANDARD).as_columns()
    power_d = near + float(np.ravel(family.field(points, wearers).offset_d)[0])
    told = next(one for one in told_of(case(), lens) if one.id == "office_far_limit")
    assert abs(told.values["ahead_cm"] - 100 / power_d) <= 1e-6


# --- every told caution ----------------------------------------------------------------------


def _names(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def check_values(told):
    for one in told:
        row = TABLE[one.id]
        assert set(one.values) == _names(row["text"]) | _names(row["wearer_text"]), one.id
        assert one.text == row["text"].format_map(one.values)
        assert "{" not in one.text + cautions.wearer_text(one)
        assert not re.search(r"\b(nan|inf|None)\b", one.text), one.id


def check_order(told):
    place = {identity: number for number, identity in enumerate(TABLE)}
    assert all(place[one.id] <= place[two.id] for one, two in pairwise(told))


def test_each_text_gets_exactly_the_values_it_names():
    everything = []
    for make, _ in NUMBERS.values():
        for value in (0.5, 1.5, 2.9, 4.0, 9.0, 15.0, 30.0, 61.0, 70.0):
            try:
                made = make(value)
            except ValueError:
                continue
            everything += told_of(*made) if isinstance(made, tuple) else told_of_case(made)
    asked = case(
        wearer={
            "conditions": list(tables.by_id("conditions")),
            "right": eye(add_d=None),
            "left": eye(add_d=None, prism=[{"amount_pd": 1.0, "base": "up"}]),
        },
        targets=[SCREEN, PAPER, FAR],
        needs=[["driving"]],
    )
    everything += told_of_case(asked)
    lost = [seen(name, chin=None) for name in ("screen", "papers", "visitor")]
    for present in KINDS:
        worn = asked.model_copy(
            update={"present_pair": case(present={"kind": present}).present_pair}
        )
        for kind in KINDS:
            design = {"near_add_d": 1.5, "degression_d": 1.0} if kind == "office" else {}
            everything += told_of(worn, option(kind, targets=lost, **design))
    check_values(everything)
    assert set(ids(everything)) == set(TABLE)


def test_refusals_of_the_table():
    with pytest.raises(tables.TableError, match="no caution called nonsense"):
        cautions.level("nonsense")
    with pytest.raises(tables.TableError, match="no caution called nonsense"):
        cautions.wearer_text(Told(id="nonsense", text=""))


# --- any valid case --------------------------------------------------------------------------

QUARTERS = st.integers(1, 16).map(lambda n: n / 4)
ADDS = st.none() | QUARTERS
PRISMS = st.lists(
    st.builds(lambda amount, base: {"amount_pd": amount, "base": base}, QUARTERS, st.just("in")),
    max_size=1,
)
EYE_CONTENT = st.builds(
    lambda sphere, cylinder, axis, add, prism: {
        "sphere_d": sphere,
        "cylinder_d": cylinder,
        "axis_deg": axis,
        "add_d": add,
        "prism": prism,
    },
    st.floats(-20, 20),
    st.floats(-10, 10),
    st.integers(1, 180),
    ADDS,
    PRISMS,
)
DESIGNS = st.fixed_dictionaries(
    {},
    optional={
        "add_d": st.floats(0, 4),
        "near_add_d": st.floats(0, 4),
        "degression_d": st.floats(0, 4),
        "upper_add_d": st.floats(0, 4),
        "corridor_mm": st.floats(8, 18),
        "shape": st.sampled_from(["desk", "room"]),
    },
)


@st.composite
def targets(draw):
    found = []
    for number in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["screen", "page", "far"]))
        distance = draw(st.floats(15, 2000))
        height = draw(st.floats(-min(0.6 * distance, 150), min(0.6 * distance, 290)))
        top = kind != "far" and draw(st.booleans())
        found.append(
            {
                "name": f"thing {number}",
                "kind": kind,
                "distance_cm": distance,
                ("top_above_eye_cm" if top else "centre_above_eye_cm"): height,
                "offset_cm": draw(st.floats(-min(0.6 * distance, 500), min(0.6 * distance, 500))),
                "text_arcmin": draw(st.floats(1, 100)),
                "width_cm": draw(st.floats(2, 400)),
                "height_cm": draw(st.floats(2, 400)),
                "tilt_deg": draw(st.none() | st.floats(-45, 90)),
            }
        )
    return found


@st.composite
def cases(draw):
    wearer = {
        "age_years": draw(st.floats(18, 110)),
        "amplitude_d": draw(st.none() | st.floats(0, 15)),
        "right": draw(EYE_CONTENT),
        "left": draw(EYE_CONTENT),
        "conditions": draw(
            st.lists(st.sampled_from(list(tables.by_id("conditions"))), unique=True)
        ),
    }
    present = draw(
        st.none()
        | st.fixed_dictionaries(
            {"kind": st.sampled_from(list(KINDS)), "design": DESIGNS, "liked": st.booleans()}
        )
    )
    heights = st.floats(6, 33)
    fit = {
        "fitting_height_right_mm": draw(heights),
        "fitting_height_left_mm": draw(heights),
        "vertex_mm": draw(st.floats(5, 25)),
    }
    needs = draw(st.lists(st.lists(st.sampled_from(["driving", "walking", "stairs"]), min_size=1)))
    return case(wearer=wearer, fit=fit, targets=draw(targets()), present=present, needs=needs[:4])


@st.composite
def options(draw, asked: Case):
    numbers = st.none() | st.floats(-40, 60)
    found = [
        seen(
            target.name,
            chin=draw(numbers),
            gaze=draw(numbers),
            imbalance=draw(st.none() | st.floats(0, 20)),
        )
        for target in asked.targets
    ]
    kind = draw(st.sampled_from(list(KINDS)))
    return option(kind, targets=found, covers=draw(st.booleans()), **draw(DESIGNS))


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_any_valid_case_is_told_whole_sentences_in_order(data):
    asked = data.draw(cases())
    lens = data.draw(options(asked))
    for told in (
        cautions.stops(asked, judgements=STANDARD),
        cautions.case_cautions(asked, judgements=STANDARD),
        told_of(asked, lens),
    ):
        check_values(told)
        check_order(told)
        assert set(cautions.excludes(ids(told))) <= set(ids(told))


@settings(max_examples=50, deadline=None)
@given(st.data())
def test_what_is_said_of_a_case_does_not_depend_on_which_eye_is_which(data):
    asked = data.draw(cases())
    wearer = asked.wearer.model_copy(
        update={"right": asked.wearer.left, "left": asked.wearer.right}
    )
    mirrored = asked.model_copy(update={"wearer": wearer})
    assert ids(told_of_case(mirrored)) == ids(told_of_case(asked))
