"""A pair with one fault put into it, and what an optician can then see of it.

The fault is a physical change: the lens lower, a power off, the screen elsewhere than recorded.
The engine is run again with it, and the outcome is turned into notes of an optician: a chin read
from a side view, a range taped, a few answers. Chin and tape carry reading errors. What the fault
was is not among the notes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from engine.case.model import Case, Design
from engine.case.results import OptionResult
from engine.case.scene import Scene, Wearers, scene_of
from engine.collection.as_worn import Rerun, rerun_scene
from engine.collection.complaints import Complaint, SeenTarget
from engine.kernel.details import Closeup
from engine.kernel.posture import View, any_posture, blur_of, chin_ups_deg
from engine.kernel.search import Shares, Views, comfortable_shares
from engine.lenses.families import Family, Field, Points
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.optics.accommodation import clear_range_cm
from engine.tables import Judgements

STANDARD = Judgements.standard()
CHIN_READ_SD_DEG = 1.5
TAPE_READ_SD = 0.02
WIDTH_READ_SD = 0.08
WORTH_TELLING = 0.15
"""Trouble (see `trouble`) more than the record's by this makes a person complain."""
HELPED = 0.08
TRIED_FRAME_MM, TRIED_VERTEX_MM, TRIED_TILT_DEG = 2.0, 3.0, 8.0


@dataclass(frozen=True)
class Fault:
    """A physical change; every value is 0 or None where nothing is wrong."""

    cause: str
    lens_down_mm: float = 0.0
    side_mm: float = 0.0
    near_power_d: float = 0.0
    screen_power_d: float = 0.0
    base_power_d: float = 0.0
    astigmatism_d: float = 0.0
    usable_d: float = 0.0
    vertex_mm: float = 0.0
    tilt_deg: float = 0.0
    screen_nearer_cm: float = 0.0
    screen_higher_cm: float = 0.0
    page_nearer_cm: float = 0.0
    text_share: float = 1.0
    one_eye: bool = False
    later: bool = False
    """Came after the first day."""

    @property
    def at_the_desk(self) -> bool:
        """The pair is right; the desk is not as recorded."""
        return bool(self.screen_nearer_cm or self.screen_higher_cm or self.page_nearer_cm) or (
            self.text_share != 1.0
        )


@dataclass(frozen=True)
class Faulty:
    """A family of lenses with a power and an astigmatism added and its centre moved sideways."""

    inner: Family
    power_d: float
    astigmatism_d: float
    side_mm: float

    def field(self, points: Points, wearers: Wearers) -> Field:
        moved = Points(
            x_mm=points.x_mm + self.side_mm,
            y_mm=points.y_mm,
            made=wearers.made,
            down_mm=wearers.profile_down_mm,
        )
        found = self.inner.field(moved, wearers)
        return replace(
            found,
            offset_d=found.offset_d + self.power_d,
            astigmatism_d=np.hypot(found.astigmatism_d, self.astigmatism_d),
        )

    def free_powers_d(self, wearers: Wearers, judgements: Judgements) -> Any:
        return self.inner.free_powers_d(wearers, judgements)

    def design(self, *, add_d: float, free_d: float) -> Design:
        return self.inner.design(add_d=add_d, free_d=free_d)

    def plus_d(self, *, add_d: Any, free_d: Any) -> Any:
        return self.inner.plus_d(add_d=add_d, free_d=free_d)

    def at_own_add(self) -> Family:
        return replace(self, inner=self.inner.at_own_add())

    def later(self, *, add_d: Any, free_d: Any, judgements: Judgements) -> Any:
        return self.inner.later(add_d=add_d, free_d=free_d, judgements=judgements)

    def is_like(self, design: Design) -> bool:
        return self.inner.is_like(design)


@dataclass(frozen=True)
class World:
    """The pair and the desk as they are; of the desk also the scene with the wearer on record."""

    case: Case
    desk: Scene
    scene: Scene
    lens: Lens
    covers: bool

    @classmethod
    def of(cls, case: Case, option: OptionResult, fault: Fault) -> World:
        actual = _desk(case, fault)
        return cls._at(actual, scene_of([actual], judgements=STANDARD), option, fault)

    @classmethod
    def _at(cls, actual: Case, desk: Scene, option: OptionResult, fault: Fault) -> World:
        scene, lens = _wearer(desk, fault), _lens(actual, option, fault)
        return cls(actual, desk, scene, lens, option.covers_distance)

    def with_pair(self, option: OptionResult, fault: Fault) -> World:
        """The same desk, with a fault of the pair in place of this one's."""
        return World._at(self.case, self.desk, option, fault)

    def is_less_trouble(self, recorded: OptionResult, *, than: float) -> bool:
        """Whether a day here costs less: of the comfortable shares and the printed chins alone."""
        lens, views = self.lens, Views(self.scene, STANDARD)
        found = comfortable_shares(views, lens.kind, lens.family, np.array([lens.free_d]))
        if sum(1.0 - float(one) for one in found) >= than:
            return False  # chins only add to it
        names = tuple(target.name for target in self.case.targets)
        printed = self.scene.points_at(Closeup(self.scene, names, STANDARD).printed)
        seen = Closeup(printed, names, STANDARD).targets(lens, Shares(found, 0 * found, 0 * found))
        return trouble(seen, recorded) < than

    @cached_property
    def outcome(self) -> Rerun:
        """What the engine says of it."""
        return rerun_scene(
            case=self.case,
            scene=self.scene,
            lens=self.lens,
            covers_distance=self.covers,
            judgements=STANDARD,
        )


def _desk(case: Case, fault: Fault) -> Case:
    targets = []
    for target in case.targets:
        change: dict[str, Any] = {}
        if target.kind == "screen":
            change["distance_cm"] = target.distance_cm - fault.screen_nearer_cm
            for name in ("top_above_eye_cm", "centre_above_eye_cm"):
                height = getattr(target, name)
                if height is not None:
                    change[name] = height + fault.screen_higher_cm
        if target.kind == "page":
            change["distance_cm"] = target.distance_cm - fault.page_nearer_cm
        if target.text_height_mm is not None and target.kind == "screen":
            change["text_height_mm"] = target.text_height_mm * fault.text_share
        targets.append(target.model_copy(update=change))
    return case.model_copy(update={"targets": tuple(targets)})


def _wearer(scene: Scene, fault: Fault) -> Scene:
    wearers = scene.wearers
    return replace(
        scene,
        wearers=replace(
            wearers,
            lens_down_mm=wearers.lens_down_mm + fault.lens_down_mm,
            usable_d=np.maximum(wearers.usable_d + fault.usable_d, 0.0),
            stop_mm=wearers.stop_mm + fault.vertex_mm,
            tilt_deg=wearers.tilt_deg + fault.tilt_deg,
        ),
    )


def _lens(case: Case, option: OptionResult, fault: Fault) -> Lens:
    kind = KINDS[option.kind]
    design = _design(option, fault)
    family, free_d = kind.worn(design, add_d=case.wearer.add_d or 0.0, judgements=STANDARD)
    power_d, astigmatism_d = fault.base_power_d, fault.astigmatism_d
    mean_d = (
        case.wearer.right.spherical_equivalent_d + case.wearer.left.spherical_equivalent_d
    ) / 2
    # A lens away from the eye gains plus by d F^2, whatever its sign (effectivity).
    power_d += mean_d**2 * fault.vertex_mm / 1000.0
    more = math.radians(9.0 + fault.tilt_deg), math.radians(9.0)
    # Martin's formulas, against the tilt it was ordered with.
    power_d += mean_d * (math.sin(more[0]) ** 2 - math.sin(more[1]) ** 2) / 3.0
    astigmatism_d += abs(mean_d * (math.tan(more[0]) ** 2 - math.tan(more[1]) ** 2))
    return Lens(kind, Faulty(family, power_d, astigmatism_d, fault.side_mm), free_d)


def _design(option: OptionResult, fault: Fault) -> Design:
    numbers = option.design.numbers()

    def add(name: str, more_d: float) -> None:
        numbers[name] = max(float(numbers[name]) + more_d, 0.0)

    if option.kind == "office":
        add("near_add_d", fault.near_power_d)
        add("degression_d", fault.near_power_d - fault.screen_power_d)
    elif option.kind == "bifocal_desk":
        add("upper_add_d", fault.screen_power_d)
        add("add_d", fault.near_power_d)
    elif option.kind == "sv_computer":
        add("add_d", fault.screen_power_d)
    elif option.kind != "sv_distance":
        add("add_d", fault.near_power_d)
    return Design.model_validate(numbers)


def trouble(option_targets: Any, recorded: OptionResult) -> float:
    """What a day costs: shares not comfortable, and the chin away from where it was foretold."""
    total = 0.0
    for was, now in zip(recorded.targets, option_targets, strict=True):
        total += 1.0 - now.comfortable_share
        before, after = (_centre_chin(one) for one in (was, now))
        if before is not None:
            total += 0.5 if after is None else 0.03 * abs(after - before)
    return total


def _centre_chin(target: Any) -> float | None:
    return next((row.chin_up_deg for row in target.rows if row.row == "centre"), None)


def notes(
    case: Case, option: OptionResult, fault: Fault, rng: np.random.Generator
) -> Complaint | None:
    """What the optician writes down; None where nobody would complain."""
    world = World.of(case, option, fault)
    now = world.outcome
    record_trouble = trouble(option.targets, option)
    if not fault.one_eye and trouble(now.targets, option) < record_trouble + WORTH_TELLING:
        return None
    sound = fault.at_the_desk or fault.one_eye
    at_mock = World.of(case, option, Fault("none")) if sound else world
    both = option if fault.one_eye else None
    seen = []
    for index, target in enumerate(case.targets):
        real, mock = ((both or one).targets[index] for one in (now, at_mock.outcome))
        seen.append(_seen(target.kind, real, mock, _range(at_mock, index), rng))
    return Complaint(seen=tuple(seen), answers=_answers(case, option, fault, world, now))


def _seen(
    kind: str,
    real: Any,
    mock: Any,
    ends: tuple[float | None, float | None],
    rng: np.random.Generator,
) -> SeenTarget:
    chin = _centre_chin(real)
    width = mock.clear_width_cm if kind == "screen" else None
    near, far = (
        None if end is None or kind == "far" else end * (1 + TAPE_READ_SD * rng.standard_normal())
        for end in ends
    )
    blurred = tuple(row.row for row in real.rows if row.chin_up_deg is None and row.row != "centre")
    return SeenTarget(
        target=real.target,
        chin_up_deg=None if chin is None else chin + CHIN_READ_SD_DEG * rng.standard_normal(),
        nearest_clear_cm=None if near is None else min(max(near, 10.0), 600.0),
        farthest_clear_cm=None if far is None else min(max(far, 10.0), 2000.0),
        never_clear=chin is None,
        blurred_rows=blurred if kind == "screen" else None,
        clear_width_cm=None
        if width is None
        else max(width * (1 + WIDTH_READ_SD * rng.standard_normal()), 0.0),
    )


def _range(world: World, index: int) -> tuple[float | None, float | None]:
    """Clear range at the middle of a target where the wearer sees it best."""
    scene = world.scene
    points = np.flatnonzero((scene.point_target == index) & scene.middle)
    point = points[len(points) // 2]
    chin = chin_ups_deg(low=-45.0, high=30.0, judgements=STANDARD)
    lens = world.lens.kind.is_lens
    view = View(
        scene.points_at(np.array([point])),
        chin_up_deg=chin,
        band=any_posture(STANDARD),
        through_lens=lens,
    )
    field = world.lens.family.field(view.points, view.wearers)
    free = np.array([[world.lens.free_d]])
    demand = scene.demand_d[[point]][:, None]
    usable_d = view.wearers.usable_d
    weight = view.wearers.astigmatism_weight
    blur = blur_of(field, free_d=free, demand_d=demand, accommodation_d=usable_d, weight=weight)
    usable = np.broadcast_to(view.usable(world.lens.kind, field), (1, len(chin)))
    blur = np.where(usable, np.broadcast_to(blur, usable.shape), np.inf)
    limit = float(scene.limit_d[index])
    away = np.abs(chin - scene.free_chin_up_deg[point])
    at = int(np.lexsort((away, np.maximum(blur[0], limit)))[0])
    if not np.isfinite(blur[0, at]):
        return None, None
    power = np.broadcast_to(field.power_d(free), usable.shape)[0, at]
    astigmatism = np.broadcast_to(field.astigmatism_d, usable.shape)[0, at]
    room = math.sqrt(max(limit**2 - (astigmatism / 2) ** 2, 0.0))
    near, far = clear_range_cm(
        added_power_d=power, usable_d=float(usable_d[0, 0]), tolerance_d=room
    )
    return _finite(float(near)), _finite(float(far))


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _answers(
    case: Case, option: OptionResult, fault: Fault, world: World, now: Rerun
) -> dict[str, bool]:
    worst = trouble(now.targets, option)

    def helps(**change: float) -> bool:
        tried = replace(
            fault, **{name: getattr(fault, name) + more for name, more in change.items()}
        )
        return world.with_pair(option, tried).is_less_trouble(option, than=worst - HELPED)

    def bigger_text_helps() -> bool:
        tried = replace(fault, text_share=fault.text_share * 1.6)
        return World.of(case, option, tried).is_less_trouble(option, than=worst - HELPED)

    answers = {
        "fine_at_mock_desk": fault.at_the_desk,
        "one_eye_worse": fault.one_eye,
        "good_on_first_day": fault.later,
        "letters_ghosted": fault.astigmatism_d >= 0.5 or _tilt_astigmatism(world) >= 0.5,
        "all_distances_blurred": all(_centre_chin(one) is None for one in now.targets),
    }
    if fault.one_eye:
        return answers
    answers |= {
        "better_frame_up": helps(lens_down_mm=-TRIED_FRAME_MM),
        "better_frame_down": helps(lens_down_mm=TRIED_FRAME_MM),
        "better_frame_closer": helps(vertex_mm=-TRIED_VERTEX_MM),
        "better_frame_farther": helps(vertex_mm=TRIED_VERTEX_MM),
        "better_frame_tilted": helps(tilt_deg=-TRIED_TILT_DEG) or helps(tilt_deg=TRIED_TILT_DEG),
        "larger_text_helps": bigger_text_helps(),
        "far_blurred": _far_blurred(case, option, fault, now),
    }
    return answers | _leaning(world)


def _tilt_astigmatism(world: World) -> float:
    family = world.lens.family
    return family.astigmatism_d if isinstance(family, Faulty) else 0.0


def _far_blurred(case: Case, option: OptionResult, fault: Fault, now: Rerun) -> bool:
    """Through this pair if it is meant for far, else through a distance pair of the same power."""
    far = [index for index, target in enumerate(case.targets) if target.kind == "far"]
    meant = [one for one in far if option.targets[one].comfortable_share > 0.5]
    if meant:
        return any(now.targets[one].comfortable_share < 0.5 for one in meant)
    usable_d = float(scene_of([case], judgements=STANDARD).wearers.usable_d[0])
    return fault.base_power_d >= 0.3 or -fault.base_power_d - usable_d >= 0.3


def _leaning(world: World) -> dict[str, bool]:
    """Which way a wearer moves to see the middle of a target that is blurred in every posture."""
    found = {"leans_in": False, "leans_back": False, "holds_page_near": False}
    found["holds_page_far"] = False
    names = {"screen": ("leans_in", "leans_back"), "page": ("holds_page_near", "holds_page_far")}
    targets = world.outcome.targets
    for index, target in enumerate(world.case.targets):
        if target.kind == "far" or _centre_chin(targets[index]) is not None:
            continue
        near, far = _range(world, index)
        closer, away = names["screen" if target.distance_cm >= 55.0 else target.kind]
        if far is not None and target.distance_cm > far:
            found[closer] = True
        if near is not None and target.distance_cm < near:
            found[away] = True
    return found
