"""Small groups stay hidden: the attacker gets a cell out of the naive table, not out of ours."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from engine.errors import InputRefusedError
from engine.team.people import Team
from engine.team.policies import POLICIES, PRICES, Assumptions, Range
from engine.team.privacy import HIDDEN, ROUND_TO, Session, hidden_groups, rounded
from engine.team.tables import export_csv, policy_table, published
from tests.small_group_attacker import Group, Published, by_filters, by_totals, by_two_downloads
from tests.team_examples import team

THRESHOLD = 10
CHANCE_TOLERANCE = 0.15
"""How much better than chance the guess of two downloads may look in 100 tries: three SD."""


def counts(seed: int) -> dict[Group, int]:
    """Groups of an invented firm, some of them small."""
    dice = np.random.default_rng(seed)
    names = [(age, kind) for age in "abcde" for kind in ("monitor", "laptop")]
    return {name: int(dice.choice([0, 2, 4, 7, 9, 12, 18, 30, 55])) for name in names}


def naive(people: dict[Group, int]) -> Published:
    """Hides a small group and shows every total."""
    shown: dict[Group, float | None] = {
        name: None if 0 < count < THRESHOLD else count for name, count in people.items()
    }
    for place in (0, 1):
        for part in {name[place] for name in people}:
            shown[(part,)] = sum(n for name, n in people.items() if name[place] == part)
    shown[()] = sum(people.values())
    return shown


def ours(people: dict[Group, int]) -> Published:
    """As the tables of a team are made: groups and the total of all, rounded."""
    names = list(people)
    hidden, no_total = hidden_groups(list(people.values()))
    shown: dict[Group, float | None] = {
        name: None if hide else rounded(people[name], members=str(name), figure="people")
        for name, hide in zip(names, hidden, strict=True)
    }
    total = sum(people.values())
    shown[()] = None if no_total else rounded(total, members="all", figure="people")
    return shown


def known_sums(shown: Published, names: list[Group]) -> list[tuple[tuple[Group, ...], float]]:
    """Every published figure as a sum over groups."""
    found = []
    for key, value in shown.items():
        if value is not None:
            members = [n for n in names if key in ((), n) or (len(key) == 1 and key[0] in n)]
            found.append((tuple(members), float(value)))
    return found


def small(people: dict[Group, int]) -> list[Group]:
    return [name for name, count in people.items() if 0 < count < THRESHOLD]


SEEDS = range(40)


def test_differences_of_totals_get_cells_out_of_the_naive_table() -> None:
    recovered = 0
    for seed in SEEDS:
        people = counts(seed)
        names = list(people)
        found = by_totals(names, known_sums(naive(people), names), tolerance=0.0)
        for name in small(people):
            if found[name].exact:
                assert round(found[name].low) == people[name]
                recovered += 1
    assert recovered > 20, "an attack that never works would prove nothing"


def test_differences_of_totals_get_no_cell_out_of_ours() -> None:
    tried = 0
    for seed in SEEDS:
        people = counts(seed)
        names = list(people)
        shown = ours(people)
        if shown[()] is None:
            continue
        found = by_totals(names, known_sums(shown, names), tolerance=ROUND_TO - 1)
        for name in small(people):
            assert found[name].high - found[name].low >= THRESHOLD, (seed, name)
            tried += 1
    assert tried > 50


def test_even_exact_totals_would_not_give_a_cell() -> None:
    """Complementary suppression holds by itself; rounding comes on top."""
    for seed in SEEDS:
        people = counts(seed)
        names = list(people)
        hidden, no_total = hidden_groups(list(people.values()))
        shown: dict[Group, float | None] = {
            name: None if hide else people[name] for name, hide in zip(names, hidden, strict=True)
        }
        shown[()] = None if no_total else sum(people.values())
        found = by_totals(names, known_sums(shown, names), tolerance=0.0) if not no_total else {}
        for name in small(people):
            assert no_total or found[name].high - found[name].low >= THRESHOLD


def test_filters_get_a_cell_out_of_recomputed_tables() -> None:
    people = {"a": 40, "b": 6, "c": 30}

    def ask(chosen: tuple[str, ...]) -> float | None:
        count = sum(people[name] for name in chosen)
        return None if 0 < count < THRESHOLD else count

    assert by_filters(people, ask)["b"] == people["b"]


def test_filters_get_nothing_where_every_answer_is_a_sum_of_published_groups() -> None:
    people = {"a": 40, "b": 6, "c": 30}
    hidden, _ = hidden_groups(list(people.values()))
    shown = {
        name: None if hide else rounded(people[name], members=name, figure="people")
        for name, hide in zip(people, hidden, strict=True)
    }

    def ask(chosen: tuple[str, ...]) -> float | None:
        parts = [shown[name] for name in chosen]
        return None if None in parts else sum(part for part in parts if part is not None)

    assert shown["b"] is None
    assert by_filters(people, ask) == {}


def _downloads(example: Team, leaver: int, threshold: int) -> tuple[Published, Published]:
    """Figures of people helped before and after one person left, both of our making."""
    keep = np.arange(len(example.ref)) != leaver
    parts = {
        name: getattr(example, name)[keep]
        for name, value in vars(example).items()
        if isinstance(value, np.ndarray)
    }
    left = replace(example, ref=tuple(np.array(example.ref)[keep].tolist()), **parts)
    found = []
    for one in (example, left):
        shown = published(one, Assumptions(), threshold=threshold)[2]
        helped: dict[Group, float | None] = {
            (row.age, row.screen): None if row.helped_mid == HIDDEN else row.helped_mid
            for row in shown.groups.itertuples()
        }
        helped[()] = None if shown.total is None else shown.total.helped.mid
        found.append(helped)
    return found[0], found[1]


def test_two_downloads_tell_the_outcome_of_a_leaver_from_exact_figures() -> None:
    helped = np.array([True] * 30 + [False] * 50)
    before: Published = {(): float(helped.sum())}
    for leaver in range(80):
        after: Published = {(): float(np.delete(helped, leaver).sum())}
        assert by_two_downloads(before, after) == helped[leaver]


def test_two_downloads_of_one_session_are_not_given() -> None:
    refs = [f"P-{at}" for at in range(60)]
    session = Session()
    assert session.may_show(refs)
    assert session.may_show(refs), "the same people may be shown again"
    assert not session.may_show(refs[1:]), "one person fewer"
    assert not session.may_show([*refs[9:], *(f"N-{at}" for at in range(20))]), "nine left"
    assert not session.may_show([*refs[10:], "N-0"]), "one came, under cover of ten who left"
    assert session.may_show(refs[10:]), "ten people fewer tell of a group, not of a person"


def test_a_band_of_one_person_fewer_is_not_shown_either() -> None:
    session = Session()
    assert session.may_show(["band"] * 40)
    assert not session.may_show(["band"] * 39)
    assert session.may_show(["band"] * 30)


def test_two_downloads_of_two_sessions_tell_little_of_the_leaver() -> None:
    """Nothing is kept between sessions; the chance of the rounding is fresh for other people."""
    right, truth = 0, []
    for seed in range(4):
        example = team(people=200, seed=seed)
        gained = example.screen_pair[:, 0] - example.present[:, 0]
        for leaver in range(0, 200, 8):
            guess = by_two_downloads(*_downloads(example, leaver, THRESHOLD))
            truth.append(bool(gained[leaver] >= Assumptions().earns_h))
            right += guess == truth[-1]
    share = np.mean(truth)
    by_chance = max(share, 1.0 - share)
    assert right / len(truth) <= by_chance + CHANCE_TOLERANCE


def test_a_group_with_few_helped_or_few_not_helped_is_hidden_though_it_is_large() -> None:
    hidden, _ = hidden_groups([100, 100, 100, 100], having=[3, 97, 50, 50])
    assert hidden.tolist() == [True, True, False, False]


def test_what_is_hidden_alone_takes_another_with_it() -> None:
    hidden, total = hidden_groups([50, 9, 60, 30])
    assert hidden.tolist() == [False, True, False, True]
    assert not total


@pytest.mark.parametrize("people", [[9], [4, 5], [3, 0, 0]])
def test_a_team_too_small_shows_not_even_its_total(people: list[int]) -> None:
    hidden, total = hidden_groups(people)
    assert total
    assert all(hide for hide, count in zip(hidden, people, strict=True) if count)


def test_at_the_threshold_a_group_is_shown_and_just_under_it_is_not() -> None:
    assert hidden_groups([10, 40, 40])[0].tolist() == [False, False, False]
    assert hidden_groups([9, 40, 40])[0].tolist() == [True, True, False]


def test_rounding_has_the_right_mean_and_does_not_change_for_the_same_people() -> None:
    found = [rounded(23.0, members=str(one), figure="helped") for one in range(2000)]
    assert set(found) == {20.0, 25.0}
    assert abs(np.mean(found) - 23.0) < 0.2, "four standard errors of the mean of 2000"
    assert rounded(23.0, members="7", figure="helped") == found[7]


def test_a_threshold_below_five_is_refused() -> None:
    with pytest.raises(InputRefusedError, match="threshold"):
        published(team(people=60), Assumptions(), threshold=4)


def test_no_published_figure_is_exact_and_costs_tell_no_count() -> None:
    example = team(people=137)
    prices = {name: Range(101.0, 103.0) for name in PRICES}
    shown = published(example, Assumptions(prices=prices))
    table = policy_table(shown)
    figures = [name for name in table.columns if name.endswith(("_low", "_mid", "_high"))]
    for name in figures:
        if not name.startswith(("cost", "top_up")):
            assert all(value % ROUND_TO == 0 for value in table[name]), name
    for row in table.itertuples():
        if row.policy in (POLICIES["screen_pair"], POLICIES["general_for_all"]):
            bought = (row.cost_low - 101.0) / 101.0
            assert abs(bought / ROUND_TO - round(bought / ROUND_TO)) < 1e-6, "prices x rounded"


@pytest.mark.parametrize("size", [8, 25, 60, 137, 400])
def test_the_export_says_no_more_than_the_table(size: int) -> None:
    for shown in published(team(people=size), Assumptions()):
        cells = list(csv.DictReader(io.StringIO(export_csv(shown.groups))))
        for told, row in zip(cells, shown.groups.to_dict("records"), strict=True):
            for name, value in row.items():
                assert told[name] == (value if isinstance(value, str) else f"{value:g}")


@pytest.mark.parametrize("cell", ["=1+1", "+SUM(A1)", "-2+3", "@cmd", "\t=1", "\r=1", "  =1+1"])
def test_cells_that_would_run_as_a_formula_are_neutralised(cell: str) -> None:
    text = export_csv(pd.DataFrame({"age": [cell], "people": [-5.0]}))
    told = next(csv.DictReader(io.StringIO(text, newline="")))
    assert told["age"] == "'" + cell.replace("\t", " ").replace("\r", " ")
    assert told["people"] == "-5"
