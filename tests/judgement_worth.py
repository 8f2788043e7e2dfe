"""What each judgement is worth: reference_tables/judgement_worth.csv.

`python -m tests.judgement_worth` writes it anew (some minutes of a core). Every judgement with a
range in judgements.csv is moved to its low and to its high end, one at a time, for the eight
examples and the vignettes: how much the hours of the plan put first change, and how often another
plan is put first (by the rules; a free move of the screen is not tried). The size of the pupil is
moved as well, by way of the blur it notices.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, partial
from pathlib import Path
from unittest import mock

import numpy as np

from engine import tables
from engine.answer import options
from engine.answer.options import Option, Solver
from engine.answer.recommend import Answered, answered
from engine.case.model import Case
from engine.case.read import read_case
from engine.examples import EXAMPLES
from engine.kernel import compiled
from engine.kernel.draws import Draws
from engine.tables import Judgements

FILE = Path(__file__).parents[1] / "reference_tables" / "judgement_worth.csv"
VIGNETTES = Path(__file__).parent / "vignettes"
OF_CHOICE = {
    "plan_share_of_day", "plan_least_h", "plan_most_share", "second_pair_earns_h",
    "owned_share_of_day", "costs_differ_share", "forgotten_swap_step_h", "poor_day_nears",
    "more_hours_h",
}  # fmt: skip
"""Read after all hours are known: they move plans, never hours."""
WORTH_H = 0.5
SETTLED = {
    "comfortable_head_turn_deg": "Drawn, 5 to 25 degrees. Whether head or eyes turn first is "
    "asked, and drawn until it is.",
    "comfortable_eye_sideways_deg": "Drawn, 10 to 20 degrees.",
    "blur_limit_base_d": "Measured. The spread between people is drawn (blur tolerance), and a "
    "measured range replaces it. Sharp or good enough: both are answered when asked.",
    "window_deg": "Drawn: half or twice as wide, one time in six each.",
    "comfortable_gaze_down_min_deg": "Drawn, level to 10 degrees up.",
    "far_gaze_down_min_deg": "Drawn with that of near things, 5 to 15 degrees up.",
    "far_chin_up_within_deg": "Drawn, 3 to 7 degrees.",
    "comfortable_gaze_down_max_deg": "Drawn, 30 to 40 degrees.",
    "eye_turner_eye_share": "Drawn, 0.18 to 0.60. Whether head or eyes turn first is asked.",
    "astigmatism_weight": "Drawn, 0.50 to 0.76, between what acuity and limits of blur say.",
    "imbalance_comfortable_pd": "Drawn, 0.5 to 1.5 prism dioptres.",
}
"""What is done about each number worth more than WORTH_H, or drawn although it is worth less."""
COLUMNS = (
    "id", "value", "low", "high", "unit", "changed_low_h", "changed_high_h", "most_h",
    "most_case", "plans_low", "plans_high", "cases", "settled", "source", "locator", "status",
)  # fmt: skip


@dataclass(frozen=True)
class Effect:
    """What one end does: hours of the plan put first (cases,), and where another plan is first."""

    hours_h: np.ndarray
    is_other: np.ndarray


def cases() -> dict[str, Case]:
    """Return the eight examples and the vignettes, by name."""
    paths = [*sorted(EXAMPLES.glob("*.json")), *sorted(VIGNETTES.glob("*.json"))]
    return {path.stem: read_case(path) for path in paths}


@contextmanager
def _few_draws() -> Iterator[None]:
    """One cube of each case: enough for differences, since each wearer keeps their luck."""
    with mock.patch.object(options, "Draws", partial(Draws, cubes=1)):
        yield


def found_at(case: Case, judgements: Judgements) -> tuple[Answered, list[Option]]:
    """Answer one case with a number moved."""
    with _few_draws():
        made = Solver(case, judgements).options()
        return answered(case, made, judgements=judgements), made


def hours_of(found: Answered, name: str | None) -> float:
    """Hours of a plan by its name, nan where there is none."""
    for plan in found.plans:
        if plan.name == name:
            return plan.comfortable_h
    return float("nan")


def effect(
    answers: Mapping[str, tuple[Answered, list[Option]]],
    judgements: Judgements,
    *,
    of_choice: bool,
) -> Effect:
    """Move one number for every case."""
    hours, others = [], []
    for was, made in answers.values():
        case = was.case
        first = None if was.plan is None else was.plan.name
        now = (
            answered(case, made, judgements=judgements)
            if of_choice
            else found_at(case, judgements)[0]
        )
        hours.append(hours_of(now, first) - hours_of(was, first))
        others.append((None if now.plan is None else now.plan.name) != first)
    return Effect(np.array(hours), np.array(others))


def ends(row: Mapping[str, str]) -> tuple[Judgements, Judgements]:
    """Return a judgement at both ends of its range."""
    standard = Judgements.standard()
    low, high = (replace(standard, **{row["id"]: float(row[end])}) for end in ("low", "high"))
    return low, high


def of_the_pupil() -> tuple[dict[str, str], tuple[Judgements, Judgements]]:
    """Return what is no row of judgements.csv: how it is written, and both ends."""
    standard = Judgements.standard()
    noticed_d = standard.blur_limit_base_d
    written = {
        "id": "pupil_mm", "value": "4", "low": "6", "high": "3", "unit": "mm",
        "range_from": "Atchison et al. 2005, abstract: noticed at 0.33, 0.30 and 0.28 D with 3, 4 "
        "and 6 mm",
    }  # fmt: skip
    return written, (
        replace(standard, blur_limit_base_d=noticed_d * 0.28 / 0.30),
        replace(standard, blur_limit_base_d=noticed_d * 0.33 / 0.30),
    )


def row(said: Mapping[str, str], low: Effect, high: Effect, names: list[str]) -> dict[str, str]:
    """Return one row of the table."""
    both = np.abs(np.array([low.hours_h, high.hours_h]))
    most = np.nan_to_num(both).max(axis=0)
    at = int(most.argmax())
    return {
        "id": said["id"], "value": said["value"], "low": said["low"], "high": said["high"],
        "unit": said["unit"],
        "changed_low_h": f"{np.nanmean(low.hours_h) + 0.0:.2f}",
        "changed_high_h": f"{np.nanmean(high.hours_h) + 0.0:.2f}",
        "most_h": f"{most[at]:.2f}",
        "most_case": names[at] if most[at] >= 0.005 else "-",
        "plans_low": str(int(low.is_other.sum())), "plans_high": str(int(high.is_other.sum())),
        "cases": f"{len(names)} cases",
        "settled": settled(said["id"], float(most[at])),
        "source": said["range_from"], "locator": "-", "status": "derived",
    }  # fmt: skip


def settled(identity: str, most_h: float) -> str:
    """Return what is done about a number; nothing where it is worth little and not drawn."""
    return SETTLED[identity] if most_h > WORTH_H else SETTLED.get(identity, "-")


def write(rows: list[dict[str, str]]) -> None:
    """Write the table, what is worth most first."""
    ordered = sorted(rows, key=lambda one: -float(one["most_h"]))
    with FILE.open("w", encoding="utf-8", newline="") as file:
        written = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        written.writeheader()
        written.writerows(ordered)


@cache
def base() -> dict[str, tuple[Answered, list[Option]]]:
    """Return every case answered with nothing moved."""
    standard = Judgements.standard()
    return {name: found_at(case, standard) for name, case in cases().items()}


def asked() -> list[tuple[Mapping[str, str], tuple[Judgements, Judgements]]]:
    """Return every number that is moved, with both its ends; numbers of the choice come first."""
    listed = [(one, ends(one)) for one in tables.rows("judgements") if one["low"] != "-"]
    return sorted([of_the_pupil(), *listed], key=lambda one: one[0]["id"] not in OF_CHOICE)


def row_at(place: int) -> dict[str, str]:
    """Return the row of one of the numbers."""
    said, both = asked()[place]
    low, high = (effect(base(), one, of_choice=said["id"] in OF_CHOICE) for one in both)
    return row(said, low, high, list(base()))


if __name__ == "__main__":
    compiled.load()
    with ProcessPoolExecutor(2) as pool:
        rows = []
        for found in pool.map(row_at, range(len(asked()))):
            rows.append(found)
            sys.stdout.write(f"{found['id']}: {found['most_h']} h\n")
            write(rows)
