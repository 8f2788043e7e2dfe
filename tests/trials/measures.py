"""What can be predicted of one replicate: a function each, from its people to one number.

Every number comes out of the engine's own arrays: hours and shares from `kernel.search`, postures
from `kernel.posture` and `kernel.details`. Hours tie where the engine calls designs the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.case.scene import Scene
from engine.kernel.details import window_middles
from engine.kernel.posture import View, any_posture, blur_of, chin_ups_deg, window_samples
from engine.kernel.search import Views, comfortable_shares
from engine.optics.workstation import free_chin_up_deg
from tests.trials.people import Floats, Group, J, People, drawn, half_cm, top_cm

Rng = np.random.Generator
CHIN_UPS_DEG = chin_ups_deg(low=J.scan_chin_up_min_deg, high=J.scan_chin_up_max_deg, judgements=J)
PARTS = {"distance": (-np.inf, 0.1), "near": (0.9, np.inf)}
"""Shares of the add that bound the parts of a progressive, as the study marked its lenses."""
TURNS_DEG = np.arange(0.0, J.awkward_eye_sideways_deg + 0.25, 0.5)
LAPTOP_IN, LAPTOP_LOWER_CM = 17.0, 20.0
"""A smaller screen is a laptop's, and stands so much lower (roster_spreads.csv)."""
_POOL = 6
"""So many times the people of a study are drawn where only some of them count."""
_ROUNDING = 1e-9


def prefers(people: People, rng: Rng, *, lens: str, over: str) -> float:
    """Percent of the people whose day has more comfortable hours through one lens."""
    del rng
    return _more_percent(hours(people, lens), hours(people, over))


def better_than_moved(people: People, rng: Rng, *, lens: str, also: str, over: str) -> float:
    """Percent for whom the better of two lenses beats the best place of the screen with their own.

    Only people bothered through their own lens: the first so many of a larger draw.
    """
    pool = drawn(people.outcome, rng, people=_POOL * len(people))
    own = hours(pool, over)
    of_day = pool.values["bothered_below"] * (
        pool.values["hours_screen"] + pool.values["hours_paper"]
    )
    bothered = np.flatnonzero(own < of_day)[: len(people)]
    some = pool.taken(bothered)
    best = np.max([own[bothered], *(hours(moved, over) for moved in _moves(some))], axis=0)
    made = np.maximum(hours(some, lens), hours(some, also))
    return _more_percent(made, best)


def _moves(people: People) -> list[People]:
    """The screen lower by up to the largest move, and nearer or farther by 10 cm.

    It stays above the desk, where the engine takes the desk to be.
    """
    lower = np.arange(0.0, J.desk_move_max_cm + _ROUNDING, 10.0)
    top, away = people.values["screen_top_cm"], people.values["screen_distance_cm"]
    lowest = J.desk_bottom_above_desk_cm - J.desk_below_eye_cm + 2.0 * half_cm(people.values)
    return [
        people.moved(
            screen_top_cm=np.minimum(top, np.maximum(top - down, lowest)),
            screen_distance_cm=np.maximum(away + farther, 45.0),
        )
        for down in lower
        for farther in (-10.0, 0.0, 10.0)
        if down or farther
    ]


def whole_screen(people: People, rng: Rng, *, lens: str) -> float:
    """Percent for whom the whole screen is comfortable."""
    del rng
    return float(100.0 * np.mean(screen_share(people, lens) >= 1.0 - _ROUNDING))


def height_gain(people: People, rng: Rng, *, lens: str, low_deg: float, high_deg: float) -> float:
    """Comfortable share of a low screen less that of a high one, in points of percent."""
    del rng
    low, high = (
        screen_share(centred(people, np.full(len(people), below)), lens)
        for below in (low_deg, high_deg)
    )
    return float(100.0 * np.mean(low - high))


def chin_up_more(
    people: People, rng: Rng, *, lens: str, over: str, apart: int | None = None
) -> float:
    """Mean chin-up at the centre of the screen through one lens less that through another.

    apart: the other lens is worn by so many other people.
    """
    others = people if apart is None else drawn(people.outcome, rng, people=apart)
    return float(np.mean(chin_up(people, lens)) - np.mean(chin_up(others, over)))


def lowered(people: People, rng: Rng, *, lens: str, over: str) -> float:
    """Mean of how much lower a screen is when the head is as through the other lens, degrees."""
    del rng
    below, wanted = people.values["centre_below_deg"], chin_up(people, over)
    found = np.full(len(people), np.nan)
    for lower in np.arange(0.0, 30.1, 1.0):
        level = np.isnan(found) & (
            chin_up(centred(people, below + lower), lens) <= wanted + J.scan_step_deg / 2
        )
        found[level] = lower
    return float(np.mean(np.where(np.isnan(found), 30.0, found)))


def part_used(people: People, rng: Rng, *, lens: str, part: str) -> float:
    """Percent of readings (top, centre, bottom; every screen and text size) through a part."""
    del rng
    everyone = every_reading(people)
    least, most = PARTS[part]
    through = []
    for group, scene in worn(everyone, lens):
        rows = rows_of_screen(scene, (0, 4, 8))
        seen = Seen(rows, group)
        share = seen.at_printed(seen.power_d) / rows.wearers.add_d[rows.point_wearer]
        through.append((share > least) & (share < most))
    return float(100.0 * np.mean(np.concatenate(through)))


def every_reading(people: People) -> People:
    """Each person before every screen in every text size that the study had."""
    texts = people.outcome.assumed["text_mm"]["one_of"]
    sizes = people.outcome.assumed["screen_in"]["one_of"]
    each = np.repeat(np.arange(len(people)), len(texts) * len(sizes))
    laptop = np.tile(sizes, len(people) * len(texts)) < LAPTOP_IN
    everyone = people.taken(each)
    top = everyone.values["screen_top_cm"]
    return everyone.moved(
        text_mm=np.tile(np.repeat(texts, len(sizes)), len(people)),
        screen_in=np.tile(sizes, len(people) * len(texts)),
        screen_top_cm=np.where(laptop, top - LAPTOP_LOWER_CM, top),
    )


def clear_field(people: People, rng: Rng, *, lens: str) -> float:
    """Mean clear field at the centre of the screen, both sides, degrees."""
    del rng
    return float(2.0 * np.mean(clear_turn_deg(people, lens)))


def turns_more(
    people: People,
    rng: Rng,
    *,
    lens: str,
    over: str,
    half_width_deg: float,
    over_zone_width: float = 1.0,
) -> float:
    """Mean of how much further the head turns to the end of a line through one lens, degrees.

    over_zone_width: factor on the width of every zone of the other lens.
    """
    del rng
    own, other = clear_turn_deg(people, lens), clear_turn_deg(people, over, wider=over_zone_width)
    turn, less = (np.maximum(half_width_deg - clear, 0.0) for clear in (own, other))
    return float(np.mean(turn - less))


def head_share(people: People, rng: Rng, *, way: str, degrees: float = 100.0) -> float:
    """Mean of what the head takes of so many degrees, when the lens asks for nothing."""
    del rng
    if way == "aside":
        limit_deg = J.comfortable_head_turn_deg + people.values["head_turn_more_deg"]
        within = np.clip(limit_deg / 10.0, 0.0, 1.0)
        return float(degrees * np.mean(within * (1.0 - people.values["eyes_first"])))
    sign = {"down": 1.0, "up": -1.0}[way]
    turned = free_chin_up_deg(declination_deg=sign * degrees, slope=people.errors["slope"])
    return float(np.mean(-sign * turned))


MEASURES: dict[str, Callable[..., float]] = {
    one.__name__: one
    for one in (
        prefers, better_than_moved, whole_screen, height_gain, chin_up_more, lowered, part_used,
        clear_field, turns_more, head_share,
    )
}  # fmt: skip


def hours(people: People, lens: str) -> Floats:
    """Comfortable hours a day of each person through a lens, (people,)."""
    found = np.full(len(people), np.nan)
    for group, scene in worn(people, lens):
        shares = comfortable_shares(Views(scene, J), group.kind, group.family, group.free_d)
        found[group.who] = scene.hours(shares)
    return found


def screen_share(people: People, lens: str) -> Floats:
    """Comfortable share of the screen of each person, (people,); people look at nothing else."""
    day = people.values["hours_screen"]
    return hours(people, lens) / day


def chin_up(people: People, lens: str) -> Floats:
    """Chin-up at the centre of the screen, as the engine prints it, (people,).

    Where no chin-up is clear it is the one with the least blur.
    """
    found = np.full(len(people), np.nan)
    for group, scene in worn(people, lens):
        found[group.who] = CHIN_UPS_DEG[Seen(rows_of_screen(scene, (4,)), group).printed]
    return found


def clear_turn_deg(people: People, lens: str, *, wider: float = 1.0) -> Floats:
    """How far the eye turns aside from the centre before text blurs, to 30 degrees, (people,).

    wider: factor on the zones; a turn then goes through the point that is less far aside by it.
    """
    turns_deg = np.degrees(np.arctan(np.tan(np.radians(TURNS_DEG)) / wider))
    found = np.full(len(people), np.nan)
    for group, scene in worn(people, lens):
        centre = rows_of_screen(scene, (4,))
        count = len(centre.share)
        at = CHIN_UPS_DEG[Seen(centre, group).printed]
        each = np.repeat(np.arange(count), len(TURNS_DEG))
        seen = Seen(
            centre.points_at(each),
            group,
            chin_up_deg=at[each][:, None],
            eye_azimuth_deg=np.tile(turns_deg, count),
        )
        blurred = ~seen.clear[:, 0].reshape(count, len(TURNS_DEG))
        first = np.where(blurred.any(axis=1), np.argmax(blurred, axis=1), len(TURNS_DEG))
        found[group.who] = TURNS_DEG[np.maximum(first - 1, 0)]
    return found


class Seen:
    """Points through the lenses of a group, at every scanned chin-up (or at given ones)."""

    def __init__(
        self,
        scene: Scene,
        group: Group,
        *,
        chin_up_deg: Floats = CHIN_UPS_DEG,
        eye_azimuth_deg: Floats | None = None,
    ) -> None:
        band = any_posture(J)
        self.scene = scene
        view = View(
            scene, chin_up_deg=chin_up_deg, band=band, through_lens=group.kind.is_lens,
            eye_azimuth_deg=eye_azimuth_deg,
        )  # fmt: skip
        field = group.family.field(view.points, view.wearers)
        free_d = group.free_d[scene.point_wearer][:, None]
        self.usable = np.broadcast_to(view.usable(group.kind, field), view.tangent.shape)
        self.power_d = np.broadcast_to(field.power_d(free_d), view.tangent.shape)
        self.astigmatism_d = np.broadcast_to(field.astigmatism_d, view.tangent.shape)
        self.demand_d = scene.demand_d[:, None]
        self.usable_d = view.wearers.usable_d
        self.astigmatism_weight = view.wearers.astigmatism_weight
        self.limit_d = scene.limit_d[scene.point_target][:, None]
        self.blur_d = np.broadcast_to(
            blur_of(
                field,
                free_d=free_d,
                demand_d=self.demand_d,
                accommodation_d=self.usable_d,
                weight=self.astigmatism_weight,
            ),
            view.tangent.shape,
        )

    @property
    def clear(self) -> NDArray[np.bool_]:
        """Where nothing is blurred, (points, postures)."""
        found: NDArray[np.bool_] = self.usable & (self.blur_d <= self.limit_d + _ROUNDING)
        return found

    @property
    def printed(self) -> NDArray[np.intp]:
        """The posture that is printed of each point, (points,)."""
        at = window_middles(
            self.clear,
            chin_up_deg=CHIN_UPS_DEG,
            free_deg=self.scene.free_chin_up_deg,
            samples=window_samples(J),
        )
        blur = np.where(self.usable, self.blur_d, np.inf)
        return np.where(at < 0, np.argmin(blur, axis=1), at)

    def at_printed(self, values: Floats) -> Floats:
        """Values at the printed postures, (points,)."""
        return values[np.arange(len(values)), self.printed]


def worn(people: People, lens: str) -> list[tuple[Group, Scene]]:
    scene = people.scene()
    return [(group, scene.of_wearers(group.who)) for group in people.groups(lens)]


def rows_of_screen(scene: Scene, rows: tuple[int, ...]) -> Scene:
    """The points in the middle column of some rows of each person's screen, in their order."""
    first = np.searchsorted(scene.target_wearer, np.arange(len(scene.wearers.add_d)))
    of_screen = np.isin(scene.point_target, first)
    return scene.points_at(of_screen & scene.middle & np.isin(scene.row, rows))


def centred(people: People, below_deg: Floats) -> People:
    return people.moved(screen_top_cm=top_cm(people.values, below_deg))


def _more_percent(own: Floats, other: Floats) -> float:
    """Percent with more of the one than of the other; as good as the same counts half."""
    apart = own - other
    return float(100.0 * np.mean(np.where(np.abs(apart) <= J.same_design_h, 0.5, apart > 0.0)))


def arguments_of(measure: str, given: dict[str, Any]) -> dict[str, Any]:
    """Return the arguments a measure takes of those a study gives."""
    known = MEASURES[measure].__annotations__
    unknown = set(given) - set(known)
    if unknown:
        raise ValueError(f"{measure} takes no {', '.join(sorted(unknown))}")
    return given
