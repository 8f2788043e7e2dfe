"""Groups that merge until they may be shown: screens first, then ages, the same for a file."""

from __future__ import annotations

import pytest

from engine.team.partition import groups_of, name_of
from engine.team.people import Team
from engine.team.policies import Assumptions
from engine.team.privacy import HIDDEN
from engine.team.tables import published
from tests.team_examples import GROUPS, gaining

pytestmark = pytest.mark.usefixtures("own_store")


def made(cells: dict[int, tuple[int, int]]) -> Team:
    """A team by cell: how many gain 2 h through a pair for the screen, and how many nothing.

    Of who gains, the screen alone brings 1 h at a monitor and nothing at a laptop.
    """
    group = [cell for cell, counts in cells.items() for _ in range(sum(counts))]
    gains = [
        2.0 if at < helped else 0.0
        for helped, others in cells.values()
        for at in range(helped + others)
    ]
    desk = [gain / 2 * (cell % 2 == 0) for cell, gain in zip(group, gains, strict=True)]
    return gaining(gains, group=group, desk=desk)


def named(team: Team) -> list[tuple[str, str]]:
    return [name_of(block, GROUPS) for block in groups_of(team, "screen_pair")]


ENOUGH = (20, 20)


def test_what_may_be_shown_stays_apart() -> None:
    cells = dict.fromkeys(range(2, 10), ENOUGH)
    assert named(made({0: (0, 30), **cells})) == [GROUPS[cell] for cell in (0, *range(2, 10))]


def test_the_two_screens_of_an_age_merge_before_ages_do() -> None:
    team = made({2: ENOUGH, 3: (8, 30), 4: ENOUGH, 5: ENOUGH})
    assert named(team) == [
        ("40 to 49", "monitor or laptop"),
        ("50 to 54", "monitor"),
        ("50 to 54", "laptop"),
    ]


def test_an_age_in_which_nearly_all_are_helped_merges_with_the_next_older() -> None:
    team = made({2: ENOUGH, 4: (30, 3), 6: ENOUGH, 8: ENOUGH})
    assert [ages for ages, _ in named(team)] == ["40 to 49", "50 to 59", "60 and over"]


def test_the_oldest_merge_with_those_before_them() -> None:
    assert [ages for ages, _ in named(made({2: ENOUGH, 6: ENOUGH, 8: (3, 30)}))] == [
        "40 to 49",
        "55 and over",
    ]


def test_the_young_stand_apart_however_few_of_them_could_be_helped() -> None:
    assert named(made({0: (0, 12), 2: ENOUGH}))[0] == ("under 40", "monitor")
    assert named(made({0: (0, 9), 2: ENOUGH})) == [("under 50", "monitor")]


def test_a_laptop_that_is_not_moved_hides_no_group() -> None:
    """Of 40 at laptops none is moved; the 20 a pair helps are shown all the same."""
    team = made({2: (60, 60), 3: ENOUGH, 5: ENOUGH})
    shown = {one.policy: one for one in published(team, Assumptions(), typed=True)}
    found = shown["desk_first"]
    assert found.total is not None
    assert (found.total.desks.mid, found.total.helped.mid) == (60.0, 100.0)
    assert list(found.groups["helped_mid"]) == [60.0, 20.0, 20.0]


def test_where_all_are_at_laptops_desks_hide_nothing() -> None:
    shown = {one.policy: one for one in published(made({3: ENOUGH}), Assumptions(), typed=True)}
    assert shown["desk_first"].total is not None


def test_everyone_is_one_group_where_no_part_may_be_shown() -> None:
    team = made({0: (0, 5), 2: (6, 5), 5: (7, 4), 8: (2, 9)})
    assert named(team) == [("all ages", "monitor or laptop")]
    shown = {one.policy: one for one in published(team, Assumptions(), typed=True)}
    assert list(shown["screen_pair"].groups["helped_mid"]) == [15.0]
    assert shown["general_for_all"].groups["helped_mid"].tolist() == [HIDDEN]
