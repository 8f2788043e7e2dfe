"""The seam between the pages and the engine: one case in, one answer out, kept with its draft."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic
from typing import TYPE_CHECKING, Any, TypeVar

from engine.case.model import Case
from engine.case.results import Result
from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from app.form.case_of_answers import Asking
    from engine.answer.sources import Source

Found = TypeVar("Found")
Progress = Callable[[float], None]
"""Told the share done, 0 to 1."""
BAR_AFTER_S = 0.2
"""An answer that comes sooner needs no bar: the browser would draw the page anew for each step."""


@dataclass(frozen=True)
class Answer:
    """A case with its result."""

    case: Case
    result: Result


def answer(case: Case, *, progress: Progress | None = None) -> Result:
    """Return the engine's answer. Imported here so that a page without a case opens without it."""
    from engine.assemble import advise

    return advise(case, progress=progress)


def told_late(tell: Progress) -> Progress:
    """Return a progress that tells nothing of what does not take long."""
    began = monotonic()

    def tell_late(done: float) -> None:
        if monotonic() - began >= BAR_AFTER_S:
            tell(done)

    return tell_late


def kept_answer(kept: dict[str, Any], case: Case, *, progress: Progress | None = None) -> Answer:
    """Return the answer to a case, computed unless the draft holds it already.

    `kept` lives and dies with the draft; no cache of the page library ever sees a case.
    """
    last: Answer | None = kept.get("answer")
    if last is None or last.case != case:
        last = Answer(case=case, result=answer(case, progress=progress))
        kept["answer"] = last
    return last


def known(kept: dict[str, Any], find: Callable[[Answer], Found], answer: Answer) -> Found | None:
    """Return what was found of an answer by a slow search, where the draft holds it."""
    last: tuple[Case, Found] | None = kept.get(find.__name__)
    return last[1] if last is not None and last[0] == answer.case else None


def found(kept: dict[str, Any], find: Callable[[Answer], Found], answer: Answer) -> Found:
    """Search, and hold what was found in the draft."""
    made = find(answer)
    kept[find.__name__] = answer.case, made
    return made


def sources_of(answer: Answer) -> tuple[Source, ...]:
    """Find what an answer rests on: computed once more, noting what is read."""
    from engine.answer.sources import Reading, sources
    from engine.assemble import advise

    reading = Reading.standard()
    result = advise(answer.case, judgements=reading)
    return sources(answer.case, result, read=reading.read)


def good_enough_of(answer: Answer) -> str:
    """Find which plan comes first if a little blur is good enough; empty where none does."""
    from engine.answer.good_enough import good_enough
    from engine.tables import Judgements

    first = good_enough(answer.case, answer.result, judgements=Judgements.standard())
    return "" if first is None else first.text


def answered(
    kept: dict[str, Any], asked: Asking, *, progress: Progress | None = None
) -> tuple[Answer | None, Asking]:
    """Return the answer to what is asked, or the last good one where a value is refused."""
    if asked.missing:
        kept.pop("answer", None)
        return None, asked
    if asked.case is None:
        return kept.get("answer"), asked
    try:
        return kept_answer(kept, asked.case, progress=progress), asked
    except InputRefusedError as refusal:
        return kept.get("answer"), asked.with_refusal(refusal)
