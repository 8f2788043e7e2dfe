"""How sure: against closed forms, and against solving again."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from types import SimpleNamespace

import numpy as np
import pytest

from engine.answer.doubt import Contest, Doubt, doubt, hours_of_plans, plan_wins
from engine.answer.options import Solver
from engine.assemble import advise, compete
from engine.case.results import DependsOn
from engine.case.scene import scene_of
from engine.desk import advice
from engine.kernel.draws import Draws, Spreads, activity_hours, draw, drawn_scene, no_errors
from engine.tables import Judgements
from tests import examples

JUDGED = Judgements.standard()


def contest_of(case) -> Contest:
    solver = Solver(case, scene_of([case], judgements=JUDGED), JUDGED)
    return compete(solver, solver.options())[0]


def only(contest: Contest, *names: str) -> Contest:
    plans = tuple(plan for name in names for plan in contest.plans if plan.name == name)
    assert len(plans) == len(names)
    return replace(contest, plans=plans)


@pytest.mark.parametrize("tape_sd_cm", [2.0, 5.0, 9.0])
@pytest.mark.parametrize("distance_cm", [62.0, 70.0, 85.0])
def test_chance_of_clear_against_the_normal_distribution(tape_sd_cm, distance_cm):
    """One distance, one single-vision power, a normal tape error: closed form within 2 %.

    Clear between 100/(p + L) and 100/(p - L) where p is the power and L the blur limit, u = 0.
    Source: range formula (far 1/P, near 1/(P + A)); normal distribution of the Python library.
    """
    case = examples.case(
        examples.far(name="sign", distance_cm=distance_cm, text_arcmin=10.0), add_d=2.5
    )
    contest = only(contest_of(case), "sv_computer")
    lens, limit_d = contest.lenses["sv_computer"], float(contest.scene.limit_d[0])
    spreads = replace(Spreads.none(), own_distance=tape_sd_cm)
    draws = draw(case, count=8000, seed=1, spreads=spreads, judgements=JUDGED)
    comfortable_h, _ = hours_of_plans(contest, draws)
    found = float((comfortable_h[:, 0] > 0.0).mean())
    taped = NormalDist(distance_cm, tape_sd_cm)
    near, far = 100.0 / (lens.free_d + limit_d), 100.0 / (lens.free_d - limit_d)
    expected = taped.cdf(far) - taped.cdf(near)
    assert 0.05 < expected < 1.0
    assert abs(found - expected) <= 0.02


def test_a_forced_tie_reads_toss_up():
    contest = contest_of(examples.case(examples.screen(), examples.paper()))
    first = contest.plans[0]
    option, activities = first.pairs[0]
    twin = replace(first, name="twin", pairs=((replace(option, option="twin"), activities),))
    lenses = {**contest.lenses, "twin": contest.lenses[option.option]}
    found = doubt(replace(contest, plans=(first, twin), lenses=lenses))
    assert found.verdict == "toss_up"
    assert abs(found.winner_share - 0.5) <= 1e-12


def test_without_errors_the_recommended_plan_always_wins():
    contest = contest_of(examples.case(examples.screen(), examples.paper()))
    draws = no_errors(contest.case, count=5, judgements=JUDGED)
    wins = plan_wins(contest, draws)
    assert np.array_equal(wins[:, 0], np.ones(5))
    assert np.array_equal(wins.sum(axis=1), np.ones(5))


def test_hours_without_errors_are_those_of_the_search():
    contest = contest_of(examples.case(examples.screen(), examples.paper(), examples.far()))
    draws = no_errors(contest.case, count=2, judgements=JUDGED)
    comfortable_h, reserve_h = hours_of_plans(contest, draws)
    for column, plan in enumerate(contest.plans):
        # The residue of adding the same shares in another order.
        assert abs(comfortable_h[0, column] - plan.hours.comfortable) <= 1e-9
        assert abs(reserve_h[1, column] - plan.hours.reserve) <= 1e-9


def test_same_seed_same_bytes_and_another_seed_other_draws():
    case = examples.case(examples.screen(), examples.paper())
    assert advise(case, thorough=True).to_json() == advise(case, thorough=True).to_json()
    spreads = Spreads.standard()
    one = draw(case, count=9, seed=1, spreads=spreads, judgements=JUDGED)
    other = draw(case, count=9, seed=2, spreads=spreads, judgements=JUDGED)
    assert not np.array_equal(one.lean_cm, other.lean_cm)


def test_progress_ends_at_one_and_never_goes_back():
    told: list[float] = []
    doubt(contest_of(examples.case()), count=60, progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0


def test_the_turning_value_turns_the_answer_when_it_is_solved_again():
    case = examples.case(examples.screen(distance_cm=68), examples.far(distance_cm=150))
    contest = contest_of(case)
    found = doubt(contest)
    assert found.depends_on is not None
    assert found.depends_on.turns_at is not None
    moved = _moved_to(contest, found)
    assert plan_wins(contest, moved)[0, 0] < 0.5


def _moved_to(contest: Contest, found: Doubt) -> Draws:
    """Draws with the deciding input at its turning value and all else as measured."""
    start = no_errors(contest.case, count=1, judgements=JUDGED)
    field, value = found.depends_on.field, found.depends_on.turns_at
    parts = field.split(".")
    if parts[0] == "targets":
        target = contest.case.targets[int(parts[1])]
        name = "own_distance_cm" if parts[2] == "distance_cm" else "own_height_cm"
        errors = getattr(start, name).copy()
        errors[:, int(parts[1])] = value - getattr(target, parts[2])
        return replace(start, **{name: errors})
    wearers = contest.scene.wearers
    nominal = {
        "fit.fitting_height_mm": ("lens_down_mm", float(wearers.fitting_height_mm[0]), -1.0),
        "wearer.head_zero_deg": ("head_zero_deg", 0.0, 1.0),
        "wearer.usable_accommodation_d": ("usable_d", float(wearers.usable_d[0]), 1.0),
        "wearer.blur_tolerance": ("blur", 1.0, 1.0),
    }
    name, measured, sign = nominal[field]
    return replace(start, **{name: getattr(start, name) + sign * (value - measured)})


@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (JUDGED.firm_share, "firm"),
        (JUDGED.firm_share - 0.001, "depends"),
        (JUDGED.depends_share, "depends"),
        (JUDGED.depends_share - 0.001, "toss_up"),
    ],
)
def test_verdict_at_its_limits(share, verdict):
    from engine.answer.doubt import _verdict

    contest = contest_of(examples.case(examples.screen(top_above_eye_cm=-2)))
    assert contest.plans[0].hours.reserve >= 0.75 * contest.plans[0].hours.comfortable
    assert _verdict(contest, share) == verdict


def test_a_plan_that_loses_more_than_a_quarter_in_reserve_is_never_firm():
    from engine.answer.doubt import _verdict

    contest = contest_of(examples.case(examples.screen(), add_d=1.0, age_years=45))
    plan = next(plan for plan in contest.plans if plan.name == "general_progressive")
    assert plan.hours.reserve < 0.75 * plan.hours.comfortable
    assert _verdict(replace(contest, plans=(plan,)), 1.0) == "depends"


def test_no_add_known_is_never_firm():
    case = examples.case(examples.screen(), add_d=None)
    assert advise(case, thorough=True).recommendation.verdict != "firm"


def test_draws_have_the_spreads_of_the_table():
    case = examples.case(examples.screen(), examples.paper())
    spreads = Spreads.standard()
    draws = draw(case, count=20000, seed=3, spreads=spreads, judgements=JUDGED)
    # Standard error of a standard deviation over 20,000 draws is 0.5 %; four of them.
    for name, spread in (
        ("lean_cm", spreads.lean),
        ("eye_height_cm", spreads.eye_height),
        ("head_zero_deg", spreads.head_zero),
        ("usable_d", spreads.usable),
        ("profile_mm", spreads.profile),
        ("rotation_centre_mm", spreads.rotation_centre),
    ):
        assert abs(getattr(draws, name).std() / spread - 1.0) <= 0.02, name
    assert 0.28 <= draws.slope.min() < 0.29
    assert 0.55 < draws.slope.max() <= 0.56
    low, high = np.quantile(draws.blur, [0.05, 0.95])
    assert abs(low - 0.66) <= 0.02
    assert abs(high - 1.52) <= 0.03
    assert abs(np.corrcoef(draws.usable_d, np.log(draws.blur))[0, 1] + 0.5) <= 0.03


def test_a_draw_moves_a_target_as_taped():
    case = examples.case(examples.far(distance_cm=70, centre_above_eye_cm=-14), add_d=2.5)
    scene = scene_of([case], judgements=JUDGED)
    start = no_errors(case, count=1, judgements=JUDGED)
    farther = drawn_scene(scene, replace(start, own_distance_cm=np.array([[5.0]])))
    assert abs(farther.demand_d[0] - 100.0 / 75.0) <= 1e-9
    raised = drawn_scene(scene, replace(start, eye_height_cm=np.array([3.0])))
    assert abs(raised.up_mm[0] - (-170.0)) <= 1e-9
    back = drawn_scene(scene, replace(start, lean_cm=np.array([4.0])))
    assert abs(back.forward_mm[0] - scene.forward_mm[0] - 40.0) <= 1e-9


def test_a_deeper_centre_of_rotation_leaves_what_is_asked_of_the_lens():
    # Straight ahead the lens and the target stay where they are, so the demand does too.
    case = examples.case(examples.far(distance_cm=70, centre_above_eye_cm=0), add_d=2.5)
    start = no_errors(case, count=1, judgements=JUDGED)
    deeper = drawn_scene(
        scene_of([case], judgements=JUDGED), replace(start, rotation_centre_mm=np.array([2.0]))
    )
    assert abs(deeper.demand_d[0] - 100.0 / 70.0) <= 1e-9
    assert abs(deeper.wearers.stop_mm[0] - 28.5) <= 1e-9


def test_drawn_hours_keep_the_length_of_the_day():
    case = examples.case(examples.screen(), examples.paper())
    draws = draw(case, count=50, seed=5, spreads=Spreads.standard(), judgements=JUDGED)
    hours = activity_hours(case, draws)
    assert np.abs(hours.sum(axis=(1, 2)) - case.day_h).max() <= 1e-9
    assert hours[:, 0, 0].std() > 0.1


@pytest.mark.parametrize(("unit", "words"), [("ratio", "0.8 times the usual"), ("cm", "0.8 cm")])
def test_a_turning_point_is_told_in_words_a_person_uses(unit: str, words: str) -> None:
    decides = DependsOn(field="wearer.blur_tolerance", turns_at=0.8, unit=unit)
    told = advice.what_would_change(SimpleNamespace(case=None), SimpleNamespace(depends_on=decides))
    assert f"at {words} another" in told[0].text
