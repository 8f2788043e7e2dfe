"""The lines of the day bars: one pair for the whole day, or two that share it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.draw import result_words
from app.draw.charts import Bar
from app.form import plan_taken
from engine.case.model import Case
from engine.case.results import Expected, OptionResult, OptionTarget, PlanResult, Result
from engine.lenses.kinds import KINDS
from engine.wording import capital

MOST_TWO_PAIRS = 3


@dataclass(frozen=True)
class Row:
    """One line of the day bars: one pair for the whole day, or two pairs that share it.

    Attributes:
        name: of the option or the plan.
        pairs: each lens with the parts of the day it is worn for.
        hours: of the day by grade, as expected.
    """

    name: str
    label: str
    pairs: tuple[tuple[OptionResult, tuple[str, ...]], ...]
    hours: Expected
    swaps: int = 0
    cost: float | None = None

    @property
    def options(self) -> tuple[OptionResult, ...]:
        """Its lenses."""
        return tuple(option for option, _ in self.pairs)

    def seen_through(self, target: str, case: Case) -> OptionResult:
        """Return the lens worn while a target is looked at."""
        looked = {act.name for act in case.activities if target in [k.target for k in act.looks]}
        worn = [option for option, activities in self.pairs if looked & set(activities)]
        return worn[0] if worn else self.options[0]


def option_row(option: OptionResult, case: Case, result: Result) -> Row:
    """Return one pair for the whole day."""
    plan = next((plan for plan in result.plans if plan.plan == option.option), None)
    whole_day = tuple(activity.name for activity in case.activities)
    return Row(
        name=option.option,
        label=result_words.option_name(option),
        pairs=((option, whole_day),),
        hours=option,
        cost=plan.cost if plan else None,
    )


def plan_row(plan: PlanResult, case: Case, result: Result) -> Row:
    """Return a plan of one pair or two."""
    if len(plan.pairs) == 1:
        return option_row(result.option(plan.pairs[0].option), case, result)
    pairs = tuple((result.option(pair.option), pair.activities) for pair in plan.pairs)
    return Row(
        name=plan.plan,
        label=result_words.plan_name(plan, result),
        pairs=pairs,
        hours=plan,
        swaps=plan.swaps,
        cost=plan.cost,
    )


def first_look(case: Case, result: Result, *, plans: Sequence[PlanResult] = ()) -> list[Row]:
    """List what is owned, the best general, office or computer lens, two pairs, and these plans.

    What a button offers in place of the plan put first is among them. Most comfortable hours first;
    every lens where none of these was computed.
    """
    owned = [option for option in result.options if option.option != option.kind]
    new = [option for option in result.options if option not in owned]
    general = [option for option in new if KINDS[option.kind].has_corridor]
    desk = [option_row(one, case, result) for one in new if KINDS[one.kind].is_office_or_computer]
    rows = [option_row(option, case, result) for option in (*owned, *general)]
    rows += sorted(desk, key=_best_first)[:1] + _two_pairs(case, result, most=1)
    chosen = [] if result.chosen is None else [result.chosen]
    offered = [*plan_taken.as_good(result), *plan_taken.more_hours(result)]
    chosen += [result.plan(one.plan) for one in offered]
    rows += [plan_row(plan, case, result) for plan in (*chosen, *plans)]
    by_name = {row.name: row for row in rows}
    return sorted(by_name.values(), key=_best_first) or all_rows(case, result)


def all_rows(case: Case, result: Result, *, plans: Sequence[PlanResult] = ()) -> list[Row]:
    """List every lens, the best plans of two pairs and these plans, most hours first."""
    rows = [option_row(option, case, result) for option in result.options]
    rows += _two_pairs(case, result, most=MOST_TWO_PAIRS)
    rows += [plan_row(plan, case, result) for plan in plans]
    return sorted({row.name: row for row in rows}.values(), key=_best_first)


def _two_pairs(case: Case, result: Result, *, most: int) -> list[Row]:
    """Return plans of two pairs in the order of the result: first choice, then the most hours."""
    doubles = [plan for plan in result.plans if len(plan.pairs) > 1]
    return [plan_row(plan, case, result) for plan in doubles[:most]]


def _best_first(row: Row) -> tuple[float, float]:
    return -round(row.hours.comfortable_h, 3), -round(row.hours.awkward_h, 3)


def bars(rows: Sequence[Row], *, chosen: str) -> list[Bar]:
    """Return the day bars of these rows."""
    return [Bar(row.label, row.hours, chosen=row.name == chosen) for row in rows]


def worn_lines(rows: Sequence[Row]) -> list[str]:
    """Say who wears what when, the swaps and the cost; a single pair only where it has a price."""
    return [line for row in rows if (line := _worn_line(row))]


def _worn_line(row: Row) -> str:
    cost = "" if row.cost is None else f" Cost {money(row.cost)}."
    if len(row.pairs) == 1:
        return f"{capital(row.label)}:{cost}" if cost else ""
    worn = "; ".join(
        f"{result_words.option_name(option)} for {' and '.join(activities)}"
        for option, activities in row.pairs
    )
    swaps = "1 swap" if row.swaps == 1 else f"{row.swaps} swaps"
    return f"Two pairs: {worn}. {swaps} a day.{cost}"


def money(amount: float) -> str:
    """Return a price in the user's own currency."""
    return f"{amount:.0f}" if amount == int(amount) else f"{amount:.2f}"


def usable(target: OptionTarget) -> bool:
    """Tell whether most of a target can be used, sharp or not."""
    return target.not_served_share < 0.5
