"""The Desk page's sentences: moves, limits and verdicts as a person says them. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from app.draw import result_words
from app.form.compute import Answer
from app.shell.words import hours
from app.views.desk.map import Column
from app.views.desk.searches import Sight, within_reach
from engine.answer import plans
from engine.answer.doubt import DRAWS
from engine.case.model import Case
from engine.case.results import OptionResult, PlanResult, Result
from engine.desk import advice
from engine.desk.moves import Move
from engine.desk.places import Place
from engine.tables import Judgements

_LEAST = 0.5
"""Centimetres or degrees: less is not said."""
FOOTREST = (
    "A raised seat lifts the eyes and leaves the desk: if the feet no longer rest flat, add a "
    "footrest; if the elbows no longer rest level with the desk, raise the desk instead (common "
    "practice, no source)."
)


def lens_words(option: OptionResult) -> str:
    """A lens inside a sentence."""
    if option.option == plans.PRESENT:
        return "the present pair"
    name = result_words.lens_name(option.kind)
    if name.startswith("no "):
        return name
    return f"the {name} lens" if name.startswith("single-vision") else f"the {name}"


def place_words(place: Place) -> str:
    """Where a screen stands."""
    height = place.centre_above_eye_cm
    side = "above" if height > 0 else "below"
    return f"{place.distance_cm:.0f} cm away, its centre {abs(height):.0f} cm {side} the eyes"


def move_words(move: Move, name: str) -> str:
    """What to do with the tape: height first, then distance, then tilt."""
    up, away, tilt = move.up_cm, move.farther_cm, move.tilt_by_deg
    said = []
    if abs(up) > _LEAST:
        said.append(f"{'raise' if up > 0 else 'lower'} {{}} by {abs(up):.0f} cm")
    if abs(away) > _LEAST:
        way = "farther away" if away > 0 else "nearer"
        said.append(f"move {{}} {abs(away):.0f} cm {way}")
    if abs(tilt) > _LEAST:
        back = "back" if tilt > 0 else "forward"
        said.append(f"tilt its top {abs(tilt):.0f}° {back}")
    if not said:
        return f"leave the {name} where it is"
    first, *rest = said
    joined = " and ".join([first.format(f"the {name}"), *[one.format("it") for one in rest]])
    return joined.replace("its top", f"the top of the {name}", 1) if not up and not away else joined


def short_move(move: Move) -> str:
    """The move beside its mark on the map."""
    up, away, tilt = move.up_cm, move.farther_cm, move.tilt_by_deg
    said = []
    if abs(up) > _LEAST:
        said.append(f"{abs(up):.0f} cm {'higher' if up > 0 else 'lower'}")
    if abs(away) > _LEAST:
        said.append(f"{abs(away):.0f} cm {'farther' if away > 0 else 'nearer'}")
    if abs(tilt) > _LEAST:
        said.append(f"{abs(tilt):.0f}° tilt {'back' if tilt > 0 else 'forward'}")
    return ", ".join(said)


def limit_words(limit: str) -> str:
    """What stands in the way, for each limit of `engine.desk.places.obstacle`."""
    j = Judgements.standard()
    return {
        "fixed": "it is told as not to be moved",
        "move": f"that is more than {j.desk_move_max_cm:g} cm from where it stands",
        "laptop": "a laptop is not lowered: its keys would go with it",
        "near": f"that is nearer than {j.desk_distance_min_cm:g} cm",
        "far": f"that is farther than {j.desk_distance_max_cm:g} cm",
        "high": "its top edge would be above the eyes",
        "low": f"part of it would be more than {j.desk_below_level_max_deg:g}° below level",
        "desk": (
            f"its bottom edge would be less than {j.desk_bottom_above_desk_cm:g} cm above the desk"
        ),
        "tilt": f"that is a tilt beyond {j.desk_tilt_max_deg:g}°",
        "text": (
            f"its text would be under {j.legible_arcmin:g} arcmin (larger text would open "
            "this place)"
        ),
    }[limit]


def first_words(name: str, option: OptionResult, sight: Sight, then: Answer | None) -> str:
    """The page's one line, at most about twenty words."""
    lens = lens_words(option)
    if sight.suits:
        return f"The {name} is comfortable through {lens} where it stands."
    if sight.best is None and sight.nearest is None:
        return (
            f"The {name} may go nowhere else: {percent(sight.share)} is comfortable through {lens}."
        )
    if sight.nearest is None or then is None:
        rest = f"; the best gives {percent(sight.best.share)}" if then and sight.best else ""
        return f"No allowed place makes the {name} comfortable through {lens}{rest}."
    move = result_words.capital(move_words(sight.nearest, name))
    if within_reach(then, option.option):
        return f"{move} and {lens} will do."
    return f"{move}: comfortable, but another lens gives more."


def stands_words(result: Result, option: str) -> str:
    """What is recommended as the desk stands, where that is not the lens looked through."""
    best = chosen_plan(result)
    if best is None or option in {pair.option for pair in best.pairs}:
        return ""
    if len(best.pairs) > 1:
        return "without a move: two pairs"
    return f"without a move: {result_words.lens_name(result.option(best.pairs[0].option).kind)}"


def sight_lines(name: str, option: OptionResult, sight: Sight, then: Answer | None) -> list[str]:
    """What the map says, in sentences with their numbers."""
    lens = lens_words(option)
    lines = [
        f"It stands {place_words(sight.now)}: {percent(sight.share)} of the {name} is "
        f"comfortable through {lens}."
    ]
    if sight.suits:
        return [*lines, "No move is needed for this lens."]
    if sight.nearest is not None:
        lines.append(
            f"{result_words.capital(move_words(sight.nearest, name))}: "
            f"{percent(sight.nearest.share)} is comfortable there, "
            f"{place_words(sight.nearest.place)}."
        )
        return [*lines, *(_after(option, then) if then else [])]
    lines.append(_best_line(name, sight))
    lines += _after(option, then) if then else []
    return [*lines, _in_the_way(name, sight)]


def _after(option: OptionResult, then: Answer) -> list[str]:
    """What the whole search says once the screen is moved."""
    new = then.result.option(option.option)
    day_h = hours(then.case.day_h)
    said = (
        f"With the screen there, {lens_words(option)} gives {hours(new.comfortable_h)} "
        f"of {day_h} h comfortable; now it gives {hours(option.comfortable_h)} h."
    )
    best = chosen_plan(then.result)
    if best is None:
        return [said]
    names = plan_words(then.result, best)
    if within_reach(then, option.option):
        other = "" if best.plan == option.option else f" (best there: {names})"
        return [said, f"That is as good as any pair, within a twentieth of the day{other}."]
    return [said, f"The most of the day there: {names}."]


def _best_line(name: str, sight: Sight) -> str:
    if sight.suggested is not None:
        return (
            f"No allowed place makes nine tenths of it comfortable. The best: "
            f"{move_words(sight.suggested, name)}, for {percent(sight.suggested.share)} of it."
        )
    if sight.best is None:
        return "No other place is allowed for it."
    return "No allowed place is better than where it stands."


def _in_the_way(name: str, sight: Sight) -> str:
    if sight.blocked is None:
        return (
            "What stands in the way is the lens: nowhere on the map, at this tilt, are nine tenths "
            f"of the {name} comfortable through it."
        )
    where = short_move(sight.blocked.move).replace(", ", " and ") or "near where it stands"
    limit = limit_words(sight.blocked.limit)
    return f"What stands in the way: {where} it would be comfortable, but {limit}."


def chosen_plan(result: Result) -> PlanResult | None:
    """The recommended plan."""
    return result_words.chosen_plan(result)


def plan_words(result: Result, plan: PlanResult) -> str:
    """A plan with its hours."""
    names = " + ".join(result_words.option_name(result.option(pair.option)) for pair in plan.pairs)
    return f"{names}, {hours(plan.comfortable_h)} h"


def percent(share: float) -> str:
    """A share in whole percent."""
    return f"{100 * share:.0f} %"


WAY_HEADINGS = ["what changes", "best plan then"]


def way_row(what: str, option: str, answer: Answer) -> list[str]:
    """One way to a better day: hours through the chosen lens, and the best pair then."""
    found = [one for one in answer.result.options if one.option == option]
    through = f"{hours(found[0].comfortable_h)} h" if found else "–"
    best = chosen_plan(answer.result)
    return [what, through, plan_words(answer.result, best) if best else "none"]


def fixed_words(answer: Answer, name: str) -> str:
    """The reverse question: the screen stays, which lens?"""
    best = chosen_plan(answer.result)
    if best is None:
        return f"If the {name} stays where it is, no lens can be recommended for this day."
    others = [
        one
        for one in answer.result.options
        if one.recommendable and one.option not in {pair.option for pair in best.pairs}
    ]
    after = sorted(others, key=lambda one: -one.comfortable_h)[:2]
    rest = "; ".join(
        f"{result_words.option_name(one)}, {hours(one.comfortable_h)} h" for one in after
    )
    said = f"If the {name} stays where it is: {plan_words(answer.result, best)}"
    return f"{said}. Next: {rest}." if rest else f"{said}."


SURE_WORDS = {
    "firm": "Firm",
    "depends": "It depends",
    "toss_up": "A toss-up",
    "not_computed": "Not tested",
}


def sure_lines(case: Case, result: Result) -> list[str]:
    """How sure the answer is, what to measure again, and where it would turn."""
    said = result.recommendation
    if said.plan is None or said.winner_share is None:
        return ["There is no recommendation to test."]
    best = chosen_plan(result)
    names = plan_words(result, best) if best else said.plan
    sure = SURE_WORDS[said.verdict]
    if said.verdict == "depends" and said.depends_on is None:
        sure = "Not firm"
    lines = [
        f"{sure}: {names}. In {DRAWS} trials, each with every measurement off by its usual error, "
        f"it stays the best in {percent(said.winner_share)}."
    ]
    if said.verdict == "toss_up":
        lines.append("No plan wins clearly: let price, looks and habit decide, or measure better.")
    if said.verdict != "firm" and best is not None and _is_fragile(best):
        lines.append(
            f"On a bad day, with half the focusing and half the tolerance of blur, it keeps "
            f"{hours(best.reserve_h)} of its {hours(best.comfortable_h)} h: never called firm."
        )
    lines += [_turning(case, result)] if said.depends_on else []
    if result.provisional:
        lines.append("No add is known: the usual one for the age is used, so nothing is firm.")
    if said.desk_first is not None:
        move = said.desk_first
        lines.append(
            f"Before any new lens: {_change(move.target, move.field, move.change_cm)}; the pair at "
            f"hand then gives {hours(move.comfortable_h)} h."
        )
    return lines


def _is_fragile(plan: PlanResult) -> bool:
    keeps = 1.0 - Judgements.standard().reserve_loss_share
    return plan.reserve_h < keeps * plan.comfortable_h - 1e-9


def _change(name: str, field: str, change_cm: float) -> str:
    here = Place(0.0, 0.0, 0.0)
    far = field == "distance_cm"
    move = Move(here, 0.0 if far else change_cm, change_cm if far else 0.0, 0.0, 0.0)
    return move_words(move, name)


def _turning(case: Case, result: Result) -> str:
    decides = result.recommendation.depends_on
    assert decides is not None
    words = advice.measurement_words(case, decides.field)
    now = value_at(case, result, decides.field)
    is_now = "" if now is None else f" (now {number(now)} {decides.unit})"
    if decides.turns_at is None:
        return f"Measure again first: {words}{is_now}. The answer leans most on it."
    unit = "times the usual" if decides.unit == "ratio" else decides.unit
    return (
        f"Measure again first: {words}{is_now}. At {number(decides.turns_at)} {unit} "
        "another plan would win."
    )


def number(value: float) -> str:
    """One decimal, none when it is zero, with a typographic minus."""
    rounded = round(value + 0.0, 1)
    text = f"{rounded:.0f}" if rounded == int(rounded) else f"{rounded:.1f}"
    return text.replace("-", "−")


def value_at(case: Case, result: Result, field: str) -> float | None:
    """The value a case has at a path, or its answer uses there."""
    part, *rest = field.split(".")
    if part == "targets":
        found = getattr(case.targets[int(rest[0])], rest[1], None)
    elif part == "fit":
        found = min(case.fit.heights_mm) if rest[0] == "fitting_height_mm" else None
    else:
        usable = result.usable_accommodation_d.value
        found = usable if rest == ["usable_accommodation_d"] else None
    return None if found is None else float(found)


def edge_words(limits: Sequence[str]) -> str:
    """What bounds the places it may go to."""
    return f"Beyond that: {'; '.join(limit_words(limit) for limit in limits)}."


def signed(value: float) -> str:
    """A height with its sign, in whole cm, with a typographic minus."""
    return "0" if round(value) == 0 else f"{value:+.0f}".replace("-", "−")


def region_words(columns: Sequence[Column]) -> str:
    """Where the screen may go, in numbers."""
    if not columns:
        return "Nowhere on the map may this screen go."
    near, far = columns[0].distance_cm, columns[-1].distance_cm
    low = min(column.low_cm for column in columns)
    high = max(column.high_cm for column in columns)
    return (
        f"At its tilt it may stand {near:.0f} to {far:.0f} cm away, its centre "
        f"{_between(high, low)}."
    )


def _between(high_cm: float, low_cm: float) -> str:
    """Two heights against the eyes in words."""
    if round(high_cm) < 0:
        return f"{-high_cm:.0f} to {-low_cm:.0f} cm below the eyes"
    return f"from {_level(high_cm)} to {_level(low_cm)}"


def _level(height_cm: float) -> str:
    """A height against the eyes in words."""
    if round(height_cm) == 0:
        return "eye level"
    return f"{abs(height_cm):.0f} cm {'above' if height_cm > 0 else 'below'} the eyes"
