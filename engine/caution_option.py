"""Cautions that hold for one lens: one rule for each row of cautions.csv of scope option.

A rule takes the case, the result of the lens and the numbers of its row and yields, each time it
fires, the values its sentence names. `cautions` calls the rules and fills the sentences.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.caution_case import over
from engine.lenses import KINDS
from engine.surfaces import office_surface
from engine.targets import centre_above_eye_cm, size_cm

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from engine.case import Case
    from engine.caution_case import Values
    from engine.results import OptionResult

GENERAL, OFFICE, SV_COMPUTER = "general_progressive", "office", "sv_computer"


def _family(kind: str) -> str:
    return tables.by_id("lens_kinds")[kind]["family"]


def _is_multifocal(kind: str) -> bool:
    return _family(kind) in ("progressive", "lined")


def _is_worn_walking(kind: str) -> bool:
    """A multifocal with a distance part, so with a lower field that blurs the feet."""
    return _is_multifocal(kind) and KINDS[kind].may_cover_distance


def _present_kind(case: Case) -> str | None:
    return None if case.present_pair is None else case.present_pair.kind


def _has(case: Case, condition: str) -> bool:
    return condition in case.wearer.conditions


def _once(fires: bool) -> Iterator[Values]:
    if fires:
        yield {}


def _needs_clear_distance(case: Case, option: OptionResult) -> Iterator[Values]:
    needing = [activity for activity in case.activities if activity.needs]
    if needing and not option.covers_distance:
        needs = dict.fromkeys(need for activity in needing for need in activity.needs)
        names = ", ".join(activity.name for activity in needing)
        yield {"activities": names, "needs": ", ".join(needs)}


def _not_for_driving(case: Case, option: OptionResult) -> Iterator[Values]:  # noqa: ARG001
    yield from _once(not option.covers_distance or not KINDS[option.kind].may_cover_distance)


def _stairs_lower_field(case: Case, option: OptionResult) -> Iterator[Values]:  # noqa: ARG001
    yield from _once(_is_worn_walking(option.kind))


def _falls_multifocal(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "falls_risk") and _is_worn_walking(option.kind))


def _falls_single_vision_wearer(case: Case, option: OptionResult) -> Iterator[Values]:
    present = _present_kind(case)
    is_change = present is not None and _family(present) == "single_vision"
    yield from _once(is_change and _has(case, "falls_risk") and _is_worn_walking(option.kind))


def _falls_power_change(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:
    present = case.present_pair
    if present is None or not _has(case, "falls_risk"):
        return
    if not (_is_worn_walking(present.kind) and _is_worn_walking(option.kind)):
        return
    if present.design.add_d is not None and option.design.add_d is not None:
        change_d = abs(option.design.add_d - present.design.add_d)
        if over(change_d, limit_d):
            yield {"change_d": change_d}


def _first_multifocal(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "first_multifocal") and _is_multifocal(option.kind))


def _office_powers_d(option: OptionResult) -> tuple[float, float] | None:
    """Near power and degression of an office lens, where both are stated."""
    near_d, degression_d = option.design.near_add_d, option.design.degression_d
    if option.kind != OFFICE or near_d is None or degression_d is None:
        return None
    return near_d, degression_d


def _top_over_minused(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:  # noqa: ARG001
    powers_d = _office_powers_d(option)
    if powers_d is not None:
        near_d, degression_d = powers_d
        if over(degression_d - near_d, limit_d):
            excess_d = degression_d - near_d
            yield {"near_d": near_d, "degression_d": degression_d, "excess_d": excess_d}


def _low_degression(
    case: Case, option: OptionResult, limit_d: float, low_d: float
) -> Iterator[Values]:
    powers_d, add_d = _office_powers_d(option), case.wearer.add_d
    if powers_d is None or add_d is None or over(add_d, limit_d):
        return
    if over(powers_d[1], low_d):
        yield {"add_d": add_d, "low_d": low_d, "degression_d": powers_d[1]}


def _office_far_limit(case: Case, option: OptionResult) -> Iterator[Values]:  # noqa: ARG001
    powers_d = _office_powers_d(option)
    if powers_d is None or not over(powers_d[0] - powers_d[1], 0.0):
        return
    near_d, degression_d = powers_d
    surface = office_surface(option.design.shape or "desk")
    share = float(np.ravel(surface.lookup(x_mm=0.0, y_mm=0.0)[0])[0])
    ahead_d = near_d - degression_d * (1.0 - share)
    if over(ahead_d, 0.0):
        yield {"top_cm": 100.0 / (near_d - degression_d), "ahead_cm": 100.0 / ahead_d}


def _unclear(case: Case, option: OptionResult, kind: str) -> Iterator[Values]:
    """Targets of a kind whose centre is clear in no posture."""
    kinds = {target.name: target.kind for target in case.targets}
    for seen in option.targets:
        centre = [row.chin_up_deg for row in seen.rows if row.row == "centre"]
        if kinds.get(seen.target) == kind and centre == [None]:
            yield {"target": seen.target}


def _far_beyond_reach(case: Case, option: OptionResult) -> Iterator[Values]:
    if not option.covers_distance:
        yield from _unclear(case, option, "far")


def _sv_computer_power(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:  # noqa: ARG001
    power_d = option.design.add_d
    if option.kind == SV_COMPUTER and power_d is not None and over(power_d, limit_d):
        yield {"power_d": power_d}


def _sv_computer_page(case: Case, option: OptionResult) -> Iterator[Values]:
    if option.kind == SV_COMPUTER:
        yield from _unclear(case, option, "page")


def _general_high_add(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:
    add_d = case.wearer.add_d if option.design.add_d is None else option.design.add_d
    if option.kind == GENERAL and add_d is not None and over(add_d, limit_d):
        yield {"add_d": add_d}


def screens_span_deg(case: Case) -> float:
    """Angle from the leftmost to the rightmost edge of all screens, seen from the bridge; 0: none.

    Each screen faces the wearer. 80 cm at 70 cm spans 59.5 deg.
    """
    edges_deg = []
    for target in case.targets:
        if target.kind != "screen":
            continue
        # A screen has a tilt, so its centre does not depend on the distance to the eye.
        above_cm = centre_above_eye_cm(target, stop_mm=0.0)
        level_cm = np.sqrt(max(target.distance_cm**2 - above_cm**2, 0.0))
        forward_cm = np.sqrt(max(level_cm**2 - target.offset_cm**2, 0.0))
        azimuth_deg = np.degrees(np.arctan2(target.offset_cm, forward_cm))
        half_deg = np.degrees(np.arctan2(size_cm(target)[0] / 2, level_cm))
        edges_deg += [azimuth_deg - half_deg, azimuth_deg + half_deg]
    return float(max(edges_deg) - min(edges_deg)) if edges_deg else 0.0


def _general_wide_field(case: Case, option: OptionResult, limit_deg: float) -> Iterator[Values]:
    span_deg = screens_span_deg(case)
    if option.kind == GENERAL and over(span_deg, limit_deg):
        yield {"span_deg": span_deg}


def _general_lined_wearer(case: Case, option: OptionResult) -> Iterator[Values]:
    present = _present_kind(case)
    is_lined = present is not None and KINDS[present].is_lined
    yield from _once(is_lined and option.kind == GENERAL)


def _general_vertigo(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "vertigo") and option.kind == GENERAL)


def _general_eye_muscles(case: Case, option: OptionResult) -> Iterator[Values]:
    has_prism = bool(case.wearer.right.prism or case.wearer.left.prism)
    yield from _once(has_prism and option.kind == GENERAL)


def _general_worn_unhappily(case: Case, option: OptionResult) -> Iterator[Values]:
    present = case.present_pair
    is_doubtful = present is not None and present.kind == GENERAL and not present.liked
    yield from _once(is_doubtful and option.kind == GENERAL)


def _frame_too_shallow(case: Case, option: OptionResult, margin_mm: float) -> Iterator[Values]:
    corridor_mm = option.design.corridor_mm
    if option.kind != GENERAL or corridor_mm is None:
        return
    height_mm, needed_mm = min(case.fit.heights_mm), corridor_mm + margin_mm
    if over(needed_mm, height_mm):
        yield {"height_mm": height_mm, "corridor_mm": corridor_mm, "needed_mm": needed_mm}


def _above_prescribed_add(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:
    design, add_d = option.design, case.wearer.add_d
    if add_d is None or not KINDS[option.kind].is_lens:
        return
    stated = (design.add_d, design.near_add_d, design.upper_add_d)
    zones_d = [added_d for _, added_d, _ in KINDS[option.kind].zones(design)]
    power_d = max([*zones_d, *(power for power in stated if power is not None)], default=0.0)
    if over(power_d - add_d, limit_d):
        yield {"power_d": power_d, "add_d": add_d}


def _imbalance_felt(
    case: Case,  # noqa: ARG001
    option: OptionResult,
    felt_pd: float,
    double_pd: float,
) -> Iterator[Values]:
    for seen in option.targets:
        imbalance_pd = seen.vertical_imbalance_pd or 0.0
        if over(imbalance_pd, felt_pd) and not over(imbalance_pd, double_pd):
            yield {"target": seen.target, "imbalance_pd": imbalance_pd}


def _imbalance_double(case: Case, option: OptionResult, limit_pd: float) -> Iterator[Values]:
    yield from _imbalance_felt(case, option, limit_pd, inf)


def _steep_gaze(case: Case, option: OptionResult, limit_deg: float) -> Iterator[Values]:  # noqa: ARG001
    if not KINDS[option.kind].is_lens:
        return
    for seen in option.targets:
        gaze_deg = [row.gaze_down_deg for row in seen.rows if row.gaze_down_deg is not None]
        steepest_deg = max(gaze_deg, default=0.0)
        if over(steepest_deg, limit_deg):
            yield {"target": seen.target, "gaze_down_deg": steepest_deg}


OPTION_RULES: Mapping[str, Callable[..., Iterator[Values]]] = {
    rule.__name__.removeprefix("_"): rule
    for rule in (
        _needs_clear_distance,
        _not_for_driving,
        _stairs_lower_field,
        _falls_multifocal,
        _falls_single_vision_wearer,
        _falls_power_change,
        _first_multifocal,
        _top_over_minused,
        _low_degression,
        _office_far_limit,
        _far_beyond_reach,
        _sv_computer_power,
        _sv_computer_page,
        _general_high_add,
        _general_wide_field,
        _general_lined_wearer,
        _general_vertigo,
        _general_eye_muscles,
        _general_worn_unhappily,
        _frame_too_shallow,
        _above_prescribed_add,
        _imbalance_felt,
        _imbalance_double,
        _steep_gaze,
    )
}
"""Every rule by the id of its row, which is its name."""
