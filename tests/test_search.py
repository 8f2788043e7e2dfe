"""The search: hours add up, the best design is the best by the rules, a batch is its members."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

from engine.assemble import advise
from engine.case.model import Case, Design
from engine.case.scene import scene_of
from engine.kernel.search import (
    Candidates,
    Views,
    best_columns,
    candidates,
    comfortable_shares,
    equivalent_columns,
    shares,
)
from engine.lenses.families import General, Office, SingleVision
from engine.lenses.kinds import KINDS
from engine.tables import Judgements
from tests import examples

pytestmark = pytest.mark.usefixtures("plain_search")

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
        hours = views.scene.hours(alone.comfortable, seated_only=not KINDS[kind].may_cover_distance)
        assert abs(float(hours[0] - found.comfortable_h[0, column])) <= EXACT
        only = comfortable_shares(views, KINDS[kind], family, found.free_d[:, column])
        assert np.array_equal(only, alone.comfortable)


@pytest.mark.parametrize("kind", KIND_IDS)
def test_shares_are_shares(kind: str) -> None:
    views = views_of(desk(add_d=1.25))
    found = candidates(views, KINDS[kind])
    for column, index in enumerate(found.family):
        part = shares(views, KINDS[kind], found.families[index], found.free_d[:, column])
        grades = (part.comfortable, part.awkward, part.blurred, part.not_served)
        for values in grades:
            assert values.min() >= 0.0
            assert values.max() <= 1.0 + EXACT
        assert np.abs(sum(grades) - 1.0).max() <= EXACT


def test_sharp_with_a_bent_neck_is_awkward_and_soft_in_ease_is_blurred() -> None:
    """One power all over: a screen a little too far for it, and one too high for the neck."""
    near = KINDS["sv_near"]
    family = near.families(STANDARD)[0]
    # At rest a lens of +1.75 sees 57 cm: 85 cm ask 0.57 D less, which lies between the limit of
    # this text and 1.7 times it.
    soft = views_of(examples.case(examples.screen(distance_cm=85, top_above_eye_cm=-5), add_d=1.75))
    limit_d = float(soft.scene.limit_d[0])
    assert limit_d < 1.75 - 100 / 85 < STANDARD.usable_blur_ratio * limit_d
    found = shares(soft, near, family, np.array([1.75]))
    assert found.blurred[0] > 0.9
    assert found.awkward[0] == 0.0
    high = views_of(examples.case(examples.screen(distance_cm=50, top_above_eye_cm=30), add_d=2.0))
    found = shares(high, near, family, np.array([2.0]))
    assert found.awkward[0] > 0.2
    assert found.blurred[0] == 0.0


def test_hours_of_the_draws_are_averaged_and_a_design_stays_a_design() -> None:
    views = views_of(desk(), desk(age_years=60), desk(age_years=50))
    found = candidates(views, KINDS["office"])
    one = found.expected()
    assert one.comfortable_h.shape == (1, found.free_d.shape[1])
    mean = found.comfortable_h.mean(axis=0)
    assert np.abs(one.comfortable_h[0] - mean).max() <= EXACT
    assert np.array_equal(one.free_d[0], found.free_d[0])


def test_how_many_designs_are_searched() -> None:
    """Add 2.00: office near 1.25 to 2.00, degression 0.75 to 2.25, top at least +0.25, 2 falls."""
    found = {kind: candidates(views_of(desk(add_d=2.0)), KINDS[kind]) for kind in KINDS}
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
    views = views_of(*cases)
    together = {kind: candidates(views, KINDS[kind]) for kind in KIND_IDS}
    for index, case in enumerate(cases):
        own_views = views_of(case)
        alone = {kind: candidates(own_views, KINDS[kind]) for kind in KIND_IDS}
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
    kind: str, families: list[Any], hours: list[float], free_d: list[float], add_d: float = 2.0
) -> Candidates:
    """Invented candidates of one wearer."""
    powers = np.array([free_d])
    later = [
        family.later(add_d=np.array([[add_d]]), free_d=powers[:, [at]], judgements=STANDARD)[0, 0]
        for at, family in enumerate(families)
    ]
    return Candidates(
        kind=KINDS[kind],
        families=tuple(families),
        family=np.arange(len(families)),
        free_d=powers,
        comfortable_h=np.array([hours]),
        later=np.array([later]),
    )


def best_of(found: Candidates, *liked: Design) -> int:
    return int(best_columns(found, judgements=STANDARD, liked=liked)[0])


@pytest.mark.parametrize(("behind_h", "weaker_wins"), [(0.099, True), (0.101, False)])
def test_single_vision_within_a_tenth_of_an_hour_goes_by_least_plus(
    behind_h: float, weaker_wins: bool
) -> None:
    found = made("sv_computer", [SingleVision("computer")] * 2, [5.0, 5.0 - behind_h], [1.5, 1.25])
    assert best_of(found) == (1 if weaker_wins else 0)


@pytest.mark.parametrize(("behind_h", "wins"), [(0.099, True), (0.101, False)])
def test_an_office_lens_within_a_tenth_of_an_hour_takes_the_full_near_power(
    behind_h: float, wins: bool
) -> None:
    found = made("office", [Office("slow", 1.0)] * 2, [5.0, 5.0 - behind_h], [1.75, 2.0])
    assert best_of(found) == (1 if wins else 0)


@pytest.mark.parametrize(("add_d", "degression_d"), [(1.25, 0.75), (1.5, 1.5)])
def test_then_it_sees_as_far_as_it_can_without_a_caution_of_its_own(
    add_d: float, degression_d: float
) -> None:
    """Up to an add of 1.25 more than the least degression is warned of."""
    for order in itertools.permutations([0.75, 1.0, 1.5]):
        families = [Office("slow", one) for one in order]
        found = made("office", families, [5.0] * 3, [add_d] * 3, add_d)
        assert order[best_of(found)] == degression_d


@pytest.mark.parametrize(
    ("hours", "liked_mm", "corridor_mm"),
    [
        ([5.0, 4.95, 4.91], None, 14.0),
        ([5.0, 4.95, 4.89], None, 12.5),
        ([5.0, 4.89, 4.8], None, 11.0),
        ([5.0, 4.95, 4.91], 11.0, 11.0),
        ([5.0, 4.95, 4.89], 14.0, 12.5),
        ([4.0, 4.6, 5.0], 11.0, 14.0),
    ],
)
def test_the_longest_corridor_within_a_tenth_of_an_hour_or_the_liked_one(
    hours: list[float], liked_mm: float | None, corridor_mm: float
) -> None:
    families = [General(11.0), General(12.5), General(14.0)]
    found = made("general_progressive", families, hours, [0.0] * 3)
    liked = [] if liked_mm is None else [Design(add_d=2.0, corridor_mm=liked_mm)]
    assert families[best_of(found, *liked)].corridor_mm == corridor_mm


def test_a_kind_that_nobody_can_make_has_no_best_design() -> None:
    found = made("office", [Office("slow", 1.0)] * 2, [np.nan, np.nan], [2.0] * 2)
    assert best_columns(found, judgements=STANDARD).tolist() == [-1]


def test_equivalent_designs_are_those_within_half_an_hour_best_first() -> None:
    families = [Office("slow", 1.0)] * 4
    found = made("office", families, [4.5, 5.0, 4.499, 4.7], [2.0] * 4)
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
    answer = advise(desk(add_d=None, owned_pairs=[{"kind": "sv_near", "design": {"add_d": 1.5}}]))
    assert {option.option for option in answer.options} == {"sv_distance", "present_pair"}
    assert answer.provisional
    assert answer.usable_accommodation_d.basis == "age"
    assert answer.recommendation.verdict != "firm"


def test_no_glasses_are_an_option_for_the_short_sighted_and_for_who_sees_well_without() -> None:
    def options(sphere_d: float) -> set[str]:
        eye = examples.eye(2.0, sphere_d=sphere_d)
        return {one.option for one in advise(desk(wearer={"right": eye, "left": eye})).options}

    for sphere_d, can in ((-1.5, True), (-6.0, True), (-0.25, True), (0.25, True), (0.5, False)):
        assert ("unaided" in options(sphere_d)) is can, sphere_d
