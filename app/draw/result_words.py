"""Put a result into the words, rows and tables of a page.

Figures are rounded as a person would say them; the tables give the exact ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.draw.svg import cut
from engine import explain, tables, wording
from engine.answer import plans
from engine.answer.options import PRESENT
from engine.case.model import Case, Design
from engine.case.named import published, value_of
from engine.case.results import (
    ClearRange,
    MoveResult,
    OptionResult,
    OptionTarget,
    PlanResult,
    Result,
)
from engine.home.case import HOME_CHECK
from engine.lenses.kinds import KINDS
from engine.wording import capital, hours, hours_between, number

LONGEST_LINE_WORDS = 20
FIRST_WORDS = 10
"""What to do is said in so many words; how sure it is and what is as good follow beside it."""
LONGEST_NAME = 18
"""Signs of the name of a thing to move."""
CLAUSE_ENDS = ".,;:"
LEAST_CUT = 6
"""A clause that ends before this word says too little to stand alone."""
VERDICT_WORDS = {
    "firm": "choice: firm",
    "depends": "choice: depends",
    "toss_up": "choice: toss-up",
    "not_computed": "no recommendation",
}
TAKEN_VERDICT = "your choice"
DESK = "desk"
"""The name of the hours at the desk, where nobody gave them another."""
AGAINST = "against_"
"""How the ids of the reasons against another lens begin."""
WHY_THIS, WHY_NOT, HOW_SURE = "Why this one", "Why not another", "How sure"
WHY_NONE = "Why none"
MINUTES = 60
HOW_TO_MEASURE = {
    "usable_accommodation_d": wording.say("measure_or_range"),
    "blur_tolerance": wording.say("measure_by_range"),
}


@dataclass(frozen=True)
class Line:
    """The one line always in view.

    Attributes:
        range_h: between these the comfortable hours are eight times in ten.
        as_good: names of the plans as good in hours.
    """

    says: str
    verdict: str
    comfortable_h: float | None
    day_h: float
    stop: bool = False
    range_h: tuple[float, float] | None = None
    as_good: tuple[str, ...] = ()

    @property
    def counts(self) -> str:
        """The small print of the answer itself: the range, and what is as good."""
        parts = [hours_between(*self.range_h)] if self.range_h is not None else []
        parts += [f"as good: {', '.join(self.as_good)}"] if self.as_good else []
        return "; ".join(parts)


def lens_name(kind: str) -> str:
    """Return the name of a kind of lens among opticians."""
    return tables.by_id("lens_kinds")[kind]["optician_name"]


NO_PLAN = "no recommendation"
"""In place of a verdict, where none is given and nothing is wrong with the eyes."""


def option_name(option: OptionResult) -> str:
    """Return what a row of the day bars is called."""
    return plans.option_name(option)


def design_words(option: OptionResult) -> str:
    """Return the orderable numbers of a lens, as the order and the command line say them."""
    return explain.design_words(option) or "no added power"


def recommendation_line(case: Case, result: Result, *, plan: PlanResult | None = None) -> Line:
    """Return what to do first, in ten words where its names allow, how sure that is, and its hours.

    plan: the one in view, where the user took another than the one put first.
    """
    first = result.chosen
    if result.stops:
        return Line(_short(result.stops[0].text), "stop", None, case.day_h, stop=True)
    if to_type := still_to_type(case):
        return Line(wording.say("line_type", what=to_type), NO_PLAN, None, case.day_h)
    if first is None:
        told = result.recommendation.reasons
        why = told[0].text if told else wording.say("line_none")
        return Line(_short(why), NO_PLAN, None, case.day_h)
    if plan is not None and plan.plan != first.plan:
        return _plan_line(plan, case, result, verdict=TAKEN_VERDICT)
    move = result.recommendation.move_first
    if move is not None:
        says = _short(_move_words(move))
        return Line(says, verdict_words(result), move.after_h, case.day_h)
    as_good = tuple(
        plan_name(result.plan(one.plan), result) for one in result.recommendation.as_good
    )
    return _plan_line(first, case, result, verdict=verdict_words(result), as_good=as_good)


def still_to_type(case: Case) -> str:
    """Say what a case from home still lacks of the prescription; nothing where it has enough.

    The check asks for no power. Young eyes need no add, but theirs are not known either.
    """
    if HOME_CHECK not in case.extensions or case.wearer.add_d is not None:
        return ""
    if case.wearer.age_years >= tables.Judgements.standard().no_add_from_years:
        return "the add"
    return "the prescription" if case.is_assumed("/wearer/right/sphere_d") else ""


def _plan_line(
    plan: PlanResult, case: Case, result: Result, *, verdict: str, as_good: tuple[str, ...] = ()
) -> Line:
    return Line(
        says=_plan_words(plan, case, result),
        verdict=verdict,
        comfortable_h=plan.comfortable_h,
        day_h=case.day_h,
        range_h=plan.comfortable_range_h,
        as_good=as_good,
    )


def _move_words(move: MoveResult) -> str:
    """Return what to move; a move that is put first needs no new glasses. A long name is cut."""
    name = f"the {cut(move.target, LONGEST_NAME)}"
    what = capital(wording.move(name, **move.change.model_dump()))
    return wording.say("line_move", move=what)


def verdict_words(result: Result) -> str:
    """Return how sure the recommendation is, in a word."""
    return "provisional" if result.provisional else VERDICT_WORDS[result.recommendation.verdict]


def sure_lines(result: Result) -> list[str]:
    """Return how sure the recommendation is, in sentences with their numbers."""
    said = result.recommendation
    share, loss_h = said.clearly_better_share, said.expected_loss_h
    if said.plan is None or share is None or loss_h is None:
        return []
    lines = [f"{capital(explain.VERDICTS[said.verdict])}."]
    if times := round(100 * share):
        lost = round(MINUTES * loss_h)
        costs = "under a minute" if lost < 1 else "1 minute" if lost == 1 else f"{lost} minutes"
        lines.append(wording.say("sure_better", times=times, minutes=costs))
    if result.provisional:
        lines.append(wording.say("sure_provisional"))
    return lines


def plan_name(plan: PlanResult, result: Result) -> str:
    """Return what a plan is called: its pairs."""
    return " + ".join(option_name(result.option(pair.option)) for pair in plan.pairs)


def _plan_words(plan: PlanResult, case: Case, result: Result) -> str:
    options = [result.option(pair.option) for pair in plan.pairs]
    if len(options) == 1:
        (option,) = options
        name = lens_name(option.kind)
        if option.option == PRESENT:
            return _short(wording.say("line_keep", lens=name))
        is_new = plan.new_pairs or not KINDS[option.kind].is_lens
        said = name if is_new else option_name(option)
        return _short(wording.say("line_one", lens=capital(said), day=day_words(case)))
    said = wording.say("line_two", pairs=", ".join(worn_words(plan, result)))
    if len(said.split()) > FIRST_WORDS:
        said = wording.say("line_two", pairs=plan_name(plan, result).replace(" + ", " and "))
    return _short(said)


def day_words(case: Case) -> str:
    """Return the hours that one pair is for: those at the desk where nothing else is in them.

    >>> from engine.case.read import read_case
    >>> from engine.examples import path_of
    >>> day_words(read_case(path_of("low_24in")))
    'the 6 hours at the desk'
    """
    said = hours(case.day_h)
    unit = "hour" if said == "1" else "hours"
    at_desk = [one.name for one in case.activities] == [DESK]
    return f"the {said} {unit} at the desk" if at_desk else f"all {said} {unit}"


def worn_words(plan: PlanResult, result: Result) -> list[str]:
    """Return who wears what when: each pair with the parts of the day it is worn for."""
    return [
        f"{option_name(result.option(pair.option))} for {' and '.join(pair.activities)}"
        for pair in plan.pairs
    ]


def _short(text: str) -> str:
    """Return at most twenty words, cut where a clause ends, so that it can still be read aloud."""
    words = text.split()
    if len(words) <= LONGEST_LINE_WORDS:
        return text
    kept = words[:LONGEST_LINE_WORDS]
    whole = [
        place for place, word in enumerate(kept) if word[-1] in CLAUSE_ENDS and place >= LEAST_CUT
    ]
    if whole:
        return " ".join(kept[: whole[-1] + 1]).rstrip(CLAUSE_ENDS) + "."
    return " ".join(kept) + "…"


def next_lines(result: Result) -> list[str]:
    """Return what to measure next, the most worth first, and how where that is not plain."""
    lines = []
    for one in result.recommendation.measure_next:
        how = HOW_TO_MEASURE.get(one.field.rsplit(".", 1)[-1])
        lines.append(" ".join([one.text, how] if how else [one.text]))
    return lines


def flag_notes(result: Result, where: Mapping[str, str]) -> dict[str, str]:
    """Return each doubt about a value, by the field it was typed in."""
    return {
        where[
            flag.field
        ]: f"{value_of(flag.field, flag.value)}; usual: {flag.range}{published(flag)}"
        for flag in result.flags
        if flag.field in where
    }


def reason_groups(result: Result) -> dict[str, list[str]]:
    """Return why this plan, how sure, why not the others; empty groups are left out."""
    said = result.recommendation
    groups = {
        WHY_THIS if said.plan else WHY_NONE: [
            one.text for one in said.reasons if not one.id.startswith(AGAINST)
        ],
        HOW_SURE: sure_lines(result),
        WHY_NOT: [
            *_gathered([one.text for one in said.reasons if one.id.startswith(AGAINST)]),
            *(
                f"{option_name(option)}: {capital('; '.join(_excluding(option)))}."
                for option in result.options
                if option.excluded_by
            ),
        ],
    }
    return {title: [capital(line) for line in lines] for title, lines in groups.items() if lines}


def _gathered(lines: Sequence[str]) -> list[str]:
    """Return one line a lens: what stands against it, and then its hours."""
    found: dict[str, list[str]] = {}
    for line in lines:
        lens, colon, rest = line.partition(": ")
        found.setdefault(lens if colon else "", []).append(rest if colon else line)
    return [
        line
        for lens, rests in found.items()
        for line in ([f"{lens}: {' '.join(map(capital, rests))}"] if lens else rests)
    ]


def _excluding(option: OptionResult) -> list[str]:
    return [wording.say(f"excluded_{name}") for name in option.excluded_by]


def caution_lines(result: Result, options: Sequence[OptionResult]) -> list[str]:
    """List what to mind: of the wearer and the desk first, then of each lens by its name."""
    lines = [capital(told.text) for told in result.cautions]
    return lines + [
        f"{capital(option_name(option))}: {told.text}"
        for option in options
        for told in option.cautions
    ]


def equivalents(option: OptionResult) -> dict[str, Design]:
    """Return the designs of the same kind that suit this day as well, by their words, in order."""
    words = {
        design_words(option.model_copy(update={"design": design})): design
        for design in option.equivalent_designs
    }
    return dict(sorted(words.items()))


NEED_HEADINGS = [
    "looked at",
    "distance, cm",
    "demand, D",
    "added power needed, D",
    "added power with eyes relaxed, D",
    "below eye level, °",
    "angular size of the detail, arcmin",
    "blur limit, D",
]


def need_rows(result: Result) -> list[list[str]]:
    """Return what each thing looked at needs, whatever the lens."""
    return [
        [
            target.target,
            f"{target.distance_cm:.0f}",
            f"{target.demand_d:.2f}",
            _signed(target.needed_add_d),
            _signed(target.relaxed_add_d),
            _degrees(target.declination_deg),
            f"{target.text_arcmin:.1f}",
            f"{target.blur_limit_d:.2f}",
        ]
        for target in result.targets
    ]


TARGET_HEADINGS = [
    "lens, looked at",
    "chin-up with it, °",
    "chin-up with eyes relaxed, °",
    "natural chin-up, °",
    "eyes down, °",
    "comfortable / awkward / blurred / not served, %",
    "in one posture, %",
    "clear from – to, cm",
    "ISO 11226",
    "RULA neck",
    "imbalance, Δ",
]


def target_rows(options: Sequence[OptionResult]) -> list[list[str]]:
    """Return a row for each lens and thing looked at: head, eyes, shares, scales."""
    return [
        [f"{option_name(option)}, {target.target}", *_seen_through(target)]
        for option in options
        for target in option.targets
    ]


def _seen_through(target: OptionTarget) -> list[str]:
    centre, imbalance = target.centre, target.vertical_imbalance_pd
    return [
        _degrees(centre.chin_up_deg),
        _degrees(centre.relaxed_chin_up_deg),
        _degrees(centre.free_chin_up_deg),
        _degrees(centre.gaze_down_deg),
        " / ".join(
            f"{100 * share:.0f}"
            for share in (
                target.comfortable_share,
                target.awkward_share,
                target.blurred_share,
                target.not_served_share,
            )
        ),
        f"{100 * target.one_posture_share:.0f}",
        _range(target.clear_range_cm),
        target.scales.iso11226 or "–",
        "–" if target.scales.rula is None else str(target.scales.rula),
        "–" if imbalance is None else f"{imbalance:.2f}",
    ]


def rule_rows(result: Result) -> list[list[str]]:
    """Return what the rules of thumb would order here, and their error."""
    rows = []
    for target in result.targets:
        if target.rules_of_thumb is None:
            continue
        for name, rule in (
            ("half the add", target.rules_of_thumb.half_add),
            ("the add minus 0.75", target.rules_of_thumb.reader_minus_075),
        ):
            rows.append(
                [
                    target.target,
                    name,
                    "beyond all limits" if rule.focus_cm is None else f"{rule.focus_cm:.0f}",
                    "–" if rule.error_cm is None else number(rule.error_cm, signed=True),
                    _signed(rule.error_d),
                ]
            )
    return rows


RULE_HEADINGS = ["looked at", "rule of thumb", "focuses at, cm", "error, cm", "error, D"]


def _degrees(value: float | None) -> str:
    return "–" if value is None else number(value, places=1)


def _signed(value: float) -> str:
    return number(value, places=2, signed=True)


def _range(clear: ClearRange | None) -> str:
    if clear is None:
        return "–"
    near = "0" if clear.near is None else f"{clear.near:.0f}"
    return f"{near} – {'∞' if clear.far is None else f'{clear.far:.0f}'}"
