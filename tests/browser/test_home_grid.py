"""The hours of the home file beside the engine's own, for random answers, in a real Chromium.

The file interpolates in a grid; the engine's crowd is worked out anew for every answer.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pytest

from engine.case.read import build_case
from engine.case.scene import scene_of
from engine.errors import InputRefusedError
from engine.home.answers import HomeAnswers, answers_from
from engine.home.case import case_content
from engine.kernel import compiled
from tests.browser.harness import Browser, browser
from tests.home_desks import random_answers
from tests.home_found import JUDGED, EngineFound, engine_found, worth_asking

FOLDER = Path("app/home_file")
MANY = (24, pytest.param(2_000, marks=pytest.mark.long))
"""The engine takes half a second for each."""
AT_ONCE = 200
WORTH_PROCESSES = 100
"""From so many answers on, starting more processes takes less time than it saves."""
NEAR_H = 0.3
AS_GOOD_H = 0.25
"""The file's move is the engine's where the engine finds that it brings as much as its own but for
this: what a move must bring to be told at all."""
ASK = """
Hours.load(arguments[0]);
return Hours.ready && arguments[1].map((one) => Hours.of(one));
"""


@pytest.fixture(scope="module")
def page() -> Iterator[Browser]:
    with browser() as one:
        yield one


def told(page: Browser, answers: list[Any]) -> list[dict[str, Any]]:
    """What the file says to each of some answers."""
    plain = [one.model_dump(mode="json", exclude_none=True) for one in answers]
    found: list[dict[str, Any]] = []
    for start in range(0, len(plain), AT_ONCE):
        found += ask(page, plain[start : start + AT_ONCE])
    return found


def ask(page: Browser, plain: list[dict[str, Any]]) -> Any:
    """What the script makes of plain answers, in an empty page."""
    page.driver.get("about:blank")
    script = (FOLDER / "hours.js").read_text(encoding="utf-8")
    grid = (FOLDER / "grid.txt").read_text(encoding="ascii")
    return page.driver.execute_script(f"{script}\n{ASK}", grid, plain)


def means(said: dict[str, Any]) -> dict[str, float]:
    """Mean hours of what is worn now, where known, and of every kind."""
    now = {"now": said["now"]["mean_h"]} if said["now"] else {}
    return said["every"] | now


def same_move(said: dict[str, Any], found: EngineFound) -> bool:
    """Whether neither tells a move, or both do and the engine finds them about as good."""
    if (said["move"] is None) != (found.move is None):
        return False
    if found.move is None:
        return True
    told = said["move"]["lower_cm"], said["move"]["farther_cm"]
    return found.gain_h(told) >= found.gain_h(found.move) - AS_GOOD_H


def possible_answers(chance: random.Random) -> Iterator[HomeAnswers]:
    """Draw answers whose screens fit before the eyes: one in 200 of those drawn does not."""
    while True:
        one = random_answers(chance)
        with suppress(InputRefusedError):
            scene_of([build_case(case_content(one))], judgements=JUDGED)
            yield one


@dataclass(frozen=True)
class Held:
    """What the file said of one answer held against the engine.

    Attributes:
        off_h: the largest difference of hours.
        moves: the engine has a move to tell. differs: the file, sure of itself, says otherwise.
    """

    off_h: float
    unsure: bool
    moves: bool
    differs: bool


def held(said: dict[str, Any], one: HomeAnswers) -> Held:
    """Ask the engine, too, and compare."""
    found = engine_found(one)
    mine, theirs = means(said), found.means
    assert set(mine) == set(theirs)
    for part in [said["now"] or {}, *said["kinds"]]:
        assert not part or part["low_h"] <= part["mean_h"] <= part["high_h"]
    assert [part["kind"] for part in said["kinds"]] == worth_asking(
        said["every"],
        now_h=mine.get("now", 0.0),
        day_h=float(found.crowd.hours.sum()),
        glasses=one.glasses,
    )
    return Held(
        off_h=max(abs(mine[name] - theirs[name]) for name in theirs),
        unsure=said["unsure"],
        moves=found.move is not None,
        differs=not said["unsure"] and not same_move(said, found),
    )


@pytest.mark.parametrize("many", MANY)
def test_the_file_finds_what_the_engine_finds(page: Browser, many: int) -> None:
    drawn = possible_answers(random.Random(20261129))
    answers = list(itertools.islice(drawn, many))
    if many < WORTH_PROCESSES:
        found = list(map(held, told(page, answers), answers))
    else:
        spawned = get_context("spawn")
        with ProcessPoolExecutor(mp_context=spawned, initializer=compiled.load) as engines:
            found = list(engines.map(held, told(page, answers), answers, chunksize=8))
    off_h = sorted(one.off_h for one in found)
    unsure, differs = (sum(getattr(one, name) for one in found) for name in ("unsure", "differs"))
    near = sum(off <= NEAR_H for off in off_h)
    print(f"{near} of {many} near, {unsure} unsure, {differs} differ in the move; {off_h[-9:]}")
    assert near >= 0.95 * many
    assert unsure <= 0.05 * many + 1
    assert differs <= 0.05 * many
    assert sum(one.moves for one in found) >= 0.05 * many, "enough must have a move to tell"


def test_a_screen_at_the_side_is_put_where_its_tape_leaves_room(page: Browser) -> None:
    screens = [
        {"size_in": 24.0, "distance_cm": 66.0, "top_above_desk_cm": 46.0},
        {"size_in": 14.0, "form": "laptop", "side": "left", "distance_cm": 54.0,
         "top_above_desk_cm": 15.0},
    ]  # fmt: skip
    hours = {"second screen": 6.0}
    one = answers_from({"age": "55_59", "glasses": "general_progressive", "screens": screens,
                        "eyes_above_desk_cm": 46.0, "hours": hours})  # fmt: skip
    assert held(told(page, [one])[0], one).off_h <= NEAR_H


def test_what_cannot_be_said_is_not_said(page: Browser) -> None:
    screens = [{"size_in": 24.0}]
    young, bare, unknown = (
        {"age": "under_40", "screens": screens},
        {"age": "55_59"},
        {"age": "55_59", "screens": screens, "glasses": "unknown"},
    )
    script = (FOLDER / "hours.js").read_text(encoding="utf-8")
    assert page.driver.execute_script(f"{script}\nreturn Hours.ready") is False
    said = ask(page, [young, bare, unknown])
    assert said[:2] == [None, None]
    assert said[2]["now"] is None
    assert said[2]["targets"] == []
    assert said[2]["move"] is None
    assert said[2]["kinds"], "what is worn is not known; kinds can be asked about all the same"
