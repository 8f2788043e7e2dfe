"""The home check as the wearer gets it, to try, to save as a file, or to print empty."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

import streamlit as st

from app.home_file import build, sheet
from app.shell import words


@lru_cache(maxsize=1)
def _file(made: date) -> str:
    """Return the file of a day; it holds nothing of anybody."""
    return build.home_file(made=made)


def page() -> None:
    """Draw the two files to hand out, and the home check itself in a frame."""
    st.title(words.PAGES["home"], anchor=False)
    st.markdown(words.HOME_LEAD)
    made = date.today()
    file = _file(made)
    left, right = st.columns(2)
    for place, label, name, content in (
        (left, words.HOME_SAVE, "home-check.html", file),
        (right, words.HOME_SHEET, "question-sheet.html", sheet.sheet_page()),
    ):
        place.download_button(
            label, content, file_name=name, mime="text/html", on_click="ignore", width="stretch"
        )
    st.iframe(file, height=FRAME_PX, alt=words.PAGES["home"])


FRAME_PX = 1000
"""A question on a narrow screen is as tall; more scrolls inside the frame."""


page()
