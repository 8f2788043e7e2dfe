"""The names that the trade must know: each is judged once by a person, none is left over."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import get_args

import pytest

from app import __main__ as program
from app.form.field_table import PAIR
from app.shell.theme import GRADES
from app.shell.words import PAGES
from engine import __main__ as commands
from engine.case.model import Design
from engine.case.results import Verdict
from engine.tables import rows
from tests import kind_table

STANDINGS = {"trade", "open standard", "plain English", "ours"}
LIST = Path(__file__).with_name("trade_names.csv")


def _judged() -> list[dict[str, str]]:
    with LIST.open(encoding="utf-8", newline="") as file:
        found = list(csv.DictReader(file, strict=True))
    kinds = [
        {
            "name": row["name"],
            "thing": "kind of lens",
            "standing": row["name_standing"],
            "where_used": row["name_where_used"],
        }
        for row in kind_table.ROWS.values()
    ]
    return found + kinds


def _help(main, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    with pytest.raises(SystemExit):
        main([*arguments, "--help"])
    return capsys.readouterr().out


def _used(capsys: pytest.CaptureFixture[str]) -> set[tuple[str, str]]:
    """Return every name and the kind of thing it names, as the program has them."""
    found = {(row["optician_name"], "kind of lens") for row in rows("lens_kinds")}
    found |= {(row.label.split(" (")[0], "design number") for row in PAIR if row.model is Design}
    found |= {(name, "page") for name in PAGES.values()}
    found |= {(name, "grade") for name in GRADES}
    found |= {(name, "verdict") for name in get_args(Verdict)}
    names = re.findall(r"^    (\w+) ", _help(commands.main, [], capsys), re.MULTILINE)
    found |= {(name, "command") for name in names}
    helps = [_help(commands.main, [name], capsys) for name in names]
    options = re.findall(r"--[\w-]+", " ".join([*helps, _help(program.main, [], capsys)]))
    return found | {(option, "option") for option in options if option != "--help"}


def test_every_name_is_judged_and_every_judged_name_is_used(
    capsys: pytest.CaptureFixture[str],
) -> None:
    judged = [(row["name"], row["thing"]) for row in _judged()]
    assert len(judged) == len(set(judged))
    used = _used(capsys)
    assert sorted(used - set(judged)) == [], "in the program, not judged"
    assert sorted(set(judged) - used) == [], "judged, not in the program"


def test_every_judgement_is_one_of_four_and_says_where_the_name_is_used() -> None:
    for row in _judged():
        assert row["standing"] in STANDINGS, row["name"]
        assert row["where_used"], row["name"]
