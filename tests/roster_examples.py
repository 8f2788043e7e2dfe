"""Invented rosters, seeded."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from engine.lenses.kinds import KINDS
from engine.roster.rows import columns

_WORN = [kind for kind in KINDS if kind != "unaided"]


def roster(rows: int, *, seed: int = 0, targets: int = 2, present: bool = True) -> pd.DataFrame:
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
                "present_kind": str(dice.choice(_WORN)) if present else "",
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
