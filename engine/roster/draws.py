"""What a roster does not know, drawn from published distributions.

Every draw depends on the seed, the number of the row, the number of the draw and the name of the
value, and on nothing else: chunks and workers do not change it. Means, spreads and cuts stand in
roster_spreads.csv with their sources.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from engine import tables
from engine.case.model import STEEPEST
from engine.case.scene import THIRDS, usual_limits
from engine.kernel.draws import Spreads, own_limits, surface_made
from engine.optics.accommodation import usual_add_d
from engine.roster.rows import usual_aspects
from engine.tables import Judgements
from engine.units import CM_PER_INCH, MM_PER_CM

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from engine.roster.rows import Rows

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]
    Indices = NDArray[np.intp]
    Words = NDArray[np.uint64]

_NEEDS = {
    "paper_distance_cm": "hours_paper",
    "paper_centre_cm": "hours_paper",
    "people_distance_cm": "hours_people",
}
_BY_KIND = ("screen_distance_cm", "screen_tilt_deg", "text_mm")
_ALONE = ("paper_distance_cm", "paper_centre_cm", "people_distance_cm", "fitting_height_mm")
_DECIMALS = 4
"""Drawn values are rounded: the last bit of a logarithm may depend on where in memory it stood."""
_CLEARLY = 1.001
"""A target is a thousandth farther away than the least the geometry takes."""


@dataclass(frozen=True)
class Drawn:
    """Rows with nothing left unknown: each as many times as there are draws.

    Attributes:
        rows: number of rows. row: (wearers,) position of the row each wearer belongs to, ascending.
        draw: (wearers,) number of the draw.
        values: (wearers,) each, by column; screen_kind and present_kind stay with the rows.
        unknown: (rows,) by column: was drawn.
    """

    rows: int
    row: Indices
    draw: Indices
    values: Mapping[str, Floats]
    unknown: Mapping[str, Bools]


@dataclass(frozen=True)
class Spread:
    """A normal distribution, cut."""

    mean: float
    sd: float
    low: float
    high: float


@cache
def spreads() -> Mapping[tuple[str, str], Spread]:
    """Return the distributions by column and what they apply to."""
    return {
        (row["id"], row["applies_to"]): Spread(
            *(float(row[name]) for name in ("mean", "sd", "low", "high"))
        )
        for row in tables.rows("roster_spreads")
    }


def fill(
    rows: Rows,
    *,
    draws: int,
    seed: int,
    shifts: Mapping[str, float] | None = None,
    judgements: Judgements | None = None,
) -> Drawn:
    """Draw what the rows leave unknown; a row that leaves nothing unknown stands once.

    The wearer's own limits, and which lens is made of those ordered (`made`), are drawn too where
    a row is drawn at all; such a row is looked at a third of its points at a time (`third`).

    draws: how often a row with something unknown stands. shifts: added to drawn values, by column.
    """
    unknown = _unknown(rows)
    often = np.where(np.any(list(unknown.values()), axis=0), draws, 1)
    row = np.repeat(np.arange(len(rows.row)), often)
    draw = np.concatenate([np.arange(count) for count in often] or [np.zeros(0, dtype=np.intp)])
    dice = _Dice(seed, rows.row[row], draw)
    values = {name: found[row] for name, found in rows.values.items()}
    filled = {name: found[row] for name, found in unknown.items()}
    laptop = rows.screen_kind[row] == "laptop"
    judged = judgements or Judgements.standard()
    _age_and_add(rows, row, values, filled, dice, judged.design_step_d)
    is_drawn = often[row] > 1
    standard = Spreads.standard()
    limits = own_limits(dice.even, turns=None, spreads=standard, judgements=judged)
    usual = usual_limits(judged)
    for name, drawn in limits.items():
        values[name] = np.where(is_drawn, drawn, usual[name])
    surface = surface_made(dice.even("made"), of=int(standard.made))
    values["made"] = np.where(is_drawn, surface, 0).astype(np.float64)
    values["third"] = np.where(is_drawn, draw % THIRDS, -1).astype(np.float64)
    for name in _BY_KIND:
        drawn = dice.by_kind(name, laptop)
        values[name] = np.where(filled[name], drawn, values[name])
    for name in _ALONE:
        drawn = dice.normal(name, spreads()[name, "all"])
        values[name] = np.where(filled[name], drawn, values[name])
    aspect = np.where(laptop, usual_aspects()["laptop"], usual_aspects()["monitor"])
    values["screen_aspect"] = np.where(
        np.isnan(values["screen_aspect"]), aspect, values["screen_aspect"]
    )
    values["sphere_d"] = np.nan_to_num(values["sphere_d"], nan=0.0)
    _screen_height(values, filled, laptop, dice)
    for name, shift in (shifts or {}).items():
        values[name] = np.where(filled[name], values[name] + shift, values[name])
    spread = spreads()["add_d", "all"]
    values["add_d"] = np.where(
        filled["add_d"], np.clip(values["add_d"], spread.low, spread.high), values["add_d"]
    )
    _in_reach(values, filled)
    for name, where in filled.items():
        if name in values:
            values[name] = np.where(where, np.round(values[name], _DECIMALS), values[name])
    return Drawn(len(rows.row), row, draw, values, unknown)


def _unknown(rows: Rows) -> dict[str, Bools]:
    found = {"age": rows.age_high > rows.age_low}
    names = ("add_d", "screen_top_cm", *_BY_KIND, *_ALONE)
    for name in names:
        found[name] = np.isnan(rows.values[name])
        if name in _NEEDS:
            found[name] &= rows.values[_NEEDS[name]] > 0.0
    found["age"] &= found["add_d"]
    return found


def _age_and_add(
    rows: Rows,
    row: Indices,
    values: dict[str, Floats],
    filled: dict[str, Bools],
    dice: _Dice,
    step_d: float,
) -> None:
    """Draw ages even over a band; adds about the usual one for the age, in steps of an order."""
    low, high = rows.age_low[row], rows.age_high[row]
    values["age_years"] = low + (high - low) * dice.even("age_years")
    spread = spreads()["add_d", "all"]
    usual = usual_add_d(age_years=values["age_years"])
    add = usual + spread.sd * dice.standard("add_d")
    stepped = np.floor(add / step_d + 0.5) * step_d
    drawn = np.clip(stepped, spread.low, spread.high)
    values["add_d"] = np.where(filled["add_d"], drawn, values["add_d"])


def _screen_height(
    values: dict[str, Floats], filled: dict[str, Bools], laptop: Bools, dice: _Dice
) -> None:
    """Draw the top edge against the eyes: placement, how tall the person sits; then what fits."""
    men, women = (spreads()["eye_height_mm", sex] for sex in ("men", "women"))
    of_men, of_women = dice.normal("eye_men", men), dice.normal("eye_women", women)
    eye_mm = np.where(dice.even("sex") < 0.5, of_men, of_women)
    taller_cm = (eye_mm - (men.mean + women.mean) / 2) / MM_PER_CM
    top = dice.by_kind("screen_top_cm", laptop) - taller_cm
    low, high = (_of_kind("screen_top_cm", laptop, bound) for bound in ("low", "high"))
    drawn = np.clip(top, low, high)
    values["screen_top_cm"] = np.where(filled["screen_top_cm"], drawn, values["screen_top_cm"])


def _in_reach(values: dict[str, Floats], filled: dict[str, Bools]) -> None:
    """Bring drawn heights and distances to where the target can stand at all, and no farther.

    Where both were drawn the distance gives way, else the drawn one.
    """
    half = values["screen_in"] * CM_PER_INCH / 2
    below = np.minimum(half - STEEPEST * values["screen_distance_cm"] / _CLEARLY, 0.0)
    _replace(values, "screen_top_cm", filled, np.maximum(values["screen_top_cm"], below), but=True)
    top = values["screen_top_cm"]
    least = np.maximum(np.abs(top) / STEEPEST, np.abs(top - half)) * _CLEARLY
    away = np.maximum(values["screen_distance_cm"], least)
    _replace(values, "screen_distance_cm", filled, away)
    reach = STEEPEST * values["paper_distance_cm"] / _CLEARLY
    centre = np.clip(values["paper_centre_cm"], -reach, reach)
    _replace(values, "paper_centre_cm", filled, centre, but=True)
    least = np.abs(values["paper_centre_cm"]) / STEEPEST * _CLEARLY
    away = np.maximum(values["paper_distance_cm"], least)
    _replace(values, "paper_distance_cm", filled, away)


def _replace(
    values: dict[str, Floats],
    name: str,
    filled: dict[str, Bools],
    found: Floats,
    *,
    but: bool = False,
) -> None:
    """Put what was found where a value was drawn (but: only if its distance was not)."""
    where = filled[name]
    if but:
        where = where & ~filled[f"{name.split('_')[0]}_distance_cm"]
    values[name] = np.where(where, found, values[name])


def _of_kind(name: str, laptop: Bools, part: str) -> Floats:
    on_laptop, on_monitor = (spreads()[name, kind] for kind in ("laptop", "monitor"))
    found: Floats = np.where(laptop, getattr(on_laptop, part), getattr(on_monitor, part))
    return found


class _Dice:
    """Random numbers that depend on seed, row, draw and name only (a mixed counter)."""

    def __init__(self, seed: int, row: NDArray[np.int64], draw: Indices) -> None:
        start = np.uint64(seed % 2**32) << np.uint64(32)
        self._base = _mixed(start + row.astype(np.uint64))
        self._base = _mixed(self._base + draw.astype(np.uint64))

    def even(self, name: str) -> Floats:
        """Return numbers even in 0 to 1, 0 left out."""
        word = _mixed(self._base + np.uint64(zlib.crc32(name.encode())))
        return ((word >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53

    def standard(self, name: str) -> Floats:
        """Return normal numbers, mean 0, spread 1 (Box and Muller)."""
        length: Floats = np.sqrt(-2.0 * np.log(self.even(f"{name} length")))
        return length * np.cos(2.0 * np.pi * self.even(f"{name} angle"))

    def normal(self, name: str, spread: Spread) -> Floats:
        """Return normal numbers, cut at their bounds."""
        drawn = spread.mean + spread.sd * self.standard(name)
        return np.clip(drawn, spread.low, spread.high)

    def by_kind(self, name: str, laptop: Bools) -> Floats:
        """Return normal numbers about the mean for what stands on the desk, cut at their bounds."""
        mean, sd, low, high = (_of_kind(name, laptop, p) for p in ("mean", "sd", "low", "high"))
        return np.clip(mean + sd * self.standard(name), low, high)


def _mixed(word: Words) -> Words:
    """Return a permutation of 64 bits that leaves no pattern (the finaliser of SplitMix64)."""
    word = word + np.uint64(0x9E3779B97F4A7C15)
    word = (word ^ (word >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    word = (word ^ (word >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return word ^ (word >> np.uint64(31))
