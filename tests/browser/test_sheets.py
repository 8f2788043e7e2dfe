"""Sheets in a real browser: one page of paper, selectable text, axe clean, no request."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.harness import Browser
from tests.browser.walk import pages_of
from tests.orders import STRONG_DETAILS, content, strong
from tests.test_order_sheets import sheets

A4, LETTER = (8.27, 11.69), (8.5, 11.0)


@pytest.fixture(scope="module")
def fullest() -> dict[str, str]:
    """The sheets with the most on them: strong powers, prism, conditions; all gaps or none."""
    found = sheets(strong(), STRONG_DETAILS)
    gaps, plain = sheets(strong(), {})["order"], sheets(content(), {})["wearer"]
    crowded = {f"crowded {name}": text for name, text in sheets(_crowded(), {}).items()}
    return found | crowded | {"gaps": gaps, "plain": plain}


def _crowded() -> dict[str, Any]:
    """As many targets as a case may have, with names as long as they may be."""
    found = strong()
    first = found["targets"][1]
    names = [f"invented paper of the long name, no. {n:02d}" for n in range(12)]
    found["targets"] = [
        first | {"name": name, "distance_cm": 34.0 + 5 * place} for place, name in enumerate(names)
    ]
    looks = [{"target": name, "share": 1 / 12} for name in names]
    found["activities"] = [{"name": "desk", "hours": 6, "looks": looks}]
    return found


SHEETS = ["order", "gaps", "wearer", "plain", "letter", "change"]
CROWDED = ["crowded order", "crowded wearer", "crowded letter"]


@pytest.mark.parametrize("name", SHEETS + CROWDED)
def test_one_page_axe_clean_and_silent(
    name: str, fullest: dict[str, str], shared: Browser, tmp_path: Path
) -> None:
    file = tmp_path / "sheet.html"
    file.write_text(fullest[name], encoding="utf-8")
    shared.driver.get(file.as_uri())
    assert shared.axe() == []
    assert [url for url in shared.outside_requests() if not url.startswith("file:")] == []
    selected = shared.driver.execute_script(
        "getSelection().selectAllChildren(document.querySelector('main'));"
        "return getSelection().toString()"
    )
    assert len(selected) > 300
    for width, height in (A4, LETTER):
        assert pages_of(shared, paperWidth=width, paperHeight=height) == 1


def test_a_sheet_fits_a_phone_without_scrolling_sideways(
    fullest: dict[str, str], phone: Browser, tmp_path: Path
) -> None:
    for name in ("wearer", "letter"):
        file = tmp_path / "sheet.html"
        file.write_text(fullest[name], encoding="utf-8")
        phone.driver.get(file.as_uri())
        width = phone.driver.execute_script("return document.documentElement.scrollWidth")
        assert width <= 360
