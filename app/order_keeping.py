"""An order and the readings of the finished pair kept with their case, as foreign data in it.

Pure: no page library. The engine does not read this part of a case, so an answer stays the same
answer when it changes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import ValidationError

from app.asking import EXTENSIONS
from app.compute import Answer
from app.order_typed import LAB
from engine.case import Case
from engine.order_types import Order

ORDER, PICKUP = "levelgaze_order", "levelgaze_pickup"
PREFIXES = {ORDER: ("order.",), PICKUP: ("pickup.", "complaint.")}
_NOT_KEPT = ("order.letter.",)


@dataclass(frozen=True)
class KeptOrder:
    """An order as it stood when it was kept.

    Attributes:
        same_case: whether the case is still the one that was ordered for.
    """

    order: Order
    kept_on: str
    same_case: bool


def typed_under(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    """The typed texts of a page, without the rest of a laboratory's list."""
    found = {
        name: value
        for name, value in values.items()
        if name.startswith(PREFIXES[key]) and not name.startswith(_NOT_KEPT)
    }
    if LAB in found:
        chosen = {value for name, value in found.items() if name.endswith(".lab_design")}
        found[LAB] = [row for row in found[LAB] or () if row["design"] in chosen]
    return found


def with_order(values: Mapping[str, Any], *, order: Order, case: Case, today: date) -> dict:
    """The foreign data of a draft with this order in it."""
    content = {
        "kept_on": today.isoformat(),
        "case": _digest(case),
        "order": order.model_dump(mode="json"),
        "typed": typed_under(values, ORDER),
    }
    return {**(values.get(EXTENSIONS) or {}), ORDER: content}


def with_readings(values: Mapping[str, Any], *, today: date) -> dict:
    """The foreign data of a draft with the readings and the follow-up in it."""
    content = {"kept_on": today.isoformat(), "typed": typed_under(values, PICKUP)}
    return {**(values.get(EXTENSIONS) or {}), PICKUP: content}


def rekeyed(kept: dict[str, Any], extensions: Mapping[str, Any]) -> None:
    """Keep the answers of a draft for the case with other foreign data."""
    for name in ("answer", "tested"):
        last: Answer | None = kept.get(name)
        if last is not None:
            case = last.case.model_copy(update={"extensions": dict(extensions)})
            result = last.result.model_copy(update={"case_digest": case.digest()})
            kept[name] = Answer(case, result)


def kept_order(case: Case) -> KeptOrder | None:
    """The order kept with a case; None where there is none that can be read."""
    content = case.extensions.get(ORDER)
    if not isinstance(content, dict):
        return None
    try:
        order = Order.model_validate(content.get("order"))
    except ValidationError:
        return None
    if not all(eye.powers for eye in order.eyes):
        return None
    return KeptOrder(order, str(content.get("kept_on", "")), content.get("case") == _digest(case))


def typed_before(values: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Texts kept with the case, for a draft that has none of its own yet."""
    content = (values.get(EXTENSIONS) or {}).get(key)
    typed = content.get("typed") if isinstance(content, dict) else None
    if not isinstance(typed, dict) or any(name.startswith(PREFIXES[key]) for name in values):
        return {}
    return {
        name: value
        for name, value in typed.items()
        if name.startswith(PREFIXES[key]) and isinstance(value, str | bool | list)
    }


def _digest(case: Case) -> str:
    """Of everything the engine reads of a case."""
    return case.model_copy(update={"extensions": {}}).digest()
