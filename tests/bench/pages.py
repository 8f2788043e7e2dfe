"""How fast the pages are in a real Chromium: an update beside its floor, and the first open.

The floor of an update is the same page, same run, with the engine replaced by a stored result; of a
first open, a page with one line of text served by the same command.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from tests.bench._row import Row, table
from tests.browser.harness import (
    ROOT,
    START_S,
    Browser,
    Served,
    browser,
    free_port,
    start_app,
    way_in,
)

UPDATES = 30
OPENS = 3
ALL_CORES = True
MOST_UPDATE_RATIO = 1.5
MOST_FIRST_OPEN_S = 3.0
MOST_MOVE_MS = 200.0
STORED = """
import sys
from app.form import case_of_answers, compute, questions
kept = {}
computed = compute.answer
def stored(case, **_):
    if "result" not in kept:
        kept["result"] = computed(case)
    return kept["result"]
compute.answer = stored
from engine.desk import sight
held = sight.held
def stored_move(*there, **known):
    if "held" not in kept:
        kept["held"] = held(*there, **known)
    return kept["held"]
sight.held = stored_move
from app.__main__ import main
sys.exit(main(sys.argv[1:]))
"""
"""The program with the first result computed given for every case."""
BARE = """
import sys
from pathlib import Path
from app import __main__ as program
from app import warm_up
warm_up.warm_up = lambda: None
program.__file__ = str(Path(__file__).with_name("__main__.py"))
sys.exit(program.main(sys.argv[1:]))
"""
"""The program's own command serving the page below."""
BARE_PAGE = "import streamlit as st\n\nst.write('Type the age')\n"
AGE = "input[aria-label^='Age']"
WATCH = """
const done = arguments[arguments.length - 1];
const input = document.querySelector(arguments[0]);
const app = document.querySelector('[data-testid=stApp]');
const began = performance.now();
let ran = false;
const look = () => {
  const state = app.dataset.testScriptState;
  if (state !== 'notRunning') ran = true;
  if (ran && state === 'notRunning') { watcher.disconnect(); done(performance.now() - began); }
};
const watcher = new MutationObserver(look);
watcher.observe(app, {attributes: true});
const set = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value').set;
set.call(input, arguments[1]);
input.dispatchEvent(new Event('input', {bubbles: true}));
const enter = {key: 'Enter', code: 'Enter', keyCode: 13, bubbles: true};
input.dispatchEvent(new KeyboardEvent('keydown', enter));
input.dispatchEvent(new KeyboardEvent('keypress', enter));
"""
"""Change a field, press Enter (which does not wait for the typing pause), and time until the page's
script has run and rests again."""

SLIDER = "[data-testid=stSlider] input"
MOVE = """
const done = arguments[arguments.length - 1];
const pair = document.querySelector('[data-testid=stMain]');
const drawn = () => document.querySelector('.lg-pair').innerHTML;
const before = drawn(), began = performance.now();
const look = () => {
  const now = document.querySelector('.lg-pair');
  if (now && now.innerHTML !== before) { watcher.disconnect(); done(performance.now() - began); }
};
const watcher = new MutationObserver(look);
watcher.observe(pair, {subtree: true, childList: true, characterData: true, attributes: true});
window.movesBegan = began;
"""
"""From the release of the slider to another picture in the page."""


def measure() -> list[Row]:
    """Rows of the table."""
    full, floor = _medians_in_turn(lambda page, index: _one_update(page, 50 + index % 20))
    moved, moved_floor = _medians_in_turn(_one_move)
    opens = [(_first_open(start_app), _first_open(_start_bare)) for _ in range(OPENS)]
    opened, bare = (statistics.median(each) for each in zip(*opens, strict=True))
    return [
        Row(
            f"page update from a changed value, median of {UPDATES}",
            full,
            "ms",
            "the same page, stored result",
            floor,
            MOST_UPDATE_RATIO,
            of="ratio",
            source="our target",
        ),
        Row(
            f"slider release to redrawn picture, median of {UPDATES}",
            moved,
            "ms",
            "the same page, stored result",
            moved_floor,
            MOST_MOVE_MS,
            source="our target",
        ),
        Row(
            f"first open, median of {OPENS}",
            opened,
            "s",
            "a page with one line of text",
            bare,
            MOST_FIRST_OPEN_S,
            source="our target",
        ),
    ]


def _medians_in_turn(once: Callable[[Browser, int], float]) -> tuple[float, float]:
    """Milliseconds of one act in the program, and in the same with a stored result.

    The two programs take turns, so that whatever else runs on the machine slows both alike.
    """
    with (
        start_app() as program,
        _start_stored() as stored,
        browser(apart=True) as page,
        browser(apart=True) as floor,
    ):
        times: tuple[list[float], list[float]] = ([], [])
        for where, tab in ((program, page), (stored, floor)):
            open_example(tab, where)
        for index in range(UPDATES + 3):  # the first three only warm the browser
            for tab, kept in zip((page, floor), times, strict=True):
                kept.append(once(tab, index))
    return statistics.median(times[0][3:]), statistics.median(times[1][3:])


def open_example(page: Browser, program: Served) -> None:
    """Load the invented wearer on the Interview page."""
    page.enter(program, until="Interview")
    page.driver.execute_script(
        "[...document.querySelectorAll('button')]"
        ".find(b => b.innerText.includes('Load an invented wearer')).click()"
    )
    page.wait_for_text("h comfortable")
    page.settle()


def _one_move(page: Browser, index: int) -> float:
    """One arrow key on the slider: up and down in turn, so that each step is another picture."""
    thumb = page.driver.find_element("css selector", SLIDER)
    page.driver.execute_script("arguments[0].focus()", thumb)
    page.driver.execute_script(
        f"window.moved = new Promise(done => {{ (function() {{{MOVE}}})(done) }})"
    )
    key = "ArrowRight" if index % 14 < 7 else "ArrowLeft"
    code = 39 if key == "ArrowRight" else 37
    for kind in ("rawKeyDown", "keyUp"):
        page.driver.execute_cdp_cmd(
            "Input.dispatchKeyEvent",
            {"type": kind, "key": key, "code": key, "windowsVirtualKeyCode": code},
        )
    taken = page.driver.execute_async_script(
        "const done = arguments[arguments.length - 1]; window.moved.then(done);"
    )
    page.settle()
    return float(taken)


def _one_update(page: Browser, age: int) -> float:
    taken = float(page.driver.execute_async_script(WATCH, AGE, str(age)))
    page.settle()
    return taken


def _first_open(start: Callable[[], Served]) -> float:
    """Seconds from asking for the address of a program just started to a page that can be used."""
    with start() as program, browser(apart=True) as page:
        began = time.monotonic()
        page.let_in(program.address)
        page.driver.get(program.page())
        page.wait_for(lambda: "Type the age" in page.text(), "the first page")
        page.wait_for(page.idle, "an idle page")
        return time.monotonic() - began


def _start_stored() -> Served:
    return _start_script(STORED)


def _start_bare() -> Served:
    return _start_script(BARE)


def _start_script(text: str) -> Served:
    script = Path(tempfile.mkdtemp(prefix="levelgaze-bench-")) / "started.py"
    script.write_text(text, encoding="utf-8")
    script.with_name("main.py").write_text(BARE_PAGE, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-u", str(script), "--port", str(free_port())],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    began = time.monotonic()
    assert process.stdout is not None
    while time.monotonic() - began < START_S:
        line = process.stdout.readline()
        if "http://127.0.0.1:" in line:
            entry = line.split("Levelgaze is at ")[1].split(" ")[0]
            return Served(process, way_in(entry), [line], entry=entry)
        if not line and process.poll() is not None:
            break
    process.kill()
    raise AssertionError("the program to compare with did not start")


if __name__ == "__main__":
    print(table(measure()))
