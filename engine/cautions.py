"""What has to be said with a lens, and what stops it: each row of cautions.csv and its rule.

The table holds the numbers and the sentences, `caution_case` and `caution_option` the rules; their
ids are equal both ways. A caution never changes a grade, and a grade never hides a caution.

Levels: stop (nothing, or never this design), no_go (not this pair for some activity), prescriber
(ask first), care (say and show), note (a limit of what was computed).
"""

from __future__ import annotations

import string
from functools import cache
from typing import TYPE_CHECKING, Literal, get_args

from engine import tables
from engine.caution_case import CASE_RULES
from engine.caution_option import OPTION_RULES
from engine.errors import TableError
from engine.results import Told

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from engine.case import Case
    from engine.caution_case import Values
    from engine.results import OptionResult
    from engine.tables import Judgements

    Rule = Callable[..., Iterator[Values]]

Level = Literal["stop", "no_go", "prescriber", "care", "note"]
LEVELS: tuple[Level, ...] = get_args(Level)
"""From the gravest down."""
_TABLE = "cautions"


def stops(case: Case, *, judgements: Judgements) -> tuple[Told, ...]:
    """Red flags: while one stands nothing is recommended. Each says where to go and how fast."""
    return tuple(told for told in _of_case(case, judgements) if level(told.id) == "stop")


def case_cautions(case: Case, *, judgements: Judgements) -> tuple[Told, ...]:
    """Everything to be said whatever the lens, in the order of the table, without the red flags."""
    return tuple(told for told in _of_case(case, judgements) if level(told.id) != "stop")


def option_cautions(
    case: Case, option: OptionResult, *, judgements: Judgements
) -> tuple[Told, ...]:
    """Everything to be said of one lens, in the order of the table.

    option: a result whose own cautions are not filled in yet (they are not read).
    """
    found: list[Told] = []
    for identity, rule in _ordered(OPTION_RULES):
        numbers = limits(identity, judgements=judgements)
        found += _told(identity, rule(case, option, *numbers), numbers=numbers)
    return tuple(found)


def excludes(ids: Iterable[str], *, with_another_pair: bool = False) -> tuple[str, ...]:
    """Those of some cautions that make a lens not recommendable.

    Parameters
        ids: of cautions told of a lens.
        with_another_pair: the lens is part of a plan in which another pair takes the activities
            that need clear distance; then a no_go is met, and only a stop excludes.

    >>> excludes(["stairs_lower_field", "needs_clear_distance", "top_over_minused"])
    ('needs_clear_distance', 'top_over_minused')
    >>> excludes(["needs_clear_distance"], with_another_pair=True)
    ()
    """
    grave = ("stop",) if with_another_pair else ("stop", "no_go")
    return tuple(identity for identity in ids if level(identity) in grave)


def level(identity: str) -> Level:
    """How grave a caution is.

    Raises
        TableError: there is no such caution, or its level is none of LEVELS.

    >>> level("painful_red_eye")
    'stop'
    """
    written = _row(identity)["level"]
    for known in LEVELS:
        if known == written:
            return known
    raise TableError(f"{_TABLE}.csv: {identity} has the unknown level {written}")


def limits(identity: str, *, judgements: Judgements) -> tuple[float, ...]:
    """The numbers a rule turns on: written in the table, or those of the judgements it names.

    >>> limits("anisometropia", judgements=tables.Judgements.standard())
    (1.0,)
    """
    parts = [part.strip() for part in _row(identity)["limit"].split(";") if part.strip()]
    return tuple(float(getattr(judgements, part, part)) for part in parts)


def wearer_text(told: Told) -> str:
    """A caution in the wearer's words, without any power; empty where it is not for the wearer.

    >>> from engine.results import Told
    >>> wearer_text(Told(id="pilot", text=""))[:8]
    'You fly.'
    """
    return _row(told.id)["wearer_text"].format_map(told.values)


@cache
def text_values(identity: str) -> tuple[str, ...]:
    """The names of the values that the two texts of a caution need, each once."""
    row = _row(identity)
    parts = string.Formatter().parse(row["text"] + row["wearer_text"])
    return tuple(dict.fromkeys(name for _, name, _, _ in parts if name))


def _of_case(case: Case, judgements: Judgements) -> Iterator[Told]:
    for identity, rule in _ordered(CASE_RULES):
        numbers = limits(identity, judgements=judgements)
        yield from _told(identity, rule(case, *numbers), numbers=numbers)


def _ordered(rules: Mapping[str, Rule]) -> Iterator[tuple[str, Rule]]:
    """The rules in the order of their rows."""
    return ((identity, rules[identity]) for identity in tables.by_id(_TABLE) if identity in rules)


def _told(identity: str, fired: Iterable[Values], *, numbers: tuple[float, ...]) -> Iterator[Told]:
    """One sentence each time a rule fired; a text may also name the first limit."""
    shared = {"limit": numbers[0]} if "limit" in text_values(identity) else {}
    for values in fired:
        filled = {**values, **shared}
        yield Told(id=identity, values=filled, text=_row(identity)["text"].format_map(filled))


def _row(identity: str) -> Mapping[str, str]:
    try:
        return tables.by_id(_TABLE)[identity]
    except KeyError:
        raise TableError(f"{_TABLE}.csv has no caution called {identity}") from None
