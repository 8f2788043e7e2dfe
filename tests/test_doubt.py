"""How sure and what to measure: against closed forms, and against counting by hand."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from engine.answer import doubt
from engine.answer.doubt import Contest, verdict, worth_measuring
from engine.answer.held import Desk
from engine.answer.options import Solver
from engine.answer.recommend import Answered, answered
from engine.assemble import advise
from engine.case.model import Case
from engine.kernel.draws import Draws, Input, Spreads
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.tables import Judgements
from tests import examples

JUDGED = Judgements.standard()
DRAWS = 256


def solved(case: Case) -> Answered:
    return answered(case, Solver(case, JUDGED).options(), judgements=JUDGED)


@pytest.mark.parametrize("tape_sd_cm", [2.0, 5.0, 9.0])
@pytest.mark.parametrize("distance_cm", [62.0, 70.0, 85.0])
def test_chance_of_clear_against_the_normal_distribution(
    tape_sd_cm: float, distance_cm: float
) -> None:
    """One distance, one single-vision power, a normal tape error: closed form within 2 %.

    Clear between 100/(p + L) and 100/(p - L) where p is the power and L the blur limit, u = 0.
    Source: range formula (far 1/P, near 1/(P + A)); normal distribution of the Python library.
    """
    target = examples.screen(
        distance_cm=distance_cm, top_above_eye_cm=0.05, diagonal_in=None, aspect=None,
        width_cm=2.0, height_cm=2.0, tilt_deg=0.0, text_height_mm=3.2,
    )  # fmt: skip
    case = examples.case(
        target, add_d=2.5, age_years=70, wearer={"turns": "head", "near_test_distance_cm": 40.0}
    )
    case = case.model_copy(update={"origin": {}})
    spreads = replace(Spreads.none(), own_distance=tape_sd_cm)
    draws = Draws(case, judgements=JUDGED, spreads=spreads, cubes=32, seed=1)
    kind = KINDS["sv_computer"]
    lens = Lens(kind, kind.families(JUDGED)[0], 1.5, 2.5)
    hours = Desk(draws).comfortable_h(lens, covers_distance=False)[:, 0]
    limit_d = float(draws.scene(slice(0, 1)).limit_d[0])
    taped = NormalDist(distance_cm, tape_sd_cm)
    near, far = 100.0 / (lens.free_d + limit_d), 100.0 / (lens.free_d - limit_d)
    expected = taped.cdf(far) - taped.cdf(near)
    assert 0.05 < expected <= 1.0
    assert abs(float((hours > case.day_h / 2).mean()) - expected) <= 0.02


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, "firm"), (0.10, "firm"), (0.101, "depends"), (0.40, "depends"), (0.401, "toss_up")],
)
def test_the_verdict_by_how_often_another_is_clearly_better(share: float, words: str) -> None:
    assert verdict(share, judgements=JUDGED) == words


def test_how_often_and_by_how_much_a_rival_is_better() -> None:
    """Of four draws the best rival wins two, by 0.5 and 1.0 h beyond its price."""
    net_h = np.array([[5.0, 5.5, 4.0], [5.0, 4.0, 6.0], [5.0, 4.9, 5.0], [5.0, 1.0, 2.0]])
    found = Contest(net_h)
    assert found.clearly_better_share == 0.5
    assert abs(found.expected_loss_h - 1.5 / 4) <= 1e-12
    alone = Contest(net_h[:, :1])
    assert (alone.clearly_better_share, alone.expected_loss_h) == (0.0, 0.0)


def test_every_plan_that_competes_is_held_against_the_one_put_first() -> None:
    drive = {"name": "driving home", "hours": 1, "needs": ["driving"]}
    found = solved(
        examples.case(
            examples.screen(),
            examples.paper(),
            activities=[examples.activity(6, screen=0.75, papers=0.25), drive],
            present_pair={"kind": "sv_distance"},
        )
    )
    assert found.plan is not None
    held = found.contest.net_h
    assert held.shape == (DRAWS, len(found.competing))
    assert np.array_equal(held[:, 0], found.plan.in_draws_h)
    rivals = [plan for plan in found.competing if plan is not found.plan]
    for column, plan in enumerate(rivals, start=1):
        price = plan.in_draws_h - held[:, column]
        more = max(plan.new_pairs - found.plan.new_pairs, 0)
        expected = max(0.05 * found.case.day_h, 0.25, 0.75 * more)
        assert np.abs(price - expected).max() <= 1e-9
    assert len({plan.new_pairs for plan in rivals}) > 1


def _invented(*, matters: Any, other: Any) -> tuple[Contest, list[Input]]:
    """The rival is 2 h better where the first input is over 1, and 2 h worse elsewhere."""
    rival = 5.0 + np.where(matters > 1.0, 2.0, -2.0)
    contest = Contest(np.stack([np.full(len(matters), 5.0), rival], axis=1))
    return contest, [
        Input("fit.vertex_mm", "mm", other, False),
        Input("targets.0.distance_cm", "cm", matters, True),
    ]


def test_only_the_input_that_turns_the_answer_is_worth_measuring() -> None:
    """Known exactly, the rival is taken in a quarter of the draws, for 2 h each: 0.5 h."""
    matters = (np.arange(DRAWS) + 0.5) / DRAWS * 4.0 / 3.0
    other = np.random.default_rng(5).permutation(matters)
    contest, inputs = _invented(matters=matters, other=other)
    (found,) = worth_measuring(contest, inputs, judgements=JUDGED)
    assert found.input.field == "targets.0.distance_cm"
    assert abs(found.worth_h - 0.5) <= 0.1
    assert found.turns_at is not None
    assert abs(found.turns_at - 1.0) <= 0.05


def test_an_input_that_says_nothing_is_never_asked_for() -> None:
    chance = np.random.default_rng(6)
    for _ in range(20):
        rival = 5.0 + chance.normal(0.0, 2.0, DRAWS)
        contest = Contest(np.stack([np.full(DRAWS, 5.0), rival], axis=1))
        noise = Input("fit.vertex_mm", "mm", chance.normal(size=DRAWS), False)
        worth = worth_measuring(contest, [noise], judgements=replace(JUDGED, measure_worth_h=-1.0))
        assert abs(worth[0].worth_h) <= 0.25
    still = Input("fit.vertex_mm", "mm", np.zeros(DRAWS), False)
    assert not worth_measuring(contest, [still], judgements=JUDGED)


def test_chance_seems_to_be_worth_something_and_is_taken_off() -> None:
    chance = np.random.default_rng(7)
    net_h = np.stack([np.full(DRAWS, 5.0), chance.normal(5.0, 2.0, DRAWS)], axis=1)
    assert doubt._by_chance_h(net_h) > 0.01


def test_measuring_is_asked_for_what_nobody_measured_and_hardly_for_what_was() -> None:
    """A desk of which only the kind is known, and the same desk with everything taped."""
    path = "/targets/0/"
    names = ("distance_cm", "top_above_eye_cm", "tilt_deg", "text_height_mm")
    case = examples.case(examples.screen(), examples.paper())
    assumed = {f"{path}{name}": "assumed" for name in names}
    guessed = advise(case.model_copy(update={"origin": {**case.origin, **assumed}}))
    taped = advise(case.model_copy(update={"origin": {}}))
    worth = [
        sum(one.worth_h for one in found.recommendation.measure_next) for found in (guessed, taped)
    ]
    assert worth[0] >= worth[1]
    for one in guessed.recommendation.measure_next:
        assert one.text.startswith("Measure ")
        assert ("again" in one.text.split(":")[0]) is not one.assumed
        assert one.worth_h >= JUDGED.measure_worth_h


def test_the_same_case_gives_the_same_bytes() -> None:
    case = examples.case(examples.screen(), examples.paper())
    assert advise(case).to_json() == advise(case).to_json()
