"""The chosen case: open it, see what changed between two saves, copy it, hand it on, delete it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

import streamlit as st

from app.draw.svg import escaped
from app.form import change_words, keep
from app.form.fields import PAUSE, picked
from app.form.html import alert, html, quiet, table
from app.form.keep import LABEL
from app.shell import internals, state
from engine.case.model import Case
from engine.errors import InputRefusedError, LevelgazeError
from engine.files.case_json import case_from_json
from engine.files.changes import changes
from engine.files.fhir import bundle, prescription_to_fhir
from engine.files.store import CaseMissingError, Entry, Record, StaleError, Store
from engine.files.store_file import StoreError, StoreTracesError
from engine.wording import say

INTERVIEW = "views/interview/page.py"
_ASKED, _SHOWN = "cases_asked", "cases_shown"
CAUGHT = (InputRefusedError, StoreError, StaleError, CaseMissingError)


def told() -> None:
    """Say what the last action came to."""
    if trouble := state.told("trouble"):
        html(alert(trouble))
    if done := state.told("done"):
        html(f'<p class="lg-done" role="status">{escaped(done)}</p>')


def chosen(entry: Entry) -> None:
    """Show all that can be done with one case."""
    # no h2: the page library would give it a link with the label in its address
    name = escaped(entry.label)
    html(f'<p class="lg-case" role="heading" aria-level="2">{name}</p>')
    try:
        with Store() as store:
            saves = store.revisions(label=entry.label)[::-1]
            _newest_first(entry)
            record = _which(store, entry.label, saves)
            _open(record)
            _compare(store, entry.label, saves)
            whole = store.export(label=entry.label)
    except CAUGHT as error:
        html(alert(keep.trouble(error)))
    else:
        _hand_on(record, whole)
    _copy(entry.label)
    _delete(entry)


def _newest_first(entry: Entry) -> None:
    """Let the choices begin anew at another case, and at a case that was saved again meanwhile.

    A number chosen for one case is an old save of another.
    """
    results = state.results()
    if results.get(_SHOWN) == (entry.label, entry.revision):
        return
    results[_SHOWN] = (entry.label, entry.revision)
    newest, before = entry.revision, max(entry.revision - 1, 1)
    state.put({"cases.revision": newest, "cases.earlier": before, "cases.later": newest})


def _which(store: Store, label: str, saves: tuple[Entry, ...]) -> Record:
    numbers = [save.revision for save in saves]
    said = {save.revision: _save_words(save) for save in saves}
    number = picked("cases.revision", "Which save", numbers, words=said.__getitem__)
    return store.open(label=label, revision=number)


def _save_words(save: Entry) -> str:
    return f"save {save.revision}, {keep.when_words(save.saved_at)}"


def _open(record: Record) -> None:
    """Open in the Interview; older numbers are told first, unsaved answers named."""
    try:
        values = keep.opened_values(record)
    except InputRefusedError as refusal:
        html(alert(keep.trouble(refusal)))
        return
    for line in values[keep.NEWS]:
        quiet(line)
    open_button("Open in the Interview", values, key="open-case")


def open_button(label: str, values: dict[str, object], *, key: str) -> None:
    """Draw a button that puts these answers in place of the draft and goes to the Interview."""
    losing = unsaved()
    if losing:
        quiet(losing)
        label = f"{label} and drop the unsaved answers"
    if st.button(label, key=key, type="primary", on_click=state.replace, args=(values,)):
        st.switch_page(INTERVIEW)


def unsaved() -> str:
    """Tell whether the draft holds answers that no save holds."""
    held = state.answers()
    if not str(held.get("wearer.age_years") or held.get("prescription") or "").strip():
        return ""
    if keep.is_saved(held, keep.shown_case(held, label="draft")):
        return ""
    return say("cases_answers_interview_not_saved")


def _compare(store: Store, label: str, saves: tuple[Entry, ...]) -> None:
    """Draw two saves side by side."""
    if len(saves) < 2:
        return
    st.header("What changed between two saves", anchor=False)
    numbers = [save.revision for save in saves]
    said = {save.revision: _save_words(save) for save in saves}
    left, right = st.columns(2)
    compared = [
        picked(name, title, order, words=said.__getitem__, place=place)
        for place, title, name, order in (
            (left, "Earlier save", "cases.earlier", [*numbers[1:], numbers[0]]),
            (right, "Later save", "cases.later", numbers),
        )
    ]
    old, new = (store.open(label=label, revision=number) for number in compared)
    found = changes(
        old_case=old.case_json,
        new_case=new.case_json,
        old_result=old.result_json,
        new_result=new.result_json,
    )
    answers = [one.result_json for one in (old, new) if one.result_json is not None]
    shown = change_words.tables_of(found, results=answers)
    if not shown:
        quiet(say("cases_nothing_differs_between_these"))
    for caption, rows in shown:
        html(table(caption, change_words.HEADINGS, rows))


def _hand_on(record: Record, whole: str) -> None:
    label = record.entry.label
    with st.expander("Hand it on as a file"):
        st.markdown(say("cases_nothing_sent_you_save"))
        _download("Every save with its answers (JSON)", label, "-record.json", lambda: whole)
        _download("This save, the case alone (JSON)", label, ".json", lambda: record.case_json)

        def in_fhir(write: Callable[[Case], dict[str, Any]]) -> str:
            return json.dumps(write(case_from_json(record.case_json)), indent=1)

        for title, ending, write in (
            ("Prescription (HL7 FHIR)", "-prescription.json", prescription_to_fhir),
            ("Prescription, desk and fit (HL7 FHIR bundle)", "-bundle.json", bundle),
        ):
            _download(title, label, ending, partial(in_fhir, write))


def _download(title: str, label: str, ending: str, content: Callable[[], str]) -> None:
    try:
        data = content()
    except LevelgazeError as error:
        html(alert(f"{title}: {keep.trouble(error)}"))
        return
    st.download_button(
        title,
        data.encode(),
        file_name=keep.file_name(label, ending),
        mime="application/json",
        on_click="ignore",
        width="stretch",
        key=f"hand-on{ending}",
    )


def _copy(label: str) -> None:
    with st.expander("Copy it"):
        key = state.seed("cases.copy", "")
        new = st.text_input("Label of the copy", key=key, live=PAUSE, autocomplete="off")
        st.button("Copy", key="copy-case", on_click=_copied, args=(label, new))


def _copied(label: str, new_label: str) -> None:
    def work(store: Store) -> str:
        store.copy(label=label, new_label=new_label.strip())
        state.put({"cases.chosen": new_label.strip(), "cases.copy": "", "cases.first": 0})
        return f"{label} is copied as {new_label.strip()}."

    do(work)


def _delete(entry: Entry) -> None:
    """Ask once; a tick that was meant for another case does not count for this one."""
    name, results = f"cases.sure.{entry.revision}", state.results()
    if results.get(_ASKED) != entry.label:
        state.put({name: False})
        results[_ASKED] = entry.label
    with st.expander("Delete it"):
        count = "its one save" if entry.revision == 1 else f"all {entry.revision} saves of it"
        sure = st.checkbox(f"Yes, delete {count} for good", key=state.seed(name, False))
        st.button(
            "Delete", key="delete-case", disabled=not sure, on_click=_deleted, args=(entry.label,)
        )


def _deleted(label: str) -> None:
    def work(store: Store) -> str:
        with gone_from_tabs(only=label):
            store.delete(label=label)
        return say("cases_deleted_answers_open_interview", label=label)

    do(work)


@contextmanager
def gone_from_tabs(*, only: str | None = None) -> Iterator[None]:
    """Let no tab offer what is deleted inside, though its last traces may still be on the disk.

    only: the label of the one case that is deleted, here or in another tab.
    """
    trouble = None
    try:
        yield
    except (StoreTracesError, CaseMissingError) as error:
        trouble = error
    state.nothing_to_bring_back()
    _forget_kept(only=only)
    internals.redraw_other_tabs()
    if trouble is not None:
        raise trouble


def _forget_kept(*, only: str | None) -> None:
    """Let the draft no longer count as saved.

    only: where it is the case of this label.
    """
    held = state.answers()
    gone = {name: False for name in held if name.startswith("cases.sure.")}
    if only is None or held.get(LABEL) == only:
        gone |= dict.fromkeys((LABEL, keep.REVISION, keep.DIGEST, keep.SAVED_AT), None)
    state.put(gone)


def do(work: Callable[[Store], str]) -> None:
    """Work on the store; what came of it is told from the next drawing of the page."""
    state.hush()
    try:
        with Store() as store:
            state.tell(done=work(store))
    except CAUGHT as error:
        state.tell(trouble=keep.trouble(error))
