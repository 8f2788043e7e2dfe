"""Tolerances of finished lenses: the limit a standard sets for an ordered value.

Every limit is a row of tolerances.csv with the edition it is from and how well it is known. A
band runs from above its lower number up to and including its upper one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from engine import tables

if TYPE_CHECKING:
    from collections.abc import Mapping

Standard = Literal["ANSI Z80.1", "ISO 21987"]
STANDARDS: tuple[Standard, ...] = ("ANSI Z80.1", "ISO 21987")
LensClass = Literal["single_or_lined", "lined", "progressive"]
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Limit:
    """What a standard allows.

    Attributes:
        limit: in `unit`: D, deg, pd, mm, "mm of pair" or "mm each".
        standing: how well it is known. from_memory: not read, so marked wherever it is shown.
    """

    limit: float
    unit: str
    standard: str
    edition: str
    standing: str
    source: str
    from_memory: bool


def limit_for(
    *, standard: Standard, lens_class: LensClass, quantity: str, of: float, power_d: float = 0.0
) -> Limit | None:
    """Return the limit of a quantity; None where the table has none.

    of: what the bands go by: strongest principal power for the sphere, cylinder for cylinder and
    axis, the add for the add, power along the prism for prism. power_d: strongest principal power,
    which some cylinder bands go by too. Signs are ignored; a share of the value comes in its unit.

    >>> limit_for(
    ...     standard="ANSI Z80.1", lens_class="progressive", quantity="sphere", of=-10.0
    ... ).limit
    0.2
    """
    for row in tables.rows("tolerances"):
        if row["standard"] != standard or row["quantity"] != quantity:
            continue
        if _is_of(row["lens_class"], lens_class) and _inside(row, abs(of), abs(power_d)):
            return _limit(row, abs(of))
    return None


def _limit(row: Mapping[str, str], of: float) -> Limit:
    share = row["unit"] == "%"
    value = float(row["limit"])
    return Limit(
        limit=value * of / 100.0 if share else value,
        unit="D" if share else row["unit"],
        standard=row["standard"],
        edition=row["edition"],
        standing=row["standing"],
        source=f"{row['source']} ({row['locator']})",
        from_memory=row["status"] == "memory",
    )


def _is_of(row_class: str, lens_class: str) -> bool:
    if row_class in ("all", lens_class):
        return True
    return row_class == "single_or_lined" and lens_class == "lined"


def _inside(row: Mapping[str, str], of: float, power_d: float) -> bool:
    return _between(row["above"], of, row["up_to"]) and _between(
        row["power_above_d"], power_d, row["power_up_to_d"]
    )


def _between(above: str, value: float, up_to: str) -> bool:
    over = not above or value > float(above) + _ROUNDING
    return over and (not up_to or value <= float(up_to) + _ROUNDING)
