"""Other ways to a better day: the screen stays, a higher seat, larger text, other stations."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app import desk_words, desk_work, state, telling
from app.compute import Answer
from app.desk_work import Look
from app.views.desk_parts import html, listed, quiet
from app.views.interview_answer import table
from app.words import hours
from engine import desk_places
from engine.results import OptionResult

SEAT_MOST_CM = 15
TEXT_MOST_PCT = 200
ENOUGH = 0.9
"""Share of a station's hours beyond which nothing has to change there."""


def other_ways(work: dict[Any, Any], answer: Answer, look: Look) -> None:
    """The screen stays, the seat rises, the text grows: each solved again for every lens."""
    index = look.index
    case, name = answer.case, look.name(answer.case)
    st.header("Other ways to a better day", anchor=False)
    left, right = st.columns(2, gap="large")
    seat = left.slider(
        "Seat higher by (cm)", 0, SEAT_MOST_CM, step=1, key=state.seed("desk.seat_cm", 0)
    )
    text = right.slider(
        "Text on this screen (%)", 100, TEXT_MOST_PCT, step=10, key=state.seed("desk.text_pct", 100)
    )
    state.keep("desk.seat_cm", seat)
    state.keep("desk.text_pct", text)
    through = look.option.option
    rows = [desk_words.way_row("nothing: the screen stays", through, answer)]
    if look.then is not None:
        what = f"{name}: {desk_words.short_move(look.sight.suggested)}"
        rows.append(desk_words.way_row(what, through, look.then))
    if seat:
        higher = desk_work.again(
            work, ("seat", seat), lambda: desk_work.seat_raised(case, by_cm=float(seat))
        )
        rows.append(desk_words.way_row(f"seat {seat} cm higher", through, higher))
    if text > 100:
        larger = desk_work.again(
            work,
            ("text", index, text),
            lambda: desk_places.text_enlarged(case, index, factor=text / 100),
        )
        rows.append(desk_words.way_row(f"{name}: text at {text} %", through, larger))
    caption = f"Comfortable hours of {hours(case.day_h)} h a day, each row searched anew"
    lens = f"through {desk_words.lens_words(look.option)}"
    headings = [desk_words.WAY_HEADINGS[0], lens, desk_words.WAY_HEADINGS[1]]
    html(table(caption, headings, rows))
    quiet(desk_words.fixed_words(answer, name))
    if seat:
        quiet(desk_words.FOOTREST)


def all_stations(work: dict[Any, Any], answer: Answer) -> None:
    """One lens for every station, and the station to change."""
    case = answer.case
    if len(case.activities) < 2:
        return
    found = desk_work.once(work, "stations", lambda: desk_work.stations_of(case))
    if found is None:
        return
    st.header("One lens for every part of the day", anchor=False)
    option = answer.result.option(found.option)
    rows = [
        [station.activity, hours(station.hours), desk_words.percent(station.share)]
        for station in found.stations
    ]
    caption = f"{telling.capital(telling.option_name(option))}: the lens whose worst part is best"
    html(table(caption, ["part of the day, worst first", "hours", "comfortable"], rows))
    worst = found.stations[0]
    if worst.share >= ENOUGH:
        listed([f"{telling.capital(desk_words.lens_words(option))} serves every part of the day."])
        return
    lines = [f"The part to change is {worst.activity}: {desk_words.percent(worst.share)} of it."]
    for index in list(desk_work.screens_of(case, worst.activity))[:1]:
        lines += _moved_there(work, answer, option, index)
    listed(lines)


def _moved_there(
    work: dict[Any, Any], answer: Answer, option: OptionResult, index: int
) -> list[str]:
    """What a move of one screen does for the lens of all stations."""
    look = desk_work.look_at(work, answer, option.option, index)
    return desk_words.sight_lines(look.name(answer.case), option, look.sight, look.then)
