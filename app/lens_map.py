"""What the lens picture needs of the engine: power over the lens, frame, gaze points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.lens_picture import FrameShape, GazePoint, PowerAt
from engine.case import Case
from engine.lens_families import Points
from engine.lenses import KINDS
from engine.posture import power_of
from engine.results import OptionResult
from engine.scene import wearers_of
from engine.tables import Judgements


def power_at(option: OptionResult, case: Case) -> PowerAt:
    """Added power and astigmatism of an option's lens at lens points (x, y) in mm."""
    judgements = Judgements.standard()
    add_d = case.wearer.add_d or 0.0
    family, free_d = KINDS[option.kind].worn(option.design, add_d=add_d, judgements=judgements)
    wearer = wearers_of([case], judgements=judgements)

    def at(where: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        x, y = np.array(where, dtype=float).reshape(-1, 2).T
        columns = np.ones((len(x), 1))
        points = Points(x_mm=x[:, None], y_mm=y[:, None], zone_width=columns, down_mm=0.0 * columns)
        spread = wearer.take(np.zeros(len(x), dtype=np.intp)).as_columns()
        found = family.field(points, spread)
        power = np.broadcast_to(power_of(found, free_d=free_d * columns), columns.shape)
        astigmatism = np.broadcast_to(found.astigmatism_d, columns.shape)
        return list(zip(power[:, 0].tolist(), astigmatism[:, 0].tolist(), strict=True))

    return at


def frame_shape(case: Case) -> FrameShape:
    """The edged lens of a case, with the lower of the two fitting heights."""
    fit = case.fit
    return FrameShape(fit.lens_width_mm, fit.lens_depth_mm, min(fit.heights_mm))


def gaze_points(option: OptionResult) -> list[GazePoint]:
    """Where each row of each target is seen, for the rows some posture makes clear."""
    return [
        GazePoint(target.target, row.row, row.drop_mm)
        for target in option.targets
        for row in target.rows
        if row.drop_mm is not None
    ]
