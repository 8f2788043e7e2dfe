"""How fast the Desk page draws its map anew in a real Chromium, and what of that is computing.

The map is drawn anew for a lens not looked at before: 46 by 25 places, the best move, and the plan
to choose there. The floor is the same page drawing a lens it holds already.
"""

from __future__ import annotations

import statistics
import time
from functools import partial

from app.form import case_of_answers, compute, questions
from app.form.compute import Answer
from app.views.desk import kept, map
from app.views.desk.map import Mark
from tests.bench._row import Row, table
from tests.bench.pages import open_example
from tests.browser.harness import Browser, Served, browser, start_app

RUNS = 3
ALL_CORES = True
MOST_REDRAW_MS = 1000.0
"""A choice between lenses may take a second (no published limit; judgement of the authors)."""
MOST_HELD_MS = 300.0
MOST_PICTURE_MS = 30.0
WATCH = """
const done = arguments[arguments.length - 1];
const option = arguments[0];
const text = () => document.querySelector('#deskmap-desc').textContent;
const before = text();
const began = performance.now();
const look = () => {
  if (text() !== before) {
    watcher.disconnect();
    requestAnimationFrame(() => done(performance.now() - began));
  }
};
const watcher = new MutationObserver(look);
watcher.observe(document.body, {subtree: true, childList: true, characterData: true});
option.click();
"""
"""Click one of the list, and time until another map has been drawn."""


def measure() -> list[Row]:
    """Rows of the table."""
    picture_ms, engine_ms = _picture_ms(), _engine_ms()
    new_ms, held_ms = _redraws_ms()
    computed = "map, move and plan there computed"
    return [
        _row("desk map drawn as a picture", picture_ms, computed, engine_ms, MOST_PICTURE_MS),
        _row("lens chosen to map redrawn, lens new", new_ms, computed, engine_ms, MOST_REDRAW_MS),
        _row("the same, lens seen before", held_ms, "lens new", new_ms, MOST_HELD_MS),
    ]


def _row(name: str, ms: float, beside: str, reference_ms: float, most: float) -> Row:
    return Row(name, ms, "ms", beside, reference_ms, most, source="ours")


def _example() -> Answer:
    case = case_of_answers.ask(questions.EXAMPLE).case
    assert case is not None
    return Answer(case, compute.answer(case))


def _engine_ms() -> float:
    """The map, the best move, and the plan to choose there, for one lens."""
    found = _example()
    names = kept.names_in_order(found.result, None)[:4]
    return statistics.median(_ms(partial(kept.look_at, {}, found, name, 0)) for name in names)


def _picture_ms() -> float:
    sight = kept.look_at({}, _example(), "present_pair", 0).sight
    columns = sight.region.columns
    marks = [Mark("now", sight.now.distance_cm, sight.now.centre_above_eye_cm, "now")]

    def draw() -> None:
        map.desk_map(
            heights_cm=sight.places.heights_cm,
            distances_cm=sight.places.distances_cm,
            share=sight.places.share,
            columns=columns,
            marks=marks,
            title="map",
            description="map",
        )

    draw()
    return statistics.median(_ms(draw) for _ in range(9))


def _ms(run: object) -> float:
    began = time.perf_counter()
    run()  # type: ignore[operator]
    return 1e3 * (time.perf_counter() - began)


def _redraws_ms() -> tuple[float, float]:
    """Medians over lenses new to the page, and over the same lenses again."""
    with start_app() as program, browser(apart=True) as page:
        return _in_browser(page, program)


def _in_browser(page: Browser, program: Served) -> tuple[float, float]:
    open_example(page, program)
    page.go("desk", until="Measure the nearest")
    new = [_choose(page, at) for at in range(1, 1 + 2 * RUNS)]
    held = [_choose(page, at) for at in range(2 * RUNS - 1, 0, -1)]
    return statistics.median(new), statistics.median(held)


def _choose(page: Browser, at: int) -> float:
    """Choose one of the lenses by its place in the list; milliseconds to the redrawn map."""
    page.driver.find_element("css selector", "[data-testid=stSelectbox] input").click()
    page.wait_for(lambda: bool(_options(page)), "the list of lenses")
    taken = float(page.driver.execute_async_script(WATCH, _options(page)[at]))
    page.settle()
    return taken


def _options(page: Browser) -> list[object]:
    return list(page.driver.find_elements("css selector", "[role=option]"))


if __name__ == "__main__":
    print(table(measure()))
