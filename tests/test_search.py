"""The search: hours add up, the best design is the best by the rules, a batch is its members."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from engine.assemble import advise
from engine.case.model import Case
from engine.case.scene import scene_of
from engine.kernel.search import (
    Candidates,
    Views,
    best_columns,
    candidates,
    equivalent_columns,
    search,
    shares,
)
from engine.lenses.families import General, Office
from engine.lenses.kinds import KINDS
from engine.tables import Judgements
from tests import examples

STANDARD = Judgements.standard()
EXACT = 1e-9
"""Room for the last bits of sums of some hundred shares."""
KIND_IDS = sorted(KINDS)


def desk(**more: Any) -> Case:
    looks = examples.activity(6, screen=0.7, papers=0.2, board=0.1)
    targets = (examples.screen(), examples.paper(), examples.far(distance_cm=180))
    return examples.case(*targets, activities=[looks], **more)


def views_of(*cases: Case) -> Views:
    return Views(scene_of(list(cases), judgements=STANDARD), STANDARD)


@pytest.mark.parametrize("kind", KIND_IDS)
def test_candidates_have_the_hours_that_shares_give_one_by_one(kind: str) -> None:
    views = views_of(desk())
    found = candidates(views, KINDS[kind])
    for column in range(found.free_d.shape[1])[:: max(1, found.free_d.shape[1] // 5)]:
        family = found.families[found.family[column]]
        alone = shares(views, KINDS[kind], family, found.free_d[:, column])
        hours = views.scene.hours(alone.comfortable)
        reserve = views.scene.hours(alone.reserve)
        assert abs(float(hours[0] - found.comfortable_h[0, column])) <= EXACT
        assert abs(float(reserve[0] - found.reserve_h[0, column])) <= EXACT


@pytest.mark.parametrize("kind", KIND_IDS)
def test_shares_are_shares(kind: str) -> None:
    views = views_of(desk(add_d=1.25))
    found = candidates(views, KINDS[kind])
    for column, index in enumerate(found.family):
        part = shares(views, KINDS[kind], found.families[index], found.free_d[:, column])
        for values in (part.comfortable, part.strained, part.not_served, part.reserve):
            assert values.min() >= 0.0
            assert values.max() <= 1.0 + EXACT
        assert np.abs(part.comfortable + part.strained + part.not_served - 1.0).max() <= EXACT
        assert (part.reserve <= part.comfortable + EXACT).all(), "a bad day brings nothing"


def test_how_many_designs_are_searched() -> None:
    """Add 2.00: office near 1.25 to 2.00, degression 0.75 to 2.25, top at least +0.25, 2 falls."""
    found = search(views_of(desk(add_d=2.0)))
    counts = {kind: int(np.sum(~np.isnan(one.free_d[0]))) for kind, one in found.items()}
    tops = [
        near - degression
        for near in np.arange(1.25, 2.01, 0.25)
        for degression in np.arange(0.75, 2.26, 0.25)
    ]
    assert counts["office"] == 2 * sum(top >= 0.25 for top in tops)
    assert counts["general_progressive"] == 3
    assert counts["sv_computer"] == len(np.arange(0.5, 2.01, 0.25))
    assert counts["bifocal_desk"] == len(np.arange(0.5, 1.51, 0.25))
    assert counts["unaided"] == 0
    for kind in ("sv_distance", "sv_near", "bifocal_ft28", "trifocal_7x28"):
        assert counts[kind] == 1


def test_wearers_in_one_batch_get_what_they_get_alone() -> None:
    cases = [
        desk(),
        desk(add_d=1.0, age_years=46, fit={"fitting_height_mm": 15.5}),
        desk(wearer={"right": examples.eye(2.5, sphere_d=-3.0), "left": examples.eye(2.5)}),
    ]
    together = search(views_of(*cases))
    for index, case in enumerate(cases):
        alone = search(views_of(case))
        for kind in KIND_IDS:
            best, own = (
                int(best_columns(found[kind], judgements=STANDARD)[row])
                for found, row in ((together, index), (alone, 0))
            )
            assert (best < 0) is (own < 0), kind
            if own < 0:
                continue
            pair = together[kind], alone[kind]
            hours = [
                float(found.comfortable_h[row, column])
                for found, row, column in zip(pair, (index, 0), (best, own), strict=True)
            ]
            designs = [
                found.design(column, wearer=row, add_d=2.0)
                for found, row, column in zip(pair, (index, 0), (best, own), strict=True)
            ]
            assert abs(hours[0] - hours[1]) <= EXACT
            assert designs[0] == designs[1]


def made(
    kind: str, families: list[Any], hours: list[float], plus_d: list[float], free_d: list[float]
) -> Candidates:
    """Invented candidates of one wearer, reserve 0."""
    return Candidates(
        kind=KINDS[kind],
        families=tuple(families),
        family=np.arange(len(families)),
        free_d=np.array([free_d]),
        comfortable_h=np.array([hours]),
        reserve_h=np.zeros((1, len(hours))),
        plus_d=np.array([plus_d]),
    )


@pytest.mark.parametrize(("behind_h", "weaker_wins"), [(0.019, True), (0.021, False)])
def test_designs_within_a_minute_go_by_least_plus(behind_h: float, weaker_wins: bool) -> None:
    office = [Office("slow", 1.0), Office("slow", 1.0)]
    found = made("office", office, [5.0, 5.0 - behind_h], [3.0, 2.5], [2.0, 1.75])
    assert int(best_columns(found, judgements=STANDARD)[0]) == (1 if weaker_wins else 0)


def test_then_by_smaller_degression_then_by_the_slow_power_fall() -> None:
    families = [Office("quick", 1.0), Office("slow", 1.5), Office("slow", 1.0)]
    for order in itertools.permutations(families):
        found = made("office", list(order), [5.0] * 3, [3.0] * 3, [2.0] * 3)
        best = order[int(best_columns(found, judgements=STANDARD)[0])]
        assert best == Office("slow", 1.0)
        less = [family for family in order if family != best]
        found = made("office", less, [5.0] * 2, [3.0] * 2, [2.0] * 2)
        assert less[int(best_columns(found, judgements=STANDARD)[0])] == Office("quick", 1.0)


@pytest.mark.parametrize(
    ("hours", "liked_mm", "corridor_mm"),
    [
        ([5.0, 4.6, 4.51], None, 14.0),
        ([5.0, 4.6, 4.49], None, 12.5),
        ([5.0, 4.49, 4.4], None, 11.0),
        ([5.0, 4.6, 4.51], 11.0, 11.0),
        ([5.0, 4.6, 4.49], 14.0, 12.5),
        ([4.0, 4.6, 5.0], 11.0, 14.0),
    ],
)
def test_the_longest_corridor_within_half_an_hour_or_the_liked_one(
    hours: list[float], liked_mm: float | None, corridor_mm: float
) -> None:
    families = [General(11.0), General(12.5), General(14.0)]
    found = made("general_progressive", families, hours, [2.0] * 3, [0.0] * 3)
    liked = None if liked_mm is None else np.array([liked_mm])
    best = best_columns(found, judgements=STANDARD, liked_corridor_mm=liked)
    assert families[int(best[0])].corridor_mm == corridor_mm


def test_equivalent_designs_are_those_within_half_an_hour_best_first() -> None:
    families = [Office("slow", 1.0)] * 4
    found = made("office", families, [4.5, 5.0, 4.499, 4.7], [1.0] * 4, [2.0] * 4)
    assert equivalent_columns(found, wearer=0, judgements=STANDARD) == [1, 3, 0]


def test_a_frame_too_shallow_for_any_corridor_is_computed_and_not_recommended() -> None:
    answer = advise(desk(fit={"fitting_height_mm": 14.9, "lens_depth_mm": 30}))
    option = answer.option("general_progressive")
    assert option.design.corridor_mm == 11.0
    assert not option.recommendable
    assert "frame_too_shallow" in option.excluded_by
    fits = advise(desk(fit={"fitting_height_mm": 15.0, "lens_depth_mm": 30}))
    assert "frame_too_shallow" not in fits.option("general_progressive").excluded_by


def test_text_too_small_for_any_lens_is_not_served() -> None:
    tiny = examples.screen(text_height_mm=1.8)  # 9.5 arcmin at 65 cm
    answer = advise(examples.case(tiny, add_d=2.0))
    for option in answer.options:
        assert option.comfortable_h == 0.0
        assert abs(option.not_served_h - 6.0) <= EXACT


def test_without_an_add_only_distance_lenses_and_the_present_pair_are_computed() -> None:
    answer = advise(desk(add_d=None, present_pair={"kind": "sv_near", "design": {"add_d": 1.5}}))
    assert {option.option for option in answer.options} == {"sv_distance", "present_pair"}
    assert answer.provisional
    assert answer.usable_accommodation_d.basis == "age"
    assert answer.recommendation.verdict != "firm"


def test_no_glasses_are_an_option_for_weak_myopes_only() -> None:
    def options(sphere_d: float) -> set[str]:
        eye = examples.eye(2.0, sphere_d=sphere_d)
        return {one.option for one in advise(desk(wearer={"right": eye, "left": eye})).options}

    assert "unaided" in options(-1.5)
    assert "unaided" not in options(-0.5)
    assert "unaided" not in options(-4.25)
    assert "unaided" not in options(0.5)
