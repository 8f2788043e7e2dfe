"""People, desks and glasses of one replicate of a study, drawn and put into the engine's arrays.

What a study leaves open is drawn once for the whole replicate, what differs between people once
for each; errors of fitting, focusing and posture are those the engine draws for a wearer
(measuring_errors.csv).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.case.model import Design
from engine.case.scene import Scene
from engine.case.targets import REACH
from engine.kernel.draws import SLOPE_LOPSIDED, Spreads, own_limits, surface_made
from engine.lenses.families import Family
from engine.lenses.kinds import KINDS, Kind
from engine.optics.accommodation import usual_add_d
from engine.roster.scene import scene_of_rows, screen_size_cm
from engine.tables import Judgements
from engine.units import round_half_up
from tests.trials.studies import Outcome

Floats = NDArray[np.float64]
J = Judgements.standard()
STEP_D, LEAST_ADD_D, MOST_ADD_D = J.design_step_d, 0.75, 3.0
ADD_SD_D = 0.25
"""About the usual add of an age (roster_spreads.csv)."""


@dataclass(frozen=True)
class Group:
    """The people of one replicate who wear lenses of one family.

    Attributes:
        who: (people,) whether each belongs here. free_d: (people of the group,).
    """

    kind: Kind
    family: Family
    who: NDArray[np.bool_]
    free_d: Floats


@dataclass(frozen=True)
class People:
    """One replicate.

    Attributes:
        values: (people,) each, by column of the roster and by name of what else is assumed.
        errors: (people,) each, by field of `Wearers`; factors for focusing spread and blur.
    """

    outcome: Outcome
    values: dict[str, Floats]
    errors: dict[str, Floats]
    lenses: dict[str, list[dict[str, Any]]]

    def __len__(self) -> int:
        return len(self.values["add_d"])

    def moved(self, **changed: Floats) -> People:
        """Return the same people with some values changed."""
        return replace(self, values=self.values | changed)

    def taken(self, which: NDArray[np.intp]) -> People:
        """Return some of the people, in this order; one may stand more than once."""
        return replace(
            self,
            values={name: value[which] for name, value in self.values.items()},
            errors={name: value[which] for name, value in self.errors.items()},
            lenses={name: [worn[at] for at in which] for name, worn in self.lenses.items()},
        )

    def scene(self) -> Scene:
        """Return what stands before them, as the engine's arrays."""
        paper, reach = self.values["paper_centre_cm"], REACH * self.values["paper_distance_cm"]
        lowest = half_cm(self.values) - REACH * self.values["screen_distance_cm"]
        within = {
            "paper_centre_cm": np.clip(paper, -reach, reach),
            "screen_top_cm": np.maximum(self.values["screen_top_cm"], lowest),
        }
        made = scene_of_rows(self.values | within, judgements=J)
        wearers, errors = made.wearers, self.errors
        own = {name: errors[name] for name in ("slope", "head_zero_deg", "lens_down_mm",
                                               "profile_down_mm")}  # fmt: skip
        wearers = replace(
            wearers,
            usable_d=np.maximum(wearers.usable_d + errors["usable"], 0.0),
            blur_tolerance=errors["blur"],
            made=errors["made"].astype(np.intp),
            **own,
        )
        limit = made.limit_d * errors["blur"][made.target_wearer]
        return replace(made, wearers=wearers, limit_d=limit)

    def groups(self, lens: str) -> list[Group]:
        """Return who wears which family of a named lens, with the free powers."""
        made: dict[tuple[str, Family], list[tuple[int, float]]] = {}
        for person, written in enumerate(self.lenses[lens]):
            kind = KINDS[written["kind"]]
            design = self._design(written, person)
            add_d = float(self.values["add_d"][person])
            family, free_d = kind.worn(design, add_d=add_d, judgements=J)
            made.setdefault((kind.id, family.at_own_add()), []).append((person, free_d))
        found = []
        for (kind_id, family), members in made.items():
            who = np.zeros(len(self), dtype=bool)
            who[[person for person, _ in members]] = True
            free = np.array([free_d for _, free_d in members])
            found.append(Group(KINDS[kind_id], family, who, free))
        return found

    def _design(self, written: dict[str, Any], person: int) -> Design:
        numbers = {name: value for name, value in written.items() if name not in ("kind", "fits")}
        if written.get("fits") == "screen":
            demand_d = 100.0 / float(self.values["screen_distance_cm"][person])
            numbers["add_d"] = round_half_up(demand_d, step=STEP_D)
        if "degression_d" in numbers:
            most = float(self.values["add_d"][person]) - J.office_top_min_d
            numbers["degression_d"] = min(numbers["degression_d"], max(most, STEP_D))
        return Design(**numbers)


def drawn(outcome: Outcome, rng: np.random.Generator, *, people: int | None = None) -> People:
    """Return one replicate of the people of an outcome."""
    count = outcome.people if people is None else people
    values = {
        name: _quantity(spec, rng, count)
        for name, spec in outcome.assumed.items()
        if name != "add_d"
    }
    error_d = rng.normal(0.0, ADD_SD_D, count)
    if "add_d" in outcome.assumed:
        values["add_d"] = _quantity(outcome.assumed["add_d"], rng, count)
    else:
        usual = usual_add_d(age_years=values["age_years"]) + error_d
        stepped = np.floor(usual / STEP_D + 0.5) * STEP_D
        values["add_d"] = np.clip(stepped, LEAST_ADD_D, MOST_ADD_D)
    spreads = Spreads.standard()
    values |= own_limits(
        lambda _: rng.uniform(size=count), turns=None, spreads=spreads, judgements=J
    )
    lean = rng.normal(0.0, spreads.lean, count)
    values["screen_distance_cm"] = np.maximum(values["screen_distance_cm"] + lean, 40.0)
    if "centre_below_deg" in values:
        values["screen_top_cm"] = top_cm(values, values["centre_below_deg"])
    lenses = {name: _worn(spec, rng, count) for name, spec in outcome.lenses.items()}
    return People(outcome, values, _errors(rng, count, spreads), lenses)


def top_cm(values: dict[str, Floats], centre_below_deg: Floats) -> Floats:
    """Return the top edges of screens whose centres are so far below the eyes."""
    reach = values["screen_distance_cm"] + (13.0 + J.stop_beyond_vertex_mm) / 10.0
    top: Floats = half_cm(values) - reach * np.sin(np.radians(centre_below_deg))
    return top


def half_cm(values: dict[str, Floats]) -> Floats:
    """Half of how far a screen reaches upright."""
    half: Floats = screen_size_cm(values)[1] / 2 * np.cos(np.radians(values["screen_tilt_deg"]))
    return half


def _quantity(spec: dict[str, Any], rng: np.random.Generator, count: int) -> Floats:
    if "one_of" in spec:
        return np.asarray(_one_of(spec, rng, count), dtype=float)
    centre = spec["centre"]
    if isinstance(centre, list):
        centre = rng.uniform(*centre)
    found = centre + rng.normal(0.0, 1.0, count) * spec["sd"]
    return np.clip(found, spec.get("low", -np.inf), spec.get("high", np.inf))


def _one_of(spec: dict[str, Any], rng: np.random.Generator, count: int) -> list[Any]:
    choices = spec["one_of"]
    if spec["each"] == "study":
        return [choices[rng.integers(len(choices))]] * count
    return [choices[at] for at in rng.integers(len(choices), size=count)]


def _worn(spec: dict[str, Any], rng: np.random.Generator, count: int) -> list[dict[str, Any]]:
    """Each person's own pair, with every number that is left open drawn."""
    columns = {
        name: _one_of(value, rng, count) if isinstance(value, dict) else [value] * count
        for name, value in spec.items()
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _errors(rng: np.random.Generator, count: int, spreads: Spreads) -> dict[str, Floats]:
    """What the engine draws for a wearer; the lens made is one for the whole study."""
    lopsided = rng.uniform(-1.0, 1.0, count) + SLOPE_LOPSIDED
    one = np.ones(count)
    return {
        "slope": J.free_posture_slope + spreads.slope * lopsided,
        "head_zero_deg": rng.normal(0.0, spreads.head_zero, count),
        "lens_down_mm": rng.normal(0.0, spreads.fitting_height, count)
        + rng.uniform(0.0, spreads.slip, count),
        "made": one * float(surface_made(rng.uniform(size=1), of=int(spreads.made))[0]),
        "profile_down_mm": one * rng.normal(0.0, spreads.profile),
        "usable": rng.normal(0.0, spreads.usable, count),
        "blur": np.exp(rng.normal(0.0, spreads.blur, count)),
    }
