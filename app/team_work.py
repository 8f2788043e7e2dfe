"""What the Team page asks of the engine: the search with its progress, what may be shown of it.

Pure: no page library. What is found is kept with the draft and goes with it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from app.team_file import Checked
from engine import team_sensitivity
from engine.roster import Settings
from engine.team_people import Team, team_of
from engine.team_sensitivity import Ends

SLICE_PEOPLE = 24
"""People searched between two moves of the progress bar."""
SAMPLE_DRAWS = 5
SECONDS_A_PERSON = 0.1
"""Ten draws through every kind, twice, on one free core; shown before the first slice is timed."""
Progress = Callable[[float, float], None]
"""Told the share that is done, 0 to 1, and the seconds that are left."""


@dataclass(frozen=True)
class Asked:
    """What a search was asked, to see later whether its answer is still the one."""

    frame: pd.DataFrame
    present: str

    def same(self, other: Asked) -> bool:
        """Whether the same was asked."""
        return self.present == other.present and self.frame.equals(other.frame)


@dataclass(frozen=True)
class Found:
    """A team that was searched."""

    asked: Asked
    team: Team
    single: bool


def searched(rows: Checked, present: str, *, progress: Progress) -> Found:
    """Search everyone, a slice at a time."""
    team = team_of(
        rows.good,
        settings=Settings(),
        assumed_present=present,
        slice_people=SLICE_PEOPLE,
        progress=timed(progress),
    )
    return Found(Asked(rows.good, present), team, rows.single)


def ends_of(rows: Checked, present: str, *, progress: Progress) -> Ends:
    """Search a sample with what is unknown of eyes and desks at its ends."""
    return team_sensitivity.ends_of(
        rows.good,
        settings=Settings(draws=SAMPLE_DRAWS),
        assumed_present=present,
        progress=timed(progress),
    )


def timed(progress: Progress) -> Callable[[float], None]:
    """Progress that is told the share alone, with the seconds left from the pace so far."""
    began = time.monotonic()

    def tell(done: float) -> None:
        progress(done, (time.monotonic() - began) * (1.0 - done) / done)

    return tell


def seconds(people: int) -> float:
    """About how long a search takes."""
    return people * SECONDS_A_PERSON
