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

from engine.kernel.clearness import Columns, Windows
from engine.kernel.compiled import Seen, is_loaded, knows
from engine.kernel.posture import (
    View,
    awkward,
    comfortable,
    gaze_for_all,
    own_window_samples,
    view_for_windows,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from engine.case.model import Design
    from engine.case.scene import Scene
    from engine.kernel.posture import Band, Gaze
    from engine.lenses.families import Family
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]


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
        """Return one of the designs of one wearer."""
        free_d = float(self.free_d[wearer, column])
        family: Family = self.families[self.family[column]]
        return family.design(add_d=add_d, free_d=free_d)

    def expected(self) -> Candidates:
        """Return the designs of one wearer, whose draws the wearers are, with expected hours."""
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
        every_grade: will be asked for, so that one gaze serves all.
        chin_up_within_deg: lowest and highest chin-up any point is comfortable at, where known.
        like: views of wearers who differ in add and in what they focus, in nothing else.
    """

    scene: Scene
    judgements: Judgements
    every_grade: bool = False
    chin_up_within_deg: tuple[float, float] | None = None
    like: Views | None = None
    _gaze: Gaze | None = None
    _made: dict[tuple[str, bool], View] = field(default_factory=dict)
    _windows: dict[tuple[str, bool], Windows] = field(default_factory=dict)
    _seen: dict[tuple[str, bool], Seen] = field(default_factory=dict)

    def _band(self, grade: str) -> Band:
        """Return the limits of a grade, narrowed where the chin-up is known to be."""
        band = (comfortable if grade == "comfortable" else awkward)(self.judgements)
        if grade == "comfortable" and self.chin_up_within_deg is not None:
            band = replace(band, chin_up_deg=self.chin_up_within_deg)
        return band

    def of(self, grade: str, kind: Kind) -> View:
        """Return the view of a grade through lenses, or bare for no glasses."""
        key = grade, kind.is_lens
        if key not in self._made:
            if self.every_grade and self._gaze is None:
                self._gaze = gaze_for_all(self.scene, judgements=self.judgements)
            self._made[key] = view_for_windows(
                self.scene,
                band=self._band(grade),
                through_lens=kind.is_lens,
                judgements=self.judgements,
                gaze=self._gaze,
            )
        return self._made[key]

    def windows(self, grade: str, kind: Kind) -> Windows:
        """Return the pairs of the view that any window can take, for the plain search."""
        key = grade, kind.is_lens
        if key not in self._windows:
            if self.like is not None:
                self._windows[key] = self.like.windows(grade, kind).of_others(self.scene)
            else:
                samples = own_window_samples(self.scene.wearers, judgements=self.judgements)
                self._windows[key] = Windows(self.of(grade, kind), samples=samples)
        return self._windows[key]

    def seen(self, grade: str, kind: Kind) -> Seen:
        """Return the scene as the compiled search takes it."""
        key = grade, kind.is_lens
        if key not in self._seen:
            if self.like is not None:
                self._seen[key] = self.like.seen(grade, kind).of_others(self.scene)
            else:
                self._seen[key] = Seen(
                    self.scene,
                    band=self._band(grade),
                    through_lens=kind.is_lens,
                    judgements=self.judgements,
                )
        return self._seen[key]


def clear_where(views: Views, grade: str, asked: Sequence[Columns]) -> list[Bools]:
    """Tell whether some window of postures of a grade is clear, (points, columns) for each asked.

    Every search comes through here, all of what is asked at once: what the postures of a point come
    to is then worked out once. The compiled way and the plain one say the same.
    """
    if not is_loaded() or not all(knows(one.family) for one in asked):
        return [views.windows(grade, one.kind).clear_points(one) for one in asked]
    found: dict[int, Bools] = {}
    for is_lens in (True, False):
        which = [at for at, one in enumerate(asked) if one.kind.is_lens == is_lens]
        if which:
            seen = views.seen(grade, asked[which[0]].kind)
            found.update(zip(which, seen.clear_points([asked[at] for at in which]), strict=True))
    return [found[at] for at in range(len(asked))]


def candidates(views: Views, kind: Kind) -> Candidates:
    """Return the comfortable hours of every design of a kind."""
    ((found, _),) = candidates_of(views, [kind])
    return found


def candidates_of(views: Views, kinds: Sequence[Kind]) -> list[tuple[Candidates, Bools]]:
    """Return the comfortable hours of every design of some kinds, searched together.

    With them which points are comfortable, (points, designs).
    """
    wearers = views.scene.wearers
    asked: list[list[Columns]] = []
    members: list[list[int]] = []
    for kind in kinds:
        columns, member = [], []
        for index, family in enumerate(kind.families(views.judgements)):
            powers = family.free_powers_d(wearers, views.judgements)
            powers = powers[:, ~np.all(np.isnan(powers), axis=0)]
            if powers.shape[1]:
                columns.append(Columns(kind, family, powers))
                member += [index] * powers.shape[1]
        asked.append(columns)
        members.append(member)
    clear = iter(clear_where(views, "comfortable", [one for each in asked for one in each]))
    none = np.zeros((len(views.scene.share), 0), dtype=bool)
    found = []
    for kind, columns, member in zip(kinds, asked, members, strict=True):
        of_kind = np.concatenate([none, *(next(clear) for _ in columns)], axis=1)
        found.append((_candidates(views, kind, columns, member, of_kind), of_kind))
    return found


def _candidates(
    views: Views, kind: Kind, asked: Sequence[Columns], member: Sequence[int], clear: Bools
) -> Candidates:
    """Put the hours of the designs of one kind side by side; member: their families."""
    scene, add_d = views.scene, views.scene.wearers.add_d[:, None]
    none = np.full((len(add_d), 0), np.nan)
    free_d = np.concatenate([none, *(one.powers for one in asked)], axis=1)
    later = [
        one.family.later(add_d=add_d, free_d=one.powers, judgements=views.judgements)
        for one in asked
    ]
    hours = none
    if asked:
        hours = scene.hours(scene.by_target(clear), seated_only=not kind.may_cover_distance)
    return Candidates(
        kind=kind,
        families=kind.families(views.judgements),
        family=np.array(member, dtype=np.intp),
        free_d=free_d,
        comfortable_h=np.where(np.isnan(free_d), np.nan, hours),
        later=np.concatenate([none, *later], axis=1),
    )


def clear_points(views: Views, kind: Kind, family: Family, powers: Floats) -> Bools:
    """Tell whether each point is comfortable with each power of its wearer, (points, powers).

    powers: (wearers, powers).
    """
    (clear,) = clear_where(views, "comfortable", [Columns(kind, family, powers)])
    return clear


def comfortable_shares(views: Views, kind: Kind, family: Family, free_d: Floats) -> Floats:
    """Return the comfortable share of each target, (targets,); free_d is (wearers,)."""
    (found,) = comfortable_shares_of(views, [Columns(kind, family, free_d[:, None])])
    return found


def comfortable_shares_of(views: Views, designs: Sequence[Columns]) -> list[Floats]:
    """Return the comfortable share of each target through each design; one power a wearer."""
    found = clear_where(views, "comfortable", designs)
    return [views.scene.by_target(clear[:, 0]) for clear in found]


def worse(asked: Columns, *, known: Bools, judgements: Judgements) -> Columns:
    """Return what is asked of a design in awkward postures: as clear, and usable all the same.

    known: (points,) comfortable.
    """
    return replace(asked, known=known, ratios=(1.0, judgements.usable_blur_ratio))


def shares(views: Views, kind: Kind, family: Family, free_d: Floats) -> Shares:
    """Return the share of each target in each grade; free_d is (wearers,)."""
    (found,) = shares_of(views, [Columns(kind, family, free_d[:, None])])
    return found


def shares_of(
    views: Views, designs: Sequence[Columns], *, comfortable: Sequence[Bools | None] | None = None
) -> list[Shares]:
    """Return the share of each target in each grade through each design; one power a wearer.

    comfortable: of each design the points that are, (points,), where a search has told already.
    """
    told = comfortable or [None] * len(designs)
    unknown = [one for one, clear in zip(designs, told, strict=True) if clear is None]
    rest = iter(clear_where(views, "comfortable", unknown))
    known = [next(rest)[:, 0] if clear is None else clear for clear in told]
    asked = [
        worse(one, known=clear, judgements=views.judgements)
        for one, clear in zip(designs, known, strict=True)
    ]
    found = []
    for clear, graded in zip(known, clear_where(views, "awkward", asked), strict=True):
        sharp, usable = graded.T
        by_target = (views.scene.by_target(one) for one in (clear, sharp & ~clear, usable & ~sharp))
        found.append(Shares(*by_target))
    return found


def best_columns(
    found: Candidates, *, judgements: Judgements, liked: Sequence[Design] = ()
) -> NDArray[np.intp]:
    """Return the best design of a kind for each wearer, (wearers,); -1 where none can be ordered.

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
    """Return the designs within half an hour of the best, most comfortable hours first."""
    hours = found.comfortable_h[wearer]
    if np.all(np.isnan(hours)):
        return []
    within = np.flatnonzero(hours >= np.nanmax(hours) - judgements.equivalent_score_h - _TIE)
    return sorted((int(column) for column in within), key=lambda column: (-hours[column], column))
