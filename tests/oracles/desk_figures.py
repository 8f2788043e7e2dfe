"""What the engine says of ordinary desks, as figures to hold against trade, field and standards.

Not an oracle: these run the engine. The tests say what each figure is held against.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from engine.case.read import build_case
from engine.case.results import OptionTarget
from engine.case.scene import Scene, scene_of
from engine.kernel.details import Closeup
from engine.kernel.search import Shares, Views, shares
from engine.lenses.families import Family, General, SingleVision
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.tables import Judgements

J = Judgements.standard()
CORRIDORS_MM = (11.0, 12.5, 14.0)
ADDS_D = (1.5, 2.0, 2.5)


@dataclass(frozen=True)
class Desk:
    """One wearer before one flat thing; heights of the centre as degrees below the eye.

    Attributes:
        kind: screen or page (a page is held square to the line of sight).
        slip_mm: how far the lens sits below where it was marked.
        offset_cm: of the thing, to the right.
    """

    add_d: float = 2.0
    usable_d: float | None = None
    distance_cm: float = 68.0
    centre_below_deg: float = 15.0
    width_cm: float = 53.1
    height_cm: float = 29.9
    text_mm: float = 3.2
    kind: str = "screen"
    tilt_deg: float | None = 9.0
    slip_mm: float = 0.0
    offset_cm: float = 0.0
    fitting_height_mm: float = 20.0
    lens_depth_mm: float = 34.0


PAGE = Desk(
    distance_cm=40.0,
    centre_below_deg=35.0,
    width_cm=18.0,
    height_cm=24.0,
    kind="page",
    tilt_deg=None,
    text_mm=2.0,
)


@cache
def scene(desk: Desk) -> Scene:
    """The desk as arrays."""
    reach_cm = desk.distance_cm + 2.65
    target = {
        "name": "seen",
        "kind": desk.kind,
        "distance_cm": desk.distance_cm,
        "centre_above_eye_cm": -reach_cm * float(np.sin(np.radians(desk.centre_below_deg))),
        "width_cm": desk.width_cm,
        "height_cm": desk.height_cm,
        "offset_cm": desk.offset_cm,
        "text_height_mm": desk.text_mm,
    }
    if desk.tilt_deg is not None:
        target["tilt_deg"] = desk.tilt_deg
    eye = {"sphere_d": 0.0, "add_d": desk.add_d}
    case = build_case(
        {
            "schema": 1,
            "label": "invented",
            "wearer": {"age_years": 54, "near_test_distance_cm": 40, "right": eye, "left": eye},
            "fit": {
                "fitting_height_mm": desk.fitting_height_mm,
                "lens_depth_mm": desk.lens_depth_mm,
            },
            "targets": [target],
            "activities": [
                {"name": "desk", "hours": 1, "looks": [{"target": "seen", "share": 1.0}]}
            ],
        }
    )
    made = scene_of([case], judgements=J)
    w = made.wearers
    usable = w.usable_d if desk.usable_d is None else np.array([desk.usable_d])
    slipped = replace(w, usable_d=usable, lens_down_mm=np.array([-0.0 + desk.slip_mm]))
    return replace(made, wearers=slipped)


@cache
def graded(desk: Desk, kind: str, family: Family, free_d: float = 0.0) -> Shares:
    """Shares of the thing by grade."""
    return shares(Views(scene(desk), J), KINDS[kind], family, np.array([free_d]))


@cache
def told(desk: Desk, kind: str, family: Family, free_d: float = 0.0) -> OptionTarget:
    """What is printed beside the grade."""
    closeup = Closeup(scene(desk), ("seen",), J)
    found = graded(desk, kind, family, free_d)
    return closeup.targets(Lens(KINDS[kind], family, free_d), found)[0]


def chin_up(desk: Desk, corridor_mm: float, *, relaxed: bool = False) -> float | None:
    """Chin-up of a general progressive for the centre row."""
    row = told(desk, "general_progressive", General(corridor_mm)).centre
    return row.relaxed_chin_up_deg if relaxed else row.chin_up_deg


def single_vision_chin_up(desk: Desk) -> float | None:
    """Chin-up with one power that fits the distance, for the centre row."""
    power = round(4.0 * 100.0 / desk.distance_cm) / 4.0
    return told(desk, "sv_computer", SingleVision("computer"), power).centre.chin_up_deg


def comfortable_without_add(*, distance_cm: float, centre_below_deg: float) -> float:
    """Share of a 24-inch screen that is comfortable for eyes that focus by themselves."""
    desk = Desk(
        add_d=0.75,
        usable_d=4.0,
        distance_cm=distance_cm,
        centre_below_deg=centre_below_deg,
        text_mm=distance_cm / 15.0,
    )
    return float(graded(desk, "sv_distance", SingleVision("distance")).comfortable[0])


@dataclass(frozen=True)
class Place:
    """A place of a 24-inch screen and what three judges say of it.

    Attributes:
        comfortable: every point is comfortable for eyes that need no add.
        osha: centre 15 to 20 deg below the eye and 50 to 100 cm away.
        iso: the whole picture 0 to 60 deg below the eye.
    """

    distance_cm: float
    centre_below_deg: float
    top_below_deg: float
    bottom_below_deg: float
    comfortable: bool
    osha: bool
    iso: bool


@cache
def places() -> tuple[Place, ...]:
    """Screens 50 to 100 cm away, from 10 deg above the eye to 55 below, where the tape allows."""
    found = []
    for distance_cm in range(50, 101, 10):
        for centre in np.arange(-10.0, 55.1, 2.5):
            if (distance_cm + 2.65) * abs(np.sin(np.radians(centre))) > 0.9 * distance_cm:
                continue
            top, bottom = edges_below_deg(float(distance_cm), float(centre))
            share = comfortable_without_add(
                distance_cm=float(distance_cm), centre_below_deg=float(centre)
            )
            found.append(
                Place(
                    float(distance_cm),
                    float(centre),
                    top,
                    bottom,
                    share >= 1.0 - 1e-9,
                    15.0 <= centre <= 20.0,
                    top >= 0.0 and bottom <= 60.0,
                )
            )
    return tuple(found)


def edges_below_deg(distance_cm: float, centre_below_deg: float) -> tuple[float, float]:
    """Degrees below the eye of the top and bottom edge of the screen of `Desk`, head at zero."""
    reach, tilt = distance_cm + 2.65, np.radians(9.0)
    down, away = (
        reach * np.sin(np.radians(centre_below_deg)),
        reach * np.cos(np.radians(centre_below_deg)),
    )
    half = 29.9 / 2
    top = np.degrees(np.arctan2(down - half * np.cos(tilt), away + half * np.sin(tilt)))
    bottom = np.degrees(np.arctan2(down + half * np.cos(tilt), away - half * np.sin(tilt)))
    return float(top), float(bottom)


FIELD_SCREEN = Desk(distance_cm=67.1, width_cm=41.0, height_cm=23.0, centre_below_deg=13.7)
"""18.5-inch screen where people who need no add put it (Allie et al. 2010)."""


def more_chin_up_deg(add_d: float, corridor_mm: float, *, relaxed: bool) -> float:
    """Chin-up through a general progressive less that through one power, same screen."""
    desk = replace(FIELD_SCREEN, add_d=add_d)
    worn, free = chin_up(desk, corridor_mm, relaxed=relaxed), single_vision_chin_up(desk)
    if worn is None or free is None:
        raise ValueError("the screen is not clear at any chin-up")
    return worn - free


def over_designs(*, relaxed: bool) -> list[float]:
    """Return `more_chin_up_deg` for every add and corridor; the middle one is add 2.00, 12.5 mm."""
    return [
        more_chin_up_deg(add, corridor, relaxed=relaxed)
        for add in ADDS_D
        for corridor in CORRIDORS_MM
    ]
