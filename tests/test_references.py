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

UNNAMED = re.compile(
    r"brainscape|quizlet|\banki\b|flash ?cards?|coursehero|\bstuvia\b|studocu|studfile|studylib"
    r"|\bissuu\b|docslib|docplayer|slideshare|slideplayer|academia\.edu|researchgate"
    r"|(?:lecture|\d{4}) slides|student notes|study (?:guide|page)|test bank|exam[- ]prep"
    r"|opticaltraining|opticianstudy|opticaled\b|passyour\w+|opterio|optominsight|optician ?club"
    r"|optiboard|laramyk|20/20 (?:ce|labs|dispensing|measuring|segment|vertex)|2020mag|ce[- ]plus"
    r"|\bCE (?:texts?|courses?)|; CE\b|\bCE;|optician (?:ce|cpd|page)|\bABO\b|\bNCLE\b"
    r"|trade (?:texts?|teaching|sources?)|trade-wide teaching|optometry texts"
    r"|sightadvice|visionmatters|gpnotebook|ergopedia|askfilo|chegg|examzify|lessonup|haufe"
    r"|wiki(?:pedia)?\b|[\w-]+\.(?:org|com|net)\.(?:uk|au)\b|https?://(?!127\.0\.0\.1|www\.w3\.org)"
    r"\S*(?:shop|store|optic)",
    re.IGNORECASE,
)
"""Course sites, card sets, test banks, sites of copies, shops, practices, and words for them."""


def read(place: str) -> list[Path]:
    """Return the texts of a place."""
    whole = ROOT / place
    found = [whole] if whole.is_file() else sorted(whole.rglob("*"))
    return [path for path in found if path.suffix in {".py", ".csv", ".md"}]


def check_nothing_of(ban: re.Pattern[str], place: str) -> None:
    assert read(place)
    for path in read(place):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            found = ban.search(line)
            assert not found, f"{path.relative_to(ROOT)}:{number}: {found and found[0]}"


@pytest.mark.parametrize("place", PLACES)
def test_no_reference_leads_nowhere(place: str) -> None:
    check_nothing_of(BANNED, place)


@pytest.mark.parametrize("place", [*PLACES, "tests/published", "tests/oracles"])
def test_no_source_is_a_course_a_card_set_a_site_of_copies_or_a_shop(place: str) -> None:
    check_nothing_of(UNNAMED, place)


@pytest.mark.parametrize(
    ("text", "banned"),
    [
        ("anatomy flashcards", True),
        ("20/20 CE-plus Nov 2015", True),
        ("lecture slides", True),
        ("CE; Sanchez-Brau 2020", True),
        ("a 20/20 letter", False),
        ("Sheedy 2004, Optometry", False),
        ("common practice, no source", False),
        ("a rule of the trade", False),
        ("Optom Vis Sci 91:593-601", False),
    ],
)
def test_the_ban_on_sites_knows_a_paper(text: str, banned: bool) -> None:
    assert bool(UNNAMED.search(text)) is banned


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
