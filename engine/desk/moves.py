"""Where the screen could go: the cheapest change, tried before any lens.

The design is held over the map; see desk_places for the places that may be suggested.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from engine.case.scene import Scene, Wearers
from engine.case.targets import size_cm
from engine.case.targets import tilt_deg as tilt_of
from engine.desk.places import Place, moves, place_of, standing, text_height_mm
from engine.kernel.posture import Gaze, comfortable
from engine.kernel.search import Views, clear_points
from engine.optics import workstation
from engine.optics.accommodation import blur_limit_d

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.model import Target
    from engine.kernel.details import Chosen
    from engine.tables import Judgements

    Floats = NDArray[np.float64]

MAP_HEIGHTS, MAP_DISTANCES = 60, 25
_ROUNDING = 1e-9
_CHUNK = 20
_CHUNK_POINTS = 600
"""Points side by side: their arrays then stay in the second cache of a core."""
_BENT_DEG = 1.0
_LEAST_SLOPE = 1e-9


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
    noticeable_d = float(wearers.blur_tolerance[0]) * judgements.blur_limit_base_d
    reach = np.sqrt(forward**2 + right**2 + up**2)
    arcmin = workstation.text_arcmin(height_mm=text_height_mm(target), distance_cm=distance)
    return Scene(
        wearers=wearers.take(np.zeros(count, dtype=np.intp)),
        target_wearer=np.arange(count),
        target_hours=np.ones(count),
        seated_hours=np.ones(count),
        limit_d=blur_limit_d(text_arcmin=arcmin, noticeable_d=noticeable_d),
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
    """Comfortable share of a screen at every place, with one lens held, (places,).

    None of it where it cannot stand.
    """
    found = np.zeros(len(places))
    if not places:
        return found
    stand = np.flatnonzero(standing(target, places, stop_mm=float(wearers.stop_mm[0])))
    if not stand.size:
        return found
    kept = [places[int(at)] for at in stand]
    whole = places_scene(wearers, target, kept, judgements=judgements)
    lowest, highest = _chin_up_range_deg(whole, judgements)
    possible = np.flatnonzero(highest - lowest >= judgements.window_deg)
    order = possible[np.argsort((lowest + highest)[possible], kind="stable")]
    clear = np.zeros(len(whole.share))
    for start in range(0, len(order), _CHUNK_POINTS):
        part = order[start : start + _CHUNK_POINTS]
        scene = whole.points_at(part)
        within = float(lowest[part].min()), float(highest[part].max())
        views = Views(scene, judgements, chin_up_within_deg=within)
        free_d = np.full(len(kept), lens.free_d)
        clear[part] = clear_points(views, lens.kind, lens.family, free_d[:, None])[:, 0]
    found[stand] = whole.by_target(clear)
    return found


def _chin_up_range_deg(scene: Scene, judgements: Judgements) -> tuple[Floats, Floats]:
    """Lowest and highest chin-up at which each point may be seen in comfort, (points,) each.

    Gaze falls as the head falls, by a straight line but for half a degree over the band; so its two
    ends say where it passes the limits. The lens bends it by no more than the stop distance times
    its power. Wider than needed, never narrower.
    """
    band, wearers = comfortable(judgements), scene.wearers
    least, most = band.chin_up_deg
    ends = Gaze(scene, chin_up_deg=np.array(band.chin_up_deg), pivot_mm=band.pivot_mm)
    bend = 1.0 + wearers.stop_mm[0] / 1e3 * abs(wearers.vertical_power_d[0])
    upper, lower = np.degrees(np.arctan(np.tan(np.radians(band.gaze_down_deg)) * bend))
    down = np.degrees(np.arctan(np.where(ends.in_front, ends.tangent, np.inf)))
    slope = (down[:, 1] - down[:, 0]) / (most - least)
    slope = np.where(slope == 0.0, _LEAST_SLOPE, slope)  # never in front: out of the band anyway
    lowest = least + (upper - down[:, 0]) / slope - _BENT_DEG
    highest = least + (lower - down[:, 0]) / slope + _BENT_DEG
    return np.maximum(lowest, least), np.minimum(highest, most)


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
