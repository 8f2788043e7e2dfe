"""What the Desk page holds with a draft until the case is another: looks, changed desks. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

from app.form.compute import Answer
from engine.answer.options import PRESENT
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult, Result
from engine.desk import screen, stations
from engine.desk.places import moved
from engine.desk.screen import Sight, Way
from engine.desk.stations import Stations
from engine.tables import Judgements

T = TypeVar("T")

_KEPT = "desk"
IN_VIEW = ""
"""To look through whatever plan the pages follow."""


def kept_for(kept: dict[str, Any], case: Case) -> dict[Any, Any]:
    """Return what this page asked the engine for a case; another case starts anew."""
    work: dict[Any, Any] = kept.setdefault(_KEPT, {"case": case})
    if work["case"] != case:
        work.clear()
        work["case"] = case
    return work


def once(work: dict[Any, Any], key: Any, ask: Callable[[], T]) -> T:
    """Return a value asked for unless this draft holds it already."""
    if key not in work:
        work[key] = ask()
    found: T = work[key]
    return found


@dataclass(frozen=True)
class Look:
    """One screen through a plan, or through one option worn all day.

    Attributes:
        name: of the plan or the option. options: its pairs.
        there: what the suggested move brings; None where none is suggested.
    """

    name: str
    options: tuple[OptionResult, ...]
    index: int
    sight: Sight
    there: Way | None

    def screen(self, case: Case) -> str:
        """Return the screen as the user calls it."""
        return case.targets[self.index].name


def look_at(work: dict[Any, Any], answer: Answer, name: str, index: int) -> Look:
    """Return one screen through a plan or an option; its move with the plan to choose there."""
    case, result, judged = answer.case, answer.result, Judgements.standard()
    found = once(
        work,
        ("sight", name, index),
        lambda: screen.sight(case, result, name, index, judgements=judged),
    )
    there = None
    if found.move is not None:
        there_case = moved(case, index, found.move.place)
        there = changed(work, answer, name, ("moved", index), there_case)
    options = tuple(result.option(one) for one in name.split("+"))
    return Look(name, options, index, found, there)


def changed(work: dict[Any, Any], answer: Answer, name: str, what: Any, desk: Case) -> Way:
    """Return a changed desk: what is looked through held there, and the best plan there."""
    judged = Judgements.standard()
    return once(
        work,
        ("way", name, what),
        lambda: screen.way(answer.case, answer.result, name, desk, judgements=judged),
    )


def all_stations(work: dict[Any, Any], case: Case) -> Stations | None:
    """Return the one lens that serves every part of the day best."""
    return once(work, "stations", lambda: stations.stations(case, judgements=Judgements.standard()))


def names_in_order(result: Result, plan: PlanResult | None) -> list[str]:
    """Return what may be looked through: the plan in view, the pair at hand, then by hours."""
    rest = sorted(result.options, key=lambda one: (one.option != PRESENT, -one.comfortable_h))
    return [*([] if plan is None else [IN_VIEW]), *(one.option for one in rest)]
