"""Postures: the view against plain vectors, windows by brute force, grades by brute force."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.case.model import Case
from engine.case.read import build_case
from engine.case.scene import Scene, scene_of
from engine.kernel.clearness import Clearness, Demands
from engine.kernel.details import runs
from engine.kernel.pairs import Pairs, Rows
from engine.kernel.posture import (
    Band,
    View,
    any_posture,
    awkward,
    blur_of,
    chin_ups_deg,
    comfortable,
    far_within_deg,
    gaze_for_all,
    gaze_limits,
    most_imbalance_pd,
    sideways_limits,
    view_for_windows,
    window_samples,
)
from engine.kernel.search import Views, shares
from engine.lenses.families import Bifocal, Family, Field, General, Office, SingleVision
from engine.lenses.kinds import KINDS
from engine.lenses.surfaces import general_surface, office_surface
from engine.tables import Judgements
from tests.lens_points import lens_side_mm
from tests.oracles import brute_force, head_and_lens

pytestmark = pytest.mark.usefixtures("plain_search")

J = Judgements.standard()
DESIGN = brute_force.Face(65.0, -16.0, 53.1, 29.9, 8.0)
SMALL = brute_force.Face(65.0, 0.0, 2.0, 2.0, 0.0)


def made(
    *,
    face: brute_force.Face = DESIGN,
    sphere_d: float = 0.0,
    add_d: float = 2.0,
    offset_cm: float = 0.0,
    fit: dict[str, float] | None = None,
    left_sphere_d: float | None = None,
) -> Case:
    """An invented wearer before one screen."""
    left = sphere_d if left_sphere_d is None else left_sphere_d
    return build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {
                "age_years": 55,
                "right": {"sphere_d": sphere_d, "add_d": add_d},
                "left": {"sphere_d": left, "add_d": add_d},
            },
            "fit": fit or {},
            "targets": [
                {
                    "name": "screen",
                    "kind": "screen",
                    "distance_cm": face.distance_cm,
                    "centre_above_eye_cm": face.centre_above_eye_cm,
                    "width_cm": face.width_cm,
                    "height_cm": face.height_cm,
                    "tilt_deg": face.tilt_deg,
                    "offset_cm": offset_cm,
                    "text_height_mm": 3.0,
                }
            ],
            "activities": [
                {"name": "desk", "hours": 6, "looks": [{"target": "screen", "share": 1.0}]}
            ],
        }
    )


def scene(**changes: object) -> Scene:
    return scene_of([made(**changes)], judgements=J)  # type: ignore[arg-type]


def centre_of(one: Scene) -> int:
    """The middle point of a face."""
    return int(np.flatnonzero(one.middle & (one.row == 4))[0])


def person_of(one: Scene) -> brute_force.Person:
    w = one.wearers
    return brute_force.Person(
        *(
            float(values[0])
            for values in (
                w.usable_d,
                w.vertical_power_d,
                w.stop_mm,
                w.tilt_deg,
                w.lowest_mm,
                w.highest_mm,
                w.half_width_mm,
                w.head_turn_more_deg,
                w.eye_sideways_more_deg,
                w.gaze_min_more_deg,
                w.gaze_max_more_deg,
                w.window_factor,
                w.astigmatism_weight,
            )
        )
    )


def band_of(grade: str) -> Band:
    """Make it when asked: a module tried in the place of the real one then makes it."""
    return comfortable(J) if grade == "comfortable" else awkward(J)


@pytest.mark.parametrize("sphere_d", [-6.0, -1.5, 0.0, 4.0])
@pytest.mark.parametrize("offset_cm", [0.0, 35.0])
def test_lens_points_are_those_of_plain_vectors(sphere_d: float, offset_cm: float) -> None:
    one = scene(sphere_d=sphere_d, offset_cm=offset_cm)
    chin_up = np.array([-38.0, -20.0, -7.5, 0.0, 2.0, 14.5])
    view = View(one, chin_up_deg=chin_up, band=comfortable(J), through_lens=True)
    w, rounding = one.wearers, 1e-9
    for at in range(0, len(one.share), 7):
        point = np.array([one.forward_mm[at], one.right_mm[at], -one.up_mm[at]])
        for column, chin_up_deg in enumerate(chin_up):
            seen = head_and_lens.met(
                point,
                chin_up_deg=float(chin_up_deg),
                head_turn_deg=J.comfortable_head_turn_deg,
                stop_mm=float(w.stop_mm[0]),
                tilt_deg=float(w.tilt_deg[0]),
                power_d=float(w.vertical_power_d[0]),
            )
            assert abs(view.gaze_down_deg[at, column] - seen.gaze_down_deg) <= rounding
            assert abs(view.points.x_mm[at, column] - seen.x_mm) <= rounding
            assert abs(view.points.y_mm[at, column] - seen.y_mm) <= rounding


def test_adding_angles_instead_of_turning_the_head_costs_less_than_a_millimetre() -> None:
    """Eyes left up to 15 degrees sideways: 0.9 mm across the lens, 0.3 mm along it; ahead exact.

    The design adds elevation and chin-up; a head that is turned and then pitched sees a point off
    to the side a little elsewhere.
    """
    one = scene(offset_cm=35.0)
    widest = {"ahead": [0.0, 0.0], "aside": [0.0, 0.0]}
    for at in range(0, len(one.share), 3):
        point = np.array([one.forward_mm[at], one.right_mm[at], -one.up_mm[at]])
        for chin_up_deg in (-25.0, -12.0, 0.0, 2.0):
            place = {"chin_up_deg": chin_up_deg, "head_turn_deg": 15.0, "stop_mm": 26.5}
            by_angles = head_and_lens.met(point, tilt_deg=9.0, power_d=0.0, **place)
            turned = head_and_lens.met_by_rotation(point, tilt_deg=9.0, **place)
            if by_angles.eye_sideways_deg > 15.0:
                continue
            kept = widest["aside" if by_angles.eye_sideways_deg > 0.0 else "ahead"]
            kept[0] = max(kept[0], abs(by_angles.x_mm - turned.x_mm))
            kept[1] = max(kept[1], abs(by_angles.y_mm - turned.y_mm))
    assert max(widest["ahead"]) <= 1e-9
    assert 0.1 < widest["aside"][0] <= 0.95
    assert 0.05 < widest["aside"][1] <= 0.35


def test_no_glasses_bend_nothing_and_cut_nothing() -> None:
    one = scene(sphere_d=-3.0)
    chin_up = np.array([-40.0, 0.0, 25.0])
    bare = View(one, chin_up_deg=chin_up, band=any_posture(J), through_lens=False)
    worn = View(one, chin_up_deg=chin_up, band=any_posture(J), through_lens=True)
    assert bare.in_frame.all()
    assert not worn.in_frame.all()
    assert np.array_equal(bare.gaze_down_deg, worn.gaze_down_deg)
    below = worn.gaze_down_deg > 5.0
    assert np.all(worn.points.y_mm[below] > bare.points.y_mm[below])  # minus lens: eye turns less


@pytest.mark.parametrize(
    ("changed", "by_mm"), [({"lens_down_mm": 3.0}, 3.0), ({"lens_down_mm": -1.0}, -1.0)]
)
def test_a_lens_that_sits_lower_is_met_higher_up(changed: dict[str, float], by_mm: float) -> None:
    one = scene()
    moved = replace(
        one, wearers=replace(one.wearers, **{k: np.array([v]) for k, v in changed.items()})
    )
    views = [
        View(each, chin_up_deg=np.array([-5.0]), band=comfortable(J), through_lens=True)
        for each in (one, moved)
    ]
    shift = views[1].points.y_mm - views[0].points.y_mm
    assert np.abs(shift - by_mm).max() <= 1e-9


def changed(one: Scene, **values: float) -> Scene:
    """The same desk with other values of its one wearer."""
    others = {name: np.array([value]) for name, value in values.items()}
    return replace(one, wearers=replace(one.wearers, **others))


def test_an_error_of_the_head_zero_is_added_to_what_is_read() -> None:
    """A head that stands 3 degrees further up than it is read sees like one read 3 higher."""
    one = scene(sphere_d=-2.0)
    off = View(
        changed(one, head_zero_deg=3.0),
        chin_up_deg=np.array([-8.0]),
        band=comfortable(J),
        through_lens=True,
    )
    true = View(one, chin_up_deg=np.array([-5.0]), band=comfortable(J), through_lens=True)
    assert np.abs(off.points.y_mm - true.points.y_mm).max() <= 1e-9
    assert np.abs(off.gaze_down_deg - true.gaze_down_deg).max() <= 1e-9


@pytest.mark.parametrize("grade", ["comfortable", "awkward"])
@pytest.mark.parametrize("head_zero_deg", [0.0, 2.0])
def test_the_gaze_shared_by_all_grades_is_that_of_each(grade: str, head_zero_deg: float) -> None:
    one = changed(scene(sphere_d=1.0, offset_cm=20.0), head_zero_deg=head_zero_deg)
    asked = {"band": band_of(grade), "through_lens": True, "judgements": J}
    shared = view_for_windows(one, gaze=gaze_for_all(one, judgements=J), **asked)
    alone = view_for_windows(one, **asked)
    assert np.array_equal(shared.chin_up_deg, alone.chin_up_deg)
    for name in ("tangent", "allowed", "in_frame"):
        assert np.array_equal(getattr(shared, name), getattr(alone, name))
    assert np.array_equal(shared.points.y_mm, alone.points.y_mm)
    assert shared.allowed.any()


@pytest.mark.parametrize("eye_share", [0.0, 0.33, 0.5])
def test_who_turns_the_eyes_looks_through_the_side_of_the_lens(eye_share: float) -> None:
    """The eyes take their share of an azimuth, or what the head leaves if that is more.

    Where on the lens that is: `lens_point_mm`, which has its published rows.
    """
    one = changed(scene(sphere_d=0.0, offset_cm=10.0), eyes_first=eye_share)
    view = View(one, chin_up_deg=np.array([0.0]), band=comfortable(J), through_lens=True)
    azimuth_deg = np.degrees(np.arctan2(np.abs(one.right_mm), one.forward_mm))
    assert azimuth_deg.min() < J.comfortable_head_turn_deg < azimuth_deg.max()
    left_deg = np.maximum(azimuth_deg - J.comfortable_head_turn_deg, 0.0)
    eye_deg = np.maximum(left_deg, eye_share * azimuth_deg)
    expected_mm = lens_side_mm(
        azimuth_tangent=np.tan(np.radians(eye_deg)),
        gaze_tangent=view.tangent[:, 0],
        stop_mm=one.wearers.stop_mm[0],
        pantoscopic_deg=one.wearers.tilt_deg[0],
    )
    assert np.abs(view.points.x_mm[:, 0] - expected_mm).max() <= 1e-9


@pytest.mark.parametrize("half_width_mm", [25.0, 6.0])
@pytest.mark.parametrize("part", [False, True])
def test_pairs_are_what_a_window_can_take_of_a_view(half_width_mm: float, part: bool) -> None:
    """Every run of postures in loops, windows of two sizes; narrow lenses end at their sides."""
    one = scene_of([made(left_sphere_d=1.5, offset_cm=25.0), made()], judgements=J)
    widths = np.full(2, half_width_mm)
    one = replace(one, wearers=replace(one.wearers, half_width_mm=widths))
    view = View(one, chin_up_deg=np.arange(-20.0, 2.1, 0.5), band=awkward(J), through_lens=True)
    pairs, kind = Pairs.of(view, samples=np.array([9, 21])), KINDS["general_progressive"]
    if part:
        pairs = pairs.take(np.arange(0, len(pairs.point), 3))
    field = General(12.5).field(view.points, view.wearers)
    balanced = pairs.balanced(kind)
    assert balanced is not None
    here, at = np.zeros(view.tangent.shape, dtype=bool), 0
    for row, point in enumerate(pairs.point):
        postures, wide = np.flatnonzero(view.within[point]), (9, 21)[one.point_wearer[point]]
        end = at + pairs.rows.count[row]
        assert end - at == len(postures)
        assert pairs.rows.samples[row] == wide
        for name in ("x_mm", "y_mm"):
            of_pairs, of_view = (getattr(each.points, name) for each in (pairs, view))
            assert np.abs(of_pairs[at:end, 0] - of_view[point, postures]).max() <= 1e-12
        usable = view.usable(kind, field)[point, postures]
        assert np.array_equal(balanced[at:end, 0], usable)
        begins = [list(range(a, a + wide)) == list(postures[k : k + wide]) for k, a in
                  enumerate(postures)]  # fmt: skip
        assert np.array_equal(pairs.rows.begins[at:end], begins)
        assert any(begins)
        here[point, postures], at = True, end
    assert at == len(pairs.points.x_mm)
    assert (half_width_mm < 10.0) == view.may_pass_sides()
    if not part:
        for sample, who in ((9, 0), (21, 1)):
            can = runs(view.within, sample).any(axis=1) & (one.point_wearer == who)
            assert np.array_equal(
                np.flatnonzero(can), np.sort(pairs.point[pairs.rows.samples == sample])
            )
            assert can.any()


def test_what_lies_behind_a_right_angle_is_not_seen() -> None:
    """A page far below and a chin far up: the sum of angles passes 90 degrees."""
    low = scene(face=brute_force.Face(50.0, -44.0, 2.0, 2.0, 60.0))
    view = View(
        low, chin_up_deg=np.array([-40.0, 25.0, 30.0]), band=any_posture(J), through_lens=True
    )
    declination = math.degrees(math.asin(440.0 / 526.5))
    assert declination + 30.0 > 85.0
    assert list(view.allowed[centre_of(low)]) == [True, False, False]
    assert np.isfinite(view.points.y_mm).all()


def test_what_a_band_allows_at_its_edges() -> None:
    """Chin-up -25 and +2 inside, half a degree beyond outside; the eye from -5 to 35 down."""
    one = scene(face=SMALL)
    view = View(
        one,
        chin_up_deg=np.array([-25.5, -25.0, -5.0, 2.0, 2.5]),
        band=comfortable(J),
        through_lens=True,
    )
    middle = centre_of(one)
    gaze = view.gaze_down_deg[middle]
    assert gaze[1] < -5.0  # chin down by 25 leaves the eye looking up: not allowed either
    assert list(view.allowed[middle]) == [False, False, bool(gaze[2] >= -5.0), True, False]
    wide = View(one, chin_up_deg=np.array([-40.5, 15.0, 15.5]), band=awkward(J), through_lens=True)
    assert list(wide.allowed[middle]) == [False, True, False]


def test_the_eye_may_turn_sideways_as_far_as_the_grade_says() -> None:
    """15 of head and 15 of eye: 30 is the last azimuth that is comfortable."""
    for azimuth_deg, allowed in ((29.8, True), (30.2, False)):
        offset = 67.65 * math.sin(math.radians(azimuth_deg))
        one = scene(face=SMALL, offset_cm=offset)
        view = View(one, chin_up_deg=np.array([0.0]), band=comfortable(J), through_lens=True)
        assert bool(view.allowed[centre_of(one), 0]) is allowed
        assert view.points.x_mm[centre_of(one), 0] > 6.0


@pytest.mark.parametrize(
    ("grade", "low_deg", "high_deg"), [("comfortable", -5.0, 35.0), ("awkward", -15.0, 45.0)]
)
def test_how_far_up_and_down_the_eye_may_turn(grade: str, low_deg: float, high_deg: float) -> None:
    """Every place from 30 above to 55 below, head level: allowed inside the limits and nowhere."""
    allowed, gaze = [], []
    for centre_cm in np.arange(35.0, -55.0, -0.5):
        one = scene(face=replace(SMALL, centre_above_eye_cm=float(centre_cm)))
        view = View(one, chin_up_deg=np.array([0.0]), band=band_of(grade), through_lens=True)
        allowed.append(bool(view.allowed[centre_of(one), 0]))
        gaze.append(float(view.gaze_down_deg[centre_of(one), 0]))
    inside = np.array(gaze)[allowed]
    outside = np.array(gaze)[~np.array(allowed)]
    step = 1.0  # half a centimetre at 65 cm is half a degree; lower down up to one
    assert abs(inside.min() - low_deg) <= step
    assert abs(inside.max() - high_deg) <= step
    assert not np.any((outside >= low_deg) & (outside <= high_deg))


def test_the_eye_can_be_told_how_far_to_turn() -> None:
    """Level gaze through an upright lens: the stop distance times the tangent."""
    one = scene(face=SMALL, fit={"pantoscopic_deg": 0})
    turns = np.array([0.0, 10.0, 30.0])
    view = View(
        one.points_at(np.full(3, centre_of(one))),
        chin_up_deg=np.array([[0.0]]),
        band=any_posture(J),
        through_lens=True,
        eye_azimuth_deg=turns,
    )
    assert np.abs(view.points.x_mm[:, 0] - 26.5 * np.tan(np.radians(turns))).max() <= 1e-9


def test_far_things_may_stand_10_degrees_above_the_gaze() -> None:
    """And no more, however high the thing."""
    case = made().model_dump(exclude_none=True, by_alias=True)
    far = {"name": "board", "kind": "far", "distance_cm": 300, "centre_above_eye_cm": 100}
    case["targets"] = [far | {"text_arcmin": 20}]
    case["activities"][0]["looks"] = [{"target": "board", "share": 1.0}]
    one = scene_of([build_case(case)], judgements=J)
    fine = np.arange(0.0, 15.0, 0.02)
    view = View(one, chin_up_deg=fine, band=comfortable(J), through_lens=True)
    gaze = view.gaze_down_deg[0, view.allowed[0]]
    assert abs(gaze.min() + 10.0) <= 0.05  # a step of this scan


def test_a_far_target_is_judged_from_the_free_posture() -> None:
    case = made().model_dump(exclude_none=True, by_alias=True)
    far = {"name": "board", "kind": "far", "distance_cm": 300, "centre_above_eye_cm": 30}
    far["text_arcmin"] = 20
    case["targets"] = [far]
    case["activities"][0]["looks"] = [{"target": "board", "share": 1.0}]
    one = scene_of([build_case(case)], judgements=J)
    free = float(one.free_chin_up_deg[0])
    assert free > 2.0  # a board above eye level: chin up beyond the comfortable band
    view = view_for_windows(one, band=comfortable(J), through_lens=True, judgements=J)
    allowed = view.chin_up_deg[0, view.allowed[0]]
    assert abs(allowed.min() - (free - 5.0)) <= 0.5  # one step of the scan
    assert abs(allowed.max() - (free + 5.0)) <= 0.5


def test_the_scan_is_the_grid_of_the_design() -> None:
    whole = chin_ups_deg(low=-90.0, high=90.0, judgements=J)
    assert (whole[0], whole[-1], len(whole)) == (-45.0, 30.0, 151)
    part = chin_ups_deg(low=-25.0, high=2.0, judgements=J)
    assert (part[0], part[-1], len(part)) == (-25.0, 2.0, 55)
    assert list(chin_ups_deg(low=-0.3, high=0.3, judgements=J)) == [0.0]
    assert window_samples(J) == 9


def clear_with(field: Field, powers: np.ndarray, **asked: Any) -> np.ndarray:
    """Whether some window is clear, (points, powers), of a field at every point and posture."""
    usable, samples = asked.pop("usable"), asked.pop("samples")
    points, postures = usable.shape
    rows = Rows.of_postures(
        np.tile(np.arange(postures), points),
        count=np.full(points, postures),
        samples=np.full(points, samples),
    )
    names = ("offset_d", "astigmatism_d", "usable", "held")
    of_pairs = {name: getattr(field, name) for name in names}
    for name, values in of_pairs.items():
        if values is not None and values.size > 1:
            of_pairs[name] = values.reshape(-1, 1)
    found = Clearness(
        Field(**of_pairs, everywhere=field.everywhere),
        demands=Demands(rows, **asked),
        usable=usable.reshape(-1, 1),
    )
    return found.points(powers, ratios=(1.0,))


@pytest.mark.parametrize("samples", [1, 2, 3, 9])
@pytest.mark.parametrize("with_lines", [False, True])
def test_windows_by_brute_force(samples: int, with_lines: bool) -> None:
    """Random lenses, every run of postures in loops."""
    rng = np.random.default_rng(3)
    shape = (40, 23)
    offset = np.cumsum(rng.normal(0.0, 0.08, shape), axis=1)
    astigmatism = np.abs(np.cumsum(rng.normal(0.0, 0.08, shape), axis=1))
    held = np.arange(23) >= rng.integers(5, 23, (40, 1)) if with_lines else None
    usable = rng.random(shape) < 0.98
    demand, limit = rng.uniform(0.5, 3.0, (40, 1)), np.full((40, 1), 0.35)
    powers = np.array([[0.5, 1.0, 1.5, np.nan]]) + np.zeros((40, 1))
    field = Field(np.where(held, 1.5, offset) if with_lines else offset, astigmatism, None, held)
    weight = rng.uniform(0.5, 0.77, (40, 1))
    found = clear_with(
        field,
        powers,
        usable=usable,
        demand_d=demand,
        accommodation_d=np.full((40, 1), 0.4),
        weight=weight,
        limit_d=limit,
        samples=samples,
    )
    wanted = np.zeros(powers.shape, dtype=bool)
    for point, column in np.ndindex(powers.shape):
        in_a_row = 0
        for at in range(shape[1]):
            free = 0.0 if with_lines and held[point, at] else powers[point, column]
            power, asked = field.offset_d[point, at] + free, demand[point, 0]
            defocus = max(asked - 0.4 - power, power - asked, 0.0)
            counted = astigmatism[point, at] * weight[point, 0]
            clear = math.hypot(defocus, counted) <= 0.35
            in_a_row = in_a_row + 1 if clear and usable[point, at] else 0
            wanted[point, column] |= in_a_row >= samples
    wanted[:, 3] = False  # a power that cannot be ordered
    assert np.array_equal(found, wanted)
    assert found[:, :3].any()
    assert not found[:, :3].all()


def test_a_lens_of_one_power_needs_only_one_posture_tried() -> None:
    """The short cut for single vision says what the loop over postures says."""
    one = scene(sphere_d=-1.0)
    view = View(one, chin_up_deg=np.arange(-25.0, 2.1, 0.5), band=comfortable(J), through_lens=True)
    field = SingleVision("computer").field(view.points, view.wearers)
    known = {
        "usable": view.usable(KINDS["sv_computer"], field),
        "demand_d": one.demand_d[:, None],
        "accommodation_d": view.wearers.usable_d,
        "weight": view.wearers.astigmatism_weight,
        "limit_d": np.full_like(one.demand_d, 0.4)[:, None],
        "samples": 9,
    }
    powers = np.array([[0.75, 1.25, 1.75, 2.25]]) + np.zeros_like(known["demand_d"])
    short = clear_with(field, powers, **known)
    spread = Field(np.zeros(known["usable"].shape), np.zeros(known["usable"].shape))
    assert np.array_equal(short, clear_with(spread, powers, **known))
    assert short.any()
    assert not short.all()


@pytest.mark.parametrize("free_d", [0.5, 1.25, 2.0])
def test_blur_and_power_at_postures_by_hand(free_d: float) -> None:
    one = scene(sphere_d=-1.0)
    view = View(one, chin_up_deg=np.array([-8.0, 0.0]), band=any_posture(J), through_lens=True)
    field = Office("slow", 1.25).field(view.points, view.wearers)
    free, demand = np.full((len(one.share), 1), free_d), one.demand_d[:, None]
    power = field.power_d(free)
    weight = np.linspace(0.5, 0.77, len(demand))[:, None]
    half = np.full_like(demand, 0.25)
    blur = blur_of(field, free_d=free, demand_d=demand, accommodation_d=half, weight=weight)
    for point, posture in np.ndindex(blur.shape):
        x, y = view.points.x_mm[point, posture], view.points.y_mm[point, posture]
        per_d, per_a = office_surface("slow").exact(x_mm=x, y_mm=y)
        table = 0.007  # D, of the table of the surface at a degression of 1.25
        assert abs(power[point, posture] - (free_d - 1.25 * (1.0 - per_d))) <= table
        asked, got = float(demand[point, 0]), float(power[point, posture])
        defocus = max(asked - 0.25 - got, got - asked, 0.0)
        counted = 1.25 * per_a * weight[point, 0]
        assert abs(blur[point, posture] - math.hypot(defocus, counted)) <= table


def test_imbalance_ends_a_grade() -> None:
    """Eyes 2.50 D apart: 1 pd is reached 4 mm from the point where the prism is measured."""
    one = scene(sphere_d=0.0, left_sphere_d=2.5)
    kind = KINDS["general_progressive"]
    view = View(one, chin_up_deg=np.arange(-25.0, 2.1, 0.5), band=comfortable(J), through_lens=True)
    field = General(12.5).field(view.points, view.wearers)
    usable, y = view.usable(kind, field), view.points.y_mm
    reference = -4.0  # mm, below the fitting point
    assert np.array_equal(
        usable, view.allowed & view.in_frame & (np.abs(y - reference) <= 4.0 + 1e-9)
    )
    assert usable.any()
    assert np.abs(view.imbalance_pd(kind) - 0.25 * np.abs(y - reference)).max() <= 1e-9


def general_lens(corridor_mm: float, add_d: float) -> brute_force.Lens:
    surface = general_surface(corridor_mm)

    def at(x: float, y: float) -> tuple[float, float]:
        power, astigmatism = surface.exact(x_mm=x, y_mm=y)
        return add_d * float(power), add_d * float(astigmatism)

    return at


def office_lens(fall: str, degression_d: float, near_d: float) -> brute_force.Lens:
    surface = office_surface(fall)

    def at(x: float, y: float) -> tuple[float, float]:
        power, astigmatism = surface.exact(x_mm=x, y_mm=y)
        return near_d - degression_d * (1.0 - float(power)), degression_d * float(astigmatism)

    return at


def lined_lens(line_drop_mm: float, upper_d: float, add_d: float) -> brute_force.Lens:
    def at(x: float, y: float) -> tuple[float, float] | None:
        below, within = -line_drop_mm - y, 14.0 - abs(x)
        outside = below <= -1.5 or within <= -1.5
        inside = below >= 1.5 and within >= 1.5
        return (add_d if inside else upper_d, 0.0) if inside or outside else None

    return at


NARROW = {
    "head_turn_more_deg": -9.0, "eye_sideways_more_deg": -4.0, "gaze_min_more_deg": 4.5,
    "gaze_max_more_deg": -8.0, "far_within_more_deg": -2.0, "window_factor": 2.0,
    "astigmatism_weight": 0.76,
}  # fmt: skip
WIDE = {
    "head_turn_more_deg": 7.0, "eye_sideways_more_deg": 5.0, "gaze_min_more_deg": -5.0,
    "gaze_max_more_deg": 5.0, "far_within_more_deg": 2.0, "window_factor": 0.5,
    "astigmatism_weight": 0.5,
}  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "family", "free_d", "lens"),
    [
        ("sv_computer", SingleVision("computer"), 1.5, lambda _x, _y: (1.5, 0.0)),
        ("general_progressive", General(12.5), 0.0, general_lens(12.5, 2.0)),
        ("office", Office("slow", 1.25), 2.0, office_lens("slow", 1.25, 2.0)),
        ("bifocal_desk", Bifocal(4.0, 1.5, True), 1.25, lined_lens(4.0, 1.25, 2.0)),
        ("bifocal_ft28", Bifocal(5.0, 1.5, False), 0.0, lined_lens(5.0, 0.0, 2.0)),
    ],
    ids=["single vision", "general", "office", "desk bifocal", "bifocal"],
)
@pytest.mark.parametrize(("sphere_d", "own"), [(0.0, {}), (-4.0, {}), (0.0, NARROW), (-4.0, WIDE)])
def test_grades_by_brute_force(
    kind: str,
    family: Family,
    free_d: float,
    lens: Callable[..., object],
    sphere_d: float,
    own: dict[str, float],
) -> None:
    """Every point and posture in loops; a point may fall the other way at a limit."""
    one = changed(scene(sphere_d=sphere_d), **own)
    found = shares(Views(one, J), KINDS[kind], family, np.array([free_d]))
    wanted = brute_force.shares(
        DESIGN,
        person_of(one),
        lens,  # type: ignore[arg-type]
        limit_d=float(one.limit_d[0]),
        judgements=J,
    )
    two_pairs_of_cells = 4 / 81 + 1e-9  # the table of the surface differs by 0.01 D from it
    assert abs(found.comfortable[0] - wanted[0]) <= two_pairs_of_cells
    assert abs(found.awkward[0] - wanted[1]) <= two_pairs_of_cells
    assert abs(found.blurred[0] - wanted[2]) <= two_pairs_of_cells
    assert sum(wanted) > 0.2


def test_what_a_wearer_bears_more_than_usual_widens_the_band_of_comfort_alone() -> None:
    """Worked out by plain sums: the usual limit of the table, and what this wearer bears more."""
    more = {
        "head_turn_more_deg": 7.0,
        "eye_sideways_more_deg": 5.0,
        "gaze_min_more_deg": -4.0,
        "gaze_max_more_deg": 6.0,
        "far_within_more_deg": 2.0,
        "imbalance_more_pd": 0.4,
    }
    wearers = changed(scene(), **more).wearers
    for band, share in ((comfortable(J), 1.0), (awkward(J), 0.0)):
        turned, reached = sideways_limits(band, wearers)
        for is_far, gaze in ((False, band.gaze_down_deg), (True, band.far_gaze_down_deg)):
            lowest, highest = gaze_limits(band, wearers, is_far=np.array([is_far]))
            assert degrees(lowest) == pytest.approx(gaze[0] - share * 4.0, abs=1e-6)
            assert degrees(highest) == pytest.approx(gaze[1] + share * 6.0, abs=1e-6)
        assert degrees(turned) == pytest.approx(band.head_turn_deg + share * 7.0, abs=1e-6)
        assert degrees(reached) == pytest.approx(band.eye_sideways_deg + share * 5.0, abs=1e-6)
        assert most_imbalance_pd(band, wearers)[0] == band.imbalance_pd + share * 0.4
        if band.far_within_deg is not None:
            assert far_within_deg(band, wearers)[0] == band.far_within_deg + share * 2.0


def degrees(tangent: Any) -> float:
    return math.degrees(math.atan(float(np.ravel(tangent)[0])))
