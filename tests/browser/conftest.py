"""One server and one Chromium for the browser tests of a worker; a context of each size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from engine.files.store import Store
from engine.team.secret import BYTES, FILE_NAME
from tests.browser.harness import (
    DESKTOP,
    PHONE,
    Browser,
    Served,
    browser,
    shared_chromium,
    start_app,
)
from tests.browser.said import faults_in


def forget_cases(program: Served) -> None:
    """Delete every kept case of a program."""
    with Store(program.store) as store:
        for label in {entry.label for entry in store.entries()}:
            store.delete(label=label)


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The running program, one for the tests of a worker."""
    folder = tmp_path_factory.mktemp("store")
    key = folder / FILE_NAME
    key.write_bytes(bytes(range(BYTES)))  # the same figures of the same team in every run
    key.chmod(0o600)
    with start_app(store=folder / "cases.sqlite3") as program:
        yield program
    assert faults_in(program.said) == []


@pytest.fixture
def keeping(served: Served) -> Iterator[Served]:
    """The running program with no case kept, before and after."""
    forget_cases(served)
    yield served
    forget_cases(served)


@pytest.fixture(scope="session", autouse=True)
def _chromium() -> Iterator[None]:
    """The Chromium of this worker is stopped at its end."""
    yield
    if shared_chromium.cache_info().currsize:
        shared_chromium().stop()


@pytest.fixture
def desktop() -> Iterator[Browser]:
    """A browser 1280 px wide."""
    with browser(size=DESKTOP) as page:
        yield page


@pytest.fixture(scope="module")
def _window() -> Iterator[Browser]:
    with browser(size=DESKTOP) as page:
        yield page


@pytest.fixture
def shared(_window: Browser) -> Browser:
    """A browser 1280 px wide that the tests of a file share, where the last of them left it.

    For tests that look at a page, not at what a stranger to it finds: a new context loads and
    compiles all of the page library again, ten seconds of a core.
    """
    _window.resize(DESKTOP)
    return _window


@pytest.fixture
def phone() -> Iterator[Browser]:
    """A browser 360 px wide."""
    with browser(size=PHONE) as page:
        yield page
