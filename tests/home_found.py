"""What the engine's crowd finds for some answers, in the shape in which the home file says it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from engine.case.read import build_case
from engine.home.case import case_content
from engine.home.crowd import Crowd, ScreenMove, best_move, crowd_of, held, share_at, worn_shares
from engine.home.kinds import Comparison, compare
from engine.tables import Judgements

if TYPE_CHECKING:
    from engine.home.answers import HomeAnswers
    from engine.home.crowd import Held

JUDGED = Judgements.standard()


@dataclass(frozen=True)
class EngineFound:
    """The engine's answer. at: number of the screen most looked at; before: its share now."""

    crowd: Crowd
    hours: Comparison
    held: list[Held]
    move: ScreenMove | None
    at: int
    before: float

    def means(self) -> dict[str, float]:
        """Mean hours of what is worn now, where known, and of every kind."""
        return self.hours.every | ({} if self.hours.now_h is None else {"now": self.hours.now_h})

    def gain_h(self, move: dict[str, Any] | None) -> float:
        """What the engine finds that a move told by the file brings, hours a day."""
        if move is None:
            return 0.0
        after = share_at(self.crowd, self.at, move["lower_cm"], move["farther_cm"])
        return (after - self.before) * float(self.crowd.hours[self.at])


def engine_found(answers: HomeAnswers) -> EngineFound:
    """The engine's answer to answers of somebody from 40 on."""
    case = build_case(case_content(answers))
    crowd = crowd_of(case, age=answers.age or "", glasses=answers.glasses, judgements=JUDGED)
    screens = answers.screens or ()
    at = int(np.argmax(crowd.hours[: len(screens)]))
    if not crowd.is_worn_known:
        none = np.zeros((len(crowd.parts), 1, len(crowd.hours)))
        hours = compare(crowd, none, glasses=answers.glasses)
        return EngineFound(crowd, hours, [], None, at, 0.0)
    shares = worn_shares(crowd, crowd.scene())
    hours = compare(crowd, shares, glasses=answers.glasses)
    postures = held(crowd, shares)
    before, move = postures[at].clear_share, None
    if screens[at].movable:
        move = best_move(crowd, crowd.names[at], before=before)
    return EngineFound(crowd, hours, postures, move, at, before)
