"""The grid of the home file: as the engine makes it today, and small errors of its own.

A few nodes are worked out anew; the file holds their exact values beside its short ones.
"""

from __future__ import annotations

import base64
import json
import struct
from dataclasses import asdict
from functools import cache
from typing import Any

import numpy as np
import pytest

from engine.case.read import build_case
from engine.home import grid
from engine.home.answers import answers_from
from engine.home.case import case_content
from engine.home.crowd import Crowd, adds_of, kind_shares, worn_shares
from engine.kernel.search import Views, candidates
from engine.lenses.kinds import KINDS
from tests.home_found import JUDGED, crowd_of

SHORT = {"clear": 0.015, "head": 0.025}
"""What short numbers cost: shares of people, and about a degree of chin."""
STALE = "python -m engine.home.grid writes it anew"


@cache
def kept() -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """The head of the file, and its matrices, nodes by columns."""
    content = base64.b64decode(grid.FILE.read_text(encoding="ascii"))
    at = 4 + struct.unpack_from("<I", content)[0]
    head = json.loads(content[4:at])
    found = {}
    for name, sizes in head["matrices"].items():
        rank = len(sizes["scale"])
        sides = []
        for count in (sizes["nodes"], sizes["count"]):
            numbers = np.frombuffer(content, np.int8, count * rank, at)
            sides.append(numbers.reshape(count, rank).astype(float))
            at += count * rank
        found[name] = (sides[0] * sizes["scale"]) @ sides[1].T
    assert at == len(content)
    return head, found


def test_the_file_is_small() -> None:
    assert len(grid.FILE.read_bytes()) <= 235_000


def test_everything_but_the_shares_is_that_of_the_tables_today() -> None:
    head, _ = kept()
    today = json.loads(json.dumps(grid.header()))
    assert {name: head[name] for name in today} == today, STALE
    assert set(head) == {*today, "adds", "differ", "matrices", "sample"}
    assert set(head["differ"]["worn"]) == set(grid.answers_worn())
    assert set(head["differ"]["kinds"]) == {one["id"] for one in head["kinds"]}


def test_a_sample_of_nodes_is_as_the_engine_finds_it_today() -> None:
    head, values = kept()
    exact, at = grid.sample()
    assert head["adds"] == json.loads(json.dumps([asdict(one) for one in exact.adds])), STALE
    for name, nodes in at.items():
        today = getattr(exact, name)
        assert np.abs(today.mean(axis=1) - head["sample"][name]).max() <= 1e-6, STALE
        off = values[name][nodes] - today
        assert np.sqrt((off**2).mean()) <= SHORT[name]


def test_nothing_is_comfortable_farther_aside_than_the_grid_reaches() -> None:
    """The file counts what lies there as not clear; just inside, some people still see it."""
    end, inside = grid.ASIDE_DEG[-1], grid.ASIDE_DEG[-2]
    near = [(aside, down, 60.0) for aside in (end, end + 3.0) for down in (0.0, 8.0, 20.0)]
    found = grid.points_at(np.array(near), of_head=False, judgements=JUDGED)
    assert found.clear.max() == 0.0
    still = grid.points_at(np.array([(inside, 8.0, 60.0)]), of_head=False, judgements=JUDGED)
    assert still.clear.mean() > 0.01


def test_no_column_says_which_power_it_is_of() -> None:
    """Columns are numbered; that people of an age need this or that add is not in the file."""
    head, _ = kept()

    def numbers(part: Any) -> list[Any]:
        if isinstance(part, dict | list):
            each = part.values() if isinstance(part, dict) else part
            return [one for value in each for one in numbers(value)]
        return [part]

    assert all(isinstance(one, int) for one in numbers(head["adds"]))
    assert {one for band in head["ages"].values() for one, _ in band} == set(range(10))
    assert not [name for name in json.dumps(head).split('"') if name.endswith(("_d", "_pd"))]


def crowd(age: str = "55_59", glasses: str | None = "general_progressive", **more: Any) -> Crowd:
    screens = [{"size_in": 24.0, "distance_cm": 66.0, "top_above_desk_cm": 46.0}]
    content = {"age": age, "screens": screens, "eyes_above_desk_cm": 48.0, **more}
    case = build_case(case_content(answers_from(content)))
    return crowd_of(case, age=age, glasses=glasses)


def test_the_adds_of_an_age_are_spread_as_rounding_spreads_them() -> None:
    assert adds_of("55_59", judgements=JUDGED) == [(2.0, 0.25), (2.25, 0.5), (2.5, 0.25)]
    for age in grid.ages():
        assert abs(sum(share for _, share in adds_of(age, judgements=JUDGED)) - 1.0) <= 1e-9


def test_an_artificial_lens_needs_what_the_oldest_need() -> None:
    found = crowd("45_49", tell=["pseudophakia"])
    oldest = crowd("65_over")
    assert [one.wearers.add_d[0] for one in found.parts] == [2.25, 2.5, 2.75, 3.0]
    assert len(oldest.parts) == len(found.parts)


def test_what_was_not_measured_is_spread_widely_and_an_old_pair_is_never_stronger() -> None:
    found = crowd(others=["colleague"])
    measured, usual = (found.draws.own_distance_cm(at) for at in (0, 1))
    assert measured.std() < 2.0
    assert usual.std() > 30.0
    for part in found.parts:
        assert np.all(part.worn_add_d <= part.wearers.add_d)
        assert np.ptp(part.worn_add_d) > 0.4
    assert sorted(np.unique(found.variant)) == [0, 1, 2], "everybody has one corridor of the three"


@pytest.mark.parametrize("glasses", ["general_progressive", "one_line", "bare_near"])
def test_views_shared_between_adds_are_those_of_each_add(glasses: str) -> None:
    """The geometry is worked out once for all adds; each add alone gives the same shares."""
    found = crowd(glasses=glasses)
    scene = found.scene()
    for views in found.views(scene):
        fresh = Views(views.scene, JUDGED)
        for kind in (KINDS["office"], KINDS["sv_computer"], KINDS["bifocal_ft28"]):
            shared, alone = (candidates(one, kind).comfortable_h for one in (views, fresh))
            assert np.array_equal(shared, alone)
    together = worn_shares(found, scene)
    for at, part in enumerate(found.parts):
        alone_crowd = Crowd(
            case=found.case,
            draws=found.draws,
            parts=(part,),
            weight=np.ones(1),
            variant=found.variant,
            hours=found.hours,
            judgements=JUDGED,
        )
        one = worn_shares(alone_crowd, alone_crowd.scene())
        assert np.array_equal(one[0], together[at])


def test_each_add_gets_the_design_with_most_expected_hours() -> None:
    found = crowd(hours={"main screen": 5.0})
    shares = kind_shares(found)["office"]
    views = found.views(found.scene())
    for at, one in enumerate(views):
        hours = candidates(one, KINDS["office"]).comfortable_h.mean(axis=0)
        chosen = float((shares[at] @ found.hours).mean())
        assert max(hours) - JUDGED.same_design_h - 1e-9 <= chosen <= max(hours) + 1e-9
