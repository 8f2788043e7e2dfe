"""What each invented session types, and what the first page must then say.

The expected lines are computed here, in another process than the program's, from the same answers.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from typing import Any

from app.draw import result_words
from app.form import case_of_answers, compute
from engine.wording import hours

ADDS = ("1,25", "1.50", "1,75", "2.00", "2,25", "2.50")
_TAG = re.compile(r"<[^>]*>")


@dataclass(frozen=True)
class Step:
    """A value typed, and what can be read in the line in view once it is answered."""

    field: str
    value: str
    says: str
    hours: str
    counts: str

    def answered_by(self, words: str) -> bool:
        """Whether a line in view is the answer to this value and all before it."""
        return all(part in words for part in (self.says, self.hours, self.counts))


def interview(session: int, *, rounds: int, first: int = 0) -> list[list[Step]]:
    """Rounds of the five answers; no two sessions type the same wearer, desk and day.

    first: the number of the first round, for a session that comes when others are further on.
    """
    held: dict[str, str] = {}
    return [_round(session, number, held) for number in range(first, first + rounds)]


def typed(session: int, number: int) -> dict[str, str]:
    """The five answers of one round of one session."""
    step = session + 20 * number
    return {
        "wearer.age_years": str(44 + (7 * session + 3 * number) % 22),
        "prescription": ADDS[(session + number) % len(ADDS)],
        "main.distance_cm": f"{55 + session},{number % 10}",
        "main.top_above_eye_cm": str((5 * step) % 13 - 8),
        "day.hours": f"{(40 + (7 * step) % 41) / 10:g}",
    }


def _round(session: int, number: int, held: dict[str, str]) -> list[Step]:
    steps = []
    for field, value in typed(session, number).items():
        if held.get(field) == value:
            continue
        held[field] = value
        steps.append(_step(field, value, held))
    return steps


def _step(field: str, value: str, held: dict[str, Any]) -> Step:
    asked = case_of_answers.ask(held)
    assert asked.case is not None, asked.refused
    line = result_words.recommendation_line(asked.case, compute.answer(asked.case))
    day = (
        ""
        if line.comfortable_h is None
        else f"{hours(line.comfortable_h)} of {hours(line.day_h)} h"
    )
    return Step(field, value, line.says, day, asked.counts)


def readable(line: str) -> str:
    """The words of a line of HTML."""
    return " ".join(html.unescape(_TAG.sub(" ", line)).split())
