"""From a result to the words and rows a page shows. Pure: no page library, nothing computed anew.

Figures are rounded as a person would say them; the tables give the exact ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.charts import DayBar
from app.words import hours
from engine import plans, tables
from engine.case import Case, Design
from engine.results import ClearRange, OptionResult, OptionTarget, PlanResult, Result

LONGEST_LINE_WORDS = 20
VERDICT_WORDS = {
    "firm": "firm",
    "depends": "depends",
    "toss_up": "toss-up",
    "not_computed": "not yet tested",
}
EXCLUDED_WORDS = {"line_not_accepted": "A visible line is not accepted."}


@dataclass(frozen=True)
class Line:
    """The one line always in view."""

    says: str
    verdict: str
    comfortable_h: float | None
    day_h: float
    stop: bool = False


def lens_name(kind: str) -> str:
    """The name of a kind of lens among opticians."""
    return tables.by_id("lens_kinds")[kind]["optician_name"]


def option_name(option: OptionResult) -> str:
    """What a row of the day bars is called."""
    return plans.option_name(option.option, option.kind)


def design_words(design: Design) -> str:
    """The orderable numbers of a lens in the order an optician says them."""
    said = []
    if design.near_add_d is not None:
        said.append(f"near {design.near_add_d:+.2f}")
    if design.upper_add_d is not None:
        said.append(f"upper {design.upper_add_d:+.2f}")
    if design.add_d is not None:
        said.append(f"add {design.add_d:+.2f}")
    if design.degression_d is not None:
        said.append(f"degression {design.degression_d:.2f}")
    if design.corridor_mm is not None:
        said.append(f"corridor {design.corridor_mm:g} mm")
    if design.shape is not None:
        said.append(f"{design.shape} shape")
    if design.line_drop_mm is not None:
        said.append(f"line {design.line_drop_mm:g} mm below the fitting point")
    return ", ".join(said) or "no added power"


def recommendation_line(case: Case, result: Result) -> Line:
    """The recommendation in at most twenty words, its verdict and its hours."""
    chosen = chosen_plan(result)
    verdict = VERDICT_WORDS[result.recommendation.verdict]
    if result.provisional:
        verdict = "provisional"
    if result.stops:
        return Line(_short(result.stops[0].text), "stop", None, case.day_h, stop=True)
    if chosen is None:
        told = result.recommendation.reasons
        why = told[0].text if told else "No lens can be recommended for this day."
        return Line(_short(why), "stop", None, case.day_h, stop=True)
    move = result.recommendation.desk_first
    said = _plan_words(chosen, result)
    if move is not None:
        said = (
            f"First move the {move.target} {_move_words(move.field, move.change_cm)}; then {said}"
        )
    hours_then = move.comfortable_h if move else chosen.comfortable_h
    return Line(_short(capital(said) + "."), verdict, hours_then, case.day_h)


def chosen_plan(result: Result) -> PlanResult | None:
    """The recommended plan."""
    name = result.recommendation.plan
    return next((plan for plan in result.plans if plan.plan == name), None)


def _plan_words(plan: PlanResult, result: Result) -> str:
    kinds = [lens_name(result.option(pair.option).kind) for pair in plan.pairs]
    if len(kinds) == 1:
        worn = plan.pairs[0].option == plans.PRESENT
        return f"keep the present {kinds[0]}" if worn else f"{kinds[0]} for the whole day"
    return " and ".join(
        f"{kind} for {' and '.join(pair.activities)}"
        for kind, pair in zip(kinds, plan.pairs, strict=True)
    )


def _move_words(field: str, change_cm: float) -> str:
    amount = f"{abs(change_cm):.0f} cm"
    if field == "distance_cm":
        return f"{amount} {'away' if change_cm > 0 else 'nearer'}"
    if field == "tilt_deg":
        return f"by {abs(change_cm):.0f} degrees of tilt"
    return f"{amount} {'up' if change_cm > 0 else 'down'}"


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


def _short(text: str) -> str:
    words = text.split()
    if len(words) <= LONGEST_LINE_WORDS:
        return text
    return " ".join(words[:LONGEST_LINE_WORDS]).rstrip(",;.") + " …"


def first_look(result: Result) -> list[OptionResult]:
    """Present pair, best general, best office or computer lens; most comfortable hours first."""
    present = [option for option in result.options if option.option == plans.PRESENT]
    general = [o for o in result.options if o.option == "general_progressive"]
    desk = [o for o in result.options if o.option in ("office", "sv_computer")]
    best_desk = sorted(desk, key=_best_first)[:1]
    shown = {option.option: option for option in [*present, *general, *best_desk]}
    chosen = chosen_plan(result)
    for pair in chosen.pairs if chosen else ():
        shown[pair.option] = result.option(pair.option)
    return sorted(shown.values(), key=_best_first)


def all_options(result: Result) -> list[OptionResult]:
    """Every lens, most comfortable hours first."""
    return sorted(result.options, key=_best_first)


def _best_first(option: OptionResult) -> tuple[float, float]:
    return -round(option.comfortable_h, 3), -round(option.reserve_h, 3)


def bars(options: Sequence[OptionResult], *, chosen: str) -> list[DayBar]:
    """Day bars of these options."""
    return [
        DayBar(
            label=option_name(option),
            comfortable_h=option.comfortable_h,
            strained_h=option.strained_h,
            not_served_h=option.not_served_h,
            chosen=option.option == chosen,
        )
        for option in options
    ]


def option_caption(option: OptionResult) -> str:
    """One lens in a line: its numbers and its hours."""
    return f"{design_words(option.design)}: {hours(option.comfortable_h)} h comfortable"


NEED_HEADINGS = [
    "looked at",
    "distance, cm",
    "asks, D",
    "needed add, D",
    "add with focusing at rest, D",
    "below level, °",
    "text, arcmin",
    "blur limit, D",
]


def need_rows(result: Result) -> list[list[str]]:
    """What each thing looked at asks for, whatever the lens."""
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
    "chin up with it, °",
    "with focusing at rest, °",
    "head left free, °",
    "eye down, °",
    "comfortable / strained / not served, %",
    "in one posture, %",
    "clear from – to, cm",
    "ISO 11226",
    "RULA neck",
    "imbalance, Δ",
]


def target_rows(options: Sequence[OptionResult]) -> list[list[str]]:
    """A row for each lens and thing looked at: head, eyes, shares, scales."""
    return [
        [f"{option_name(option)}, {target.target}", *_seen_through(target)]
        for option in options
        for target in option.targets
    ]


def _seen_through(target: OptionTarget) -> list[str]:
    centre = next((row for row in target.rows if row.row == "centre"), target.rows[0])
    imbalance = target.vertical_imbalance_pd
    return [
        _degrees(centre.chin_up_deg),
        _degrees(centre.relaxed_chin_up_deg),
        _degrees(centre.free_chin_up_deg),
        _degrees(centre.gaze_down_deg),
        " / ".join(
            f"{100 * share:.0f}"
            for share in (target.comfortable_share, target.strained_share, target.not_served_share)
        ),
        f"{100 * target.one_posture_share:.0f}",
        _range(target.clear_range_cm),
        target.scales.iso11226 or "–",
        "–" if target.scales.rula is None else str(target.scales.rula),
        "–" if imbalance is None else f"{imbalance:.2f}",
    ]


def rule_rows(result: Result) -> list[list[str]]:
    """What the rules of thumb would order here, and their error."""
    rows = []
    for target in result.targets:
        if target.rules_of_thumb is None:
            continue
        for name, rule in (
            ("half the add", target.rules_of_thumb.half_add),
            ("reader minus 0.75", target.rules_of_thumb.reader_minus_075),
        ):
            rows.append(
                [
                    target.target,
                    name,
                    "beyond all limits" if rule.focus_cm is None else f"{rule.focus_cm:.0f}",
                    "–" if rule.error_cm is None else _minus(f"{rule.error_cm:+.0f}"),
                    _signed(rule.error_d),
                ]
            )
    return rows


RULE_HEADINGS = ["looked at", "rule of thumb", "focuses at, cm", "error, cm", "error, D"]


def _degrees(value: float | None) -> str:
    return "–" if value is None else _minus(f"{round(value, 1) + 0.0:.1f}")


def _signed(value: float) -> str:
    return _minus(f"{round(value, 2) + 0.0:+.2f}")


def _minus(text: str) -> str:
    """A typographic minus, which does not break off from its number."""
    return text.replace("-", "−")


def _range(clear: ClearRange | None) -> str:
    if clear is None:
        return "–"
    near = "0" if clear.near is None else f"{clear.near:.0f}"
    return f"{near} – {'∞' if clear.far is None else f'{clear.far:.0f}'}"


def flag_notes(result: Result, where: Mapping[str, str]) -> dict[str, str]:
    """Each doubt about a value, by the field it was typed in."""
    return {
        where[
            flag.field
        ]: f"{_plain(flag.value)} is used, but is usually {flag.range}: {flag.source}"
        for flag in result.flags
        if flag.field in where
    }


def other_doubts(result: Result, where: Mapping[str, str]) -> list[str]:
    """Doubts about values that were not typed in a field of their own."""
    return [
        f"{flag.field}: {_plain(flag.value)}, usually {flag.range}: {flag.source}"
        for flag in result.flags
        if flag.field not in where
    ]


def reason_lines(result: Result) -> list[str]:
    """Why this plan, why not the others, what would change it."""
    said = result.recommendation
    against = [
        f"{capital(option_name(option))} is left out. {' '.join(_excluding(option))}"
        for option in result.options
        if option.excluded_by
    ]
    lines = [told.text for told in said.reasons] + against
    return lines + [told.text for told in said.what_would_change]


def _excluding(option: OptionResult) -> list[str]:
    texts = {told.id: told.text for told in option.cautions} | EXCLUDED_WORDS
    return [texts.get(name, name.replace("_", " ") + ".") for name in option.excluded_by]


def caution_lines(result: Result, option: OptionResult) -> list[str]:
    """What to mind: of the wearer and the desk first, then of this lens."""
    return [told.text for told in (*result.cautions, *option.cautions)]


def equivalent_lines(option: OptionResult) -> list[str]:
    """Designs of the same kind that serve this day as well."""
    return [design_words(design) for design in option.equivalent_designs]


def _plain(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"
