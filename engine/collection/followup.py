"""After collection: when to ask, what to ask, and the code that says how it ended.

The dates and codes are a proposal of this program; no published schedule with evidence was found.
Complaints go to `complaints`.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from engine import tables
from engine.case.model import Part
from engine.case.results import ClearRange
from engine.tables import Judgements
from engine.wording import chin as chin_words
from engine.wording import fill, say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from engine.case.model import Case
    from engine.case.results import OptionResult, OptionTarget

PROPOSAL = "our proposal; we found no published schedule with evidence"
NO_END = "any distance"
Stage = Literal["first", "late"]


class Dates(BaseModel):
    """When to ask after a pair has been collected."""

    model_config = ConfigDict(frozen=True)

    first: date
    decide_from: date
    decide_by: date
    standing: str = PROPOSAL


class Question(BaseModel):
    """One thing to ask; target is empty where it is about the pair."""

    model_config = ConfigDict(frozen=True)

    id: str
    target: str
    text: str


class Foretold(Part):
    """Comfortable hours a day as they were predicted, and as the wearer reports them."""

    predicted_h: float = Field(ge=0, le=24)
    reported_h: float = Field(ge=0, le=24)

    @property
    def says(self) -> str:
        """Both in one line.

        >>> Foretold(predicted_h=6.42, reported_h=6).says
        'Predicted 6.4 h; the wearer reports about 6 h.'
        """
        predicted, reported = f"{self.predicted_h:.1f}", f"{self.reported_h:g}"
        return say("collection_foretold", predicted_h=predicted, reported_h=reported)


def foretold_in(extensions: Mapping[str, Any], keys: Sequence[str]) -> tuple[Foretold, ...]:
    """Read what was kept with a case under these keys; what cannot be read is left out."""
    found = []
    for key in keys:
        content = extensions.get(key)
        if isinstance(content, dict) and "foretold" in content:
            with suppress(ValidationError):
                found.append(Foretold.model_validate(content["foretold"]))
    return tuple(found)


def follow_up_dates(*, collected: date, judgements: Judgements | None = None) -> Dates:
    """Return when to ask: as shipped after two weeks, then between four and six.

    >>> str(follow_up_dates(collected=date(2030, 1, 1)).decide_by)
    '2030-02-12'
    """
    judged = judgements or Judgements.standard()
    return Dates(
        first=collected + timedelta(days=judged.follow_up_first_days),
        decide_from=collected + timedelta(days=judged.follow_up_decide_from_days),
        decide_by=collected + timedelta(days=judged.follow_up_decide_by_days),
    )


def far_limit_cm(option: OptionResult) -> float | None:
    """Return how far a pair shows, eyes at rest, straight ahead; None where that has no end."""
    return None if option.covers_distance else option.sees_to_cm


def told_range(clear: ClearRange, option: OptionResult, *, distance_cm: float) -> ClearRange | None:
    """Return where a wearer is told that a target is clear: never farther than the far limit.

    None, for no numbers, where the target itself lies beyond that limit or nearer than it is clear.
    """
    near, far, limit = clear.near, clear.far, far_limit_cm(option)
    if limit is not None and (far is None or far > limit):
        if distance_cm > limit:
            return None
        far = limit
    return None if near is not None and near > distance_cm else ClearRange(near=near, far=far)


def follow_up_questions(*, case: Case, option: OptionResult, stage: Stage) -> tuple[Question, ...]:
    """Return what to ask at one contact, each target with the numbers of its record."""
    distances_cm = {target.name: target.distance_cm for target in case.targets}
    found = []
    for row in tables.rows("follow_up_questions"):
        if row["stage"] not in ("both", stage):
            continue
        if "{target}" not in row["text"]:
            found.append(Question(id=row["id"], target="", text=row["text"]))
            continue
        for target in option.targets:
            values = _values(target, option, distances_cm[target.target])
            if all(values.get(name) is not None for name in _names(row["text"])):
                text = fill("follow_up_questions", row["id"], **values)
                found.append(Question(id=row["id"], target=target.target, text=text))
    return tuple(found)


def _values(
    target: OptionTarget, option: OptionResult, distance_cm: float
) -> dict[str, str | None]:
    clear, chin = target.clear_range_cm, target.centre.chin_up_deg
    if clear is not None:
        clear = told_range(clear, option, distance_cm=distance_cm) or clear
    return {
        "target": target.target,
        "near": None if clear is None else _cm(clear.near),
        "far": None if clear is None else _cm(clear.far),
        "chin": None if chin is None else chin_words(chin),
    }


def _cm(value: float | None) -> str:
    return NO_END if value is None else f"{value:.0f} cm"


def _names(text: str) -> tuple[str, ...]:
    return tuple(name for name in ("near", "far", "chin") if "{" + name + "}" in text)
