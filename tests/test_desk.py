"""Where the screen could go: limits, the order of changes, and nothing harmful ever."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from engine.answer.held import Desk, comfortable_share_of
from engine.answer.options import PRESENT, Solver
from engine.answer.plans import Plan
from engine.case.scene import wearers_of
from engine.case.targets import size_cm
from engine.desk import moves, places
from engine.desk.moves import best_move
from engine.desk.places import Place
from engine.desk.stations import stations
from engine.kernel.draws import Draws
from engine.kernel.search import Views, comfortable_shares
from engine.lenses.lens import owned_lens
from engine.tables import Judgements
from tests import examples
from tests.plainly import plainly

JUDGED = Judgements.standard()
GENERATE = (Phase.explicit, Phase.reuse, Phase.generate)
"""Without looking for a smaller example of what fails: one example takes half a second."""
STOP_MM = 26.5
SCREEN_HEIGHT_CM = 24 * 2.54 * 9 / math.hypot(16, 9)


def lens_of(case, option: str):
    return next(one.lens for one in Solver(case, JUDGED).options() if one.name == option)


def wearers_in(case):
    return wearers_of([case], judgements=JUDGED)


def measured_h(case, lens) -> float:
    """Return the comfortable hours of the day as measured, through one lens held."""
    desk = Desk(Draws(case, judgements=JUDGED, cubes=1))
    (held,) = desk.hours_of([(lens, False)])
    return float(held.as_measured_h[0].sum())


def target(**more):
    return examples.case(examples.screen(**more)).targets[0]


def obstacle(place: Place, **more) -> str | None:
    (found,) = places.obstacles(target(**more), [place], stop_mm=STOP_MM, judgements=JUDGED)
    return found


UPRIGHT = {"tilt_deg": 0.0}
HALF = SCREEN_HEIGHT_CM / 2


@pytest.mark.parametrize(
    ("name", "start", "just_in", "just_out"),
    [
        ("near", {"distance_cm": 60}, Place(-20.0, 50.0, 0.0), Place(-20.0, 49.9, 0.0)),
        ("far", {"distance_cm": 80}, Place(-20.0, 90.0, 0.0), Place(-20.0, 90.1, 0.0)),
        ("high", {}, Place(-HALF, 65.0, 0.0), Place(-HALF + 0.1, 65.0, 0.0)),
        ("desk", {}, Place(-47.0 + HALF, 65.0, 0.0), Place(-47.1 + HALF, 65.0, 0.0)),
        (
            "desk",
            {"desk_below_eye_cm": 40},
            Place(-37.0 + HALF, 65.0, 0.0),
            Place(-37.1 + HALF, 65.0, 0.0),
        ),
        ("tilt", {}, Place(-20.0, 65.0, 20.0), Place(-20.0, 65.0, 20.1)),
    ],
)
def test_each_limit_of_a_place_at_it_and_just_beyond(name, start, just_in, just_out):
    placed = {**UPRIGHT, "top_above_eye_cm": 0.0, "text_height_mm": 5.0, **start}
    assert obstacle(just_in, **placed) is None
    assert obstacle(just_out, **placed) == name


def test_the_whole_screen_stays_within_60_degrees_below_level():
    """A deep desk lets the desk limit go, so that the 60 deg stand alone."""
    placed = {
        **UPRIGHT,
        "top_above_eye_cm": -20.0,
        "distance_cm": 55,
        "desk_below_eye_cm": 110,
        "text_height_mm": 5,
    }
    reach = 55 + STOP_MM / 10

    def lowest_deg(centre: float) -> float:
        return math.degrees(math.atan2(HALF - centre, math.sqrt(reach**2 - centre**2)))

    heights = np.arange(-48.0, -30.0, 0.05)
    inside = [height for height in heights if lowest_deg(height) <= 60.0]
    assert obstacle(Place(float(inside[0]), 55.0, 0.0), **placed) is None
    assert obstacle(Place(float(inside[0]) - 0.05, 55.0, 0.0), **placed) == "low"


@pytest.mark.parametrize(("tilt_deg", "name"), [(0.0, None), (20.0, "low")])
def test_tilting_the_top_away_brings_the_bottom_edge_nearer_and_steeper(tilt_deg, name):
    """At -39 cm the bottom edge of a screen 32 cm high is 57.3 deg below level, 61.0 with the tilt.

    Level distance sqrt(52.65^2 - 39^2) = 35.37 cm; the edge 39 + 16 cos t below the eyes and
    35.37 - 16 sin t away.
    """
    level = math.sqrt(52.65**2 - 39.0**2)
    tilt = math.radians(tilt_deg)
    below, away = 39.0 + 16.0 * math.cos(tilt), level - 16.0 * math.sin(tilt)
    assert abs(math.degrees(math.atan2(below, away)) - (61.0 if name else 57.3)) <= 0.1
    placed = {
        "diagonal_in": None,
        "aspect": None,
        "width_cm": 50.0,
        "height_cm": 32.0,
        "top_above_eye_cm": -10.0,
        "distance_cm": 50,
        "tilt_deg": 20.0,
        "desk_below_eye_cm": 110,
        "text_height_mm": 5,
    }
    assert obstacle(Place(-39.0, 50.0, tilt_deg), **placed) == name


def test_text_stays_legible():
    """16 arcmin (ISO 9241-3) of 3.6 mm is 77.3 cm: h = 2 d tan(a/2)."""
    limit_cm = 0.36 / (2 * math.tan(math.radians(16 / 60) / 2))
    assert abs(limit_cm - 77.3) <= 0.1
    placed = {**UPRIGHT, "top_above_eye_cm": 0.0}
    assert obstacle(Place(-20.0, limit_cm - 0.05, 0.0), **placed) is None
    assert obstacle(Place(-20.0, limit_cm + 0.05, 0.0), **placed) == "text"


def test_a_move_is_at_most_30_cm():
    placed = {**UPRIGHT, "centre_above_eye_cm": -16.0, "top_above_eye_cm": None, "distance_cm": 60}
    placed["text_height_mm"] = 6.0
    placed["desk_below_eye_cm"] = 90
    assert obstacle(Place(-46.0, 60.0, 0.0), **placed) is None
    assert obstacle(Place(-46.1, 60.0, 0.0), **placed) == "move"
    assert obstacle(Place(-34.0, 84.0, 0.0), **placed) is None
    assert obstacle(Place(-34.1, 84.1, 0.0), **placed) == "move"


def test_fixed_screens_and_laptops():
    lower = Place(-20.0, 65.0, 5.0)
    assert obstacle(lower, movable=False) == "fixed"
    assert obstacle(lower, laptop=True) == "laptop"
    assert obstacle(Place(-15.0, 65.0, 5.0), top_above_eye_cm=-5, laptop=True) is None


def test_a_laptop_that_is_only_tilted_is_not_lowered():
    laptop = target(laptop=True, top_above_eye_cm=-5.1234)
    stays = places.place_of(laptop, stop_mm=STOP_MM).raised(0.0)
    tilted = replace(stays, tilt_deg=stays.tilt_deg + 5.0)
    assert places.obstacles(laptop, [tilted], stop_mm=STOP_MM, judgements=JUDGED) == [None]


def desks():
    return st.builds(
        lambda distance, top, diagonal, tilt, text, deep, laptop, add: examples.case(
            examples.screen(
                distance_cm=distance,
                top_above_eye_cm=top,
                diagonal_in=diagonal,
                tilt_deg=tilt,
                text_height_mm=text,
                desk_below_eye_cm=deep,
                laptop=laptop,
            ),
            examples.paper(),
            add_d=add,
            owned_pairs=[{"kind": "general_progressive"}],
        ),
        distance=st.floats(45, 95),
        top=st.floats(-25, 20),
        diagonal=st.sampled_from([14.0, 19.0, 24.0, 27.0, 34.0]),
        tilt=st.floats(0, 25),
        text=st.floats(2, 5),
        deep=st.floats(35, 60),
        laptop=st.booleans(),
        add=st.sampled_from([1.0, 1.5, 2.0, 2.5]),
    )


@given(case=desks())
@settings(max_examples=12, deadline=None, phases=GENERATE)
def test_nothing_silly_or_harmful_is_ever_suggested(case):
    """Every suggested place is measured again here, by plain geometry."""
    solver = Solver(case, JUDGED)
    lens = owned_lens(case.owned_pairs[0], case, wearers=solver.wearers, judgements=JUDGED)
    plan = Plan(case, (solver.option(PRESENT, lens, pair=case.owned_pairs[0]),), (0,))
    move = best_move(plan, solver.draws)
    if move is not None:
        _assert_harmless(case.targets[0], move)


def _assert_harmless(screen, move):
    place, (_, height) = move.place, size_cm(screen)
    half = height / 2 * math.cos(math.radians(place.tilt_deg))
    assert 50 - 1e-6 <= place.distance_cm <= 90 + 1e-6
    assert place.centre_above_eye_cm + half <= 1e-6
    assert place.centre_above_eye_cm - half >= 3 - screen.desk_below_eye_cm - 1e-6
    assert math.hypot(move.change.up_cm, move.change.farther_cm) <= 30 + 1e-6
    assert place.tilt_deg <= 20 + 1e-6 or move.change.tilt_deg == 0.0
    assert move.change.up_cm >= -1e-6 or not screen.laptop
    arcmin = 2 * math.degrees(math.atan(screen.text_height_mm / 20 / place.distance_cm)) * 60
    assert arcmin >= 16 - 1e-6 or move.change.farther_cm <= 1e-6


TAPED = {"trial_add_d": 2.0, "nearest_clear_cm": 35, "farthest_clear_cm": 58}


@pytest.mark.parametrize("measured_ranges", [[], [TAPED]])
def test_the_map_agrees_with_the_search_place_by_place(measured_ranges):
    """At each place: a quarter, a half and a quarter of 12 cm higher, of there, and 12 cm lower."""
    case = examples.case(examples.screen(), measured_ranges=measured_ranges)
    lens = lens_of(case, "office")
    found = moves.desk_map(wearers_in(case), case.targets[0], lens=lens, judgements=JUDGED)
    assert found.share.shape == (46, 25)
    for i, j in ((15, 5), (26, 12), (38, 20)):
        shares = []
        for up_cm in (-12.0, 0.0, 12.0):
            height_cm = float(found.heights_cm[i]) + up_cm
            moved = places.moved(case, 0, Place(height_cm, float(found.distances_cm[j]), 5.0))
            shares.append(measured_h(moved, lens) / case.day_h)
        expected = shares[0] / 4 + shares[1] / 2 + shares[2] / 4
        assert abs(found.share[i, j] - expected) <= 1e-9


def test_the_smoothed_share_is_near_the_share_expected_over_the_draws():
    """What the map shows stands for the hours: off by less than a quarter of the screen anywhere.

    Of a progressive of add 2.00 at these 25 places 0.10 on average, 0.22 at most; of an office lens
    0.03 and 0.11; of single vision 0.03 and 0.10.
    """
    case = examples.case(examples.screen(top_above_eye_cm=0))
    lens, wearers = lens_of(case, "general_progressive"), wearers_in(case)
    draws = Draws(case, judgements=JUDGED)
    tried = [
        Place(height, distance, 5.0)
        for height in (-38.0, -30.0, -22.0, -14.0, -6.0)
        for distance in (52.0, 60.0, 68.0, 76.0, 84.0)
    ]
    smoothed = moves.expected_shares(wearers, case.targets[0], tried, lens=lens, judgements=JUDGED)
    off = []
    for place, share in zip(tried, smoothed, strict=True):
        there = Draws(places.moved(case, 0, place), judgements=JUDGED, like=draws)
        rows = slice(1, there.first_cube.stop)
        off.append(abs(comfortable_share_of(there, 0, lens, rows=rows).mean() - share))
    assert float(np.mean(off)) <= 0.12
    assert max(off) <= 0.23


@settings(max_examples=25, deadline=None)
@given(
    height_cm=st.floats(-60, 30),
    distance_cm=st.floats(40, 100),
    sphere_d=st.sampled_from([-9.0, -3.0, 0.5, 6.0]),
    option=st.sampled_from(["general_progressive", "office", "sv_computer"]),
)
def test_chin_ups_left_out_of_the_map_change_nothing(height_cm, distance_cm, sphere_d, option):
    """A part of the map is looked at over the chin-ups it can be seen at, not over all."""
    assume(abs(height_cm) < 0.9 * distance_cm)
    eyes = {side: examples.eye(sphere_d=sphere_d) for side in ("right", "left")}
    case = examples.case(examples.screen(), wearer=eyes)
    place, wearers = Place(height_cm, distance_cm, 5.0), wearers_in(case)
    lens = lens_of(case, option)
    with plainly():
        found = moves.measured_shares(
            wearers, case.targets[0], [place], lens=lens, judgements=JUDGED
        )
        whole = moves.places_scene(wearers, case.targets[0], [place], judgements=JUDGED)
        share = comfortable_shares(
            Views(whole, JUDGED), lens.kind, lens.family, np.array([lens.free_d])
        )
    assert abs(found[0] - share[0]) <= 1e-12


def test_height_is_tried_before_distance_before_tilt():
    screen = target(top_above_eye_cm=0.0, distance_cm=65)
    now = places.place_of(screen, stop_mm=STOP_MM)
    kinds = []
    for place in places.moves(screen, stop_mm=STOP_MM, judgements=JUDGED):
        kind = 1 if place.distance_cm != now.distance_cm else 0
        kinds.append(2 if place.tilt_deg != now.tilt_deg else kind)
    assert kinds == sorted(kinds)
    assert set(kinds) == {0, 1, 2}


def test_a_raised_seat_lowers_everything_on_the_desk():
    case = examples.case(examples.screen(desk_below_eye_cm=45), examples.paper(), examples.far())
    raised = places.seat_raised(case, by_cm=4, judgements=JUDGED)
    assert [one.top_above_eye_cm for one in raised.targets] == [2, None, None]
    assert raised.targets[0].desk_below_eye_cm == 49
    assert raised.targets[1].centre_above_eye_cm == -34
    assert raised.targets[2].centre_above_eye_cm == 0
    # Papers 42 cm away and 30 cm below: level distance sqrt(44.65^2 - 30^2) = 33.07 cm, so from
    # eyes 4 cm higher sqrt(33.07^2 + 34^2) - 2.65 = 44.78 cm.
    assert abs(raised.targets[1].distance_cm - 44.78) <= 0.01
    assert raised.targets[2].distance_cm == case.targets[2].distance_cm


def test_enlarged_text_brings_hours_through_the_lens_held():
    case = examples.case(examples.screen(text_height_mm=2.6))
    larger = places.text_enlarged(case, 0, factor=2.0)
    lens = lens_of(case, "general_progressive")
    assert measured_h(larger, lens) > measured_h(case, lens)


def test_the_station_that_stands_in_the_way_is_named():
    case = examples.case(
        examples.screen(name="office screen"),
        examples.screen(name="standing screen", distance_cm=95, top_above_eye_cm=10),
        activities=[
            examples.activity(4, name="office", **{"office screen": 1.0}),
            examples.activity(3, name="standing", **{"standing screen": 1.0}),
        ],
        add_d=2.5,
    )
    options = Solver(case, JUDGED).options()
    found = stations(case, judgements=JUDGED)
    assert found is not None
    shares = [station.share for station in found.stations]
    assert shares == sorted(shares)
    assert found.serves_all == (shares[0] >= JUDGED.station_enough_share)
    seen = {"office": 0, "standing": 1}
    assert found.screen == seen[found.stations[0].activity]
    for option in options:
        if option.result.recommendable:
            hours = option.hours.comfortable_h.mean(axis=0)
            spent = [activity.hours for activity in case.activities]
            assert min(hours / spent) <= shares[0] + 1e-9


def test_moved_keeps_the_size_of_the_letters():
    case = examples.case(examples.screen(text_height_mm=None, text_arcmin=20.0))
    moved = places.moved(case, 0, Place(-20.0, 80.0, 5.0))
    expected_mm = 2 * 650 * math.tan(math.radians(20 / 60) / 2)
    assert abs(moved.targets[0].text_height_mm - expected_mm) <= 1e-9
    assert moved.targets[0].text_arcmin is None
    assert replace(Place(0, 1, 2), tilt_deg=3).tilt_deg == 3
