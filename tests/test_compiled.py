"""The compiled search says what the plain one says, of every point and every lens."""

from __future__ import annotations

import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass, replace
from itertools import zip_longest
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.answer.sources import Reading
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case, read_case
from engine.errors import InputRefusedError
from engine.examples import names, path_of
from engine.kernel import compiled
from engine.kernel.clearness import Columns
from engine.kernel.draws import Draws
from engine.kernel.search import Views, candidates_of, clear_where, worse
from engine.lenses import surfaces
from engine.lenses.families import (
    Bifocal,
    Field,
    General,
    Office,
    OwnPrescription,
    SingleVision,
    Trifocal,
    Unaided,
)
from engine.lenses.kinds import KINDS
from engine.lenses.lens import owned_lens
from engine.roster.columns import columns
from engine.roster.draws import fill
from engine.roster.rows import read_rows
from engine.roster.scene import scene_of_rows
from engine.roster.search import search_rows
from engine.tables import Judgements
from tests import examples
from tests.made_cases import made_case
from tests.made_rows import made_rows
from tests.plainly import plainly

J = Judgements.standard()
ROOT = Path(__file__).resolve().parent.parent
FEW_CASES, FEW_ROWS = 60, 150
PART, PARTS = 500, 20
DRAWS = 2
"""Draws of a wild case beside the one as measured."""


@pytest.fixture(autouse=True, scope="module")
def _loaded() -> None:
    assert compiled.load(), "the extra `fast` is part of what the tests install"


def decisions(case: Case, rows: slice) -> list[np.ndarray]:
    """Every decision of the search of a case: comfortable, then as clear and usable if awkward."""
    draws = Draws(case, judgements=J)
    views = Views(draws.scene(rows), J, every_grade=True)
    count = len(views.scene.wearers.add_d)
    lenses = [kind for kind in KINDS.values() if kind.is_lens or np.any(can_go_bare(kind, views))]
    every = candidates_of(views, lenses)
    found = [clear for _, clear in every]
    asked = []
    for one, clear in every:
        if clear.shape[1]:
            at = clear.shape[1] // 2
            family = one.families[one.family[at]]
            columns = Columns(one.kind, family, one.free_d[:, [at]])
            asked.append(worse(columns, known=clear[:, at], judgements=J))
    wearers = draws.measured_wearers
    for pair in case.owned_pairs:
        lens = owned_lens(pair, case, wearers=wearers, judgements=J)
        powers = np.full((count, 1), lens.free_d)
        asked.append(Columns(lens.kind, lens.family, powers, ratios=(1.0, 1.7)))
        found += clear_where(views, "comfortable", [Columns(lens.kind, lens.family, powers)])
    return found + clear_where(views, "awkward", asked)


def can_go_bare(kind: Any, views: Views) -> np.ndarray:
    powers = kind.families(J)[0].free_powers_d(views.scene.wearers, J)
    return ~np.isnan(powers)


def try_cases(numbers: range) -> int:
    """Compare the decisions of made cases; returns how many there were."""
    count = 0
    for number in numbers:
        try:
            case = build_case(made_case(number).content)
            fast = decisions(case, slice(0, 1 + DRAWS))
        except InputRefusedError:
            continue
        with plainly():
            plain = decisions(case, slice(0, 1 + DRAWS))
        assert len(fast) == len(plain)
        for one, other in zip(fast, plain, strict=True):
            assert np.array_equal(one, other), number
            count += one.size
    return count


def test_wild_cases_are_decided_alike() -> None:
    assert try_cases(range(FEW_CASES)) > 100_000


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_ten_thousand_wild_cases_are_decided_alike(part: int) -> None:
    assert try_cases(range(part * PART, (part + 1) * PART)) > 1_000_000


def try_rows(first: int, count: int) -> int:
    """Compare the hours of made rows, to the last bit; returns how many were computed."""
    names = list(columns())
    cells = [
        dict(zip_longest(names, row[: len(names)], fillvalue="")) for row in made_rows(first, count)
    ]
    rows = read_rows(pd.DataFrame(cells, index=np.arange(first + 1, first + 1 + count)))
    some = rows.take(np.flatnonzero(~(rows.young | rows.idle)))
    drawn = fill(some, draws=DRAWS, seed=1, judgements=J)
    for start in range(0, len(drawn.row), 60):
        part = slice(start, start + 60)
        scene = scene_of_rows(
            {name: values[part] for name, values in drawn.values.items()}, judgements=J
        )
        present = some.present_kind[drawn.row[part]].tolist()
        fast = search_rows(scene, present, judgements=J)
        with plainly():
            plain = search_rows(scene, present, judgements=J)
        assert fast.designs == plain.designs
        for name in vars(fast):
            if name != "designs":
                same = np.array_equal(getattr(fast, name), getattr(plain, name), equal_nan=True)
                assert same, (first, name)
    return len(drawn.row)


def test_wild_rows_are_decided_alike() -> None:
    assert try_rows(0, FEW_ROWS) > FEW_ROWS / 2


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_ten_thousand_wild_rows_are_decided_alike(part: int) -> None:
    assert try_rows(part * PART, PART) > PART / 2


@pytest.mark.parametrize("name", names())
def test_an_example_has_the_same_answer(name: str) -> None:
    """The whole answer, as it is written, to the last byte, and of the same judgements.

    Evidence tells what an answer read: the compiled search reads as much.
    """
    case, told, read = read_case(path_of(name)), [], []
    for way in (nullcontext, plainly):
        reading = Reading.standard()
        with way():
            told.append(advise(case, judgements=reading).to_json())
        read.append(set(reading.read))
    assert told[0] == told[1]
    assert read[0] == read[1]
    assert len(read[0]) > 50


def test_every_family_of_every_kind_is_known() -> None:
    families = {family for kind in KINDS.values() for family in kind.families(J)}
    assert {type(one) for one in families} == {
        SingleVision,
        Unaided,
        General,
        Office,
        Bifocal,
        Trifocal,
    }
    assert all(compiled.knows(one) for one in families)
    assert all(compiled.knows(OwnPrescription(one, 0.25, 0.5)) for one in families)
    assert not compiled.knows(OwnPrescription(OwnPrescription(Unaided(), 0.0, 0.0), 0.0, 0.0))


@dataclass(frozen=True)
class Uneven(Office):
    """An office lens of somebody else's, which the compiled search has never heard of."""

    def field(self, points: Any, wearers: Any) -> Field:
        found = super().field(points, wearers)
        return replace(found, astigmatism_d=10.0 * found.astigmatism_d)


@dataclass(frozen=True)
class Stranger:
    """Nothing the compiled search knows."""

    own: Office

    def __getattr__(self, name: str) -> Any:
        return getattr(self.own, name)


def test_a_family_it_does_not_know_is_searched_plainly() -> None:
    views = Views(Draws(examples.case(examples.screen()), judgements=J).scene(slice(0, 9)), J)
    powers = np.full((9, 1), 2.0)
    for strange in (Stranger(Office("slow", 1.0)), Uneven("slow", 1.0)):
        assert not compiled.knows(strange)  # type: ignore[arg-type]
        asked = [Columns(KINDS["office"], strange, powers)]  # type: ignore[arg-type]
        (found,) = clear_where(views, "comfortable", asked)
        with plainly():
            (plain,) = clear_where(views, "comfortable", asked)
        assert np.array_equal(found, plain)
    (usual,) = clear_where(
        views, "comfortable", [Columns(KINDS["office"], Office("slow", 1.0), powers)]
    )
    assert found.sum() < usual.sum(), "ten times the astigmatism leaves less"


def test_it_is_compiled_once_for_all_arrays() -> None:
    """A second set of types would be compiled while somebody waits."""
    try_cases(range(5))
    try_rows(0, 30)
    assert len(compiled.jitted().clear_points.signatures) == 1


@pytest.mark.parametrize("name", ["low_24in", "two_screens"])
def test_threads_that_share_a_search_decide_alike(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    case, took_part = read_case(path_of(name)), set()
    alone, search = advise(case), compiled.jitted().clear_points

    def noted(*given: Any) -> Any:
        took_part.add(threading.current_thread().name.partition("_")[0])
        return search(*given)

    with ThreadPoolExecutor(2, thread_name_prefix="search") as helpers:
        monkeypatch.setattr(compiled._loaded, "helpers", helpers)
        monkeypatch.setattr(compiled._loaded, "shares", 3)
        monkeypatch.setattr(compiled.jitted(), "clear_points", noted)
        assert advise(case) == alone
    assert took_part == {"MainThread", "search"}


WITHOUT = """
import sys
from engine.assemble import advise
from engine.case.read import read_case
from engine.examples import path_of
from engine.kernel import compiled
answer = advise(read_case(path_of("low_24in")))
assert 'numba' not in sys.modules
sys.modules['numba'] = None
assert compiled.load() is False
assert compiled.load() is False
assert advise(read_case(path_of("low_24in"))) == answer
print(answer.recommendation.plan)
"""


def test_without_it_answers_are_plain_and_asking_once_does_not_load_it() -> None:
    """Loading takes longer than one answer; where it is not installed, nothing is said."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", WITHOUT],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert done.stdout == "office\n"


def test_a_surface_that_two_threads_solve_at_once_is_one_lens() -> None:
    """Each of them has a surface of its own then; the place in the tables is the same."""
    first = compiled.numbers_of(General(corridor_mm=12.5))
    own = surfaces.general_surface(12.5)
    surfaces.general_surface.cache_clear()
    assert surfaces.general_surface(12.5) is not own
    assert compiled.numbers_of(General(corridor_mm=12.5)) == first
    places = [*map(General, surfaces.GENERAL), *(Office(fall, 1.0) for fall in surfaces.OFFICE)]
    assert [compiled.numbers_of(one)[1] for one in places] == list(range(len(places)))


def no_place(*, cache: bool, **_: Any) -> Any:
    """What numba does where it may write nowhere."""
    assert cache
    raise RuntimeError("cannot cache function: no locator available for file")


def full_disk(**_: Any) -> Any:
    """What it does where there is no room for what it compiled."""

    def call(*_: Any) -> Any:
        raise OSError("no space left on device")

    return lambda _: call


@pytest.mark.parametrize("njit", [no_place, full_disk])
def test_where_nothing_compiled_can_be_kept_searches_are_plain(
    monkeypatch: pytest.MonkeyPatch, njit: Any
) -> None:
    monkeypatch.setattr(compiled, "_loaded", compiled._Loaded())
    monkeypatch.setitem(sys.modules, "numba", SimpleNamespace(njit=njit))
    monkeypatch.delitem(sys.modules, "engine.kernel.jitted")
    monkeypatch.delattr("engine.kernel.jitted")
    assert compiled.load() is False
    assert compiled.load() is False
    assert compiled.jitted() is None
    assert not compiled.is_loaded()
