"""Say what has to be said with a lens, and what stops it: each row of cautions.csv and its rule.

The table holds the numbers and the sentences, this module the rules; their ids are equal both ways.
A rule takes the case (and the result of the lens, where its row has the scope option) and the
numbers of its row, and yields the values its sentence names each time it fires. A caution never
changes a grade, and a grade never hides a caution.

Levels: stop (nothing, or never this design), no_go (not this pair for some activity), prescriber
(ask first), care (say and show), note (a limit of what was computed).
"""

from __future__ import annotations

import string
from functools import cache
from math import inf
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from engine import tables
from engine.case.prescription_doubts import largest_difference_d
from engine.case.results import Told
from engine.case.scene import NO_ACCOMMODATION
from engine.case.targets import centre_above_eye_cm, detail_arcmin, is_text, least_text_mm, size_cm
from engine.errors import TableError
from engine.lenses.kinds import KINDS
from engine.wording import fill

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from engine.case.model import Case
    from engine.case.results import OptionResult
    from engine.lenses.kinds import Kind
    from engine.tables import Judgements

    Rule = Callable[..., Iterator["Values"]]

Values = dict[str, Any]
TOLD_WITH_A_LENS = ("first_multifocal",)
"""Conditions that matter only for some lenses; their rows have the scope option."""
_ROUNDING = 1e-9
"""Residue of binary fractions: a value at its limit is neither over nor under it."""


def over(value: float, limit: float) -> bool:
    """Tell whether a value is above a limit by more than binary residue.

    >>> over(0.1 + 0.2, 0.3)
    False
    """
    return value > limit + _ROUNDING


def under(value: float, limit: float) -> bool:
    """Tell whether a value is below a limit by more than binary residue.

    >>> under(15.9, 16.0)
    True
    """
    return value < limit - _ROUNDING


def _has(case: Case, condition: str) -> bool:
    return condition in case.wearer.conditions


def _condition(identity: str) -> Callable[[Case], Iterator[Values]]:
    """Return the rule that fires for a wearer with a condition."""

    def fires(case: Case) -> Iterator[Values]:
        yield from _once(_has(case, identity))

    return fires


def _once(fires: bool) -> Iterator[Values]:
    """Yield once, with no values, where a rule fires."""
    if fires:
        yield {}


def _adds_given(case: Case) -> dict[str, float]:
    adds = {"right": case.wearer.right.add_d, "left": case.wearer.left.add_d}
    return {eye: add_d for eye, add_d in adds.items() if add_d is not None}


def _has_prism(case: Case) -> bool:
    return bool(case.wearer.right.prism or case.wearer.left.prism)


def _prism_prescribed(case: Case) -> Iterator[Values]:
    yield from _once(_has_prism(case))


def _unequal_adds(case: Case, limit_d: float) -> Iterator[Values]:
    adds_d = _adds_given(case).values()
    if len(adds_d) > 1 and over(difference_d := max(adds_d) - min(adds_d), limit_d):
        yield {"difference_d": difference_d}


def _add_for_one_eye(case: Case) -> Iterator[Values]:
    given = _adds_given(case)
    if len(given) == 1:
        ((eye, add_d),) = given.items()
        yield {"eye": eye, "other": "left" if eye == "right" else "right", "add_d": add_d}


def _high_add(case: Case, limit_d: float) -> Iterator[Values]:
    add_d = max(_adds_given(case).values(), default=0.0)
    if not under(add_d, limit_d):
        yield {"add_d": add_d}


def _no_add_known(case: Case) -> Iterator[Values]:
    yield from _once(case.wearer.add_d is None)


def _amplitude_late(case: Case, limit_years: float) -> Iterator[Values]:
    wearer = case.wearer
    is_counted = wearer.amplitude_d is not None and NO_ACCOMMODATION not in wearer.conditions
    if is_counted and over(wearer.age_years, limit_years):
        yield {"age_years": wearer.age_years}


def _eyes_unequal_vertical(case: Case, limit_d: float) -> Iterator[Values]:
    difference_d = case.wearer.vertical_difference_d
    if over(difference_d, limit_d):
        yield {"difference_d": difference_d}


def _heights_unequal(case: Case, limit_mm: float) -> Iterator[Values]:
    right_mm, left_mm = case.fit.heights_mm
    if over(abs(right_mm - left_mm), limit_mm):
        yield {"difference_mm": abs(right_mm - left_mm)}


def _anisometropia(case: Case, limit_d: float) -> Iterator[Values]:
    difference_d = largest_difference_d(case.wearer.right, case.wearer.left)
    if over(difference_d, limit_d):
        yield {"difference_d": difference_d}


def _strong_power(case: Case, limit_d: float) -> Iterator[Values]:
    eyes = (case.wearer.right, case.wearer.left)
    powers_d = [eye.sphere_d for eye in eyes] + [eye.sphere_d + eye.cylinder_d for eye in eyes]
    strongest_d = max(powers_d, key=abs)
    if not under(abs(strongest_d), limit_d):
        yield {"power_d": strongest_d, "vertex_mm": case.fit.vertex_mm}


def _texts(case: Case, wanted_arcmin: float) -> Iterator[Values]:
    """Yield what a warning about the text of each screen and page says; a bench has none."""
    for target in case.targets:
        if target.kind != "far" and is_text(target):
            arcmin, distance_cm = detail_arcmin(target), target.distance_cm
            yield {
                "target": target.name,
                "arcmin": arcmin,
                "distance_cm": distance_cm,
                "needed_mm": least_text_mm(target, arcmin=wanted_arcmin),
            }


def _text_small(case: Case, legible_arcmin: float, illegible_arcmin: float) -> Iterator[Values]:
    for values in _texts(case, legible_arcmin):
        arcmin = values["arcmin"]
        if under(arcmin, legible_arcmin) and not under(arcmin, illegible_arcmin):
            yield values


def _text_not_served(
    case: Case, illegible_arcmin: float, legible_arcmin: float
) -> Iterator[Values]:
    for values in _texts(case, legible_arcmin):
        if under(values["arcmin"], illegible_arcmin):
            yield values


CASE_RULES: Mapping[str, Callable[..., Iterator[Values]]] = {
    identity: _condition(identity)
    for identity in tables.by_id("conditions")
    if identity not in TOLD_WITH_A_LENS
} | {
    "prism_prescribed": _prism_prescribed,
    "unequal_adds": _unequal_adds,
    "add_for_one_eye": _add_for_one_eye,
    "very_high_add": _high_add,
    "high_add": _high_add,
    "no_add_known": _no_add_known,
    "amplitude_late": _amplitude_late,
    "eyes_unequal_vertical": _eyes_unequal_vertical,
    "heights_unequal": _heights_unequal,
    "anisometropia": _anisometropia,
    "strong_power": _strong_power,
    "text_small": _text_small,
    "text_not_served": _text_not_served,
}
"""Every rule of the scope case by the id of its row."""


def _present_kind(case: Case) -> Kind | None:
    return None if case.present_pair is None else KINDS[case.present_pair.kind]


def _needs_clear_distance(case: Case, option: OptionResult) -> Iterator[Values]:
    needing = [activity for activity in case.activities if activity.needs]
    if needing and not option.covers_distance:
        needs = dict.fromkeys(need for activity in needing for need in activity.needs)
        names = ", ".join(activity.name for activity in needing)
        yield {"activities": names, "needs": ", ".join(needs)}


def _not_for_driving(case: Case, option: OptionResult) -> Iterator[Values]:  # noqa: ARG001
    yield from _once(not option.covers_distance or not KINDS[option.kind].may_cover_distance)


def _stairs_lower_field(case: Case, option: OptionResult) -> Iterator[Values]:  # noqa: ARG001
    yield from _once(KINDS[option.kind].blurs_the_feet)


def _falls_multifocal(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "falls_risk") and KINDS[option.kind].blurs_the_feet)


def _falls_single_vision_wearer(case: Case, option: OptionResult) -> Iterator[Values]:
    present = _present_kind(case)
    is_change = present is not None and present.is_single_vision
    yield from _once(is_change and _has(case, "falls_risk") and KINDS[option.kind].blurs_the_feet)


def _falls_power_change(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:
    present = case.present_pair
    if present is None or not _has(case, "falls_risk"):
        return
    if not (KINDS[present.kind].blurs_the_feet and KINDS[option.kind].blurs_the_feet):
        return
    if present.design.add_d is not None and option.design.add_d is not None:
        change_d = abs(option.design.add_d - present.design.add_d)
        if over(change_d, limit_d):
            yield {"change_d": change_d}


def _first_multifocal(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "first_multifocal") and KINDS[option.kind].is_multifocal)


def _office_powers_d(option: OptionResult) -> tuple[float, float] | None:
    """Return near add and degression of an office lens; None of others, or where unstated."""
    near_d, degression_d = option.design.near_add_d, option.design.degression_d
    if not KINDS[option.kind].has_degression or near_d is None or degression_d is None:
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
    if KINDS[option.kind].has_degression and option.sees_to_cm is not None:
        yield {"ahead_cm": option.sees_to_cm}


def _unclear(case: Case, option: OptionResult, kind: str) -> Iterator[Values]:
    """Name the targets of a kind whose centre is blurred in every posture."""
    kinds = {target.name: target.kind for target in case.targets}
    for seen in option.targets:
        if kinds.get(seen.target) == kind and seen.centre.chin_up_deg is None:
            yield {"target": seen.target}


def _far_beyond_reach(case: Case, option: OptionResult) -> Iterator[Values]:
    if not option.covers_distance:
        yield from _unclear(case, option, "far")


def _sv_computer_power(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:  # noqa: ARG001
    power_d = option.design.add_d
    if KINDS[option.kind].is_screen_pair and power_d is not None and over(power_d, limit_d):
        yield {"power_d": power_d}


def _sv_computer_page(case: Case, option: OptionResult) -> Iterator[Values]:
    if KINDS[option.kind].is_screen_pair:
        yield from _unclear(case, option, "page")


def _general_high_add(case: Case, option: OptionResult, limit_d: float) -> Iterator[Values]:
    add_d = case.wearer.add_d if option.design.add_d is None else option.design.add_d
    if KINDS[option.kind].has_corridor and add_d is not None and over(add_d, limit_d):
        yield {"add_d": add_d}


def screens_span_deg(case: Case) -> float:
    """Return the angle from the leftmost to the rightmost edge of all screens; 0: none.

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
    if KINDS[option.kind].has_corridor and over(span_deg, limit_deg):
        yield {"span_deg": span_deg}


def _general_lined_wearer(case: Case, option: OptionResult) -> Iterator[Values]:
    present = _present_kind(case)
    is_lined = present is not None and present.is_lined
    yield from _once(is_lined and KINDS[option.kind].has_corridor)


def _general_vertigo(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has(case, "vertigo") and KINDS[option.kind].has_corridor)


def _general_eye_muscles(case: Case, option: OptionResult) -> Iterator[Values]:
    yield from _once(_has_prism(case) and KINDS[option.kind].has_corridor)


def _general_worn_unhappily(case: Case, option: OptionResult) -> Iterator[Values]:
    worn, present = case.present_pair, _present_kind(case)
    is_doubtful = (
        worn is not None and present is not None and present.has_corridor and not worn.liked
    )
    yield from _once(is_doubtful and KINDS[option.kind].has_corridor)


def _frame_too_shallow(case: Case, option: OptionResult, margin_mm: float) -> Iterator[Values]:
    corridor_mm = option.design.corridor_mm
    if not KINDS[option.kind].has_corridor or corridor_mm is None:
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
"""Every rule of the scope option by the id of its row, which is its name."""


Level = Literal["stop", "no_go", "prescriber", "care", "note"]
LEVELS: tuple[Level, ...] = get_args(Level)
"""From the gravest down."""
_TABLE = "cautions"


def stops(case: Case, *, judgements: Judgements) -> tuple[Told, ...]:
    """Return the red flags: while one stands nothing is recommended. Each says where to go."""
    return tuple(told for told in _of_case(case, judgements) if level(told.id) == "stop")


def case_cautions(case: Case, *, judgements: Judgements) -> tuple[Told, ...]:
    """Return all to be said whatever the lens, in the order of the table, without the red flags."""
    return tuple(told for told in _of_case(case, judgements) if level(told.id) != "stop")


def option_cautions(
    case: Case, option: OptionResult, *, judgements: Judgements
) -> tuple[Told, ...]:
    """Return everything to be said of one lens, in the order of the table.

    option: a result whose own cautions are not filled in yet (they are not read).
    """
    found: list[Told] = []
    for identity, rule in _ordered(OPTION_RULES):
        numbers = limits(identity, judgements=judgements)
        found += _told(identity, rule(case, option, *numbers), numbers=numbers)
    return tuple(found)


def excludes(ids: Iterable[str], *, with_another_pair: bool = False) -> tuple[str, ...]:
    """Return those of some cautions that make a lens not recommendable.

    Parameters
        ids: of cautions told of a lens.
        with_another_pair: the lens is part of a plan in which another pair takes the activities
            that need clear distance; then a no_go is met, and only a stop excludes.

    >>> excludes(["stairs_lower_field", "needs_clear_distance", "top_over_minused"])
    ('needs_clear_distance', 'top_over_minused')
    >>> excludes(["needs_clear_distance"], with_another_pair=True)
    ()
    """
    grave = ("stop",) if with_another_pair else ("stop", "no_go")
    return tuple(identity for identity in ids if level(identity) in grave)


def level(identity: str) -> Level:
    """Return how grave a caution is.

    Raises
        TableError: there is no such caution, or its level is none of LEVELS.

    >>> level("painful_red_eye")
    'stop'
    """
    written = _row(identity)["level"]
    for known in LEVELS:
        if known == written:
            return known
    raise TableError(f"{_TABLE}.csv: {identity} has the unknown level {written}")


def is_of_condition(identity: str) -> bool:
    """Tell whether a caution of a lens comes from the wearer's own condition.

    >>> is_of_condition("falls_multifocal"), is_of_condition("not_for_driving")
    (True, False)
    """
    return _row(identity)["of_condition"] == "yes"


def limits(identity: str, *, judgements: Judgements) -> tuple[float, ...]:
    """Give the numbers a rule turns on: written in the table, or those of the judgements it names.

    >>> limits("anisometropia", judgements=tables.Judgements.standard())
    (1.0,)
    """
    return tuple(float(getattr(judgements, part, part)) for part in _limits_written(identity))


@cache
def _limits_written(identity: str) -> tuple[str, ...]:
    """Return the limits of a row as the table writes them: numbers, or names of judgements."""
    return tuple(part.strip() for part in _row(identity)["limit"].split(";") if part.strip())


def wearer_text(told: Told) -> str:
    """Return a caution in the wearer's words, without a power; empty where not for the wearer.

    >>> from engine.case.results import Told
    >>> wearer_text(Told(id="pilot", text=""))[:8]
    'You fly.'
    """
    return fill(_TABLE, told.id, "wearer_text", **told.values)


@cache
def text_values(identity: str) -> tuple[str, ...]:
    """Return the names of the values that the two texts of a caution need, each once."""
    row = _row(identity)
    parts = string.Formatter().parse(row["text"] + row["wearer_text"])
    return tuple(dict.fromkeys(name for _, name, _, _ in parts if name))


def _of_case(case: Case, judgements: Judgements) -> Iterator[Told]:
    for identity, rule in _ordered(CASE_RULES):
        numbers = limits(identity, judgements=judgements)
        yield from _told(identity, rule(case, *numbers), numbers=numbers)


def _ordered(rules: Mapping[str, Rule]) -> Iterator[tuple[str, Rule]]:
    """Return the rules in the order of their rows."""
    return ((identity, rules[identity]) for identity in tables.by_id(_TABLE) if identity in rules)


def _told(identity: str, fired: Iterable[Values], *, numbers: tuple[float, ...]) -> Iterator[Told]:
    """Yield one sentence each time a rule fired; a text may also name the first limit."""
    shared = {"limit": numbers[0]} if "limit" in text_values(identity) else {}
    for values in fired:
        filled = {**values, **shared}
        yield Told(id=identity, values=filled, text=fill(_TABLE, identity, **filled))


def _row(identity: str) -> Mapping[str, str]:
    try:
        return tables.by_id(_TABLE)[identity]
    except KeyError:
        raise TableError(f"{_TABLE}.csv has no caution called {identity}") from None
