"""Keep pair one and pair two apart: each has its own names in a draft, and its own results.

Every page reads one pair through `of_pair`, under the names of pair one. The wearer and the day are
the same for both; frame, measures, order, readings and acceptance are each pair's own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from app.form.case_of_answers import FIT_FIELDS
from app.form.typed import LOADED
from app.views.order.typed_order import LAB

PAIRS = ("1", "2")
"""The pairs that can be ordered for one wearer."""
IN_VIEW = "view.pair"
"""Where a draft holds which pair the pages show."""
SECOND = {
    "order.": "order2.",
    "fit.": "fit2.",
    "collection.": "collection2.",
    "complaint.": "complaint2.",
}
"""First letters of the names of pair one, and of the same value of pair two."""
_SHARED = ("order.old.", "order.letter.", "order.lab_forgotten")
_RESULTS = "pair 2"
FRAME = (
    *[f"fit.{name}" for name in FIT_FIELDS],
    "fit.fitting_height_mm",
    "order.effective_diameter_mm",
    "order.shape_trace",
    "order.frame",
)
"""What belongs to a frame."""


def naming(pair: str) -> Callable[[str], str]:
    """Return what turns a name of pair one into the name under which a draft holds it.

    >>> naming("2")("order.tint"), naming("2")("pd"), naming("1")("order.tint")
    ('order2.tint', 'pd', 'order.tint')
    """
    return _second if pair == "2" else str


def _second(name: str) -> str:
    if name.startswith(_SHARED):
        return name
    return next(
        (new + name.removeprefix(old) for old, new in SECOND.items() if name.startswith(old)), name
    )


def _first(name: str) -> str | None:
    """Return the name of pair one for a name of pair two; None where it is none."""
    return next(
        (old + name.removeprefix(new) for old, new in SECOND.items() if name.startswith(new)), None
    )


def of_pair(values: Mapping[str, Any], pair: str) -> dict[str, Any]:
    """Return the values of a draft as if the pair were the only one.

    A laboratory's list that was loaded for pair one serves pair two until it has one of its own.
    """
    if pair != "2":
        return dict(values)
    found = _swapped(values)
    found[LOADED] = _swapped(values.get(LOADED) or {})
    found[LAB] = found.get(LAB) or values.get(LAB) or []
    return found


def _swapped(values: Mapping[str, Any]) -> dict[str, Any]:
    kept = {name: value for name, value in values.items() if _second(name) == name}
    own = {first: value for name, value in values.items() if (first := _first(name)) is not None}
    return {name: value for name, value in kept.items() if _first(name) is None} | own


def results(kept: dict[str, Any], pair: str) -> dict[str, Any]:
    """Return where a draft keeps what was computed for this pair."""
    found: dict[str, Any] = kept if pair != "2" else kept.setdefault(_RESULTS, {})
    return found


def same_frame(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the frame of pair one as typed values of pair two, without what nobody measured."""
    brought = values.get(LOADED) or {}
    return {
        _second(name): values[name]
        for name in FRAME
        if values.get(name) and brought.get(name, (None,))[0] != values[name]
    }


def reference(label: str, pair: str) -> str:
    """Return what an order is called until it is given a reference, so that two pairs differ.

    >>> reference("A12", "1"), reference("A12", "2")
    ('A12', 'A12-2')
    """
    return label if pair != "2" else f"{label[:38]}-2"
