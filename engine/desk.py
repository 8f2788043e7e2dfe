"""Where the screen could go: the cheapest change, tried before any lens.

A place is a height of the screen's centre against the eyes, a distance and a tilt. The design is
held over the map. Only places that harm nobody are suggested: see `obstacle`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine import workstation
from engine.accommodation import blur_limit_d
from engine.scene import Scene, Wearers, scene_of
from engine.search import Views, clear_shares
from engine.targets import centre_above_eye_cm, detail_arcmin, size_cm
from engine.targets import tilt_deg as tilt_of
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from engine.case import Case, Target
    from engine.details import Chosen
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

MAP_HEIGHTS, MAP_DISTANCES = 60, 25
STEP_CM = 1.0
"""A tape at a desk is good to a centimetre."""
TILTS_DEG = (0.0, 5.0, 10.0, 15.0, 20.0)
_ROUNDING = 1e-9
_CHUNK = 20


@dataclass(frozen=True)
class Place:
    """Where a screen stands.

    Attributes:
        centre_above_eye_cm: height of its centre against the eyes.
        distance_cm: bridge of the nose to its centre, along the line of sight.
        tilt_deg: top away.
    """

    centre_above_eye_cm: float
    distance_cm: float
    tilt_deg: float


@dataclass(frozen=True)
class DeskMap:
    """Comfortable share of one screen at every place, with one lens held.

    Attributes:
        heights_cm: (heights,) of the centre against the eyes. distances_cm: (distances,).
        share: (heights, distances).
    """

    heights_cm: Floats
    distances_cm: Floats
    share: Floats


@dataclass(frozen=True)
class Move:
    """A change of place, in cm of tape and degrees.

    Attributes:
        up_cm: how much higher (negative: lower). farther_cm: how much farther away.
        tilt_by_deg: how much more tilted, top away.
        share: comfortable share of the screen at the new place, with the lens held.
    """

    place: Place
    up_cm: float
    farther_cm: float
    tilt_by_deg: float
    share: float


def place_of(target: Target, *, stop_mm: float) -> Place:
    """Where a screen stands now."""
    return Place(
        centre_above_eye_cm=centre_above_eye_cm(target, stop_mm=stop_mm),
        distance_cm=target.distance_cm,
        tilt_deg=tilt_of(target) or 0.0,
    )


def moved(case: Case, index: int, place: Place) -> Case:
    """The case with one of its screens at another place; text keeps its height in mm."""
    target = case.targets[index]
    here = target.model_copy(
        update={
            "top_above_eye_cm": None,
            "centre_above_eye_cm": place.centre_above_eye_cm,
            "distance_cm": place.distance_cm,
            "tilt_deg": place.tilt_deg,
            "text_height_mm": text_height_mm(target),
            "text_arcmin": None,
        }
    )
    targets = tuple(here if at == index else one for at, one in enumerate(case.targets))
    return case.model_copy(update={"targets": targets})


def text_height_mm(target: Target) -> float:
    """Height of the text of a target in mm."""
    if target.text_height_mm is not None:
        return target.text_height_mm
    arcmin = detail_arcmin(target)
    return float(workstation.text_height_mm(arcmin=arcmin, distance_cm=target.distance_cm))


def obstacle(target: Target, place: Place, *, stop_mm: float, judgements: Judgements) -> str | None:
    """What keeps a screen from a place; None where it may go there.

    fixed: it cannot be moved. move: farther than 30 cm from where it stands. near, far: nearer
    than 50 or farther than 90 cm. high: the top edge above eye level. low: a part more than 60 deg
    below level. desk: the bottom edge less than 3 cm above the desk. tilt: beyond 20 deg. text:
    letters under 16 arcmin. laptop: a laptop is not lowered. (Design page section 6.)
    """
    for name, stands in _obstacles(target, place, stop_mm, judgements):
        if stands:
            return name
    return None


def _obstacles(
    target: Target, place: Place, stop_mm: float, j: Judgements
) -> Iterator[tuple[str, bool]]:
    now = place_of(target, stop_mm=stop_mm)
    yield "fixed", not target.movable or target.kind != "screen"
    up = place.centre_above_eye_cm - now.centre_above_eye_cm
    away = place.distance_cm - now.distance_cm
    yield "move", float(np.hypot(up, away)) > j.desk_move_max_cm + _ROUNDING
    yield "laptop", target.laptop and up < -_ROUNDING
    yield "near", place.distance_cm < j.desk_distance_min_cm - _ROUNDING
    yield "far", place.distance_cm > j.desk_distance_max_cm + _ROUNDING
    upright = np.cos(np.radians(place.tilt_deg))
    half = size_cm(target)[1] / 2 * upright
    yield "high", place.centre_above_eye_cm + half > _ROUNDING
    desk = j.desk_below_eye_cm if target.desk_below_eye_cm is None else target.desk_below_eye_cm
    bottom = place.centre_above_eye_cm - half
    yield "desk", bottom < j.desk_bottom_above_desk_cm - desk - _ROUNDING
    yield "low", _lowest_deg(target, place, stop_mm) > j.desk_below_level_max_deg + _ROUNDING
    tilt_changed = abs(place.tilt_deg - now.tilt_deg) > _ROUNDING
    yield "tilt", tilt_changed and place.tilt_deg > j.desk_tilt_max_deg + _ROUNDING
    arcmin = workstation.text_arcmin(
        height_mm=text_height_mm(target), distance_cm=place.distance_cm
    )
    yield "text", float(arcmin) < j.legible_arcmin - _ROUNDING


def _lowest_deg(target: Target, place: Place, stop_mm: float) -> float:
    """How far the bottom edge is below level."""
    reach = place.distance_cm + stop_mm / MM_PER_CM
    level = np.sqrt(max(reach**2 - place.centre_above_eye_cm**2, 1.0))
    half = size_cm(target)[1] / 2
    below = half * np.cos(np.radians(place.tilt_deg)) - place.centre_above_eye_cm
    nearer = half * np.sin(np.radians(place.tilt_deg))
    return float(
        workstation.declination_deg(below_eye_cm=below, horizontal_cm=max(level - nearer, 1.0))
    )


def places_scene(
    wearers: Wearers, target: Target, places: Sequence[Place], *, judgements: Judgements
) -> Scene:
    """A scene of one wearer at every place of one screen, a wearer a place.

    wearers: of one wearer. Its one target stands for one hour, so hours are shares.
    """
    n, count, stop = int(judgements.points_a_side), len(places), float(wearers.stop_mm[0])
    height, distance, tilt = np.array(
        [(one.centre_above_eye_cm, one.distance_cm, one.tilt_deg) for one in places]
    ).T
    width_cm, height_cm = size_cm(target)
    faces = workstation.face_points_mm(
        distance_cm=distance,
        centre_above_eye_cm=height,
        width_cm=width_cm,
        height_cm=height_cm,
        stop_mm=stop,
        tilt_deg=tilt,
        offset_cm=target.offset_cm,
        n=n,
    )
    row, column = np.indices((n, n))
    keep = column >= (n // 2 if target.offset_cm == 0.0 else 0)
    share = np.where((column == n // 2) | (target.offset_cm != 0.0), 1.0, 2.0)[keep] / n**2
    forward, right, up = (face[:, keep].ravel() for face in faces)
    reach = np.sqrt(forward**2 + right**2 + up**2)
    arcmin = workstation.text_arcmin(height_mm=text_height_mm(target), distance_cm=distance)
    return Scene(
        wearers=wearers.take(np.zeros(count, dtype=np.intp)),
        target_wearer=np.arange(count),
        target_hours=np.ones(count),
        seated_hours=np.ones(count),
        limit_d=blur_limit_d(text_arcmin=arcmin, noticeable_d=judgements.blur_limit_base_d),
        is_far=np.zeros(count, dtype=bool),
        legible=arcmin >= judgements.illegible_arcmin,
        point_target=np.repeat(np.arange(count), int(keep.sum())),
        share=np.tile(share, count),
        row=np.tile(row[keep], count),
        middle=np.tile(column[keep] == n // 2, count),
        forward_mm=forward,
        right_mm=right,
        up_mm=up,
        demand_d=workstation.demand_d(eye_to_point_mm=reach, stop_mm=stop),
    )


def comfortable_shares(
    wearers: Wearers,
    target: Target,
    places: Sequence[Place],
    *,
    lens: Chosen,
    judgements: Judgements,
) -> Floats:
    """Comfortable share of a screen at every place, with one lens held, (places,)."""
    found = []
    for start in range(0, len(places), _CHUNK):
        part = places[start : start + _CHUNK]
        scene = places_scene(wearers, target, part, judgements=judgements)
        free_d = np.full(len(part), lens.free_d)
        views = Views(scene, judgements)
        found.append(clear_shares(views, lens.kind, lens.family, free_d, with_reserve=False)[0])
    return np.concatenate(found) if found else np.zeros(0)


def desk_map(wearers: Wearers, target: Target, *, lens: Chosen, judgements: Judgements) -> DeskMap:
    """The map of 60 heights by 25 distances around the allowed places, with one lens held.

    Heights go from 60 cm below the eyes to 30 cm above them, distances from 40 to 100 cm.
    """
    heights = np.linspace(-60.0, 30.0, MAP_HEIGHTS)
    distances = np.linspace(40.0, 100.0, MAP_DISTANCES)
    tilt = tilt_of(target) or 0.0
    reachable = [
        (i, j)
        for i, height in enumerate(heights)
        for j, distance in enumerate(distances)
        if abs(height) < 0.9 * distance
    ]
    places = [Place(float(heights[i]), float(distances[j]), tilt) for i, j in reachable]
    shares = comfortable_shares(wearers, target, places, lens=lens, judgements=judgements)
    grid = np.zeros((len(heights), len(distances)))
    for (i, j), share in zip(reachable, shares, strict=True):
        grid[i, j] = share
    return DeskMap(heights, distances, grid)


def moves(target: Target, *, stop_mm: float, judgements: Judgements) -> list[Place]:
    """Allowed places in the order they are tried: height alone, then distance, then tilt.

    Within each the smallest change comes first.
    """
    now = place_of(target, stop_mm=stop_mm)
    most = judgements.desk_move_max_cm
    steps = np.arange(-most, most + STEP_CM / 2, STEP_CM)
    tried = [
        replace(now, centre_above_eye_cm=now.centre_above_eye_cm + up) for up in _by_size(steps)
    ]
    tried += [
        replace(
            now,
            distance_cm=now.distance_cm + away,
            centre_above_eye_cm=now.centre_above_eye_cm + up,
        )
        for away in _by_size(steps)
        if abs(away) > _ROUNDING
        for up in _by_size(steps[::2])
    ]
    tried += [
        replace(now, tilt_deg=tilt, centre_above_eye_cm=now.centre_above_eye_cm + up)
        for tilt in sorted(TILTS_DEG, key=lambda one: abs(one - now.tilt_deg))
        if abs(tilt - now.tilt_deg) > _ROUNDING
        for up in _by_size(steps)
    ]
    return [
        place
        for place in tried
        if obstacle(target, place, stop_mm=stop_mm, judgements=judgements) is None
    ]


def _by_size(steps: Iterable[float]) -> list[float]:
    return sorted((float(step) for step in steps), key=lambda step: (abs(step), step))


def nearest_comfortable(
    wearers: Wearers, target: Target, *, lens: Chosen, judgements: Judgements
) -> Move | None:
    """The first allowed place, in the order of `moves`, at which the screen is comfortable.

    Comfortable: nine tenths of it. None where no place is; see `best_place`.
    """
    stop_mm = float(wearers.stop_mm[0])
    now = place_of(target, stop_mm=stop_mm)
    tried = moves(target, stop_mm=stop_mm, judgements=judgements)
    for start in range(0, len(tried), _CHUNK):
        part = tried[start : start + _CHUNK]
        shares = comfortable_shares(wearers, target, part, lens=lens, judgements=judgements)
        enough = np.flatnonzero(shares >= judgements.desk_enough_share - _ROUNDING)
        if enough.size:
            return move_between(now, part[enough[0]], float(shares[enough[0]]))
    return None


def best_place(
    wearers: Wearers, target: Target, *, lens: Chosen, judgements: Judgements
) -> Move | None:
    """The allowed place with the largest comfortable share, the least move among equals."""
    stop_mm = float(wearers.stop_mm[0])
    tried = moves(target, stop_mm=stop_mm, judgements=judgements)
    if not tried:
        return None
    shares = comfortable_shares(wearers, target, tried, lens=lens, judgements=judgements)
    best = int(np.argmax(shares))
    return move_between(place_of(target, stop_mm=stop_mm), tried[best], float(shares[best]))


def move_between(now: Place, then: Place, share: float) -> Move:
    """What has to be changed."""
    return Move(
        place=then,
        up_cm=then.centre_above_eye_cm - now.centre_above_eye_cm,
        farther_cm=then.distance_cm - now.distance_cm,
        tilt_by_deg=then.tilt_deg - now.tilt_deg,
        share=share,
    )


def seat_raised(case: Case, *, by_cm: float) -> Case:
    """The case with the eyes higher: everything on the desk is lower by as much."""
    targets = tuple(_lower(target, by_cm) for target in case.targets)
    return case.model_copy(update={"targets": targets})


def _lower(target: Target, by_cm: float) -> Target:
    if target.kind == "far":
        return target
    names = ("top_above_eye_cm", "centre_above_eye_cm")
    lower = {
        name: getattr(target, name) - by_cm for name in names if getattr(target, name) is not None
    }
    if target.desk_below_eye_cm is not None:
        lower["desk_below_eye_cm"] = target.desk_below_eye_cm + by_cm
    return target.model_copy(update=lower)


def text_enlarged(case: Case, index: int, *, factor: float) -> Case:
    """The case with larger text on one of its targets."""
    target = case.targets[index]
    larger = target.model_copy(
        update={"text_height_mm": factor * text_height_mm(target), "text_arcmin": None}
    )
    targets = tuple(larger if at == index else one for at, one in enumerate(case.targets))
    return case.model_copy(update={"targets": targets})


def day_hours(cases: Sequence[Case], *, lens: Chosen, judgements: Judgements) -> Floats:
    """Comfortable hours of the day of each case through one lens held, (cases,)."""
    found = []
    for start in range(0, len(cases), _CHUNK):
        part = cases[start : start + _CHUNK]
        scene = scene_of(part, judgements=judgements)
        free_d = np.full(len(part), lens.free_d)
        views = Views(scene, judgements)
        share = clear_shares(views, lens.kind, lens.family, free_d, with_reserve=False)[0]
        found.append(scene.hours(share, seated_only=not lens.kind.may_cover_distance))
    return np.concatenate(found) if found else np.zeros(0)
