"""Speed of the desk map and of doubt, on one core after warm-up, in processor time."""

from __future__ import annotations

import time
from statistics import median

from engine.answer.doubt import DRAWS, doubt
from engine.answer.options import Solver
from engine.assemble import compete
from engine.case.scene import scene_of
from engine.desk import moves
from engine.tables import Judgements
from tests import examples
from tests.bench._row import Row, table

MAP_TARGET_MS, DOUBT_TARGET_MS = 150.0, 2000.0


def measure() -> list[Row]:
    """Rows of the table."""
    judged = Judgements.standard()
    case = examples.case(
        examples.screen(), examples.paper(), examples.far(), wearer={"accepts_lined": True}
    )
    solver = Solver(case, scene_of([case], judgements=judged), judged)
    contest = compete(solver, solver.options())[0]
    lens = contest.lenses["general_progressive"]

    def one_search() -> None:
        Solver(case, solver.scene, judged).options()

    def one_map() -> None:
        moves.desk_map(solver.scene.wearers, case.targets[0], lens=lens, judgements=judged)

    search_ms = _median_ms(one_search, runs=9)
    map_ms = _median_ms(one_map, runs=7)
    doubt_ms = _median_ms(lambda: doubt(contest), runs=3)
    lenses = len({option.option for plan in contest.plans for option, _ in plan.pairs})
    beside = "one full search of the same case"
    return [
        Row(
            "desk map 60 x 25, one design held",
            map_ms,
            "ms",
            beside,
            search_ms,
            MAP_TARGET_MS,
            source="our target",
        ),
        Row(
            f"doubt, {DRAWS} draws, best design of {lenses} kinds",
            doubt_ms,
            "ms",
            beside,
            search_ms,
            DOUBT_TARGET_MS,
            source="our target",
        ),
    ]


def _median_ms(run, *, runs: int) -> float:
    run()
    found = []
    for _ in range(runs):
        start = time.process_time()
        run()
        found.append(1e3 * (time.process_time() - start))
    return median(found)


if __name__ == "__main__":
    print(table(measure()))
