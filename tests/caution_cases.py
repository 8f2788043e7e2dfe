"""Invented cases and lenses that fire one caution at a time; shared by the tests of cautions."""

from __future__ import annotations

import re
import string
from math import isnan, radians, tan

from engine import tables
from engine.answer import cautions
from engine.case.model import Design
from engine.case.read import build_case
from engine.case.results import (
    AsMeasured,
    ClearRange,
    OptionResult,
    OptionTarget,
    RowResult,
    Scales,
)
from engine.case.scene import wearers_of
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.tables import Judgements

STANDARD = Judgements.standard()
TABLE = tables.by_id("cautions")
RULES = {**cautions.CASE_RULES, **cautions.OPTION_RULES}
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
        awkward_share=0.0,
        blurred_share=0.0,
        not_served_share=0.0,
        one_posture_share=1.0,
        clear_width_cm=40.0,
        head_turn_deg=0.0,
        clear_range_cm=ClearRange(near=38.0, far=None),
        vertical_imbalance_pd=imbalance,
        scales=Scales(iso11226=None, rula=None),
        rows=rows,
    )


def sees_to_cm(kind, design):
    """The far limit of a lens for somebody with an add of 2.00."""
    made = KINDS[kind]
    family, free_d = made.worn(Design(**design), add_d=2.0, judgements=STANDARD)
    bare = isnan(free_d)
    wearers = wearers_of([case()], judgements=STANDARD)
    return None if bare else Lens(made, family, free_d).sees_to_cm(wearers=wearers)


def option(kind, *, targets=(), covers=None, **design):
    return OptionResult(
        option=kind,
        kind=kind,
        design=design,
        recommendable=True,
        comfortable_h=1.0,
        comfortable_range_h=(1.0, 1.0),
        awkward_h=0.0,
        blurred_h=0.0,
        not_served_h=0.0,
        covers_distance=KINDS[kind].may_cover_distance if covers is None else covers,
        sees_to_cm=sees_to_cm(kind, design),
        as_measured=AsMeasured(
            comfortable_h=1.0,
            awkward_h=0.0,
            blurred_h=0.0,
            not_served_h=0.0,
            targets=tuple(targets),
        ),
    )


def told_of_case(asked, judgements=STANDARD):
    return cautions.stops(asked, judgements=judgements) + cautions.case_cautions(
        asked, judgements=judgements
    )


def told_of(asked, lens, judgements=STANDARD):
    return cautions.option_cautions(asked, lens, judgements=judgements)


def ids(told):
    return [one.id for one in told]


GENERAL = "general_progressive"


def _eyes(**right):
    return case(wearer={"right": eye(**right)})


def falls_case(now_add, then_add):
    asked = case(
        wearer={"conditions": ["falls_risk"], "right": eye(add_d=3.0), "left": eye(add_d=3.0)},
        present={"kind": GENERAL, "design": {"add_d": now_add}},
    )
    return asked, option(GENERAL, add_d=then_add)


def add_case(value):
    return case(wearer={"right": eye(add_d=value), "left": eye(add_d=value)})


def text_case(value):
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


def imbalance_case(value):
    return case(), option("sv_near", add_d=2.0, targets=[seen(imbalance=value)])


NUMBERS = {
    # id: (makes the case and lens for a value, fires just under, at, just over the limit)
    "unequal_adds": (lambda v: _eyes(add_d=2.0 - v), (False, False, True)),
    "very_high_add": (add_case, (False, True, None)),
    "high_add": (add_case, (False, True, True)),
    "amplitude_late": (
        lambda v: case(wearer={"age_years": v, "amplitude_d": 2.0}),
        (False, False, True),
    ),
    "eyes_unequal_vertical": (lambda v: _eyes(sphere_d=v), (False, False, True)),
    "heights_unequal": (_heights, (False, False, True)),
    "anisometropia": (lambda v: _eyes(cylinder_d=v, axis_deg=90), (False, False, True)),
    "strong_power": (lambda v: _eyes(sphere_d=-v), (False, True, True)),
    "text_small": (text_case, (True, False, False)),
    "text_not_served": (text_case, (True, False, False)),
    "falls_power_change": (lambda v: falls_case(1.0, 1.0 + v), (False, False, True)),
    "top_over_minused": (
        lambda v: (case(), option("office", near_add_d=1.5, degression_d=1.5 + v)),
        (False, False, True),
    ),
    "low_degression": (
        lambda v: (add_case(v), option("office", near_add_d=1.0, degression_d=1.0)),
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
    "imbalance_felt": (imbalance_case, (False, False, True)),
    "imbalance_double": (imbalance_case, (False, False, True)),
    "steep_gaze": (
        lambda v: (case(), option(GENERAL, targets=[seen(gaze=v)])),
        (False, False, True),
    ),
}


def _names(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def check_values(told):
    for one in told:
        row = TABLE[one.id]
        assert set(one.values) == _names(row["text"]) | _names(row["wearer_text"]), one.id
        assert one.text == row["text"].format_map(one.values)
        assert "{" not in one.text + cautions.wearer_text(one)
        assert not re.search(r"\b(nan|inf|None)\b", one.text), one.id
