"""Small groups stay hidden: the attacker gets a cell out of the naive table, not out of ours."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.errors import InputRefusedError
from engine.roster.answer import Settings
from engine.team.partition import groups_of
from engine.team.people import Team, people_by_content, team_of
from engine.team.policies import EARNS_H, POLICIES, PRICES, Assumptions, Range
from engine.team.privacy import HIDDEN, ROUND_TO, Blur, Session, hidden_groups
from engine.team.sensitivity import Ends, moves
from engine.team.tables import Shown, export_csv, moves_table, policy_table, published
from tests.small_group_attacker import (
    Group,
    Published,
    by_a_price,
    by_filters,
    by_guessed_secret,
    by_shares,
    by_thresholds,
    by_totals,
    by_two_downloads,
    by_two_sittings,
)
from tests.team_examples import gaining, team, total

THRESHOLD = 10


@pytest.fixture(autouse=True)
def _secret(own_store: None, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: ARG001
    """A secret of its own for the tests, the same in every run."""
    monkeypatch.setattr("engine.team.people.secret", lambda: b"invented")


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


def hidden_of(people: list[int], *, having: list[int] | None = None) -> tuple[np.ndarray, bool]:
    """What is hidden of groups of so many people, so many of whom have what is told."""
    everyone = np.array(people, dtype=float)
    told = [everyone] if having is None else [np.array(having), everyone - having]
    return hidden_groups(everyone, told, also=None, threshold=THRESHOLD)


def ours(people: dict[Group, int]) -> Published:
    """As the tables of a team are made: groups and the total of all, rounded."""
    names = list(people)
    rounded = Blur(map(str, people.items()), secret=b"invented").rounded
    hidden, no_total = hidden_of(list(people.values()))
    shown: dict[Group, float | None] = {
        name: None if hide else rounded(people[name])
        for name, hide in zip(names, hidden, strict=True)
    }
    everyone = float(sum(people.values()))
    shown[()] = None if no_total else rounded(everyone)
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
        found = by_totals(names, known_sums(naive(people), names), tolerance=0.0, of=small(people))
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
        found = by_totals(names, known_sums(shown, names), tolerance=ROUND_TO - 1, of=small(people))
        for name in small(people):
            assert found[name].high - found[name].low >= THRESHOLD, (seed, name)
            tried += 1
    assert tried > 50


def test_even_exact_totals_would_not_give_a_cell() -> None:
    """Complementary suppression holds by itself; rounding comes on top."""
    for seed in SEEDS:
        people = counts(seed)
        names = list(people)
        hidden, no_total = hidden_of(list(people.values()))
        shown: dict[Group, float | None] = {
            name: None if hide else people[name] for name, hide in zip(names, hidden, strict=True)
        }
        shown[()] = None if no_total else sum(people.values())
        found = (
            by_totals(names, known_sums(shown, names), tolerance=0.0, of=small(people))
            if not no_total
            else {}
        )
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
    rounded = Blur(people, secret=b"invented").rounded
    hidden, _ = hidden_of(list(people.values()))
    shown = {
        name: None if hide else rounded(people[name])
        for name, hide in zip(people, hidden, strict=True)
    }

    def ask(chosen: tuple[str, ...]) -> float | None:
        parts = [shown[name] for name in chosen]
        return None if None in parts else sum(part for part in parts if part is not None)

    assert shown["b"] is None
    assert by_filters(people, ask) == {}


def test_two_downloads_tell_the_outcome_of_a_leaver_from_exact_figures() -> None:
    helped = np.array([True] * 30 + [False] * 50)
    before: Published = {(): float(helped.sum())}
    for leaver in range(80):
        after: Published = {(): float(np.delete(helped, leaver).sum())}
        assert by_two_downloads(before, after) == helped[leaver]


@cache
def people_of(*, seed: int, people: int = 160) -> Team:
    """An invented team of four groups in which about half gain enough."""
    dice = np.random.default_rng(seed)
    present = dice.uniform(1.0, 4.0, people)
    gained = np.where(dice.random(people) < 0.5, dice.uniform(0.8, 4.0, people), 0.0)
    group = dice.integers(2, 6, people).tolist()
    found = gaining(gained, group=group, present=present, general=gained / 2, desk=gained / 3)
    return replace(found, content=found.digests())


def without(example: Team, leaver: int) -> Team:
    """The same team after one person left."""
    keep = np.arange(len(example.ref)) != leaver
    parts = {
        name: value[keep] for name, value in vars(example).items() if isinstance(value, np.ndarray)
    }
    texts = {
        name: tuple(np.array(getattr(example, name))[keep].tolist()) for name in ("ref", "content")
    }
    return replace(example, **texts, **parts)


def only(
    example: Team, assumed: Assumptions, *policies: str, typed: bool = False, threshold: int = 10
) -> tuple[Shown, ...]:
    """What is published of these policies; the others are left out to save time."""
    asked = {name: words for name, words in POLICIES.items() if name in policies}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("engine.team.tables.POLICIES", asked)
        return published(example, assumed, typed=typed, threshold=threshold)


@cache
def looks_at(
    seed: int, earns_h: float, *, typed: bool, leaver: int | None = None
) -> list[Published]:
    """What one sitting shows at one threshold of hours: people, and hours counted in people.

    Every cell has the figure of the group it was merged into.
    """
    example = people_of(seed=seed) if leaver is None else without(people_of(seed=seed), leaver)
    found: list[Published] = []
    assumed = Assumptions(earns_h=earns_h)
    for shown in only(example, assumed, "screen_pair", "desk_first", typed=typed):
        for name, unit in (("helped_mid", 1.0), ("gained_h_mid", 2.0)):
            look: dict[Group, float | None] = {
                example.groups[cell]: None if row[name] == HIDDEN else row[name] / unit
                for row, block in zip(shown.rows, shown.cells, strict=True)
                for cell in block
            }
            whole = shown.total and getattr(shown.total, name.removesuffix("_mid")).mid / unit
            found.append({**look, (): whole})
    return found


SWEEP = (EARNS_H, 1.25, 2.0)


def leavers_told(earns: tuple[float, ...], *, typed: bool, teams: int = 100) -> float:
    """Share of leavers, half of them helped, of whom two sittings tell the yes or no rightly."""
    falls, truth = [], []
    for seed in range(teams):
        example = people_of(seed=seed)
        helped = example.screen_pair[:, 0] - example.present[:, 0] >= EARNS_H
        truth.append(bool(seed % 2))
        leaver = int(np.flatnonzero(helped == truth[-1])[0])
        looks = [
            pair
            for hours in earns
            for pair in zip(
                looks_at(seed, hours, typed=typed),
                looks_at(seed, hours, typed=typed, leaver=leaver),
                strict=True,
            )
        ]
        falls.append(by_two_sittings(looks, example.groups[example.group[leaver]]))
    guess = np.array(falls) > np.median(falls)
    return float(np.mean(guess == np.array(truth)))


@pytest.mark.parametrize("earns", [(EARNS_H,), SWEEP])
def test_two_sittings_tell_little_of_a_leaver(earns: tuple[float, ...]) -> None:
    """One look, and a sweep over the hours a change must earn."""
    assert leavers_told(earns, typed=False) <= 0.65


def test_the_same_sweep_tells_a_leaver_from_figures_that_are_rounded_only() -> None:
    """Without stand-ins: an attack that never works would prove nothing."""
    assert leavers_told(SWEEP, typed=True) >= 0.75


def exactly(guess: float | None, truth: float) -> bool:
    return guess is not None and round(guess) == round(truth)


TEAMS = range(20)


def recovered(attack: Callable[[Team, str], tuple[float, float | None, float]]) -> None:
    """Count how often an attack finds a figure exactly, and how often plain reading does.

    attack: team and policy to the truth, the guess, and the figure as it is read.
    """
    found = [attack(people_of(seed=seed), name) for seed in TEAMS for name in SOLD]
    by_attack = np.mean([exactly(guess, truth) for truth, guess, _ in found])
    by_reading = np.mean([exactly(read, truth) for truth, _, read in found])
    assert by_attack <= max(by_reading, 1 / ROUND_TO) + 0.05


SOLD = ("general_for_all", "screen_pair", "desk_first")


def shown_of(example: Team, policy: str, **assumed: Any) -> Any:
    return only(example, Assumptions(**assumed), policy)[0].total


def test_a_sweep_over_uptake_recovers_no_count() -> None:
    def attack(example: Team, policy: str) -> tuple[float, float | None, float]:
        def ask(share: float) -> float:
            taken = Range(share, share)
            return float(shown_of(example, policy, uptake=taken).helped.mid)

        truth = total(example, policy, Assumptions()).helped.mid
        return truth, by_shares(ask, most=1.0, step=0.1), ask(1.0)

    recovered(attack)


def test_uptake_is_taken_of_the_rounded_count() -> None:
    example = people_of(seed=1)
    full = shown_of(example, "screen_pair").helped.mid
    for share in (0.11, 0.5, 0.83):
        taken = shown_of(example, "screen_pair", uptake=Range(share, share)).helped.mid
        assert taken == round(full * share)


def test_a_tiny_price_in_what_moves_the_total_recovers_no_count() -> None:
    def attack(example: Team, policy: str) -> tuple[float, float | None, float]:
        ends = Ends(example, {})
        bought = "general_pair" if policy == "general_for_all" else "screen_pair"

        def ask(price: float) -> float | None:
            free = {"eye_test": Range(0, 0), "desk_move": Range(0, 0)}
            asked = Assumptions(prices={**free, bought: Range(price, 2 * price)})
            one = only(example, asked, policy)[0]
            made = moves_table(one, moves(example, ends, policy, asked))
            row = next(r for r in made.to_dict("records") if r["assumption"].startswith("price"))
            return float(row["cost_low_end"])

        truth = total(example, policy, Assumptions()).pairs.mid
        return truth, by_a_price(ask, price=0.01), shown_of(example, policy).pairs.mid

    recovered(attack)


def largest(made: dict[int, Any], place: int, name: str) -> int | None:
    """The largest threshold at which a cell is shown, of the rows at each threshold."""
    shown = [at for at in made if made[at][place][name] != HIDDEN]
    return by_thresholds(shown.__contains__, lowest=min(made), highest=max(made))


def test_typing_thresholds_recovers_no_count() -> None:
    """Neither how many are in a group nor how many of it are helped."""
    found: list[tuple[bool, bool]] = []
    for seed in range(10):
        example = people_of(seed=seed)
        made = {
            at: only(example, Assumptions(), "screen_pair", threshold=at)[0].rows
            for at in range(5, 50)
        }
        blocks = only(example, Assumptions(), "screen_pair")[0].cells
        for place, block in enumerate(blocks):
            inside = np.isin(example.group, sorted(block))
            exact = total(example, "screen_pair", Assumptions(), inside=inside)
            least = min(exact.helped.mid, exact.people - exact.helped.mid)
            size, side = (largest(made, place, name) for name in ("people", "helped_mid"))
            found.append((exactly(size, exact.people), exactly(side, least)))
    assert np.mean([size for size, _ in found]) <= 1 / ROUND_TO + 0.05
    assert np.mean([side for _, side in found]) <= 1 / ROUND_TO + 0.05


def test_no_difference_of_tables_is_about_fewer_people_than_a_group_may_have() -> None:
    """Groups differ from policy to policy; what one table holds and another does not is told."""
    seen = set()
    for seed in range(30):
        example = people_of(seed=seed, people=90)
        counted = example.blurred(example.blur())
        tables = [groups_of(counted, name) for name in POLICIES]
        seen.update(tables)
        size = np.bincount(counted.group, weights=counted.weight, minlength=len(example.groups))
        for one, other in product([block for table in tables for block in table], repeat=2):
            left = size[sorted(one - other)].sum()
            assert left == 0 or left >= THRESHOLD, (seed, one, other)
    assert len(seen) > 3, "policies do differ in their groups"


def test_the_groups_hang_on_nothing_that_is_typed() -> None:
    example = people_of(seed=2)
    asked = [
        (Assumptions(earns_h=hours, uptake=Range(share, share)), threshold)
        for hours, share, threshold in ((0.75, 1.0, 10), (2.0, 0.5, 5), (3.5, 0.1, 60))
    ]
    found = {only(example, one, "screen_pair", threshold=at)[0].cells for one, at in asked}
    assert len(found) == 1


def test_a_download_and_guessed_pseudonyms_leave_the_count_open() -> None:
    """Who knows every row and this code, but not the secret, can leave no count out."""
    example = people_of(seed=3)
    found = 0
    for guess in range(200):
        blur = Blur(example.digests(), secret=str(guess).encode())
        fitting = by_guessed_secret(range(71, 80), blur.rounded, 75.0)
        assert 75.0 in fitting
        found += 77.0 in fitting
    assert abs(found / 200 - 3 / 5) < 0.11, "three SD of 200: 77 rounds to 75 three times of five"


def test_equal_numbers_of_a_team_are_shown_alike_whatever_their_name() -> None:
    for seed in range(12):
        pair, contribution = (
            shown_of(people_of(seed=seed), name) for name in ("screen_pair", "contribution")
        )
        assert pair.helped == pair.pairs == contribution.helped == contribution.pairs
        assert pair.offered == contribution.offered


def test_numbers_keep_their_order_when_rounded() -> None:
    blur = Blur(["a"], secret=b"invented")
    found = [blur.rounded(value) for value in np.arange(0.0, 60.0, 0.1)]
    assert found == sorted(found)


def test_stand_ins_keep_every_group_at_its_size_and_nobody_counts_more_than_twice() -> None:
    example = people_of(seed=5)
    blurred = example.blurred(example.blur())
    for group in range(2, 6):
        inside = example.group == group
        assert blurred.weight[inside].sum() == inside.sum()
    assert set(blurred.weight) == {0.0, 1.0, 2.0}
    again = example.blurred(example.blur())
    assert np.array_equal(again.weight, blurred.weight), "the same team, the same stand-ins"


def test_one_person_fewer_changes_who_stands_in_for_whom() -> None:
    example = people_of(seed=5)
    left = without(example, 0)
    before, after = (one.blurred(one.blur()).weight for one in (example, left))
    assert (before[1:] != after).mean() > 0.2, "0.15 x 0.85 x 2 either way, and as much again"


def test_pseudonyms_change_no_figure() -> None:
    example = people_of(seed=5)
    renamed = replace(example, ref=tuple(f"other-{at}" for at in range(len(example.ref))))
    for one, other in zip(
        published(example, Assumptions()), published(renamed, Assumptions()), strict=True
    ):
        assert one.total == other.total
        assert one.groups.equals(other.groups)


ROW = {"age_years": "52", "screen_kind": "monitor", "screen_in": "24", "hours_screen": "6"}


def contents(*rows: dict[str, str]) -> Counter[str]:
    """What the guard compares of rows of a file."""
    frame = pd.DataFrame([{**ROW, **row} for row in rows], dtype=object)
    frame = frame.fillna("").set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)
    found = team_of(frame, settings=Settings(draws=1), assumed_present="general_progressive")
    return people_by_content(found)


def some(count: int, **cells: str) -> list[dict[str, str]]:
    return [{"ref": f"P-{at}", "age_years": str(43 + at), **cells} for at in range(count)]


def test_two_files_of_one_sitting_that_differ_in_a_few_people_are_not_both_shown() -> None:
    rows = some(14)
    session = Session()
    assert session.may_show(contents(*rows))
    assert session.may_show(contents(*rows[::-1])), "the same people in another order"
    renamed = [{**row, "ref": f"N-{at}"} for at, row in enumerate(rows)]
    assert session.may_show(contents(*renamed)), "the same people under new pseudonyms"
    assert not session.may_show(contents(*renamed[1:])), "one fewer, under new pseudonyms"
    ones = [{**row, "people": "1"} for row in rows[1:]]
    assert not session.may_show(contents(*ones)), "one fewer, with a column of ones"
    changed = [*rows[1:], {**rows[0], "hours_screen": "5"}]
    assert not session.may_show(contents(*changed)), "one row changed"
    retyped = [{**row, "hours_screen": "6.0"} for row in rows]
    assert session.may_show(contents(*retyped)), "the same number written in another way"
    assert session.may_show(contents(*rows[10:])), "ten fewer tell of a group, not of a person"


def test_a_band_of_one_person_fewer_is_not_shown_either() -> None:
    session = Session()
    assert session.may_show(contents({"people": "300"}))
    assert not session.may_show(contents({"people": "299"}))
    assert session.may_show(contents({"people": "290"}))


def test_a_group_with_few_helped_or_few_not_helped_is_hidden_though_it_is_large() -> None:
    hidden, _ = hidden_of([100, 100, 100, 100], having=[3, 97, 50, 50])
    assert hidden.tolist() == [True, True, False, False]


def test_what_is_hidden_alone_takes_another_with_it() -> None:
    hidden, total = hidden_of([50, 9, 60, 30])
    assert hidden.tolist() == [False, True, False, True]
    assert not total


@pytest.mark.parametrize("people", [[9], [4, 5], [3, 0, 0]])
def test_a_team_too_small_shows_not_even_its_total(people: list[int]) -> None:
    hidden, total = hidden_of(people)
    assert total
    assert all(hide for hide, count in zip(hidden, people, strict=True) if count)


def test_at_the_threshold_a_group_is_shown_and_just_under_it_is_not() -> None:
    assert hidden_of([10, 40, 40])[0].tolist() == [False, False, False]
    assert hidden_of([9, 40, 40])[0].tolist() == [True, True, False]


def test_rounding_has_the_right_mean_and_does_not_change_for_the_same_people() -> None:
    found = [Blur(["a"], secret=str(at).encode()).rounded(23.0) for at in range(2000)]
    assert set(found) == {20.0, 25.0}
    assert abs(np.mean(found) - 23.0) < 0.2, "four standard errors of the mean of 2000"
    assert Blur(["a"], secret=b"7").rounded(23.0) == found[7]


def test_stand_ins_have_the_right_mean() -> None:
    example = people_of(seed=8)
    gains = example.screen_pair[:, 0] > example.present[:, 0]
    people = example.digests()
    found = [
        Blur(people, secret=str(at).encode()).stand_ins(example.weight, example.group, people)
        @ gains
        for at in range(200)
    ]
    assert abs(np.mean(found) - gains.sum()) < 4 * np.std(found) / np.sqrt(200)
    assert np.std(found) > 2.0, "people"


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
