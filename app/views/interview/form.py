"""The interview's questions, in the order of a dispensing interview; what has a default is folded.

What bothers, the pair worn and whether it is liked, the prescription, the desk, the day, the
frame, prices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import streamlit as st

from app.form import case_of_answers, field_table, questions
from app.form.case_of_answers import MOST_OTHERS, MOST_PARTS, PAIR_SLOTS
from app.form.field_table import Row, Slot
from app.form.fields import Fields, two_to_a_row
from app.form.html import quiet
from app.form.presets import Desk, main_screens, others, presets, usual_desks
from app.shell import state
from engine.wording import capital, say


def _draw(fields: Fields, rows: Iterable[Row], slot: Slot, *places: str) -> None:
    """Draw the rows of these places of the page, two to a row of it, or one that is wide."""
    halves = two_to_a_row(wrap=False)
    for row in field_table.placed(rows, slot, *places):
        if row.only_with and not state.shown(f"{slot.name}.{row.only_with}"):
            continue
        row.draw(fields, slot, st if row.wide else next(halves))
        if row.wide:
            halves = two_to_a_row(wrap=False)


def belongs_to(name: str) -> str:
    """Give what a field is about, where its label alone does not say: a thing looked at, a part."""
    slot, names = name.partition(".")[0], case_of_answers.names_of(state.answers())
    if slot in names:
        return capital(names[slot])
    if slot in case_of_answers.PAIR_SLOTS:
        return "Pairs owned"
    return "Another part of the day" if slot.startswith("part") else ""


def six_answers(fields: Fields) -> None:
    """Ask what two minutes allow; the age and the add are enough for a first look."""
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "first")
    _worn(fields)
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "eyes")
    _usual_desks()
    fields.choice(
        "main.preset",
        "Main screen",
        _main_presets(),
        words=questions.preset_words,
        then={"main.preset_chosen": True, "main.own": None},
    )
    main = case_of_answers.target_slot(0, "main", state.answers())
    _draw(fields, field_table.TARGET, main, "where")
    _things()
    _draw(fields, field_table.DAY, case_of_answers.day_slot(), "day")
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "pairs")


def _worn(fields: Fields) -> None:
    """Ask for the pair worn at the desk, and whether it is liked once it is named."""
    asked = case_of_answers.pair_slot(0, PAIR_SLOTS[0], "")
    _draw(fields, field_table.PAIR, asked, "pair")
    if fields.answers[f"{asked.name}.kind"]:
        _draw(fields, field_table.PAIR, asked, "liked")


def _usual_desks() -> None:
    """Offer whole desks, a press each, so that nothing has to be put on them."""
    quiet(say("interview_start_from_usual_desk"))
    with st.container(horizontal=True):
        for desk in usual_desks():
            st.button(desk.name, key=f"desk-{desk.id}", on_click=_take_desk, args=(desk,))


def _take_desk(desk: Desk) -> None:
    """Put the screen and the things of a usual desk; what was measured of them stays."""
    state.put({"main.preset": desk.main, "main.preset_chosen": False, "main.own": None})
    state.put({THINGS: list(desk.things)})
    _put_things()


THINGS = "desk.things"
"""The list of what is on the desk; the slots of the draft are its answer, not the list."""


def _things() -> None:
    """Ask what is on the desk beside the main screen."""
    there = case_of_answers.things_of(_slots())
    if set(state.shown(THINGS, there)) != set(there):
        state.put({THINGS: there})
    st.multiselect(
        say("interview_what_on_desk"),
        list(questions.ON_THE_DESK),
        key=state.seed(THINGS, there),
        format_func=questions.ON_THE_DESK.__getitem__,
        placeholder="the main screen only",
        on_change=_put_things,
    )


def _put_things() -> None:
    """Put on the desk what the list now holds, and take away what it no longer holds."""
    found = case_of_answers.with_things(_slots(), state.shown(THINGS, []))
    state.put({name: value for name, value in found.items() if value is not None})
    for slot in [name for name, value in found.items() if value is None]:
        _take_away(slot)


def _slots() -> dict[str, str]:
    return case_of_answers.slots_of(state.answers())


def _main_presets() -> list[str]:
    """Return the screens to choose from, and whatever an opened case has in their place."""
    held = state.held("main.preset")
    opened = [held] if held in presets() and held not in main_screens() else []
    return [*main_screens(), *opened]


def folded(fields: Fields) -> None:
    """Ask for all that has a default, for when there is time to measure it."""
    for title, draw in FOLDED.items():
        with fields.lazy_drawer(title) as is_drawn:
            if is_drawn:
                draw(fields)


def _wearer(fields: Fields) -> None:
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "wearer")


def _fit(fields: Fields) -> None:
    _draw(fields, field_table.FIT, field_table.FIT_SLOT, "fit")
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "fit")


def _prices(fields: Fields) -> None:
    st.markdown(say("interview_your_own_prices_any"))
    _draw(fields, field_table.PRICES, field_table.PRICE_SLOT, "prices")


def _seldom(fields: Fields) -> None:
    _draw(fields, field_table.WEARER, field_table.WEARER_SLOT, "seldom")
    _draw(fields, field_table.DAY, case_of_answers.day_slot(), "seldom")


def _desk(fields: Fields) -> None:
    for slot, preset in _slots().items():
        st.markdown(f"**{_slot_title(slot)}**")
        _target(fields, slot, preset)
        if slot.startswith("other"):
            fields.answers[f"{slot}.preset"] = preset
            st.button("Take away", key=f"away-{slot}", on_click=_take_away, args=(slot,))
    st.selectbox(
        "Add another task",
        ["", *others()],
        key=state.seed("add_other", ""),
        format_func=lambda name: questions.preset_words(name) if name else "choose",
        on_change=_add_other,
    )


def _target(fields: Fields, slot: str, preset: str) -> None:
    """Draw what is asked of one thing looked at; of the main screen, what is not in view above."""
    answers = {**state.answers(), **fields.answers, f"{slot}.preset": preset}
    asked = case_of_answers.target_slot(0, slot, answers)
    is_screen = presets()[preset].kind == "screen"
    rows = [row for row in field_table.TARGET if is_screen or not row.screens]
    places = ("target",) if slot == "main" else ("name", "where", "target")
    _draw(fields, rows, asked, *places)


def _slot_title(slot: str) -> str:
    """Return what a thing is called until it is named; two of a kind are numbered."""
    return capital(case_of_answers.default_names(state.answers())[slot])


def _add_other() -> None:
    chosen = state.shown("add_other")
    names = (f"other{index}.preset" for index in range(MOST_OTHERS))
    free = next((name for name in names if not state.held(name)), None)
    if chosen and free:
        state.put({free: chosen})
    state.put({"add_other": ""})


def _take_away(slot: str) -> None:
    """Clear every field of a slot; what was typed elsewhere at the same moment stays."""
    empty = {bool: False, str: ""}
    held = {name: one for name, one in state.answers().items() if name.startswith(f"{slot}.")}
    state.put({name: empty.get(type(one)) for name, one in held.items()})


def _day(fields: Fields) -> None:
    slots = _slots()
    if len(slots) > 1:
        st.markdown("**Share of desk time spent looking at each (%)**")
        for slot, place in zip(slots, two_to_a_row(wrap=False), strict=False):
            label = _slot_title(slot)
            fields.text(f"{slot}.share_pct", label, assumed="a share", place=place)
    filled = [i for i in range(MOST_PARTS) if state.shown(f"part{i}.hours")]
    for index in range(min(MOST_PARTS, 1 + max(filled, default=-1) + 1)):
        _part(fields, index, slots)


def _part(fields: Fields, index: int, slots: dict[str, str]) -> None:
    st.markdown(f"**Another part of the day ({index + 1})**")
    asked = case_of_answers.part_slot(index)
    part, places = asked.name, two_to_a_row(wrap=False)

    titles = {slot: _slot_title(slot) for slot in slots}

    def title(slot: str) -> str:
        return titles.get(slot, "taken away")

    _draw(fields, field_table.PART, asked, "part")
    looked = fields.several(
        f"{part}.slots", "Looking at", list(slots), words=title, none="nothing near"
    )
    if len(looked) > 1:
        for slot in looked:
            label = f"{title(slot)}: share (%)"
            fields.text(f"{part}.{slot}.share_pct", label, assumed="a share", place=next(places))
    _draw(fields, field_table.PART, asked, "part_needs")


def _pairs(fields: Fields) -> None:
    """Ask for the numbers of the pair worn, and a further pair while the last is named."""
    worn, *others = PAIR_SLOTS
    kind = fields.answers[f"{worn}.kind"]
    if not kind:
        quiet(say("interview_first_say_at_top"))
        return
    st.markdown("**Worn at the desk today**")
    _draw(fields, field_table.PAIR, case_of_answers.pair_slot(0, worn, kind), "design")
    for number, slot in enumerate(others, 2):
        st.markdown(f"**Another pair owned ({number})**")
        _draw(fields, field_table.PAIR, case_of_answers.pair_slot(0, slot, ""), "pair")
        kind = fields.answers[f"{slot}.kind"]
        if not kind:
            return
        asked = case_of_answers.pair_slot(0, slot, kind)
        _draw(fields, field_table.PAIR, asked, "design", "liked")


FOLDED: dict[str, Callable[[Fields], None]] = {
    "More of today's glasses, and other pairs owned": _pairs,
    "More about the wearer": _wearer,
    "More at the desk": _desk,
    "More of the day": _day,
    "Frame and fit": _fit,
    "Prices": _prices,
    "Rarely known": _seldom,
}
"""What is asked in each folded part."""
