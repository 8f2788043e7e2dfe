"""Predict every outcome by Monte Carlo over what its study does not say, and write the table.

A prediction is the median of its replicates; its interval holds 95 % of them. A replicate has as
many people as the study, so chance among people is in the interval too.
"""

from __future__ import annotations

import csv
import zlib
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from engine.case.results import RESULTS_VERSION
from tests.trials import studies
from tests.trials.measures import MEASURES, arguments_of
from tests.trials.people import drawn
from tests.trials.studies import Found, Outcome

Floats = NDArray[np.float64]
REPLICATES = 100
FIRST = 3
"""So many replicates of each outcome are computed again by the fast test."""
TABLE = Path(__file__).resolve().parents[2] / "reference_tables" / "trials.csv"
LOW, HIGH = 2.5, 97.5
COLUMNS = (
    "id", "what", "unit", "regime", "predicted", "predicted_low", "predicted_high", "found",
    "found_low", "found_high", "found_interval", "verdict", "a_miss_means", "people", "read",
    "does_not_say", "doi", "first_replicates", "results_version", "written_digest", "source",
    "locator", "status",
)  # fmt: skip


def replicates(outcome: Outcome, numbers: Iterable[int]) -> Floats:
    """Return the value of an outcome in some replicates, by their number."""
    given = arguments_of(outcome.measure, outcome.arguments)
    found = []
    for number in numbers:
        rng = np.random.default_rng([zlib.crc32(outcome.id.encode()), number])
        people = drawn(outcome, rng)
        found.append(MEASURES[outcome.measure](people, rng, **given))
    return np.array(found)


def verdict(low: float, high: float, found: Found) -> str:
    """Return inside, overlaps or outside: of what was found, against a predicted interval.

    A value is inside a predicted interval that holds it; one outside overlaps where the two
    intervals meet. A direction is inside where the whole predicted interval is as found.

    >>> verdict(70.0, 90.0, Found(84.0, 78.0, 89.0, ""))
    'inside'
    >>> verdict(70.0, 80.0, Found(7.0, None, None, ""))
    'outside'
    >>> verdict(-1.0, 3.0, Found(None, 0.1, None, ""))
    'overlaps'
    """
    least = -np.inf if found.low is None else found.low
    most = np.inf if found.high is None else found.high
    if found.value is None:
        if least <= low and high <= most:
            return "inside"
        return "overlaps" if least <= high and low <= most else "outside"
    if low <= found.value <= high:
        return "inside"
    has_interval = found.low is not None and found.high is not None
    return "overlaps" if has_interval and least <= high and low <= most else "outside"


def row(outcome: Outcome, values: Floats) -> dict[str, str]:
    """Return the row of an outcome in the table."""
    low, middle, high = (float(end) for end in np.percentile(values, [LOW, 50.0, HIGH]))
    found, study = outcome.found, outcome.study
    return {
        "id": outcome.id,
        "what": outcome.what,
        "unit": outcome.unit,
        "regime": study["regime"],
        "predicted": _written(middle),
        "predicted_low": _written(low),
        "predicted_high": _written(high),
        "found": _written(found.value),
        "found_low": _written(found.low),
        "found_high": _written(found.high),
        "found_interval": found.how,
        "verdict": verdict(low, high, found),
        "a_miss_means": outcome.a_miss_means,
        "people": f"{outcome.people} people",
        "read": study["read"],
        "does_not_say": study["does_not_say"],
        "doi": study["doi"] or "-",
        "first_replicates": " ".join(f"{value:.6g}" for value in values[:FIRST]),
        "results_version": f"version {RESULTS_VERSION}",
        "written_digest": f"sha256 {studies.digest()}",
        "source": study["source"],
        "locator": study["read"],
        "status": "measured",
    }


def _written(value: float | None) -> str:
    return "-" if value is None else f"{value:.1f}"


def check_may_change(old: Sequence[Mapping[str, str]], new: Sequence[Mapping[str, str]]) -> None:
    """Refuse a prediction that changed though neither the studies nor the results version did.

    Raises
        ValueError: naming what changed.
    """
    before = {one["id"]: one for one in old}
    for one in new:
        was = before.get(one["id"])
        alike = ("results_version", "written_digest")
        if was is None or any(was[name] != one[name] for name in alike):
            continue
        if was["first_replicates"] != one["first_replicates"]:
            raise ValueError(
                f"{one['id']} is predicted otherwise by the same results version: raise "
                "RESULTS_VERSION in engine/case/results.py first"
            )


def write(rows: Sequence[Mapping[str, str]], path: Path = TABLE) -> None:
    """Write the table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
