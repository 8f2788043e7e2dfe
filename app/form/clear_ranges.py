"""Clear distances taped through a trial power: from typed texts to the ranges of a case.

Pure: no page library. A draft holds them as range0.trial_add_d, range0.nearest_clear_cm and so on,
and range.used; `into_case` puts those that can be used into a case.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from app.form.typed import Refused, Typed, reader_of
from engine.case.model import Case, MeasuredRange
from engine.case.named import BASES
from engine.case.read import refusals
from engine.case.scene import calibration_of, usable_of
from engine.errors import InputRefusedError
from engine.optics.accommodation import Calibration
from engine.tables import Judgements
from engine.wording import say

MOST = 3
"""Ranges a page asks for; a case takes more."""
USED = "range.used"
NEEDED = ("trial_add_d", "nearest_clear_cm", "farthest_clear_cm")
ASKED = (*NEEDED, "text_arcmin")
DEVIATIONS = 1.96
"""Of a normal error on either side of a 95 % interval."""


@dataclass(frozen=True)
class Taped:
    """One range that was typed whole and can be that of an eye."""

    number: int
    range: MeasuredRange

    @property
    def fitted(self) -> Calibration:
        """Its focusing and blur tolerance."""
        return self.range.fitted()


@dataclass(frozen=True)
class Reading:
    """What was typed.

    Attributes:
        taped: the ranges that can be used.
        unfinished: numbers of the ranges of which a value is still missing.
    """

    taped: tuple[Taped, ...]
    refused: Refused
    unfinished: tuple[int, ...]


def widget(number: int, name: str) -> str:
    """Return the name under which the draft holds a value of a range."""
    return f"range{number}.{name}"


def read(values: Mapping[str, Any], case: Case) -> Reading:
    """Return the ranges typed in a draft; `engine.case.model` alone decides what is allowed."""
    typed, taped, unfinished = Typed(values), list[Taped](), list[int]()
    for number in range(MOST):
        texts = {name: typed.text(widget(number, name)) for name in ASKED}
        numbers = {name: typed.parsed(widget(number, name), reader_of(name)) for name in ASKED}
        content = {name: value for name, value in numbers.items() if value is not None}
        if len(content) < sum(map(bool, texts.values())):
            continue
        given = [name for name in NEEDED if texts[name]]
        if len(given) < len(NEEDED):
            alone = _alone(content)
            typed.refused.update({widget(number, name): one for name, one in alone.items()})
            unfinished += [number] if given and not alone else []
            continue
        found = _checked(content, case)
        if isinstance(found, InputRefusedError):
            typed.refused[widget(number, found.field.rsplit(".", 1)[-1])] = found
        else:
            taped.append(Taped(number, found))
    return Reading(tuple(taped), typed.refused, tuple(unfinished))


def _alone(content: dict[str, float]) -> Refused:
    """Return what is refused of a range that is not whole yet, by its field."""
    try:
        MeasuredRange.model_validate(content)
    except ValidationError as error:
        found = refusals(error, model=MeasuredRange)
        return {one.field: one for one in found if one.field in content}
    return {}


def _checked(content: dict[str, float], case: Case) -> MeasuredRange | InputRefusedError:
    whole = {**case.model_dump(by_alias=True), "measured_ranges": (content,)}
    try:
        return Case.model_validate(whole).measured_ranges[0]
    except ValidationError as error:
        return refusals(error)[0]


def into_case(case: Case, values: Mapping[str, Any]) -> Case:
    """Return the case with the ranges of a draft in place of its own, or without any."""
    used = values.get(USED, True)
    ranges = tuple(one.range for one in read(values, case).taped) if used else ()
    return case.model_copy(update={"measured_ranges": ranges})


def fitted_words(taped: Taped) -> str:
    """Return the fitted focusing and tolerance of one range with their intervals."""
    found = taped.fitted
    return say(
        "range_fitted",
        focusing=_with_interval(found.usable_d, found.usable_sd_d),
        tolerance=_with_interval(found.tolerance_d, found.tolerance_sd_d),
        text_arcmin=f"{taped.range.text_arcmin:g}",
    )


def _with_interval(value_d: float, deviation_d: float) -> str:
    low, high = (max(0.0, value_d + way * DEVIATIONS * deviation_d) for way in (-1, 1))
    return f"{value_d + 0.0:.2f} D ({low:.2f} to {high:.2f} D)"


def used_words(case: Case) -> str:
    """Return what the ranges of a case change in its answer."""
    judgements = Judgements.standard()
    fitted = calibration_of(case)
    without = case.model_copy(update={"measured_ranges": ()})
    before_d, basis = usable_of(without, judgements=judgements)
    if fitted is None:
        return say("range_not_used", before_d=f"{before_d:.2f}", basis=BASES[basis])
    now_d, now_basis = usable_of(case, judgements=judgements)
    values = {"now_d": f"{now_d:.2f}", "tolerance": f"{fitted.tolerance_d:.2f}"}
    if now_basis != "measured_range":
        return say("range_used_for_blur", basis=BASES[now_basis], **values)
    return say("range_used", before_d=f"{before_d:.2f}", basis=BASES[basis], **values)
