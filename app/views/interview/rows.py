"""The lines of the day bars: one pair for the whole day, or two that share it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.draw import result_words
from app.draw.charts import DayBar
from engine.answer import plans
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult, Result
from engine.lenses.kinds import KINDS

MOST_TWO_PAIRS = 3


@dataclass(frozen=True)
class Row:
    """One line of the day bars: one pair for the whole day, or two pairs that share it.

    Attributes:
        name: of the option or the plan.
        pairs: each lens with the parts of the day it is worn for.
    """

    name: str
    label: str
    pairs: tuple[tuple[OptionResult, tuple[str, ...]], ...]
    comfortable_h: float
    strained_h: float
    not_served_h: float
    reserve_h: float
    swaps: int = 0
    cost: float | None = None

    @property
    def options(self) -> tuple[OptionResult, ...]:
        """Its lenses."""
        return tuple(option for option, _ in self.pairs)

    def seen_through(self, target: str, case: Case) -> OptionResult:
        """The lens worn while a target is looked at."""
        looked = {act.name for act in case.activities if target in [k.target for k in act.looks]}
        worn = [option for option, activities in self.pairs if looked & set(activities)]
        return worn[0] if worn else self.options[0]


def option_row(option: OptionResult, result: Result) -> Row:
    """One pair for the whole day."""
    plan = next((plan for plan in result.plans if plan.plan == option.option), None)
    return Row(
        name=option.option,
        label=result_words.option_name(option),
        pairs=((option, plan.pairs[0].activities if plan else ()),),
        comfortable_h=option.comfortable_h,
        strained_h=option.strained_h,
        not_served_h=option.not_served_h,
        reserve_h=option.reserve_h,
        cost=plan.cost if plan else None,
    )


def plan_row(plan: PlanResult, result: Result) -> Row:
    """A plan of two pairs."""
    pairs = tuple((result.option(pair.option), pair.activities) for pair in plan.pairs)
    return Row(
        name=plan.plan,
        label=" + ".join(result_words.option_name(option) for option, _ in pairs),
        pairs=pairs,
        comfortable_h=plan.comfortable_h,
        strained_h=plan.strained_h,
        not_served_h=plan.not_served_h,
        reserve_h=plan.reserve_h,
        swaps=plan.swaps,
        cost=plan.cost,
    )


def first_look(result: Result) -> list[Row]:
    """Present pair, best general, best office or computer lens, best two pairs, and the advised.

    Most comfortable hours first; every lens where none of these was computed.
    """
    present = [option for option in result.options if option.option == plans.PRESENT]
    new = [option for option in result.options if option not in present]
    general = [option for option in new if KINDS[option.kind].has_corridor]
    desk = [option_row(option, result) for option in new if _is_for_the_desk(option)]
    rows = [option_row(option, result) for option in (*present, *general)]
    rows += sorted(desk, key=_best_first)[:1] + _two_pairs(result, most=1)
    chosen = result_words.chosen_plan(result)
    if chosen is not None:
        pairs, only = len(chosen.pairs), chosen.pairs[0].option
        rows.append(
            plan_row(chosen, result) if pairs > 1 else option_row(result.option(only), result)
        )
    return sorted({row.name: row for row in rows}.values(), key=_best_first) or all_rows(result)


def _is_for_the_desk(option: OptionResult) -> bool:
    return KINDS[option.kind].is_office_or_computer


def all_rows(result: Result) -> list[Row]:
    """Every lens and the best plans of two pairs, most comfortable hours first."""
    rows = [option_row(option, result) for option in result.options]
    return sorted(rows + _two_pairs(result, most=MOST_TWO_PAIRS), key=_best_first)


def _two_pairs(result: Result, *, most: int) -> list[Row]:
    """Plans of two pairs; the advised one stands first in the result, then the most hours."""
    return [plan_row(plan, result) for plan in result.plans if len(plan.pairs) > 1][:most]


def _best_first(row: Row) -> tuple[float, float]:
    return -round(row.comfortable_h, 3), -round(row.reserve_h, 3)


def bars(rows: Sequence[Row], *, chosen: str) -> list[DayBar]:
    """Day bars of these rows."""
    return [
        DayBar(
            label=row.label,
            comfortable_h=row.comfortable_h,
            strained_h=row.strained_h,
            not_served_h=row.not_served_h,
            chosen=row.name == chosen,
        )
        for row in rows
    ]


def worn_lines(rows: Sequence[Row]) -> list[str]:
    """Who wears what when, the swaps and the cost; single pairs only where they have a price."""
    return [line for row in rows if (line := _worn_line(row))]


def _worn_line(row: Row) -> str:
    cost = "" if row.cost is None else f" Cost {money(row.cost)}."
    if len(row.pairs) == 1:
        return f"{result_words.capital(row.label)}:{cost}" if cost else ""
    worn = "; ".join(
        f"{result_words.option_name(option)} for {' and '.join(activities)}"
        for option, activities in row.pairs
    )
    swaps = "1 swap" if row.swaps == 1 else f"{row.swaps} swaps"
    return f"Two pairs: {worn}. {swaps} a day.{cost}"


def money(amount: float) -> str:
    """A price in the user's own currency."""
    return f"{amount:.0f}" if amount == int(amount) else f"{amount:.2f}"
