"""The Desk page: the cheapest change of desk that makes a lens work, and how sure the answer is."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, clear_ranges, plan_taken
from app.form.compute import Answer, kept_answer
from app.form.fields import picked
from app.form.html import (
    alert,
    empty_line,
    flag,
    html,
    line_in_view,
    listed,
    picture,
    quiet,
    stopped,
    table,
)
from app.shell import state, words
from app.views.desk import kept, map, sections
from app.views.desk import words as desk_words
from app.views.desk.kept import Look
from engine.case import targets
from engine.case.model import Case
from engine.desk import moves, screen
from engine.desk.screen import Sight
from engine.errors import InputRefusedError
from engine.wording import number, say, shift

IN_VIEW = "recommended"


def page() -> None:
    """Draw the whole page; the line in view comes first and is filled last."""
    in_view = st.container(key="answer")
    st.title(words.PAGES["desk"], anchor=False)
    answer, old = _answer()
    if answer is None:
        html(empty_line(say("desk_interview_first")), place=in_view)
        quiet(say("desk_nothing_yet"))
        st.page_link("views/interview/page.py", label="Go to the Interview")
        return
    if answer.result.stops:
        html(_line(answer, None, old=old), place=in_view)
        stopped(answer.result)
        return
    work = kept.kept_for(state.results(), answer.case)
    look = _map_and_words(work, answer)
    html(_line(answer, look, old=old), place=in_view)
    if look is not None:
        sections.other_ways(work, answer, look)
    sections.all_stations(work, answer)
    sections.how_sure(answer.result)
    sections.calibration(answer.case)


def _answer() -> tuple[Answer | None, bool]:
    """Return the answer to the case with the taped ranges, and whether it is out of date."""
    results, values = state.results(), {**state.answers(), **sections.shown_ranges()}
    asked, last = case_of_answers.ask(values), results.get("answer")
    found = asked.case or (None if last is None else last.case)
    if asked.missing or found is None:
        return None, False
    if asked.case is None:
        flag(say("page_out_of_date"))
    case = clear_ranges.into_case(found, values)
    try:
        return kept_answer(results, case), asked.case is None
    except InputRefusedError:
        html(alert(say("desk_value_refused")))
        return None, False


def _line(answer: Answer, look: Look | None, *, old: bool) -> str:
    """Return the one line always in view."""
    result, case = answer.result, answer.case
    line = result_words.recommendation_line(case, result)
    if look is not None and line.comfortable_h is not None:
        move = look.sight.move
        line = result_words.Line(
            desk_words.first_words(look.screen(case), look),
            desk_words.stands_words(result, look) or line.verdict,
            look.sight.hours_h if move is None else move.after_h,
            case.day_h,
        )
    moved = " after the move" if look and look.sight.move else ""
    counts = f"through {desk_words.lens_words(look.options)}{moved}" if look else ""
    return line_in_view(line, old=old, counts=counts)


def _map_and_words(work: dict[Any, Any], answer: Answer) -> Look | None:
    case, result = answer.case, answer.result
    plan = plan_taken.in_view(result, state.answers())
    names = kept.names_in_order(result, plan)
    found = moves.screens(case)
    if not found:
        quiet(say("desk_no_screen"))
        return None
    screens = [case.targets[index].name for index in found]
    left, right = st.columns(2, gap="small") if len(found) > 1 else (st, None)

    def called(name: str) -> str:
        if name == kept.IN_VIEW and plan is not None:
            return f"{IN_VIEW}: {result_words.plan_name(plan, result)}"
        return result_words.option_name(result.option(name))

    chosen = picked("desk.option", "Through which lens", names, words=called, place=left)
    chosen_screen = screens[0]
    if right is not None:
        chosen_screen = picked("desk.screen", "Which screen", screens, place=right)
    name = plan.plan if chosen == kept.IN_VIEW and plan is not None else chosen
    look = kept.look_at(work, answer, name, found[screens.index(chosen_screen)])
    _drawn(answer, look)
    return look


def _drawn(answer: Answer, look: Look) -> None:
    """Draw the map beside its sentences, and its figures folded."""
    seen, case, name = look.sight, answer.case, look.screen(answer.case)
    columns, marks = seen.region.columns, _marks(seen)
    lines = desk_words.sight_lines(case, look)
    drawn = map.desk_map(
        heights_cm=seen.places.heights_cm,
        distances_cm=seen.places.distances_cm,
        share=seen.places.share,
        columns=columns,
        marks=marks,
        title=f"Where the {name} could stand, through {desk_words.lens_words(look.options)}",
        description=" ".join([*lines, desk_words.region_words(columns)]),
    )
    left, right = st.columns([6, 5], gap="large")
    with left:
        picture(drawn, style="max-width:36rem")
        html(map.key(marks=marks, region=bool(columns)))
        with st.expander("The map in figures"):
            _figures(case, look)
    with right:
        st.header("What the desk can do", anchor=False)
        listed(lines)
        quiet(desk_words.region_words(columns))
        if columns:
            quiet(desk_words.edge_words(seen.region.limits))


def _marks(seen: Sight) -> list[map.Mark]:
    now, move = seen.now, seen.move
    marks = [map.Mark("now", now.distance_cm, now.centre_above_eye_cm, "now")]
    if move is not None:
        place, says = move.place, shift(**move.change.model_dump(), joined=", ")
        marks.append(map.Mark("best", place.distance_cm, place.centre_above_eye_cm, says))
    if seen.blocked is not None:
        place = seen.blocked.place
        marks.append(map.Mark("blocked", place.distance_cm, place.centre_above_eye_cm, ""))
    return marks


def _figures(case: Case, look: Look) -> None:
    headings = ["centre, cm", *[f"{d:.0f} cm away" for d in screen.FIGURE_DISTANCES_CM]]
    cells = [
        [
            number(height, signed=True),
            *[f"{100 * one.share:.0f}{'' if one.is_allowed else ' ×'}" for one in row],
        ]
        for height, row in zip(screen.FIGURE_HEIGHTS_CM, look.sight.figures, strict=True)
    ]
    html(table("About what share of the screen is comfortable, %", headings, cells))
    wide, high = targets.size_cm(case.targets[look.index])
    tilt = look.sight.now.tilt_deg
    quiet(
        say(
            "desk_head_frame_lens_never",
            smoothed_cm=f"{moves.SMOOTHED_CM:.0f}",
            wide=f"{wide:.0f}",
            high=f"{high:.0f}",
            tilt=number(tilt),
        )
    )


page()
