"""One server for the browser tests of a run; a browser of each size."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.browser.harness import DESKTOP, PHONE, Browser, Served, browser, start_app


@pytest.fixture(scope="session")
def served() -> Iterator[Served]:
    """The running program."""
    program = start_app()
    yield program
    program.stop()


@pytest.fixture
def desktop() -> Iterator[Browser]:
    """A browser 1280 px wide."""
    with browser(size=DESKTOP) as page:
        yield page


@pytest.fixture
def phone() -> Iterator[Browser]:
    """A browser 360 px wide."""
    with browser(size=PHONE) as page:
        yield page
