"""Kept cases and opened files: what the pages ask of the store. Pure: no page library.

A draft remembers under which label and revision it was kept, and with which answers.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from app.form import answers_of_case, case_of_answers, code_picture, compute
from app.form.change_words import row_of, version_lines
from app.form.compute import Answer
from app.form.prescription_field import prescription_words
from engine.case.model import Case
from engine.case.named import refusal_of
from engine.case.read import LARGEST_BYTES, build_case
from engine.case.results import RESULTS_VERSION
from engine.errors import InputRefusedError, LevelgazeError
from engine.files.case_json import case_from_json, case_to_json, read_object
from engine.files.changes import version_changes
from engine.files.exchange import read_upload
from engine.files.store import Entry, Record, StaleError, Store
from engine.home.case import VISIT_FILE, case_from_visit_file
from engine.home.code import holds_code
from engine.wording import capital, counted, say

LABEL = "kept.label"
REVISION = "kept.revision"
DIGEST = "kept.digest"
SAVED_AT = "kept.saved_at"
NEWS = "kept.news"
"""Lines to show after opening: what another version changed, what the form does not show."""
MOST_LISTED = 20
CLOCKS_APART = timedelta(minutes=5)
"""Clocks of two computers, or one that is set right, may differ by so much without a word."""
MOST_LINES, LONGEST_LINE = 20, 1000
"""Of what is told about an opened file: a damaged one could fill the page."""
MOST_PARTS, LONGEST_PART = 2000, 400
"""Of what is listed as not taken over: far above any real file."""


@dataclass(frozen=True)
class Clash:
    """A save that another session was ahead of; nothing is lost.

    Attributes:
        found: the revision kept by now; None where the case was deleted meanwhile.
        free: a label near this one that is free.
    """

    label: str
    found: int | None
    free: str
    sentence: str


@dataclass(frozen=True)
class File:
    """What an uploaded file held.

    Attributes:
        answers: with which the form shows it.
        whole: a whole case, not a prescription alone.
        lines: what to tell: another version's numbers, what was set aside.
        aside: every part of the file that is not taken over, where that is too long for a line.
    """

    kind: str
    answers: dict[str, Any]
    whole: bool
    label: str
    lines: tuple[str, ...]
    aside: tuple[str, ...] = ()


def save(
    answer: Answer, *, label: str, held: Mapping[str, Any], on_top_of: int | None = None
) -> dict[str, Any] | Clash:
    """Keep the case of a draft; the values to remember, or a clash with another session.

    Parameters
        held: the draft's values.
        on_top_of: the revision to save over, once the clash has been told.

    Raises
        InputRefusedError: the label breaks its rule.
        StoreError: one of its kinds.
    """
    label = label.strip()
    case = answer.case.model_copy(update={"label": label})
    known = held.get(REVISION) if held.get(LABEL) == label else None
    expected = known if on_top_of is None else on_top_of
    with Store() as store:
        try:
            entry = store.save(
                label=label,
                case_json=case_to_json(case),
                result_json=answer.result.to_json(),
                expected_revision=expected,
            )
        except StaleError as stale:
            return Clash(label, stale.found, store.free_label(label=label), str(stale))
    return {**kept_values(entry, case), NEWS: []}


def kept_values(entry: Entry, case: Case) -> dict[str, Any]:
    """Return what a draft remembers of a save."""
    return {
        LABEL: entry.label,
        REVISION: entry.revision,
        DIGEST: case.digest(),
        SAVED_AT: entry.saved_at.isoformat(),
    }


def kept_words(held: Mapping[str, Any], case: Case | None, *, now: datetime | None = None) -> str:
    """Say whether the answers are kept: "saved 14:05", "unsaved changes since 14:05"."""
    if not held.get(SAVED_AT):
        return "not saved"
    when = when_words(datetime.fromisoformat(held[SAVED_AT]), now=now)
    return f"saved {when}" if is_saved(held, case) else f"unsaved changes since {when}"


def is_saved(held: Mapping[str, Any], case: Case | None) -> bool:
    """Tell whether opening something else loses nothing."""
    return case is not None and case.digest() == held.get(DIGEST)


def when_words(at: datetime, *, now: datetime | None = None) -> str:
    """Return a moment in the local time of this computer; the day only where it is another one.

    On the day on which the clocks change the time says which one it is by. A moment still to come
    was written down by a clock ahead of this one, and says so.
    """
    local = at.astimezone()
    today = (now or datetime.now(local.tzinfo)).astimezone()
    clock = f"{local:%H:%M}"
    if local.date() == today.date():
        said = clock if local.utcoffset() == today.utcoffset() else f"{clock} {local:%Z}"
    else:
        year = "" if local.year == today.year else f" {local.year}"
        said = f"{local.day} {local:%B}{year}, {clock}"
    return said if local <= today + CLOCKS_APART else f"{said} by a clock ahead of this one"


def opened_values(record: Record) -> dict[str, Any]:
    """Return a kept case as the values of a draft, with what to tell about it.

    Raises
        InputRefusedError: this version cannot read it.
    """
    case = case_from_json(record.case_json)
    answers = answers_of_case.answers_of(case)
    lines = [*older_lines(case, record.result_json), *_aside_lines(case, answers)]
    shown = shown_case(answers, label=case.label) or case
    return {**answers, **kept_values(record.entry, shown), NEWS: lines}


def shown_case(answers: Mapping[str, Any], *, label: str) -> Case | None:
    """Return the case the form makes of its answers."""
    return case_of_answers.ask(answers, label=label).case


def older_lines(case: Case, result_json: str | None) -> list[str]:
    """Say what today's version of the numbers makes of a kept answer; nothing if the same."""
    if result_json is None:
        return []
    stored = json.loads(result_json)
    if stored.get("results_version") == RESULTS_VERSION:
        return []
    try:
        fresh = compute.answer(case).to_json()
        return version_lines(version_changes(stored_result=result_json, fresh_result=fresh))
    except (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError):
        # another version, or a hand, may have written anything
        return [say("kept_answer_unreadable")]


def _aside_lines(case: Case, answers: Mapping[str, Any]) -> list[str]:
    rows = [row_of(change) for change in answers_of_case.left_aside(case, answers)]
    if not rows:
        return []
    said = "; ".join(f"{what} ({old})" for what, old, *_ in rows)
    return [say("kept_not_shown", parts=said)]


def read_file(content: bytes) -> File:
    """Read a case, a record, a FHIR prescription or bundle; from home a file, code or picture.

    Raises
        InputRefusedError: too large, damaged, or of another kind; with the reason.
    """
    if code_picture.is_picture(content):
        content = code_picture.text_in(content).encode()
    if len(content) <= LARGEST_BYTES and _is_from_home(content):
        case = build_case(case_from_visit_file(content.decode("utf-8-sig")))
        return _whole_file("visit", case, None, ())
    found = read_upload(content)
    if found.case is not None:
        return _whole_file(found.kind, found.case, found.result_json, found.set_aside)
    answers = {"prescription": prescription_words(found.prescription)}
    lines, aside = _aside(found.set_aside)
    return File(found.kind, answers, False, "", _bounded(lines), aside)


def _is_from_home(content: bytes) -> bool:
    """Tell whether a file says of itself that it comes from the home check."""
    try:
        return bool(read_object(content).get("file") == VISIT_FILE)
    except InputRefusedError:
        return holds_code(content.decode("utf-8-sig", errors="ignore"))


def _whole_file(kind: str, case: Case, result_json: str | None, set_aside: tuple[str, ...]) -> File:
    answers = answers_of_case.answers_of(case)
    left, aside = _aside(set_aside)
    lines = (*older_lines(case, result_json), *_aside_lines(case, answers), *left)
    return File(kind, answers, True, case.label, _bounded(lines), aside)


def _aside(parts: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the line on parts of a file that are not taken over, and a list where it is long."""
    if not parts:
        return (), ()
    named = say("file_left_out", parts=", ".join(parts))
    if len(named) <= LONGEST_LINE:
        return (named,), ()
    lead = say("file_left_out_many", parts=counted(len(parts), "part"))
    shown = [one if len(one) <= LONGEST_PART else one[:LONGEST_PART] + "…" for one in parts]
    more = len(parts) - MOST_PARTS
    return (lead,), (*shown[:MOST_PARTS], *([f"{more:,} more"] if more > 0 else []))


def _bounded(lines: Sequence[str]) -> tuple[str, ...]:
    shown = [one if len(one) <= LONGEST_LINE else one[:LONGEST_LINE] + "…" for one in lines]
    more = len(shown) - MOST_LINES
    return (*shown[:MOST_LINES], *([f"{more} more lines."] if more > 0 else []))


def file_name(label: str, ending: str) -> str:
    """Return a name for a file that holds this case."""
    safe = re.sub(r"[^\w]+", "-", label).strip("-") or "case"
    return f"{safe}{ending}"


def trouble(error: LevelgazeError) -> str:
    """Return what went wrong, as a sentence."""
    if isinstance(error, InputRefusedError):
        return capital(refusal_of(error) if error.field != "file" else error.sentence)
    return capital(str(error))
