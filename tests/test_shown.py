"""Nothing raw reaches a reader: every page, sheet, letter and printed answer of made cases.

Looked for: paths with dots, underscores, numbers finer than any that was typed, a minus before
nothing, doubled stops, brackets in brackets, "1 rows", "None" and "nan".
"""

from __future__ import annotations

import re
from functools import cache

import pytest

from engine import tables
from engine.case.model import Case
from tests import shown

SHEETS, PAGES = 50, 6
"""So many made cases by their sheets in every run, and of these so many by their pages too."""
PATTERNS = {
    "a path": r"\b[a-z]\w*\.(?:\d+\.)?[a-z]\w*(?:\.[a-z]\w*)*\b(?!\()",
    "an underscore": r"\w_\w",
    "a long decimal": r"\d\.\d{4,}|\de[+-]\d",
    "a minus before nothing": r"(?<![\d.\w])[-−]0(?:\.0+)?(?![\d.])",
    "doubled stops": r"(?<=[\w)])\.\.(?!\.)|\?\.|;\.|:\.|,\.|[a-z]\. \.",
    "one of many": r"(?<![\d.,])(?<!to )1 "
    r"(?:rows|lines|minutes|hours|pairs|people|cases|values|degrees)\b",
    "brackets in brackets": r"\([^()]*\(",
    "a word of the machine": r"(?:^|: |, )None\b(?! found)"
    r"|\bnan\b|\binf\b|\bTrue\b|\bFalse\b|\{|\}",
}


@cache
def cases() -> list[tuple[int, Case]]:
    """The made cases with their numbers, built when a test first asks."""
    return list(shown.plain_cases(SHEETS))


FILE_WORDS = {row["id"] for row in tables.rows("lab_list_columns")} | set(
    re.findall(r"\w+_\w+", " ".join(row["rule"] for row in tables.rows("lab_list_columns")))
)
"""Keys of the laboratory's list, which the Order page must name as the file has them."""


def raw(text: str) -> list[str]:
    """Each place where something raw is read, with its kind and its line."""
    found = []
    for line in text.splitlines():
        line = re.sub(r"\bdoi \S+", "", line)
        plain = " ".join(word for word in line.split() if word.strip(".,;:") not in FILE_WORDS)
        for kind, pattern in PATTERNS.items():
            if hit := re.search(pattern, plain):
                found.append(f"{kind} {hit[0]!r}: {line[:160]}")
    return found


@pytest.mark.parametrize(
    "text",
    [
        "targets.2.offset_cm 43: -35 to 35 deg",
        "shown as against_hours",
        "43.432536 cm away",
        "at -0.0 D",
        "better at once?.",
        "1 rows computed",
        "allowed: None",
        "0 to 1e+06",
        "(present pair (general progressive))",
    ],
)
def test_what_is_raw_is_found(text: str) -> None:
    assert raw(text)


@pytest.mark.parametrize("text", ["3.5 mm, 12 cm lower. Next", "-0.50 DS", "0.0", "11 rows", "e.g"])
def test_what_is_not_raw_is_left(text: str) -> None:
    assert not raw(text.replace("e.g", "such as"))


@pytest.mark.parametrize("place", range(SHEETS))
def test_sheets_letter_and_printed_answer_show_nothing_raw(place: int) -> None:
    number, case = cases()[place]
    for name, text in shown.sheets_of(case, shown.answered(case)).items():
        assert not raw(text), (number, name)


@pytest.mark.usefixtures("own_drafts")
@pytest.mark.parametrize("place", range(PAGES))
def test_pages_show_nothing_raw(place: int) -> None:
    _pages(place)


@pytest.mark.parametrize("place", range(1, 21))
def test_what_changed_between_two_saves_shows_nothing_raw(place: int) -> None:
    before, after = (case for _, case in cases()[place - 1 : place + 1])
    assert not raw(shown.changes_of(before, after))


@pytest.mark.usefixtures("own_drafts")
def test_the_pages_without_a_case_show_nothing_raw() -> None:
    for name, text in shown.other_pages().items():
        assert not raw(text), name


@pytest.mark.long
@pytest.mark.usefixtures("own_drafts")
@pytest.mark.parametrize("place", range(PAGES, SHEETS))
def test_the_pages_of_all_cases_show_nothing_raw(place: int) -> None:
    _pages(place)


def _pages(place: int) -> None:
    number, case = cases()[place]
    for name, text in shown.pages_of(case).items():
        assert not raw(text), (number, name)
