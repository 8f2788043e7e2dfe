"""Show how predictions held among the kept cases, from ten on, on this computer only."""

from __future__ import annotations

import json

import streamlit as st

from app.draw.foretold import describe, foretold_picture
from app.form.html import picture, quiet
from app.form.pair_records import COLLECTIONS
from engine.collection.followup import Foretold, foretold_in
from engine.errors import LevelgazeError
from engine.files.store import Store
from engine.wording import say

FEWEST = 10
"""From so many pairs on the plot is shown."""


def kept_pairs(store: Store) -> list[Foretold]:
    """Return what was predicted and reported, for each pair of each newest save."""
    found: list[Foretold] = []
    for text in store.newest_with(word='"reported_h"'):
        extensions = json.loads(text).get("extensions")
        if isinstance(extensions, dict):
            found += foretold_in(extensions, tuple(COLLECTIONS.values()))
    return found


def predicted_and_reported() -> None:
    """Draw the plot, with its meaning in a line; nothing where there are too few."""
    try:
        with Store() as store:
            found = kept_pairs(store)
    except LevelgazeError:  # said already where the cases are listed
        return
    if len(found) < FEWEST:
        return
    st.header("Predicted and reported", anchor=False)
    quiet(describe(found))
    picture(foretold_picture(found))
    quiet(say("cases_from_cases_kept_on"))
