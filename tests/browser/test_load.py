"""Five sessions at once, over the page library's own protocol.

Each is to see the answer to what it typed, and nothing of the others. How fast that is, with twenty
of them and one in Chromium, is measured by tests/bench/load.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import ExitStack, closing

import pytest

from tests.bench._interview import Step, interview, readable
from tests.bench._visitor import Visitor
from tests.bench.load import NO_THINK, ByProtocol, run
from tests.browser.harness import Served

SESSIONS = 5
DAY = re.compile(r"of (\d+(?:\.\d)?) h comfortable")


@pytest.fixture
def visitors(served: Served) -> Iterator[list[ByProtocol]]:
    """All sessions."""
    with ExitStack() as opened:
        found = [ByProtocol(served.address) for _ in range(SESSIONS)]
        for one in found:
            opened.enter_context(closing(one.visitor))
        yield found


def last(rounds: list[list[Step]]) -> Step:
    return rounds[-1][-1]


def test_each_of_five_sessions_sees_the_answer_to_what_it_typed_itself(
    served: Served, visitors: list[ByProtocol]
) -> None:
    steps = [interview(session, rounds=1) for session in range(SESSIONS)]
    assert len({last(rounds).hours for rounds in steps}) == SESSIONS  # told apart by their day
    # run() returns when each session has read the expected line after every value.
    told = run([*visitors], steps, NO_THINK)
    assert [why for one in told for why in one.failures] == []
    assert [len(one.updates_s) for one in told] == [len(rounds[0]) for rounds in steps]
    pages = [" ".join(map(readable, one.visitor.texts())) for one in visitors]
    lines = [readable(one.visitor.line()) for one in visitors]
    for line, rounds in zip(lines, steps, strict=True):
        assert last(rounds).counts in line
        assert DAY.search(line)[1] == last(rounds).hours.split()[2]  # type: ignore[index]
    for page, line in zip(pages, lines, strict=True):
        assert set(DAY.findall(page)) == set(DAY.findall(line))  # no other session's day
    with closing(Visitor(served.address)) as newcomer:
        newcomer.open()
        assert "Type the age" in newcomer.line()
        assert DAY.findall(" ".join(map(readable, newcomer.texts()))) == []


def test_a_session_that_leaves_while_it_is_answered_gives_its_turn_to_the_next(
    served: Served,
) -> None:
    first, second = (interview(session, rounds=1)[0] for session in (6, 7))
    leaving = ByProtocol(served.address)
    for step in first[:-1]:
        leaving.answer(step)
    leaving.visitor.set(first[-1].field, first[-1].value)
    leaving.visitor.close()
    with closing(Visitor(served.address)) as other:
        other.open()
        for step in second:
            before = other.runs
            other.set(step.field, step.value)
            other.wait(
                lambda before=before, step=step: (
                    other.runs > before and step.answered_by(readable(other.line()))
                ),
                str(step),
            )
        assert other.faults == []
