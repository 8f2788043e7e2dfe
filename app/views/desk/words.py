"""The Desk page's sentences: moves, limits and verdicts as a person says them. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from app.draw import result_words
from app.views.desk.kept import Look
from engine import wording
from engine.answer.options import PRESENT
from engine.case.model import Case
from engine.case.results import Change, OptionResult, PlanResult, Result
from engine.desk.moves import Move
from engine.desk.places import Place
from engine.desk.region import Column
from engine.desk.screen import Way
from engine.tables import Judgements
from engine.wording import capital, height, hours, number, percent, shift

FOOTREST = (
    "A raised seat lifts the eyes above the desk. Add a footrest if the feet no longer rest flat. "
    "Raise the desk instead if the elbows are no longer level with it (common practice, no source)."
)


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
    return f"{number(place.distance_cm)} cm away, its centre {_at(place.centre_above_eye_cm)}"


def _at(above_eye_cm: float) -> str:
    said = height(above_eye_cm)
    return f"at {said}" if said == "eye level" else said


def limit_words(limit: str) -> str:
    """Return what stands in the way, for each limit of `engine.desk.places.obstacle`."""
    j = Judgements.standard()
    return {
        "fixed": "it cannot be moved",
        "move": f"no farther than {j.desk_move_max_cm:g} cm from where it is",
        "laptop": "a laptop is not lowered, for its keys would go with it",
        "near": f"no nearer than {j.desk_distance_min_cm:g} cm",
        "far": f"no farther than {j.desk_distance_max_cm:g} cm",
        "high": "top not above eye level",
        "low": f"nothing more than {j.desk_below_level_max_deg:g}° below eye level",
        "desk": f"at least {j.desk_bottom_above_desk_cm:g} cm above the desk",
        "tilt": f"tilted by no more than {j.desk_tilt_max_deg:g}°",
        "text": f"text at least {j.legible_arcmin:g} arcmin (larger text allows more places)",
    }[limit]


def first_words(name: str, look: Look) -> str:
    """Return the page's one line, at most about twenty words."""
    sight, lens = look.sight, lens_words(look.options)
    if sight.move is not None:
        return f"{_move_words(sight.move.change, name)}: {_gain(sight.move)} h."
    if sight.is_comfortable:
        return f"Leave the {name} where it is: it is comfortable through {lens}."
    if not sight.region.columns:
        return f"Leave the {name} where it is: {_about(sight.share)} is comfortable."
    return f"Leave the {name} where it is: no allowed move gains a quarter of an hour."


def _move_words(change: Change, name: str) -> str:
    return capital(wording.move(f"the {name}", **change.model_dump()))


def _gain(move: Move) -> str:
    return f"{hours(move.after_h)} instead of {hours(move.before_h)}"


def _about(share: float) -> str:
    return f"about {percent(share)}"


def stands_words(result: Result, look: Look) -> str:
    """Return what to choose as the desk stands, where that is not what is looked through."""
    best = as_it_stands(result)
    if best is None or best.plan == look.name:
        return ""
    if len(best.pairs) > 1:
        return "without the move: two pairs"
    return f"without the move: {result_words.lens_name(result.option(best.pairs[0].option).kind)}"


def as_it_stands(result: Result) -> PlanResult | None:
    """Return the plan to choose where the desk stays as it is."""
    return result.plans[0] if result.recommendation.plan is not None else None


def sight_lines(case: Case, look: Look) -> list[str]:
    """Return what the map says, in sentences with their numbers."""
    sight, name, day_h = look.sight, look.screen(case), hours(case.day_h)
    seen = lens_words([one for one in look.options if one.option == sight.option])
    lines = [
        f"The {name} is {place_words(sight.now)}. {capital(_about(sight.share))} of it is "
        f"comfortable through {seen}, and {hours(sight.hours_h)} of {day_h} h of the day."
    ]
    move = sight.move
    if move is not None:
        what = _move_words(move.change, name)
        lines.append(
            f"{what}: {hours(move.after_h)} of {day_h} h "
            f"instead of {hours(move.before_h)}. There it is {place_words(move.place)}, and "
            f"{_about(sight.share_after)} of it is comfortable."
        )
        lines += _there(look)
    elif sight.is_comfortable:
        lines.append("No move is needed for this lens.")
    elif not sight.region.columns:
        lines.append("No other place is allowed for it.")
    else:
        lines.append("No allowed move gains a quarter of an hour.")
    if not sight.is_comfortable_after:
        lines += _in_the_way(name, look)
    return lines


def _there(look: Look) -> Iterator[str]:
    """Yield the plan to choose at the moved desk."""
    there = look.there
    if there is None or not there.best:
        return
    if [one.option for one in there.best] == [one.option for one in look.options]:
        yield f"There {lens_words(look.options)} is still the best choice."
    else:
        yield f"The best choice there: {best_words(there)}."


def _in_the_way(name: str, look: Look) -> Iterator[str]:
    sight = look.sight
    if sight.blocked is not None:
        where = shift(**sight.blocked.change.model_dump()) or "close to where it is"
        limit = limit_words(sight.blocked.limit)
        yield f"It would be comfortable {where}, but the limit is: {limit}."
    elif not sight.is_comfortable_somewhere:
        yield (
            f"The lens is the limit: at this tilt, 90 % of the {name} is comfortable through it "
            "nowhere on the map."
        )


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
        return f"If the {name} stays where it is: no lens suits this day."
    worn = {pair.option for pair in best.pairs}
    others = [one for one in result.options if one.recommendable and one.option not in worn]
    after = sorted(others, key=lambda one: -one.comfortable_h)[:2]
    rest = "; ".join(
        f"{result_words.option_name(one)}, {hours(one.comfortable_h)} h" for one in after
    )
    said = f"If the {name} stays where it is: {plan_words(result, best)}"
    return f"{said}. Next: {rest}." if rest else f"{said}."


def sure_lines(result: Result) -> list[str]:
    """Return how sure the answer is, and what to measure."""
    said = result_words.sure_lines(result)
    return [*said, *result_words.next_lines(result)] or ["There is no recommendation yet."]


def edge_words(limits: Sequence[str]) -> str:
    """Return what bounds the places it may go to."""
    return f"Limits: {'; '.join(limit_words(limit) for limit in limits)}."


def region_words(columns: Sequence[Column]) -> str:
    """Return where the screen may go, in numbers."""
    if not columns:
        return "This screen may go nowhere else on the map."
    near, far = columns[0].distance_cm, columns[-1].distance_cm
    low = min(column.low_cm for column in columns)
    high = max(column.high_cm for column in columns)
    return (
        f"At its tilt it may be {near:.0f} to {far:.0f} cm away, its centre {_between(high, low)}."
    )


def _between(high_cm: float, low_cm: float) -> str:
    """Return two heights against the eyes in words."""
    if round(high_cm) < 0:
        return f"{-high_cm:.0f} to {-low_cm:.0f} cm below the eyes"
    return f"from {height(high_cm)} to {height(low_cm)}"
