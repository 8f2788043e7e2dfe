"""A solved surface as a height map, differentiated by scipy splines; and its functional.

Independent of the engine's derivatives: heights come from scipy's Chebyshev polynomials at the
stored coefficients, curvatures from a quintic spline through the heights. The functional is
written out anew from its description (points, weights, wished power).
"""

from __future__ import annotations

import numpy as np
import scipy
from numpy.typing import NDArray

from engine.lenses.surfaces import Progression, Surface

Floats = NDArray[np.float64]
DISC_MM = 30.0


def heights(coefficients: Floats, x_mm: Floats, y_mm: Floats) -> Floats:
    """w on the grid of x and y, D mm^2 for an add of 1 D."""
    degrees = np.arange(len(coefficients))
    across = scipy.special.eval_chebyt(degrees[:, None], x_mm[None, :] / DISC_MM)
    along = scipy.special.eval_chebyt(degrees[:, None], y_mm[None, :] / DISC_MM)
    found: Floats = across.T @ coefficients @ along
    return found


class Splined:
    """The height map of a surface under a quintic spline."""

    def __init__(self, coefficients: Floats, *, step_mm: float = 0.25) -> None:
        x = np.arange(-31.0, 31.0 + step_mm / 2, step_mm)
        self._spline = scipy.interpolate.RectBivariateSpline(
            x, x, heights(coefficients, x, x), kx=5, ky=5
        )

    def curvatures(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats, Floats]:
        """w_xx, w_yy, w_xy."""
        parts = [self._spline.ev(x_mm, y_mm, dx=i, dy=j) for i, j in ((2, 0), (0, 2), (1, 1))]
        return parts[0], parts[1], parts[2]

    def power(self, x_mm: Floats, y_mm: Floats) -> Floats:
        """Mean of the principal curvatures, found as eigenvalues and not by the formula."""
        return self._principal(x_mm, y_mm).mean(axis=-1)

    def astigmatism(self, x_mm: Floats, y_mm: Floats) -> Floats:
        """Difference of the principal curvatures."""
        both = self._principal(x_mm, y_mm)
        found: Floats = both[..., 1] - both[..., 0]
        return found

    def _principal(self, x_mm: Floats, y_mm: Floats) -> Floats:
        xx, yy, xy = self.curvatures(x_mm, y_mm)
        matrix = np.stack([np.stack([xx, xy], -1), np.stack([xy, yy], -1)], -2)
        return np.linalg.eigvalsh(matrix)


def functional(surface: Surface, coefficients: Floats) -> float:
    """What the surface was solved to make small, from the description of it."""
    asked = surface.progression
    x, y = np.meshgrid(np.arange(0.0, 30.1, 1.5), np.arange(-30.0, 30.1, 1.5), indexing="ij")
    inside = np.hypot(x, y) <= 30.0 + 1e-9
    x, y = x[inside], y[inside]
    spline = Splined(coefficients, step_mm=0.5)
    wished = wished_power(asked, y)
    power_weight, astigmatism_weight = weights(asked, x, y)
    error = power_weight * (spline.power(x, y) - wished) ** 2
    return float(np.sum(error + astigmatism_weight * spline.astigmatism(x, y) ** 2))


def wished_power(asked: Progression, y_mm: Floats) -> Floats:
    """0 above the start line, 1 below the corridor, a quintic smooth step between."""
    depth = np.clip((asked.top_mm - y_mm) / asked.length_mm, 0.0, 1.0)
    found: Floats = 6 * depth**5 - 15 * depth**4 + 10 * depth**3
    return found


def weights(asked: Progression, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
    """Weights of the error of power and of the astigmatism squared."""
    end = asked.top_mm - asked.length_mm
    umbilic = np.exp(-(x_mm**2) / 1.5**2)
    near = np.exp(
        -((np.clip(y_mm - end, 0, None) / 2) ** 2 + (x_mm / asked.near_half_width_mm) ** 2)
    )
    far = np.exp(
        -(
            (np.clip(asked.top_mm + 2 - y_mm, 0, None) / 3) ** 2
            + (x_mm / asked.far_half_width_mm) ** 2
        )
    )
    k = asked.edge_weight
    return (
        0.02 * k + 30 * umbilic + 4 * near + 4 * far,
        0.15 * k + 30 * umbilic + 2 * near + 2 * far,
    )
