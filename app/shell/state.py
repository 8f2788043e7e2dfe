"""The only file that touches the page library's session: which draft a browser tab works on.

A page calls `begin()` once at its top. A field is `key = seed(name, default)`, the widget with
that key, then `keep(name, value)`. The draft, not the widget, is what survives a reload, a visit
to another page and a second tab.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from app.shell import internals
from app.shell.drafts import BOOK, Draft

TOKEN = "draft"
"""Name of the token in the address."""
_TAB = "levelgaze"
OPENED = "opened_drawers"
"""Where a draft's results hold the folded parts that were opened for the reader."""
_OPEN = "open_parts"
"""Where a tab holds the folded parts that were open in the last run."""


def begin() -> Draft:
    """Find or start the draft of this tab and write its token into the address."""
    tab = _tab()
    asked = st.query_params.get(TOKEN)
    draft = BOOK.find(tab.get("token")) if asked in (None, tab.get("token")) else None
    if draft is None:
        draft = _open(tab, asked)
    if asked != draft.token:
        st.query_params[TOKEN] = draft.token
    tab["changed_elsewhere"] = tab["seen"] != draft.revision
    put(tab.pop("later", {}))
    return draft


def turn_to(page: str) -> None:
    """Fill the fields of a page from the draft when another page was shown before it.

    What was opened for the reader there is folded again.

    A field that two pages share is another widget on each. With `persist_state="session"` the page
    library (1.67.0) shows its value on the second page, but returns an empty one in the first run
    there, which would be kept as an answer.
    """
    tab = _tab()
    if tab.get("page") == page:
        return
    tab["page"] = page
    hush()
    results().pop(OPENED, None)
    tab.pop(_OPEN, None)
    prefix = f"{tab['generation']}."
    for key in list(st.session_state):
        if isinstance(key, str) and key.startswith(prefix):
            del st.session_state[key]


def seed(name: str, default: Any = "") -> str:
    """Return the widget key of a value, filled from the draft when the widget is new."""
    key = f"{_tab()['generation']}.{name}"
    _draft().blank.setdefault(name, default)
    if key not in st.session_state:
        st.session_state[key] = _draft().values.get(name, default)
    return key


def among(name: str, options: Sequence[Any]) -> str:
    """Return the widget key of a choice, set to the first option where it holds none of them."""
    key = seed(name, options[0])
    if st.session_state[key] not in options:
        st.session_state[key] = options[0]
    return key


def passing(name: str) -> str:
    """Give the key of a widget whose value no draft keeps, such as a file; new after a deletion."""
    tab = _tab()
    return f"passing.{tab['generation']}.{tab.get('token')}.{name}"


def fold(title: str, *, opens: bool = False) -> str:
    """Return the key under which the session holds whether a folded part is open; or open it."""
    key = f"fold.{title}"
    if opens:
        st.session_state[key] = True
    return key


def was_open(title: str) -> bool:
    """Tell whether a folded part was open when this page was drawn last."""
    return title in _tab().setdefault(_OPEN, set())


def keep_fold(title: str, *, is_open: bool) -> None:
    """Keep whether a folded part is open, for the next run."""
    drawn: set[str] = _tab().setdefault(_OPEN, set())
    (drawn.add if is_open else drawn.discard)(title)


def pressed(key: str) -> bool:
    """Tell whether this run was asked for by the button of that key, drawn again in it or not."""
    return bool(st.session_state.get(key))


def shown(name: str, default: Any = "") -> Any:
    """Return what the widget of a value shows now, or would show first."""
    return st.session_state[seed(name, default)]


def keep(name: str, value: Any) -> Any:
    """Store what a widget holds, unless another tab has changed the draft meanwhile."""
    tab, draft = _tab(), _draft()
    if tab["seen"] == draft.revision:
        draft.put(name, value)
        tab["seen"] = draft.revision
    return value


def put(values: dict[str, Any]) -> None:
    """Set values from a callback; the widgets show them in the run that follows."""
    tab, draft = _tab(), _draft()
    if tab["seen"] != draft.revision:
        return
    for name, value in values.items():
        draft.put(name, value)
        st.session_state[f"{tab['generation']}.{name}"] = value
    tab["seen"] = draft.revision


def put_later(values: dict[str, Any]) -> None:
    """Set values with the next whole page: a part drawn alone cannot fill fields outside it."""
    _tab()["later"] = values


def held(name: str, default: Any = None) -> Any:
    """Return a value of this tab's draft without drawing a widget."""
    return _draft().values.get(name, default)


def answers() -> dict[str, Any]:
    """Give all values of this tab's draft, as typed, for a page that draws none of their fields."""
    return dict(_draft().values)


def shown_answers() -> dict[str, Any]:
    """Return all values of this tab's draft as its fields show them, before any is drawn."""
    prefix = f"{_tab()['generation']}."
    return {
        name: st.session_state.get(prefix + name, value) for name, value in _draft().values.items()
    }


def replace(values: dict[str, Any]) -> None:
    """Begin the draft anew with these values (an example, an imported file).

    What it held can be brought back for a minute.
    """
    draft = _draft()
    _put_aside(draft)
    draft.values.clear()
    draft.results.clear()
    for name, value in values.items():
        draft.put(name, value)
    draft.revision += 1
    _refresh(draft)


def forget() -> None:
    """Delete this tab's draft, what was computed from it and the files given; start empty.

    What was typed can be brought back for a minute.
    """
    generation = _tab()["generation"]
    _put_aside(_draft())
    aside = _tab().get("aside")
    BOOK.delete(_draft().token)
    internals.forget_uploads()
    st.session_state.clear()
    st.query_params.pop(TOKEN, None)
    _tab().update(generation=generation, notice="deleted", aside=aside)


def can_bring_back() -> bool:
    """Tell whether answers that were replaced or deleted here a moment ago can be brought back."""
    return BOOK.is_aside(_tab().get("aside"))


def bring_back() -> None:
    """Show the replaced or deleted answers again; those they displace are put aside in turn."""
    values = BOOK.take_aside(_tab().pop("aside", None))
    if values is None:
        tell(notice="too late")
    else:
        replace(values)


def forget_aside() -> None:
    """Forget at once what could be brought back here."""
    BOOK.take_aside(_tab().pop("aside", None))


def nothing_to_bring_back() -> None:
    """Forget what could be brought back in any tab: what is deleted for good is in none of them."""
    BOOK.forget_aside()


def went_well() -> None:
    """Remember the values of a page that was drawn to its end."""
    draft = BOOK.find(_tab().get("token"))
    if draft is not None and _tab()["seen"] == draft.revision:
        draft.good = dict(draft.values)


def can_take_back() -> bool:
    """Tell whether anything changed since a page was last drawn to its end."""
    return _draft().changed()


def take_back() -> None:
    """Go back to the values of the last page that was drawn to its end."""
    draft = _draft()
    if draft.good is None:
        return
    draft.values = dict(draft.good)
    draft.results.clear()
    draft.revision += 1
    _refresh(draft)


def changed_elsewhere() -> bool:
    """Tell whether another tab changed this draft after this one last looked."""
    return bool(_tab().get("changed_elsewhere"))


def show_theirs() -> None:
    """Show the other tab's answers here."""
    _refresh(_draft())


def keep_mine() -> None:
    """Let this tab's answers replace the other tab's."""
    tab, draft = _tab(), _draft()
    tab["seen"] = draft.revision
    prefix = f"{tab['generation']}."
    for key in list(st.session_state):
        if isinstance(key, str) and key.startswith(prefix):
            draft.put(key.removeprefix(prefix), st.session_state[key])
    tab["seen"] = draft.revision


def notice() -> str:
    """Return what to tell about the draft: "deleted", "expired", "too late" or nothing.

    That it starts empty is told until something is typed.
    """
    if _draft().typed(shown_answers()):
        _tab().pop("notice", None)
    fresh: str = _tab().get("notice", "")
    return told("notice") or fresh


def tell(**said: str) -> None:
    """Have this tab say what its last action came to: each sentence under what it is.

    It stays until `hush`, or until another page is shown: the run that first draws it can be
    followed at once by another, asked for by a deletion in a second tab or a line that came back.
    """
    _tab().setdefault("told", {}).update(said)


def hush() -> None:
    """Say no longer what the action before came to."""
    _tab().pop("told", None)


def told(what: str) -> str:
    """Return the sentence that was told under this name, or nothing."""
    sentence: str = _tab().get("told", {}).get(what, "")
    return sentence


def results() -> dict[str, Any]:
    """Return the answers computed from this draft; they go when it goes."""
    return _draft().results


def _tab() -> dict[str, Any]:
    tab: dict[str, Any] = st.session_state.setdefault(_TAB, {"generation": 0, "seen": 0})
    return tab


def _draft() -> Draft:
    return BOOK.find(_tab().get("token")) or begin()


def _put_aside(draft: Draft) -> None:
    """Put aside what was typed in a draft, in place of what was put aside here before."""
    forget_aside()
    if draft.typed():
        _tab()["aside"] = BOOK.put_aside(draft.values)


def _open(tab: dict[str, Any], asked: str | None) -> Draft:
    draft = BOOK.find(asked)
    if draft is None:
        draft = BOOK.start()
        if asked or tab.get("token"):
            tab.setdefault("notice", "expired")
    tab["token"] = draft.token
    _refresh(draft)
    return draft


def _refresh(draft: Draft) -> None:
    tab = _tab()
    tab["generation"] += 1
    tab["seen"] = draft.revision
    tab["changed_elsewhere"] = False
