"""How the suite meets hypothesis and its workers: the same examples, and the longest files first.

Answers are searched with the compiled search, a third of the time of the plain one; tests of the
plain search ask for `plain_search`, and `pytest --plain-search` lets every test do without.

A suite that decides whether a change may land must say the same of the same code twice. New
examples are looked for with `pytest --hypothesis-profile search`.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

from engine import threads

if TYPE_CHECKING:
    from engine.case.model import Case

threads.keep_to_one()  # as the programs do, here and in the workers
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # half a second for each program a test starts

# Helpers that assert say what they found, as tests do.
pytest.register_assert_rewrite("tests.browser.access", "tests.browser.walk")

settings.register_profile("suite", derandomize=True, deadline=None)
settings.register_profile("search", derandomize=False, deadline=None, max_examples=300)
settings.load_profile("suite")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let a person ask for the plain search in every test but those of the compiled one."""
    parser.addoption("--plain-search", action="store_true", help="load no compiled search")


def pytest_configure(config: pytest.Config) -> None:
    """Load the compiled search once in each process of tests.

    It is compiled, where it never was, by the process that starts the others, before them.
    """
    from engine.kernel import compiled

    if not config.getoption("--plain-search"):
        assert compiled.load(), "the extra `fast` is part of what the tests install"


@pytest.fixture(scope="session", autouse=True)
def _pages_as_served() -> Iterator[None]:
    """Set the page library as the program does, and let its tester do nothing in vain.

    It looks for components, of which the program brings none, in all that is installed, three
    times as long as a page takes. It asks a thousand times a second whether a page has ended,
    which can be waited for. And it compiles the scripts for every session anew, where the server
    keeps them for all.
    """
    from streamlit import config
    from streamlit.components.v2.component_manager import BidiComponentManager as Components
    from streamlit.runtime.scriptrunner.script_cache import ScriptCache
    from streamlit.testing.v1 import app_test, local_script_runner

    from app.shell.settings import OPTIONS

    def wait(runner: local_script_runner.LocalScriptRunner, timeout: float) -> None:
        assert runner._script_thread is not None
        runner._script_thread.join(timeout)
        if not runner.script_stopped():
            runner.request_stop()
            pytest.fail(f"a page took longer than {timeout} s")

    compiled = ScriptCache()
    with pytest.MonkeyPatch.context() as patch:
        for module in (app_test, local_script_runner):
            patch.setattr(module, "ScriptCache", lambda: compiled)
        patch.setattr(Components, "discover_and_register_components", lambda *_, **__: None)
        patch.setattr(local_script_runner, "require_widgets_deltas", wait)
        for name in ("browser.gatherUsageStats", "runner.magicEnabled"):
            config.set_option(name, OPTIONS[name].value)
        yield


@pytest.fixture(scope="module")
def plain_search() -> Iterator[None]:
    """Search plainly in the tests of a module, whatever is loaded."""
    from tests.plainly import plainly

    with plainly():
        yield


@pytest.fixture
def own_store(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Give a test a data folder of its own: no case, no default of a practice, no team's key."""
    monkeypatch.setenv("LEVELGAZE_STORE", str(tmp_path / "data" / "cases.sqlite3"))


@pytest.fixture
def own_drafts(own_store: None, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: ARG001
    """Give a test a book of drafts and a data folder of its own."""
    from app.shell import drafts

    monkeypatch.setattr(drafts, "BOOK", drafts.DraftBook())
    monkeypatch.setattr("app.shell.state.BOOK", drafts.BOOK)


@pytest.fixture(scope="module")
def answers_once() -> Iterator[None]:
    """Let the pages of a module compute the answer to a case once: all open the same wearers."""
    from app.form import compute
    from engine.case.results import Result

    found: dict[str, Result] = {}
    real = compute.answer

    def answer(case: Case, *, progress: compute.Progress | None = None) -> Result:
        asked = case.model_dump_json()
        if asked not in found:
            found[asked] = real(case, progress=progress)
        return found[asked]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(compute, "answer", answer)
        yield


@pytest.fixture
def invented_answers(own_drafts: None, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: ARG001
    """Let the pages answer at once, with an invented result; drafts and data are the test's own."""
    from app.form import compute
    from tests.invented_result import invented_result

    monkeypatch.setattr(compute, "answer", invented_result)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Keep what is loaded with the tests out of every later search for garbage.

    Modules and items by the hundred thousand are never freed, and were gone through again and
    again: a tenth of the time of the tests.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


ROOT = Path(__file__).parent
LONGEST = (
    "browser/test_access_pages.py",
    "browser/test_safety.py",
    "browser/test_flows_optician.py",
    "browser/test_flows_history.py",
    "browser/test_access_team.py",
    "browser/test_uploads.py",
    "browser/test_team.py",
    "browser/test_home_file.py",
    "browser/test_interview.py",
    "test_team_privacy.py",
    "test_followup_seeded.py",
    "test_output.py",
    "test_app_random_edits.py",
    "test_app_cases.py",
    "test_properties.py",
    "test_app_desk.py",
    "test_compiled.py",
    "test_faults_network.py",
    "test_faults_uploads.py",
    "test_app_order.py",
)
"""Files that a worker takes minutes over: begun first, so that none of them is left for the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first, then the other browser tests, then the rest as they are."""

    first = {ROOT / name: at for at, name in enumerate(LONGEST)}

    def place(item: pytest.Item) -> int:
        return first.get(item.path, len(LONGEST) + ("browser" not in item.path.parts))

    items.sort(key=place)
