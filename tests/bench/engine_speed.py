"""Speed of a whole answer and of a surface, and the same answer by a general-purpose minimiser.

The other way asks, for every point of every target and every design, for the chin-up at which the
blur over a window of 4 degrees is least (scipy, bounded scalar minimisation), once with the full
and once with half the accommodation. A sample of those minimisations is timed and extrapolated.
Its inner function is plain Python without arrays, its surfaces a table of the same step.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable
from statistics import median

import numpy as np
from scipy.optimize import minimize_scalar

from engine import surfaces
from engine.advise import advise
from engine.case import Case
from engine.lens_families import Office
from engine.lenses import KINDS
from engine.scene import Scene, scene_of
from engine.search import Views, candidates, shares
from engine.surfaces import Surface, general_surface, office_surface
from engine.tables import Judgements
from tests import examples

ANSWER_TARGET_MS, SURFACE_TARGET_MS = 120.0, 30.0
SAMPLE = 120
STANDARD = Judgements.standard()
_BLUR_OFF_LIMITS_D = 10.0
Table = list[list[list[float]]]
Lens = tuple[Table, float, float]


def measure() -> list[tuple[str, float, float, str, float, str]]:
    """Rows (name, numerator, denominator, unit, ratio, target)."""
    case = _three_faces()
    answer_ms = _median_ms(lambda: advise(case), runs=15)
    surface_ms = _median_ms(lambda: surfaces.solve(surfaces.GENERAL[12.5]), runs=15)
    one_ms, count = _minimisation_ms(case), 2 * _pairs(case)
    by_scipy, by_kernel = _screen_both_ways(case)
    answer, surface = ANSWER_TARGET_MS, SURFACE_TARGET_MS
    name = "one answer, 3 targets of 81 points, all kinds / allowed"
    return [
        (name, answer_ms, answer, "ms", answer_ms / answer, "<= 1"),
        ("one surface solved / allowed", surface_ms, surface, "ms", surface_ms / surface, "<= 1"),
        (
            f"{count} scipy minimisations (from {SAMPLE}) / one answer",
            one_ms * count,
            answer_ms,
            "ms",
            one_ms * count / answer_ms,
            "information",
        ),
        (
            "comfortable share of a screen, scipy / kernel",
            by_scipy,
            by_kernel,
            "share",
            by_scipy / by_kernel,
            "1 +- 0.05",
        ),
    ]


def _three_faces() -> Case:
    second = examples.screen(name="side screen", offset_cm=35, distance_cm=75)
    looks = examples.activity(7, screen=0.6, papers=0.2)
    looks["looks"].append({"target": "side screen", "share": 0.2})
    targets = (examples.screen(), examples.paper(), second)
    return examples.case(*targets, activities=[looks], wearer={"accepts_lined": True})


def _pairs(case: Case) -> int:
    """Points times designs that one answer grades."""
    views = Views(scene_of([case], judgements=STANDARD), STANDARD)
    designs = sum(int(np.sum(~np.isnan(candidates(views, kind).free_d))) for kind in KINDS.values())
    return 81 * len(case.targets) * designs


class _Plain:
    """A point through a design, in plain numbers."""

    def __init__(self, scene: Scene, point: int, lens: Lens) -> None:
        """lens: table, power where it is 1, and how much it loses where the table is 0."""
        wearers = scene.wearers
        self.stop, self.tilt = float(wearers.stop_mm[0]), math.radians(float(wearers.tilt_deg[0]))
        self.power = float(wearers.vertical_power_d[0])
        self.low, self.high = float(wearers.lowest_mm[0]), float(wearers.highest_mm[0])
        self.forward, self.right = float(scene.forward_mm[point]), float(scene.right_mm[point])
        self.up, self.demand = float(scene.up_mm[point]), float(scene.demand_d[point])
        self.usable = float(wearers.usable_d[0])
        self.table, self.full_d, self.lost_d = lens

    def blur(self, chin_up_deg: float, share: float) -> float:
        """Blur in one posture; large where the posture is not comfortable."""
        pitch = math.radians(chin_up_deg)
        back, rise = 1.0 - math.cos(pitch), math.sin(pitch)
        forward = self.forward + 93.0 * back + 48.0 * rise
        below = 93.0 * rise - 48.0 * back - self.up
        gaze = math.atan2(below, math.hypot(forward, self.right)) + pitch
        aside = max(abs(math.atan2(self.right, forward)) - math.radians(15.0), 0.0)
        if not math.radians(-5.0) <= gaze <= math.radians(35.0) or aside > math.radians(15.0):
            return _BLUR_OFF_LIMITS_D
        reach = math.hypot(self.forward, self.right, self.up)
        bend = 1.0 - self.stop / 1e3 * self.power * (1.0 - self.stop / reach)
        slope = math.tan(gaze) / bend
        bracket = math.cos(self.tilt) + slope * math.sin(self.tilt)
        y = -self.stop * slope / bracket
        x = self.stop * math.tan(aside) * math.cos(self.tilt) / bracket
        if not self.low <= y <= self.high:
            return _BLUR_OFF_LIMITS_D
        power, astigmatism = self._at(x, y)
        added = self.full_d - self.lost_d * (1.0 - power)
        short = self.demand - share * self.usable - added
        return math.hypot(max(short, added - self.demand, 0.0), self.lost_d * astigmatism / 2)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        column, row = x / 0.25, (y + 30.0) / 0.25
        left, low = int(column), int(row)
        right, up = column - left, row - low
        (a, b), (c, d) = self.table[low][left : left + 2], self.table[low + 1][left : left + 2]
        weights = ((1 - right) * (1 - up), right * (1 - up), (1 - right) * up, right * up)
        corners = list(zip(weights, (a, b, c, d), strict=True))
        return sum(w * p[0] for w, p in corners), sum(w * p[1] for w, p in corners)

    def least_blur(self, share: float) -> float:
        """Least of the worst blur over a window of 4 deg."""

        def worst(start_deg: float) -> float:
            return max(self.blur(start_deg + 0.5 * step, share) for step in range(9))

        return float(minimize_scalar(worst, bounds=(-25.0, -2.0), method="bounded").fun)


def _table(surface: Surface) -> Table:
    """Power and astigmatism every quarter millimetre, from x = 0 and y = -30."""
    x, y = np.arange(0.0, 31.0, 0.25)[None, :], np.arange(-30.0, 31.0, 0.25)[:, None]
    both = np.stack(surface.lookup(x_mm=x + 0 * y, y_mm=y + 0 * x), axis=-1)
    found: Table = both.tolist()
    return found


def _lenses(add_d: float) -> list[Lens]:
    general = [(_table(general_surface(one)), add_d, add_d) for one in surfaces.GENERAL]
    office = [(_table(office_surface(shape)), add_d, 1.0) for shape in surfaces.OFFICE]
    single = [(office[0][0], power, 0.0) for power in (0.75, 1.25, add_d)]
    return general + office + single


def _minimisation_ms(case: Case) -> float:
    scene, draw = scene_of([case], judgements=STANDARD), random.Random(1)
    lenses, points = _lenses(float(case.wearer.add_d or 0.0)), range(len(scene.demand_d))
    sample = [
        (_Plain(scene, draw.choice(points), draw.choice(lenses)), draw.choice((1.0, 0.5)))
        for _ in range(SAMPLE)
    ]
    start = time.perf_counter()
    for plain, share in sample:
        plain.least_blur(share)
    return 1e3 * (time.perf_counter() - start) / SAMPLE


def _screen_both_ways(case: Case) -> tuple[float, float]:
    scene = scene_of([case], judgements=STANDARD)
    lens = (_table(office_surface("desk")), 2.0, 1.0)
    found = 0.0
    for point in np.flatnonzero(scene.point_target == 0):
        clear = _Plain(scene, int(point), lens).least_blur(1.0) <= float(scene.limit_d[0])
        found += float(scene.share[point]) * clear
    kernel = shares(Views(scene, STANDARD), KINDS["office"], Office("desk", 1.0), np.array([2.0]))
    return found, float(kernel.comfortable[0])


def _median_ms(run: Callable[[], object], *, runs: int) -> float:
    run()
    found = []
    for _ in range(runs):
        start = time.perf_counter()
        run()
        found.append(1e3 * (time.perf_counter() - start))
    return median(found)
