"""Show kept cases: find, open, compare, copy, hand on, delete; and open a file."""

from __future__ import annotations

import streamlit as st

from app.form import code_picture, keep
from app.form.fields import PAUSE, picked
from app.form.html import alert, flag, html, listed, quiet, table
from app.shell import state, words
from app.views.cases import chosen_case
from app.views.cases.everything import copy_of_everything, delete_everything
from app.views.cases.foretold import predicted_and_reported
from engine.errors import InputRefusedError
from engine.files.store import Entry, Store
from engine.files.store_file import StoreError
from engine.home.case import LARGEST_FILE
from engine.wording import say


def page() -> None:
    """Draw the list at the left with the file below it, the chosen case at the right."""
    st.title(words.PAGES["cases"], anchor=False)
    left, right = st.columns([5, 7], gap="large")
    entry = None
    with left:
        chosen_case.told()
        try:
            entry = _list()
        except StoreError as error:
            html(alert(keep.trouble(error)))
        open_a_file()
    with right:
        if entry is not None:
            chosen_case.chosen(entry)
    predicted_and_reported()
    copy_of_everything()
    delete_everything()


def _list() -> Entry | None:
    """Search, one page of what is found, and the choice of a case."""
    st.header("On this computer", anchor=False)
    search = st.text_input(
        "Search the labels", key=state.seed("cases.search", ""), live=PAUSE, autocomplete="off"
    )
    state.keep("cases.search", search)
    with Store() as store:
        everything, total = store.count(), store.count(search=search)
        unreadable = store.unreadable()
        first = min(int(state.held("cases.first") or 0), max(total - 1, 0))
        found = store.entries(search=search, offset=first, limit=keep.MOST_LISTED)
    if unreadable:
        cases = "One kept case is" if unreadable == 1 else f"{unreadable} kept cases are"
        flag(say("cases_damaged_not_listed_copy", cases=cases))
    if not found:
        nothing = (
            say("cases_no_case_kept_yet")
            if not everything
            else (say("cases_none_kept_cases_has", everything=everything))
        )
        quiet(nothing)
        return None
    rows = [[entry.label, keep.when_words(entry.saved_at), str(entry.revision)] for entry in found]
    caption = f"{first + 1} to {first + len(found)} of {total}, the last saved first"
    html(table(caption, ["label", "saved", "saves"], rows))
    if total > len(found):
        _turn(first, total)
    labels = [entry.label for entry in found]
    return found[labels.index(picked("cases.chosen", "Case", labels))]


def _turn(first: int, total: int) -> None:
    left, right = st.columns(2)
    for place, label, to in (
        (left, "Later saved", first - keep.MOST_LISTED),
        (right, "Earlier saved", first + keep.MOST_LISTED),
    ):
        place.button(
            label,
            width="stretch",
            disabled=not 0 <= to < total,
            on_click=state.put,
            args=({"cases.first": max(to, 0)},),
        )


KINDS = {
    "case": "A whole case.",
    "record": say("cases_record_saves_newest_one"),
    "prescription": say("cases_prescription_alone"),
    "bundle": say("cases_prescription_desk_fit"),
    "visit": say("cases_from_home_what_wearer"),
}
OPEN = "open-file"
PASTED = "cases.pasted"


def open_a_file() -> None:
    """Draw the uploader, the place for a pasted text, what they hold, and the button."""
    st.header("Open a file", anchor=False)
    if state.pressed(OPEN):  # what was taken over has a draft of its own, and the file is forgotten
        st.switch_page(chosen_case.INTERVIEW)
    given = st.file_uploader(
        "Case, record, FHIR prescription or bundle, or from home: a file or a picture of the code",
        type=["json", "txt", *code_picture.ENDINGS],
        max_upload_size=code_picture.LARGEST_MB,
        key=state.passing("cases.file"),
    )
    pasted = st.text_area(
        "Or paste the text of a file or of the code",
        key=state.passing(PASTED),
        height=80,
        max_chars=LARGEST_FILE,
    )
    st.button("Read the text", key="read-pasted")
    if given is not None:
        _opened(given.getvalue(), "file")
    elif pasted.strip():
        _opened(pasted.encode(), "text")


def _opened(content: bytes, what: str) -> None:
    try:
        found = keep.read_file(content)
    except InputRefusedError as refusal:
        html(alert(say("cases_was_not_opened_nothing", what=what, trouble=keep.trouble(refusal))))
        return
    quiet(KINDS[found.kind])
    for line in found.lines:
        quiet(line)
    if found.aside:
        with st.expander("Everything left out of the file"):
            listed(found.aside)
    if found.whole:
        values = {**found.answers, "keep.label": found.label, keep.NEWS: list(found.lines)}
        chosen_case.open_button("Open the file in the Interview", values, key=OPEN)
        return
    if st.button(
        "Take the prescription into the answers",
        key="take-prescription",
        type="primary",
        on_click=state.put,
        args=(found.answers,),
    ):
        st.switch_page(chosen_case.INTERVIEW)


page()
