"""Put a result into the words, rows and tables of a page.

Figures are rounded as a person would say them; the tables give the exact ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.shell.words import hours
from engine import explain, tables
from engine.answer import plans
from engine.case.model import Case
from engine.case.results import (
    ClearRange,
    DeskFirst,
    OptionResult,
    OptionTarget,
    PlanResult,
    Result,
)

LONGEST_LINE_WORDS = 20
LEAST_CUT = 6
"""A clause that ends before this word says too little to stand alone."""
VERDICT_WORDS = {
    "firm": "firm",
    "depends": "depends on one measurement",
    "toss_up": "toss-up",
    "not_computed": "not yet tested",
}
EXCLUDED_WORDS = {
    "line_not_accepted": "A visible line is not accepted.",
    "frame_too_shallow": "The frame is too shallow for any of its corridors.",
}
"""Exclusions without a caution of the same id."""
LONGEST_NAME_WORDS = 4
AGAINST = "against_"
"""How the ids of the reasons against another lens begin."""
WHY_THIS, WHY_NOT, WHAT_WOULD = "Why this one", "Why not another", "What would change it"
WHY_NONE = "Why none"
HOW_TO_MEASURE = {
    "usable_accommodation_d": "The amplitude gives it, or a clear range taped on the Desk page.",
    "blur_tolerance": "A clear range taped on the Desk page gives it.",
}


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


def design_words(option: OptionResult) -> str:
    """The orderable numbers of a lens, as the order and the command line say them."""
    return explain.design_words(option) or "no added power"


def recommendation_line(case: Case, result: Result) -> Line:
    """The recommendation in at most twenty words, its verdict and its hours."""
    chosen = chosen_plan(result)
    if result.stops:
        return Line(_short(result.stops[0].text), "stop", None, case.day_h, stop=True)
    if chosen is None:
        told = result.recommendation.reasons
        why = told[0].text if told else "No lens can be recommended for this day."
        return Line(_short(why), "stop", None, case.day_h, stop=True)
    verdict = verdict_words(result)
    move = result.recommendation.desk_first
    if move is not None:
        return Line(_move_first(move, case), verdict, move.comfortable_h, case.day_h)
    return Line(_plan_words(chosen, result), verdict, chosen.comfortable_h, case.day_h)


def verdict_words(result: Result) -> str:
    """How sure the recommendation is, in a few words."""
    verdict = result.recommendation.verdict
    if result.provisional:
        return "provisional"
    if verdict == "depends" and result.recommendation.depends_on is None:
        return "not firm"
    return VERDICT_WORDS[verdict]


def chosen_plan(result: Result) -> PlanResult | None:
    """The recommended plan."""
    name = result.recommendation.plan
    return next((plan for plan in result.plans if plan.plan == name), None)


def _plan_words(plan: PlanResult, result: Result) -> str:
    kinds = [lens_name(result.option(pair.option).kind) for pair in plan.pairs]
    if len(kinds) == 1:
        worn = plan.pairs[0].option == plans.PRESENT
        said = f"keep the present {kinds[0]}" if worn else f"{kinds[0]} for the whole day"
        return _short(capital(said) + ".")
    whole = "; ".join(_worn_words(plan, result))
    if len(whole.split()) > LONGEST_LINE_WORDS - 2:
        whole = " and ".join(kinds)
    return _short(f"Two pairs: {whole}.")


def _worn_words(plan: PlanResult, result: Result) -> list[str]:
    """Who wears what when: each pair with the parts of the day it is worn for."""
    return [
        f"{option_name(result.option(pair.option))} for {' and '.join(pair.activities)}"
        for pair in plan.pairs
    ]


def _move_first(move: DeskFirst, case: Case) -> str:
    """What to move, and what the pair at hand gives then: free, so it comes before any lens."""
    name = " ".join(move.target.split()[:LONGEST_NAME_WORDS])
    gives = f"{hours(move.comfortable_h)} of {hours(case.day_h)} h"
    if move.option == plans.PRESENT:
        then = f"the present glasses then give {gives}"
    else:
        then = f"one {lens_name(move.option)} then gives {gives}"
    amount = f"{abs(move.change_cm):.0f} cm"
    if move.field == "distance_cm":
        way = "farther away" if move.change_cm > 0 else "nearer"
        return f"Move the {name} {amount} {way}: {then}."
    return f"{'Raise' if move.change_cm > 0 else 'Lower'} the {name} by {amount}: {then}."


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


def _short(text: str) -> str:
    """At most twenty words, cut where a clause ends, so that it can still be read aloud."""
    words = text.split()
    if len(words) <= LONGEST_LINE_WORDS:
        return text
    kept = words[:LONGEST_LINE_WORDS]
    whole = [place for place, word in enumerate(kept) if word[-1] in ".,;" and place >= LEAST_CUT]
    if whole:
        return " ".join(kept[: whole[-1] + 1]).rstrip(".,;") + "."
    return " ".join(kept) + " …"


def next_words(result: Result, *, assumed_paths: Sequence[str]) -> str | None:
    """What to measure again, once the answer is tested and something decides it."""
    said, decides = result.recommendation.what_would_change, result.recommendation.depends_on
    if not said or decides is None:
        return None
    parts = [said[0].text]
    if decides.field in assumed_paths:
        parts.append("It is assumed so far.")
    how = HOW_TO_MEASURE.get(decides.field.rsplit(".", 1)[-1])
    return " ".join([*parts, how] if how else parts)


def flag_notes(result: Result, where: Mapping[str, str]) -> dict[str, str]:
    """Each doubt about a value, by the field it was typed in."""
    return {
        where[
            flag.field
        ]: f"{_plain(flag.value)} is used, but is usually {flag.range}: {flag.source}"
        for flag in result.flags
        if flag.field in where
    }


def reason_groups(result: Result) -> dict[str, list[str]]:
    """Why this plan, why not the others, what would change it; empty groups are left out."""
    said = result.recommendation
    groups = {
        WHY_THIS if said.plan else WHY_NONE: [
            one.text for one in said.reasons if not one.id.startswith(AGAINST)
        ],
        WHY_NOT: [
            *_gathered([one.text for one in said.reasons if one.id.startswith(AGAINST)]),
            *(
                f"{option_name(option)} is left out. {' '.join(_excluding(option))}"
                for option in result.options
                if option.excluded_by
            ),
        ],
        WHAT_WOULD: [told.text for told in said.what_would_change],
    }
    return {title: [capital(line) for line in lines] for title, lines in groups.items() if lines}


def _gathered(lines: Sequence[str]) -> list[str]:
    """One line a lens: what stands against it, and then its hours."""
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
    texts = {told.id: told.text for told in option.cautions} | EXCLUDED_WORDS
    return [texts.get(name, name.replace("_", " ") + ".") for name in option.excluded_by]


def caution_lines(result: Result, options: Sequence[OptionResult]) -> list[str]:
    """What to mind: of the wearer and the desk first, then of each of these lenses."""
    lines = [capital(told.text) for told in result.cautions]
    for option in options:
        lead = f"{capital(option_name(option))}: " if len(options) > 1 else ""
        lines += [capital(lead + told.text) for told in option.cautions]
    return lines


def equivalent_lines(option: OptionResult) -> list[str]:
    """Designs of the same kind that serve this day as well."""
    return [
        design_words(option.model_copy(update={"design": design}))
        for design in option.equivalent_designs
    ]


def _plain(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


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
