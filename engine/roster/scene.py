"""Place the desks of a roster: targets as arrays, from which the one builder makes a scene.

Written for whole arrays, since a frozen model for every row would take longer than the search.
"""

from __future__ import annotations

from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.case.model import Fit, usual_chart_m
from engine.case.scene import Placed, Scene, Wearers, scene_of_targets, usual_limits
from engine.optics import workstation
from engine.optics.accommodation import usable_accommodation_d
from engine.tables import Judgements

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

PAPER_SIZE_CM = (21.0, 29.7)
"""An A4 sheet (ISO 216, from memory; the preset of the pages)."""
PAPER_TEXT_MM = 2.0
"""Print size of the papers preset (Granquist et al. 2018)."""


def scene_of_rows(values: Mapping[str, Floats], *, judgements: Judgements) -> Scene:
    """Return the scene of rows with nothing unknown; values by column of roster_columns.csv.

    made and the wearer's own limits, where they are among the values, are drawn: see `Wearers`.
    third: which of the points of each face is looked at, see `Placed`; -1 and where it is not
    among the values all.
    """
    third = values.get("third", np.full(len(values["add_d"]), -1.0)).astype(np.intp)
    parts = [
        part
        for some, of_some in ((third < 0, None), (third >= 0, third))
        if np.any(some)
        for part in _parts(values, some, of_some)
        if len(part.wearers)
    ]
    return scene_of_targets(_wearers(values, judgements), parts, judgements=judgements)


def one_wearer(*, add_d: float) -> Wearers:
    """Return somebody with an add, and usual in all else."""
    usual = {"add_d": add_d, "sphere_d": 0.0, "fitting_height_mm": Fit().heights_mm[0]}
    values = {name: np.array([value]) for name, value in usual.items()}
    return _wearers(values, Judgements.standard())


def _wearers(values: Mapping[str, Floats], judgements: Judgements) -> Wearers:
    fit, margin = Fit(), judgements.frame_margin_mm
    add, sphere, height = values["add_d"], values["sphere_d"], values["fitting_height_mm"]
    zero, one = np.zeros_like(add), np.ones_like(add)
    distinct, which = np.unique(add, return_inverse=True)
    usable = np.array([usable_accommodation_d(age_years=0, add_d=float(d))[0] for d in distinct])
    limits = usual_limits(judgements)
    return Wearers(
        add_d=add,
        usable_d=usable[which],
        vertical_power_d=sphere,
        vertical_difference_d=zero,
        unaided_power_d=-sphere,
        unaided_astigmatism_d=zero,
        stop_mm=one * (fit.vertex_mm + judgements.stop_beyond_vertex_mm),
        tilt_deg=one * fit.pantoscopic_deg,
        lowest_mm=margin - height,
        highest_mm=fit.lens_depth_mm - height - margin,
        half_width_mm=one * (fit.lens_width_mm / 2 - margin),
        fitting_height_mm=height,
        slope=one * judgements.free_posture_slope,
        head_zero_deg=zero,
        lens_down_mm=zero,
        blur_tolerance=one,
        profile_down_mm=zero,
        chart_d=one / usual_chart_m(),
        made=values.get("made", zero).astype(np.intp),
        **{name: values.get(name, one * usual) for name, usual in limits.items()},
    )


@cache
def people_arcmin() -> float:
    """Return the detail of a face in arcmin, as the preset of a colleague has it.

    >>> people_arcmin()
    30.0
    """
    return float(tables.by_id("presets")["colleague"]["text_arcmin"])


def screen_size_cm(values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Return the width and height of the screens from diagonal and ratio."""
    return workstation.sides_cm(diagonal_in=values["screen_in"], ratio=values["screen_aspect"])


def _parts(
    values: Mapping[str, Floats], some: Bools, third: NDArray[np.intp] | None
) -> list[Placed]:
    """Put the targets of a desk before some of the wearers; third: of each, see `Placed`."""
    tilt, away = values["screen_tilt_deg"], values["screen_distance_cm"]
    width, height = screen_size_cm(values)
    one = np.ones_like(away)
    place = partial(_placed, some=some, third=third)
    screen = place(
        0,
        hours=values["hours_screen"],
        distance_cm=away,
        centre_cm=values["screen_top_cm"] - height / 2 * np.cos(np.radians(tilt)),
        size_cm=(width, height),
        arcmin=workstation.text_arcmin(height_mm=values["text_mm"], distance_cm=away),
        tilt_deg=tilt,
    )
    paper = place(
        1,
        hours=values["hours_paper"],
        distance_cm=values["paper_distance_cm"],
        centre_cm=values["paper_centre_cm"],
        size_cm=(PAPER_SIZE_CM[0] * one, PAPER_SIZE_CM[1] * one),
        arcmin=workstation.text_arcmin(
            height_mm=PAPER_TEXT_MM * one, distance_cm=values["paper_distance_cm"]
        ),
    )
    people = place(
        2,
        hours=values["hours_people"],
        distance_cm=values["people_distance_cm"],
        centre_cm=0.0 * one,
        size_cm=(0.0 * one, 0.0 * one),
        arcmin=people_arcmin() * one,
        is_far=True,
    )
    return [screen, paper, people]


def _placed(
    order: int,
    *,
    some: Bools,
    third: NDArray[np.intp] | None,
    hours: Floats,
    distance_cm: Floats,
    centre_cm: Floats,
    size_cm: tuple[Floats, Floats],
    arcmin: Floats,
    tilt_deg: Floats | None = None,
    is_far: bool = False,
) -> Placed:
    """Put one centred target before those of some wearers who spend hours on it."""
    has = np.flatnonzero(some & (hours > 0.0))
    return Placed(
        wearers=has,
        order=np.full(len(has), order),
        is_far=is_far,
        distance_cm=distance_cm[has],
        centre_above_eye_cm=centre_cm[has],
        offset_cm=np.zeros(len(has)),
        tilt_deg=None if tilt_deg is None else tilt_deg[has],
        width_cm=size_cm[0][has],
        height_cm=size_cm[1][has],
        arcmin=arcmin[has],
        hours=hours[has],
        seated_hours=hours[has],
        third=None if third is None else third[has],
    )
