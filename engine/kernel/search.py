"""Find the hours of the day through every lens that can be ordered, and the best of each kind.

The central measure is comfortable hours a day: hours of looking at points that are clear in a
comfortable posture. What is not comfortable is awkward (as clear, with more of chin, eyes or head),
blurred (up to 1.7 times the limit) or not served. Everything is done for all wearers of a scene at
once: one wearer as drawn, or the rows of a roster.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.kernel.posture import (
    PartOfView,
    View,
    awkward,
    comfortable,
    view_for_windows,
    window_samples,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.model import Design
    from engine.case.scene import Scene
    from engine.kernel.posture import Gaze
    from engine.lenses.families import Family, Field
    from engine.lenses.kinds import Kind
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
        comfortable_h: hours a day.
        later: the least comes first among designs as good in hours; see `Family.later`.
    """

    kind: Kind
    families: tuple[Family, ...]
    family: NDArray[np.intp]
    free_d: Floats
    comfortable_h: Floats
    later: Floats

    def design(self, column: int, *, wearer: int, add_d: float) -> Design:
        """One of the designs of one wearer."""
        free_d = float(self.free_d[wearer, column])
        family: Family = self.families[self.family[column]]
        return family.design(add_d=add_d, free_d=free_d)

    def expected(self) -> Candidates:
        """The designs of one wearer, whose draws the wearers are, with their expected hours."""
        return replace(
            self,
            free_d=self.free_d[:1],
            comfortable_h=self.comfortable_h.mean(axis=0, keepdims=True),
            later=self.later[:1],
        )


@dataclass(frozen=True)
class Shares:
    """What becomes of each target through one design a wearer, each (targets,)."""

    comfortable: Floats
    awkward: Floats
    blurred: Floats

    @property
    def not_served(self) -> Floats:
        """The rest."""
        return np.maximum(1.0 - self.comfortable - self.awkward - self.blurred, 0.0)


@dataclass
class Views:
    """The views a search looks through, made when first asked for.

    Attributes:
        gaze: that of all grades, where more than one grade will be asked for.
        chin_up_within_deg: lowest and highest chin-up any point is comfortable at, where known.
        like: views of wearers who differ in add and in what they focus, in nothing else.
    """

    scene: Scene
    judgements: Judgements
    gaze: Gaze | None = None
    chin_up_within_deg: tuple[float, float] | None = None
    like: Views | None = None
    _made: dict[tuple[str, bool], View] = field(default_factory=dict)
    _reachable: dict[bool, tuple[View | PartOfView, Indices]] = field(default_factory=dict)

    def of(self, grade: str, kind: Kind) -> View:
        """The view of a grade through lenses, or bare for no glasses."""
        if self.like is not None:
            return self.like.of(grade, kind).of_others(self.scene.wearers)
        if (grade, kind.is_lens) not in self._made:
            band = (comfortable if grade == "comfortable" else awkward)(self.judgements)
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
        if self.like is not None:
            view, which = self.like.reachable(kind)
            return view.of_others(self.scene.wearers), which
        if kind.is_lens not in self._reachable:
            view, samples = self.of("comfortable", kind), window_samples(self.judgements)
            which = np.flatnonzero(np.any(runs(view.within, samples), axis=1))
            everywhere = len(which) == len(self.scene.share)
            self._reachable[kind.is_lens] = (view if everywhere else view.at(which), which)
        return self._reachable[kind.is_lens]


def candidates(views: Views, kind: Kind, *, keep: list[Floats] | None = None) -> Candidates:
    """Comfortable hours of every design of a kind.

    keep: takes for each family which points are comfortable, (points, designs of the family); side
    by side they have the columns of the answer.
    """
    families = kind.families(views.judgements)
    wearers, scene = views.scene.wearers, views.scene
    free, member, hours, later = [], [], [], []
    for index, family in enumerate(families):
        powers = family.free_powers_d(wearers, views.judgements)
        useful = ~np.all(np.isnan(powers), axis=0)
        powers = powers[:, useful]
        if not powers.shape[1]:
            continue
        clear = clear_points(views, kind, family, powers)
        if keep is not None:
            keep.append(clear)
        full = scene.hours(scene.by_target(clear), seated_only=not kind.may_cover_distance)
        free.append(powers)
        member += [index] * powers.shape[1]
        hours.append(np.where(np.isnan(powers), np.nan, full))
        add_d = wearers.add_d[:, None]
        later.append(family.later(add_d=add_d, free_d=powers, judgements=views.judgements))
    none = [np.full((len(wearers.add_d), 0), np.nan)]
    joined = [np.concatenate(parts or none, axis=1) for parts in (free, hours, later)]
    return Candidates(
        kind=kind,
        families=families,
        family=np.array(member, dtype=np.intp),
        free_d=joined[0],
        comfortable_h=joined[1],
        later=joined[2],
    )


def clear_points(views: Views, kind: Kind, family: Family, powers: Floats) -> Floats:
    """Whether each point is comfortable with each power of its wearer, (points, powers).

    powers: (wearers, powers).
    """
    view, which = views.reachable(kind)
    scene = view.scene
    clear = np.zeros((len(views.scene.share), powers.shape[1]))
    clear[which] = clearness_of(views, view, kind, family).points(
        powers[scene.point_wearer],
        accommodation_d=view.wearers.usable_d,
        limit_d=scene.limit_d[scene.point_target][:, None],
    )
    return clear


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


def comfortable_shares(views: Views, kind: Kind, family: Family, free_d: Floats) -> Floats:
    """Comfortable share of each target, (targets,); free_d is (wearers,)."""
    clear = clear_points(views, kind, family, free_d[:, None])
    return views.scene.by_target(clear[:, 0])


def worse_points(
    views: Views, kind: Kind, family: Family, powers: Floats, *, points: Indices
) -> tuple[Bools, Bools]:
    """Which of some points are as clear in an awkward posture, and which at least usable there.

    powers: (points, 1), of those points. Returns (points,) each; the second holds the first.
    """
    whole = views.of("awkward", kind)
    view = whole if len(points) == len(views.scene.share) else whole.at(points)
    held = clearness_of(views, view, kind, family)
    limit_d = view.scene.limit_d[view.scene.point_target][:, None]
    sharp, usable = (
        held.points(powers, accommodation_d=view.wearers.usable_d, limit_d=ratio * limit_d)[:, 0]
        for ratio in (1.0, views.judgements.usable_blur_ratio)
    )
    return sharp, usable


def shares(views: Views, kind: Kind, family: Family, free_d: Floats) -> Shares:
    """Share of each target in each grade; free_d is (wearers,)."""
    scene, powers = views.scene, free_d[views.scene.point_wearer][:, None]
    clear = clear_points(views, kind, family, free_d[:, None])[:, 0] > 0.0
    awkward, blurred = np.zeros(len(clear), dtype=bool), np.zeros(len(clear), dtype=bool)
    left = np.flatnonzero(~clear)
    if left.size:
        sharp, usable = worse_points(views, kind, family, powers[left], points=left)
        awkward[left], blurred[left] = sharp, usable & ~sharp
    by_target = (scene.by_target(one.astype(float)) for one in (clear, awkward, blurred))
    return Shares(*by_target)


def best_columns(
    found: Candidates, *, judgements: Judgements, liked: Sequence[Design] = ()
) -> NDArray[np.intp]:
    """The best design of a kind for each wearer, (wearers,); -1 where none can be ordered.

    The most comfortable hours; among those within 0.10 h of it one like a design already liked,
    then the first by `Family.later`.
    """
    hours = np.where(np.isnan(found.comfortable_h), -np.inf, found.comfortable_h)
    if not hours.shape[1]:
        return np.full(hours.shape[0], -1, dtype=np.intp)
    best = hours.max(axis=1, keepdims=True)
    as_good = (hours >= best - judgements.same_design_h - _TIE) & np.isfinite(hours)
    is_like = np.array(
        [any(found.families[index].is_like(one) for one in liked) for index in found.family]
    )
    key = found.later - 1e3 * is_like
    chosen = np.argmin(np.where(as_good, key, np.inf), axis=1)
    return np.where(np.isfinite(best[:, 0]), chosen, -1)


def equivalent_columns(found: Candidates, *, wearer: int, judgements: Judgements) -> list[int]:
    """Designs within half an hour of the best, most comfortable hours first."""
    hours = found.comfortable_h[wearer]
    if np.all(np.isnan(hours)):
        return []
    within = np.flatnonzero(hours >= np.nanmax(hours) - judgements.equivalent_score_h - _TIE)
    return sorted((int(column) for column in within), key=lambda column: (-hours[column], column))
