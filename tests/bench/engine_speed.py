"""Speed of a whole answer and of a surface, and the same answer by a general-purpose minimiser.

On one core, in processor time: other programs of a shared machine stretch it less than the clock.

The other way asks, for every point of every target and every design, for the chin-up at which the
blur over a window of 4 degrees is least (scipy, bounded scalar minimisation), in each draw on which
designs are chosen. A sample of those minimisations is timed and extrapolated.
Its inner function is plain Python without arrays, its surfaces a table of the same step.
"""

from __future__ import annotations

import math
import random
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np
from scipy.optimize import minimize_scalar

from engine.assemble import advise
from engine.case.model import Case
from engine.case.scene import Scene, scene_of
from engine.examples import path_of
from engine.kernel.draws import IN_A_CUBE
from engine.kernel.search import Views, candidates, shares
from engine.lenses import surfaces
from engine.lenses.families import Office
from engine.lenses.kinds import KINDS
from engine.lenses.surfaces import Surface, general_surface, office_surface
from engine.tables import Judgements
from tests import examples
from tests.bench._row import Row, table

ANSWER_TARGET_MS, SURFACE_TARGET_MS = 250.0, 30.0
SAMPLE = 120
MOST_APART = 0.05
"""The two ways may differ in a twentieth of the share: the other one only samples a posture."""
ROOT = Path(__file__).resolve().parents[2]
STANDARD = Judgements.standard()
_BLUR_OFF_LIMITS_D = 10.0
Table = list[list[list[float]]]
Lens = tuple[Table, float, float]


def measure() -> list[Row]:
    """Rows of the table."""
    case = three_faces()
    answer_ms = median_ms(lambda: advise(case), runs=9)
    surface_ms = median_ms(lambda: surfaces.solve(surfaces.GENERAL[12.5]), runs=15)
    bare_ms = median_ms(_bare_least_squares(), runs=15)
    one_ms, count = _minimisation_ms(case), IN_A_CUBE * _pairs(case)
    by_scipy, by_kernel = _screen_both_ways(case)
    cold, imports = _cold_s()
    allowed, scipy_way = ANSWER_TARGET_MS, f"{count} scipy minimisations, from {SAMPLE}"
    return [
        Row(
            "advise, warm, searched plainly: 3 targets of 81 points, verdict, moves, measures",
            answer_ms,
            "ms",
            scipy_way,
            one_ms * count,
            allowed,
            source="our target",
        ),
        Row(
            "one surface solved",
            surface_ms,
            "ms",
            "bare least squares of that size",
            bare_ms,
            SURFACE_TARGET_MS,
            source="our target",
        ),
        Row(
            "advise, cold: the command from start to printed answer",
            cold,
            "s",
            "a process that only imports numpy and pydantic",
            imports,
        ),
        Row(
            "comfortable share of a screen: kernel less scipy, size",
            abs(by_kernel - by_scipy),
            "",
            "share by scipy minimisations",
            by_scipy,
            MOST_APART,
            of="ratio",
            source="ours",
        ),
    ]


def _bare_least_squares() -> Callable[[], object]:
    """One solve of the size of a surface's: three rows a grid point, 79 unknowns."""
    across = np.arange(0.0, 30.1, 1.5)[None, :]
    points = int(np.sum(across**2 + np.arange(-30.0, 30.1, 1.5)[:, None] ** 2 <= 30.0**2))
    dice = np.random.default_rng(0)
    rows, wanted = dice.random((3 * points, 79)), dice.random(3 * points)
    return lambda: np.linalg.lstsq(rows, wanted, rcond=None)


def _cold_s() -> tuple[float, float]:
    """Seconds of `python -m engine advise`, and of the imports no answer can do without."""
    case = path_of("two_screens")
    whole = ["-m", "engine", "advise", str(case)]
    bare = ["-c", "import numpy, pydantic"]
    times: list[tuple[float, float]] = [(_run_s(whole), _run_s(bare)) for _ in range(3)]
    return median(one for one, _ in times), median(one for _, one in times)


def _run_s(arguments: list[str]) -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - began


def three_faces() -> Case:
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

    def blur(self, chin_up_deg: float) -> float:
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
        short = self.demand - self.usable - added
        return math.hypot(max(short, added - self.demand, 0.0), self.lost_d * astigmatism / 2)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        column, row = x / 0.25, (y + 30.0) / 0.25
        left, low = int(column), int(row)
        right, up = column - left, row - low
        (a, b), (c, d) = self.table[low][left : left + 2], self.table[low + 1][left : left + 2]
        weights = ((1 - right) * (1 - up), right * (1 - up), (1 - right) * up, right * up)
        corners = list(zip(weights, (a, b, c, d), strict=True))
        return sum(w * p[0] for w, p in corners), sum(w * p[1] for w, p in corners)

    def least_blur(self) -> float:
        """Least of the worst blur over a window of 4 deg."""

        def worst(start_deg: float) -> float:
            return max(self.blur(start_deg + 0.5 * step) for step in range(9))

        return float(minimize_scalar(worst, bounds=(-25.0, -2.0), method="bounded").fun)


def _table(surface: Surface) -> Table:
    """Power and astigmatism every quarter millimetre, from x = 0 and y = -30."""
    x, y = np.arange(0.0, 31.0, 0.25)[None, :], np.arange(-30.0, 31.0, 0.25)[:, None]
    both = np.stack(surface.lookup(x_mm=x + 0 * y, y_mm=y + 0 * x), axis=-1)
    found: Table = both.tolist()
    return found


def _lenses(add_d: float) -> list[Lens]:
    general = [(_table(general_surface(one)), add_d, add_d) for one in surfaces.GENERAL]
    office = [(_table(office_surface(fall)), add_d, 1.0) for fall in surfaces.OFFICE]
    single = [(office[0][0], power, 0.0) for power in (0.75, 1.25, add_d)]
    return general + office + single


def _minimisation_ms(case: Case) -> float:
    scene, draw = scene_of([case], judgements=STANDARD), random.Random(1)
    lenses, points = _lenses(float(case.wearer.add_d or 0.0)), range(len(scene.demand_d))
    sample = [_Plain(scene, draw.choice(points), draw.choice(lenses)) for _ in range(SAMPLE)]
    start = time.process_time()
    for plain in sample:
        plain.least_blur()
    return 1e3 * (time.process_time() - start) / SAMPLE


def _screen_both_ways(case: Case) -> tuple[float, float]:
    scene = scene_of([case], judgements=STANDARD)
    lens = (_table(office_surface("slow")), 2.0, 1.0)
    found = 0.0
    for point in np.flatnonzero(scene.point_target == 0):
        clear = _Plain(scene, int(point), lens).least_blur() <= float(scene.limit_d[0])
        found += float(scene.share[point]) * clear
    kernel = shares(Views(scene, STANDARD), KINDS["office"], Office("slow", 1.0), np.array([2.0]))
    return found, float(kernel.comfortable[0])


def median_ms(run: Callable[[], object], *, runs: int) -> float:
    run()
    found = []
    for _ in range(runs):
        start = time.process_time()
        run()
        found.append(1e3 * (time.process_time() - start))
    return median(found)


if __name__ == "__main__":
    print(table(measure()))
