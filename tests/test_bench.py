"""The table of figures: each module has rows, the table says what was met. Nothing is timed."""

from __future__ import annotations

import importlib
import inspect
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.bench import __main__ as bench
from tests.bench._cores import pinned
from tests.bench._interview import interview, readable, typed
from tests.bench._row import HEAD, Row, table

ROOT = Path(__file__).resolve().parents[1]
MODULES = (
    "compiled_speed",
    "desk_page",
    "desk_speed",
    "engine_speed",
    "keeping",
    "load",
    "pages",
    "roster_speed",
)


def test_the_modules_are_those_known():
    assert bench.known() == list(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_each_module_measures_without_being_told_anything(name):
    module = importlib.import_module(f"tests.bench.{name}")
    signature = inspect.signature(module.measure)
    needed = [one for one in signature.parameters.values() if one.default is one.empty]
    assert needed == []
    assert "list[Row]" in str(signature.return_annotation)


@pytest.mark.parametrize("name", ["desk_page", "load", "pages", "roster_speed"])
def test_what_starts_the_program_or_workers_has_all_cores(name):
    assert importlib.import_module(f"tests.bench.{name}").ALL_CORES is True


@pytest.mark.parametrize(
    ("row", "wanted", "verdict"),
    [
        (
            Row("a", 150.0, "ms", "b", 3.0, 150.0, source="our target"),
            "<= 150 ms (our target)",
            "met",
        ),
        (Row("a", 150.1, "ms", "b", 3.0, 150.0), "<= 150 ms", "MISSED"),
        (Row("a", 6.0, "ms", "b", 3.0, 2.0, of="ratio"), "<= 2 x", "met"),
        (Row("a", 6.1, "ms", "b", 3.0, 2.0, of="ratio"), "<= 2 x", "MISSED"),
        (Row("a", 1.7, "s", "b", 1.0, 1.7, of="ratio", judge="least"), ">= 1.7 x", "met"),
        (Row("a", 299.0, "rows/s", "b", 9.0, 300.0, judge="least"), ">= 300 rows/s", "MISSED"),
        (Row("a", 0, "", "b", 360, 0.0), "<= 0", "met"),
        (Row("a", 1, "", "b", 360, 0.0), "<= 0", "MISSED"),
        (Row("a", math.nan, "ms", "b", 3.0, 150.0), "<= 150 ms", "MISSED"),
        (Row("a", 1.0, "ms", "b", 0.0, 2.0, of="ratio"), "<= 2 x", "MISSED"),
        (Row("a", 1.0, "ms", "b", 3.0), "-", "-"),
    ],
)
def test_a_target_is_met_up_to_its_limit_and_missed_beyond(row, wanted, verdict):
    assert (row.wanted, row.verdict) == (wanted, verdict)


def test_the_table_names_numerator_and_denominator_and_counts_what_was_met():
    rows = [
        Row("one answer", 60.0, "ms", "another way", 120.0, 120.0, source="our target"),
        Row("a picture", 250.0, "ms", "a stored one", 100.0, 2.0, of="ratio"),
        Row("memory", 4.0, "MB", "one session", 200.0),
    ]
    head, rule, *lines, count = table(rows).splitlines()
    assert " ".join(head.split()) == " ".join(HEAD).strip()
    assert set(rule) == {"-"}
    for row, line in zip(rows, lines, strict=True):
        cells = [row.figure, f"{row.measured:g} {row.unit}", row.beside, row.wanted, row.verdict]
        places = [line.index(cell) for cell in cells[:3]]
        assert places == sorted(places)
        assert line.split()[-1] == row.verdict
    assert "0.5" in lines[0]
    assert "2.5" in lines[1]
    assert count == "1 of 2 targets met; 1 for information"


def test_one_core_for_a_while_and_then_as_before():
    before = os.sched_getaffinity(0)
    with pinned():
        assert os.sched_getaffinity(0) == {min(before)}
    assert os.sched_getaffinity(0) == before


def test_an_unknown_figure_is_refused_with_those_there_are():
    ran = subprocess.run(
        [sys.executable, "-m", "tests.bench", "nothing"],
        cwd=ROOT, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert ran.returncode == 2
    assert "no such figures: nothing" in ran.stderr
    assert all(name in ran.stderr for name in MODULES)


def test_a_module_that_fails_fails_the_table_and_the_others_are_still_shown(monkeypatch, capsys):
    rows = [Row("a", 1.0, "ms", "b", 2.0, 3.0)]
    monkeypatch.setattr(bench, "_in_a_process", lambda name: rows if name == "pages" else None)
    assert bench.main(["pages", "load"]) == 1
    said = capsys.readouterr().out
    assert "1 of 1 targets met" in said
    assert "failed, see above: load" in said
    assert bench.main(["pages"]) == 0


def test_twenty_sessions_type_different_days_in_every_round():
    for number in range(6):
        hours = {typed(session, number)["day.hours"] for session in range(20)}
        assert len(hours) == 20


def test_a_step_is_answered_by_its_own_line_only():
    steps = [step for each in interview(3, rounds=1) for step in each]
    lines = [f"{step.says} {step.hours} comfortable firm {step.counts}" for step in steps]
    for at, step in enumerate(steps):
        assert [step.answered_by(line) for line in lines] == [
            at == one for one in range(len(lines))
        ]
    assert (
        readable('<div class="x"><b>Office&#45;lens&#46;</b><i>7</i> h</div>') == "Office-lens. 7 h"
    )
