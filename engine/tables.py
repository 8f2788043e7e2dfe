"""The only opener of reference_tables/: rows, judgements and sentences.

A table is a CSV whose header carries the unit of each value and whose rows carry a source, a
locator and a status: standard, measured, derived, memory or judgement. reference_tables/README.md
is the dictionary of columns.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from importlib import resources
from types import MappingProxyType
from typing import TYPE_CHECKING

from engine.errors import TableError

if TYPE_CHECKING:
    from collections.abc import Mapping

STATUSES = ("standard", "measured", "derived", "memory", "judgement")


@cache
def rows(name: str) -> tuple[Mapping[str, str], ...]:
    """Return every row of reference_tables/NAME.csv, as text, in file order.

    Raises
        TableError: there is no such table, or a row is longer or shorter than the header.

    >>> rows("judgements")[0]["id"]
    'comfortable_chin_up_min_deg'
    """
    path = resources.files("reference_tables") / f"{name}.csv"
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise TableError(f"there is no reference table called {name}") from None
    found = []
    for number, row in enumerate(csv.DictReader(text.splitlines(), strict=True), start=2):
        if None in row or None in row.values():
            raise TableError(f"{name}.csv line {number}: the row does not fit the header")
        found.append(MappingProxyType(dict(row)))
    return tuple(found)


@cache
def by_id(name: str) -> Mapping[str, Mapping[str, str]]:
    """Return the rows of a table under their id.

    Raises
        TableError: an id stands twice.
    """
    found: dict[str, Mapping[str, str]] = {}
    for row in rows(name):
        if row["id"] in found:
            raise TableError(f"{name}.csv: the id {row['id']} stands twice")
        found[row["id"]] = row
    return MappingProxyType(found)


@dataclass(frozen=True)
class Judgements:
    """The numbers of grades and choice that are judged rather than measured.

    Each is a row of judgements.csv under the same name, with its unit and reason. Pass another
    instance as `judgements=` to see what a different judgement would give.
    """

    comfortable_chin_up_min_deg: float
    comfortable_chin_up_max_deg: float
    awkward_chin_up_min_deg: float
    awkward_chin_up_max_deg: float
    far_chin_up_within_deg: float
    comfortable_gaze_down_min_deg: float
    comfortable_gaze_down_max_deg: float
    far_gaze_down_min_deg: float
    awkward_gaze_down_min_deg: float
    awkward_gaze_down_max_deg: float
    comfortable_head_turn_deg: float
    comfortable_eye_sideways_deg: float
    awkward_head_turn_deg: float
    awkward_eye_sideways_deg: float
    scan_chin_up_min_deg: float
    scan_chin_up_max_deg: float
    scan_step_deg: float
    window_deg: float
    line_margin_mm: float
    frame_margin_mm: float
    usable_blur_ratio: float
    relaxed_blur_d: float
    points_a_side: float
    free_posture_slope: float
    usable_fraction: float
    blur_limit_base_d: float
    imbalance_comfortable_pd: float
    imbalance_awkward_pd: float
    legible_arcmin: float
    illegible_arcmin: float
    stop_beyond_vertex_mm: float
    pivot_ahead_mm: float
    pivot_below_mm: float
    clear_distance_added_d: float
    clear_distance_up_mm: float
    design_step_d: float
    office_near_below_add_d: float
    office_near_min_d: float
    office_degression_min_d: float
    office_degression_max_d: float
    office_top_min_d: float
    sv_computer_min_d: float
    bifocal_desk_upper_min_d: float
    bifocal_desk_below_add_d: float
    unaided_unequal_d: float
    corridor_to_height_mm: float
    least_frame_depth_mm: float
    same_score_h: float
    equivalent_score_h: float
    more_plus_worth_h: float
    plan_share_of_day: float
    plan_least_h: float
    second_pair_earns_h: float
    pair_worn_years: float
    least_uptake: float
    most_uptake: float
    desk_distance_min_cm: float
    desk_distance_max_cm: float
    desk_below_level_max_deg: float
    desk_bottom_above_desk_cm: float
    desk_below_eye_cm: float
    desk_tilt_max_deg: float
    desk_move_max_cm: float
    desk_enough_share: float
    strong_power_d: float
    unequal_adds_d: float
    opposite_sphere_min_d: float
    opposite_sphere_within_d: float
    swap_gain_d: float
    add_outside_usual_d: float
    high_cylinder_d: float
    first_add_age_years: float
    no_add_age_years: float
    focus_blur_correlation: float
    more_plus_most_d: float
    edging_allowance_mm: float
    oblique_within_deg: float
    turned_cylinder_min_d: float
    pads_mend_mm: float
    range_within_d: float
    chin_differs_deg: float
    chin_much_deg: float
    range_differs_d: float
    strip_narrower_share: float
    height_short_mm: float
    unequal_powers_d: float
    absent_sign_share: float
    page_as_screen_cm: float
    compromise_share: float
    wearer_top_part_mm: float
    wearer_ahead_mm: float
    wearer_low_part_mm: float
    wearer_head_turn_deg: float
    wearer_effort_share: float
    follow_up_first_days: float
    follow_up_decide_from_days: float
    follow_up_decide_by_days: float
    assumed_desk_h: float
    usual_chart_m: float
    assumed_papers_share: float
    assumed_other_share: float
    assumed_main_min_share: float
    desk_gain_share: float
    station_enough_share: float
    eye_turner_share: float
    eye_turner_eye_share: float
    astigmatism_weight: float
    same_design_h: float
    low_add_d: float
    plan_most_share: float
    owned_share_of_day: float
    costs_differ_share: float
    forgotten_swap_step_h: float
    poor_day_nears: float
    more_hours_h: float
    firm_up_to_share: float
    depends_up_to_share: float
    measure_worth_h: float
    move_worth_h: float
    bare_far_off_d: float
    no_add_from_years: float
    enough_of_day_share: float

    @classmethod
    def standard(cls) -> Judgements:
        """Return the judgements as shipped in judgements.csv.

        >>> Judgements.standard().comfortable_chin_up_max_deg
        2.0
        """
        return _standard_judgements()


@lru_cache(maxsize=1)
def _standard_judgements() -> Judgements:
    table = by_id("judgements")
    names = {field.name for field in fields(Judgements)}
    if names != set(table):
        raise TableError(f"judgements.csv and Judgements differ in {sorted(names ^ set(table))}")
    return Judgements(**{name: float(table[name]["value"]) for name in names})
