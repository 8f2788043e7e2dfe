"""Speed of the desk map and of the best move, on one core after warm-up, in processor time."""

from __future__ import annotations

from engine.answer.options import PRESENT, Solver
from engine.answer.plans import every_plan
from engine.desk import moves
from engine.tables import Judgements
from tests import examples
from tests.bench._row import Row, table
from tests.bench.engine_speed import median_ms

MAP_TARGET_MS, MOVE_TARGET_MS = 200.0, 200.0


def measure() -> list[Row]:
    """Rows of the table."""
    judged = Judgements.standard()
    case = examples.case(
        examples.screen(top_above_eye_cm=10),
        examples.paper(),
        examples.far(),
        owned_pairs=[{"kind": "general_progressive"}],
    )
    solver = Solver(case, judged)
    (plan,) = (one for one in every_plan(case, solver.options()) if one.name == PRESENT)
    lens = plan.options[0].lens

    def one_search() -> None:
        Solver(case, judged).options()

    def one_map() -> None:
        moves.desk_map(solver.wearers, case.targets[0], lens=lens, judgements=judged)

    search_ms = median_ms(one_search, runs=9)
    beside = "the options of the same case"
    rows = (
        ("desk map 46 x 25, one design held", one_map, MAP_TARGET_MS),
        ("best free move of one pair", lambda: moves.best_move(plan, solver.draws), MOVE_TARGET_MS),
    )
    return [
        Row(name, median_ms(run, runs=7), "ms", beside, search_ms, most, source="our target")
        for name, run, most in rows
    ]


if __name__ == "__main__":
    print(table(measure()))
