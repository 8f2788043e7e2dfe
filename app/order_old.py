"""The pair worn so far as typed on the Order page, and its changes as rows. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.order_typed import made
from app.telling import capital
from app.typed import Typed
from engine.case import Case
from engine.errors import InputRefusedError
from engine.order_types import Order
from engine.pair_change import OldPair, PairChange, pair_changes
from engine.prescription_doubts import eyes_swapped
from engine.prescription_text import parse_prescription

POWERS, CENTRATION, HEIGHT, TILT = (
    f"order.old.{name}" for name in ("powers", "pd", "height_mm", "pantoscopic_deg")
)
HEADINGS = ("what", "eye", "old pair", "this order", "change", "note")
POINTED_OUT = "look at this"
_UNITS = {"deg": "°", "prism dioptre": " prism dioptres", "D": " D", "mm": " mm"}
_PLACES = {"deg": 0, "mm": 1, "D": 2, "prism dioptre": 2}


@dataclass(frozen=True)
class Old:
    """What was typed of the old pair; no pair where its powers are not there, or are refused."""

    pair: OldPair | None
    refused: dict[str, InputRefusedError]


def read_old(answers: Mapping[str, Any]) -> Old:
    """The old pair of the typed texts."""
    typed = Typed(answers)
    text = typed.text(POWERS)
    if not text:
        return Old(None, {})
    try:
        typed.put("powers", parse_prescription(text, field=POWERS), widget=POWERS)
    except InputRefusedError as refusal:
        typed.refused[POWERS] = refusal
    typed.pair(CENTRATION, one=None, each=("pd_right_mm", "pd_left_mm"))
    typed.pair(HEIGHT, one=None, each=("height_right_mm", "height_left_mm"))
    typed.number("pantoscopic_deg", widget=TILT, counted=False)
    return Old(made(typed, OldPair), typed.refused)


def compared(*, order: Order, old: OldPair, case: Case) -> tuple[PairChange, ...]:
    """The changes, those that are pointed out first."""
    found = pair_changes(order=order, old=old, case=case)
    return tuple(sorted(found, key=lambda one: not one.large))


def change_rows(changes: Sequence[PairChange]) -> list[list[str]]:
    """One row a change; the last cell says which are pointed out."""
    return [
        [
            one.name,
            one.side,
            one.old,
            one.new,
            f"{one.size:.{_PLACES[one.unit]}f}{_UNITS[one.unit]}",
            POINTED_OUT if one.large else "",
        ]
        for one in changes
    ]


def notes(changes: Sequence[PairChange], *, old: OldPair, case: Case) -> list[str]:
    """What to do about the changes that are pointed out, each once."""
    said = []
    if eyes_swapped(case.wearer.prescription, earlier=old.powers):
        said.append(
            "Right and left may be exchanged: the order fits the old pair better with its eyes the "
            "other way round. Look at the prescription again."
        )
    for one in changes:
        if one.large:
            said.append(f"{capital(one.name)}: {one.says}")
    return list(dict.fromkeys(said))
