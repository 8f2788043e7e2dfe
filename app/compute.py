"""The seam between the pages and the engine: one case in, one answer out, kept with its draft."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from engine.case import Case
from engine.results import Result


@dataclass(frozen=True)
class Answer:
    """A case with its result."""

    case: Case
    result: Result


def answer(case: Case) -> Result:
    """The engine's answer. Imported here so that a page without a case opens without it."""
    from engine.advise import advise

    return advise(case)


def kept_answer(kept: dict[str, Any], case: Case) -> Answer:
    """The answer to a case, computed unless the draft holds it already.

    `kept` lives and dies with the draft; no cache of the page library ever sees a case.
    """
    last: Answer | None = kept.get("answer")
    if last is None or last.case != case:
        last = Answer(case=case, result=answer(case))
        kept["answer"] = last
    return last
