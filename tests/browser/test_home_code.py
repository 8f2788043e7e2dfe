"""The code of the Home check, written in a real browser, read by three programs that are not it."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import segno
import zxingcpp
from segno import encoder

from engine.home.answers import SCREEN_NAMES, STEPS, HomeAnswers, answers_from, choices
from engine.home.case import read_visit_file
from engine.home.code import unpack, words_of
from tests.browser.harness import Browser

CODE = Path("app/home_file/code.js").read_text(encoding="utf-8")
PEOPLE = (1_000, pytest.param(10_000, marks=pytest.mark.long))
PICTURES = (60, pytest.param(400, marks=pytest.mark.long))
LARGEST = 400
"""Bytes of a full answer; a code of so many still fits a phone's screen with dots to be seen."""
FULL = (14, 26, 42, 62, 84, 106, 122, 152, 180, 213, 251, 287, 331, 362, 412, 450, 504, 560, 624,
        666)  # fmt: skip
"""Bytes that fill versions 1 to 20 at level M. Shorter texts are padded by segno 1.6 with a zero
byte that the standard does not know, so only full ones are the same dot for dot."""


def run(page: Browser, work: str, *given: Any) -> Any:
    page.driver.get("about:blank")
    return page.driver.execute_script(f"{CODE}\nreturn ({work})(...arguments);", *given)


def sheet(chance: random.Random) -> dict[str, Any]:
    """Answers as a page holds them: any question may be open, answered by none, or passed over."""

    def some(field: str) -> list[str] | None:
        offered = words_of(field)
        return chance.choice([None, [], chance.sample(offered, chance.randint(1, len(offered)))])

    def one(field: str) -> str | None:
        return chance.choice([None, *words_of(field)])

    def cm(low: float, high: float) -> float | None:
        return chance.choice([None, round(chance.uniform(low, high), chance.randint(0, 1))])

    screens = [
        {
            "form": chance.choice(words_of("form")),
            "size_in": round(chance.uniform(7, 60), 1),
            "shape": chance.choice(words_of("shape")),
            "side": chance.choice(words_of("side")),
            "movable": chance.random() < 0.7,
            "distance_cm": cm(15, 250),
            "reach": one("reach"),
            "top_above_desk_cm": cm(1, 150),
        }
        for _ in range(chance.randint(0, 3))
    ]
    reading = [{"what": what, "distance_cm": cm(15, 150)} for what in some("reading") or []]
    others = some("others")
    names = [*SCREEN_NAMES[: len(screens)], *(part["what"] for part in reading), *(others or [])]
    hours = {name: round(chance.uniform(0, 2.4), 1) for name in names if chance.random() < 0.8}
    passed = chance.sample([step for step in STEPS if step not in ("flags", "age", "screens")], 2)
    content = {
        **{name: some(name) for name in ("flags", "coping", "needs", "bothers", "tell")},
        **{name: one(name) for name in ("age", "glasses", "lens_part")},
        "seen_by_doctor": chance.choice([None, False, True]),
        "screens": screens or None,
        "eyes_above_desk_cm": cm(10, 120),
        "reading": reading or chance.choice([None, []]),
        "others": others,
        "hours": chance.choice([None, hours]),
        "skipped": chance.choice([None, [], passed]),
    }
    return {name: value for name, value in content.items() if value is not None}


def everything() -> dict[str, Any]:
    """The longest answers there are: all is ticked, measured and told."""
    screen = {
        **{"form": "laptop", "size_in": 15.6, "shape": "extra_wide", "side": "right"},
        **{"movable": True, "distance_cm": 101.5, "reach": "touch", "top_above_desk_cm": 101.5},
    }
    reading = [{"what": what, "distance_cm": 101.5} for what in choices("reading")]
    many = ("flags", "coping", "others", "needs", "bothers", "tell")
    return {
        **{name: list(choices(name)) for name in many},
        **{"seen_by_doctor": True, "age": "under_40", "glasses": "general_progressive"},
        "lens_part": "nowhere",
        **{"eyes_above_desk_cm": 101.5, "screens": [screen] * 3, "reading": reading},
        "hours": dict.fromkeys(words_of("hours"), 2.4),
    }


@pytest.mark.parametrize("people", PEOPLE)
def test_the_answers_come_back_from_a_code(shared: Browser, people: int) -> None:
    chance = random.Random(17)
    sheets = [sheet(chance) for _ in range(people)]
    packed = run(shared, "all => all.map(Code.pack)", sheets)
    wrong = [
        (given, text)
        for given, text in zip(sheets, packed, strict=True)
        if answers_from(unpack(text)) != answers_from(given)
    ]
    assert wrong == []
    assert all(text.isascii() and ":/" not in text and "\n" not in text for text in packed)
    whole = run(shared, "one => [Code.pack(one), Code.file(one)]", everything())
    assert [read_visit_file(text) for text in whole] == [answers_from(everything())] * 2
    assert set(everything()) | {"skipped"} == set(HomeAnswers.model_fields), "all is in it"
    assert len(whole[0]) <= 1.35 * LARGEST, "with every box ticked"
    assert sorted(map(len, packed))[int(0.99 * people)] <= LARGEST


def dots(rows: list[str], *, scale: int = 3) -> Any:
    """A picture of a code, white 255, with the light edge it needs."""
    dark = np.array([[one == "1" for one in row] for row in rows])
    return np.kron(np.pad(np.where(dark, 0, 255).astype(np.uint8), 4, constant_values=255),
                   np.ones((scale, scale), np.uint8))  # fmt: skip


MATRICES = """jobs => jobs.map(([text, wish]) =>
  Code.matrix(text, wish).map(row => row.map(Number).join("")))"""


@pytest.mark.parametrize("pictures", PICTURES)
def test_pictures_of_codes_are_read_by_a_scanner(shared: Browser, pictures: int) -> None:
    chance = random.Random(23)
    sheets = [sheet(chance) for _ in range(pictures)]
    work = f"all => (all => [all, ({MATRICES})(all.map(one => [one]))])(all.map(Code.pack))"
    packed, found = run(shared, work, sheets)
    for given, text, rows in zip(sheets, packed, found, strict=True):
        read = [
            one.text
            for one in zxingcpp.read_barcodes(dots(rows), formats=zxingcpp.BarcodeFormat.QRCode)
        ]
        assert read == [text]
        assert answers_from(unpack(read[0])) == answers_from(given)


def test_codes_are_those_of_a_second_program_dot_for_dot(shared: Browser) -> None:
    chance = random.Random(29)
    letters = "".join(map(chr, range(32, 127)))
    texts = ["a" + "".join(chance.choices(letters, k=full - 1)) for full in FULL]
    jobs = [(text, at + 3 * more & 7) for at, text in enumerate(texts) for more in range(2)]
    found = run(shared, MATRICES, [(text, {"mask": mask}) for text, mask in jobs])
    for (text, mask), rows in zip(jobs, found, strict=True):
        same = segno.make(text, error="m", mode="byte", boost_error=False, micro=False, mask=mask)
        assert rows == ["".join(map(str, row)) for row in same.matrix], (len(text), mask)


def test_the_mask_is_that_of_the_lowest_penalty(shared: Browser) -> None:
    texts = [f"LG2 ag=5559 eyabdecm={at} #123" * at for at in range(1, 8)]
    wishes = [{}, *({"mask": mask} for mask in range(8))]
    found = run(shared, MATRICES, [(text, wish) for text in texts for wish in wishes])
    for at in range(0, len(found), len(wishes)):
        chosen, *eight = found[at : at + len(wishes)]
        grids = [tuple(bytearray(map(int, row)) for row in rows) for rows in eight]
        costs = [encoder.evaluate_mask(grid, len(grid), len(grid)) for grid in grids]
        assert chosen == eight[costs.index(min(costs))]


def test_a_text_beyond_the_largest_code_is_refused(shared: Browser) -> None:
    work = "text => { try { Code.matrix(text) } catch (error) { return error.message } }"
    assert run(shared, work, "x" * (FULL[-1] + 1)) == "too long for a code"
    assert run(shared, work, "x" * FULL[-1]) is None


def test_the_drawing_is_the_code_on_white(shared: Browser) -> None:
    work = """text => {
      document.body.innerHTML = Code.svg(text);
      const svg = document.querySelector("svg"), path = svg.lastChild.getAttribute("d");
      return [svg.getAttribute("viewBox"), path, Code.matrix(text).map(row => row.map(Number))];
    }"""
    box, path, rows = run(shared, work, "LG2 fl= ag=5559")
    edge = 4
    drawn = {tuple(map(int, one.split("h")[0].split())) for one in path.split("M")[1:]}
    dark = {(x + edge, y + edge) for y, row in enumerate(rows) for x, one in enumerate(row) if one}
    assert drawn == dark
    assert box == f"0 0 {len(rows) + 2 * edge} {len(rows) + 2 * edge}"
