"""What must hold for any desk: mirrors, sums, order, rounding, and who may be hurt by more."""

from __future__ import annotations

import copy
import json
import re
from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from engine.answer.options import Solver
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case
from engine.case.results import OptionResult, Result
from engine.case.scene import scene_of, usable_of
from engine.errors import InputRefusedError
from engine.files.case_json import case_to_json
from engine.kernel.details import Closeup
from engine.kernel.search import Views, shares
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.tables import Judgements
from tests import examples, kind_table

STANDARD = Judgements.standard()
EXACT = 1e-9
"""Room for the last bits of sums of some hundred shares of up to 24 h."""
OPTIMISM_H = 0.06
"""What choosing a design on the draws it is judged on brings at most, measured."""
STEP_DEG = STANDARD.scan_step_deg
FEW = settings(max_examples=12, deadline=None)
"""A whole answer takes half a second; each property asks for two or more."""
SOME = settings(max_examples=25, deadline=None)

adds = st.sampled_from(np.arange(0.75, 3.26, 0.25).tolist())
spheres = st.sampled_from(np.arange(-4.0, 4.01, 0.5).tolist())


@st.composite
def targets(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Invented screens, a page and somebody across the room."""
    found = [
        examples.screen(
            distance_cm=draw(st.integers(50, 90)),
            top_above_eye_cm=draw(st.integers(-15, 12)),
            tilt_deg=draw(st.integers(0, 20)),
            offset_cm=draw(st.sampled_from([-30, 0, 0, 25])),
            text_height_mm=draw(st.sampled_from([2.4, 3.2, 4.5])),
        )
    ]
    if draw(st.booleans()):
        page = examples.paper(
            distance_cm=draw(st.integers(36, 55)), centre_above_eye_cm=draw(st.integers(-32, -18))
        )
        if draw(st.booleans()):
            page["tilt_deg"] = draw(st.sampled_from([20, 90]))
        found.append(page)
    if draw(st.booleans()):
        found.append(examples.far(distance_cm=draw(st.integers(150, 600))))
    return found


@st.composite
def contents(draw: st.DrawFn) -> dict[str, Any]:
    """An invented case as it would be read from a file."""
    placed = draw(targets())
    add_d, sphere_d = draw(adds), draw(spheres)
    apart_d = draw(st.sampled_from([0.0, 0.0, 0.25, 1.5]))
    shares_ = draw(st.lists(st.integers(1, 9), min_size=len(placed), max_size=len(placed)))
    looks = {
        target["name"]: part / sum(shares_) for target, part in zip(placed, shares_, strict=True)
    }
    activities = [examples.activity(draw(st.integers(1, 9)), **looks)]
    if draw(st.booleans()):
        activities.append({"name": "way home", "hours": 1, "needs": ["driving"]})
    return {
        "schema": 1,
        "label": "invented",
        "wearer": {
            "age_years": draw(st.integers(43, 70)),
            "right": examples.eye(add_d, sphere_d=sphere_d),
            "left": examples.eye(add_d, sphere_d=sphere_d + apart_d),
            "accepts_lined": draw(st.booleans()),
        },
        "fit": {"fitting_height_mm": draw(st.sampled_from([15.5, 18, 21])), "lens_depth_mm": 36},
        "targets": placed,
        "activities": activities,
    }


def answer(content: dict[str, Any]) -> Result:
    return advise(build_case(content))


def options_of(content: dict[str, Any]) -> dict[str, OptionResult]:
    """The options alone: a quarter of the time of the whole answer."""
    found = Solver(build_case(content), STANDARD).options()
    return {option.name: option.result for option in found}


def told(result: Result, *, without: tuple[str, ...]) -> dict[str, Any]:
    """The answer as it is written, without some parts."""
    content: dict[str, Any] = json.loads(result.to_json())
    return {name: value for name, value in content.items() if name not in without}


@FEW
@given(contents())
def test_a_mirrored_desk_has_the_mirrored_answer(content: dict[str, Any]) -> None:
    """Right and left change places: those of the desk and those of the eyes."""
    mirrored = copy.deepcopy(content)
    wearer = mirrored["wearer"]
    wearer["right"], wearer["left"] = wearer["left"], wearer["right"]
    for target in mirrored["targets"]:
        target["offset_cm"] = -target.get("offset_cm", 0)
    sided = ("case_digest", "flags")  # a doubt names the side it is about
    assert told(answer(content), without=sided) == told(answer(mirrored), without=sided)


@FEW
@given(contents())
def test_the_hours_of_every_option_and_plan_are_the_day(content: dict[str, Any]) -> None:
    case = build_case(content)
    result = advise(case)
    assert result.options
    for one in (*result.options, *result.plans):
        for hours in (one, one.as_measured):
            assert abs(sum(hours.by_grade()) - case.day_h) <= EXACT
            assert min(hours.by_grade()) >= 0.0
        low_h, high_h = one.comfortable_range_h
        assert 0.0 <= low_h <= high_h <= case.day_h + EXACT
    for option in result.options:
        for seen in option.targets:
            parts = (
                seen.comfortable_share,
                seen.awkward_share,
                seen.blurred_share,
                seen.not_served_share,
            )
            assert abs(sum(parts) - 1.0) <= EXACT
            assert 0.0 <= seen.one_posture_share <= 1.0 + EXACT


@FEW
@given(contents(), st.sampled_from([1.05, 1.5, 3.0]))
def test_larger_text_never_lowers_hours(content: dict[str, Any], factor: float) -> None:
    larger = copy.deepcopy(content)
    for target in larger["targets"]:
        for name in ("text_height_mm", "text_arcmin"):
            if name in target:
                target[name] *= factor
    before, after = options_of(content), options_of(larger)
    for name, option in before.items():
        # The best design is one of those within its tie of 0.10 h.
        least_h = option.comfortable_h - STANDARD.same_design_h - OPTIMISM_H
        assert after[name].comfortable_h >= least_h


@SOME
@given(contents(), st.sampled_from([1.05, 1.5, 3.0]), st.sampled_from(sorted(KINDS)))
def test_larger_text_never_lowers_hours_of_a_design(
    content: dict[str, Any], factor: float, kind: str
) -> None:
    """With the design held, no tie can hide a loss: every target's shares are as good or better."""
    larger = copy.deepcopy(content)
    for target in larger["targets"]:
        for name in ("text_height_mm", "text_arcmin"):
            if name in target:
                target[name] *= factor
    family = KINDS[kind].families(STANDARD)[0]
    found = []
    for one in (content, larger):
        scene = scene_of([build_case(one)], judgements=STANDARD)
        powers = family.free_powers_d(scene.wearers, STANDARD)
        assume(not np.isnan(powers[0, -1]))
        found.append(shares(Views(scene, STANDARD), KINDS[kind], family, powers[:, -1]))
    before, after = found
    assert (after.comfortable >= before.comfortable - EXACT).all()
    sharp = [one.comfortable + one.awkward for one in (before, after)]
    assert (sharp[1] >= sharp[0] - EXACT).all()
    assert (after.not_served <= before.not_served + EXACT).all()


SMOOTH_KINDS = kind_table.kinds(lined="no", is_lens="yes")


def _rows(case: Case, kind: str, family: Any, free_d: float) -> dict[str, float | None]:
    scene = scene_of([case], judgements=STANDARD)
    names = tuple(target.name for target in case.targets)
    chosen = Lens(KINDS[kind], family, free_d)
    part = shares(Views(scene, STANDARD), KINDS[kind], family, np.array([free_d]))
    (seen,) = Closeup(scene, names, STANDARD).targets(chosen, part)
    return {row.row: row.chin_up_deg for row in seen.rows}


@SOME
@given(
    add_d=adds,
    sphere_d=spheres,
    kind=st.sampled_from(SMOOTH_KINDS),
    distance_cm=st.integers(45, 95),
    centre_cm=st.integers(-35, 10),
    raised_cm=st.integers(1, 15),
    pick=st.integers(0, 10_000),
)
def test_a_raised_screen_never_lowers_the_chin(
    add_d: float,
    sphere_d: float,
    kind: str,
    distance_cm: int,
    centre_cm: int,
    raised_cm: int,
    pick: int,
) -> None:
    """At a fixed slant distance, row by row, one lens held; one step of the scan is rounding."""
    eye = examples.eye(add_d, sphere_d=sphere_d)
    families = KINDS[kind].families(STANDARD)
    family = families[pick % len(families)]

    def place(above_cm: int) -> Case:
        screen = examples.screen(distance_cm=distance_cm, tilt_deg=0)
        del screen["top_above_eye_cm"]
        screen["centre_above_eye_cm"] = above_cm
        return examples.case(screen, wearer={"right": eye, "left": eye})

    low, high = place(centre_cm), place(centre_cm + raised_cm)
    powers = family.free_powers_d(scene_of([low], judgements=STANDARD).wearers, STANDARD)
    possible = powers[0][~np.isnan(powers[0])]
    assume(possible.size)
    free_d = float(possible[pick % possible.size])
    before, after = (_rows(case, kind, family, free_d) for case in (low, high))
    for row, chin_up_deg in before.items():
        raised = after[row]
        if chin_up_deg is not None and raised is not None:
            assert raised >= chin_up_deg - STEP_DEG - EXACT, (row, chin_up_deg, raised)


@FEW
@given(contents(), st.sampled_from([0.25, 0.5, 0.75]))
def test_more_add_never_moves_the_near_limit_away(content: dict[str, Any], more_d: float) -> None:
    """Usable accommodation held by a measured amplitude; the nearest clear distance straight on."""
    wearer = content["wearer"]
    wearer["amplitude_d"] = 2.0
    stronger = copy.deepcopy(content)
    for side in ("right", "left"):
        stronger["wearer"][side]["add_d"] += more_d
    usable, again = (
        usable_of(build_case(one), judgements=STANDARD)[0] for one in (content, stronger)
    )
    assert again == usable
    here, there = options_of(content), options_of(stronger)
    for kind in ("sv_near", "bifocal_ft28"):
        weak, strong = (one[kind].design.add_d for one in (here, there))
        assert weak is not None
        assert strong is not None
        assert 100.0 / (strong + usable) < 100.0 / (weak + usable)
    for before, after in zip(here["sv_near"].targets, there["sv_near"].targets, strict=True):
        if before.clear_range_cm is not None and after.clear_range_cm is not None:
            assert after.clear_range_cm.near is not None
            assert before.clear_range_cm.near is not None
            assert after.clear_range_cm.near <= before.clear_range_cm.near + EXACT


@FEW
@given(contents(), st.randoms(use_true_random=False))
def test_the_order_of_targets_changes_nothing(content: dict[str, Any], random: Any) -> None:
    shuffled = copy.deepcopy(content)
    random.shuffle(shuffled["targets"])
    for activity in shuffled["activities"]:
        random.shuffle(activity.get("looks", []))
    here, there = answer(content), answer(shuffled)
    assert here.recommendation.plan == there.recommendation.plan
    for option in here.options:
        other = there.option(option.option)
        assert other.design == option.design
        for hours, shuffled_h in ((option, other), (option.as_measured, other.as_measured)):
            pairs = zip(hours.by_grade(), shuffled_h.by_grade(), strict=True)
            assert max(abs(one - again) for one, again in pairs) <= EXACT
        by_name = {seen.target: seen for seen in other.targets}
        for seen in option.targets:
            rows = [row.chin_up_deg for row in by_name[seen.target].rows]
            assert rows == [row.chin_up_deg for row in seen.rows]


@FEW
@given(contents(), st.floats(-0.04, 0.04))
def test_what_a_tape_cannot_tell_changes_little(content: dict[str, Any], off_cm: float) -> None:
    """0.4 mm at every distance, and an answer with 0.1 cm more places, is the same desk.

    Points of a screen can cross a limit: a point is 1/81 of a target, and a row of a lined lens
    or of the middle of a progressive 9 of them. Over all draws a twentieth of a day is more.
    """
    moved = copy.deepcopy(content)
    for target in moved["targets"]:
        target["distance_cm"] += off_cm
    here, there = answer(content), answer(moved)
    day_h = build_case(content).day_h
    for option in here.options:
        if KINDS[option.kind].is_lined:
            continue
        other = there.option(option.option)
        assert abs(other.comfortable_h - option.comfortable_h) <= 0.05 * day_h
    for before, after in zip(here.targets, there.targets, strict=True):
        assert abs(after.demand_d - before.demand_d) <= 0.01
        assert abs(after.declination_deg - before.declination_deg) <= 0.1


@FEW
@given(contents())
def test_numbers_written_with_more_zeros_are_the_same_numbers(content: dict[str, Any]) -> None:
    def with_zeros(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: with_zeros(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [with_zeros(inner) for inner in value]
        whole = isinstance(value, int) and not isinstance(value, bool)
        return float(value) if whole else value

    written = build_case(with_zeros(content) | {"schema": 1})
    assert written.digest() == build_case(content).digest()
    assert case_to_json(written) == case_to_json(build_case(content))


@SOME
@given(contents())
def test_no_option_has_power_above_the_prescribed_add(content: dict[str, Any]) -> None:
    case = build_case(content)
    add_d = case.wearer.add_d
    assert add_d is not None
    for option in options_of(content).values():
        if option.kind == "unaided":
            continue
        for design in (option.design, *option.equivalent_designs):
            powers = (design.add_d, design.near_add_d, design.upper_add_d)
            assert max(power for power in powers if power is not None) <= add_d + EXACT


def _numbers(content: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found: list[tuple[Any, ...]] = []
    items = content.items() if isinstance(content, dict) else enumerate(content)
    for key, value in items:
        if isinstance(value, dict | list):
            found += _numbers(value, (*at, key))
        elif isinstance(value, int | float) and not isinstance(value, bool):
            found.append((*at, key))
    return found


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_extreme_values_are_computed_or_refused_never_lost(data: st.DataObject) -> None:
    """Warnings are errors here: no overflow, no division by nothing, no hours without a number."""
    content = data.draw(contents())
    content["wearer"] |= {"amplitude_d": 1.0, "usable_fraction": 0.5, "near_test_distance_cm": 40}
    content["fit"] |= {"vertex_mm": 13, "pantoscopic_deg": 9, "wrap_deg": 5, "lens_width_mm": 52}
    path = data.draw(st.sampled_from(_numbers(content)))
    value = data.draw(st.sampled_from([1e-300, 1e-9, 0.001, -4.9, 0, 14.99, 29.9, 75, 119, 1999]))
    at: Any = content
    for part in path[:-1]:
        at = at[part]
    at[path[-1]] = value
    try:
        case = build_case(content)
    except InputRefusedError:
        return
    result = advise(case)
    assert not re.search(r"\b(NaN|Infinity)\b", result.to_json())
    for option in result.options:
        assert abs(sum(option.by_grade()) - case.day_h) <= EXACT
