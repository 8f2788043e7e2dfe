"""A reader of the project can follow every reference: none leads to a page they do not have."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PLACES = ("app", "engine", "reference_tables", "README.md", "DEVELOPERS.md")
BANNED = re.compile(
    r"design page|job page|troubleshooting table|project notes|fact list"
    r"|\bissues? [0-9]+\b"
    r"|(?<![:\w])[EF][0-9]{3}\b|\b[EO]W[0-9]{2,3}\b"
    r"|\bscribd\b|\be-?tool\b",
    re.IGNORECASE,
)
"""Pages, lists and tasks behind the project, numbers of facts in them, and two sites of copies."""


def read(place: str) -> list[Path]:
    """Return the texts of a place."""
    whole = ROOT / place
    found = [whole] if whole.is_file() else sorted(whole.rglob("*"))
    return [path for path in found if path.suffix in {".py", ".csv", ".md"}]


@pytest.mark.parametrize("place", PLACES)
def test_no_reference_leads_nowhere(place: str) -> None:
    assert read(place)
    for path in read(place):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            found = BANNED.search(line)
            assert not found, f"{path.relative_to(ROOT)}:{number}: {found and found[0]}"


@pytest.mark.parametrize(
    ("text", "banned"),
    [
        ("job page section 4", True),
        ("see the design page", True),
        ("issue 12", True),
        ("derived; F061", True),
        ("(E036)", True),
        ("EW38", True),
        ("OW061", True),
        ("Optom Vis Sci 87:E549", False),
        ("J Vis 2010, 10:E12", False),
        ("Ergonomics 58:1813-1829", False),
        ("an issue of eyes", False),
    ],
)
def test_the_ban_knows_a_journal_page_from_a_fact(text: str, banned: bool) -> None:
    assert bool(BANNED.search(text)) is banned
