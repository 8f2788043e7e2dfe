"""Pages run without a browser or a server, opened as their addresses open them."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

from app.shell import drafts, state, words
from app.views.interview import answer, form
from tests.as_read import as_read

MAIN = Path(__file__).resolve().parents[1] / "app" / "main.py"
LONGEST_S = 180


def opened(
    view: str = "interview",
    answers: Mapping[str, Any] | None = None,
    *,
    draft: str = "",
    is_unfolded: bool = True,
) -> AppTest:
    """Return a page as it first opens, on a new draft with these answers, or on the one named.

    is_unfolded: with every part open, for what is in a part is drawn only while it is.

    The page tester only goes to a page by way of the first one, the Interview, which need not be
    drawn for it: a page's file is known to the library by the hash of its place in the address.
    """
    page = AppTest.from_file(str(MAIN), default_timeout=LONGEST_S)
    if view != "interview":
        page._page_hash = calc_hash(view)
    if is_unfolded:
        unfold(page)
    if answers is not None:
        begun = drafts.BOOK.start()
        for name, value in answers.items():
            begun.put(name, value)
        draft = begun.token
    if draft:
        page.query_params["draft"] = draft
    return whole(page.run())


def unfold(page: AppTest) -> None:
    """Open what is drawn only while it is open, in the next run of a page."""
    for title in (*form.FOLDED, *answer.FOLDED):
        page.session_state[state.fold(title)] = True


def whole(page: AppTest) -> AppTest:
    """Return a page that ran without an exception or the sentence that hides one."""
    assert not page.exception
    assert words.FAULT not in [one.value for one in page.error]
    return page


def widget(page: AppTest, kind: str, label: str) -> Any:
    """Return the one widget of a kind with this label, else the one whose label begins so."""
    every = getattr(page, kind)
    found = [one for one in every if one.label == label]
    found = found or [one for one in every if one.label.startswith(label)]
    assert len(found) == 1, f"{label}: {[one.label for one in every]}"
    return found[0]


def field(page: AppTest, label: str) -> Any:
    """Return the text field of a label."""
    return widget(page, "text_input", label)


def typed(page: AppTest, **texts: str) -> AppTest:
    """Type into fields by label (a space may be _) and let the page answer."""
    for label, text in texts.items():
        field(page, label.replace("_", " ")).set_value(text)
    return whole(page.run())


def pressed(page: AppTest, label: str) -> AppTest:
    """Press a button and let the page answer."""
    widget(page, "button", label).click()
    return whole(page.run())


def picked(page: AppTest, label: str, value: str) -> AppTest:
    """Choose of a list and let the page answer."""
    widget(page, "selectbox", label).set_value(value)
    return whole(page.run())


def markup(page: AppTest) -> str:
    """Return the HTML of the page, its letters escaped as they are sent."""
    return as_read("\n".join(one.value for one in page.markdown))


def said(page: AppTest) -> str:
    """Return the words of the page, without marks of structure."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup(page))).split())


def draft_of(page: AppTest) -> drafts.Draft:
    """Return the draft that a page works on."""
    token = page.query_params["draft"]
    found = drafts.BOOK.find(token[0] if isinstance(token, list) else token)
    assert found is not None
    return found
