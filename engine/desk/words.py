"""A change at the desk in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.case.results import Change

_LEAST = 0.5


def change_words(change: Change) -> str:
    """How a screen stands after a change, against where it stands now.

    >>> from engine.case.results import Change
    >>> change_words(Change(up_cm=-21.0, tilt_deg=10.0))
    '21 cm lower and its top 10 degrees farther back'
    """
    parts = (
        (change.up_cm, "{:.0f} cm lower", "{:.0f} cm higher"),
        (change.farther_cm, "{:.0f} cm nearer", "{:.0f} cm farther away"),
        (change.tilt_deg, "its top {:.0f} degrees forward", "its top {:.0f} degrees farther back"),
    )
    return " and ".join(
        (less if value < 0.0 else more).format(abs(value))
        for value, less, more in parts
        if abs(value) >= _LEAST
    )
