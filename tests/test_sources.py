"""What an answer rests on: everything it read and nothing else, the strongest first."""

from __future__ import annotations

from dataclasses import asdict

import pytest

from engine.answer.sources import STRENGTH, Reading, Source, sources
from engine.assemble import advise
from engine.case.model import Case
from engine.case.read import build_case, read_case
from engine.examples import path_of
from engine.tables import STATUSES, Judgements

LAPTOP = read_case(path_of("laptop_only"))


def rests_on(case: Case) -> tuple[Source, ...]:
    reading = Reading.standard()
    return sources(case, advise(case, judgements=reading), read=reading.read)


@pytest.fixture(scope="module")
def of_laptop() -> tuple[Source, ...]:
    return rests_on(LAPTOP)


def lines(found: tuple[Source, ...]) -> str:
    return "\n".join(f"{one.source}: {'; '.join(one.gives)}" for one in found)


def test_what_is_not_read_changes_nothing_and_noting_changes_nothing() -> None:
    reading = Reading.standard()
    answer = advise(LAPTOP, judgements=reading).to_json()
    assert answer == advise(LAPTOP).to_json()
    shipped = asdict(Judgements.standard())
    unread = set(shipped) - reading.read
    assert len(unread) >= 20
    other = shipped | {name: 2.0 * shipped[name] + 1.0 for name in unread}
    assert advise(LAPTOP, judgements=Judgements(**other)).to_json() == answer


def test_the_strongest_come_first_and_our_own_last(of_laptop: tuple[Source, ...]) -> None:
    assert set(STRENGTH) == set(STATUSES)
    places = [STRENGTH.index(one.status) for one in of_laptop]
    assert places == sorted(places)
    assert of_laptop[0].status == "measured"
    assert of_laptop[-1].source in ("judgement of the authors", "common practice, no source")
    assert "blur just noticed (0.30 D)" in lines(of_laptop)
    assert "follow up" not in lines(of_laptop)


def test_an_assumed_value_brings_its_spread() -> None:
    content = LAPTOP.model_dump(by_alias=True, mode="json", exclude_none=True)
    name = content["targets"][0]["kind"]
    said = f"spread of an assumed distance ({name}) "
    content["origin"] = {"/targets/0/distance_cm": "measured"}
    assert said not in lines(rests_on(build_case(content)))
    content["origin"] = {"/targets/0/distance_cm": "assumed"}
    assert said in lines(rests_on(build_case(content)))
