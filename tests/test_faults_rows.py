"""Ten thousand wild rows of a roster: each is a row of the answer, computed or refused with why.

The suite runs the first of them; `python -m pytest -m long tests/test_faults_rows.py -v` runs all,
part by part. Warnings are errors here as everywhere.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from itertools import zip_longest
from pathlib import Path

import pytest

from engine.__main__ import main
from engine.answer.choice import RULES
from engine.roster.answer import HOURS
from engine.roster.columns import columns
from engine.roster.file import QUANTILES, header
from engine.roster.search import OPTIONS
from engine.roster.words import EVERYWHERE, words
from engine.units import parse_number
from tests.made_rows import made_rows

ROUNDED_H = 0.0021
"""Four means written to three places are off by half of the last place each, and a bit."""
FEW = 200
PART = 500
PARTS = 20
LEAST_COMPUTED = 0.5
"""At least half must be computed: a maker of refusals alone would test little."""
FORMULAS = ("=", "+", "-", "@", "\t", "\r")


def day_h(cells: list[str]) -> float:
    """Hours of a row that was computed, read from its cells; last ones may be left out."""
    by_name = dict(zip_longest(columns(), cells, fillvalue=""))
    texts = [by_name[name] for name in ("hours_screen", "hours_paper", "hours_people")]
    blank = {"", "none", *words(EVERYWHERE)}
    known = [text for text in texts if text.strip().lower() not in blank]
    return sum(parse_number(text, field="hours") for text in known)


def check_computed(found: dict[str, str], cells: list[str]) -> None:
    whole, options = day_h(cells), 0
    assert found["most_hours"] in OPTIONS
    assert 0.0 < float(found["most_hours_share"]) <= 1.0
    first = found["put_first"]
    assert (found["put_first_by"] in RULES) if first else (found["put_first_by"] == "")
    assert first in ("", *OPTIONS)
    assert first == "" or float(found[f"{first}_comfortable_h"]) >= 0.0
    for option in OPTIONS:
        texts = [found[f"{option}_{name}"] for name in HOURS]
        assert all(texts) or not any(texts)
        if not any(texts):
            continue
        options += 1
        parts = [float(text) for text in texts]
        assert min(parts) >= 0.0
        assert abs(sum(parts) - whole) <= ROUNDED_H
        spread = [found[f"{option}_comfortable_h_{name}"] for name in QUANTILES]
        assert all(spread) or not any(spread)
        if any(spread):
            low, high = map(float, spread)
            assert 0.0 <= low <= high <= whole + ROUNDED_H
    assert options >= 1


def check_refused(found: dict[str, str]) -> None:
    """Each problem names a column, the value and the rule; nothing is computed."""
    for problem in found["problems"].split(" | "):
        assert re.match(rf"(whole row|{'|'.join(columns())}): .+\. (Allowed|Needed): .+\.", problem)
    assert found["ref"] == ""
    assert not any(found[f"{option}_{name}"] for option in OPTIONS for name in HOURS)


def check_row(found: dict[str, str], cells: list[str]) -> None:
    for name, cell in found.items():
        assert not cell.startswith(FORMULAS)
        assert "\n" not in cell
        # A pseudonym may be any word, these among them.
        assert name == "ref" or cell.lower() not in ("nan", "inf", "-inf", "none")
    if found["status"] == "computed":
        check_computed(found, cells)
    elif found["status"] == "refused":
        check_refused(found)
    else:
        assert found["status"] in ("too_young", "no_hours")


def try_rows(
    first: int, count: int, folder: Path, capsys: pytest.CaptureFixture[str], *more: str
) -> Counter[str]:
    """Many rows in one file through the command; a failure names the row."""
    rows = made_rows(first, count)
    source, target = folder / "in.csv", folder / "out.csv"
    with source.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([list(columns()), *rows])
    assert main(["roster", str(source), str(target), *more]) == 0
    said = capsys.readouterr()
    with target.open(encoding="utf-8", newline="") as file:
        answered = list(csv.DictReader(file, strict=True))
    assert list(answered[0]) == header()
    filled = {at: row for at, row in enumerate(rows) if any(cell.strip() for cell in row)}
    assert [int(found["row"]) for found in answered] == [at + 2 for at in filled]
    faults = []
    for found, (at, cells) in zip(answered, filled.items(), strict=True):
        number = first + at
        try:
            check_row(found, cells)
        except (AssertionError, ValueError, TypeError) as fault:
            faults.append(f"row {number} {cells}: {fault!r:.200}")
    ended = Counter(found["status"] for found in answered)
    with capsys.disabled():
        print(f"\n  rows {first} to {first + count - 1}: {dict(ended)}")
    assert not faults, "\n".join([f"{len(faults)} of {count}", *faults[:10]])
    assert said.err == ""
    assert said.out.startswith(f"{ended['computed']} rows computed, {ended['too_young']} too young")
    return ended


def test_wild_rows_are_computed_or_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended = try_rows(0, FEW, tmp_path, capsys, "--draws", "2")
    assert ended["computed"] >= LEAST_COMPUTED * FEW
    assert ended["refused"] >= 20
    assert ended["too_young"] >= 1


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_ten_thousand_wild_rows(
    part: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended = try_rows(part * PART, PART, tmp_path, capsys)
    assert ended["computed"] >= LEAST_COMPUTED * PART
