"""Ask the compiled search which points are clear: arrays of a scene, families as numbers.

Loading it takes longer than one plain answer. So it is loaded for a roster and for a team, and for
the pages once the first is open; who asks once does without. A program that is alone may let every
core take a share of the points of a search.
"""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from functools import cached_property, lru_cache
from importlib.util import find_spec
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.kernel.posture import (
    band_chin_ups_deg,
    far_within_deg,
    gaze_limits,
    most_imbalance_pd,
    own_window_samples,
    sideways_limits,
    turned_head,
)
from engine.lenses import families as lenses
from engine.lenses.surfaces import (
    GENERAL,
    HELD_FROM_MM,
    OFFICE,
    RADIUS_MM,
    TABLE_STEP_MM,
    general_surface,
    office_surface,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from engine.case.scene import Scene
    from engine.kernel.clearness import Columns
    from engine.kernel.posture import Band
    from engine.lenses.families import Family
    from engine.lenses.kinds import Kind
    from engine.lenses.surfaces import Surface
    from engine.tables import Judgements

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]

_ROUNDING = 1e-9
_LEAST_SHARED = 2000
"""Points times designs: about a fifth of a millisecond, for which no thread is asked to help."""
_ALL_LENSES = np.array(
    [
        HELD_FROM_MM,
        RADIUS_MM,
        TABLE_STEP_MM,
        lenses.SEGMENT_HALF_WIDTH_MM,
        lenses.TRIFOCAL_BAND_MM,
        lenses.TRIFOCAL_SHARE,
    ]
)


class _Loaded:
    """The module of the compiled search, once it is loaded; asked for once in a process.

    Attributes:
        lock: held while it is loaded. is_tried: loading was tried, with or without success.
        helpers: threads that take shares of a search, where there are any. shares: how many
            threads search, this one among them.
    """

    def __init__(self) -> None:
        self.module: Any = None
        self.lock, self.is_tried = Lock(), False
        self.helpers: ThreadPoolExecutor | None = None
        self.shares = 1


_loaded = _Loaded()


def jitted() -> Any:
    """Return the module of the compiled search; None where it is not loaded."""
    return _loaded.module


def is_loaded() -> bool:
    """Return whether searches are compiled."""
    return _loaded.module is not None


def is_installed() -> bool:
    """Return whether the extra `fast` is there, without loading it."""
    return find_spec("numba") is not None


def share_among(cores: int) -> None:
    """Search with so many threads from now on, this one among them.

    Not for one of several processes, which have the cores among them already.
    """
    _loaded.shares = cores
    _loaded.helpers = ThreadPoolExecutor(cores - 1, "search") if cores > 1 else None


def load() -> bool:
    """Load the compiled search, and return whether it is there: about a second, once a process.

    It is not without the extra `fast`, nor where what was compiled cannot be kept: compiling takes
    longer than it saves. The first time ever it is compiled, which takes some seconds.
    """
    with _loaded.lock:
        if not _loaded.is_tried:
            _loaded.is_tried = True
            try:
                from engine.kernel import jitted as module

                module.clear_points(*_nothing())
            except (ImportError, RuntimeError, OSError):
                return False
            _loaded.module = module
    return is_loaded()


def _nothing() -> tuple[Any, ...]:
    """Return arguments of the compiled search for no points."""
    numbers, whole = np.zeros((0, 2)), np.zeros((0, 2), dtype=np.int64)
    return (
        numbers,
        whole[:, 0].copy(),
        whole,
        numbers,
        np.zeros((1, 0, 3)),
        np.zeros(3),
        np.zeros((0, 1, 0, 0, 2)),
        whole[:, 0].copy(),
        numbers,
        _ALL_LENSES,
        numbers,
        whole[:, 0].copy(),
        numbers,
        whole[:, 0].copy(),
        np.zeros((0, 0), dtype=bool),
        numbers,
    )


class Seen:
    """A scene in the band of a grade, through lenses or bare, as the compiled search takes it."""

    def __init__(
        self, scene: Scene, *, band: Band, through_lens: bool, judgements: Judgements
    ) -> None:
        """Take a band whose head turns no farther than head_turn_deg."""
        self._scene, self._band, self._through_lens = scene, band, through_lens
        self._samples = own_window_samples(scene.wearers, judgements=judgements)
        self._chin_up_deg = band_chin_ups_deg(scene, band=band, judgements=judgements)
        self._of_wearer = scene.point_wearer.astype(np.int64)
        turned = turned_head(
            scene.wearers, chin_up_deg=self._chin_up_deg[None, :], pivot_mm=band.pivot_mm
        )
        self._eyes = np.ascontiguousarray(np.stack(turned, axis=-1))
        self._points, self._postures = self._of_points(), self._tried()
        self._wearers = self._of_wearers()

    def of_others(self, scene: Scene) -> Seen:
        """Return the same of wearers who differ in add and in what they focus, in nothing else."""
        found = copy(self)
        found._scene = scene
        found._wearers = found._of_wearers()
        return found

    def _of_points(self) -> Floats:
        """Return what holds of a point in any posture, (points, 8): columns of `jitted`."""
        scene = self._scene
        lowest, highest = gaze_limits(
            self._band,
            scene.wearers.spread(scene.target_wearer),
            is_far=scene.is_far[:, None],
        )
        away = np.sqrt(scene.forward_mm**2 + scene.right_mm**2 + scene.up_mm**2)
        stop = scene.wearers.stop_mm[self._of_wearer]
        return np.ascontiguousarray(
            np.stack(
                [
                    scene.forward_mm,
                    scene.right_mm,
                    scene.up_mm,
                    scene.demand_d,
                    scene.limit_d[scene.point_target],
                    lowest[scene.point_target, 0],
                    highest[scene.point_target, 0],
                    1.0 / (1.0 + stop / (away - stop)),
                ],
                axis=1,
            )
        )

    def _tried(self) -> NDArray[np.int64]:
        """Return the first posture to try for each point, and one past the last, (points, 2)."""
        scene, band, chin_up = self._scene, self._band, self._chin_up_deg
        least, most = band.chin_up_deg
        near = np.flatnonzero((chin_up >= least - _ROUNDING) & (chin_up <= most + _ROUNDING))
        ends = (int(near[0]), int(near[-1]) + 1) if near.size else (0, 0)
        found = np.empty((len(scene.share), 2), dtype=np.int64)
        found[:] = ends
        far = np.flatnonzero(scene.is_far[scene.point_target])
        if band.far_within_deg is not None and far.size:
            free = scene.free_chin_up_deg[far][:, None]
            within = far_within_deg(band, scene.wearers)[self._of_wearer[far]][:, None]
            inside = np.abs(chin_up - free) <= within + _ROUNDING
            found[far, 0] = inside.argmax(axis=1)
            found[far, 1] = found[far, 0] + inside.sum(axis=1)
        found[~scene.legible[scene.point_target]] = 0
        return found

    def _of_wearers(self) -> Floats:
        """Return what holds of each wearer, (wearers, 19): columns of `jitted`."""
        wearers = self._scene.wearers
        tilt = np.radians(wearers.tilt_deg)
        bend = wearers.stop_mm / 1e3 * (wearers.vertical_power_d if self._through_lens else 0.0)
        head_turn, reach = sideways_limits(self._band, wearers)
        columns = (
            wearers.stop_mm,
            bend,
            np.cos(tilt),
            np.sin(tilt),
            wearers.lens_down_mm,
            wearers.lowest_mm - _ROUNDING,
            wearers.highest_mm + _ROUNDING,
            wearers.half_width_mm + _ROUNDING,
            wearers.add_d,
            wearers.usable_d,
            wearers.eyes_first,
            wearers.profile_down_mm,
            wearers.vertical_difference_d,
            wearers.unaided_astigmatism_d,
            head_turn,
            reach,
            most_imbalance_pd(self._band, wearers) + _ROUNDING,
            wearers.astigmatism_weight,
            self._samples.astype(np.float64),
        )
        return np.ascontiguousarray(np.stack(columns, axis=1))

    @cached_property
    def _limits(self) -> Floats:
        """What is asked of the band, (3,): see `jitted`."""
        band, difference = self._band, self._scene.wearers.vertical_difference_d
        return np.array(
            [
                float(self._through_lens),
                float(band.is_own),
                float(self._through_lens and bool(np.any(difference > 0.0))),
            ]
        )

    def clear_points(self, asked: Sequence[Columns]) -> list[Bools]:
        """Tell whether some window of postures is clear, (points, columns) for each of the asked.

        Raises
            TypeError: a family is not known here; see `knows`.
        """
        kinds = list(dict.fromkeys(one.kind for one in asked))
        rows = [(kinds.index(one.kind), *numbers_of(one.family)) for one in asked]
        counts = [one.powers.shape[1] * len(one.ratios) for one in asked]
        powers = [one.powers for one in asked for _ in one.ratios]
        ratios = [
            (ratio, -1 if at == 0 else one.powers.shape[1])
            for one in asked
            for at, ratio in enumerate(one.ratios)
            for _ in range(one.powers.shape[1])
        ]
        known = [one.known for one in asked if one.known is not None]
        place = itertools.count()
        known_at = [-1 if one.known is None else next(place) for one in asked]
        made = self._scene.wearers.made
        tables = _tables(
            bool(np.any(made)), tuple(one.coefficients.tobytes() for one in _surfaces())
        )
        reference = np.array([self._reference(kind) for kind in kinds])
        is_known = np.array(known) if known else np.zeros((0, len(self._points)), dtype=bool)
        families = np.array(rows, dtype=np.float64)
        of_family = np.repeat(np.arange(len(asked)), counts)
        of_known = np.repeat(np.array(known_at, dtype=np.int64), counts)
        ratio, design = np.array(ratios, dtype=np.float64), made.astype(np.int64)
        columns = np.ascontiguousarray(np.concatenate(powers, axis=1))

        def search(part: slice) -> Bools:
            clear: Bools = jitted().clear_points(
                self._points[part],
                self._of_wearer[part],
                self._postures[part],
                self._wearers,
                self._eyes,
                self._limits,
                tables,
                design,
                reference,
                _ALL_LENSES,
                families,
                of_family,
                ratio,
                of_known,
                np.ascontiguousarray(is_known[:, part]),
                columns,
            )
            return clear

        found = _shared(search, len(self._points), columns.shape[1])
        return np.split(found, np.cumsum(counts)[:-1], axis=1)

    def _reference(self, kind: Kind) -> Floats:
        """Return the prism reference of a kind, mm below the fitting point, (wearers,)."""
        wearers = self._scene.wearers
        place = {"stop_mm": wearers.stop_mm, "tilt_deg": wearers.tilt_deg}
        return kind.prism_reference_drop_mm(**place) + 0.0 * wearers.stop_mm


def _shared(search: Callable[[slice], Bools], points: int, columns: int) -> Bools:
    """Search all points, a share in each thread at once; where there are few in this one."""
    helpers = _loaded.helpers
    if helpers is None or points * columns < _LEAST_SHARED:
        return search(slice(None))
    ends = [points * share // _loaded.shares for share in range(_loaded.shares + 1)]
    own, *others = itertools.starmap(slice, itertools.pairwise(ends))
    asked = [helpers.submit(search, part) for part in others]
    return np.concatenate([search(own), *(one.result() for one in asked)])


_ORDER: tuple[float | str, ...] = (*GENERAL, *OFFICE)
"""What every surface is asked for by, in the order of the tables.

Not the surfaces: two threads that solve one for the first time have one each.
"""


def _surfaces() -> tuple[Surface, ...]:
    """Return every surface there is, in the order of the tables."""
    return (*map(general_surface, GENERAL), *map(office_surface, OFFICE))


@lru_cache(maxsize=2)
def _tables(made: bool, coefficients: tuple[bytes, ...]) -> Floats:  # noqa: ARG001
    """Return power and astigmatism of every surface, (surfaces, designs, columns, rows, 2).

    made: with those that are made where it is ordered, else of the surface itself alone.
    coefficients: of the surfaces there are, so that others have tables of their own.
    """
    found = [surface.stack if made else surface.table for surface in _surfaces()]
    tables = np.empty((len(found), *found[0].shape[1:], 2))
    for place, table in enumerate(found):
        for which in range(2):
            tables[place, ..., which] = table[which]
    return tables


def knows(family: Family) -> bool:
    """Tell whether the compiled search can take a family."""
    own = family.family if type(family) is lenses.OwnPrescription else family
    return type(own) in _KNOWN


_KNOWN = (
    lenses.SingleVision,
    lenses.Unaided,
    lenses.General,
    lenses.Office,
    lenses.Bifocal,
    lenses.Trifocal,
)


def numbers_of(family: Family) -> tuple[float, ...]:
    """Return a family as the compiled search takes it: the columns of `jitted` from SORT on.

    Raises
        TypeError: it does not know the family; see `knows`.
    """
    found, more_d, cylinder_d = family, 0.0, -1.0
    if isinstance(family, lenses.OwnPrescription):
        found, more_d, cylinder_d = family.family, family.more_d, family.cylinder_d
    made = jitted()
    sort, table = made.UNIFORM, -1
    stated, lost, line, margin, bare = np.nan, 0.0, 0.0, 0.0, 0.0
    if isinstance(found, lenses.General):
        sort, table = made.ON_SURFACE, _ORDER.index(found.corridor_mm)
        stated = _stated(found.stated_add_d)
    elif isinstance(found, lenses.Office):
        sort, table = made.ON_SURFACE, _ORDER.index(found.power_fall)
        stated, lost = found.degression_d, 1.0
    elif isinstance(found, lenses.Bifocal | lenses.Trifocal):
        sort = made.TWO_POWERS if isinstance(found, lenses.Bifocal) else made.THREE_POWERS
        stated, line, margin = _stated(found.stated_add_d), found.line_drop_mm, found.line_margin_mm
    elif isinstance(found, lenses.Unaided):
        bare = 1.0
    elif not isinstance(found, lenses.SingleVision):
        raise TypeError(f"the compiled search does not know {type(found).__name__}")
    return sort, table, stated, lost, more_d, cylinder_d, line, margin, bare


def _stated(add_d: float | None) -> float:
    """Return an add as a number; nan is the add of each wearer."""
    return np.nan if add_d is None else add_d
