"""What a closed tab or a deleted case leaves behind in the program: nothing, after a few seconds.

The tabs here speak the page library's own protocol, so that no other tab comes by chance: until
another one came, the library used to keep what a closed one had been given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from app.form import case_of_answers, questions
from app.shell import internals
from engine.files.case_json import case_to_json
from engine.files.store import Store
from tests.bench._visitor import Visitor
from tests.browser.harness import ROOT, Served, start_app
from tests.browser.test_strangers import ask
from tests.waiting import until

LABEL = "Zqxv7"
CLOSED_S = 10.0
"""How soon the files of a closed tab are gone, at rest: promised in the README, "Privacy"."""
DELETED_S = 5.0
"""How soon those of a deleted case are, at rest."""
DRAWN_S = 25.0
"""How soon both are while pages are drawn, as after a deletion: promised there as well."""
LATE_S = 3.0
"""Added for asking, on a machine that does other things as well."""


@pytest.fixture
def keeping(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Served]:
    """A running program that keeps one case."""
    monkeypatch.setenv("LEVELGAZE_STORE", str(tmp_path / "cases.sqlite3"))
    case = case_of_answers.ask(questions.EXAMPLE).case
    assert case is not None
    labelled = case_to_json(case.model_copy(update={"label": LABEL}))
    with Store() as store:
        store.save(label=LABEL, case_json=labelled)
    with start_app() as program:
        yield program


def offered(tab: Visitor, program: Served) -> list[str]:
    """Open the kept cases; return the addresses of the files offered, each seen to answer."""
    tab.open()
    tab.wait(lambda: len(tab.downloads()) >= 4, "the files of the case")
    found = tab.downloads()
    for address in found:
        status, told, _ = ask(program, address)
        assert status == 200
        assert told["cache-control"] == "no-store"
    assert any(LABEL in ask(program, address)[2] for address in found)
    return found


def answers(program: Served, addresses: list[str]) -> Callable[[], set[int]]:
    return lambda: {ask(program, one)[0] for one in addresses}


def test_the_program_keeps_what_the_readme_promises() -> None:
    look_twice_s = 2 * internals.LOOK_EVERY_S
    assert internals.CLOSED_TAB_S + internals.UNUSED_S + look_twice_s <= CLOSED_S
    assert internals.UNUSED_S + look_twice_s <= DELETED_S
    assert internals.UNUSED_WHILE_DRAWN_S + look_twice_s <= DRAWN_S
    said = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    assert (
        "within ten seconds after its tab is closed, and within five after the case is deleted"
        " (at most 25 while the program is busy drawing pages)"
    ) in said


def test_files_of_a_closed_tab_are_gone_though_nobody_comes(keeping: Served) -> None:
    with closing(Visitor(keeping.address, "cases")) as tab:
        found = offered(tab, keeping)
        tab.think(CLOSED_S + 1)  # they stay as long as the tab is open
        assert answers(keeping, found)() == {200}
    gone = answers(keeping, found)
    assert until(lambda: gone() == {404}, seconds=CLOSED_S + LATE_S)


def test_files_of_a_deleted_case_are_gone_from_every_tab(keeping: Served) -> None:
    here = Visitor(keeping.address, "cases")
    elsewhere = Visitor(keeping.address, "cases")
    with closing(here), closing(elsewhere):
        found = offered(here, keeping)
        assert set(offered(elsewhere, keeping)) == set(found)
        here.press("cases.sure.1")
        here.wait(lambda: here.runs > 1, "the box to be ticked", seconds=60)
        here.press("delete-case")
        here.wait(lambda: here.runs > 2, "the deletion", seconds=60)
        assert any(f"{LABEL} is deleted" in one for one in here.texts())
        gone = answers(keeping, found)
        assert until(lambda: gone() == {404}, seconds=DRAWN_S + LATE_S)
        elsewhere.wait(
            lambda: not elsewhere.downloads(), "the other tab to be drawn anew", seconds=60
        )
        assert not [one for one in elsewhere.texts() if LABEL in one]
        assert here.faults == elsewhere.faults == []
