"""One lens for every station of the day, and the station that gains least by it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from engine.answer.options import Option
    from engine.case.model import Case


@dataclass(frozen=True)
class Station:
    """One activity through one option.

    Attributes:
        share: comfortable share of its hours.
    """

    activity: str
    hours: float
    share: float


@dataclass(frozen=True)
class Stations:
    """One lens for every station, and the station that gains least by it.

    Attributes:
        option: the option whose worst station is the best.
        stations: each activity through it, worst first.
    """

    option: str
    stations: tuple[Station, ...]


def stations(case: Case, options: Sequence[Option]) -> Stations | None:
    """The one lens that serves all stations best; None where nothing may be recommended."""
    may = [option for option in options if option.result.recommendable]
    if not may:
        return None

    def through(option: Option) -> list[Station]:
        hours = option.hours.comfortable_h.mean(axis=0)
        found = [
            Station(activity.name, activity.hours, min(float(spent) / activity.hours, 1.0))
            for activity, spent in zip(case.activities, hours, strict=True)
        ]
        return sorted(found, key=lambda station: station.share)

    best = max(may, key=lambda option: (through(option)[0].share, option.result.comfortable_h))
    return Stations(best.name, tuple(through(best)))
