"""Invented rosters, seeded."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from engine.answer.options import PRESENT, Solver
from engine.case.model import Case, Design
from engine.case.read import build_case
from engine.kernel.search import best_columns, candidates
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens, owned_lens
from engine.roster.columns import columns
from engine.roster.scene import PAPER_SIZE_CM, PAPER_TEXT_MM, people_arcmin, screen_size_cm
from engine.tables import Judgements

_WORN = [kind for kind in KINDS if kind != "unaided"]


def roster(rows: int, *, seed: int = 0, targets: int = 2) -> pd.DataFrame:
    """Rows with nothing unknown: a screen, papers (two targets) and people (three)."""
    dice = np.random.default_rng(seed)
    found = []
    for number in range(rows):
        laptop = dice.random() < 0.3
        found.append(
            dict.fromkeys(columns(), "")
            | {
                "ref": f"P-{number}",
                "age_years": str(dice.integers(45, 66)),
                "add_d": f"{dice.integers(4, 11) / 4:g}",
                "sphere_d": f"{dice.integers(-12, 9) / 4:g}",
                "screen_kind": "laptop" if laptop else "monitor",
                "screen_in": "14" if laptop else str(dice.choice([24, 27])),
                "screen_aspect": "16:10" if laptop else "16:9",
                "screen_distance_cm": str(dice.integers(50, 80)),
                "screen_top_cm": str(dice.integers(-22, 8)),
                "screen_tilt_deg": str(dice.integers(0, 20)),
                "text_mm": "3.2",
                "hours_screen": f"{dice.integers(20, 80) / 10:g}",
                "hours_paper": "1" if targets > 1 else "0",
                "paper_distance_cm": str(dice.integers(35, 50)),
                "paper_centre_cm": str(dice.integers(-30, -20)),
                "hours_people": "0.5" if targets > 2 else "0",
                "people_distance_cm": str(dice.integers(100, 250)),
                "fitting_height_mm": str(dice.integers(13, 24)),
                "present_kind": str(dice.choice(_WORN)),
            }
        )
    frame = pd.DataFrame(found, dtype=object)
    return frame.set_axis(pd.RangeIndex(1, rows + 1), axis=0)


def with_unknowns(frame: pd.DataFrame) -> pd.DataFrame:
    """Some of what an employer does not know left blank, some rows wrong, one too young."""
    blank = frame.copy()
    last = len(frame)
    blank.loc[1:last:3, ["add_d", "sphere_d"]] = ""
    blank.loc[2:last:4, ["screen_top_cm", "fitting_height_mm", "screen_aspect"]] = ""
    blank.loc[3:last:5, ["screen_distance_cm", "text_mm", "screen_tilt_deg"]] = ""
    blank.loc[4:last:9, "screen_kind"] = "wall"
    blank.loc[5, ["age_years", "add_d"]] = ["30", ""]
    blank.loc[6, ["age_years", "age_band", "add_d"]] = ["", "50-54", ""]
    blank.loc[7, ["age_years", "age_band", "add_d"]] = ["", "60+", ""]
    return blank


def written(frame: pd.DataFrame, path: Path) -> Path:
    """The frame as a file."""
    path.write_text(frame.to_csv(index=False), encoding="utf-8")
    return path


def case_of(values: Mapping[str, float], *, present_kind: str = "") -> Case:
    """Return the case of one row with nothing unknown, for `advise`.

    values: one number a column of roster_columns.csv, and age_years.
    """
    width, height = (
        float(side) for side in screen_size_cm({k: np.array(v) for k, v in values.items()})
    )
    targets: list[dict[str, Any]] = [
        {
            "name": "screen",
            "kind": "screen",
            "distance_cm": values["screen_distance_cm"],
            "top_above_eye_cm": values["screen_top_cm"],
            "width_cm": width,
            "height_cm": height,
            "tilt_deg": values["screen_tilt_deg"],
            "text_height_mm": values["text_mm"],
        },
        {
            "name": "paper",
            "kind": "page",
            "distance_cm": values["paper_distance_cm"],
            "centre_above_eye_cm": values["paper_centre_cm"],
            "width_cm": PAPER_SIZE_CM[0],
            "height_cm": PAPER_SIZE_CM[1],
            "text_height_mm": PAPER_TEXT_MM,
        },
        {
            "name": "people",
            "kind": "far",
            "distance_cm": values["people_distance_cm"],
            "centre_above_eye_cm": 0.0,
            "text_arcmin": people_arcmin(),
        },
    ]
    worked = [one for one in targets if values[f"hours_{one['name']}"] > 0.0]
    eye = {"sphere_d": values["sphere_d"], "add_d": values["add_d"]}
    content: dict[str, Any] = {
        "label": "row",
        "wearer": {"age_years": values["age_years"], "right": eye, "left": eye},
        "fit": {"fitting_height_mm": values["fitting_height_mm"]},
        "targets": worked,
        "activities": [
            {
                "name": one["name"],
                "hours": values[f"hours_{one['name']}"],
                "looks": [{"target": one["name"], "share": 1.0}],
            }
            for one in worked
        ],
    }
    if present_kind:
        content["present_pair"] = {"kind": present_kind}
    return build_case(content)


class Measured(NamedTuple):
    """An option of a case if nothing is off: hours in the order of the grades."""

    design: Design
    hours: tuple[float, float, float, float]
    lens_sees_to_cm: float | None


def as_measured(case: Case, *, judgements: Judgements | None = None) -> dict[str, Measured]:
    """Every option of a case without errors, its design chosen without errors too."""
    judged = judgements or Judgements.standard()
    solver = Solver(case, judged)
    views, wearers = solver.desk.measured, solver.wearers
    found = {}
    for kind in KINDS.values():
        possible = candidates(views, kind)
        column = int(best_columns(possible, judgements=judged)[0])
        if column >= 0:
            family = possible.families[possible.family[column]]
            free_d = float(possible.free_d[0, column])
            found[kind.id] = Lens(kind, family, free_d, solver.add_d)
    for pair in case.owned_pairs:
        found[PRESENT] = owned_lens(pair, case, wearers=wearers, judgements=judged)
    return {name: _measured(solver, lens) for name, lens in found.items()}


def _measured(solver: Solver, lens: Lens) -> Measured:
    shares, scene = solver.desk.measured_shares(lens), solver.desk.measured.scene
    parts = (shares.comfortable, shares.awkward, shares.blurred, shares.not_served)
    one, two, three, four = (float(scene.hours(part)[0]) for part in parts)
    return Measured(lens.design, (one, two, three, four), lens.sees_to_cm(wearers=solver.wearers))
