"""A change at the desk in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from engine.case.results import Change

_LEAST = 0.5


def change_words(change: Change, target: str) -> str:
    """What to do with a screen, as a sentence without its full stop.

    >>> from engine.case.results import Change
    >>> change_words(Change(up_cm=-21.0, tilt_deg=10.0), "screen")
    'Lower screen by 21 cm and tilt its top 10 degrees farther back'
    """
    parts = list(_parts(change, target))
    words = " and ".join(parts)
    return words[:1].upper() + words[1:]


def _parts(change: Change, target: str) -> Iterator[str]:
    name = target
    for value, less, more in (
        (change.up_cm, "lower {} by {:.0f} cm", "raise {} by {:.0f} cm"),
        (change.farther_cm, "bring {} nearer by {:.0f} cm", "move {} {:.0f} cm farther away"),
        (
            change.tilt_deg,
            "tilt the top of {} {:.0f} degrees forward",
            "tilt the top of {} {:.0f} degrees farther back",
        ),
    ):
        if abs(value) < _LEAST:
            continue
        words = (less if value < 0.0 else more).format(name, abs(value))
        yield words.replace("the top of it", "its top")
        name = "it"
