"""Show other ways to a better day, how sure the answer is, and measured focusing."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import clear_ranges
from app.form.compute import Answer
from app.form.fields import Fields
from app.form.html import html, listed, quiet, table
from app.shell import state
from app.views.desk import kept
from app.views.desk import words as desk_words
from app.views.desk.kept import Look
from engine.case.model import Case, MeasuredRange
from engine.case.read import allowed_range
from engine.case.results import Result
from engine.desk import places
from engine.errors import InputRefusedError
from engine.tables import Judgements
from engine.wording import capital, hours, percent, say, shift

SEAT_MOST_CM = 15
TEXT_MOST_PCT = 200


def other_ways(work: dict[Any, Any], answer: Answer, look: Look) -> None:
    """Draw what a higher seat or larger text brings: the lens held, the best chosen anew."""
    index, case = look.index, answer.case
    name = look.screen(case)
    st.header("Other ways to a better day", anchor=False)
    left, right = st.columns(2, gap="large")
    seat = left.slider(
        "Raise the seat by (cm)", 0, SEAT_MOST_CM, step=1, key=state.seed("desk.seat_cm", 0)
    )
    text = right.slider(
        "Text size on this screen (%)",
        100,
        TEXT_MOST_PCT,
        step=10,
        key=state.seed("desk.text_pct", 100),
    )
    state.keep("desk.seat_cm", seat)
    state.keep("desk.text_pct", text)
    rows = [desk_words.still_row(answer.result, look)]
    if look.there is not None and look.sight.move is not None:
        what = f"{name}: {shift(**look.sight.move.change.model_dump())}"
        rows.append(desk_words.way_row(what, look.there))
    if seat:
        desk = places.seat_raised(case, by_cm=float(seat), judgements=Judgements.standard())
        higher = kept.changed(work, answer, look.name, ("seat", seat), desk)
        rows.append(desk_words.way_row(f"seat raised by {seat} cm", higher))
    if text > 100:
        desk = places.text_enlarged(case, index, factor=text / 100)
        larger = kept.changed(work, answer, look.name, ("text", index, text), desk)
        rows.append(desk_words.way_row(f"{name}: text at {text} %", larger))
    caption = f"Comfortable hours out of {hours(case.day_h)} a day"
    lens = f"through {desk_words.lens_words(look.options)}"
    headings = [desk_words.WAY_HEADINGS[0], lens, desk_words.WAY_HEADINGS[1]]
    html(table(caption, headings, rows))
    quiet(desk_words.fixed_words(answer.result, name))
    if seat:
        quiet(say("desk_footrest"))


def all_stations(work: dict[Any, Any], answer: Answer) -> None:
    """Draw the one lens for every station, and the station to change."""
    case = answer.case
    if len(case.activities) < 2:
        return
    found = kept.all_stations(work, case)
    if found is None:
        return
    st.header("One lens for every part of the day", anchor=False)
    option = answer.result.option(found.option)
    rows = [
        [station.activity, hours(station.hours), percent(station.share)]
        for station in found.stations
    ]
    name = capital(result_words.option_name(option))
    caption = f"{name}: best single pair"
    html(table(caption, ["part of the day, worst first", "hours", "comfortable"], rows))
    worst, lens = found.stations[0], desk_words.lens_words([option])
    if found.serves_all:
        listed([say("desk_suits_every_part_day", lens=capital(lens))])
        return
    lines = [f"Weakest part: {worst.activity}, {percent(worst.share)} comfortable."]
    if found.screen is not None:
        look = kept.look_at(work, answer, found.option, found.screen)
        lines += desk_words.sight_lines(case, look)
    listed(lines)


LABELS = {
    "trial_add_d": "Trial added power (D)",
    "nearest_clear_cm": "Nearest clear (cm)",
    "farthest_clear_cm": "Farthest clear (cm)",
    "text_arcmin": "Angular size of the detail (arcmin)",
}


def how_sure(result: Result) -> None:
    """Draw how sure the answer is, and what to measure."""
    st.header("How sure", anchor=False)
    listed(desk_words.sure_lines(result))


def calibration(case: Case) -> None:
    """Show taped ranges: the fields, what they say, and whether the answer uses them."""
    st.header("The wearer's own focusing, measured", anchor=False)
    with st.expander("Measure the nearest and the farthest clear distance", expanded=_typed()):
        quiet(say("desk_range_how"))
        fields = Fields()
        shown = min(clear_ranges.MOST, _whole(case) + 1)
        for number in range(shown):
            _fields(fields, number)
        reading = clear_ranges.read(fields.answers, case)
        fields.say({name: _with_range(name, one) for name, one in reading.refused.items()})
        for taped in reading.taped:
            which = f"Range {taped.number + 1}: " if shown > 1 else ""
            quiet(which + clear_ranges.fitted_words(taped))
        for number in reading.unfinished:
            quiet(say("desk_range_unfinished", number=number + 1))
        if reading.taped:
            state.seed(clear_ranges.USED, True)
            fields.tick(clear_ranges.USED, "Use these in place of the averages")
        quiet(clear_ranges.used_words(clear_ranges.into_case(case, fields.answers)))


def shown_ranges() -> dict[str, Any]:
    """Give what the fields of the ranges show now: the draft learns it only when they are drawn."""
    names = [
        clear_ranges.widget(number, name)
        for number in range(clear_ranges.MOST)
        for name in clear_ranges.ASKED
    ]
    return {name: state.shown(name) for name in names} | {
        clear_ranges.USED: state.shown(clear_ranges.USED, True)
    }


def _typed() -> bool:
    return any(state.held(clear_ranges.widget(0, name)) for name in clear_ranges.NEEDED)


def _whole(case: Case) -> int:
    """Return how many ranges, from the first on, can be used: one more is asked for."""
    usable = [taped.number for taped in clear_ranges.read(shown_ranges(), case).taped]
    return next(number for number in range(clear_ranges.MOST + 1) if number not in usable)


def _fields(fields: Fields, number: int) -> None:
    columns = st.columns(2, gap="small", wrap=False) + st.columns(2, gap="small", wrap=False)
    again = "" if number == 0 else f", range {number + 1}"
    for place, (name, label) in zip(columns, LABELS.items(), strict=True):
        assumed = 10 if name == "text_arcmin" else None
        fields.text(clear_ranges.widget(number, name), label + again, assumed=assumed, place=place)


def _with_range(widget: str, refusal: InputRefusedError) -> InputRefusedError:
    """Return the refusal with the allowed range of its field, where it does not name it already."""
    return refusal.within(allowed_range(MeasuredRange.model_fields[widget.rsplit(".", 1)[-1]]))
