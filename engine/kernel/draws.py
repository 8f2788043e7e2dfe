"""Draw plausible wearers and desks around one case: every measuring error, every assumed value.

Four Latin hypercubes of 64 draws follow the case as it was measured, which is row 0. What was
measured errs by measuring_errors.csv; a value that nobody measured errs by assumed_spreads.csv in
addition. A lens stays as it is ordered.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.case.model import STEEPEST
from engine.case.scene import (
    THIRDS,
    Placed,
    Scene,
    Wearers,
    calibration_of,
    scene_of,
    scene_of_targets,
    usable_of,
    usual_limits,
    wearers_of,
)
from engine.case.targets import (
    centre_above_eye_cm,
    detail_arcmin,
    look_hours,
    size_cm,
    text_height_mm,
    tilt_deg,
)
from engine.optics.accommodation import STANDARD_TEST_DISTANCE_CM

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from engine.case.model import Case, Target, Turns
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Indices = NDArray[np.intp]

SLOPE_LOPSIDED = 1.0 / 7.0
"""The published range, 0.28 to 0.56, is not centred on 0.40 but a seventh of its half higher."""
SEED = 20260101
"""Any number would do; this one is held so that the same case gives the same bytes."""
CUBES = 4
IN_A_CUBE = 64
_WITHIN_A_STRATUM = (0.375, 0.875, 0.125, 0.625)
"""Where in its stratum the draw of each cube lies: the four cubes together are one fine one."""
_OF_WEARER = (
    "eye_height", "lean", "fitting_height", "slip", "head_zero", "slope", "focus", "blur",
    "made", "profile", "rotation_centre", "near_test", "vertex", "pantoscopic", "turns",
    "head_turn", "eye_sideways", "gaze_min", "gaze_max", "far_within", "imbalance", "window",
    "eye_share", "astigmatism",
)  # fmt: skip
_OF_TARGET = ("distance", "height", "tilt", "text")
_MOST = 12
"""Targets of a case, and activities, at most."""
_OF_LOOK_FROM = len(_OF_WEARER) + _MOST * len(_OF_TARGET)
_LEAST_TEXT = 0.3


@dataclass(frozen=True)
class Spreads:
    """How far each input may be off; the names are the ids of measuring_errors.csv."""

    eye_height: float
    lean: float
    own_distance: float
    own_height: float
    fitting_height: float
    slip: float
    head_zero: float
    slope: float
    usable: float
    blur: float
    made: float
    profile: float
    rotation_centre: float
    looks: float
    head_turn: float
    eye_sideways: float
    gaze_min: float
    gaze_max: float
    far_within: float
    imbalance: float
    window: float
    eye_share: float
    astigmatism: float

    @classmethod
    def standard(cls) -> Spreads:
        """Return the spreads as shipped in measuring_errors.csv."""
        return _standard_spreads()

    @classmethod
    def none(cls) -> Spreads:
        """Return no error at all: a start for `dataclasses.replace`."""
        return cls(**{field.name: 0.0 for field in fields(cls)})


@lru_cache(maxsize=1)
def _standard_spreads() -> Spreads:
    table = tables.by_id("measuring_errors")
    return Spreads(**{field.name: float(table[field.name]["spread"]) for field in fields(Spreads)})


def spreads_of(case: Case) -> Spreads:
    """Return the standard spreads; a taped range narrows focusing and blur tolerance."""
    standard, fitted = Spreads.standard(), calibration_of(case)
    if fitted is None:
        return standard
    blur = fitted.tolerance_sd_d / max(fitted.tolerance_d, 0.1)
    return replace(standard, usable=fitted.usable_sd_d, blur=min(blur, standard.blur))


_HEIGHTS = ("top_above_eye_cm", "centre_above_eye_cm")


@lru_cache(maxsize=64)
def assumed_spread(field: str, applies_to: str) -> float:
    """Return how far an assumed value may be off, by assumed_spreads.csv; 0 where it has no row.

    A height is one thing, by whichever of its two fields it is given.
    """
    names = _HEIGHTS if field in _HEIGHTS else (field,)
    for row in tables.rows("assumed_spreads"):
        if row["id"] in names and row["applies_to"] == applies_to:
            return float(row["spread"])
    return 0.0


@dataclass(frozen=True)
class Input:
    """One input somebody could measure.

    Attributes:
        field: its path in the case. values: (draws,) what it really is in each draw.
        assumed: nobody measured it yet.
    """

    field: str
    unit: str
    values: Floats
    assumed: bool


class Draws:
    """A case as it may really be: row 0 as measured, then the draws.

    Signs: eye_height_cm raises the eyes, lean_cm takes them away from what is looked at,
    lens_down_mm lowers the lens; blur is a factor on the blur limit.
    """

    def __init__(
        self,
        case: Case,
        *,
        judgements: Judgements,
        spreads: Spreads | None = None,
        cubes: int = CUBES,
        seed: int = SEED,
        like: Draws | None = None,
        stands: bool = False,
    ) -> None:
        """Keep the luck of `like`: draws of the same case with its desk moved.

        stands: everything is known to stand in front of the glasses.
        """
        self.case, self.judgements = case, judgements
        self.spreads = spreads_of(case) if spreads is None else spreads
        self.cubes, self.seed = cubes, seed
        self._is_checked = stands
        self._target_rank: list[int] = (
            _ranks(_target_keys(case)) if like is None else like._target_rank
        )
        self._activity_rank: list[int] = (
            _ranks(_activity_keys(case)) if like is None else like._activity_rank
        )

    def __len__(self) -> int:
        """Count the rows, the one as measured included."""
        return 1 + self.cubes * IN_A_CUBE

    @property
    def first_cube(self) -> slice:
        """Row 0 and the first hypercube: what designs are chosen on."""
        return slice(0, 1 + min(self.cubes, 1) * IN_A_CUBE)

    def _evenly(self, dimension: int) -> Floats:
        """Return one number from 0 to 1 a draw: each cube has one in each of its 64 strata."""
        return _even(self.seed, self.cubes, dimension)

    def _normal(self, dimension: int) -> Floats:
        """Return the same luck as normal numbers, (draws,)."""
        return _normal(self.seed, self.cubes, dimension)

    def _of_wearer(self, name: str) -> int:
        """Return the dimension of the hypercube that an error of the wearer is drawn by."""
        return _OF_WEARER.index(name)

    def _of_target(self, index: int, name: str) -> int:
        """Return the dimension of an error of one target, the same in whatever order they stand."""
        rank = self._target_rank[index]
        return len(_OF_WEARER) + rank * len(_OF_TARGET) + _OF_TARGET.index(name)

    def _normal_error(self, name: str, spread: float) -> Floats:
        """Return a normal error of the wearer in each row, none in row 0."""
        return _after_measured(spread * self._normal(self._of_wearer(name)))

    def _off(self, name: str, field: str) -> Floats:
        """Return the error of a value of the fit that may be assumed."""
        is_assumed = self.case.is_assumed(f"/fit/{field}")
        return self._normal_error(name, assumed_spread(field, "fit") if is_assumed else 0.0)

    @cached_property
    def lean_cm(self) -> Floats:
        """How much farther away the eyes are than measured, from everything, (rows,)."""
        return self._normal_error("lean", self.spreads.lean)

    @cached_property
    def eye_height_cm(self) -> Floats:
        """How much higher the eyes are than measured, (rows,)."""
        return self._normal_error("eye_height", self.spreads.eye_height)

    @cached_property
    def lens_down_mm(self) -> Floats:
        """How far the lens sits below where it was marked, (rows,)."""
        slip = self.spreads.slip * self._evenly(self._of_wearer("slip"))
        return self._normal_error("fitting_height", self.spreads.fitting_height) + (
            _after_measured(slip)
        )

    @cached_property
    def head_zero_deg(self) -> Floats:
        """Error of the zero of the head, (rows,)."""
        return self._normal_error("head_zero", self.spreads.head_zero)

    @cached_property
    def near_test_cm(self) -> Floats:
        """Distance the add was set for, (rows,)."""
        given = self.case.wearer.near_test_distance_cm
        usual = STANDARD_TEST_DISTANCE_CM if given is None else given
        is_assumed = given is None or self.case.is_assumed("/wearer/near_test_distance_cm")
        spread = assumed_spread("near_test_distance_cm", "wearer") if is_assumed else 0.0
        return np.maximum(usual + self._normal_error("near_test", spread), 20.0)

    @cached_property
    def usable_d(self) -> Floats:
        """Usable accommodation, never below 0, (rows,)."""
        value, basis = usable_of(self.case, judgements=self.judgements)
        if basis == "condition":
            return np.full(len(self), value)
        found = value + self._normal_error("focus", self.spreads.usable)
        if basis == "add":
            found = found + 100.0 / self.near_test_cm - 100.0 / self.near_test_cm[0]
        return np.maximum(found, 0.0)

    @cached_property
    def blur(self) -> Floats:
        """Factor on the blur limit, (rows,); who focuses well accepts less."""
        together = self.judgements.focus_blur_correlation
        own = np.sqrt(1.0 - together**2) * self._normal(self._of_wearer("blur"))
        tolerance = together * self._normal(self._of_wearer("focus")) + own
        return np.exp(_after_measured(self.spreads.blur * tolerance))

    @cached_property
    def own_limits(self) -> dict[str, Floats]:
        """How the wearer's own limits differ from the usual, (rows,) by field of `Wearers`."""
        turns = self.case.wearer.turns
        found = own_limits(
            lambda name: self._evenly(self._of_wearer(name)),
            turns=turns,
            spreads=self.spreads,
            judgements=self.judgements,
        )
        measured = usual_limits(self.judgements, turns=turns)
        return {
            name: np.concatenate([np.array([measured[name]]), drawn])
            for name, drawn in found.items()
        }

    @cached_property
    def made(self) -> Indices:
        """Which surface is made where a progressive one is ordered, (rows,); 0 in row 0."""
        even = self._evenly(self._of_wearer("made"))
        drawn = surface_made(even, of=int(self.spreads.made))
        return np.concatenate([np.zeros(1, dtype=np.intp), drawn])

    @cached_property
    def wearers(self) -> Wearers:
        """The wearer in each row."""
        spreads, of = self.spreads, self._of_wearer
        one = wearers_of([self.case], judgements=self.judgements)
        same = one.take(np.zeros(len(self), dtype=np.intp))
        slope_off = 2.0 * self._evenly(of("slope")) - 1.0 + SLOPE_LOPSIDED
        higher_mm = self._off("fitting_height", "fitting_height_mm")
        stop_off = self._normal_error("rotation_centre", spreads.rotation_centre)
        return replace(
            same,
            usable_d=self.usable_d,
            blur_tolerance=same.blur_tolerance * self.blur,
            stop_mm=same.stop_mm + stop_off + self._off("vertex", "vertex_mm"),
            tilt_deg=same.tilt_deg + self._off("pantoscopic", "pantoscopic_deg"),
            lowest_mm=np.minimum(same.lowest_mm - higher_mm, 0.0),
            highest_mm=np.maximum(same.highest_mm - higher_mm, 0.0),
            slope=same.slope + _after_measured(spreads.slope * slope_off),
            head_zero_deg=self.head_zero_deg,
            lens_down_mm=self.lens_down_mm,
            made=self.made,
            profile_down_mm=self._normal_error("profile", spreads.profile),
            **self.own_limits,
        )

    @property
    def measured_wearers(self) -> Wearers:
        """The wearer of row 0, alone."""
        return self.wearers.take(np.zeros(1, dtype=np.intp))

    def _own_error(self, index: int, name: str, field: str, measured: float) -> Floats:
        """Return what one target's own tape is off, in each row: more where nobody taped it."""
        target = self.case.targets[index]
        is_assumed = self.case.is_assumed(f"/targets/{index}/{field}")
        more = assumed_spread(field, target.kind) if is_assumed else 0.0
        dimension = self._of_target(index, name)
        return _after_measured(float(np.hypot(measured, more)) * self._normal(dimension))

    def own_distance_cm(self, index: int) -> Floats:
        """Return the error of the taped distance of a target, (rows,)."""
        return self._own_error(index, "distance", "distance_cm", self.spreads.own_distance)

    def own_height_cm(self, index: int) -> Floats:
        """Return the error of the taped height of a target, (rows,)."""
        field = height_field(self.case.targets[index])
        return self._own_error(index, "height", field, self.spreads.own_height)

    def tilt_error_deg(self, index: int) -> Floats:
        """Return the error of the tilt of a target, (rows,)."""
        return self._own_error(index, "tilt", "tilt_deg", 0.0)

    def text_factor(self, index: int) -> Floats:
        """Return the size of the text of a target over that of the case, (rows,)."""
        target = self.case.targets[index]
        off_mm = self._own_error(index, "text", "text_height_mm", 0.0)
        return np.maximum(1.0 + off_mm / text_height_mm(target), _LEAST_TEXT)

    @cached_property
    def activity_hours(self) -> Floats:
        """Hours a day on each target in each activity: (rows, activities, targets)."""
        case, spread = self.case, self.spreads.looks
        names = {target.name: place for place, target in enumerate(case.targets)}
        hours = np.zeros((len(self), len(case.activities), len(case.targets)))
        for place, activity in enumerate(case.activities):
            for name, spent in look_hours(activity).items():
                rank = _MOST * self._activity_rank[place] + self._target_rank[names[name]]
                even = self._evenly(_OF_LOOK_FROM + rank)
                factor = 1.0 + _after_measured(spread * (2.0 * even - 1.0))
                hours[:, place, names[name]] = spent * factor
            total = hours[:, place].sum(axis=1, keepdims=True)
            counts = total > 0.0  # the least number above 0 may leave none of itself to its parts
            hours[:, place] *= np.divide(
                activity.hours, total, out=np.zeros_like(total), where=counts
            )
        return hours

    def scene(
        self, rows: slice = slice(None), *, only: int | None = None, in_thirds: bool = False
    ) -> Scene:
        """Return the scene of some rows, a wearer a row.

        only: of one target alone. in_thirds: with a third of the points of each face, another one
        in the next row: their mean over some draws is that of all points.

        Raises
            InputRefusedError: a target that cannot stand where it was taped.
        """
        self._check_places()
        which = np.arange(len(self))[rows]
        wearers = self.wearers.take(which)
        seated = [not activity.needs for activity in self.case.activities]
        hours = self.activity_hours[which]
        parts = [
            self._placed(index, which, hours[:, :, index], hours[:, seated, index])
            for index in (range(len(self.case.targets)) if only is None else (only,))
        ]
        if in_thirds:
            parts = [replace(part, third=which % THIRDS) for part in parts]
        return scene_of_targets(
            wearers, parts, judgements=self.judgements, keeps_off_mm=KEEPS_OFF_MM
        )

    def _check_places(self) -> None:
        """Refuse what cannot stand as it was taped, by its field; a draw of it is never refused."""
        if not self._is_checked:
            scene_of([self.case], judgements=self.judgements)
            self._is_checked = True

    def _placed(self, index: int, which: Indices, hours: Floats, seated: Floats) -> Placed:
        """Set one target before some rows: its own errors first, then eyes that sit elsewhere."""
        target = self.case.targets[index]
        nominal_stop_mm = float(self.wearers.stop_mm[0])
        height_cm = centre_above_eye_cm(target, stop_mm=nominal_stop_mm)
        distance, above = stand_in_front(
            distance_cm=target.distance_cm + self.own_distance_cm(index)[which],
            centre_above_eye_cm=height_cm + self.own_height_cm(index)[which],
            offset_cm=target.offset_cm,
            forward_cm=self.lean_cm[which],
            down_cm=self.eye_height_cm[which],
        )
        measured = which == 0
        distance = np.where(measured, target.distance_cm, distance)
        above = np.where(measured, height_cm, above)
        tilt, count = tilt_deg(target), np.ones(len(which))
        width, height = size_cm(target)
        return Placed(
            wearers=np.arange(len(which), dtype=np.intp),
            order=np.full(len(which), index, dtype=np.intp),
            is_far=target.kind == "far",
            distance_cm=distance,
            centre_above_eye_cm=above,
            offset_cm=target.offset_cm * count,
            tilt_deg=None if tilt is None else tilt + self.tilt_error_deg(index)[which],
            width_cm=width * count,
            height_cm=height * count,
            arcmin=detail_arcmin(target) * self.text_factor(index)[which],
            hours=hours.sum(axis=1),
            seated_hours=seated.sum(axis=1),
        )

    def inputs(self) -> Iterator[Input]:
        """Yield what can be measured: all but the lens that will be made and the eye itself."""
        case = self.case
        for index, target in enumerate(case.targets):
            field = height_field(target)
            yield self._input(
                f"targets.{index}.distance_cm",
                "cm",
                target.distance_cm + self.own_distance_cm(index) + self.lean_cm,
            )
            yield self._input(
                f"targets.{index}.{field}",
                "cm",
                getattr(target, field) + self.own_height_cm(index) - self.eye_height_cm,
            )
            yield self._input(
                f"targets.{index}.tilt_deg",
                "deg",
                (tilt_deg(target) or 0.0) + self.tilt_error_deg(index),
            )
            yield self._input(
                f"targets.{index}.text_height_mm",
                "mm",
                text_height_mm(target) * self.text_factor(index),
            )
        wearers = self.wearers
        # A lens that sits lower is a fitting height ordered too small by as much.
        yield self._input(
            "fit.fitting_height_mm", "mm", wearers.fitting_height_mm - self.lens_down_mm
        )
        yield self._input(
            "fit.vertex_mm", "mm", case.fit.vertex_mm + self._off("vertex", "vertex_mm")
        )
        yield self._input("fit.pantoscopic_deg", "deg", wearers.tilt_deg)
        yield self._input("wearer.near_test_distance_cm", "cm", self.near_test_cm)
        yield self._input("wearer.head_zero_deg", "deg", self.head_zero_deg)
        yield self._input("wearer.usable_accommodation_d", "D", self.usable_d)
        yield self._input("wearer.blur_tolerance", "ratio", self.blur)
        yield self._input("wearer.turns", "", self.own_limits["eyes_first"])

    def _input(self, field: str, unit: str, values: Floats) -> Input:
        """Return an input by its path with dots; values: (rows,), row 0 left out."""
        path = "/" + field.replace(".", "/")
        never_given = {"wearer.near_test_distance_cm", "wearer.turns"}
        missing = field in never_given and getattr(self.case.wearer, field.split(".")[1]) is None
        return Input(field, unit, values[1:], missing or self.case.is_assumed(path))


def own_limits(
    even: Callable[[str], Floats],
    *,
    turns: Turns | None,
    spreads: Spreads,
    judgements: Judgements,
) -> dict[str, Floats]:
    """Draw how far the limits of wearers differ from the usual, by field of `Wearers`.

    even: numbers from 0 to 1 for a name. turns: what turns first, where the wearer was asked.
    """

    def within(name: str, most: float) -> Floats:
        return most * (2.0 * even(name) - 1.0)

    leads = even("turns") < judgements.eye_turner_share if turns is None else turns == "eyes"
    share = judgements.eye_turner_eye_share * np.exp(within("eye_share", spreads.eye_share))
    return {
        "eyes_first": np.where(leads, share, 0.0),
        "head_turn_more_deg": within("head_turn", spreads.head_turn),
        "eye_sideways_more_deg": within("eye_sideways", spreads.eye_sideways),
        "gaze_min_more_deg": within("gaze_min", spreads.gaze_min),
        "gaze_max_more_deg": within("gaze_max", spreads.gaze_max),
        "far_within_more_deg": within("far_within", spreads.far_within),
        "imbalance_more_pd": within("imbalance", spreads.imbalance),
        "window_factor": 2.0 ** (spreads.window * three_points(even("window"))),
        "astigmatism_weight": judgements.astigmatism_weight
        + within("astigmatism", spreads.astigmatism),
    }


def three_points(even: Floats) -> Floats:
    """Give -1, 0 or 1 for numbers from 0 to 1: the three points of a normal spread of 1/sqrt(3).

    The rule of Gauss and Hermite takes the outer points a sixth of the time each.

    >>> three_points(np.array([0.1, 0.5, 0.9])).tolist()
    [-1.0, 0.0, 1.0]
    """
    return np.where(even < 1.0 / 6.0, -1.0, np.where(even > 5.0 / 6.0, 1.0, 0.0))


def surface_made(even: Floats, *, of: int) -> Indices:
    """Return which of so many surfaces is made, by numbers from 0 to 1; 0 where there are none.

    >>> surface_made(np.array([0.0, 0.5, 0.999]), of=16).tolist()
    [1, 9, 16]
    """
    return np.minimum(1 + (even * of).astype(np.intp), of)


def height_field(target: Target) -> str:
    """Return the field that gives the height of a target."""
    return "centre_above_eye_cm" if target.top_above_eye_cm is None else "top_above_eye_cm"


def stand_in_front(
    *,
    distance_cm: Floats,
    centre_above_eye_cm: Floats,
    offset_cm: float,
    forward_cm: Floats | float = 0.0,
    down_cm: Floats | float = 0.0,
) -> tuple[Floats, Floats]:
    """Return the distance and height of a target, (rows,) each, as the eyes of a row see it.

    distance_cm, centre_above_eye_cm: taped. forward_cm: how far the eyes lean away from it;
    down_cm: how much higher they sit. Never nearer than 20 cm or than its height and sideways
    place allow.
    """
    near = np.maximum(distance_cm, NEAREST_CM)
    up, aside = centre_above_eye_cm - down_cm, abs(offset_cm)
    level = np.sqrt(np.maximum(near**2 - centre_above_eye_cm**2 - aside**2, 1.0))
    forward = np.maximum(level + forward_cm, 1.0)
    reach = np.sqrt(forward**2 + aside**2 + up**2)
    least = np.maximum(np.hypot(up, aside) / STEEPEST, NEAREST_CM)
    return np.maximum(reach, least), up


NEAREST_CM = 20.0
"""No target is drawn nearer."""
KEEPS_OFF_MM = 10.0
"""Nor any part of one nearer to the lens."""


def _after_measured(values: Floats) -> Floats:
    """Return errors of the draws after a row without any."""
    return np.concatenate([np.zeros(1), values])


@lru_cache(maxsize=512)
def _even(seed: int, cubes: int, dimension: int) -> Floats:
    """Return luck of one dimension, (draws,), the same for every case; see `Draws`."""
    parts = []
    for cube in range(cubes):
        strata = np.random.default_rng((seed, cube, dimension)).permutation(IN_A_CUBE)
        at = _WITHIN_A_STRATUM[cube % len(_WITHIN_A_STRATUM)]
        parts.append((strata + at) / IN_A_CUBE)
    return _kept(np.concatenate(parts))


@lru_cache(maxsize=512)
def _normal(seed: int, cubes: int, dimension: int) -> Floats:
    """Return the same as normal numbers."""
    return _kept(normal_of(_even(seed, cubes, dimension)))


def _kept(values: Floats) -> Floats:
    """Return values that nobody can change, since others are given them too."""
    values.setflags(write=False)
    return values


def normal_of(even: Floats) -> Floats:
    """Turn even numbers into normal ones, through the few strata there are."""
    known, which = np.unique(even, return_inverse=True)
    return np.array([_standard_normal(one) for one in known.tolist()])[which]


_standard_normal = lru_cache(maxsize=4 * CUBES * IN_A_CUBE)(NormalDist().inv_cdf)
"""Of even numbers that are the same for every case: the places of the strata."""


def _ranks(keys: list[str]) -> list[int]:
    """Return the place of each key in their order: luck then depends on no order asked."""
    order = sorted(range(len(keys)), key=lambda at: (keys[at], at))
    return [order.index(at) for at in range(len(keys))]


def _target_keys(case: Case) -> list[str]:
    """Say what each target is, without its name, with the hours spent on it."""
    spent = [
        [look_hours(one).get(target.name, 0.0) for one in case.activities]
        for target in case.targets
    ]
    return [
        json.dumps([target.model_dump(exclude={"name"}), sorted(hours)], sort_keys=True)
        for target, hours in zip(case.targets, spent, strict=True)
    ]


def _activity_keys(case: Case) -> list[str]:
    """Say what each activity is, without its name."""
    return [
        json.dumps([one.hours, sorted(one.needs), sorted(look_hours(one).values())])
        for one in case.activities
    ]
