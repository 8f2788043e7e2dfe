"""Wild rows of a roster, seeded: every column with its edges, in every way people write a number.

About a fifth of the rows are spoilt in one cell. All of it is invented.
"""

from __future__ import annotations

import math
import random

from engine.roster.columns import Column, columns
from tests.made_texts import MARKUP, SCRIPTS

USUAL: dict[str, tuple[float, float]] = {
    "age_years": (38, 68),
    "add_d": (0.75, 3),
    "sphere_d": (-5, 4),
    "screen_in": (13, 34),
    "screen_distance_cm": (45, 90),
    "screen_top_cm": (-20, 10),
    "screen_tilt_deg": (0, 25),
    "text_mm": (2, 5),
    "hours_screen": (1, 9),
    "hours_paper": (0.2, 3),
    "paper_distance_cm": (33, 60),
    "paper_centre_cm": (-28, -10),
    "hours_people": (0.2, 3),
    "people_distance_cm": (90, 400),
    "fitting_height_mm": (13, 26),
}
SPOILT_SHARE = 0.2
NO_CELL = [mark for mark in MARKUP if mark not in ("\x00", "\ud800", "x" * 5000)]
"""Texts for a cell; those no text file can hold are left to the tests of whole files."""
NO_NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e5",
    "5e-324",
    "9" * 400,
    "0x41",
    "65.5.5",
    "6 5",
    "--1",
    "½",
    "65²",
    "6⁵",
    "⑥",
)
LINES = ("one cell fewer", "one cell more", "nothing but separators")


def made_rows(first: int, count: int) -> list[list[str]]:
    """The made rows of these numbers, cell by cell in the order of the columns."""
    return [_row(random.Random(f"row {number}"), number) for number in range(first, first + count)]


def _row(dice: random.Random, number: int) -> list[str]:
    found = {column.id: _cell(column, dice) for column in columns().values()}
    found["ref"] = dice.choice(["", f"P-{number}", "x" * 24, "_", "0"])
    by_band = not found["age_years"] or dice.random() < 0.3
    found["age_band"] = dice.choice(["50-54", "42–60", "60+", "45-45"]) if by_band else ""
    if by_band:
        found["age_years"] = ""
    cells = list(found.values())
    if dice.random() >= SPOILT_SHARE:
        return cells
    if dice.random() < 0.1:
        return {LINES[0]: cells[:-1], LINES[1]: [*cells, "x"], LINES[2]: [" ", *[""] * 19]}[
            dice.choice(LINES)
        ]
    cells[dice.randrange(len(cells))] = _spoilt(dice)
    return cells


def _spoilt(dice: random.Random) -> str:
    return dice.choice([*NO_NUMBERS, *NO_CELL, *SCRIPTS, "-1", "0", "1000000", "", "99-42"])


def _cell(column: Column, dice: random.Random) -> str:
    if not column.needed and dice.random() < 0.35:
        return ""
    if column.kind == "choice":
        word = dice.choice(column.choices)
        return dice.choice([word, word, word.upper(), f" {word} "])
    if column.kind == "ratio":
        return dice.choice(["16:9", "16:10", "4:3", "9:16", " 21:9 "])
    if column.kind != "number":
        return ""
    return _written(_value(column, dice), column, dice)


def _value(column: Column, dice: random.Random) -> float:
    """Most in the usual range, few anywhere, few at a limit: a row has fifteen of them."""
    roll = dice.random()
    if roll < 0.985:
        return round(dice.uniform(*USUAL[column.id]), dice.choice([0, 1, 2, 6]))
    limits = column.limits
    assert limits.low is not None
    assert limits.high is not None
    low = math.nextafter(limits.low, math.inf) if limits.above else float(limits.low)
    high = float(limits.high)
    return dice.uniform(low, high) if roll < 0.992 else dice.choice([low, high])


def _written(value: float, column: Column, dice: random.Random) -> str:
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    ways = [text] * 4 + [text.replace(".", ","), f" {text} ", f"+{text}" if value > 0 else text]
    ways.append(text.replace("-", "\N{MINUS SIGN}"))
    if column.unit == "cm":
        ways += [
            f"{text} cm",
            f"{value * 10:.6f} mm",
            f"{value / 100:.8f} m",
            f"{value / 2.54:.8f}″",
        ]
    return dice.choice(ways)
