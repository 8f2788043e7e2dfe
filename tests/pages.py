"""Pages run without a browser or a server, opened as their addresses open them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

from app.shell import drafts, state, words
from app.views.interview import answer, form

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


def draft_of(page: AppTest) -> drafts.Draft:
    """Return the draft that a page works on."""
    token = page.query_params["draft"]
    found = drafts.BOOK.find(token[0] if isinstance(token, list) else token)
    assert found is not None
    return found
