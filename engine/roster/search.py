"""Find the best design of every kind, and judge the pair worn today, for many wearers at once.

The search of one case, asked once for a whole scene: candidates, best design, then what becomes of
the hours through it. Wearers share a family of lenses, not a design, so what is left to judge after
the choice is judged family by family, on the points that are not clear already.

Desk first: of the desk, only the height of a monitor is tried. It is lowered in steps of 5 cm with
the pair worn today held, within the limits of height the page of one person has (judgements.csv,
desk_*). Distance, tilt and text stay as they are, and laptops are not lowered.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.answer.options import PRESENT
from engine.case.model import Design
from engine.kernel.posture import gaze_for_all
from engine.kernel.search import Views, best_columns, candidates, clearness_of, worse_points
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.roster.scene import one_wearer, scene_of_rows, screen_size_cm
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from engine.case.scene import Scene
    from engine.lenses.families import Family
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]


OPTIONS = (*KINDS, PRESENT)
"""Every option in the order of its columns."""

_MOST_TAKEN = 0.6
"""Above this share of the points judging all of them is quicker than taking some out."""


@dataclass(frozen=True)
class Found:
    """What the search found; all (wearers, options), nan where there is no such option.

    Attributes:
        sees_to_cm: how far it shows, eyes at rest, straight ahead; infinite without a limit.
        design: (wearers, options) number of the design in `designs`; -1 where none.
        designs: text of each design.
    """

    comfortable_h: Floats
    awkward_h: Floats
    blurred_h: Floats
    not_served_h: Floats
    sees_to_cm: Floats
    design: Indices
    designs: Sequence[str]


@dataclass(frozen=True)
class _Group:
    """Wearers of one family of lenses.

    Attributes:
        known: points of theirs that are comfortable, from the search.
    """

    kind: Kind
    family: Family
    wearers: Indices
    free_d: Floats
    known: Bools | None = None


def search_rows(scene: Scene, present: Sequence[str], *, judgements: Judgements) -> Found:
    """Best design of every kind and the present pair.

    present: (wearers,) kind worn today, "" where none is known.
    """
    return _Search(scene, judgements).run(present)


def worn_comfortable_h(scene: Scene, present: Sequence[str], *, judgements: Judgements) -> Floats:
    """Comfortable hours through the pair worn today, (wearers,); nan where none is known."""
    search = _Search(scene, judgements)
    hours = np.full(len(present), np.nan)
    for group in search.worn(present):
        points = search.points_of(group.wearers)
        clear = search.clear(group, points, search.powers(group))
        seated = not group.kind.may_cover_distance
        hours[group.wearers] = search.sums(clear, points, seated)[group.wearers]
    return hours


class _Search:
    """One scene being searched."""

    def __init__(self, scene: Scene, judgements: Judgements) -> None:
        self.scene, self.judgements = scene, judgements
        self.views = Views(scene, judgements, gaze_for_all(scene, judgements=judgements))
        shape = (len(scene.wearers.add_d), len(OPTIONS))
        self.found = {
            name: np.full(shape, np.nan)
            for name in ("comfortable_h", "awkward_h", "blurred_h", "not_served_h", "sees_to_cm")
        }
        self.design = np.full(shape, -1, dtype=np.intp)
        self.designs: dict[str, int] = {}
        self.first_point = np.searchsorted(scene.point_wearer, np.arange(shape[0] + 1))

    def run(self, present: Sequence[str]) -> Found:
        for option, kind in enumerate(KINDS.values()):
            if kind.is_lens:
                self.judge_best(option, kind)
            else:
                self.bare(option, kind)
        for group in self.worn(present):
            self.judge(len(KINDS), group)
        return Found(**self.found, design=self.design, designs=tuple(self.designs))

    def judge_best(self, option: int, kind: Kind) -> None:
        """Hours through the best design of a kind."""
        for group in self.best(kind):
            self.judge(option, group)

    def bare(self, option: int, kind: Kind) -> None:
        """Hours without glasses, of the wearers who can do without: seldom many."""
        families = kind.families(self.judgements)
        powers = families[0].free_powers_d(self.scene.wearers, self.judgements)
        can = ~np.isnan(powers[:, 0])
        if not np.any(can):
            return
        part = _Search(self.scene.of_wearers(can), self.judgements)
        part.judge_best(option, kind)
        for name, values in self.found.items():
            values[can, option] = part.found[name][:, option]
        number = [self.designs.setdefault(text, len(self.designs)) for text in part.designs]
        self.design[can, option] = np.array([*number, -1])[part.design[:, option]]

    def best(self, kind: Kind) -> Iterator[_Group]:
        """The best design of a kind, by family; where there is but one there is no search."""
        families = kind.families(self.judgements)
        only = families[0].free_powers_d(self.scene.wearers, self.judgements)
        if len(families) == only.shape[1] == 1:
            wearers = np.flatnonzero(~np.isnan(only[:, 0]))
            if wearers.size:
                yield _Group(kind, families[0], wearers, only[wearers, 0])
            return
        keep: list[Floats] = []
        found = candidates(self.views, kind, keep=keep)
        column = best_columns(found, judgements=self.judgements)
        if not len(found.family):
            return
        every_clear = np.concatenate(keep, axis=1)
        family = np.where(column >= 0, found.family[column], -1)
        for index in np.unique(family[family >= 0]):
            wearers = np.flatnonzero(family == index)
            points = self.points_of(wearers)
            clear = every_clear[points, column[self.scene.point_wearer[points]]] > 0.0
            free_d = found.free_d[wearers, column[wearers]]
            yield _Group(kind, families[index], wearers, free_d, clear)

    def worn(self, present: Sequence[str]) -> Iterator[_Group]:
        """The pairs worn today, each at the wearer's own add and the middle design."""
        add, words = self.scene.wearers.add_d, np.array(present)
        for name in sorted(set(present) - {""}):
            groups: dict[Family, list[tuple[int, float]]] = {}
            for wearer in np.flatnonzero(words == name):
                family, free = _worn(name, float(add[wearer]), self.judgements)
                if np.isnan(free):
                    free = float(self.scene.wearers.unaided_power_d[wearer])
                groups.setdefault(family, []).append((int(wearer), free))
            for family, members in groups.items():
                wearers, free_d = (np.array(part) for part in zip(*members, strict=True))
                yield _Group(KINDS[name], family, wearers, free_d)

    def judge(self, option: int, group: _Group) -> None:
        """Hours through the designs of a group, how far they show, and their texts."""
        scene, kind, wearers = self.scene, group.kind, group.wearers
        points = self.points_of(wearers)
        power = self.powers(group)
        clear = self.clear(group, points, power) if group.known is None else group.known
        sharp, usable = clear.copy(), clear.copy()
        left = np.flatnonzero(~clear)
        if left.size > _MOST_TAKEN * len(clear):
            left = np.arange(len(clear))
        if left.size:
            worse = worse_points(self.views, kind, group.family, power[left], points=points[left])
            for grade, found in zip((sharp, usable), worse, strict=True):
                grade[left] |= found
        total = scene.hours(np.ones(len(scene.target_wearer)))[wearers]
        seated = not kind.may_cover_distance
        comfortable, awkward, blurred = (
            self.sums(values, points, seated)[wearers]
            for values in (clear, sharp & ~clear, usable & ~sharp)
        )
        lost = np.maximum(total - comfortable - awkward - blurred, 0.0)
        family: Any = group.family
        adds = [float(add) for add in scene.wearers.add_d[wearers]]
        designs = list(zip(adds, (float(free) for free in group.free_d), strict=True))
        found_here = {
            "comfortable_h": comfortable,
            "awkward_h": awkward,
            "blurred_h": blurred,
            "not_served_h": lost,
            "sees_to_cm": [_far_cm(kind, family, *design) for design in designs],
        }
        for name, values in found_here.items():
            self.found[name][wearers, option] = values
        self.design[wearers, option] = [self.text(family, *one) for one in designs]

    def points_of(self, wearers: Indices) -> Indices:
        """Every point of some wearers, in order."""
        first, count = self.first_point[wearers], np.diff(self.first_point)[wearers]
        ends = np.cumsum(count)
        points: Indices = np.arange(ends[-1]) + np.repeat(first - (ends - count), count)
        return points

    def powers(self, group: _Group) -> Floats:
        """Free power at every point of a group, (points, 1)."""
        return np.repeat(group.free_d, np.diff(self.first_point)[group.wearers])[:, None]

    def clear(self, group: _Group, points: Indices, power: Floats) -> Bools:
        """Points that are comfortable."""
        whole = self.views.of("comfortable", group.kind)
        view = whole if len(points) == len(self.scene.share) else whole.at(points)
        found: Bools = clearness_of(self.views, view, group.kind, group.family).points(
            power,
            accommodation_d=view.wearers.usable_d,
            limit_d=self.scene.limit_d[self.scene.point_target[points]][:, None],
        )[:, 0]
        return found

    def sums(self, values: Bools, points: Indices, seated_only: bool) -> Floats:
        """Hours of every wearer from some of the points."""
        scene = self.scene
        hours = scene.seated_hours if seated_only else scene.target_hours
        weight = scene.share[points] * hours[scene.point_target[points]]
        wearer = scene.point_wearer[points]
        count = len(scene.wearers.add_d)
        found = np.bincount(wearer, weights=weight * values, minlength=count)
        return np.asarray(found, dtype=np.float64)

    def text(self, family: Any, add_d: float, free_d: float) -> int:
        """Number of the text of a design."""
        return self.designs.setdefault(_words(family, add_d, free_d), len(self.designs))


@lru_cache(maxsize=4096)
def _worn(name: str, add_d: float, judgements: Judgements) -> tuple[Family, float]:
    family, free = KINDS[name].worn(Design(), add_d=add_d, judgements=judgements)
    return family.at_own_add(), free


@lru_cache(maxsize=4096)
def _far_cm(kind: Kind, family: Any, add_d: float, free_d: float) -> float:
    """How far a design shows, whoever wears it; infinite without a limit."""
    found = Lens(kind, family, free_d, add_d).sees_to_cm(wearers=one_wearer(add_d=add_d))
    return np.inf if found is None else found


@lru_cache(maxsize=4096)
def _words(family: Any, add_d: float, free_d: float) -> str:
    """A design in words."""
    numbers = family.design(add_d=add_d, free_d=free_d).numbers()
    return " ".join(f"{name}={_written(value)}" for name, value in numbers.items())


def _written(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


STEP_CM = 5.0


def lowered(
    values: Mapping[str, Floats],
    *,
    laptop: Bools,
    present: Sequence[str],
    judgements: Judgements,
) -> dict[str, Floats]:
    """The rows with each monitor at the height that gives the pair worn today the most hours.

    present: (wearers,) kind worn today, "" where none is known: such a screen stays.
    """
    now = _hours(values, present, judgements)
    best_h, best_top = now, values["screen_top_cm"].copy()
    for down_cm in np.arange(STEP_CM, judgements.desk_move_max_cm + 1e-9, STEP_CM):
        tried = dict(values) | {"screen_top_cm": values["screen_top_cm"] - down_cm}
        may = ~laptop & fits(tried, judgements=judgements)
        if not np.any(may):
            continue
        which = np.flatnonzero(may)
        part = {name: found[which] for name, found in tried.items()}
        hours = _hours(part, [present[int(at)] for at in which], judgements)
        better = hours > best_h[which] + judgements.same_score_h
        best_h[which[better]] = hours[better]
        best_top[which[better]] = part["screen_top_cm"][better]
    return dict(values) | {"screen_top_cm": best_top}


def fits(values: Mapping[str, Floats], *, judgements: Judgements) -> Bools:
    """Whether a screen may stand there: top not above the eyes, bottom above the desk, not too low.

    The desk is taken where the page of one person takes it (desk_below_eye_cm).
    """
    top, away = values["screen_top_cm"], values["screen_distance_cm"]
    upright = screen_size_cm(values)[1] * np.cos(np.radians(values["screen_tilt_deg"]))
    bottom = top - upright
    lowest = judgements.desk_bottom_above_desk_cm - judgements.desk_below_eye_cm
    below = np.sin(np.radians(judgements.desk_below_level_max_deg)) * away
    found: Bools = (top <= 0.0) & (bottom >= lowest) & (-bottom <= below)
    return found & (np.abs(top - upright / 2) < 0.9 * away - 1.0 / MM_PER_CM)


def _hours(values: Mapping[str, Floats], present: Sequence[str], judgements: Judgements) -> Floats:
    scene = scene_of_rows(values, judgements=judgements)
    return worn_comfortable_h(scene, present, judgements=judgements)
