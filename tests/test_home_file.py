"""The home check as one file: what is in it, how it is written and served; without a browser."""

from __future__ import annotations

import http.client
import re
import threading
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from app import __main__ as program
from app import command
from app.home_file import build, serve
from app.home_file.build import FOLDER, SCRIPTS, home_file
from app.home_file.sheet import question_sheet
from engine import tables
from engine.home.answers import choices
from engine.home.numbers import number
from tests.home_detector import orders_in, words_of

FILE = home_file(made=date(2026, 11, 29))
SCRIPT = "\n".join((FOLDER / name).read_text(encoding="utf-8") for name in SCRIPTS)
KEEPS_OR_SENDS = (
    *("fetch(", "XMLHttpRequest", "WebSocket", "EventSource", "sendBeacon", "import(", "Worker("),
    *("localStorage", "sessionStorage", "indexedDB", "cookie", "location.hash", "caches"),
)


def test_it_is_small_and_its_script_short() -> None:
    assert len(FILE.encode()) <= 400_000
    assert sum((FOLDER / name).read_text(encoding="utf-8").count("\n") for name in SCRIPTS) < 1000


def test_nothing_in_it_asks_for_anything_or_keeps_anything() -> None:
    names_no_address = FILE.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|//\w+\.\w|\b(src|href)=|@import|url\(", names_no_address)
    assert [word for word in KEEPS_OR_SENDS if word in SCRIPT] == []
    assert "default-src 'none'" in FILE
    assert "unsafe-eval" not in FILE
    assert "script-src 'unsafe-inline'" not in FILE


def test_it_shows_when_it_was_made_and_by_which_edition() -> None:
    content = build.content(made=date(2026, 11, 29))
    assert content["day"] == "29 November 2026"
    assert {"version", "results", "day"} <= set(re.findall(r"{(\w+)}", content["texts"]["made"]))


def test_each_text_is_said_and_each_number_is_compared() -> None:
    python = ("sheet.py", "build.py", "questions.py", "pictures.py")
    sources = SCRIPT + "".join((FOLDER / one).read_text(encoding="utf-8") for one in python)
    made_of_parts = (
        r"unseen_|fact_|doubt_|move_(lower|nearer|farther)|worn_|\w+_(fits|not|unknown)$"
    )
    ids = [one for one in tables.by_id("home_texts") if not re.match(made_of_parts, one)]
    assert [one for one in ids if not re.search(rf"\b{one}\b", sources)] == []
    assert [one for one in build.NUMBERS if f"N.{one}" not in SCRIPT] == []
    assert number("new_page_months") == 18


def test_each_choice_that_was_ticked_is_answered() -> None:
    """What hangs on the result is said by the script; all else stands in the table."""
    said = {row["choice"] for row in tables.rows("home_choices") if row["answer"]}
    assert {*choices("coping"), *choices("bothers")} - said == {"chin_up", "screen_blurred"}


def test_the_question_sheet_has_every_question_and_orders_nothing() -> None:
    said = words_of(question_sheet())
    asked = {row["id"] for row in tables.rows("home_questions")}
    for question in asked - {"screens", "distances", "heights", "hours"}:
        for words in choices(question).values():
            assert words in said
    assert orders_in(said) == []


def test_the_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "home.html"
    assert program.main(["home-file", str(path)]) == 0
    assert path.read_text(encoding="utf-8") == home_file()
    assert str(path) in capsys.readouterr().out
    assert command.main(["home-file", str(tmp_path / "no" / "home.html")]) == 2
    refused = capsys.readouterr()
    assert refused.out == ""
    assert refused.err.count("\n") == 1


@pytest.fixture
def served() -> Iterator[tuple[str, int]]:
    """The home check alone, at a free port."""
    with serve.server(0, FILE) as home:
        thread = threading.Thread(target=home.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        yield "127.0.0.1", home.server_port
        home.shutdown()
        thread.join()


@pytest.mark.parametrize(
    ("method", "path", "host", "status"),
    [
        ("GET", "/", None, 200),
        ("GET", "/?step=result", None, 404),
        ("GET", "/cases", None, 404),
        ("GET", "/../README.md", None, 404),
        ("GET", "/", "example.invalid", 404),
        ("POST", "/", None, 501),
    ],
)
def test_the_small_server_has_one_address(
    served: tuple[str, int], method: str, path: str, host: str | None, status: int
) -> None:
    connection = http.client.HTTPConnection(*served, timeout=10)
    connection.request(method, path, headers={"Host": host} if host else {})
    answer = connection.getresponse()
    assert answer.status == status
    assert (answer.read().decode() == FILE) is (status == 200)
    assert answer.headers["server"].strip() == ""
    connection.close()
