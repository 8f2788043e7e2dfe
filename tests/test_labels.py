"""Every short label shown to people has a standing: of the trade, a standard, plain, or ours."""

from __future__ import annotations

from collections import Counter

from engine import tables
from tests.labels import COLUMNS, MOST_WORDS, STANDINGS, TABLE, labels, table


def test_no_label_is_without_a_standing() -> None:
    """A new one is added by hand, after asking where it comes from."""
    known = table()
    assert [one for one in labels() if known.get(one) not in STANDINGS] == []


def test_no_label_of_the_table_has_left_the_program() -> None:
    assert sorted(set(table()) - set(labels())) == []


def test_the_table_is_sorted_and_says_each_label_once() -> None:
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    assert lines[0] == ",".join(COLUMNS)
    assert len(lines) - 1 == len(table())
    assert list(table()) == sorted(table())


def test_kinds_of_lens_stand_as_their_own_table_says() -> None:
    known = table()
    for row in tables.rows("lens_kinds"):
        of_the_trade = row["source"] == "trade-wide term"
        name = row["optician_name"]
        assert len(name.split()) <= MOST_WORDS, f"{name}: a name has at most {MOST_WORDS} words"
        assert (known[name, "table"] == "trade") is of_the_trade


def test_the_list_reaches_every_class_of_label() -> None:
    found = Counter(where for _, where in labels())
    assert set(found) == {
        "page", "mark", "colour", "state", "table", "JSON key", "command", "option"
    }  # fmt: skip
    here = set(labels())
    assert {
        ("Home check", "page"),
        ("not served", "state"),
        ("toss_up", "state"),
        ("reserve_h", "JSON key"),
        ("explain", "command"),
        ("--port", "option"),
        ("office lens", "table"),
        ("pattern strained", "mark"),
        ("#17626b", "colour"),
    } <= here
