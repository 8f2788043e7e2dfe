"""The answer for a person at a terminal: 80 columns, plain text."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from engine.answer.plans import option_name
from engine.answer.sources import told
from engine.case.named import BASES, doubt_of, published
from engine.lenses.kinds import KINDS
from engine.wording import chin, hours, hours_between, number, tenth

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.answer.sources import Source
    from engine.case.model import Case
    from engine.case.results import OptionResult, PlanResult, Result, RowResult, Told

WIDTH = 80
_BAR = 24
VERDICTS = {
    "firm": "firm: another plan is hardly ever clearly better",
    "depends": "depends: what is not known may make another plan better",
    "toss_up": "toss-up: another plan is as likely to be clearly better",
    "not_computed": "not compared with others",
}
_REASONS_SHOWN = 6
_FEWEST_H = 0.1


def explain(case: Case, result: Result) -> str:
    """Write the recommendation, the day, and the table of needed add, gaze and chin-up."""
    parts = [_headline(case, result), _stops(result), _beside(result), _day(case, result)]
    parts += [_looks(result)]
    parts += [_cautions(result), _flags(case, result)]
    return "\n\n".join("\n".join(part) for part in map(list, parts) if part) + "\n"


def explain_sources(rests_on: tuple[Source, ...]) -> str:
    """Write what an answer rests on, the strongest first."""
    lines = ["What this answer rests on"]
    for strength, each in told(rests_on):
        lines.append(strength)
        for line in each:
            lines += _wrapped(line, first="- ", rest="  ")
    return "\n".join(lines) + "\n"


def explain_told(said: Told) -> str:
    """Return one more sentence about an answer."""
    return "\n".join(_wrapped(said.text, first="> ", rest="  ")) + "\n"


def design_words(option: OptionResult) -> str:
    """Return the orderable numbers of a design in words.

    >>> from engine.case.results import AsMeasured, OptionResult
    >>> from engine.case.model import Design
    >>> design_words(OptionResult(option="office", kind="office", recommendable=True,
    ...     design=Design(near_add_d=2.0, degression_d=1.0, power_fall="slow"), comfortable_h=1,
    ...     comfortable_range_h=(1, 1), awkward_h=0, blurred_h=0, not_served_h=0, sees_to_cm=100,
    ...     covers_distance=False, as_measured=AsMeasured(comfortable_h=1, awkward_h=0, blurred_h=0,
    ...         not_served_h=0, targets=())))
    'near +2.00, top +1.00, power falls slowly'
    """
    return KINDS[option.kind].design_words(option.design)


def _headline(case: Case, result: Result) -> Iterator[str]:
    best = result.recommendation
    plan = result.chosen
    if plan is None:
        yield from _wrapped(f"{case.label}: no lens is recommended.")
    else:
        low, high = plan.comfortable_range_h
        said = f"{hours(plan.comfortable_h)} of {_day_hours(case)} h comfortable"
        yield from _wrapped(f"{case.label}: {_plan_words(result, plan)}")
        yield from _wrapped(f"{said}; {hours_between(low, high)}")
        yield from _wrapped(VERDICTS[best.verdict])
    usable = result.usable_accommodation_d
    yield from _wrapped(f"Usable accommodation {usable.value:.2f} D (from {BASES[usable.basis]}).")
    for reason in best.reasons[:_REASONS_SHOWN]:
        yield from _wrapped(reason.text, first="- ", rest="  ")


def _plan_words(result: Result, plan: PlanResult) -> str:
    options = [result.option(pair.option) for pair in plan.pairs]
    return "; ".join(f"{option_name(option)} ({design_words(option)})" for option in options)


def _stops(result: Result) -> Iterator[str]:
    for stop in result.stops:
        yield from _wrapped(stop.text, first="STOP: ", rest="      ")


def _beside(result: Result) -> Iterator[str]:
    """Write the free moves, plans as good, plans with more hours, and what to measure."""
    best = result.recommendation
    texts = [move.text for move in best.moves] + [plan.text for plan in best.as_good]
    texts += [plan.text for plan in best.more_hours] + [one.text for one in best.measure_next]
    for text in texts:
        yield from _wrapped(text, first="> ", rest="  ")


def _day(case: Case, result: Result) -> Iterator[str]:
    if not result.options:
        return
    yield f"The day ({_day_hours(case)} h)   # comfortable  + awkward  ~ blurred  . not served"
    for option in result.options:
        spent_h = option.by_grade()
        name = textwrap.shorten(option_name(option), 27, placeholder="~")
        mark = " " if option.recommendable else "*"
        numbers = "/".join(f"{value:.1f}" for value in spent_h)
        yield f"{name:<27}{mark} {_bar(spent_h, case.day_h)} {numbers:>17}"
    if any(not option.recommendable for option in result.options):
        yield "*: not recommended here (see its cautions)"


def _day_hours(case: Case) -> str:
    """Write the hours of the day as a person would, however few."""
    return hours(case.day_h) if case.day_h >= _FEWEST_H else f"under {_FEWEST_H:g}"


def _bar(spent_h: tuple[float, ...], day_h: float) -> str:
    """Draw a bar of the four grades, each as wide as its share of the day."""
    ends, total = [0], 0.0
    for spent in spent_h[:-1]:
        total += spent
        ends.append(min(max(round(_BAR * total / day_h), ends[-1]), _BAR))
    signs = zip("#+~", ends, ends[1:], strict=False)
    return "".join(sign * (end - start) for sign, start, end in signs).ljust(_BAR, ".")


def _looks(result: Result) -> Iterator[str]:
    """Write what each target needs, and the head, eyes and place on each lens for its centre."""
    for target in result.targets:
        rows = [(option, option.through(target.target).centre) for option in result.options]
        free = f"; chin rests {chin(rows[0][1].free_chin_up_deg)}" if rows else ""
        yield from _wrapped(
            f"{target.target}: {tenth(target.distance_cm)} cm, {_eyes(target.declination_deg)}, "
            f"needs +{target.needed_add_d:.2f} D ({target.relaxed_add_d:+.2f} relaxed){free}",
            rest="  ",
        )
        for option, centre in rows:
            name = textwrap.shorten(option_name(option), 25, placeholder="~")
            yield f"  {name:<25} {_posture(centre)}"


def _posture(row: RowResult) -> str:
    """Write head, eyes and place on the lens for one row."""
    if row.chin_up_deg is None or row.gaze_down_deg is None:
        return "blurred in every posture"
    head = f"chin {chin(row.chin_up_deg)}, eyes {_eyes(row.gaze_down_deg)}"
    if row.drop_mm is None:
        return head
    drop = number(abs(row.drop_mm))
    if drop == "0":
        return f"{head}, at the fitting cross"
    return f"{head}, {drop} mm {'down' if row.drop_mm > 0 else 'up'} the lens"


def _eyes(down_deg: float) -> str:
    """Write an angle below the level of the eyes, negative above it.

    >>> _eyes(9.6), _eyes(-3.0), _eyes(-0.2)
    ('10° down', '3° up', 'level')
    """
    return chin(-down_deg)


def _cautions(result: Result) -> Iterator[str]:
    texts = [caution.text for caution in result.cautions]
    texts += [
        f"{option_name(option)}: {caution.text}"
        for option in result.chosen_options
        for caution in option.cautions
    ]
    if texts:
        yield "Cautions"
    for text in texts:
        yield from _wrapped(text, first="! ", rest="  ")


def _flags(case: Case, result: Result) -> Iterator[str]:
    """Write each doubt with what is usual and who published it."""
    if result.flags:
        yield "Unusual values, used as they are"
    for flag in result.flags:
        text = f"{doubt_of(flag, case)}{published(flag)}"
        yield from _wrapped(text, first="? ", rest="  ")


def _wrapped(text: str, *, first: str = "", rest: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)
