"""Turn the desks of a roster into a scene: the same arrays that are made of one case.

Written for whole arrays, since a frozen model for every row would take longer than the search.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from engine import tables
from engine.case.model import Fit
from engine.case.scene import Scene, Wearers
from engine.optics import workstation
from engine.optics.accommodation import blur_limit_d, usable_accommodation_d

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

PAPER_SIZE_CM = (21.0, 29.7)
"""An A4 sheet (ISO 216, from memory; the preset of the pages)."""
PAPER_TEXT_MM = 2.0
"""Print size of the papers preset (Granquist et al. 2018)."""


@dataclass(frozen=True)
class _Part:
    """One kind of target, for the wearers that have it.

    Attributes:
        order: place among the targets of a wearer.
    """

    order: int
    wearers: NDArray[np.intp]
    hours: Floats
    arcmin: Floats
    is_far: bool
    forward_mm: Floats
    right_mm: Floats
    up_mm: Floats
    share: Floats
    row: NDArray[np.intp]
    middle: Bools


def scene_of_rows(values: Mapping[str, Floats], *, judgements: Judgements) -> Scene:
    """The scene of rows with nothing unknown; values by column of roster_columns.csv."""
    wearers = _wearers(values, judgements)
    parts = [part for part in _parts(values, wearers, judgements) if len(part.wearers)]
    target_wearer = np.concatenate([part.wearers for part in parts])
    order = np.concatenate([np.full(len(part.wearers), part.order) for part in parts])
    by_wearer = np.lexsort((order, target_wearer))
    place = np.empty(len(by_wearer), dtype=np.intp)
    place[by_wearer] = np.arange(len(by_wearer))
    point_target = _points_of_targets(parts, place)
    points = np.argsort(point_target, kind="stable")

    def of_targets(name: str) -> Any:
        return np.concatenate([getattr(part, name) for part in parts])[by_wearer]

    def of_points(name: str) -> Any:
        return np.concatenate([getattr(part, name).ravel() for part in parts])[points]

    forward, right, up = (of_points(name) for name in ("forward_mm", "right_mm", "up_mm"))
    point_target = point_target[points]
    target_wearer = target_wearer[by_wearer]
    hours, arcmin = of_targets("hours"), of_targets("arcmin")
    is_far = np.concatenate([np.full(len(part.wearers), part.is_far) for part in parts])[by_wearer]
    stop_mm = wearers.stop_mm[target_wearer[point_target]]
    reach = np.sqrt(forward**2 + right**2 + up**2)
    return Scene(
        wearers=wearers,
        target_wearer=target_wearer,
        target_hours=hours,
        seated_hours=hours,
        limit_d=blur_limit_d(text_arcmin=arcmin, noticeable_d=judgements.blur_limit_base_d),
        is_far=is_far,
        legible=is_far | (arcmin >= judgements.illegible_arcmin),
        point_target=point_target,
        share=of_points("share"),
        row=of_points("row"),
        middle=of_points("middle"),
        forward_mm=forward,
        right_mm=right,
        up_mm=up,
        demand_d=workstation.demand_d(eye_to_point_mm=reach, stop_mm=stop_mm),
    )


def _points_of_targets(parts: list[_Part], place: NDArray[np.intp]) -> NDArray[np.intp]:
    """The target of every point, in the order of the parts."""
    ends = np.cumsum([len(part.wearers) for part in parts])
    return np.concatenate(
        [
            np.repeat(place[end - len(part.wearers) : end], part.share.shape[1])
            for part, end in zip(parts, ends, strict=True)
        ]
    )


def _wearers(values: Mapping[str, Floats], judgements: Judgements) -> Wearers:
    fit, margin = Fit(), judgements.frame_margin_mm
    add, sphere, height = values["add_d"], values["sphere_d"], values["fitting_height_mm"]
    zero, one = np.zeros_like(add), np.ones_like(add)
    distinct, which = np.unique(add, return_inverse=True)
    usable = np.array([usable_accommodation_d(age_years=0, add_d=float(d))[0] for d in distinct])
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
        zone_width=one,
        blur_tolerance=one,
        profile_down_mm=zero,
    )


@cache
def people_arcmin() -> float:
    """Return the detail of a face in arcmin, as the preset of a colleague has it.

    >>> people_arcmin()
    30.0
    """
    return float(tables.by_id("presets")["colleague"]["text_arcmin"])


def screen_size_cm(values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Width and height of the screens from diagonal and ratio."""
    return workstation.sides_cm(diagonal_in=values["screen_in"], ratio=values["screen_aspect"])


def _parts(values: Mapping[str, Floats], wearers: Wearers, j: Judgements) -> list[_Part]:
    tilt, away = values["screen_tilt_deg"], values["screen_distance_cm"]
    width, height = screen_size_cm(values)
    screen = _face(
        0,
        hours=values["hours_screen"],
        distance_cm=away,
        centre_cm=values["screen_top_cm"] - height / 2 * np.cos(np.radians(tilt)),
        size_cm=(width, height),
        text_mm=values["text_mm"],
        tilt_deg=tilt,
        wearers=wearers,
        n=int(j.points_a_side),
    )
    one = np.ones_like(away)
    paper = _face(
        1,
        hours=values["hours_paper"],
        distance_cm=values["paper_distance_cm"],
        centre_cm=values["paper_centre_cm"],
        size_cm=(PAPER_SIZE_CM[0] * one, PAPER_SIZE_CM[1] * one),
        text_mm=PAPER_TEXT_MM * one,
        tilt_deg=None,
        wearers=wearers,
        n=int(j.points_a_side),
    )
    people = _face(
        2,
        hours=values["hours_people"],
        distance_cm=values["people_distance_cm"],
        centre_cm=0.0 * one,
        size_cm=None,
        text_mm=one,
        tilt_deg=None,
        wearers=wearers,
        n=1,
    )
    return [screen, paper, people]


def _face(
    order: int,
    *,
    hours: Floats,
    distance_cm: Floats,
    centre_cm: Floats,
    size_cm: tuple[Floats, Floats] | None,
    text_mm: Floats,
    tilt_deg: Floats | None,
    wearers: Wearers,
    n: int,
) -> _Part:
    """Right half of the centred targets of the wearers that spend hours on them."""
    has = np.flatnonzero(hours > 0.0)
    far = size_cm is None
    width, height = (np.zeros((len(has), 1, 1)),) * 2
    if size_cm is not None:
        width, height = (side[has][:, None, None] for side in size_cm)
    sides: dict[str, Any] = {"width_cm": width, "height_cm": height}
    faces = workstation.face_points_mm(
        distance_cm=distance_cm[has],
        centre_above_eye_cm=centre_cm[has],
        stop_mm=wearers.stop_mm[has],
        tilt_deg=None if tilt_deg is None else tilt_deg[has],
        n=n,
        **sides,
    )
    row, column = np.indices((n, n))
    keep = column >= n // 2
    middle = (column == n // 2)[keep]
    arcmin = np.full(len(has), people_arcmin())
    if not far:
        arcmin = workstation.text_arcmin(height_mm=text_mm[has], distance_cm=distance_cm[has])
    every = (len(has), int(keep.sum()))
    return _Part(
        order=order,
        wearers=has,
        hours=hours[has],
        arcmin=arcmin,
        is_far=far,
        forward_mm=faces[0][:, keep],
        right_mm=faces[1][:, keep],
        up_mm=faces[2][:, keep],
        share=np.broadcast_to(np.where(middle, 1.0, 2.0) / n**2, every),
        row=np.broadcast_to(np.full_like(row[keep], -1) if far else row[keep], every),
        middle=np.broadcast_to(middle, every),
    )
