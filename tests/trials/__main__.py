"""Predict every outcome and write reference_tables/trials.csv: `python -m tests.trials` (minutes).

With ids, only print those.
"""

from __future__ import annotations

import sys
import time

from engine import tables
from engine.kernel import compiled
from tests.trials import predict, studies


def main(names: list[str]) -> None:
    """Run."""
    compiled.load()
    rows = []
    for outcome in studies.outcomes():
        if names and outcome.id not in names:
            continue
        start = time.process_time()
        values = predict.replicates(outcome, range(predict.REPLICATES))
        rows.append(predict.row(outcome, values))
        print(_said(rows[-1]), f"[{time.process_time() - start:.1f} s]", flush=True)
    if not names:
        old = tables.rows("trials") if predict.TABLE.exists() else ()
        predict.check_may_change(old, rows)
        predict.write(rows)


def _said(row: dict[str, str]) -> str:
    predicted = "{predicted} ({predicted_low} to {predicted_high})".format(**row)
    found = "{found} ({found_low} to {found_high})".format(**row)
    return f"{row['id']}: predicted {predicted}, found {found}: {row['verdict']}"


if __name__ == "__main__":
    main(sys.argv[1:])
