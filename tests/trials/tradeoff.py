"""The rival posture model: people trade focusing, chin and blur instead of obeying limits.

Not part of the program. A posture is the one with the least of

    focusing (f / usable)^2 + chin ((chin_up - free) / 10 degrees)^2 + (blur / limit)^2

over chin_up and over the focus f that the eye takes, up to its amplitude (twice what is usable for
hours). Two weights, focusing and chin, have no source. They are taken from the posture outcomes of
the other studies, and the study left out is predicted: `python -m tests.trials.tradeoff`.
"""

from __future__ import annotations

import itertools
import zlib
from functools import cache

import numpy as np

from engine.optics.accommodation import blur_d
from engine.tables import rows
from tests.trials import studies
from tests.trials.measures import (
    CHIN_UPS_DEG,
    PARTS,
    Seen,
    centred,
    every_reading,
    rows_of_screen,
    worn,
)
from tests.trials.people import Floats, People, drawn
from tests.trials.studies import Outcome

WEIGHTS = tuple(itertools.product((0.01, 0.03, 0.1, 0.3, 1.0, 3.0), repeat=2))
"""Of focusing and of chin; blur at its limit counts 1."""
TAKEN = np.linspace(0.0, 2.0, 11)
"""Focus taken, over what is usable for hours."""
REPLICATES = 20
CHIN_SCALE_DEG = 10.0
SCALE = {"degrees": 3.0, "%": 15.0}
"""A miss of so much counts as one, whatever the outcome."""
MEASURED = ("chin_up_more", "lowered", "part_used")
LAID_OUT_DEG = 30.0


def postures(people: People, lens: str) -> tuple[Floats, Floats]:
    """Return chin-up and share of the add of each reading, (weights, people * rows) each.

    One row (the centre of the screen) for each of the people.
    """
    return _postures(people, lens, (4,))


def _postures(people: People, lens: str, of_rows: tuple[int, ...]) -> tuple[Floats, Floats]:
    chin_ups, shares, order = [], [], []
    for group, scene in worn(people, lens):
        some = rows_of_screen(scene, of_rows)
        view = Seen(some, group)
        taken_d = TAKEN * np.maximum(view.usable_d, 0.05)[..., None]
        defocus = view.demand_d[..., None] - view.power_d[..., None]
        left = np.where(defocus > 0.0, np.maximum(defocus - taken_d, 0.0), -defocus)
        blur = blur_d(
            defocus_d=left,
            astigmatism_d=view.astigmatism_d[..., None],
            weight=view.astigmatism_weight[..., None],
        )
        blur = blur / view.limit_d[..., None]
        blur = np.where(view.usable[..., None], blur, 1e3)
        away = (CHIN_UPS_DEG - some.free_chin_up_deg[:, None]) / CHIN_SCALE_DEG
        chin = np.empty((len(WEIGHTS), len(some.share)), dtype=np.intp)
        for number, (focusing, chins) in enumerate(WEIGHTS):
            cost = (focusing * TAKEN**2 + blur**2).min(axis=-1) + chins * away**2
            chin[number] = np.argmin(cost, axis=1)
        add = some.wearers.add_d[some.point_wearer]
        chin_ups.append(CHIN_UPS_DEG[chin])
        shares.append(view.power_d[np.arange(len(add)), chin] / add)
        order.append(np.flatnonzero(group.who)[some.point_wearer])
    place = np.argsort(np.concatenate(order), kind="stable")
    return np.concatenate(chin_ups, axis=1)[:, place], np.concatenate(shares, axis=1)[:, place]


def value(outcome: Outcome, number: int) -> Floats:
    """Return an outcome in one replicate under every pair of weights, (weights,)."""
    rng = np.random.default_rng([zlib.crc32(outcome.id.encode()), number])
    people, given = drawn(outcome, rng), outcome.arguments
    if outcome.measure == "part_used":
        _, share = _postures(every_reading(people), given["lens"], (0, 4, 8))
        least, most = PARTS[given["part"]]
        return np.asarray(100.0 * np.mean((share > least) & (share < most), axis=1))
    if outcome.measure == "lowered":
        return _lowered(people, **given)
    apart = given.get("apart")
    others = people if apart is None else drawn(outcome, rng, people=apart)
    own, other = postures(people, given["lens"])[0], postures(others, given["over"])[0]
    return np.asarray(own.mean(axis=1) - other.mean(axis=1))


def _lowered(people: People, *, lens: str, over: str) -> Floats:
    wanted = postures(people, over)[0]
    found = np.full(wanted.shape, np.nan)
    for lower in np.arange(0.0, LAID_OUT_DEG + 0.1, 2.0):
        moved = centred(people, people.values["centre_below_deg"] + lower)
        level = postures(moved, lens)[0] <= wanted + 0.25
        found[np.isnan(found) & level] = lower
    return np.asarray(np.where(np.isnan(found), LAID_OUT_DEG, found).mean(axis=1))


@cache
def predicted() -> dict[str, Floats]:
    """Return the median of the replicates of every posture outcome, (weights,) each."""
    return {
        one.id: np.median([value(one, number) for number in range(REPLICATES)], axis=0)
        for one in compared()
    }


def compared() -> list[Outcome]:
    """Return the outcomes of posture that have a figure."""
    return [
        one for one in studies.outcomes() if one.measure in MEASURED and one.found.value is not None
    ]


def suited(every: list[Outcome]) -> int:
    """Return the place of the weights that suit some outcomes best, each study counted once."""
    by_study: dict[str, list[Floats]] = {}
    for one in every:
        miss = ((predicted()[one.id] - _value(one)) / SCALE[one.unit]) ** 2
        by_study.setdefault(one.study["title"], []).append(miss)
    misfit = np.sum([np.mean(misses, axis=0) for misses in by_study.values()], axis=0)
    return int(np.argmin(misfit))


def _value(outcome: Outcome) -> float:
    found = outcome.found.value
    if found is None:
        raise ValueError(f"{outcome.id} has no figure")
    return found


def main() -> None:
    """Print the rival beside the program, and with the weights that suit all outcomes at once."""
    program = {row["id"]: float(row["predicted"]) for row in rows("trials")}
    every = compared()
    print("| outcome | found | program | trade-off, study left out | trade-off, fitted to all |")
    print("| --- | --- | --- | --- | --- |")
    misses: dict[str, list[list[float]]] = {}
    for one in every:
        held = suited([other for other in every if other.study is not one.study])
        rivals = [float(predicted()[one.id][place]) for place in (held, suited(every))]
        told = [_value(one), program[one.id], *rivals]
        print(f"| {one.what} | {' | '.join(f'{number:.1f}' for number in told)} |")
        misses.setdefault(one.unit, []).append([abs(number - told[0]) for number in told[1:]])
    for unit, each in misses.items():
        print(f"mean miss in {unit}: {' | '.join(f'{miss:.1f}' for miss in np.mean(each, axis=0))}")
    print(f"weights fitted to all: focusing, chin {WEIGHTS[suited(every)]}")


if __name__ == "__main__":
    main()
