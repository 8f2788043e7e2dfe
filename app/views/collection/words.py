"""What the checks of a finished pair came to, in words and rows. Pure: nothing is computed here."""

from __future__ import annotations

import re
from collections.abc import Sequence

from engine import tables
from engine.collection.as_worn import WornEffect
from engine.collection.complaints import RankedCause
from engine.collection.followup import Dates
from engine.collection.mock_desk import RangeFinding, RangeStep
from engine.collection.verify import Check, Verification
from engine.tables import Judgements
from engine.units import day_words
from engine.wording import capital, head_words, hours, number, say, unit_after

NONE = "–"
NOTHING = re.compile(r"[+-](0\.0+)\b")
"""A difference or prism of nothing; a power keeps its sign."""
PASSED, FAILED, UNCHECKED = "passed", "not passed", "not checkable"
CHECK_HEADINGS = ("line", "outcome", "ordered", "read", "how far off")
WORN_HEADINGS = ("looked at", "chin as ordered; as worn", "change", "hours lost")
CAUSE_HEADINGS = ("cause", "points", "check")
OUTCOMES = {
    "pass": PASSED,
    "fail": FAILED,
    "not_judged": UNCHECKED,
    "not_measured": f"{UNCHECKED} yet",
    "ask_laboratory": f"{UNCHECKED} yet",
}
QUANTITIES = {
    "sphere": "back vertex power, meridian of highest power",
    "cylinder": "cylinder",
    "axis": "axis",
    "add": "add",
    "prism_vertical": "vertical prism between the eyes",
    "prism_horizontal": "horizontal prism between the eyes",
    "height": "height",
    "height_pair": "heights, one against the other",
    "centration": "centration",
    "centration_pair": "centration of the pair",
    "verification_power": "verification power",
    "power_change": "degression",
}
MEMORY = "limit from memory"
UNITS = {
    "add": "D",
    "cylinder": "D",
    "axis": "deg",
    "power_change": "D",
    "prism_vertical": "prism dioptre",
    "prism_horizontal": "prism dioptre",
    "height": "mm",
    "height_pair": "mm",
    "centration": "mm",
    "centration_pair": "mm",
}
"""What a figure that stands alone is in; a written power says it by itself."""
BARE = re.compile(r"[+−-]?\d+(\.\d+)?")


def check_rows(checks: Sequence[Check]) -> list[list[str]]:
    """Return one row a comparison, what is not passed first."""
    ordered = sorted(checks, key=lambda one: one.outcome != "fail")
    return [
        [
            capital(_line_words(one)),
            OUTCOMES[one.outcome],
            *_found_words(one),
        ]
        for one in ordered
    ]


def _found_words(check: Check) -> list[str]:
    """Give what was ordered and read, and how far it is off: the exact figure beside its limit."""
    memory = f" ({MEMORY})" if check.from_memory else ""
    unit = unit_after(UNITS[check.quantity]) if check.quantity in UNITS else ""
    figures = [_figure(one) for one in (check.ordered, check.read)]
    return [
        *(f"{one}{unit}" if BARE.fullmatch(one) else one for one in figures),
        check.says + memory,
    ]


def _figure(said: str) -> str:
    """Return what was written; nothing carries no sign."""
    if "DS" in said or " x " in said:
        return said
    return NOTHING.sub(r"\1", said) or NONE


def _line_words(check: Check) -> str:
    name = QUANTITIES[check.quantity]
    return name if check.side == "both" else f"{check.side} {name}"


def standing_lines(checks: Sequence[Check]) -> list[str]:
    """Return each edition the limits are from, and how well it is known."""
    return list(dict.fromkeys(one.standing for one in checks if one.standing))


def outcome_words(found: Verification) -> str:
    """Return what the whole verification comes to."""
    failed = [_line_words(one) for one in found.checks if one.outcome == "fail"]
    memory = any(one.from_memory for one in found.checks)
    held = f"{found.standard}, limits from memory" if memory else found.standard
    if failed:
        return f"Not passed under {held}: {', '.join(failed)}."
    open_ = sum(one.outcome in ("not_measured", "ask_laboratory") for one in found.checks)
    if open_:
        lines = "line is" if open_ == 1 else "lines are"
        return say("collection_not_finished_not_checked", count=open_, lines=lines)
    return say("collection_every_line_can_checked", held=held)


def short_outcome(found: Verification) -> str:
    """Return the same in two or three words."""
    words = {"accept": "passed", "reject": "not passed", "incomplete": "not finished"}
    return words[found.outcome]


def step_words(step: RangeStep) -> str:
    """Return one place of the mock desk."""
    return f"{capital(step.target)}: {step.says}"


def finding_words(found: RangeFinding) -> str:
    """Return one taped end."""
    judged = "agrees" if found.agrees else "does not agree"
    return f"{capital(found.target)}, {judged}: {found.says}."


def worn_line(found: WornEffect, *, day_h: float) -> str:
    """Return what the crosses cost in a day."""
    lost = hours(max(0.0, found.lost_h))
    return say(
        "collection_worn_costs",
        lost="Nothing" if lost == "0" else f"{lost} h",
        ordered_h=hours(found.comfortable_h_ordered),
        worn_h=hours(found.comfortable_h_worn),
        day_h=hours(day_h),
        vertical=f"{found.vertical_imbalance_pd:.2f}",
        horizontal=f"{found.horizontal_prism_pd:.2f}",
    )


def worn_rows(found: WornEffect) -> list[list[str]]:
    """Return each target as ordered and as worn."""
    return [
        [
            one.target,
            f"{_chin(one.chin_up_ordered_deg)}; {_chin(one.chin_up_worn_deg)}"
            + _narrower(one.narrower_cm),
            NONE if one.chin_change_deg is None else _turn(one.chin_change_deg),
            f"{one.lost_h + 0.0:.2f}",
        ]
        for one in found.targets
    ]


def _turn(degrees: float) -> str:
    said = number(degrees, places=1, signed=True)
    return "none" if said == "0.0" else f"{said}°"


def _chin(chin_up_deg: float | None) -> str:
    return "blurred in every posture" if chin_up_deg is None else head_words(chin_up_deg)


def _narrower(narrower_cm: float) -> str:
    return "" if narrower_cm < 0.5 else f"; {narrower_cm:.0f} cm narrower for both eyes"


def date_lines(dates: Dates) -> list[str]:
    """Return the lines that say when to ask."""
    return [
        say("collection_call_first_on_two", first=day_words(dates.first)),
        say(
            "collection_decide_between_four_six",
            decide_from=day_words(dates.decide_from),
            decide_by=day_words(dates.decide_by),
        ),
        f"{capital(dates.standing)}.",
    ]


def failed_lines(checks: Sequence[Check]) -> list[str]:
    """Return what to do before any guess, where a reading failed; nothing where none did."""
    failed = [f"{_line_words(one)} {one.says}" for one in checks if one.outcome == "fail"]
    said = "; ".join(failed)
    return [say("collection_send_pair_back_before", said=said)] if failed else []


def cause_rows(causes: Sequence[RankedCause]) -> list[list[str]]:
    """Return causes with their points and the check that would show each."""
    return [[capital(one.cause), f"{one.points:.1f}", _check_words(one)] for one in causes]


def how_ranked() -> str:
    """Return what the points of a cause are made of; one to send on at once needs none."""
    causes = [row for row in tables.rows("complaint_causes") if row["remedy_step"] != "urgent"]
    worths = [abs(float(sign.split("=")[1])) for row in causes for sign in row["signs"].split()]
    absent_pct = f"{100 * Judgements.standard().absent_sign_share:.0f}"
    most = f"{max(worths):g}"
    return say("collection_first_three_causes_cheapest", most=most, absent_pct=absent_pct)


def cause_lines(cause: RankedCause) -> list[str]:
    """Give one cause in full: the check, what speaks for and against it, the remedy, the source."""
    signs = {"for": _signs(cause.signs_for), "against": _signs(cause.signs_against)}
    return [
        f"{capital(_check_words(cause))}.",
        *(f"Speaks {way} it: {said}" for way, said in signs.items() if said != NONE),
        say(
            "collection_if_so_points_source",
            remedy=cause.remedy,
            points=f"{cause.points:.1f}",
            source=cause.source,
        ),
    ]


def first_check(causes: Sequence[RankedCause]) -> str:
    """Return what to do next."""
    first = causes[0]
    if first.shown:
        return f"{capital(first.cause)}: {first.settled}"
    return say(
        "collection_first_check",
        check=capital(first.check),
        minutes=f"{first.check_minutes:g}",
        cause=first.cause,
    )


def _check_words(cause: RankedCause) -> str:
    """Return the check that would show a cause, or the reading that has settled it."""
    if cause.shown is None:
        return f"check ({cause.check_minutes:g} min): {cause.check}"
    word = "so, as a reading shows" if cause.shown else "not so, as a reading shows"
    return f"{word}: {cause.settled}"


def _signs(names: Sequence[str]) -> str:
    known = tables.by_id("complaint_signs")
    return "; ".join(known[name]["text"] for name in names) or NONE
