"""The pair on the face: range test at a mock desk, and crosses before the pupils."""

from __future__ import annotations

import json

import pytest

from engine.answer.options import redesigned
from engine.case.results import ClearRange
from engine.collection.as_worn import CrossError, advice_for, rerun, worn_effect
from engine.collection.mock_desk import RangeStep, compare_range, range_steps
from engine.collection.wearer_page import wearer_sheet
from engine.examples import path_of
from engine.lenses.surfaces import office_surface
from engine.tables import Judgements
from engine.wording import length
from tests.orders import answered, content

STANDARD = Judgements.standard()
CLOSE = 1e-9
TABLE = json.dumps(content())


def test_rerun_without_a_change_is_the_answer_itself() -> None:
    case, result = answered(TABLE)
    for option in result.options:
        again = rerun(
            case=case,
            kind=option.kind,
            design=option.design,
            covers_distance=option.covers_distance,
        )
        hours = zip(again.as_measured.by_grade(), option.as_measured.by_grade(), strict=True)
        assert max(abs(one - other) for one, other in hours) <= CLOSE
        assert again.targets == option.targets
        assert again.sees_to_cm == option.sees_to_cm


def test_another_design_of_an_option_is_answered_like_the_option() -> None:
    case, result = answered(TABLE)
    option = result.option("general_progressive")
    other = option.design.model_copy(update={"corridor_mm": 14.0})
    assert option.design.corridor_mm != 14.0
    made = redesigned(option, other, case, judgements=STANDARD)
    assert made.design == other
    assert made.comfortable_h < option.comfortable_h - 0.1
    back = redesigned(made, option.design, case, judgements=STANDARD)
    assert back == option.model_copy(update={"equivalent_designs": back.equivalent_designs})


def test_a_low_general_progressive_costs_chin_and_hours() -> None:
    case, result = answered(TABLE)
    low = CrossError(below_mm=2.0)
    found = worn_effect(case=case, option=result.option("general_progressive"), right=low, left=low)
    screen = found.targets[0]
    assert screen.chin_change_deg is not None
    # 2 mm of lens 26.5 mm from the centre of rotation turn the gaze by 4.3 degrees; the eye's own
    # shift with the head and the half-degree scan leave a degree.
    assert abs(screen.chin_change_deg - 4.3) <= 1.0
    assert "higher" in screen.says
    assert found.lost_h > 0.0
    assert abs(sum(one.lost_h for one in found.targets) - found.lost_h) <= CLOSE
    assert not found.within_tolerance
    assert found.advice[0].startswith("Raise the frame")


def test_hours_that_a_pair_is_not_worn_for_are_not_lost_through_it() -> None:
    found = content("absolute_presbyope")
    first = found["activities"][0]
    found["activities"] += [first | {"name": "walking round", "hours": 2, "needs": ["walking"]}]
    case, result = answered(json.dumps(found))
    high = CrossError(below_mm=-8.0)
    effect = worn_effect(case=case, option=result.option("office"), right=high, left=high)
    assert effect.lost_h > 0.0
    assert abs(sum(one.lost_h for one in effect.targets) - effect.lost_h) <= CLOSE


def test_one_eye_off_costs_what_that_eye_costs() -> None:
    case, result = answered(TABLE)
    option = result.option("general_progressive")
    low, none = CrossError(below_mm=2.0), CrossError()
    one = worn_effect(case=case, option=option, right=none, left=low)
    both = worn_effect(case=case, option=option, right=low, left=low)
    assert abs(one.comfortable_h_worn - both.comfortable_h_worn) <= CLOSE
    assert one.advice[0].startswith("Bend the left temple down")


def test_single_vision_does_not_mind_the_height_but_prism_is_told() -> None:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side] |= {"sphere_d": -5.0}
    case, result = answered(json.dumps(found))
    effect = worn_effect(
        case=case,
        option=result.option("sv_computer"),
        right=CrossError(below_mm=2.0),
        left=CrossError(below_mm=-1.0, right_mm=2.0),
    )
    assert effect.lost_h <= CLOSE
    # Prentice: the lens before the eye is the distance power and what is added for the screen.
    power_d = 5.0 - (result.option("sv_computer").design.add_d or 0.0)
    assert power_d < 4.0
    assert abs(effect.vertical_imbalance_pd - power_d * 3.0 / 10.0) <= CLOSE
    assert abs(effect.horizontal_prism_pd - power_d * 2.0 / 10.0) <= CLOSE
    assert [one.narrower_cm for one in effect.targets] == [0.0] * len(effect.targets)


def test_reading_glasses_make_prism_where_the_distance_power_is_none() -> None:
    found = content()
    for side in ("right", "left"):
        found["wearer"][side] |= {"sphere_d": 0.0, "cylinder_d": 0.0, "add_d": 2.5}
    case, result = answered(json.dumps(found))
    option = result.option("sv_near")
    assert option.design.add_d == 2.5
    low = CrossError(below_mm=2.0, right_mm=1.0)
    effect = worn_effect(case=case, option=option, right=low, left=CrossError())
    # Prentice: 2.50 D a fifth of a centimetre off makes 0.50 prism dioptre, a tenth 0.25.
    assert abs(effect.vertical_imbalance_pd - 0.50) <= CLOSE
    assert abs(effect.horizontal_prism_pd - 0.25) <= CLOSE
    distance = worn_effect(
        case=case, option=result.option("sv_distance"), right=low, left=CrossError()
    )
    assert distance.vertical_imbalance_pd == distance.horizontal_prism_pd == 0.0


def test_crosses_apart_from_the_pupils_narrow_the_shared_strip() -> None:
    case, result = answered(TABLE)
    effect = worn_effect(
        case=case,
        option=result.option("general_progressive"),
        right=CrossError(right_mm=1.5),
        left=CrossError(right_mm=-1.5),
    )
    distance_mm = case.targets[0].distance_cm * 10.0
    # Similar triangles from the centre of rotation: 3 mm on the lens at the distance of the screen.
    expected_cm = 3.0 * (distance_mm + 26.5) / 26.5 / 10.0
    assert abs(effect.targets[0].narrower_cm - expected_cm) <= 1e-6
    assert "remake if an eye stays" in effect.advice[0]


@pytest.mark.parametrize(("off", "within"), [(0.99, True), (1.0, True), (1.01, False)])
def test_a_cross_within_a_millimetre_needs_nothing(off: float, within: bool) -> None:
    advice = advice_for(right=CrossError(below_mm=off), left=CrossError(below_mm=off))
    assert (advice == ("Nothing to adjust.",)) is within
    case, result = answered(TABLE)
    effect = worn_effect(
        case=case,
        option=result.option("office"),
        right=CrossError(below_mm=off),
        left=CrossError(),
    )
    assert effect.within_tolerance is within


FINDINGS = [
    (2.0, 0.0, 2.0, 0.0, ["Raise the frame"]),
    (-2.0, 0.0, -2.0, 0.0, ["Lower the frame"]),
    (1.0, 0.0, -1.0, 0.0, ["Bend the right temple"]),
    (0.0, 2.0, 0.0, 2.0, ["Move the frame to the wearer's left"]),
    (0.0, -2.0, 0.0, -2.0, ["Move the frame to the wearer's right"]),
    (3.0, 0.0, 3.0, 0.0, ["Raise the frame", "Adjust first"]),
]


@pytest.mark.parametrize(("down_r", "side_r", "down_l", "side_l", "starts"), FINDINGS)
def test_adjustment_before_remake(
    down_r: float, side_r: float, down_l: float, side_l: float, starts: list[str]
) -> None:
    found = advice_for(
        right=CrossError(below_mm=down_r, right_mm=side_r),
        left=CrossError(below_mm=down_l, right_mm=side_l),
    )
    assert len(found) == len(starts)
    assert all(one.startswith(start) for one, start in zip(found, starts, strict=True))


def test_range_steps_carry_the_computed_range() -> None:
    case, result = answered(TABLE)
    option = result.option("office")
    steps = range_steps(case=case, option=option, judgements=STANDARD)
    computed = {one.target: one.clear_range_cm for one in option.targets}
    assert [step.target for step in steps] == ["main screen", "papers", "straight ahead"]
    for step in steps[:2]:
        assert ClearRange(near=step.near_cm, far=step.far_cm) == computed[step.target]
        assert f"{step.near_cm:.0f} cm" in step.says
    for step in steps:
        assert "Keep the head still." in step.says


def test_a_place_beside_the_wearer_is_told_with_its_side() -> None:
    case, result = answered(path_of("two_screens").read_text(encoding="utf-8"))
    option = result.option("office")
    beside = next(one for one in case.targets if one.offset_cm)
    (step,) = (
        one
        for one in range_steps(case=case, option=option, judgements=STANDARD)
        if one.target == beside.name
    )
    side = "right" if beside.offset_cm > 0 else "left"
    assert f"cm away, {abs(beside.offset_cm):.0f} cm to the wearer's {side}, " in step.says


def test_a_lens_has_one_far_limit_in_its_caution_on_the_sheet_and_in_the_range_test() -> None:
    """Eyes at rest, head level, straight ahead: one over the power at the fitting point."""
    case, result = answered(TABLE)
    option = result.option("office")
    design = option.design
    assert design.power_fall is not None
    assert design.near_add_d is not None
    assert design.degression_d is not None
    share, _ = office_surface(design.power_fall).lookup(x_mm=0.0, y_mm=0.0)
    limit_cm = 100.0 / (design.near_add_d - design.degression_d * (1.0 - float(share)))
    told = next(one for one in option.cautions if one.id == "office_far_limit")
    step = range_steps(case=case, option=option, judgements=STANDARD)[-1]
    (said,) = wearer_sheet(case=case, result=result, option=option).limits
    assert option.sees_to_cm is not None
    for found in (option.sees_to_cm, told.values["ahead_cm"], step.far_cm):
        assert abs(found - limit_cm) <= CLOSE
    assert length(limit_cm) in said
    assert f"{limit_cm:.0f} cm" in step.says
    assert f"{limit_cm:.0f} cm" in told.text


def test_a_design_made_instead_has_its_own_far_limit() -> None:
    case, result = answered(TABLE)
    option = result.option("office")
    weaker = option.design.model_copy(update={"degression_d": 0.75})
    assert option.design.degression_d != 0.75
    found = rerun(case=case, kind="office", design=weaker, covers_distance=False)
    assert found.sees_to_cm is not None
    assert option.sees_to_cm is not None
    assert found.sees_to_cm < option.sees_to_cm - 1.0


def test_pairs_for_far_and_pairs_that_nothing_limits_have_no_step_straight_ahead() -> None:
    case, result = answered(TABLE)
    for name in ("sv_distance", "general_progressive", "bifocal_ft28"):
        option = result.option(name)
        assert option.sees_to_cm is None
        steps = range_steps(case=case, option=option, judgements=STANDARD)
        assert "straight ahead" not in [step.target for step in steps]
    single = result.option("sv_computer")
    assert single.design.add_d is not None
    assert single.sees_to_cm is not None
    assert abs(single.sees_to_cm - 100.0 / single.design.add_d) <= CLOSE


def test_print_that_moves_out_straight_ahead_is_borne_a_little_beyond_where_it_is_sharp() -> None:
    sharp = STEP.model_copy(update={"near_cm": None, "far_cm": 80.0, "borne_d": 0.45})
    assert sharp.blurs_from_cm is not None
    assert abs(sharp.blurs_from_cm - 125.0) <= CLOSE  # 1.25 D less 0.45
    (right,) = compare_range(step=sharp, nearest_cm=40.0, farthest_cm=125.0)
    assert right.agrees
    assert abs(right.difference_d) <= CLOSE
    (short,) = compare_range(step=sharp, nearest_cm=None, farthest_cm=80.0)
    assert not short.agrees
    assert "0.45 D more plus" in short.says
    endless = sharp.model_copy(update={"borne_d": 1.5})
    assert endless.blurs_from_cm is None


STEP = RangeStep(
    target="screen",
    distance_cm=65,
    centre_above_eye_cm=-12,
    text_height_mm=3.0,
    near_cm=50.0,
    far_cm=80.0,
    says="",
)


@pytest.mark.parametrize(("off", "agrees"), [(0.249, True), (0.25, True), (0.251, False)])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_taped_end_agrees_within_a_quarter_dioptre(off: float, agrees: bool, sign: int) -> None:
    near, far = 100 / (2.0 + sign * off), 100 / (1.25 + sign * off)
    found = compare_range(step=STEP, nearest_cm=near, farthest_cm=far)
    assert [one.end for one in found] == ["nearest", "farthest"]
    assert [one.agrees for one in found] == [agrees, agrees]
    assert ("more plus" in found[0].says) is (not agrees and sign > 0)


def test_an_end_that_was_not_taped_is_not_judged() -> None:
    assert compare_range(step=STEP, nearest_cm=None, farthest_cm=None) == ()
    endless = STEP.model_copy(update={"far_cm": None})
    found = compare_range(step=endless, nearest_cm=None, farthest_cm=200.0)
    assert found[0].difference_d == 0.5
    assert not found[0].agrees
