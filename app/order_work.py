"""What the Order page works on: the lenses that can be ordered and the order of one. Pure."""

from __future__ import annotations

import re
from typing import Any

from app import telling
from engine.as_worn import rerun
from engine.case import Case, Design
from engine.errors import InputRefusedError
from engine.fields import NAME_PATTERN, NAME_RULE
from engine.lenses import KINDS
from engine.order import order_for
from engine.order_types import Order, OrderDetails
from engine.plans import PRESENT
from engine.results import OptionResult, Result


def orderable(result: Result) -> list[OptionResult]:
    """The lenses that can be made: those of the recommendation first, then the most hours."""
    plan = telling.chosen_plan(result)
    advised = [pair.option for pair in plan.pairs] if plan else []
    made = [one for one in result.options if one.option != PRESENT and KINDS[one.kind].is_lens]
    return sorted(
        made,
        key=lambda one: (
            advised.index(one.option) if one.option in advised else len(advised),
            -round(one.comfortable_h, 3),
        ),
    )


def advised(result: Result) -> list[str]:
    """Options of the recommended plan."""
    plan = telling.chosen_plan(result)
    return [pair.option for pair in plan.pairs] if plan else []


def designs(result: Result, option: OptionResult) -> dict[str, Design]:
    """The designs that can be ordered of one option, by their words; the recommended one first."""
    plan = telling.chosen_plan(result)
    paired = [pair.design for pair in plan.pairs if pair.option == option.option] if plan else []
    found = [*paired, option.design, *option.equivalent_designs]
    return {_design_words(option, one): one for one in found}


def _design_words(option: OptionResult, design: Design) -> str:
    return telling.design_words(option.model_copy(update={"design": design}))


def made_option(case: Case, option: OptionResult, design: Design) -> OptionResult:
    """The option as it is with another of its designs: hours and targets computed for that one."""
    if design == option.design:
        return option
    again = rerun(
        case=case, kind=option.kind, design=design, covers_distance=option.covers_distance
    )
    update: dict[str, Any] = {"design": design, **vars(again)}
    return option.model_copy(update=update)


def order_of(
    *, case: Case, result: Result, option: str, details: OrderDetails, reference: str
) -> Order:
    """The order of one option under a reference, with its gaps.

    Raises
        OrderRefusedError: nothing can be ordered from this answer.
        InputRefusedError: the design is not one of those that are as good.
    """
    named = case.model_copy(update={"label": reference})
    return order_for(case=named, result=result, option=option, details=details)


def checked_reference(text: str, *, otherwise: str) -> str:
    """What the order is called: a label, no name.

    Raises
        InputRefusedError: it breaks the rule of names.
    """
    if not text:
        return otherwise
    if not re.fullmatch(NAME_PATTERN, text):
        raise InputRefusedError(field="order.reference", value=text, allowed=NAME_RULE)
    return text
