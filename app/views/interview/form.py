"""The interview's questions: six in view, the rest folded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from app.draw import result_words
from app.form import case_of_answers, questions
from app.form.fields import Fields, two_to_a_row
from app.form.presets import main_screens, others, presets
from app.shell import state
from engine import tables
from engine.tables import Judgements


def belongs_to(name: str, answers: Mapping[str, Any]) -> str:
    """What a field is about, where its label alone does not say: a thing looked at, a part."""
    slot = name.partition(".")[0]
    slots = case_of_answers.slots_of({**answers, **_other_presets()})
    if slot in slots:
        return result_words.capital(case_of_answers.name_of(slot, slots[slot], answers))
    if slot in case_of_answers.PAIR_SLOTS:
        return "Pairs owned"
    return "Another part of the day" if slot.startswith("part") else ""


def six_answers(fields: Fields) -> None:
    """What two minutes allow: age, add, screen, papers, hours, and whether they move about."""
    left, right = st.columns([2, 3], gap="small", wrap=False)
    fields.text("wearer.age_years", "Age (years)", place=left)
    fields.text("prescription", "Add, or the whole prescription", place=right)
    screen = fields.choice(
        "main.preset",
        "Main screen",
        _main_presets(),
        words=questions.preset_words,
        then={"main.preset_chosen": True, "main.own": None},
    )
    height = case_of_answers.height_of("main", presets()[screen], state.answers())
    left, right = st.columns([2, 3], gap="small", wrap=False)
    _number(fields, "main", "distance_cm", screen, left)
    _number(fields, "main", height, screen, right)
    left, right = st.columns([2, 3], gap="small", wrap=False)
    fields.text("day.hours", "Hours a day", assumed=questions.HOURS_ASSUMED, place=left)
    fields.either(
        "papers", "Papers beside the screen", ["no", "yes"], words=questions.YES_NO.get, place=right
    )
    fields.several(
        "day.needs",
        "Worn in the same hours for",
        list(questions.NEEDS),
        words=questions.NEEDS.get,
        none="the desk only",
    )


def _main_presets() -> list[str]:
    """The screens to choose from, and whatever an opened case has in their place."""
    held = state.held("main.preset")
    opened = [held] if held in presets() and held not in main_screens() else []
    return [*main_screens(), *opened]


def folded(fields: Fields) -> None:
    """Everything that has a default, for when there is time to measure it."""
    with fields.drawer("More at the desk"):
        _desk(fields)
    with fields.drawer("More of the day"):
        _day(fields)
    with fields.drawer("Frame and fit"):
        _fit(fields)
    with fields.drawer("Pairs owned"):
        _pairs(fields)
    with fields.drawer("More about the wearer"):
        _wearer(fields)
    with fields.drawer("Prices"):
        _prices(fields)


def _number(fields: Fields, slot: str, name: str, preset: str, place: Any = st) -> None:
    label = questions.TARGET_LABELS[name]
    held = case_of_answers.numbers_of(slot, presets()[preset], state.answers())
    assumed = questions.assumed_words(held.get(name))
    fields.text(f"{slot}.{name}", label, assumed=assumed, place=place)


def _desk(fields: Fields) -> None:
    for slot, preset in case_of_answers.slots_of(fields.answers | _other_presets()).items():
        st.markdown(f"**{_slot_title(slot, preset)}**")
        if slot != "main":
            fields.text(f"{slot}.name", "Name", assumed=presets()[preset].name)
        _target(fields, slot, preset)
        if slot.startswith("other"):
            fields.answers[f"{slot}.preset"] = preset
            st.button("Take away", key=f"away-{slot}", on_click=_take_away, args=(slot,))
    st.selectbox(
        "Add something looked at",
        ["", *others()],
        key=state.seed("add_other", ""),
        format_func=lambda name: questions.preset_words(name) if name else "choose",
        on_change=_add_other,
    )


def _target(fields: Fields, slot: str, preset: str) -> None:
    places = two_to_a_row(wrap=False)
    held = state.answers()
    height = case_of_answers.height_of(slot, presets()[preset], held)
    for name in case_of_answers.numbers_of(slot, presets()[preset], held):
        if slot != "main" or name not in ("distance_cm", height):
            _number(fields, slot, name, preset, next(places))
    label = "Sideways: + right, − left (cm)"
    fields.text(f"{slot}.offset_cm", label, assumed=0, place=next(places))
    if presets()[preset].kind == "screen":
        label = "Desk below the eyes (cm)"
        fields.text(f"{slot}.desk_below_eye_cm", label, assumed=50, place=next(places))
        fields.tick(f"{slot}.fixed", "cannot be moved")


def _slot_title(slot: str, preset: str) -> str:
    return "Main screen" if slot == "main" else presets()[preset].name.capitalize()


def _other_presets() -> dict[str, str]:
    names = [f"other{index}.preset" for index in range(case_of_answers.MOST_OTHERS)]
    return {name: state.held(name, "") for name in names}


def _add_other() -> None:
    chosen = state.shown("add_other")
    free = [name for name, preset in _other_presets().items() if not preset]
    if chosen and free:
        state.put({free[0]: chosen})
    state.put({"add_other": ""})


def _take_away(slot: str) -> None:
    state.drop(f"{slot}.")


def _day(fields: Fields) -> None:
    slots = case_of_answers.slots_of(fields.answers | _other_presets())
    fields.text("day.name", "Name of the hours above", assumed=case_of_answers.DAY_NAME)
    if len(slots) > 1:
        st.markdown("**Share of looking in the hours at the desk (%)**")
        for (slot, preset), place in zip(slots.items(), two_to_a_row(wrap=False), strict=False):
            label = _slot_title(slot, preset)
            fields.text(f"{slot}.share_pct", label, assumed="a share", place=place)
    filled = [i for i in range(case_of_answers.MOST_PARTS) if state.held(f"part{i}.hours")]
    for index in range(min(case_of_answers.MOST_PARTS, 1 + max(filled, default=-1) + 1)):
        _part(fields, index, slots)


def _part(fields: Fields, index: int, slots: dict[str, str]) -> None:
    st.markdown(f"**Another part of the day ({index + 1})**")
    part, places = f"part{index}", two_to_a_row(wrap=False)

    def title(slot: str) -> str:
        return _slot_title(slot, slots[slot]) if slot in slots else "taken away"

    fields.text(f"{part}.name", "What", place=next(places))
    fields.text(f"{part}.hours", "Hours", place=next(places))
    looked = fields.several(
        f"{part}.slots", "Looking at", list(slots), words=title, none="nothing near"
    )
    if len(looked) > 1:
        for slot in looked:
            label = f"{title(slot)}: share (%)"
            fields.text(f"{part}.{slot}.share_pct", label, assumed="a share", place=next(places))
    fields.several(
        f"{part}.needs",
        "Needs clear distance for",
        list(questions.NEEDS),
        words=questions.NEEDS.get,
        none="nothing",
    )


def _fit(fields: Fields) -> None:
    places = two_to_a_row(wrap=False)
    for name in case_of_answers.FIT_FIELDS:
        label, assumed = questions.FIT_LABELS[name], questions.fit_assumed(name)
        fields.text(f"fit.{name}", label, assumed=assumed, place=next(places))
    label = "Fitting height, or R/L (mm)"
    fields.text("fit.fitting_height_mm", label, assumed=20, place=next(places))
    fields.text("pd", "Centration distance R/L (mm)", place=next(places))


def _pairs(fields: Fields) -> None:
    """The pair worn at the desk, and a further one for as long as the last is named."""
    for number, slot in enumerate(case_of_answers.PAIR_SLOTS, 1):
        title = "Worn at the desk today" if number == 1 else f"Another pair owned ({number})"
        st.markdown(f"**{title}**")
        if not _pair(fields, slot):
            return


def _pair(fields: Fields, slot: str) -> str:
    kinds = ["", *[row["id"] for row in tables.rows("lens_kinds")]]
    kind = fields.choice(f"{slot}.kind", "Kind of lens", kinds, words=questions.kind_words)
    if not kind:
        return kind
    numbers = case_of_answers.design_numbers(kind)
    for name, place in zip(numbers, two_to_a_row(wrap=False), strict=False):
        fields.text(f"{slot}.{name}", questions.DESIGN_LABELS[name], place=place)
    for name, words in case_of_answers.design_choices(kind).items():
        label = questions.DESIGN_LABELS[name]
        fields.choice(f"{slot}.{name}", label, words, words=questions.design_choice_words)
    fields.text(f"{slot}.prescription", "Its own prescription, where it differs")
    liked = questions.LIKED
    fields.either(f"{slot}.liked", "Is it liked?", list(liked), words=liked.__getitem__)
    return kind


def _wearer(fields: Fields) -> None:
    places = two_to_a_row(wrap=False)
    fields.text(
        "wearer.near_test_distance_cm", "Add was set for (cm)", assumed=40, place=next(places)
    )
    fields.text("wearer.amplitude_d", "Measured amplitude (D)", place=next(places))
    label, usual = "Test chart at (m)", questions.CHART_ASSUMED
    fields.text("wearer.chart_distance_m", label, assumed=usual, place=next(places))
    label = "Usable share of the amplitude, 0.1 to 1"
    usable = f"{Judgements.standard().usable_fraction:g}"
    fields.text("wearer.usable_fraction", label, assumed=usable)
    turns = questions.TURNS
    label = "To look sideways, turns"
    fields.either("wearer.turns", label, list(turns), words=turns.__getitem__)
    fields.tick("wearer.amplitude_through_lenses", "amplitude was measured through the glasses")
    fields.tick("wearer.accepts_lined", "accepts a visible line")
    names = [row["id"] for row in tables.rows("conditions")]
    fields.several("wearer.conditions", "Told or asked", names, words=questions.condition_words)


def _prices(fields: Fields) -> None:
    st.markdown("Your own prices, in any currency. Blank is unknown; 0 is free.")
    for kind, place in zip(case_of_answers.priced_kinds(), two_to_a_row(wrap=False), strict=False):
        label = result_words.capital(questions.kind_words(kind))
        fields.text(f"price.{kind}", label, place=place)
