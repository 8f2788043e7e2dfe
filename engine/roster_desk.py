"""Desk first: where the screens of a roster could go before any lens is bought.

Only the height of a monitor is tried: it is lowered in steps of 5 cm with the pair worn today held,
within the limits of height the page of one person has (judgements.csv, desk_*). Its distance, tilt
and text stay as they are, so the limits of those are not asked. Laptops are not lowered.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from engine.roster_scene import scene_of_rows, screen_size_cm
from engine.roster_search import worn_comfortable_h
from engine.units import MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

STEP_CM = 5.0
_WORTH_H = 0.02
"""A lower step must bring more than the smallest difference that counts (same_score_h)."""


def lowered(
    values: Mapping[str, Floats],
    *,
    laptop: Bools,
    present: Sequence[str],
    judgements: Judgements,
) -> dict[str, Floats]:
    """The rows with each monitor at the height that gives the pair worn today the most hours.

    present: (wearers,) kind worn today, "" where none is known: such a screen stays.
    """
    now = _hours(values, present, judgements)
    best_h, best_top = now, values["screen_top_cm"].copy()
    for down_cm in np.arange(STEP_CM, judgements.desk_move_max_cm + 1e-9, STEP_CM):
        tried = dict(values) | {"screen_top_cm": values["screen_top_cm"] - down_cm}
        may = ~laptop & fits(tried, judgements=judgements)
        if not np.any(may):
            continue
        which = np.flatnonzero(may)
        part = {name: found[which] for name, found in tried.items()}
        hours = _hours(part, [present[int(at)] for at in which], judgements)
        better = hours > best_h[which] + _WORTH_H
        best_h[which[better]] = hours[better]
        best_top[which[better]] = part["screen_top_cm"][better]
    return dict(values) | {"screen_top_cm": best_top}


def fits(values: Mapping[str, Floats], *, judgements: Judgements) -> Bools:
    """Whether a screen may stand there: top not above the eyes, bottom above the desk, not too low.

    The desk is taken where the page of one person takes it (desk_below_eye_cm).
    """
    top, away = values["screen_top_cm"], values["screen_distance_cm"]
    upright = screen_size_cm(values)[1] * np.cos(np.radians(values["screen_tilt_deg"]))
    bottom = top - upright
    lowest = judgements.desk_bottom_above_desk_cm - judgements.desk_below_eye_cm
    below = np.sin(np.radians(judgements.desk_below_level_max_deg)) * away
    found: Bools = (top <= 0.0) & (bottom >= lowest) & (-bottom <= below)
    return found & (np.abs(top - upright / 2) < 0.9 * away - 1.0 / MM_PER_CM)


def _hours(values: Mapping[str, Floats], present: Sequence[str], judgements: Judgements) -> Floats:
    scene = scene_of_rows(values, judgements=judgements)
    return worn_comfortable_h(scene, present, judgements=judgements)
