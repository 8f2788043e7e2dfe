"""A letter to the prescriber: the fields that can be put in, and only the ticked ones are.

No name, no diagnosis: what was measured at the desk, what it asks of the eyes, and what is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine import tables
from engine.case.model import BOTHER_WORDS, usual_chart_m
from engine.case.named import BASES, doubt_of
from engine.case.prescription import format_eye
from engine.errors import InputRefusedError
from engine.order.gaps import asked_of_prescriber
from engine.order.types import ZONE_WORDS
from engine.tables import Judgements
from engine.wording import at_height, beside, capital, say, tenth

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.case.model import Case, OwnedPair
    from engine.case.results import Result
    from engine.order.types import Order


@dataclass(frozen=True)
class LetterField:
    """One field: what it is called and its lines."""

    id: str
    title: str
    lines: tuple[str, ...]


def letter_fields(
    *, case: Case, result: Result, order: Order | None = None
) -> tuple[LetterField, ...]:
    """Return every field that has something to say, for ticking."""
    made = (
        LetterField("prescription", "Prescription on our record", _prescription(case)),
        LetterField("age", "Age", (f"{case.wearer.age_years:.0f} years",)),
        LetterField("desk", "The desk", _desk(case)),
        LetterField("needs", "Visual demand at the desk", _needs(result)),
        LetterField("accommodation", "Usable accommodation assumed", _usable(result)),
        LetterField("bothers", "What bothers the wearer today", _bothers(case)),
        LetterField("conditions", "History and symptoms", _conditions(case)),
        LetterField("doubts", "Unusual values", _doubts(case, result)),
        LetterField("present_pair", "Worn at the desk now", _pairs(case.owned_pairs[:1])),
        LetterField("other_pairs", "Other pairs owned", _pairs(case.owned_pairs[1:])),
        LetterField("derived", "Powers for your approval", _derived(order)),
        LetterField("questions", "What we ask", _asked(case, result, order)),
    )
    return tuple(one for one in made if one.lines)


def ticked(fields: Sequence[LetterField], *, chosen: Sequence[str]) -> tuple[LetterField, ...]:
    """Return the chosen fields, in the order of the letter.

    Raises
        InputRefusedError: a field that is not there.
    """
    known = {one.id for one in fields}
    for name in chosen:
        if name not in known:
            raise InputRefusedError(field="letter", value=name, allowed=", ".join(sorted(known)))
    return tuple(one for one in fields if one.id in chosen)


def _prescription(case: Case) -> tuple[str, ...]:
    wearer = case.wearer
    lines = [f"Right {format_eye(wearer.right)}", f"Left {format_eye(wearer.left)}"]
    if wearer.near_test_distance_cm is not None:
        lines.append(f"Working distance of the add {wearer.near_test_distance_cm:g} cm")
    if wearer.chart_distance_m != usual_chart_m():
        lines.append(f"Distance of the test chart {wearer.chart_distance_m:g} m")
    return tuple(lines)


def _desk(case: Case) -> tuple[str, ...]:
    lines = []
    for index, target in enumerate(case.targets):
        top, centre = target.top_above_eye_cm, target.centre_above_eye_cm
        edge, above_cm = ("top edge", top) if top is not None else ("centre", centre or 0.0)
        said = {
            "distance_cm": f"{tenth(target.distance_cm)} cm",
            "offset_cm": beside(target.offset_cm),
            f"{edge.split()[0]}_above_eye_cm": f"{edge} {at_height(above_cm)}",
        }
        places = [
            f"{words} (assumed)" if case.is_assumed(f"/targets/{index}/{field}") else words
            for field, words in said.items()
            if words
        ]
        lines.append(f"{target.name}: {', '.join(places)}")
    return tuple(lines)


def _needs(result: Result) -> tuple[str, ...]:
    return tuple(
        f"{one.target}: demand {one.demand_d:.2f} D, added power needed {one.needed_add_d:+.2f} D, "
        f"with eyes relaxed {one.relaxed_add_d:+.2f} D"
        for one in result.targets
    )


def _usable(result: Result) -> tuple[str, ...]:
    usable = result.usable_accommodation_d
    return (f"{usable.value:.2f} D, from {BASES[usable.basis]}",)


def _bothers(case: Case) -> tuple[str, ...]:
    said = [BOTHER_WORDS[one] for one in case.wearer.bothers or ()]
    return tuple(capital(one) for one in said)


def _conditions(case: Case) -> tuple[str, ...]:
    known = tables.by_id("conditions")
    return tuple(f"{known[name]['question']} Yes." for name in case.wearer.conditions)


def _doubts(case: Case, result: Result) -> tuple[str, ...]:
    return tuple(doubt_of(flag, case) for flag in result.flags)


def _pairs(pairs: Sequence[OwnedPair]) -> tuple[str, ...]:
    return tuple(map(_pair, pairs))


def _pair(pair: OwnedPair) -> str:
    """Give a pair in one line: its kind, its own powers where they differ, whether it is liked."""
    said = [tables.by_id("lens_kinds")[pair.kind]["optician_name"]]
    if pair.prescription is not None:
        eyes = (("right", pair.prescription.right), ("left", pair.prescription.left))
        said.append(f"made to {', '.join(f'{side} {format_eye(eye)}' for side, eye in eyes)}")
    if pair.liked is not None:
        said.append("liked" if pair.liked else "not liked")
    return "; ".join(said)


def _derived(order: Order | None) -> tuple[str, ...]:
    if order is None:
        return ()
    lines = []
    for eye in order.eyes:
        for one in eye.powers:
            if one.derived:
                lines.append(f"{capital(eye.side)}, {ZONE_WORDS[one.zone]}: {one.written}")
    if not lines:
        return ()
    if order.power_basis == "at_fitted_vertex" and order.refraction_vertex_mm is not None:
        fitted = order.worn_as("vertex_mm")
        tested = f"{order.refraction_vertex_mm:g}"
        lines.append(say("letter_compensated", tested=tested, fitted=f"{fitted:g}"))
    return (f"Lens: {order.kind_name}", *lines, say("letter_agree_to_powers"))


def _asked(case: Case, result: Result, order: Order | None) -> tuple[str, ...]:
    lines = [told.text for told in result.recommendation.reasons if told.id == "more_plus"]
    if order is not None and any(gap.field == "prescriber_agreed" for gap in order.missing):
        topics = asked_of_prescriber(case, judgements=Judgements.standard())
        lines.append(say("letter_answer_on", topics=topics))
    return tuple(lines)
