"""One lens for every station of the day, and the station that gains least by it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.answer.options import Solver
from engine.case.targets import hours_on
from engine.desk.moves import movable_screens

if TYPE_CHECKING:
    from engine.answer.options import Option
    from engine.case.model import Case
    from engine.tables import Judgements


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
        serves_all: whether the worst one needs no change of its desk.
        screen: of the worst one, the place in the case of the movable screen most looked at.
    """

    option: str
    stations: tuple[Station, ...]
    serves_all: bool
    screen: int | None


def stations(case: Case, *, judgements: Judgements) -> Stations | None:
    """Return the one lens that serves all stations best; None where nothing may be recommended."""
    options = Solver(case, judgements).options()
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
    found = through(best)
    return Stations(
        option=best.name,
        stations=tuple(found),
        serves_all=found[0].share >= judgements.station_enough_share,
        screen=_screen_of(case, found[0].activity),
    )


def _screen_of(case: Case, activity: str) -> int | None:
    """Return the movable screen most looked at in an activity."""
    (looked,) = (one for one in case.activities if one.name == activity)
    hours = [hours_on(target.name, [looked]) for target in case.targets]
    seen = [at for at in movable_screens(case) if hours[at] > 0.0]
    return max(seen, key=lambda at: hours[at], default=None)
