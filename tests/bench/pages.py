"""How fast the pages are in a real Chromium: an update beside its floor, and the first open.

The floor of an update is the same page, same run, with the engine replaced by a stored result.
"""

from __future__ import annotations

import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.browser.harness import (
    ROOT,
    START_S,
    Browser,
    Served,
    browser,
    free_port,
    start_app,
)

UPDATES = 30
OPENS = 5
MOST_UPDATE_RATIO = 2.0
MOST_FIRST_OPEN_S = 3.0
STORED = """
import sys
from app import asking, compute, questions
kept = {}
computed = compute.answer
def stored(case):
    if "result" not in kept:
        kept["result"] = computed(case)
    return kept["result"]
compute.answer = stored
from app.__main__ import main
sys.exit(main(sys.argv[1:]))
"""
"""The program with the first result computed given for every case."""
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

Row = tuple[str, float, float, str, float, float]


def measure() -> list[Row]:
    """Rows (name, numerator, denominator, unit, ratio, target)."""
    full = _median_update(start_app)
    floor = _median_update(_start_stored)
    opened = statistics.median(_first_open() for _ in range(OPENS))
    return [
        (
            "page update / with a stored result",
            full,
            floor,
            "ms",
            full / floor,
            MOST_UPDATE_RATIO,
        ),
        (
            "first open / its limit",
            opened,
            MOST_FIRST_OPEN_S,
            "s",
            opened / MOST_FIRST_OPEN_S,
            1.0,
        ),
    ]


def _median_update(start: object) -> float:
    with _running(start) as program, browser() as page:
        page.open(program.address, until="Interview")
        page.driver.execute_script(
            "[...document.querySelectorAll('button')]"
            ".find(b => b.innerText.includes('Load an invented wearer')).click()"
        )
        page.wait_for_text("h comfortable")
        page.settle()
        times = [_one_update(page, 50 + index % 20) for index in range(UPDATES + 3)]
    return statistics.median(times[3:])  # the first three only warm the browser


def _one_update(page: Browser, age: int) -> float:
    taken = float(page.driver.execute_async_script(WATCH, AGE, str(age)))
    page.settle()
    return taken


def _first_open() -> float:
    """Seconds from asking for the address of a program just started to a page that can be used."""
    with _running(start_app) as program, browser() as page:
        began = time.monotonic()
        page.driver.get(program.address)
        page.wait_for(lambda: "Type the age" in page.text(), "the first page")
        page.wait_for(page.idle, "an idle page")
        return time.monotonic() - began


def _start_stored() -> Served:
    script = Path(tempfile.mkdtemp(prefix="levelgaze-bench-")) / "stored.py"
    script.write_text(STORED, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-u", str(script), "--port", str(free_port())],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "HOME": str(Path.home())},
    )  # fmt: skip
    began = time.monotonic()
    assert process.stdout is not None
    while time.monotonic() - began < START_S:
        line = process.stdout.readline()
        if "http://127.0.0.1:" in line:
            return Served(process, line.split("Levelgaze is at ")[1].split(" ")[0], [line])
        if not line and process.poll() is not None:
            break
    process.kill()
    raise AssertionError("the program with a stored result did not start")


@contextmanager
def _running(start: object) -> Iterator[Served]:
    program = start()  # type: ignore[operator]
    try:
        yield program
    finally:
        program.stop(how=signal.SIGINT)


if __name__ == "__main__":
    for name, numerator, denominator, unit, ratio, target in measure():
        print(f"{name}: {numerator:.2f} / {denominator:.2f} {unit} = {ratio:.2f} (<= {target:g})")
