"""One session, then twenty at once, doing interviews: `python -m tests.bench.load [--short]`.

Nineteen visitors speak the page library's own protocol, the twentieth is a headless Chromium; all
run beside the program on the same cores, and share them with it. A person thinks 3 to 9 seconds
between values (nine values in two minutes would be 13; a judgement of the authors); each phase is
also run without thinking. An update is the time from a value sent until the page's script is
finished and the line in view is the answer to that value, computed beforehand in another process;
in Chromium until that line can be read.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from tests.bench._interview import Step, interview, readable
from tests.bench._row import Row
from tests.bench._visitor import PATIENCE_S, Visitor
from tests.browser.harness import Browser, Served, browser, start_app

ALL_CORES = True
SESSIONS = 20
THINK_S = (3.0, 9.0)
NO_THINK = (0.0, 0.0)
ROUNDS_ALONE, ROUNDS_TOGETHER = 3, 2
TYPE = """
const [place, value, parts] = arguments, done = arguments[arguments.length - 1];
const words = () => {
  const line = document.querySelector('.st-key-answer .lg-answer');
  return line ? line.innerText.replace(/\\s+/g, ' ') : '';
};
const app = document.querySelector('[data-testid=stApp]');
let ran = false;
const answered = () => {
  const rests = app.dataset.testScriptState === 'notRunning';
  ran ||= !rests;
  return ran && rests && parts.every(part => words().includes(part));
};
const box = [...document.querySelectorAll("[class*='st-key-']")].find(
  one => [...one.classList].some(name => name.startsWith('st-key-') && name.endsWith(place)));
const choice = [...box.querySelectorAll('label')].find(one => one.innerText.trim() === value);
const field = choice || box.querySelector('input');
let began;
const look = () => {
  if (answered()) { watcher.disconnect(); done(performance.now() - began); }
};
const watcher = new MutationObserver(look);
if (choice) {
  began = performance.now();
  field.click();
} else {
  const set = Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, 'value').set;
  set.call(field, value);
  field.dispatchEvent(new Event('input', {bubbles: true}));
  const enter = {key: 'Enter', code: 'Enter', keyCode: 13, bubbles: true};
  began = performance.now();
  field.dispatchEvent(new KeyboardEvent('keydown', enter));
  field.dispatchEvent(new KeyboardEvent('keypress', enter));
}
watcher.observe(document.body, {subtree: true, childList: true, characterData: true,
  attributes: true, attributeFilter: ['data-test-script-state']});
look();
"""
"""Put a value into a field, and time until the page rests and the line in view is the answer."""


class Session(Protocol):
    """What a session can do, over the protocol or in a browser."""

    def answer(self, step: Step) -> float:
        """Type a value; seconds until it is answered."""

    def think(self, seconds: float) -> None:
        """Change nothing."""


@dataclass
class Timed:
    """What one session saw: seconds of each update."""

    updates_s: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)


class ByProtocol:
    """A session without a browser."""

    def __init__(self, address: str) -> None:
        self.visitor = Visitor(address)
        self.visitor.open()
        self.think = self.visitor.think

    def answer(self, step: Step) -> float:
        """Seconds until a run of the page is finished whose line is the answer."""
        visitor, before, began = self.visitor, self.visitor.runs, time.perf_counter()
        visitor.set(step.field, step.value)
        visitor.wait(
            lambda: visitor.runs > before and step.answered_by(readable(visitor.line())),
            f"the answer to {step}",
        )
        if visitor.faults:
            raise AssertionError(f"{step}: {visitor.faults}")
        return time.perf_counter() - began


class InBrowser:
    """A session in Chromium."""

    def __init__(self, page: Browser, program: Served) -> None:
        self.page = page
        page.driver.set_script_timeout(PATIENCE_S)
        page.enter(program, until="Interview")

    def answer(self, step: Step) -> float:
        """Seconds by the browser's own clock until the answer can be read."""
        place = f"-{step.field.replace('.', '-')}"
        parts = [step.says, step.hours, step.counts]
        return float(self.page.driver.execute_async_script(TYPE, place, step.value, parts)) / 1e3

    def think(self, seconds: float) -> None:
        """Look at the page."""
        time.sleep(seconds)


def measure(
    *, sessions: int = SESSIONS, alone: int = ROUNDS_ALONE, both: int = ROUNDS_TOGETHER
) -> list[Row]:
    """Rows of the table."""
    most = 2 * (alone + both)
    steps = [interview(0, rounds=most)]
    steps += [interview(one, rounds=2 * both, first=2 * alone) for one in range(1, sessions)]
    with start_app() as program, ExitStack() as opened:
        crowd: list[Session] = [ByProtocol(program.address)]
        one = run(crowd, [steps[0][:alone]], THINK_S)
        one_hurried = run(crowd, [steps[0][alone : 2 * alone]], NO_THINK)
        one_mb = resident_mb(program)
        page = opened.enter_context(browser(apart=True))
        crowd += [ByProtocol(program.address) for _ in range(sessions - 2)]
        crowd.append(InBrowser(page, program))
        steps[0] = steps[0][2 * alone :]
        many = run(crowd, [each[:both] for each in steps], THINK_S)
        many_mb = resident_mb(program)
        hurried = run(crowd, [each[both:] for each in steps], NO_THINK)
    failures = [
        why for told in (one, one_hurried, many, hurried) for t in told for why in t.failures
    ]
    failures += ["a traceback in the log"] * ("Traceback" in "".join(program.said))
    for why in failures:
        print(why, flush=True)
    return [
        *_compared(f"{sessions} sessions, think time 3-9 s", many, one),
        *_compared(f"{sessions} sessions, no think time", hurried, one_hurried),
        Row(
            f"memory of a session, ({sessions} - 1)/{sessions - 1}",
            (many_mb - one_mb) / (sessions - 1),
            "MB",
            "program with 1 session",
            one_mb,
        ),
        Row(
            "failed sessions or wrong answers",
            len(failures),
            "",
            "updates of all sessions",
            sum(len(t.updates_s) for told in (one, one_hurried, many, hurried) for t in told),
            target=0,
            source="our target",
        ),
    ]


def _compared(name: str, many: Sequence[Timed], one: Sequence[Timed]) -> Iterator[Row]:
    ours, theirs = _all(many), _all(one)
    alone = f"1 session, {name.split(', ')[1]}"
    yield Row(f"update, {name}, median", _median_ms(ours), "ms", alone, _median_ms(theirs))
    yield Row(f"update, {name}, 95th", _p95_ms(ours), "ms", alone, _p95_ms(theirs))
    yield Row(
        f"update in Chromium among {name}",
        _median_ms(many[-1].updates_s),
        "ms",
        "the other sessions, median",
        _median_ms(_all(many[:-1])),
    )


def run(
    crowd: Sequence[Session], rounds: Sequence[list[list[Step]]], think_s: tuple[float, float]
) -> list[Timed]:
    """Each session in a thread of its own does its rounds; all begin together.

    Who is done stays on the page until the last one is.
    """
    told = [Timed() for _ in crowd]
    start, busy = threading.Barrier(len(crowd)), set(range(len(crowd)))

    def follow(place: int) -> None:
        session, dice = crowd[place], random.Random(place)
        start.wait()
        try:
            for step in [step for each in rounds[place] for step in each]:
                session.think(dice.uniform(*think_s))
                told[place].updates_s.append(session.answer(step))
            busy.discard(place)
            while busy:
                session.think(0.2)
        except Exception as fault:  # counted, and said by the caller
            told[place].failures.append(f"session {place}: {type(fault).__name__}: {fault}"[:600])
        finally:
            busy.discard(place)

    sys.stderr.write(f"  {len(crowd)} at once, {think_s[0]:g} to {think_s[1]:g} s of thought ...\n")
    threads = [threading.Thread(target=follow, args=(place,)) for place in range(len(crowd))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return told


def resident_mb(program: Served) -> float:
    """Memory the program holds now, as Linux counts it."""
    status = Path(f"/proc/{program.process.pid}/status").read_text(encoding="ascii")
    line = next(line for line in status.splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1]) / 1024


def _all(told: Sequence[Timed]) -> list[float]:
    return [second for each in told for second in each.updates_s]


def _median_ms(seconds: Sequence[float]) -> float:
    return 1e3 * statistics.median(seconds) if seconds else float("nan")


def _p95_ms(seconds: Sequence[float]) -> float:
    return 1e3 * statistics.quantiles(seconds, n=20)[-1] if len(seconds) > 1 else float("nan")


def main() -> None:
    """Print the rows of this module alone."""
    from tests.bench._row import table

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=SESSIONS)
    parser.add_argument("--short", action="store_true", help="one round in each phase")
    asked = parser.parse_args()
    rounds = {"alone": 1, "both": 1} if asked.short else {}
    print(table(measure(sessions=asked.sessions, **rounds)))


if __name__ == "__main__":
    main()
