"""The studies as they were written down: one TOML file each, with what all of them assume.

A file says what a study says of people, desks and lenses, what is assumed where it is silent, what
is to be predicted and what was found. It is written before anything is predicted, and nothing in
it is changed to come nearer to what was found.
"""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
CODE = ("studies.py", "people.py", "measures.py", "predict.py")
"""What a prediction hangs on beside the engine and its tables."""
REGIMES = ("held work", "reading", "glances")
_TAKEN_BY_OTHERS = {"id", "what", "unit", "found", "a_miss_means", "people", "assumed", "measure"}


@dataclass(frozen=True)
class Found:
    """What a study found: a value, its own interval, and where that interval is from.

    A value alone has no printed interval; an interval alone is a direction.
    """

    value: float | None
    low: float | None
    high: float | None
    how: str


@dataclass(frozen=True)
class Outcome:
    """One number to predict.

    Attributes:
        study: the file it is from. people: how many it was found with.
        assumed: every quantity by name, as written. lenses: every lens by name.
        arguments: what its measure takes beside the people.
    """

    id: str
    study: dict[str, Any]
    what: str
    unit: str
    measure: str
    people: int
    assumed: dict[str, Any]
    lenses: dict[str, Any]
    arguments: dict[str, Any]
    found: Found
    a_miss_means: str


@cache
def outcomes() -> tuple[Outcome, ...]:
    """Return every outcome of every study, in the order of the files."""
    shared = _read(FOLDER / "assumed.toml")
    paths = sorted((FOLDER / "studies").glob("*.toml"))
    return tuple(one for path in paths for one in _of_study(_read(path), shared))


def _of_study(study: dict[str, Any], shared: dict[str, Any]) -> list[Outcome]:
    common = {name: value for name, value in shared.items() if name != "lens"}
    found = []
    for written in study["outcome"]:
        own = written.get("assumed", {})
        found.append(
            Outcome(
                id=written["id"],
                study=study,
                what=written["what"],
                unit=written["unit"],
                measure=written["measure"],
                people=written.get("people", study["people"]),
                assumed=common | study.get("assumed", {}) | own,
                lenses=shared["lens"] | study.get("lens", {}),
                arguments={k: v for k, v in written.items() if k not in _TAKEN_BY_OTHERS},
                found=_found(written["found"]),
                a_miss_means=written["a_miss_means"],
            )
        )
    return found


def _found(written: dict[str, Any]) -> Found:
    if "share" in written:
        low, high = wilson_percent(written["share"], of=written["of"])
        counted = f"{written['of']} {written.get('counted', 'people')}"
        return Found(written["share"], low, high, f"95 % interval for {counted}")
    return Found(written.get("value"), written.get("low"), written.get("high"), written["how"])


def wilson_percent(share_percent: float, *, of: int) -> tuple[float, float]:
    """Return the 95 % interval of a share in percent (Wilson 1927, from memory).

    >>> [round(end) for end in wilson_percent(84.0, of=190)]
    [78, 89]
    """
    z, p = 1.959964, share_percent / 100.0
    middle = (p + z**2 / (2 * of)) / (1 + z**2 / of)
    half = z / (1 + z**2 / of) * (p * (1 - p) / of + z**2 / (4 * of**2)) ** 0.5
    return 100.0 * max(middle - half, 0.0), 100.0 * min(middle + half, 1.0)


def digest() -> str:
    """Return the digest of everything written in this folder that a prediction hangs on."""
    paths = [FOLDER / "assumed.toml", *sorted((FOLDER / "studies").glob("*.toml"))]
    paths += [FOLDER / name for name in CODE]
    return hashlib.sha256(b"".join(path.read_bytes() for path in paths)).hexdigest()[:16]


def _read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))
