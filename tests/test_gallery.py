"""The page of the eight wearers says what the program says today."""

from __future__ import annotations

import re

from app.gallery import PAGE, gallery
from engine import examples

NUMBER = re.compile(r"-?\d+\.\d")
LAST_DIGIT = 0.1
"""What two processors may round apart."""


def test_the_page_shows_every_example_as_it_is_answered_today() -> None:
    kept, made = PAGE.read_text(encoding="utf-8"), gallery()
    assert all(f"levelgaze example {name}<" in kept for name in examples.names())
    anew = "the gallery is of another program: python -m app.gallery"
    assert NUMBER.split(kept) == NUMBER.split(made), anew
    pairs = zip(NUMBER.findall(kept), NUMBER.findall(made), strict=True)
    off = [(old, new) for old, new in pairs if abs(float(old) - float(new)) > LAST_DIGIT + 1e-9]
    assert not off, anew
