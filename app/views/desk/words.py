"""The Desk page's sentences: moves, limits and verdicts as a person says them. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.draw import result_words
from app.views.desk.kept import Look
from engine import wording
from engine.answer.options import PRESENT
from engine.case.model import Case
from engine.case.results import Change, OptionResult, PlanResult, Result
from engine.desk.places import Place
from engine.desk.region import Column
from engine.desk.screen import Way
from engine.tables import Judgements
from engine.wording import at_height, capital, height, hours, number, percent, say, shift


def lens_words(options: Sequence[OptionResult]) -> str:
    """Return one lens or two inside a sentence."""
    return " and ".join(_lens_words(option) for option in options)


def _lens_words(option: OptionResult) -> str:
    if option.option == PRESENT:
        return "the present pair"
    name = result_words.option_name(option)
    if name.startswith("no "):
        return name
    return f"the {name} lens" if name.startswith("single-vision") else f"the {name}"


def place_words(place: Place) -> str:
    """Return where a screen stands."""
    return f"{number(place.distance_cm)} cm away, its centre {at_height(place.centre_above_eye_cm)}"


LIMITS = {
    "move": "desk_move_max_cm",
    "near": "desk_distance_min_cm",
    "far": "desk_distance_max_cm",
    "low": "desk_below_level_max_deg",
    "desk": "desk_bottom_above_desk_cm",
    "tilt": "desk_tilt_max_deg",
    "text": "legible_arcmin",
}
"""The judgement each limit with a number turns on."""


def limit_words(limit: str) -> str:
    """Return what is in the way, for each limit of `engine.desk.places.obstacle`."""
    name = LIMITS.get(limit)
    value = "" if name is None else f"{getattr(Judgements.standard(), name):g}"
    return say(f"limit_{limit}", value=value)


def first_words(name: str, look: Look) -> str:
    """Return the page's one line, at most about twenty words."""
    sight = look.sight
    if sight.move is not None:
        return say(
            "desk_move_short",
            move=_move_words(sight.move.change, name),
            after_h=hours(sight.move.after_h),
            before_h=hours(sight.move.before_h),
        )
    if sight.is_comfortable:
        return say("desk_leave_comfortable", screen=name, lens=lens_words(look.options))
    if not sight.region.columns:
        return say("desk_leave_only_place", screen=name, share=percent(sight.share))
    return say("desk_leave_no_gain", screen=name)


def _move_words(change: Change, name: str) -> str:
    return capital(wording.move(f"the {name}", **change.model_dump()))


def stands_words(result: Result, look: Look) -> str:
    """Return what to choose as the desk stands, where that is not what is looked through."""
    best = as_it_stands(result)
    if best is None or best.plan == look.name:
        return ""
    what = "recommended" if look.sight.move is None else "without the move"
    if len(best.pairs) > 1:
        return f"{what}: two pairs"
    return f"{what}: {result_words.lens_name(result.option(best.pairs[0].option).kind)}"


def as_it_stands(result: Result) -> PlanResult | None:
    """Return the plan to choose where the desk stays as it is."""
    return result.plans[0] if result.recommendation.plan is not None else None


def sight_lines(case: Case, look: Look) -> list[str]:
    """Return what the map says, in sentences with their numbers."""
    sight, name, day_h = look.sight, look.screen(case), hours(case.day_h)
    here = say(
        "desk_place",
        screen=name,
        place=place_words(sight.now),
        share=percent(sight.share),
        lens=lens_words([one for one in look.options if one.option == sight.option]),
        hours_h=hours(sight.hours_h),
        day_h=day_h,
    )
    lines, move = [here], sight.move
    if move is not None:
        there = say(
            "desk_move",
            move=_move_words(move.change, name),
            after_h=hours(move.after_h),
            day_h=day_h,
            before_h=hours(move.before_h),
            place=place_words(move.place),
            share=percent(sight.share_after),
        )
        lines += [there, *_there(look)]
    elif sight.is_comfortable:
        lines.append(say("desk_no_move_needed"))
    else:
        lines.append(say("desk_no_gain" if sight.region.columns else "desk_no_other_place"))
    if not sight.is_comfortable_after:
        lines += _in_the_way(name, look)
    return lines


def _there(look: Look) -> Iterator[str]:
    """Yield the plan to choose at the moved desk."""
    there = look.there
    if there is None or not there.best:
        return
    if [one.option for one in there.best] == [one.option for one in look.options]:
        yield say("desk_still_best", lens=lens_words(look.options))
    else:
        yield say("desk_best_there", plan=best_words(there))


def _in_the_way(name: str, look: Look) -> Iterator[str]:
    sight = look.sight
    if sight.blocked is not None:
        where = shift(**sight.blocked.change.model_dump()) or "close to where it is"
        yield say("desk_blocked", where=where, limit=limit_words(sight.blocked.limit))
    elif not sight.is_comfortable_somewhere:
        yield say("desk_lens_is_the_limit", screen=name)


def best_words(way: Way) -> str:
    """Return the plan to choose at a changed desk, with its hours."""
    names = " + ".join(result_words.option_name(option) for option in way.best)
    return f"{names}, {hours(way.best_h)} h"


def plan_words(result: Result, plan: PlanResult) -> str:
    """Return a plan with its hours."""
    return f"{result_words.plan_name(plan, result)}, {hours(plan.comfortable_h)} h"


WAY_HEADINGS = ["what changes", "best choice then"]


def way_row(what: str, way: Way) -> list[str]:
    """Return one way to a better day: hours with the lenses held, and the plan to choose then."""
    return [what, f"{hours(way.held_h)} h", best_words(way) if way.best else "none"]


def still_row(result: Result, look: Look) -> list[str]:
    """Return the same of the desk as it stands."""
    best = as_it_stands(result)
    said = plan_words(result, best) if best else "none"
    return ["nothing", f"{hours(look.sight.hours_h)} h", said]


def fixed_words(result: Result, name: str) -> str:
    """Return the reverse question: the screen stays, which lens?"""
    best = as_it_stands(result)
    if best is None:
        return say("desk_stays_none", screen=name)
    worn = {pair.option for pair in best.pairs}
    others = [one for one in result.options if one.recommendable and one.option not in worn]
    after = sorted(others, key=lambda one: -one.comfortable_h)[:2]
    rest = "; ".join(
        f"{result_words.option_name(one)}, {hours(one.comfortable_h)} h" for one in after
    )
    more = any(round(one.comfortable_h - best.comfortable_h, 1) > 0.0 for one in after)
    identity = "desk_stays_close" if more else "desk_stays_next" if rest else "desk_stays"
    return say(identity, screen=name, plan=plan_words(result, best), rest=rest)


def sure_lines(result: Result) -> list[str]:
    """Return how sure the answer is, and what to measure."""
    said = result_words.sure_lines(result)
    return [*said, *result_words.next_lines(result)] or [say("sure_nothing")]


def edge_words(limits: Sequence[str]) -> str:
    """Return what bounds the places it may go to."""
    return say("desk_limits", limits="; ".join(limit_words(limit) for limit in limits))


def region_words(columns: Sequence[Column]) -> str:
    """Return where the screen may go, in numbers."""
    if not columns:
        return say("desk_region_none")
    low = min(column.low_cm for column in columns)
    high = max(column.high_cm for column in columns)
    return say(
        "desk_region",
        near=number(columns[0].distance_cm),
        far=number(columns[-1].distance_cm),
        heights=_between(high, low),
    )


def _between(high_cm: float, low_cm: float) -> str:
    """Return two heights against the eyes in words."""
    if round(high_cm) < 0:
        return f"{number(-high_cm)} to {height(low_cm)}"
    return f"from {height(high_cm)} to {height(low_cm)}"
