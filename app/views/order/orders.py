"""Make the order of a lens, and keep it and the readings of the finished pair with the case.

They are kept as foreign data in the case. The engine does not read this part of a case, so an
answer stays the same answer when it changes.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import ValidationError

from app.draw import result_words
from app.form import keep
from app.form.case_of_answers import EXTENSIONS, UNNAMED
from app.form.compute import Answer
from app.form.pair_records import COLLECTIONS, ORDERS
from app.form.plan_taken import ORDERED_BY_HAND, SECOND_BY_HAND
from app.views.order import pairs, typed_order
from app.views.order.typed_order import LAB
from engine.answer.options import redesigned
from engine.case.model import NAME_PATTERN, NAME_RULE, OLD_POWER_FALLS, Case, Design
from engine.case.results import OptionResult, PlanResult, Result
from engine.collection.followup import Foretold
from engine.errors import InputRefusedError
from engine.files.practice import Practice
from engine.lenses.kinds import KINDS, POWER_FALL_WORDS
from engine.order.make import is_made, order_for
from engine.order.types import Order, OrderDetails
from engine.tables import Judgements
from engine.units import day_words


def orderable(result: Result, *, plan: PlanResult | None) -> list[OptionResult]:
    """Return the lenses that can be made: those of the plan first, then the most hours."""
    worn = options_of(plan)
    made = [one for one in result.options if is_made(one)]
    return sorted(
        made,
        key=lambda one: (
            worn.index(one.option) if one.option in worn else len(worn),
            -round(one.comfortable_h, 3),
        ),
    )


def options_of(plan: PlanResult | None) -> list[str]:
    """Return the options of a plan."""
    return [] if plan is None else [pair.option for pair in plan.pairs]


def designs(option: OptionResult) -> dict[str, Design]:
    """Return the designs of one option that can be ordered, by their words; the answered first."""
    return {result_words.design_words(option): option.design, **result_words.equivalents(option)}


def made_option(
    case: Case, option: OptionResult, design: Design, *, kept: dict[str, Any] | None = None
) -> OptionResult:
    """Return the option with another of its designs: hours, targets and cautions of that one.

    kept: where the last one is kept, with the draft.
    """
    if design == option.design:
        return option
    held = {} if kept is None else kept
    asked = (case.digest(), option.option, design)
    if held.get("made", (None,))[0] != asked:
        again = redesigned(option, design, case, judgements=Judgements.standard())
        held["made"] = (asked, again)
    found: OptionResult = held["made"][1]
    return found


def order_of(
    *, case: Case, result: Result, option: str, details: OrderDetails, reference: str
) -> Order:
    """Return the order of one option under a reference, with its gaps.

    Raises
        OrderRefusedError: nothing can be ordered from this answer.
        InputRefusedError: the design is not one of those that are as good.
    """
    named = case.model_copy(update={"label": reference})
    return order_for(case=named, result=result, option=option, details=details)


def draft_order(
    answer: Answer,
    values: Mapping[str, Any],
    *,
    pair: str,
    usual: Practice,
    option: str | None = None,
) -> Order | None:
    """Return the order of a pair in a draft, bare where a detail is refused; None without a lens.

    option: the lens, where the draft names none yet.

    Raises
        OrderRefusedError: nothing can be ordered from this answer.
        InputRefusedError: the reference is no name, or a detail does not fit the lens.
    """
    own = pairs.of_pair(values, pair)
    name = option or own.get("order.option")
    options = {one.option: one for one in orderable(answer.result, plan=None)}
    if name not in options:
        return None
    found = designs(options[name])
    details, _ = typed_order.read_details(
        own,
        option=name,
        design=found.get(own.get(typed_order.widget("design", name))) or options[name].design,
        lab=typed_order.lab_designs(own.get(LAB)),
        usual=usual.usual(),
    )
    reference = checked_reference(
        str(own.get(typed_order.REFERENCE) or "").strip(),
        otherwise=pairs.reference(called(values), pair),
    )
    return order_of(
        case=answer.case,
        result=answer.result,
        option=name,
        details=details or OrderDetails(),
        reference=reference,
    )


def called(values: Mapping[str, Any]) -> str:
    """Return the label of the case on every page and sheet: the kept one, else a word for none."""
    return str(values.get(keep.LABEL) or UNNAMED)


def checked_reference(text: str, *, otherwise: str) -> str:
    """Return what the order is called: a label, no name.

    Raises
        InputRefusedError: it breaks the rule of names.
    """
    if not text:
        return otherwise
    if not re.fullmatch(NAME_PATTERN, text):
        raise InputRefusedError(field="order.reference", value=text, allowed=NAME_RULE)
    return text


PREFIXES = {
    ORDERS["1"]: ("order.",),
    ORDERS["2"]: ("order2.", "fit2."),
    COLLECTIONS["1"]: ("collection.", "complaint."),
    COLLECTIONS["2"]: ("collection2.", "complaint2."),
}
_NOT_KEPT = ("order.letter.",)


@dataclass(frozen=True)
class KeptOrder:
    """An order as it stood when it was kept.

    Attributes:
        kept_on: the day, as a person writes it.
        same_case: whether the case is still the one that was ordered for.
    """

    order: Order
    kept_on: str
    same_case: bool


def typed_under(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Return the typed texts of a page, without the rest of a laboratory's list."""
    found = {
        name: value
        for name, value in values.items()
        if name.startswith(PREFIXES[key]) and not name.startswith(_NOT_KEPT)
    }
    chosen = {value for name, value in found.items() if name.endswith(".lab_design")}
    own = pairs.naming("2")(LAB) if key == ORDERS["2"] else LAB
    if own in found or (key == ORDERS["2"] and chosen and LAB in values):
        rows = found.get(own) or values.get(LAB) or ()
        found[own] = [row for row in rows if row["design"] in chosen]
    return found


def with_order(
    values: Mapping[str, Any], *, order: Order, case: Case, today: date, pair: str = "1"
) -> dict:
    """Give the foreign data of a draft with this order in it; the order of the other pair stays."""
    content = {
        "kept_on": today.isoformat(),
        "case": _digest(case),
        "order": order.model_dump(mode="json"),
        "typed": typed_under(values, ORDERS[pair]),
    }
    return {**(values.get(EXTENSIONS) or {}), ORDERS[pair]: content}


def with_readings(
    values: Mapping[str, Any], *, today: date, pair: str = "1", foretold: Foretold | None = None
) -> dict:
    """Return the foreign data of a draft with the readings and the follow-up of one pair in it."""
    key = COLLECTIONS[pair]
    content: dict[str, Any] = {"kept_on": today.isoformat(), "typed": typed_under(values, key)}
    if foretold is not None:
        content["foretold"] = foretold.model_dump()
    return {**(values.get(EXTENSIONS) or {}), key: content}


def rekeyed(kept: dict[str, Any], extensions: Mapping[str, Any]) -> None:
    """Keep the answers of a draft, for either pair, for the case with other foreign data."""
    for pair in pairs.PAIRS:
        held = pairs.results(kept, pair)
        last: Answer | None = held.get("answer")
        if last is not None:
            case = last.case.model_copy(update={"extensions": dict(extensions)})
            result = last.result.model_copy(update={"case_digest": case.digest()})
            held["answer"] = Answer(case, result)


def kept_order(case: Case, *, pair: str = "1") -> KeptOrder | None:
    """Return the order of a pair kept with a case; None where there is none that can be read."""
    content = case.extensions.get(ORDERS[pair])
    if not isinstance(content, dict):
        return None
    try:
        order = Order.model_validate(content.get("order"))
    except ValidationError:
        return None
    if not all(eye.powers for eye in order.eyes):
        return None
    return KeptOrder(order, kept_on(content), content.get("case") == _digest(case))


def kept_on(content: Mapping[str, Any]) -> str:
    """Return the day an order or readings were kept on, as a person writes it.

    >>> kept_on({"kept_on": "2030-01-02"}), kept_on({"kept_on": "no day"})
    ('2 January 2030', 'no day')
    """
    told = str(content.get("kept_on", ""))
    try:
        return day_words(date.fromisoformat(told))
    except ValueError:
        return told


def typed_before(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Return texts kept with the case, for a draft that has none of its own yet."""
    content = (values.get(EXTENSIONS) or {}).get(key)
    typed = content.get("typed") if isinstance(content, dict) else None
    own = [name for name in values if name.startswith(PREFIXES[key])]
    if not isinstance(typed, dict) or set(own) - {ORDERED_BY_HAND, SECOND_BY_HAND}:
        return {}
    return {
        name: _in_present_words(name, value)
        for name, value in typed.items()
        if name.startswith(PREFIXES[key]) and isinstance(value, str | bool | list)
    }


def _in_present_words(name: str, value: Any) -> Any:
    """Return a choice as it is offered now: one kept earlier says a shape, or an add alone."""
    if not name.endswith(".design") or not isinstance(value, str):
        return value
    kind = KINDS.get(name.split(".")[1])
    if kind is not None and kind.is_single_vision and value.startswith("add "):
        return f"{value.removeprefix('add ')} over distance"
    for shape, fall in OLD_POWER_FALLS.items():
        value = value.replace(f"shape {shape}", f"power falls {POWER_FALL_WORDS[fall]}")
    return value


def _digest(case: Case) -> str:
    """Return the digest of everything the engine reads of a case."""
    return case.model_copy(update={"extensions": {}}).digest()
