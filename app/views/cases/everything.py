"""Copy everything this program keeps on this computer, bring a copy back, or delete it all."""

from __future__ import annotations

import streamlit as st

from app.form import keep
from app.form.html import quiet
from app.shell import state
from app.views.cases import chosen_case
from engine.files import practice
from engine.files.store import Store
from engine.files.store_file import StoreError, StoreTracesError
from engine.team import secret
from engine.wording import counted, say

SURE = "cases.everything"


def copy_of_everything() -> None:
    """Save a copy of all kept cases, and bring one back."""
    try:
        with Store() as store:
            empty = not store.count()
    except StoreError:  # said already where the cases are listed
        return
    with st.expander("A copy of everything, to save or to bring back"):
        quiet(say("cases_copy_of_everything"))
        st.download_button(
            "Save a copy of everything",
            _everything,
            file_name="levelgaze-cases.sqlite3",
            mime="application/vnd.sqlite3",
            on_click="ignore",
            disabled=empty,
        )
        given = st.file_uploader(
            "A copy to bring back", type=["sqlite3"], key=state.passing("cases.copy")
        )
        if given is not None:
            content = given.getvalue()
            st.button("Bring the copy back", on_click=_brought_back, args=(content,))


def _everything() -> bytes:
    with Store() as store:
        return store.as_bytes()


def _brought_back(content: bytes) -> None:
    chosen_case.do(lambda store: store.restore(content).words())


def delete_everything() -> None:
    """Ask once more, then delete."""
    with st.expander("Delete everything kept on this computer"):
        quiet(say("cases_deleting_everything"))
        sure = st.checkbox("Yes, delete all of it for good", key=state.seed(SURE, False))
        st.button(
            "Delete everything", key="delete-everything", disabled=not sure, on_click=_deleted
        )


def _deleted() -> None:
    state.put({SURE: False})
    chosen_case.do(_cases_then_files)


def _cases_then_files(store: Store) -> str:
    """Delete the cases first: they are about people, and the key blurs what was shown of a team.

    A key that is gone while the cases stay would blur the same team anew, and two blurs tell more
    than one. Each that stays is named.
    """
    count, trouble = store.count(), []
    try:
        with chosen_case.gone_from_tabs():
            store.delete_all()
    except StoreTracesError as error:
        trouble.append(keep.trouble(error))
    for file, what in (
        (practice, "practice's defaults stay"),
        (secret, "key of Team figures stays"),
    ):
        try:
            file.forget()
        except OSError:
            trouble.append(say("cases_protected_remove_by_hand", what=what, path=file.path()))
    if trouble:
        state.tell(trouble=" ".join(trouble))
        return f"Deleted: {counted(count, 'case')}."
    what = "the practice's defaults and the key of Team figures"
    return f"Everything is deleted: {counted(count, 'case')}, {what}."
