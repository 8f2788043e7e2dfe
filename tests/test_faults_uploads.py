"""Damaged files at every uploader: a sentence with what is allowed, and the page goes on.

Three pages take a file: Kept cases (JSON), Order (a laboratory's list) and Team (rows). What the
page library itself refuses, by size and by ending, is tried in a real browser.
"""

from __future__ import annotations

import copy
import csv
import html
import io
import random
import re
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from app.form import compute, keep, questions
from app.shell import drafts
from app.views.order import typed_order
from app.views.team import work as team_file
from app.views.team.words import problem_frame
from engine.errors import InputRefusedError
from engine.order.lab_designs import read_lab_file
from engine.roster.rows import Problem
from engine.team.tables import export_csv
from tests import pages
from tests.invented_result import invented_result
from tests.pages import widget
from tests.upload_damages import (
    GOOD_JSON,
    HOSTILE,
    LIST,
    ROWS,
    TAKEN,
    as_json,
    json_damages,
    list_damages,
    record,
    team_damages,
)


@dataclass
class Uploader:
    """A page with an uploader and something typed before."""

    page: AppTest
    kept: dict[str, Any]
    name: str

    def give(self, content: bytes) -> str:
        """Hand a file over and return what can be read."""
        self.page.file_uploader[0].set_value((f"{HOSTILE}.{self.name}", content, "text/plain"))
        self.page.run()
        return self.read()

    def read(self) -> str:
        """What can be read; nothing failed and nothing is markup."""
        pages.whole(self.page)
        pieces = "\n".join(one.value for one in self.page.markdown)
        assert "![" not in pieces
        assert "<img" not in pieces
        return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", pieces)).split())

    def draft(self) -> dict[str, Any]:
        """What the draft holds now."""
        return dict(pages.draft_of(self.page).values)


@pytest.fixture(scope="module", autouse=True)
def _apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drafts, "BOOK", drafts.DraftBook())
        patch.setattr("app.shell.state.BOOK", drafts.BOOK)
        patch.setattr(compute, "answer", invented_result)
        patch.setenv("LEVELGAZE_STORE", str(tmp_path_factory.mktemp("kept") / "cases.sqlite3"))
        yield


def opened(view: str, ending: str) -> Uploader:
    """A page on the draft of the invented wearer, with a mark that must still be there later."""
    page = pages.opened(view, {**questions.EXAMPLE, "team.source": "file", "order.tint": "grey"})
    found = Uploader(page, {}, ending)
    found.read()
    found.kept = found.draft()
    return found


@pytest.fixture(scope="module")
def cases_page() -> Uploader:
    """Kept cases; one page for every damage, as a person would try again and again."""
    return opened("cases", "json")


@pytest.fixture(scope="module")
def team_page() -> Uploader:
    """Team, rows from a file."""
    return opened("team", "csv")


@pytest.fixture(scope="module")
def order_page() -> Uploader:
    """Order, a laboratory's list."""
    return opened("order", "csv")


def each(damages: Callable[[], dict[str, tuple[bytes, str]]]) -> Any:
    """One test for each damage."""
    found = damages()
    return pytest.mark.parametrize(("content", "says"), list(found.values()), ids=list(found))


@each(json_damages)
def test_kept_cases_says_why_a_file_is_not_opened(
    cases_page: Uploader, capfd: pytest.CaptureFixture[str], content: bytes, says: str
) -> None:
    said = cases_page.give(content)
    buttons = [one.label for one in cases_page.page.button]
    if says == TAKEN:
        assert "A whole case." in said
        assert any(one.startswith("Open the file in the Interview") for one in buttons)
    else:
        assert f"The file was not opened. {says}" in said
        assert "Nothing else changed." in said.split("The file was not opened.")[1]
        assert not any(one.startswith("Open the file") for one in buttons)
    assert cases_page.draft() == cases_page.kept
    assert capfd.readouterr().err == ""


@each(team_damages)
def test_team_says_why_a_file_is_not_read(
    team_page: Uploader, capfd: pytest.CaptureFixture[str], content: bytes, says: str
) -> None:
    had = "Read: " in team_page.read()
    said = team_page.give(content)
    listed = says.startswith("row ") or says == "10000"
    if says == TAKEN:
        assert "Read: 2 rows, 2 of them good; 2 people" in said
        assert "was not read" not in said
    elif listed:
        assert (f"row 4 whole row {says} of 6 cells" if says == "10000" else says) in said
        assert "will be left out" in said
    else:
        assert says.lower() in said.split("The file was not read. ")[1].lower()
        assert ("What was loaded before is gone." in said) is had
    assert team_page.draft() == team_page.kept
    assert capfd.readouterr().err == ""


@each(list_damages)
def test_order_says_why_a_list_is_not_loaded(
    order_page: Uploader, capfd: pytest.CaptureFixture[str], content: bytes, says: str
) -> None:
    said = order_page.give(content)
    told = "The list was not loaded." in said
    held = order_page.draft()
    if says == TAKEN:
        assert "Usable designs: 1." in said
        assert [one["design"] for one in held[typed_order.LAB]] == ["Invented desk"]
    elif told:
        assert says in said.split("The list was not loaded.")[1]
        assert "Nothing else changed." in said
    else:
        row = "3 row 10000 6 cells" if says == "10000" else says
        assert row in said
    typed = {name: held[name] for name in order_page.kept if name != typed_order.LAB}
    assert typed == {name: order_page.kept[name] for name in typed}
    assert typed["order.tint"] == "grey"
    assert capfd.readouterr().err == ""


def test_each_page_still_takes_a_good_file(
    cases_page: Uploader, team_page: Uploader, order_page: Uploader
) -> None:
    assert "From home: what" in cases_page.give(as_json(GOOD_JSON["visit"]))
    assert "2 people" in team_page.give(ROWS.encode())
    assert "Usable designs: 1." in order_page.give(LIST.encode())


def test_a_forgotten_list_does_not_come_back_from_the_uploader() -> None:
    order = opened("order", "csv")
    assert "Usable designs: 1." in order.give(LIST.encode())
    widget(order.page, "button", "Forget the list").click()
    order.page.run()
    order.read()
    assert order.draft()[typed_order.LAB] == []
    assert "Designs loaded" not in order.read()
    assert "Usable designs: 1." in order.give(LIST.encode())


def nodes(content: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every value in a file."""
    yield at
    if isinstance(content, dict | list):
        inner = content.items() if isinstance(content, dict) else enumerate(content)
        for key, value in inner:
            yield from nodes(value, (*at, key))


WRONG = (
    None, True, 0, -1, 1e308, 10**308, "", "x", "=1+1", HOSTILE, [], [[]], {}, {"a": 1}, [1, 2],
    1.5, {"0": 1}, [{}], [None],
)  # fmt: skip


def misshapen(content: Any, chance: random.Random) -> Any:
    """The file with one value of another kind in a place, or gone."""
    path = chance.choice(list(nodes(content))[1:])
    changed = copy.deepcopy(content)
    here = changed
    for step in path[:-1]:
        here = here[step]
    if chance.random() < 0.1:
        del here[path[-1]]
    else:
        here[path[-1]] = chance.choice(WRONG)
    return changed


@pytest.mark.parametrize("count", [100, pytest.param(400, marks=pytest.mark.long)])
@pytest.mark.parametrize("name", list(GOOD_JSON))
def test_a_value_of_another_kind_anywhere_is_read_or_refused(name: str, count: int) -> None:
    chance = random.Random(f"20261125 {name}")
    refused: list[InputRefusedError] = []
    for _ in range(count):
        content = as_json(misshapen(GOOD_JSON[name], chance))
        try:
            found = keep.read_file(content)
        except InputRefusedError as refusal:
            refused.append(refusal)
        else:
            assert found.kind == name
    assert refused
    assert all(one.allowed for one in refused)
    assert max(len(keep.trouble(one)) for one in refused) < 2_000


@pytest.mark.parametrize(
    "wrong",
    [{"recommendation": None}, {"recommendation": [1]}, {"options": 5}, {"schema": 10**300}],
    ids=str,
)
def test_a_kept_answer_of_any_shape_is_answered_anew(wrong: dict[str, Any]) -> None:
    found = keep.read_file(as_json(record(**wrong)))
    assert found.whole
    assert found.lines
    assert found.lines[0].startswith(("This answer was kept under version 0", "The answer kept"))


def test_what_a_huge_file_has_to_tell_is_bounded() -> None:
    many = [{"plan": f"x{n}", "option": f"x{n}", "comfortable_h": float(n)} for n in range(3_000)]
    names = {f"x{n}": n for n in range(3_000)}
    for huge in ({"recommendation": names}, {"plans": many}, {"options": many}):
        found = keep.read_file(as_json(record(**huge)))
        assert 1 <= len(found.lines) <= keep.MOST_LINES + 1
        assert max(len(line) for line in found.lines) <= keep.LONGEST_LINE + 1
    told = keep._bounded(["y" * 2 * keep.LONGEST_LINE] * 3_000)
    assert len(told) == keep.MOST_LINES + 1
    assert told[-1] == f"{3_000 - keep.MOST_LINES} more lines."
    assert max(len(line) for line in told) == keep.LONGEST_LINE + 1


def test_a_key_twice_among_a_hundred_thousand_is_found_at_once() -> None:
    keys = b",".join(b'"k%d":1' % number for number in range(100_000))
    began = time.monotonic()
    with pytest.raises(InputRefusedError, match="k99999: this is there twice"):
        keep.read_file(b"{" + keys + b',"k99999":1}')
    assert time.monotonic() - began < 20  # one by one it took minutes; a busy machine needs 1 s


STARTS = ("=", "+", "-", "@", "\t=", "\r=", "  =", "\t@")


@pytest.mark.parametrize("start", STARTS, ids=repr)
def test_a_cell_that_a_spreadsheet_would_run_is_neutralised(start: str) -> None:
    cell = f"{start}cmd|' /C calc'!A0"
    problem = Problem(row=1, column="screen_kind", value=cell, rule="one of monitor, laptop")
    exported = export_csv(problem_frame([problem]))
    shown = list(csv.reader(io.StringIO(exported)))[1][2]
    assert shown.startswith("'")
    row = ROWS.replace("monitor", f'"{cell}"')
    read = team_file.read_file(row.encode())
    assert [one.column for one in read.problems] == ["screen_kind"]
    listed = read_lab_file(LIST.replace("Invented desk", f'"{cell}"').encode())
    assert listed.designs == ()
    assert [one.column for one in listed.errors] == ["design"]
