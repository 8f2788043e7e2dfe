"""What is answered: every frozen result type, and the version of the numbers in it.

`to_json` rounds what it writes, so the same case gives the same bytes.
"""

from __future__ import annotations

import json
from typing import Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

from engine.case.model import Design

RESULTS_VERSION = "6"
"""Raised whenever the same case may get another number; DEVELOPERS.md says by how much."""

PLACES = 3
HOURS_PLACES = 2
Grade = Literal["comfortable", "awkward", "blurred", "not_served"]
GRADES: tuple[Grade, ...] = get_args(Grade)
"""Sharp with ease; sharp with more of chin, eyes or head; usable though blurred; the rest."""
Verdict = Literal["firm", "depends", "toss_up", "not_computed"]
Basis = Literal["amplitude", "add", "age", "measured_range", "condition"]


class _Answer(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FlagResult(_Answer):
    """A doubt about a value that was computed with."""

    field: str
    value: float | str
    range: str
    source: str


class Told(_Answer):
    """A reason or caution: a row of sentences.csv or cautions.csv with its values filled in."""

    id: str
    values: dict[str, Any] = {}
    text: str


class RuleOfThumb(_Answer):
    """What a rule of thumb would order here, and how far off it is."""

    focus_cm: float | None = Field(description="where it focuses, relaxed; null beyond all limits")
    error_cm: float | None = Field(description="focus minus the target's distance")
    error_d: float = Field(description="its power minus the relaxed need")


class RulesOfThumb(_Answer):
    """The two rules most often used."""

    half_add: RuleOfThumb
    reader_minus_075: RuleOfThumb


class TargetResult(_Answer):
    """What one target asks for, whatever the lens."""

    target: str
    distance_cm: float
    demand_d: float
    needed_add_d: float
    relaxed_add_d: float
    declination_deg: float
    blur_limit_d: float
    text_arcmin: float
    rules_of_thumb: RulesOfThumb | None = Field(description="null where no add is known")


class RowResult(_Answer):
    """One row of a target (top, centre or bottom) through one lens."""

    row: Literal["top", "centre", "bottom"]
    chin_up_deg: float | None
    relaxed_chin_up_deg: float | None
    free_chin_up_deg: float
    gaze_down_deg: float | None
    drop_mm: float | None
    blur_at_free_d: float | None


class ClearRange(_Answer):
    """Nearest and farthest clear distance where the target is looked at; null = no limit."""

    near: float | None
    far: float | None


class Scales(_Answer):
    """What two published scales say of the head at the centre row; never part of the grade."""

    iso11226: str | None
    rula: int | None


class OptionTarget(_Answer):
    """One target through one lens, as measured; details at the middle of what is clear."""

    target: str
    comfortable_share: float
    awkward_share: float
    blurred_share: float
    not_served_share: float
    one_posture_share: float
    clear_width_cm: float | None
    head_turn_deg: float | None
    clear_range_cm: ClearRange | None
    vertical_imbalance_pd: float | None
    scales: Scales
    rows: tuple[RowResult, ...]

    @property
    def centre(self) -> RowResult:
        """Its middle row."""
        return next(row for row in self.rows if row.row == "centre")


class Hours(_Answer):
    """Hours of the day by grade."""

    comfortable_h: float
    awkward_h: float
    blurred_h: float
    not_served_h: float

    def by_grade(self) -> tuple[float, ...]:
        """Return the hours in the order of GRADES."""
        return self.comfortable_h, self.awkward_h, self.blurred_h, self.not_served_h


def not_served_h(day_h: float, *served_h: float) -> float:
    """Return what the other grades leave of a day, never below 0.

    >>> not_served_h(7.0, 4.0, 2.0, 0.5)
    0.5
    """
    for hours in served_h:
        day_h -= hours
    return max(day_h, 0.0)


class AsMeasured(Hours):
    """What a lens shows if nothing that was measured or assumed is off."""

    targets: tuple[OptionTarget, ...]


class Expected(Hours):
    """Hours of the day by grade: the mean over what may really be.

    Attributes:
        comfortable_range_h: the comfortable hours are inside this eight times in ten.
    """

    comfortable_range_h: tuple[float, float]


class OptionResult(Expected):
    """The best lens of one kind, or a pair owned, over the day."""

    option: str
    kind: str
    design: Design
    equivalent_designs: tuple[Design, ...] = ()
    recommendable: bool
    excluded_by: tuple[str, ...] = ()
    covers_distance: bool
    sees_to_cm: float | None = Field(description="eyes at rest, straight ahead; null: no limit")
    as_measured: AsMeasured
    cautions: tuple[Told, ...] = ()

    @property
    def targets(self) -> tuple[OptionTarget, ...]:
        """The targets through it, as measured."""
        return self.as_measured.targets

    def through(self, target: str) -> OptionTarget:
        """Return one of them by its name."""
        return next(one for one in self.targets if one.target == target)


class PairResult(_Answer):
    """One pair of a plan and the activities it is worn for."""

    option: str
    design: Design
    activities: tuple[str, ...]


class PlanResult(Expected):
    """One or more pairs that share the day between them."""

    plan: str
    pairs: tuple[PairResult, ...]
    new_pairs: int
    swaps: int
    if_not_swapped_h: float | None = Field(
        None, description="comfortable hours if one pair is worn all day; null for one pair"
    )
    cost: float | None = None
    as_measured: Hours


class AsGood(_Answer):
    """A plan as good in hours, and the rule that put it behind."""

    plan: str
    comfortable_h: float
    behind_by: str
    text: str


class MoreHours(_Answer):
    """A plan that brings more hours and was not worth its price."""

    plan: str
    comfortable_h: float
    more_h: float
    new_pairs: int
    text: str


class Change(_Answer):
    """A change of place of a screen, each in its own unit; 0 where it stays."""

    up_cm: float = 0.0
    farther_cm: float = 0.0
    tilt_deg: float = 0.0


class MoveResult(_Answer):
    """A free change at the desk, and what it brings to one plan.

    Attributes:
        put_first: it comes before any lens: at the moved desk the plan is the one to choose.
    """

    target: str
    change: Change
    plan: str
    before_h: float
    after_h: float
    put_first: bool
    text: str


class MeasureNext(_Answer):
    """An input worth measuring, with the hours a day its knowledge saves.

    Attributes:
        turns_at: the value at which another plan is better; null where there is no single one.
        assumed: nobody measured it yet.
    """

    field: str
    worth_h: float
    turns_at: float | None
    unit: str
    assumed: bool
    text: str


class Recommendation(_Answer):
    """What to do, how sure, and why.

    Attributes:
        put_first_by: the rule that decided between plans as good in hours; see `choice.RULES`.
        clearly_better_share: how often another plan is clearly better.
        expected_loss_h: hours a day the best other plan brings beyond its price, on average.
    """

    plan: str | None
    put_first_by: str | None = None
    verdict: Verdict
    clearly_better_share: float | None = None
    expected_loss_h: float | None = None
    as_good: tuple[AsGood, ...] = ()
    more_hours: tuple[MoreHours, ...] = ()
    moves: tuple[MoveResult, ...] = ()
    measure_next: tuple[MeasureNext, ...] = ()
    reasons: tuple[Told, ...] = ()

    @property
    def move_first(self) -> MoveResult | None:
        """The free change at the desk that comes before any lens."""
        return next((move for move in self.moves if move.put_first), None)


class Usable(_Answer):
    """Usable accommodation and where it comes from."""

    value: float
    basis: Basis


class Result(_Answer):
    """The whole answer to a case."""

    schema_: Literal[1] = Field(1, alias="schema")
    results_version: str = RESULTS_VERSION
    case_digest: str
    usable_accommodation_d: Usable
    provisional: bool = False
    flags: tuple[FlagResult, ...]
    stops: tuple[Told, ...] = Field((), description="red flags: nothing is recommended")
    targets: tuple[TargetResult, ...]
    options: tuple[OptionResult, ...]
    cautions: tuple[Told, ...] = Field((), description="whatever the lens")
    plans: tuple[PlanResult, ...]
    recommendation: Recommendation

    def option(self, name: str) -> OptionResult:
        """Return the option of that name.

        Raises
            KeyError: there is none.
        """
        return {one.option: one for one in self.options}[name]

    def plan(self, name: str) -> PlanResult:
        """Return the plan of that name.

        Raises
            KeyError: there is none.
        """
        return {one.plan: one for one in self.plans}[name]

    @property
    def chosen(self) -> PlanResult | None:
        """The plan put first; None where none is."""
        name = self.recommendation.plan
        return None if name is None else self.plan(name)

    @property
    def chosen_options(self) -> tuple[OptionResult, ...]:
        """The options that are pairs of the plan put first, in the order of all options."""
        pairs = () if self.chosen is None else self.chosen.pairs
        names = {pair.option for pair in pairs}
        return tuple(one for one in self.options if one.option in names)

    def to_json(self) -> str:
        """Write one JSON object, hours to two places, other floats to three; always the same."""
        content = _rounded(self.model_dump(mode="json", by_alias=True))
        for option in content["options"]:
            option["design"] = _given(option["design"])
            option["equivalent_designs"] = [_given(one) for one in option["equivalent_designs"]]
        for plan in content["plans"]:
            for pair in plan["pairs"]:
                pair["design"] = _given(pair["design"])
        return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False)


def _given(design: dict[str, Any]) -> dict[str, Any]:
    """Return the numbers of a design that are stated."""
    return {name: value for name, value in design.items() if value is not None}


def _rounded(value: Any, key: str = "") -> Any:
    """Round every float in a document; hours coarser, by their key."""
    if isinstance(value, float):
        return round(value, HOURS_PLACES if key.endswith("_h") else PLACES) + 0.0
    if isinstance(value, dict):
        return {name: _rounded(inner, name) for name, inner in value.items()}
    return [_rounded(inner, key) for inner in value] if isinstance(value, list) else value
