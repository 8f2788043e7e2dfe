"""The free move of a screen: said wherever it brings a quarter of an hour, and true there."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from engine.answer.held import comfortable_share_of
from engine.answer.options import PRESENT, Solver
from engine.answer.recommend import answered
from engine.assemble import advise
from engine.case.read import read_case
from engine.case.targets import hours_on
from engine.desk.moves import _lost_h, best_move
from engine.desk.places import Place, moved, obstacles, place_of
from engine.examples import EXAMPLES
from engine.kernel.draws import Draws
from engine.tables import Judgements
from tests import examples

JUDGED = Judgements.standard()
ADDS_D, TOPS_CM = (1.5, 2.0, 2.5), (0.0, 10.0)
DESKS = [(add_d, top_cm) for add_d in ADDS_D for top_cm in TOPS_CM]
OTHER_LUCK_H = 0.05
"""The mean of 256 draws is this good, so a moved case answered anew may differ by it."""
COARSE_CM = 7.0


@lru_cache(maxsize=32)
def desk(add_d: float, top_cm: float, *, liked: bool | None = True, movable: bool = True):
    """A 24 inch screen at 65 cm, and a progressive worn."""
    pair = {"kind": "general_progressive", "design": {"corridor_mm": 12.5}, "liked": liked}
    screen = examples.screen(distance_cm=65, top_above_eye_cm=top_cm, movable=movable)
    return examples.case(screen, add_d=add_d, owned_pairs=[pair])


def once(find):
    """Return a function of a case that answers each case once."""
    known: dict[str, Any] = {}

    def found(case):
        if case.digest() not in known:
            known[case.digest()] = find(case)
        return known[case.digest()]

    return found


@once
def solved(case):
    """Return the solver and the answer of a case, with the draws behind them."""
    solver = Solver(case, JUDGED)
    return solver, answered(case, solver.options(), judgements=JUDGED)


advised = once(advise)


def at_hand(case):
    """Return the plan of the pair at hand, and the draws it was found over."""
    solver, found = solved(case)
    return next(plan for plan in found.plans if plan.name == PRESENT), solver.draws


def said_of_pair(case):
    moves = advised(case).recommendation.moves
    return next((move for move in moves if move.plan == PRESENT), None)


def place_after(case, change) -> Place:
    now = place_of(case.targets[0], stop_mm=stop_mm(case))
    return Place(
        now.centre_above_eye_cm + change.up_cm,
        now.distance_cm + change.farther_cm,
        now.tilt_deg + change.tilt_deg,
    )


def stop_mm(case) -> float:
    return case.fit.vertex_mm + JUDGED.stop_beyond_vertex_mm


def coarse_places(case) -> list[Place]:
    """Allowed places 7 cm apart, by height, by distance, and lower with a tilt."""
    now = place_of(case.targets[0], stop_mm=stop_mm(case))
    steps = [COARSE_CM * step for step in range(-4, 5)]
    tried = [Place(now.centre_above_eye_cm + by, now.distance_cm, now.tilt_deg) for by in steps]
    tried += [Place(now.centre_above_eye_cm, now.distance_cm + by, now.tilt_deg) for by in steps]
    tried += [Place(now.centre_above_eye_cm + by, now.distance_cm, 15.0) for by in steps]
    return [
        place
        for place in tried
        if place != now
        and obstacles(case.targets[0], [place], stop_mm=stop_mm(case), judgements=JUDGED) == [None]
    ]


def drawn_h(case, place: Place) -> float:
    """Return the hours of the pair at hand with the screen at another place, over one cube."""
    plan, draws = at_hand(case)
    there = Draws(moved(case, 0, place), judgements=JUDGED, like=draws)
    lens, rows = plan.options[0].lens, slice(1, draws.first_cube.stop)
    shares = np.stack(
        [comfortable_share_of(there, index, lens, rows=rows) for index in range(len(case.targets))],
        axis=1,
    )
    return float((there.activity_hours[rows, 0] * shares).sum(axis=1).mean())


@pytest.mark.parametrize(("add_d", "top_cm"), DESKS)
def test_a_move_is_said_wherever_a_place_tried_one_by_one_brings_enough(add_d, top_cm):
    """No place is left out for being judged by its smoothed share before any draw."""
    case = desk(add_d, top_cm)
    now_h, said = at_hand(case)[0].comfortable_h, said_of_pair(case)
    best_h = max(drawn_h(case, place) for place in coarse_places(case)) - OTHER_LUCK_H
    assert best_h >= now_h + JUDGED.move_worth_h, "a desk of the sweep that shows nothing"
    assert said is not None
    assert said.after_h >= said.before_h + JUDGED.move_worth_h
    # What a few centimetres and another tilt still bring is less than what is worth telling.
    assert said.after_h >= best_h - JUDGED.move_worth_h


@pytest.mark.parametrize(("add_d", "top_cm"), DESKS)
def test_the_hours_after_a_move_are_those_of_the_moved_desk(add_d, top_cm):
    case = desk(add_d, top_cm)
    said = said_of_pair(case)
    assert abs(said.before_h - advised(case).option(PRESENT).comfortable_h) <= 1e-9
    there = moved(case, 0, place_after(case, said.change))
    after_h = solved(there)[0].option(PRESENT, lens_at_hand(case)).result.comfortable_h
    assert abs(said.after_h - after_h) <= OTHER_LUCK_H


def lens_at_hand(case):
    return at_hand(case)[0].options[0].lens


@pytest.mark.parametrize(("add_d", "top_cm"), DESKS)
def test_a_move_comes_first_only_where_the_pair_is_chosen_at_the_moved_desk(add_d, top_cm):
    case = desk(add_d, top_cm)
    said, result = said_of_pair(case), advised(case).recommendation
    there = moved(case, 0, place_after(case, said.change))
    again = Solver(there, JUDGED, like=solved(case)[0].draws)
    chosen = answered(there, again.options(), judgements=JUDGED).plan
    was_first = solved(case)[1].plan.name == PRESENT
    assert said.put_first == (chosen.name == PRESENT and not was_first)
    assert (result.put_first_by == "free_move") == said.put_first
    if said.put_first:
        assert result.plan == PRESENT


@pytest.mark.parametrize("liked", [True, None])
def test_a_plan_that_a_new_pair_outdoes_is_not_put_first(liked):
    outdone = [
        (found, plan)
        for found in (solved(desk(*one, liked=liked))[1] for one in DESKS)
        for plan in found.plans
        for pair in found.competing
        if found.outdoes(pair, plan, by_h=pair.comfortable_h - plan.comfortable_h)
    ]
    assert {plan.name == PRESENT for _, plan in outdone} == {True, False}
    assert all(found.plan is not plan for found, plan in outdone)


@pytest.mark.parametrize(("add_d", "top_cm"), DESKS)
def test_a_move_can_bring_all_that_is_lost_at_the_screen_and_no_more(add_d, top_cm):
    """One screen all day: what is lost there is the day less the comfortable hours."""
    case = desk(add_d, top_cm)
    plan, draws = at_hand(case)
    lost_h = _lost_h(plan, draws, 0).mean()
    assert abs(lost_h - (case.day_h - plan.comfortable_h)) <= 1e-9
    move = best_move(plan, draws)
    assert move is None or move.after_h - move.before_h <= lost_h + 1e-9


def test_the_sweep_has_moves_put_first_and_moves_that_are_not():
    found = {said_of_pair(desk(*one)).put_first for one in DESKS}
    assert found == {True, False}


def test_a_move_is_said_of_the_lens_put_first_too():
    case = desk(2.5, 10.0)
    moves = advised(case).recommendation.moves
    (first,) = [move for move in moves if move.plan == advised(case).recommendation.plan]
    assert not first.put_first
    assert first.after_h >= first.before_h + JUDGED.move_worth_h
    lens = solved(case)[1].plan.options[0].lens
    there = moved(case, 0, place_after(case, first.change))
    after_h = solved(there)[0].option(first.plan, lens).result.comfortable_h
    assert abs(first.after_h - after_h) <= OTHER_LUCK_H


def test_each_move_is_told_with_its_hours_and_its_change():
    case = desk(2.5, 10.0)
    for move in advised(case).recommendation.moves:
        assert f"by {abs(move.change.up_cm):.0f} cm" in move.text
        for hours in (move.before_h, move.after_h, case.day_h):
            assert f"{hours:.1f}".removesuffix(".0") in move.text


def test_a_screen_that_cannot_move_is_not_moved():
    assert advise(desk(2.0, 10.0, movable=False)).recommendation.moves == ()


def test_a_screen_that_stands_well_is_left_there():
    case = desk(1.0, -10.0)
    plan, draws = at_hand(case)
    assert plan.comfortable_h >= case.day_h - JUDGED.move_worth_h
    assert best_move(plan, draws) is None
    assert advised(case).recommendation.moves == ()


def test_a_tilt_that_brings_some_minutes_more_is_not_asked_for():
    """Of places that bring as much but for a fiftieth of the screen, the least change is told."""
    case = read_case(EXAMPLES / "absolute_presbyope.json")
    solver, found = solved(case)
    move = best_move(found.plan, solver.draws)
    assert (move.change.tilt_deg, move.change.farther_cm) == (0.0, 0.0)
    tilted = replace(move.place, tilt_deg=10.0)
    there = Draws(moved(case, move.index, tilted), judgements=JUDGED, like=solver.draws)
    lens, rows = found.plan.options[0].lens, slice(1, len(there))
    share = comfortable_share_of(there, move.index, lens, rows=rows)
    more_h = (share - found.plan.options[0].hours.comfortable_share[:, move.index]) * (
        there.activity_hours[rows, 0, move.index]
    )
    rival_h = move.before_h + float(more_h.mean())
    screen_h = hours_on(case.targets[move.index].name, case.activities)
    assert move.after_h < rival_h <= move.after_h + JUDGED.desk_gain_share * screen_h


def test_the_best_of_two_screens_is_moved():
    """One stands well and is looked at more, the other far too high."""
    pair = {"kind": "general_progressive", "design": {"corridor_mm": 11}, "liked": True}
    case = examples.case(
        examples.screen(name="good", top_above_eye_cm=-12, text_height_mm=5),
        examples.screen(name="high", top_above_eye_cm=10, offset_cm=10),
        activities=[examples.activity(6, good=0.6, high=0.4)],
        owned_pairs=[pair],
    )
    assert best_move(*at_hand(case)).index == 1


def test_bring_the_screen_nearer_and_the_present_readers_do():
    """Readers of +2.00 focus an eye at rest at 50 cm; the screen stands at 68 cm."""
    pair = {"kind": "sv_near", "design": {"add_d": 2.0}, "liked": True}
    case = examples.case(examples.screen(top_above_eye_cm=-2, distance_cm=68), owned_pairs=[pair])
    move = said_of_pair(case)
    assert move.change.farther_cm < 0.0
    assert move.change.up_cm == move.change.tilt_deg == 0.0
    assert 50.0 <= 68.0 + move.change.farther_cm < 68.0
