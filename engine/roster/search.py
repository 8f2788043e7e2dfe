"""Find the best design of every kind, and judge the pair worn today, for many wearers at once.

The search of one case, asked once for a whole scene: candidates, best design, then what becomes of
the hours through it. Wearers share a family of lenses, not a design, so what is left to judge after
the choice is judged family by family, on the points that are not clear already. All kinds are asked
together.

Desk first: of the desk, only the height of a monitor is tried. It is lowered in steps of 5 cm with
the pair worn today held, within the limits of height the page of one person has (judgements.csv,
desk_*). Distance, tilt and text stay as they are, and laptops are not lowered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.answer.options import PRESENT
from engine.case.model import STEEPEST, Design
from engine.kernel.clearness import Columns
from engine.kernel.search import Views, best_columns, candidates_of, clear_where, worse
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.roster.scene import one_wearer, scene_of_rows, screen_size_cm
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

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
    """Wearers of one family of lenses in one option.

    Attributes:
        clear: (points,) comfortable.
    """

    option: int
    kind: Kind
    family: Family
    wearers: Indices
    free_d: Floats
    clear: Bools


def search_rows(
    scene: Scene,
    present: Sequence[str],
    *,
    judgements: Judgements,
    kinds: Collection[str] = tuple(KINDS),
) -> Found:
    """Find the best design of every kind that is asked for, and the present pair.

    present: (wearers,) kind worn today, "" where none is known.
    """
    return _Search(scene, judgements).run(present, kinds)


def worn_comfortable_h(scene: Scene, present: Sequence[str], *, judgements: Judgements) -> Floats:
    """Return comfortable hours through the pair worn today, (wearers,); nan where unknown."""
    search = _Search(scene, judgements)
    hours = np.full(len(present), np.nan)
    for group in search.with_clear(search.worn(present)):
        found = search.sums(group, group.clear)
        hours[group.wearers] = found
    return hours


class _Search:
    """One scene being searched."""

    def __init__(self, scene: Scene, judgements: Judgements) -> None:
        self.scene, self.judgements = scene, judgements
        self.views = Views(scene, judgements, every_grade=True)
        shape = (len(scene.wearers.add_d), len(OPTIONS))
        self.found = {
            name: np.full(shape, np.nan)
            for name in ("comfortable_h", "awkward_h", "blurred_h", "not_served_h", "sees_to_cm")
        }
        self.design = np.full(shape, -1, dtype=np.intp)
        self.designs: dict[str, int] = {}
        self.point_wearer = scene.point_wearer
        self.total = scene.hours(np.ones(len(scene.target_wearer)))

    def run(self, present: Sequence[str], kinds: Collection[str]) -> Found:
        """Search some kinds and the present pair."""
        asked = [(at, kind) for at, kind in enumerate(KINDS.values()) if kind.id in kinds]
        lenses = [(at, kind) for at, kind in asked if kind.is_lens]
        self.judge([*self.best(lenses), *self.with_clear(self.worn(present))])
        for option, kind in asked:
            if not kind.is_lens:
                self.bare(option, kind)
        return Found(**self.found, design=self.design, designs=tuple(self.designs))

    def bare(self, option: int, kind: Kind) -> None:
        """Judge the hours without glasses, of the wearers who can do without: seldom many."""
        families = kind.families(self.judgements)
        powers = families[0].free_powers_d(self.scene.wearers, self.judgements)
        can = ~np.isnan(powers[:, 0])
        if not np.any(can):
            return
        part = _Search(self.scene.of_wearers(can), self.judgements)
        part.judge(part.best([(option, kind)]))
        for name, values in self.found.items():
            values[can, option] = part.found[name][:, option]
        number = [self.designs.setdefault(text, len(self.designs)) for text in part.designs]
        self.design[can, option] = np.array([*number, -1])[part.design[:, option]]

    def best(self, kinds: Sequence[tuple[int, Kind]]) -> Iterator[_Group]:
        """Yield the best design of some kinds, by family."""
        every = candidates_of(self.views, [kind for _, kind in kinds])
        for (option, kind), (found, clear) in zip(kinds, every, strict=True):
            if not len(found.family):
                continue
            column = best_columns(found, judgements=self.judgements)
            family = np.where(column >= 0, found.family[column], -1)
            chosen = np.take_along_axis(clear, column[self.point_wearer][:, None], axis=1)[:, 0]
            for index in np.unique(family[family >= 0]):
                wearers = np.flatnonzero(family == index)
                free_d = found.free_d[wearers, column[wearers]]
                of_family = chosen & (family == index)[self.point_wearer]
                yield _Group(option, kind, found.families[index], wearers, free_d, of_family)

    def worn(self, present: Sequence[str]) -> Iterator[_Group]:
        """Yield the pairs worn today, each at the wearer's own add and the middle design.

        Which points they make clear is not asked yet.
        """
        none = np.zeros(0, dtype=bool)
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
                yield _Group(len(KINDS), KINDS[name], family, wearers, free_d, none)

    def columns(self, group: _Group) -> Columns:
        """Return what is asked of the lenses of a group; nan for the wearers of others."""
        powers = np.full((len(self.scene.wearers.add_d), 1), np.nan)
        powers[group.wearers, 0] = group.free_d
        return Columns(group.kind, group.family, powers)

    def with_clear(self, groups: Iterable[_Group]) -> list[_Group]:
        """Return the groups with the points that are comfortable."""
        listed = list(groups)
        asked = [self.columns(one) for one in listed]
        found = clear_where(self.views, "comfortable", asked)
        return [replace(one, clear=clear[:, 0]) for one, clear in zip(listed, found, strict=True)]

    def judge(self, groups: Iterable[_Group]) -> None:
        """Judge the hours through the designs of some groups, how far they show, their texts."""
        listed = list(groups)
        asked = [
            worse(self.columns(one), known=one.clear, judgements=self.judgements) for one in listed
        ]
        for group, found in zip(listed, clear_where(self.views, "awkward", asked), strict=True):
            self.tell(group, *found.T)

    def tell(self, group: _Group, sharp: Bools, usable: Bools) -> None:
        """Keep what becomes of the hours of a group; sharp and usable hold what is comfortable."""
        wearers, at = group.wearers, (group.wearers, group.option)
        grades = group.clear, sharp & ~group.clear, usable & ~sharp
        comfortable, awkward, blurred = (self.sums(group, grade) for grade in grades)
        lost = self.total[wearers] - comfortable - awkward - blurred
        family: Any = group.family
        adds_d = self.scene.wearers.add_d[wearers]
        designs = list(zip(adds_d.tolist(), group.free_d.tolist(), strict=True))
        self.found["comfortable_h"][at] = comfortable
        self.found["awkward_h"][at] = awkward
        self.found["blurred_h"][at] = blurred
        self.found["not_served_h"][at] = np.maximum(lost, 0.0)
        alike = dict.fromkeys(designs)
        far_cm = {one: _far_cm(group.kind, family, *one) for one in alike}
        number = {one: self.text(family, *one) for one in alike}
        self.found["sees_to_cm"][at] = [far_cm[one] for one in designs]
        self.design[at] = [number[one] for one in designs]

    def sums(self, group: _Group, values: Bools) -> Floats:
        """Return hours of the wearers of a group on some points, (wearers of the group,)."""
        scene = self.scene
        hours = scene.target_hours if group.kind.may_cover_distance else scene.seated_hours
        points = np.flatnonzero(values)
        weight = scene.share[points] * hours[scene.point_target[points]]
        count = len(scene.wearers.add_d)
        found = np.bincount(self.point_wearer[points], weights=weight, minlength=count)
        return np.asarray(found, dtype=np.float64)[group.wearers]

    def text(self, family: Any, add_d: float, free_d: float) -> int:
        """Return the number of the text of a design."""
        return self.designs.setdefault(_words(family, add_d, free_d), len(self.designs))


@lru_cache(maxsize=4096)
def _worn(name: str, add_d: float, judgements: Judgements) -> tuple[Family, float]:
    family, free = KINDS[name].worn(Design(), add_d=add_d, judgements=judgements)
    return family.at_own_add(), free


@lru_cache(maxsize=4096)
def _far_cm(kind: Kind, family: Any, add_d: float, free_d: float) -> float:
    """Return how far a design shows, whoever wears it; infinite without a limit."""
    found = Lens(kind, family, free_d, add_d).sees_to_cm(wearers=one_wearer(add_d=add_d))
    return np.inf if found is None else found


@lru_cache(maxsize=4096)
def _words(family: Any, add_d: float, free_d: float) -> str:
    """Return a design in words."""
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
    now_h: Floats | None,
) -> dict[str, Floats]:
    """Return the rows with each monitor where the pair worn today gives the most hours.

    present: (wearers,) kind worn today, "" where none is known: such a screen stays.
    now_h: (wearers,) comfortable hours through it as the desks are, where they are known.
    """
    now = _hours(values, present, judgements) if now_h is None else now_h.copy()
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
    """Tell whether a screen may stand there: top not above the eyes, bottom above the desk.

    The desk is taken where the page of one person takes it (desk_below_eye_cm).
    """
    top, away = values["screen_top_cm"], values["screen_distance_cm"]
    upright = screen_size_cm(values)[1] * np.cos(np.radians(values["screen_tilt_deg"]))
    bottom = top - upright
    lowest = judgements.desk_bottom_above_desk_cm - judgements.desk_below_eye_cm
    below = np.sin(np.radians(judgements.desk_below_level_max_deg)) * away
    found: Bools = (top <= 0.0) & (bottom >= lowest) & (-bottom <= below)
    return found & (np.abs(top - upright / 2) < STEEPEST * away - 1.0 / MM_PER_CM)


def _hours(values: Mapping[str, Floats], present: Sequence[str], judgements: Judgements) -> Floats:
    scene = scene_of_rows(values, judgements=judgements)
    return worn_comfortable_h(scene, present, judgements=judgements)
