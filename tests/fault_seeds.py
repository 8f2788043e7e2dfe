"""Two sets of seeded faults: the first to look at, the second held back for the figure reported."""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass

import numpy as np

from engine.case import Case
from engine.complaints import RankedCause, rank_causes
from engine.results import OptionResult
from tests.fault_world import Fault, notes
from tests.orders import answered, content

KINDS = ("general_progressive", "office", "sv_computer", "bifocal_desk")
FIRST_CASES = ("eye_level_27in", "laptop_only", "absolute_presbyope", "musician")
SECOND_CASES = ("low_24in", "reception", "two_screens", "early_presbyope")


@dataclass(frozen=True)
class Record:
    """One seeded complaint and what was made of it."""

    case: str
    kind: str
    fault: Fault
    ranked: tuple[RankedCause, ...]

    @property
    def place(self) -> int:
        """Place of the true cause, 1 the first."""
        return 1 + [cause.id for cause in self.ranked].index(self.fault.cause)

    def line(self) -> str:
        """The record in a line, for the list of misses."""
        changed = {
            name: value
            for name, value in vars(self.fault).items()
            if value and name != "cause" and not (name == "text_share" and value == 1.0)
        }
        first = ", ".join(cause.id for cause in self.ranked[:3])
        return f"{self.case} {self.kind} {changed}: place {self.place}; first {first}"


def faults(scale: float) -> tuple[Fault, ...]:
    """The faults of one set; the sets differ in how large they are."""
    s = scale
    return (
        Fault("fitted_low", lens_down_mm=2.5 * s),
        Fault("fitted_low", lens_down_mm=3.5 * s),
        Fault("fitted_high", lens_down_mm=-2.5 * s),
        Fault("fitted_high", lens_down_mm=-3.5 * s),
        Fault("slipped", lens_down_mm=3.0 * s, vertex_mm=2.0, later=True),
        Fault("wrong_reference", lens_down_mm=6.0 * s),
        Fault("wrong_reference", lens_down_mm=-6.0 * s),
        Fault("add_too_strong", near_power_d=0.5 * s),
        Fault("add_too_weak", near_power_d=-0.5 * s),
        Fault("screen_power_too_strong", screen_power_d=0.5 * s),
        Fault("screen_power_too_weak", screen_power_d=-0.5 * s),
        Fault("less_accommodation", usable_d=-0.6 * s),
        Fault("base_too_plus", base_power_d=0.5 * s),
        Fault("base_too_minus", base_power_d=-0.5 * s),
        Fault("one_eye_power", base_power_d=0.75 * s, one_eye=True),
        Fault("pd_error", side_mm=3.0 * s),
        Fault("screen_distance", screen_nearer_cm=14.0 * s),
        Fault("screen_distance", screen_nearer_cm=-16.0 * s),
        Fault("screen_height", screen_higher_cm=12.0 * s),
        Fault("screen_height", screen_higher_cm=-12.0 * s),
        Fault("page_distance", page_nearer_cm=9.0 * s),
        Fault("page_distance", page_nearer_cm=-14.0 * s),
        Fault("text_smaller", text_share=0.6 / s),
        Fault("vertex_differs", vertex_mm=6.0 * s),
        Fault("tilt_differs", tilt_deg=12.0 * s),
        Fault("cylinder_off", astigmatism_d=1.0 * s),
    )


APPLIES = {
    "wrong_reference": {"office"},
    "fitted_low": {"general_progressive", "office", "bifocal_desk"},
    "fitted_high": {"general_progressive", "office", "bifocal_desk"},
    "pd_error": {"general_progressive", "office"},
    "add_too_strong": {"general_progressive", "office", "bifocal_desk"},
    "add_too_weak": {"general_progressive", "office", "bifocal_desk"},
    "screen_power_too_strong": {"office", "sv_computer", "bifocal_desk"},
    "screen_power_too_weak": {"office", "sv_computer", "bifocal_desk"},
}
STRONG_ONLY = ("vertex_differs", "tilt_differs")
SERVED = 0.4
"""A pair is only taken where its record serves the main target to this share."""


def records(names: tuple[str, ...], *, scale: float, seed: int) -> tuple[list[Record], int]:
    """Every complaint of a set, and how many faults nobody would have complained of."""
    rng = np.random.default_rng(seed)
    found, silent = [], 0
    for name, kind, fault in itertools.product(names, KINDS, faults(scale)):
        if kind not in APPLIES.get(fault.cause, set(KINDS)):
            continue
        case, option = _record(name, kind, strong=fault.cause in STRONG_ONLY)
        if option is None:
            continue
        complaint = notes(case, option, fault, rng)
        if complaint is None:
            silent += 1
            continue
        ranked = rank_causes(case=case, option=option, complaint=complaint)
        found.append(Record(name, kind, fault, ranked))
    return found, silent


def _record(name: str, kind: str, *, strong: bool) -> tuple[Case, OptionResult | None]:
    asked = content(name)
    if strong:
        sphere = -8.0 if name in ("eye_level_27in", "low_24in", "reception") else 7.0
        for side in ("right", "left"):
            asked["wearer"][side] |= {"sphere_d": sphere, "cylinder_d": 0.0}
    case, result = answered(json.dumps(asked))
    option = next((one for one in result.options if one.option == kind), None)
    if option is None or option.targets[0].comfortable_share < SERVED:
        return case, None
    return case, option
