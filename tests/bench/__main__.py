"""One table of every figure: `python -m tests.bench`, or `python -m tests.bench engine_speed`.

Each module beside this one (those without an underscore) has measure(), which returns rows of
_row.Row. Each is measured in a process of its own, one after the other, on one core; a module that
sets ALL_CORES, because it starts the program with a browser or several workers, has all of them.
What is slow because of another program's work is slow in the reference beside it too: read the
ratio. The exit status is 1 where a module failed; a missed target is said, not counted as failure.
"""

from __future__ import annotations

import dataclasses
import importlib
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from engine import threads
from tests.bench._cores import pinned
from tests.bench._row import Row, table

_ROWS = "--rows"
"""Asks for the rows of one module as JSON: what the process of that module is started with."""


def known() -> list[str]:
    """The modules with figures."""
    return sorted(path.stem for path in Path(__file__).parent.glob("[!_]*.py"))


def main(arguments: Sequence[str]) -> int:
    """Print the table and return 1 where a module failed."""
    if arguments and arguments[0] == _ROWS:
        return _as_json(arguments[1])
    unknown = sorted(set(arguments) - set(known()))
    if unknown:
        sys.stderr.write(f"no such figures: {', '.join(unknown)}; there are {', '.join(known())}\n")
        return 2
    rows: list[Row] = []
    failed = []
    for name in arguments or known():
        sys.stderr.write(f"measuring {name} ...\n")
        found = _in_a_process(name)
        rows += found or []
        failed += [name] if found is None else []
    print(table(rows))
    if failed:
        print(f"failed, see above: {', '.join(failed)}")
    return 1 if failed else 0


def _in_a_process(name: str) -> list[Row] | None:
    """The rows of a module, or None where it failed (its error is on stderr)."""
    command = [sys.executable, "-m", "tests.bench", _ROWS, name]
    ran = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False, cwd=_root())
    if ran.returncode:
        return None
    return [Row(**row) for row in json.loads(ran.stdout.splitlines()[-1])]


def _as_json(name: str) -> int:
    """Measure here; numpy is imported with the module, so its threads are limited before."""
    before = {variable: os.environ.get(variable) for variable in threads.NAMES}
    os.environ.update(dict.fromkeys(threads.NAMES, "1"))
    module = importlib.import_module(f"tests.bench.{name}")
    if getattr(module, "ALL_CORES", False):
        for variable, value in before.items():  # what this process starts is not limited
            del os.environ[variable]
            if value is not None:
                os.environ[variable] = value
        rows = module.measure()
    else:
        with pinned():
            rows = module.measure()
    print(json.dumps([dataclasses.asdict(row) for row in rows]))
    return 0


def _root() -> Path:
    return Path(__file__).resolve().parents[2]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
