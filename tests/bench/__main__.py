"""One table of every figure: `python -m tests.bench`, or `python -m tests.bench engine_speed`.

Each module beside this one has measure(), which returns rows (name, numerator, denominator, unit,
ratio, target). Everything runs on one core, one module after the other.
"""

from __future__ import annotations

import importlib
import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

Row = tuple[str, float, float, str, float, str]
_ONE_CORE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_HEAD = ("figure", "numerator", "denominator", "unit", "ratio", "target")


def main(names: Sequence[str]) -> int:
    """Print the table and return 1 where a module failed."""
    for variable in _ONE_CORE:
        os.environ[variable] = "1"
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    known = sorted(path.stem for path in Path(__file__).parent.glob("[!_]*.py"))
    unknown = sorted(set(names) - set(known))
    if unknown:
        sys.stderr.write(f"no such figures: {', '.join(unknown)}; there are {', '.join(known)}\n")
        return 2
    failed = 0
    print(_line(_HEAD))
    for name in names or known:
        try:
            rows = importlib.import_module(f"tests.bench.{name}").measure()
        except Exception:
            failed = 1
            traceback.print_exc()
            print(f"{name}: failed, see above")
            continue
        for row in rows:
            print(_line(_written(row)), flush=True)
    return failed


def _written(row: Row) -> tuple[str, ...]:
    name, numerator, denominator, unit, ratio, target = row
    return (name, f"{numerator:.4g}", f"{denominator:.4g}", unit, f"{ratio:.4g}", str(target))


def _line(cells: Sequence[str]) -> str:
    name, numerator, denominator, unit, ratio, target = cells
    return f"{name:<62} {numerator:>10} {denominator:>11} {unit:<5} {ratio:>9}  {target}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
