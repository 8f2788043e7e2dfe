"""Work out beforehand what a crowd sees, so that the home file needs no engine.

Whether a wearer sees a point in comfort depends on where the point is and on nothing else of what
it belongs to. So a grid of points (how far to the side, how far down, how far away) serves every
screen: the file takes a screen apart into points and adds up. Pages and things across the room have
few places, and stand as they are.

Of every node, for the people of each add, through each design of each kind and through each pair
worn now: the share who see it in comfort; through a pair worn, also the share who see it in any
posture, and the mean and the mean square of their chin-up. All that is a matrix, nodes by columns.
Its columns are much alike, so it is kept as the product of two narrow ones, a byte a number.

`python -m engine.home.grid` writes app/home_file/grid.txt anew.
"""

from __future__ import annotations

import base64
import json
import struct
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from engine import tables
from engine.case.read import build_case
from engine.case.scene import NO_ACCOMMODATION, Scene, stop_mm_of
from engine.case.targets import REACH
from engine.home.answers import (
    ASPECTS,
    HomeAnswers,
    HomeReading,
    HomeScreen,
    answers_from,
    choices,
    lens_of_answer,
)
from engine.home.case import LAPTOP_BETWEEN_IN, LAPTOPS, case_content, desktop_presets
from engine.home.crowd import (
    OLDEST,
    PEOPLE,
    adds_of,
    chins_up_deg,
    crowd_with,
    kind_shares,
    middle_points,
    moves_cm,
    worn_shares,
)
from engine.home.numbers import number
from engine.kernel.draws import NEAREST_CM, SLOPE_LOPSIDED, Spreads, assumed_spread
from engine.kernel.search import candidates_of
from engine.lenses.kinds import KINDS
from engine.optics import workstation
from engine.optics.accommodation import blur_limit_d
from engine.tables import Judgements
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from numpy.typing import NDArray

    from engine.home.crowd import Crowd
    from engine.kernel.search import Views

    Floats = NDArray[np.float64]

MOST_KINDS = 3
"""More than three questions about lenses are none."""
FIVE = ((-2.857, 0.01126), (-1.3556, 0.22208), (0.0, 0.53333), (1.3556, 0.22208), (2.857, 0.01126))
"""Five places that stand for a normal distribution, deviations and weights (Gauss and Hermite)."""
FILE = Path(__file__).parents[2] / "app" / "home_file" / "grid.txt"
ASIDE_DEG = (0.0, 9.0, 14.0, 19.0, 25.0, 31.0, 37.0, 42.0)
DOWN_DEG = (-14.0, -10.0, -7.0, -4.0, -1.0, 2.0, 5.0, 8.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0,
            46.0, 53.0, 62.0)  # fmt: skip
AWAY_CM = (18.0, 21.0, 25.0, 27.0, 29.5, 32.0, 35.0, 38.5, 42.5, 47.5, 53.0, 60.0, 68.0, 78.0, 91.0,
           109.0, 135.0, 180.0, 260.0)  # fmt: skip
POINTS = (ASIDE_DEG, DOWN_DEG, AWAY_CM)
"""Where points are tried for comfort: nothing farther aside is comfortable to anybody."""
MIDDLES = (
    (0.0, 18.0, 36.0, 55.0),
    (-30.0, -20.0, -10.0, -3.0, 4.0, 11.0, 18.0, 26.0, 34.0, 42.0, 52.0, 65.0, 78.0),
    (17.0, 22.0, 28.0, 35.0, 44.0, 55.0, 70.0, 90.0, 120.0, 170.0, 250.0),
)
"""Where the middles of things are tried for the head, in any posture."""
PAGE_CM = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 57.0, 65.0, 75.0, 90.0, 115.0, 150.0)
"""Where pages are tried: all distances that can be told."""
TEXT_MM = 3.2
"""Height of the text at the nodes; that of screens differs by a few hundredths of the limit."""
RANK = {"clear": 42, "head": 30}
_OF_THINGS = 4.0
_SAMPLED = 97
"""Every so many nodes one is worked out anew to see whether the file is stale."""
_AT_ONCE = 150
"""Nodes side by side: with 64 people each their arrays stay in the cache."""
CHIN_DEG = 45.0
"""A chin-up is kept as a share of this."""
Axes = tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True)
class Found:
    """What people find at some nodes, and which columns say it.

    Attributes:
        clear: (nodes, columns) shares who see it in comfort: through the designs of each kind, as
            they are preferred, and through each pair worn.
        head: (nodes, columns) of each pair worn three: the share who see the middle at all, and
            of them the mean chin-up and its square.
        adds: of each add, where its columns are.
    """

    clear: Floats
    head: Floats
    adds: tuple[Columns, ...] = ()


@dataclass
class Columns:
    """Where the columns of one add are.

    Attributes:
        kinds: first column of `clear` and count, by kind.
        worn: column of `clear` and first column of `head`, by answer.
    """

    kinds: dict[str, tuple[int, int]] = field(default_factory=dict)
    worn: dict[str, tuple[int, int]] = field(default_factory=dict)


def all_adds(judgements: Judgements) -> list[float]:
    """Return every add that somebody of some age band needs."""
    return sorted({add for age in ages() for add, _ in adds_of(age, judgements=judgements)})


def ages() -> list[str]:
    """Return the age bands that are computed."""
    return [row["id"] for row in tables.rows("home_ages") if row["add_from_d"]]


def answers_worn() -> list[str]:
    """Return the answers to the question about glasses that tell what is worn, each pair once."""
    bare = ("bare_far", "bare_near")
    return [one for one in choices("glasses") if lens_of_answer(one) or one in bare]


def places_of(axes: Axes) -> Floats:
    """Return all places of a grid: (nodes, 3), degrees aside and down, and cm away."""
    found = np.meshgrid(*axes, indexing="ij")
    return np.stack([one.ravel() for one in found], axis=1)


def points_at(places: Floats, *, of_head: bool, judgements: Judgements) -> Found:
    """Return what people find at some points: either of the head, or what is clear in comfort."""

    def scene(crowd: Crowd) -> Scene:
        return _points_scene(crowd, places)

    return _found(_usual_desk(), None if of_head else scene, scene if of_head else None, judgements)


def thing_at(desk: HomeAnswers, *, judgements: Judgements) -> Found:
    """Return what they find at the second thing of a desk: one node."""

    def scene(crowd: Crowd) -> Scene:
        return crowd.scene(only=1)

    return _found(desk, scene, scene, judgements)


def _usual_desk(**more: Any) -> HomeAnswers:
    return HomeAnswers(age=ages()[0], screens=(HomeScreen(size_in=24.0),), **more)


def _found(
    desk: HomeAnswers,
    clear_scene: Callable[[Crowd], Scene] | None,
    head_scene: Callable[[Crowd], Scene] | None,
    judgements: Judgements,
) -> Found:
    """Return what the crowds of every kind and of every pair worn find at the nodes of a scene.

    clear_scene, head_scene: make the scene whose comfort or whose chin-up is wanted.
    """
    case = build_case(case_content(desk))
    adds = [(add, 1.0) for add in all_adds(judgements)]
    clear: list[Floats] = []
    head: list[Floats] = []
    told = tuple(Columns() for _ in adds)
    if clear_scene:
        crowd = crowd_with(case, adds, glasses=None, judgements=judgements)
        for views, columns in zip(crowd.views(clear_scene(crowd)), told, strict=True):
            for name, shares in _through_kinds(views):
                columns.kinds[name] = (len(clear), len(shares))
                clear += shares
    for glasses in answers_worn():
        crowd = crowd_with(case, adds, glasses=glasses, judgements=judgements)
        worn = worn_shares(crowd, clear_scene(crowd)).mean(axis=1) if clear_scene else []
        chins: Floats | list[Floats] = _chins(crowd, head_scene(crowd)) if head_scene else []
        for at, columns in enumerate(told):
            columns.worn[glasses] = (len(clear) + at, len(head) + 3 * at)
        clear += list(worn)
        head += list(chins)
    return Found(_side_by_side(clear), _side_by_side(head), told)


def _side_by_side(columns: list[Floats]) -> Floats:
    return np.stack(columns, axis=1) if columns else np.zeros((0, 0))


def _through_kinds(views: Views) -> Iterator[tuple[str, list[Floats]]]:
    """Yield each kind with its mean shares through every design, as designs are preferred."""
    for name in tables.by_id("home_kinds"):
        ((found, clear),) = candidates_of(views, [KINDS[name]])
        if clear.shape[1]:
            shares = views.scene.by_target(clear)
            means = shares.reshape(PEOPLE, -1, shares.shape[1]).mean(axis=0)
            order = np.argsort(found.expected().later[0], kind="stable")
            yield name, list(means.T[order])


def _chins(crowd: Crowd, scene: Scene) -> Floats:
    """Return for each add how many see the middles, their chin-up and its square, as means.

    (3 * adds, targets): shares of all people, chin-up in units of CHIN_DEG, 0 of who sees it not.
    """
    chin = chins_up_deg(crowd, scene.points_at(middle_points(scene)))
    seen = ~np.isnan(chin)
    share = np.where(seen, chin, 0.0) / CHIN_DEG
    told: Floats = np.stack([seen.astype(float), share, share**2], axis=1).mean(axis=2)
    return told.reshape(-1, told.shape[-1])


def _points_scene(crowd: Crowd, places: Floats) -> Scene:
    """Return a scene in which every point is a target of its own, before each of the people."""
    count, wearers = len(places), crowd.parts[0].wearers
    aside, down, away = np.tile(places, (PEOPLE, 1)).T
    of = np.repeat(np.arange(PEOPLE), count)
    reach = MM_PER_CM * away + wearers.stop_mm[of]
    level = reach * np.cos(np.radians(down))
    text_mm = TEXT_MM * crowd.draws.text_factor(0)[1 + of]
    limit = blur_limit_d(
        text_arcmin=workstation.text_arcmin(height_mm=text_mm, distance_cm=away),
        noticeable_d=wearers.blur_tolerance[of] * crowd.judgements.blur_limit_base_d,
    )
    every, none = np.ones(len(of)), np.zeros(len(of), dtype=bool)
    return Scene(
        wearers=wearers,
        target_wearer=of,
        target_hours=every,
        seated_hours=every,
        limit_d=limit,
        is_far=none,
        legible=~none,
        point_target=np.arange(len(of)),
        share=every,
        row=np.full(len(of), -1),
        middle=~none,
        forward_mm=level * np.cos(np.radians(aside)),
        right_mm=level * np.sin(np.radians(aside)),
        up_mm=-reach * np.sin(np.radians(down)),
        demand_d=workstation.demand_d(eye_to_point_mm=reach, stop_mm=wearers.stop_mm[of]),
    )


def desks() -> list[HomeAnswers]:
    """Return the desks whose second thing has a node: pages, then the other things.

    A page lies at every distance that can be told, and last where that is not known.
    """
    away = (*PAGE_CM, None)
    pages = [HomeReading(what=what, distance_cm=cm) for what in choices("reading") for cm in away]
    read = [_usual_desk(reading=(page,)) for page in pages]
    return read + [_usual_desk(others=(what,)) for what in choices("others")]


def work() -> list[tuple[Floats | HomeAnswers, bool]]:
    """Return all nodes in parts: points for comfort, middles for the head, desks for both."""
    parts: list[tuple[Floats | HomeAnswers, bool]] = []
    for axes, of_head in ((POINTS, False), (MIDDLES, True)):
        places = places_of(axes)
        many = np.array_split(places, 1 + len(places) // _AT_ONCE)
        parts += [(one, of_head) for one in many]
    return parts + [(desk, True) for desk in desks()]


def done(part: tuple[Floats | HomeAnswers, bool]) -> Found:
    """Work out a part of the work."""
    judgements, (what, of_head) = Judgements.standard(), part
    if isinstance(what, HomeAnswers):
        return thing_at(what, judgements=judgements)
    return points_at(what, of_head=of_head, judgements=judgements)


def whole_grid() -> Found:
    """Work out all nodes, in two processes."""
    with ProcessPoolExecutor(2) as pool:
        found = list(pool.map(done, work()))
    clear, head = (
        np.concatenate([part for one in found if (part := getattr(one, name)).size])
        for name in ("clear", "head")
    )
    return replace(found[-1], clear=clear, head=head)


def packed(found: Found) -> bytes:
    """Return the file of the grid: length of the head, the head as JSON, the matrices."""
    parts, matrices = b"", {}
    for name, axes in (("clear", POINTS), ("head", MIDDLES)):
        points = len(places_of(axes))
        nodes, columns, scale = narrow(getattr(found, name), rank=RANK[name], points=points)
        sizes = {"nodes": len(nodes), "count": len(columns)}
        matrices[name] = sizes | {"scale": [float(f"{one:.6g}") for one in scale]}
        parts += nodes.tobytes() + columns.tobytes()
    _, at = sample()
    more = {
        "adds": [asdict(one) for one in found.adds],
        "differ": differ(Judgements.standard()),
        "matrices": matrices,
        "sample": {name: getattr(found, name)[at[name]].mean(axis=1).tolist() for name in at},
    }
    head = json.dumps(header() | more, separators=(",", ":")).encode()
    return struct.pack("<I", len(head)) + head + parts


def narrow(
    values: Floats, *, rank: int, points: int
) -> tuple[NDArray[np.int8], NDArray[np.int8], Floats]:
    """Return a matrix as the product of two narrow ones, in bytes: nodes, columns, scale.

    values is about nodes @ diag(scale) @ columns.T. Those after so many points are things, which
    stand for themselves: they are kept more exactly.
    """
    weight = np.where(np.arange(len(values)) < points, 1.0, _OF_THINGS)[:, None]
    left, size, right = np.linalg.svd(weight * values, full_matrices=False)
    left, right = left[:, :rank] / weight, right[:rank].T
    most = np.abs(left).max(axis=0), np.abs(right).max(axis=0)
    scale = size[:rank] * most[0] * most[1] / 127.0**2
    both = zip((left, right), most, strict=True)
    nodes, columns = (np.rint(127.0 * one / top) for one, top in both)
    return nodes.astype(np.int8), columns.astype(np.int8), scale


def sample() -> tuple[Found, dict[str, list[int]]]:
    """Work out a few nodes alone, to show whether the file is stale; return which they are too."""
    judgements, desk = Judgements.standard(), len(PAGE_CM)
    thing = thing_at(desks()[desk], judgements=judgements)
    found, at = {}, {}
    for name, axes in (("clear", POINTS), ("head", MIDDLES)):
        places = places_of(axes)
        which = list(range(_SAMPLED // 2, len(places), _SAMPLED))
        points = points_at(places[which], of_head=name == "head", judgements=judgements)
        found[name] = np.concatenate([getattr(points, name), getattr(thing, name)])
        at[name] = [*which, len(places) + desk]
    return Found(found["clear"], found["head"], thing.adds), at


def header() -> dict[str, Any]:
    """Return everything else the file needs to know: axes, usual desks, limits."""
    judgements = Judgements.standard()
    usual = tables.by_id("presets")
    known = all_adds(judgements)
    pages, others = list(choices("reading")), list(choices("others"))
    return {
        "axes": {"clear": _axes(POINTS), "head": _axes(MIDDLES)},
        "ages": {
            age: [[known.index(add), weight] for add, weight in adds_of(age, judgements=judgements)]
            for age in ages()
        },
        "oldest": OLDEST,
        "no_accommodation": NO_ACCOMMODATION,
        "worn": {one: one for one in answers_worn()} | {"contacts": "bare_far"},
        "kinds": [
            {"id": name, "lined": KINDS[name].is_lined, "distance": KINDS[name].may_cover_distance}
            for name in tables.by_id("home_kinds")
        ],
        "lined": [one for one in answers_worn() if (worn := lens_of_answer(one)) and worn.is_lined],
        "range": NormalDist().inv_cdf(0.5 + number("range_share") / 2),
        "most_kinds": MOST_KINDS,
        "chin_deg": CHIN_DEG,
        "slope": judgements.free_posture_slope + Spreads.standard().slope * SLOPE_LOPSIDED,
        "screens": [_usual(row) for row in desktop_presets()],
        "laptops": [_usual(usual[name]) for name in LAPTOPS],
        "laptop_between_in": LAPTOP_BETWEEN_IN,
        "ratios": {name: workstation.aspect_ratio(aspect=one) for name, one in ASPECTS.items()},
        "gap_cm": number("screen_gap_cm"),
        "reach": REACH,
        "page_cm": PAGE_CM,
        "pages": {
            name: _usual(usual[name]) | {"first": at * (len(PAGE_CM) + 1)}
            for at, name in enumerate(pages)
        },
        "others": {
            name: _usual(usual[name]) | {"first": len(pages) * (len(PAGE_CM) + 1) + at}
            for at, name in enumerate(others)
        },
        "day": {
            name: number(name)
            for name in ("screen_weight", "reading_weight", "others_weight", "assumed_hours")
        },
        "spread": _spread(),
        "errors": FIVE,
        "points": int(judgements.points_a_side),
        "stop_cm": stop_mm_of(build_case(case_content(_usual_desk())), judgements=judgements)
        / MM_PER_CM,
        "nearest_cm": NEAREST_CM,
        "moves": moves_cm(),
        "limits": {
            "desk_below_eye_cm": judgements.desk_below_eye_cm,
            "move_cm": judgements.desk_move_max_cm,
            "near_cm": judgements.desk_distance_min_cm,
            "far_cm": judgements.desk_distance_max_cm,
            "above_desk_cm": judgements.desk_bottom_above_desk_cm,
            "below_deg": judgements.desk_below_level_max_deg,
            "legible_arcmin": judgements.legible_arcmin,
            "illegible_arcmin": judgements.illegible_arcmin,
            "same_design_h": judgements.same_design_h,
            "move_worth_h": judgements.move_worth_h,
            "equal_places_share": number("equal_places_share"),
            "worth_h": number("worth_h"),
            "best_within_share": number("best_within_share"),
        },
        "unsure_h": number("unsure_h"),
    }


DESKS = (
    {"screens": [{"size_in": 24.0}], "reading": [{"what": "papers"}]},
    {"screens": [{"size_in": 14.0, "form": "laptop"}], "others": ["colleague"]},
    {
        "screens": [{"size_in": 27.0, "distance_cm": 68.0}, {"size_in": 24.0, "side": "left"}],
        "reading": [{"what": "phone", "distance_cm": 36.0}],
    },
)
"""Invented desks at which it is seen how much people differ."""
DESKS_AGE = "55_59"
"""And an age at which every kind can be made."""


def differ(judgements: Judgements) -> dict[str, dict[str, float]]:
    """Return how much hours of people with one add differ, by the pair worn and kind of lens.

    The deviation of their hours over the sum, over the things, of hours times the root of share
    times what is left of it: 1 if each saw all of everything, or nothing.
    """
    found: dict[str, dict[str, list[Floats]]] = {"worn": {}, "kinds": {}}
    adds = adds_of(DESKS_AGE, judgements=judgements)
    for desk in DESKS:
        case = build_case(case_content(answers_from({"age": DESKS_AGE, **desk})))
        crowd = crowd_with(case, adds, glasses=None, judgements=judgements)
        for name, shares in kind_shares(crowd).items():
            found["kinds"].setdefault(name, []).append(_deviations(shares, crowd.hours))
        for glasses in answers_worn():
            crowd = crowd_with(case, adds, glasses=glasses, judgements=judgements)
            shares = worn_shares(crowd, crowd.scene())
            found["worn"].setdefault(glasses, []).append(_deviations(shares, crowd.hours))
    return {
        group: {name: round(_ratio(np.sum(many, axis=0)), 3) for name, many in one.items()}
        for group, one in found.items()
    }


def _ratio(sums: Floats) -> float:
    return float(sums[0] / max(sums[1], 1e-9))


def _deviations(shares: Floats, hours: Floats) -> Floats:
    """Return the deviation of hours and the largest it could be, summed over the adds, (2,)."""
    mean = np.clip(shares.mean(axis=1), 0.0, 1.0)
    most = (np.sqrt(mean * (1.0 - mean)) * hours).sum()
    return np.array([(shares @ hours).std(axis=1).sum(), most])


def _axes(axes: Axes) -> list[list[float]]:
    """Return degrees aside and down, and the distance as what is evenly spread of it: dioptres."""
    aside, down, away = axes
    return [list(aside), list(down), [round(100.0 / cm, 5) for cm in away]]


_USUAL = ("distance_cm", "top_above_eye_cm", "centre_above_eye_cm", "diagonal_in", "tilt_deg",
          "text_height_mm")  # fmt: skip


def _usual(row: Mapping[str, str]) -> dict[str, float]:
    return {field: float(row[field]) for field in _USUAL if row[field]}


def _spread() -> dict[str, float]:
    """Return how far a screen may be from where it was told and its text differ, one deviation."""
    standard = Spreads.standard()
    return {
        "away": float(np.hypot(standard.lean, standard.own_distance)),
        "away_assumed": assumed_spread("distance_cm", "screen"),
        "height": float(np.hypot(standard.eye_height, standard.own_height)),
        "height_assumed": assumed_spread("top_above_eye_cm", "screen"),
        "text_mm": assumed_spread("text_height_mm", "screen"),
    }


def main() -> None:
    """Write the grid anew."""
    text = base64.b64encode(packed(whole_grid())).decode("ascii")
    FILE.write_text(text + "\n", encoding="ascii")
    sys.stdout.write(f"{FILE}: {len(text)} bytes\n")


if __name__ == "__main__":
    main()
