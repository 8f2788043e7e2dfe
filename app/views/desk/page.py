"""The Desk page: the cheapest change of desk that makes a lens work, and how sure the answer is."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, clear_ranges
from app.form.compute import Answer, kept_answer
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
    svg,
    table,
)
from app.shell import state, words
from app.views.desk import map, searches, sections
from app.views.desk import words as desk_words
from app.views.desk.searches import Look, Sight
from engine.case import targets
from engine.case.model import Case
from engine.errors import InputRefusedError
from engine.tables import Judgements
from engine.units import MM_PER_CM

NOTHING_YET = (
    "This page works on the wearer of the Interview. Type the age and the add there first; then "
    "the map of the desk appears here."
)
FIRST = "Nothing to map yet: the Interview comes first."
NO_SCREEN = "There is no screen among the things looked at, so there is nothing to move."
OUT_OF_DATE = "A value of the Interview is refused there; this page shows the last good answer."
REFUSED = "The engine refuses a value of the Interview: it is named there, beside its field."


def page() -> None:
    """Draw the whole page; the line in view comes first and is filled last."""
    in_view = st.container(key="answer")
    st.title(words.PAGES["desk"], anchor=False)
    answer = _answer()
    if answer is None:
        html(empty_line(FIRST), place=in_view)
        quiet(NOTHING_YET)
        st.page_link("views/interview/page.py", label="Go to the Interview")
        return
    if answer.result.stops:
        html(_line(answer, None), place=in_view)
        stopped(answer.result)
        return
    work = searches.kept_for(state.results(), answer.case)
    look = _map_and_words(work, answer)
    if look is not None:
        sections.other_ways(work, answer, look)
    sections.all_stations(work, answer)
    result = sections.how_sure(answer)
    html(_line(Answer(answer.case, result), look), place=in_view)
    sections.calibration(answer.case)


def _answer() -> Answer | None:
    """The answer to the interview's case with the taped ranges of the draft."""
    kept, values = state.results(), {**state.answers(), **sections.shown_ranges()}
    asked, held = case_of_answers.ask(values), kept.get("answer")
    if asked.missing or (asked.case is None and held is None):
        return None
    if asked.case is None:
        flag(OUT_OF_DATE)
    case = clear_ranges.into_case(asked.case or held.case, values)
    try:
        return kept_answer(kept, case)
    except InputRefusedError:
        html(alert(REFUSED))
        return None


def _line(answer: Answer, look: Look | None) -> str:
    """The one line always in view."""
    result, case = answer.result, answer.case
    line = result_words.recommendation_line(case, result)
    if look is not None and not line.stop:
        then = look.then.result if look.then else result
        through = then.option(look.option.option).comfortable_h
        says = desk_words.first_words(look.name(case), look.option, look.sight, look.then)
        word = desk_words.stands_words(result, look.option.option) or line.verdict
        line = result_words.Line(says, word, through, case.day_h)
    moved = " after the move" if look and look.then else ""
    counts = f"through {desk_words.lens_words(look.option)}{moved}" if look else ""
    return line_in_view(line, old=False, counts=counts)


def _map_and_words(work: dict[Any, Any], answer: Answer) -> Look | None:
    case, result = answer.case, answer.result
    names = [option.option for option in searches.options_in_order(result)]
    found = searches.screens(case)
    if not found:
        quiet(NO_SCREEN)
        return None
    screens = [case.targets[index].name for index in found]
    left, right = st.columns(2, gap="small") if len(found) > 1 else (st, None)
    lens_key = state.among("desk.option", names)
    chosen = left.selectbox(
        "Through which lens",
        names,
        key=lens_key,
        format_func=lambda name: result_words.option_name(result.option(name)),
        filter_mode=None,
    )
    state.keep("desk.option", chosen)
    screen = screens[0]
    if right is not None:
        key = state.among("desk.screen", screens)
        screen = right.selectbox("Which screen", screens, key=key, filter_mode=None)
        state.keep("desk.screen", screen)
    look = searches.look_at(work, answer, chosen, found[screens.index(screen)])
    _drawn(work, case, look)
    return look


def _drawn(work: dict[Any, Any], case: Case, look: Look) -> None:
    """The map beside its sentences, and its figures folded."""
    sight, name = look.sight, look.name(case)
    columns = searches.once(work, ("region", look.index), lambda: searches.region(case, look.index))
    marks = _marks(sight)
    lines = desk_words.sight_lines(name, look.option, sight, look.then)
    drawn = map.desk_map(
        heights_cm=sight.places.heights_cm,
        distances_cm=sight.places.distances_cm,
        share=sight.places.share,
        columns=columns,
        marks=marks,
        title=f"Where the {name} could stand, through {desk_words.lens_words(look.option)}",
        description=" ".join([*lines, desk_words.region_words(columns)]),
    )
    left, right = st.columns([6, 5], gap="large")
    with left:
        picture(drawn, style="max-width:36rem")
        svg(map.key(marks=marks, region=bool(columns)))
        with st.expander("The map in figures"):
            _figures(work, case, look)
    with right:
        st.header("What the desk can do", anchor=False)
        listed(lines)
        quiet(desk_words.region_words(columns))
        if columns:
            edges = searches.once(
                work, ("edges", look.index), lambda: searches.edges(case, look.index, columns)
            )
            quiet(desk_words.edge_words(edges))


def _marks(sight: Sight) -> list[map.Mark]:
    now = sight.now
    marks = [map.Mark("now", now.distance_cm, now.centre_above_eye_cm, "now")]
    move, kind = sight.suggested, "nearest" if sight.nearest else "best"
    if move is not None:
        says = desk_words.short_move(move)
        if kind == "best":
            says = f"best {desk_words.percent(move.share)}"
        place = move.place
        marks.append(map.Mark(kind, place.distance_cm, place.centre_above_eye_cm, says))
    if sight.blocked is not None:
        place = sight.blocked.move.place
        marks.append(map.Mark("blocked", place.distance_cm, place.centre_above_eye_cm, ""))
    return marks


def _figures(work: dict[Any, Any], case: Case, look: Look) -> None:
    rows = searches.once(
        work,
        ("table", look.option.option, look.index),
        lambda: searches.table_shares(case, look.option, look.index),
    )
    headings = ["centre, cm", *[f"{d:.0f} cm away" for d in searches.TABLE_DISTANCES_CM]]
    cells = [
        [
            desk_words.signed(height),
            *[f"{100 * share:.0f}{'' if allowed else ' ×'}" for share, allowed in row],
        ]
        for height, row in zip(searches.TABLE_HEIGHTS_CM, rows, strict=True)
    ]
    html(table("Comfortable share of the screen, %", headings, cells))
    target = case.targets[look.index]
    wide, high = targets.size_cm(target)
    stop_cm = (case.fit.vertex_mm + Judgements.standard().stop_beyond_vertex_mm) / MM_PER_CM
    quiet(
        f"× is outside the limits. The screen is {wide:.0f} by {high:.0f} cm, tilted "
        f"{look.sight.now.tilt_deg:.0f}°; heights are of its centre, distances from the bridge of "
        f"the nose to its centre (the eye turns {stop_cm:.1f} cm behind the lens)."
    )


page()
