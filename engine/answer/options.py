"""The options of one case: the best lens of each kind and the pairs owned, with their hours."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from engine.answer import cautions
from engine.answer.held import Desk, HoursHeld, range_h
from engine.case.results import AsMeasured, OptionResult, not_served_h
from engine.case.scene import wearers_of
from engine.kernel.compiled import is_loaded
from engine.kernel.details import Closeup
from engine.kernel.draws import Draws
from engine.kernel.search import (
    Candidates,
    Views,
    best_columns,
    candidates,
    candidates_of,
    equivalent_columns,
)
from engine.lenses.families import HIGHEST_ADD_D
from engine.lenses.kinds import KINDS, Kind
from engine.lenses.lens import Lens, lens_of, owned_lens

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from engine.case.model import Case, Design, OwnedPair
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

PRESENT = "present_pair"
"""The option that is the pair worn at the desk today; further pairs are owned_2 and so on."""


def owned_name(place: int) -> str:
    """Return the option of a pair owned, by its place among them from 0.

    >>> owned_name(0), owned_name(1)
    ('present_pair', 'owned_2')
    """
    return PRESENT if place == 0 else f"owned_{place + 1}"


def pair_of_option(option: OptionResult, case: Case) -> OwnedPair | None:
    """Return the pair owned that an option is; None for a new one and for no glasses."""
    names = [owned_name(place) for place in range(len(case.owned_pairs))]
    return case.owned_pairs[names.index(option.option)] if option.option in names else None


def lens_of_option(option: OptionResult, case: Case, *, judgements: Judgements) -> Lens:
    """Return the lens of an option that was answered, owned or new."""
    wearers = wearers_of([case], judgements=judgements)
    pair = pair_of_option(option, case)
    if pair is not None:
        return owned_lens(pair, case, wearers=wearers, judgements=judgements)
    return lens_of(option.kind, option.design, case, wearers=wearers, judgements=judgements)


def accepted_kinds(case: Case) -> tuple[Kind, ...]:
    """Return the kinds a new pair may be put first of: lined ones where a line is accepted."""
    return tuple(one for one in KINDS.values() if case.wearer.accepts_lined or not one.is_lined)


@dataclass(frozen=True)
class Option:
    """One option: the lens, its hours, and how it is told.

    Attributes:
        pair: the pair owned; None for a new one and for no glasses.
    """

    name: str
    lens: Lens
    hours: HoursHeld
    result: OptionResult
    pair: OwnedPair | None = None

    @property
    def is_new(self) -> bool:
        """Whether it has to be bought."""
        return self.pair is None and self.lens.kind.is_lens

    @property
    def is_kept(self) -> bool:
        """Whether it is owned and liked, or no glasses at all."""
        return not self.is_new and (self.pair is None or self.pair.liked is True)

    @property
    def is_disliked(self) -> bool:
        """Whether it is owned and not liked."""
        return self.pair is not None and self.pair.liked is False


@dataclass(frozen=True)
class _Chosen:
    """A lens that is to be an option; see `Option` and `OptionResult`.

    Attributes:
        comfortable: which points are, in each part of the first cube; empty where no search told.
    """

    name: str
    lens: Lens
    pair: OwnedPair | None = None
    equivalents: tuple[Design, ...] = ()
    excluded: tuple[str, ...] = ()
    comfortable: tuple[Bools, ...] = ()


class Solver:
    """The options of one case."""

    def __init__(
        self,
        case: Case,
        judgements: Judgements,
        *,
        like: Draws | None = None,
        kinds: Sequence[Kind] = tuple(KINDS.values()),
    ) -> None:
        """Keep the luck of `like`: draws of the same case with its desk moved.

        kinds: of the new pairs that are searched for.
        """
        self.case, self.judgements, self._kinds = case, judgements, kinds
        self.draws = Draws(case, judgements=judgements, like=like)
        self.desk = Desk(self.draws)
        self.wearers = self.draws.measured_wearers
        self.add_d = float(self.wearers.add_d[0])

    @cached_property
    def closeup(self) -> Closeup:
        """The case as measured, for what is printed beside a grade."""
        names = tuple(target.name for target in self.case.targets)
        return Closeup(self.desk.measured.scene, names, self.judgements)

    def options(self, *, progress: Callable[[float], None] | None = None) -> list[Option]:
        """Give all kinds that can be made, and every pair owned, most comfortable hours first."""
        searched: list[Option | None] = []
        for some in self._searches():
            searched += some
            if progress is not None:
                progress(len(searched) / self._count)
        made = [option for option in searched if option is not None]
        order = {option.name: place for place, option in enumerate(made)}
        return sorted(made, key=lambda one: (-round(one.result.comfortable_h, 6), order[one.name]))

    @property
    def _count(self) -> int:
        """How many lenses are searched for, whether there is such a one or not."""
        return len(self._kinds) + len(self.case.owned_pairs)

    def _searches(self) -> Iterator[list[Option | None]]:
        """Yield what each search finds: all lenses at once, or plainly lens by lens.

        So what is done can be told between them where they take long.
        """
        step = self._count if is_loaded() else 1
        chosen = self._chosen()
        while some := list(itertools.islice(chosen, step)):
            made = iter(self._options([one for one in some if one is not None]))
            yield [None if one is None else next(made) for one in some]

    def _chosen(self) -> Iterator[_Chosen | None]:
        """Yield the best lens of each kind, None where there is none, then the pairs owned."""
        for kind in self._kinds:
            yield self._best_of(kind)
        for number, pair in enumerate(self.case.owned_pairs):
            lens = owned_lens(pair, self.case, wearers=self.wearers, judgements=self.judgements)
            yield _Chosen(owned_name(number), lens, pair=pair)

    @cached_property
    def _every_kind(self) -> dict[str, list[tuple[Candidates, Bools]]]:
        """Of each kind, the designs in every part of the first cube; kinds searched together."""
        parts = [candidates_of(views, self._kinds) for views in self.desk.first_cube]
        return {kind.id: [part[at] for part in parts] for at, kind in enumerate(self._kinds)}

    def _candidates(self, kind: Kind) -> tuple[Candidates, list[Bools]]:
        """Return every design of a kind with the hours expected over the first cube.

        With them which points are comfortable in each part of it, (points, designs).
        """
        if is_loaded():
            parts = self._every_kind[kind.id]
        else:
            parts = [candidates_of(views, [kind])[0] for views in self.desk.first_cube]
        hours = np.concatenate([part.comfortable_h for part, _ in parts])
        found = replace(parts[0][0], comfortable_h=hours).expected()
        return found, [comfortable for _, comfortable in parts]

    def _best_of(self, kind: Kind) -> _Chosen | None:
        """Return the best design of a kind by expected hours; None where none can be made."""
        liked = [pair.design for pair in self.case.owned_pairs if pair.liked]
        found, comfortable = self._candidates(kind)
        column = int(best_columns(found, judgements=self.judgements, liked=liked)[0])
        if column < 0:
            return self._not_makable(kind)
        family = found.families[found.family[column]]
        equivalents = equivalent_columns(found, wearer=0, judgements=self.judgements)
        return _Chosen(
            kind.id,
            Lens(kind, family, float(found.free_d[0, column]), self.add_d),
            equivalents=tuple(
                found.design(one, wearer=0, add_d=self.add_d)
                for one in equivalents
                if one != column
            ),
            comfortable=tuple(part[:, column] for part in comfortable),
        )

    def _not_makable(self, kind: Kind) -> _Chosen | None:
        """Return a lens that the frame is too shallow for: computed, not recommended."""
        if not kind.has_corridor or not self.add_d > 0.0:
            return None
        lens = Lens(kind, kind.families(self.judgements)[0], 0.0, self.add_d)
        return _Chosen(kind.id, lens, excluded=("frame_too_shallow",))

    def option(
        self,
        name: str,
        lens: Lens,
        *,
        pair: OwnedPair | None = None,
        equivalents: tuple[Design, ...] = (),
    ) -> Option:
        """Return one lens as an option, with its hours and everything printed beside them."""
        (found,) = self._options([_Chosen(name, lens, pair, equivalents)])
        return found

    def _options(self, chosen: Sequence[_Chosen]) -> list[Option]:
        """Return lenses as options, their hours searched together."""
        if not chosen:
            return []
        covers = [
            one.lens.covers_distance(wearers=self.wearers, judgements=self.judgements)
            for one in chosen
        ]
        lenses = [(one.lens, covered) for one, covered in zip(chosen, covers, strict=True)]
        hours = self.desk.hours_of(lenses, comfortable=[one.comfortable for one in chosen])
        return [self._option(*one) for one in zip(chosen, covers, hours, strict=True)]

    def _option(self, chosen: _Chosen, covers: bool, hours: HoursHeld) -> Option:
        lens = chosen.lens
        in_draws = hours.comfortable_h.sum(axis=1)
        comfortable, awkward, blurred = hours.as_measured_h.sum(axis=1)
        day_h = float(self.desk.spent_h.sum())
        targets = self.closeup.targets(lens, hours.measured)
        mean_h = float(in_draws.mean())
        awkward_h, blurred_h = float(hours.awkward_h.sum()), float(hours.blurred_h.sum())
        result = OptionResult(
            option=chosen.name,
            kind=lens.kind.id,
            design=lens.design,
            equivalent_designs=chosen.equivalents,
            recommendable=True,
            comfortable_h=mean_h,
            comfortable_range_h=range_h(in_draws),
            awkward_h=awkward_h,
            blurred_h=blurred_h,
            not_served_h=not_served_h(day_h, mean_h, awkward_h, blurred_h),
            covers_distance=covers,
            sees_to_cm=lens.sees_to_cm(wearers=self.wearers),
            as_measured=AsMeasured(
                comfortable_h=comfortable,
                awkward_h=awkward,
                blurred_h=blurred,
                not_served_h=not_served_h(day_h, comfortable, awkward, blurred),
                targets=targets,
            ),
        )
        result = self._cautioned(result, chosen.excluded, chosen.pair)
        return Option(chosen.name, lens, hours, result, chosen.pair)

    def _cautioned(
        self, result: OptionResult, excluded: tuple[str, ...], pair: OwnedPair | None
    ) -> OptionResult:
        """Return the result with its cautions, and what they and a line unwanted exclude."""
        said = cautions.option_cautions(self.case, result, judgements=self.judgements)
        excluded += tuple(one for one in cautions.excludes([told.id for told in said]))
        if pair is None and KINDS[result.kind] not in accepted_kinds(self.case):
            excluded += ("line_not_accepted",)
        return result.model_copy(
            update={
                "cautions": said,
                "excluded_by": tuple(dict.fromkeys(excluded)),
                "recommendable": not excluded,
            }
        )

    def more_plus_h(self, kind: Kind, *, now_h: float) -> float:
        """Return the hours that more near power than prescribed would bring.

        0 without an add, and where too little of the day is left for hours worth asking for.
        Held against now_h and every design of the kind at the prescribed add: hours that another
        design would bring are no reason to ask for plus.
        """
        scene, judgements = self.desk.measured.scene, self.judgements
        left_h = float(self.desk.spent_h.sum()) - now_h
        if not self.add_d > 0.0 or left_h < judgements.more_plus_worth_h:
            return 0.0
        now_h = max(now_h, _most_h(self.desk.measured, kind))
        most_h = now_h
        step_d, most_d = judgements.design_step_d, judgements.more_plus_most_d
        for more_d in np.arange(step_d, most_d + step_d / 2, step_d):
            add_d = np.minimum(scene.wearers.add_d + more_d, HIGHEST_ADD_D)
            tried = replace(scene, wearers=replace(scene.wearers, add_d=add_d))
            views = Views(tried, judgements, like=self.desk.measured)
            most_h = max(most_h, _most_h(views, kind))
        return most_h - now_h


def _most_h(views: Views, kind: Kind) -> float:
    """Return the comfortable hours of a kind's best design; 0 where none can be made."""
    found = candidates(views, kind).comfortable_h
    return float(np.nanmax(found)) if found.size else 0.0


def redesigned(
    option: OptionResult, design: Design, case: Case, *, judgements: Judgements
) -> OptionResult:
    """Return a new lens of an answer with another design, and everything told of that one."""
    solver = Solver(case, judgements)
    lens = lens_of(option.kind, design, case, wearers=solver.wearers, judgements=judgements)
    equivalents = tuple(one for one in (option.design, *option.equivalent_designs) if one != design)
    return solver.option(option.option, lens, equivalents=equivalents).result
