"""Find the hours of the day through every lens that can be ordered, and the best of each kind.

The central measure is comfortable hours a day: hours of looking at points that are clear in a
comfortable posture. Everything is done for all wearers of a scene at once.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.kernel.posture import (
    PartOfView,
    View,
    comfortable,
    strained,
    view_for_windows,
    window_samples,
)
from engine.lenses.families import Family, General, Office
from engine.lenses.kinds import KINDS, Kind

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from engine.case.model import Design
    from engine.case.scene import Scene
    from engine.kernel.posture import Gaze
    from engine.lenses.families import Field
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]


_ROUNDING = 1e-9


class Clearness:
    """A field held against what is seen through it, to be asked for one free power after another.

    Blur is the length of defocus and half the astigmatism, so an astigmatism leaves
    sqrt(limit^2 - (a/2)^2) for the defocus. demand_d: (points, 1); usable: (points, postures).
    """

    def __init__(self, field: Field, *, usable: Bools, demand_d: Floats, samples: int) -> None:
        """samples: how many postures in a row a window takes."""
        self._field, self._demand_d, self._samples = field, demand_d, samples
        self._usable = usable
        self._astigmatism_sq = (field.astigmatism_d / 2) ** 2
        self._same_everywhere = (
            field.held is None and field.offset_d.shape[1] == field.astigmatism_d.shape[1] == 1
        )

    def points(self, powers: Floats, *, accommodation_d: Floats, limit_d: Floats) -> Bools:
        """Whether some window is clear with each free power, (points, powers).

        powers: (points, powers); accommodation_d, limit_d: (points, 1).
        """
        left = limit_d**2 - self._astigmatism_sq
        possible = left >= -_ROUNDING
        room = np.sqrt(np.abs(left, out=left), out=left)
        most, least = self._field.offset_d + room, self._field.offset_d - room
        needed = self._demand_d - accommodation_d - _ROUNDING
        bearable = self._demand_d + _ROUNDING
        if self._same_everywhere:
            clear: Bools = possible & (most >= needed - powers) & (least <= bearable - powers)
            clear &= np.any(runs(self._usable, self._samples), axis=1)[:, None]
            return clear
        possible = possible & self._usable
        held = self._field.held
        own = None if held is None else held & (most >= needed) & (least <= bearable)
        found = np.empty(powers.shape, dtype=bool)
        for column in range(powers.shape[1]):
            power = powers[:, [column]]
            works = most >= needed - power
            works &= least <= bearable - power
            if held is not None and own is not None:
                works &= ~held
                works |= own
            works &= possible
            found[:, column] = runs(works, self._samples).any(axis=1)
        found &= ~np.isnan(powers)
        return found


def runs(works: Bools, samples: int) -> Bools:
    """Runs of so many postures in a row that all work, by doubling: (points, postures - ...)."""
    width = 1
    while width < samples:
        step = min(width, samples - width)
        works = works[:, :-step] & works[:, step:]
        width += step
    return works


_TIE = 1e-9


@dataclass(frozen=True)
class Candidates:
    """Every design of a kind for every wearer: all arrays (wearers, designs), nan where none.

    Attributes:
        family: (designs,) which of the kind's families. free_d: the free power.
        comfortable_h, reserve_h: hours a day.
        plus_d: sum of the design's powers.
    """

    kind: Kind
    families: tuple[Family, ...]
    family: NDArray[np.intp]
    free_d: Floats
    comfortable_h: Floats
    reserve_h: Floats
    plus_d: Floats

    @property
    def score_h(self) -> Floats:
        """Comfortable and reserve hours together."""
        return self.comfortable_h + self.reserve_h

    def design(self, column: int, *, wearer: int, add_d: float) -> Design:
        """One of the designs of one wearer."""
        free_d = float(self.free_d[wearer, column])
        family: Family = self.families[self.family[column]]
        return family.design(add_d=add_d, free_d=free_d)


@dataclass(frozen=True)
class Shares:
    """What becomes of each target through one design a wearer, each (targets,)."""

    comfortable: Floats
    strained: Floats
    reserve: Floats

    @property
    def not_served(self) -> Floats:
        """The rest."""
        return np.maximum(1.0 - self.comfortable - self.strained, 0.0)


@dataclass
class Views:
    """The views a search looks through, made when first asked for.

    Attributes:
        gaze: that of all grades, where more than one grade will be asked for.
        chin_up_within_deg: lowest and highest chin-up any point is comfortable at, where known.
    """

    scene: Scene
    judgements: Judgements
    gaze: Gaze | None = None
    chin_up_within_deg: tuple[float, float] | None = None
    _made: dict[tuple[str, bool], View] = field(default_factory=dict)
    _reachable: dict[bool, tuple[View | PartOfView, Indices]] = field(default_factory=dict)

    def of(self, grade: str, kind: Kind) -> View:
        """The view of a grade through lenses, or bare for no glasses."""
        if (grade, kind.is_lens) not in self._made:
            band = (comfortable if grade == "comfortable" else strained)(self.judgements)
            if grade == "comfortable" and self.chin_up_within_deg is not None:
                band = replace(band, chin_up_deg=self.chin_up_within_deg)
            self._made[grade, kind.is_lens] = view_for_windows(
                self.scene,
                band=band,
                through_lens=kind.is_lens,
                judgements=self.judgements,
                gaze=self.gaze,
            )
        return self._made[grade, kind.is_lens]

    def reachable(self, kind: Kind) -> tuple[View | PartOfView, Indices]:
        """The comfortable view of the points any window of postures reaches, and which they are.

        The others are clear through no lens; leaving them out saves the search of them.
        """
        if kind.is_lens not in self._reachable:
            view, samples = self.of("comfortable", kind), window_samples(self.judgements)
            which = np.flatnonzero(np.any(runs(view.within, samples), axis=1))
            everywhere = len(which) == len(self.scene.share)
            self._reachable[kind.is_lens] = (view if everywhere else view.at(which), which)
        return self._reachable[kind.is_lens]


def candidates(
    views: Views, kind: Kind, *, keep: list[tuple[Floats, Floats]] | None = None
) -> Candidates:
    """Comfortable and reserve hours of every design of a kind.

    keep: takes for each family which points are comfortable, and which still so in reserve,
    (points, designs of the family) each; side by side they have the columns of the answer.
    """
    families = kind.families(views.judgements)
    wearers, scene = views.scene.wearers, views.scene
    free, member, hours, reserve, plus = [], [], [], [], []
    for index, family in enumerate(families):
        powers = family.free_powers_d(wearers, views.judgements)
        useful = ~np.all(np.isnan(powers), axis=0)
        powers = powers[:, useful]
        if not powers.shape[1]:
            continue
        clear, reserved = _clear_points(views, kind, family, powers)
        if keep is not None:
            keep.append((clear, reserved))
        full, half = (
            scene.hours(scene.by_target(works), seated_only=not kind.may_cover_distance)
            for works in (clear, reserved)
        )
        free.append(powers)
        member += [index] * powers.shape[1]
        hours.append(np.where(np.isnan(powers), np.nan, full))
        reserve.append(np.where(np.isnan(powers), np.nan, half))
        plus.append(family.plus_d(add_d=wearers.add_d[:, None], free_d=powers))
    none = [np.full((len(wearers.add_d), 0), np.nan)]
    joined = [np.concatenate(parts or none, axis=1) for parts in (free, hours, reserve, plus)]
    return Candidates(
        kind=kind,
        families=families,
        family=np.array(member, dtype=np.intp),
        free_d=joined[0],
        comfortable_h=joined[1],
        reserve_h=joined[2],
        plus_d=joined[3],
    )


def _clear_points(views: Views, kind: Kind, family: Family, powers: Floats) -> Iterator[Floats]:
    """Points comfortable with each power, then points still so in reserve: (points, powers)."""
    view, which = views.reachable(kind)
    scene, shape = view.scene, (len(views.scene.share), powers.shape[1])
    clearness = clearness_of(views, view, kind, family)
    for share in (1.0, views.judgements.reserve_share):
        clear = np.zeros(shape)
        clear[which] = clearness.points(
            powers[scene.point_wearer],
            accommodation_d=share * view.wearers.usable_d,
            limit_d=share * scene.limit_d[scene.point_target][:, None],
        )
        yield clear


def clearness_of(views: Views, view: View | PartOfView, kind: Kind, family: Family) -> Clearness:
    """A family in a view, ready to be asked which points are clear with a free power."""
    scene, found = view.scene, family.field(view.points, view.wearers)
    legible = scene.legible[scene.point_target][:, None]
    return Clearness(
        found,
        usable=view.usable(kind, found) & legible,
        demand_d=scene.demand_d[:, None],
        samples=window_samples(views.judgements),
    )


def clear_points(views: Views, kind: Kind, family: Family, powers: Floats) -> Floats:
    """Whether each point is comfortable with each power of its wearer, (points, powers).

    powers: (wearers, powers).
    """
    return next(_clear_points(views, kind, family, powers))


def clear_shares(
    views: Views, kind: Kind, family: Family, free_d: Floats, *, with_reserve: bool = True
) -> list[Floats]:
    """Comfortable (and reserve) share of each target, (targets,) each; free_d is (wearers,)."""
    both = _clear_points(views, kind, family, free_d[:, None])
    wanted = both if with_reserve else itertools.islice(both, 1)
    return [views.scene.by_target(found[:, 0]) for found in wanted]


def shares(views: Views, kind: Kind, family: Family, free_d: Floats) -> Shares:
    """Comfortable, strained and reserve share of each target; free_d is (wearers,)."""
    scene, powers = views.scene, free_d[views.scene.point_wearer][:, None]
    clear, reserve = (found[:, 0] for found in _clear_points(views, kind, family, free_d[:, None]))
    view = views.of("strained", kind)
    usable = clearness_of(views, view, kind, family).points(
        powers,
        accommodation_d=view.wearers.usable_d,
        limit_d=views.judgements.usable_blur_ratio * scene.limit_d[scene.point_target][:, None],
    )[:, 0]
    return Shares(
        comfortable=scene.by_target(clear),
        strained=scene.by_target(np.maximum(usable - clear, 0.0)),
        reserve=scene.by_target(reserve),
    )


def best_columns(
    found: Candidates, *, judgements: Judgements, liked_corridor_mm: Floats | None = None
) -> NDArray[np.intp]:
    """The best design of a kind for each wearer, (wearers,); -1 where none can be ordered.

    The largest comfortable and reserve hours; among those as good as it, for a general progressive
    the corridor already liked, else the longest; for the others the least plus, then the smaller
    degression, then the slow power fall.

    liked_corridor_mm: (wearers,) nan where none.
    """
    score = np.where(np.isnan(found.score_h), -np.inf, found.score_h)
    if not score.shape[1]:
        return np.full(score.shape[0], -1, dtype=np.intp)
    best = score.max(axis=1, keepdims=True)
    general = isinstance(found.families[0], General)
    same = judgements.corridor_score_h if general else judgements.same_score_h
    as_good = (score >= best - same - _TIE) & np.isfinite(score)
    key = _corridor_key(found, liked_corridor_mm) if general else _plus_key(found)
    chosen = np.argmin(np.where(as_good, key, np.inf), axis=1)
    return np.where(np.isfinite(best[:, 0]), chosen, -1)


def _plus_key(found: Candidates) -> Floats:
    """Least plus first, then smaller degression, then the slow power fall."""
    later = np.zeros(len(found.family))
    for column, index in enumerate(found.family):
        family = found.families[index]
        if isinstance(family, Office):
            later[column] = 1e-3 * family.degression_d + 1e-5 * (family.power_fall != "slow")
    return found.plus_d + later


def _corridor_key(found: Candidates, liked_mm: Floats | None) -> Floats:
    """The liked corridor first, then the longest."""
    families = [found.families[index] for index in found.family]
    corridor = np.array([one.corridor_mm for one in families if isinstance(one, General)])
    liked = np.zeros(found.free_d.shape, dtype=bool)
    if liked_mm is not None:
        liked = np.abs(corridor - liked_mm[:, None]) < _TIE
    return -corridor - 100.0 * liked


def equivalent_columns(found: Candidates, *, wearer: int, judgements: Judgements) -> list[int]:
    """Designs within half an hour of the best (comfortable and reserve together), best first."""
    score = found.score_h[wearer]
    if np.all(np.isnan(score)):
        return []
    within = np.flatnonzero(score >= np.nanmax(score) - judgements.equivalent_score_h - _TIE)
    return sorted((int(column) for column in within), key=lambda column: (-score[column], column))


def search(views: Views) -> Mapping[str, Candidates]:
    """Every design of every kind, by kind."""
    return {name: candidates(views, kind) for name, kind in KINDS.items()}
