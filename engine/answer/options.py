"""The options of one case: the best lens of each kind and the pair worn today, with their hours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from engine.answer import cautions, plans, reasons
from engine.case.results import OptionResult
from engine.kernel.details import Chosen, Closeup
from engine.kernel.search import Shares, Views, best_columns, candidates, equivalent_columns, shares
from engine.lenses.families import HIGHEST_ADD_D
from engine.lenses.kinds import KINDS, Kind
from engine.optics.accommodation import usual_add_d
from engine.tables import Judgements

if TYPE_CHECKING:
    from engine.answer.plans import Choice, Solved
    from engine.case.model import Case, Design
    from engine.case.results import OptionTarget, Told
    from engine.case.scene import Scene, Wearers


@dataclass(frozen=True)
class Option:
    """One option: the lens, what was found, and how it is told."""

    lens: Chosen
    solved: Solved
    result: OptionResult


class Solver:
    """The options of one case."""

    def __init__(self, case: Case, scene: Scene, judgements: Judgements) -> None:
        self.case, self.scene, self.judgements = case, scene, judgements
        self.views = Views(scene, judgements)
        names = tuple(target.name for target in case.targets)
        self.closeup = Closeup(scene, names, judgements)
        add_d = case.wearer.add_d
        self.add_d = float(usual_add_d(age_years=case.wearer.age_years)) if add_d is None else add_d

    def options(self) -> list[Option]:
        """Every kind that can be made, and the pair worn today, most comfortable hours first."""
        found = [self._best_of(kind) for kind in KINDS.values()]
        found.append(self._present())
        made = [option for option in found if option is not None]
        order = {option.solved.option: place for place, option in enumerate(made)}
        return sorted(
            made,
            key=lambda one: (
                -round(one.result.comfortable_h, 6),
                -round(one.result.reserve_h, 6),
                order[one.solved.option],
            ),
        )

    def _best_of(self, kind: Kind) -> Option | None:
        if self.case.wearer.add_d is None and kind.id != "sv_distance":
            return None
        found = candidates(self.views, kind)
        column = int(
            best_columns(found, judgements=self.judgements, liked_corridor_mm=self._liked())[0]
        )
        if column < 0:
            return self._too_shallow(kind)
        add_d, family = self.add_d, found.families[found.family[column]]
        equivalents = equivalent_columns(found, wearer=0, judgements=self.judgements)
        return self._option(
            option=kind.id,
            chosen=Chosen(kind, family, float(found.free_d[0, column])),
            equivalents=tuple(
                found.design(one, wearer=0, add_d=add_d) for one in equivalents if one != column
            ),
            excluded=(),
        )

    def _too_shallow(self, kind: Kind) -> Option | None:
        """A general progressive no corridor of which the frame takes: computed, not recommended."""
        if kind.id != "general_progressive":
            return None
        family = kind.families(self.judgements)[0]
        return self._option(
            option=kind.id,
            chosen=Chosen(kind, family, 0.0),
            equivalents=(),
            excluded=("frame_too_shallow",),
        )

    def _liked(self) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
        present = self.case.present_pair
        if present is None or not present.liked or present.design.corridor_mm is None:
            return None
        return np.array([present.design.corridor_mm])

    def _present(self) -> Option | None:
        present = self.case.present_pair
        if present is None:
            return None
        kind = KINDS[present.kind]
        family, free_d = kind.worn(present.design, add_d=self.add_d, judgements=self.judgements)
        if np.isnan(free_d):
            free_d = float(self.scene.wearers.unaided_power_d[0])
        return self._option(
            option=plans.PRESENT,
            chosen=Chosen(kind, family, free_d),
            equivalents=(),
            excluded=(),
        )

    def more_plus(self, choice: Choice) -> tuple[Told, ...]:
        """Whether more near power than prescribed would bring enough to ask the prescriber.

        Held against the plan and every design of its kind at the prescribed add: hours that
        another design would bring are no reason to ask for plus.
        """
        wearers = self.scene.wearers
        if self.case.wearer.add_d is None or len(choice.plan.pairs) > 1:
            return ()
        kind = KINDS[choice.plan.pairs[0][0].kind]
        now_h = max(choice.plan.hours.comfortable, _most_h(self.views, kind))
        most_h = now_h
        step_d, most_d = self.judgements.design_step_d, self.judgements.more_plus_most_d
        for more_d in np.arange(step_d, most_d + step_d / 2, step_d):
            add_d = np.minimum(wearers.add_d + more_d, HIGHEST_ADD_D)
            scene = replace(self.scene, wearers=replace(wearers, add_d=add_d))
            most_h = max(most_h, _most_h(Views(scene, self.judgements), kind))
        if most_h - now_h < self.judgements.more_plus_worth_h:
            return ()
        return (plans.told("more_plus", gain_h=reasons.written_h(most_h - now_h)),)

    def _option(
        self,
        *,
        option: str,
        chosen: Chosen,
        equivalents: tuple[Design, ...],
        excluded: tuple[str, ...],
    ) -> Option:
        kind = chosen.kind
        found = shares(self.views, kind, chosen.family, np.array([chosen.free_d]))
        targets = self.closeup.targets(chosen, found)
        solved = plans.Solved(
            option=option,
            kind=kind.id,
            design=chosen.family.design(add_d=self.add_d, free_d=chosen.free_d),
            plus_d=float(
                chosen.family.plus_d(add_d=np.array(self.add_d), free_d=np.array(chosen.free_d))
            ),
            covers_distance=self._covers(chosen),
            shares=_by_name(targets, found),
            one_posture={target.target: target.one_posture_share for target in targets},
        )
        hours = plans.NO_HOURS
        for activity in self.case.activities:
            hours += solved.hours_in(activity)
        result = OptionResult(
            option=option,
            kind=kind.id,
            design=solved.design,
            equivalent_designs=equivalents,
            recommendable=True,
            comfortable_h=hours.comfortable,
            strained_h=hours.strained,
            not_served_h=hours.not_served,
            reserve_h=hours.reserve,
            covers_distance=solved.covers_distance,
            sees_to_cm=chosen.sees_to_cm(wearers=self.scene.wearers),
            targets=targets,
        )
        return Option(chosen, solved, self._cautioned(result, excluded))

    def _cautioned(self, result: OptionResult, excluded: tuple[str, ...]) -> OptionResult:
        said = cautions.option_cautions(self.case, result, judgements=self.judgements)
        excluded += tuple(one for one in cautions.excludes([told.id for told in said]))
        lined = KINDS[result.kind].is_lined
        if lined and result.option != plans.PRESENT and not self.case.wearer.accepts_lined:
            excluded += ("line_not_accepted",)
        return result.model_copy(
            update={
                "cautions": said,
                "excluded_by": tuple(dict.fromkeys(excluded)),
                "recommendable": not excluded,
            }
        )

    def _covers(self, chosen: Chosen) -> bool:
        """Clear distance from the fitting point up to 10 mm above it."""
        heights_mm = np.linspace(0.0, self.judgements.clear_distance_up_mm, 21)
        power_d = chosen.power_above_d(heights_mm, wearers=self.scene.wearers)
        limit_d = self.judgements.clear_distance_added_d
        return plans.covers_distance(chosen.kind.id, list(power_d), limit_d)


def _most_h(views: Views, kind: Kind) -> float:
    """Comfortable hours of the design of a kind that gives the most; 0 where none can be made."""
    found = candidates(views, kind).comfortable_h
    return float(np.nanmax(found)) if found.size else 0.0


def _by_name(
    targets: tuple[OptionTarget, ...], found: Shares
) -> dict[str, tuple[float, float, float, float]]:
    parts = zip(found.comfortable, found.strained, found.not_served, found.reserve, strict=True)
    return {
        target.target: (float(a), float(b), float(c), float(d))
        for target, (a, b, c, d) in zip(targets, parts, strict=True)
    }


def lens_of(option: OptionResult, case: Case, wearers: Wearers) -> Chosen:
    """Return the lens of an option, made again from its design."""
    kind, add_d = KINDS[option.kind], case.wearer.add_d
    known_d = float(usual_add_d(age_years=case.wearer.age_years)) if add_d is None else add_d
    family, free_d = kind.worn(option.design, add_d=known_d, judgements=Judgements.standard())
    return Chosen(kind, family, float(wearers.unaided_power_d[0]) if np.isnan(free_d) else free_d)
