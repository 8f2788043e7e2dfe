"""What a person wrote down of each kind of lens: tests/kinds.csv, one row a kind.

Columns that do not explain themselves:
    needs_add: nothing can be ordered without a known add.
    usual_pairs: how many pairs of the kind people usually wear.
    prism_drop_mm: where both lenses have the same prism, mm below the fitting point; tilt where it
        is dropped for the tilt.
    zones: what each adds to the distance power, as a sum of design numbers.
    stated: a design with numbers of its own.
    middle_at_add_2: the design taken for a pair of which only the add, 2.00, is known.
    name_standing, name_where_used: see tests/trade_names.csv.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

from engine.case.model import Design

FILE = Path(__file__).with_name("kinds.csv")
_TERM = re.compile(r"([+-]?)(?:([\d.]+)\*)?([a-z_]+)")


def _rows() -> dict[str, dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return {row["kind"]: row for row in csv.DictReader(file, strict=True)}


ROWS = _rows()


def kinds(**wanted: str) -> tuple[str, ...]:
    """Return the kinds whose columns hold these words."""
    return tuple(kind for kind, row in ROWS.items() if wanted.items() <= row.items())


def is_multifocal(kind: str) -> bool:
    """Whether a kind has more than one power."""
    return "yes" in (ROWS[kind]["progressive"], ROWS[kind]["lined"])


def design(kind: str, column: str) -> dict[str, float | str]:
    """Return the design numbers of a cell, as in near_add_d=1.75 power_fall=quick."""
    pairs = (cell.split("=") for cell in ROWS[kind][column].split())
    return {name: value if value.isalpha() else float(value) for name, value in pairs}


def zones(kind: str, made: Design) -> dict[str, float]:
    """Return what each zone of a lens adds to the distance power by the table, in D."""
    found = {}
    for cell in ROWS[kind]["zones"].split():
        zone, sum_ = cell.split("=")
        terms = _TERM.findall(sum_)
        found[zone] = sum(
            float(f"{sign}1") * float(times or 1) * (getattr(made, name) or 0.0)
            for sign, times, name in terms
        )
    return found
