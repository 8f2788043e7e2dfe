"""Policies by hand: three bands, prices, uptake, and what a blank price does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from engine.errors import InputRefusedError
from engine.roster.answer import Settings, answer
from engine.roster.columns import columns
from engine.roster.search import OPTIONS
from engine.team.people import DRAWN_A_ROW, HOURS, PEOPLE, SCREEN_PAIRS, Team, expanded, team_of
from engine.team.policies import (
    POLICIES,
    UPTAKE_NOT_SAID,
    Assumptions,
    Gain,
    Range,
    Spread,
    draws_needed,
    gain_of,
    priced,
    sampling_error,
    top_up_uptake,
)
from engine.team.sensitivity import SAMPLE_PEOPLE, ends_of, moves
from engine.team.tables import policy_table, published
from tests.roster_examples import roster
from tests.team_examples import team, team_with, total

EXACT = 1e-9
"""Sums of a few dozen numbers of two digits."""
PRICES = {
    "eye_test": Range(20.0, 30.0),
    "general_pair": Range(200.0, 300.0),
    "screen_pair": Range(100.0, 150.0),
    "desk_move": Range(0.0, 10.0),
    "contribution": Range(60.0, 60.0),
    "setup": Range(500.0, 500.0),
}


pytestmark = pytest.mark.usefixtures("own_store")


def three_bands() -> Team:
    """100 under 40; 50 of whom a pair brings 2 h; 30 whose screen alone brings 1 h, a pair 1.5."""
    return team_with(
        weight=[100.0, 50.0, 30.0],
        group=[0, 4, 6],
        present=[0.0, 4.0, 3.0],
        general=[0.0, 4.5, 4.0],
        screen_pair=[0.0, 6.0, 4.5],
        present_moved=[0.0, 4.0, 4.0],
        screen_pair_moved=[0.0, 6.0, 4.5],
    )


def by_hand(policy: str) -> tuple[float, float, float, float, float]:
    """Helped, hours gained, pairs, least and most cost at full uptake, from the bands above."""
    return {
        "nothing": (0.0, 0.0, 0.0, 0.0, 0.0),
        # everyone over 40 is tested and gets one; 0.5 h is not enough to count as help
        "general_for_all": (
            30.0,
            50 * 0.5 + 30 * 1.0,
            80.0,
            500 + 80 * 220.0,
            500 + 80 * 330.0,
        ),
        "screen_pair": (80.0, 50 * 2.0 + 30 * 1.5, 80.0, 500 + 80 * 120.0, 500 + 80 * 180.0),
        # the screens of the 30 are lowered (1 h); a pair would then bring 0.5 h, too little
        "desk_first": (
            80.0,
            50 * 2.0 + 30 * 1.0,
            50.0,
            500 + 80 * 20.0 + 50 * 100.0,
            500 + 80 * 30.0 + 50 * 150.0 + 30 * 10.0,
        ),
        "contribution": (80.0, 145.0, 80.0, 500 + 80 * 80.0, 500 + 80 * 90.0),
    }[policy]


@pytest.mark.parametrize("policy", POLICIES)
def test_the_three_bands_by_hand(policy: str) -> None:
    found = total(three_bands(), policy, Assumptions(prices=PRICES))
    helped, gained_h, pairs, least, most = by_hand(policy)
    assert found.people == 180.0
    assert abs(found.helped.mid - helped) < EXACT
    assert abs(found.gained_h.mid - gained_h) < EXACT
    assert abs(found.pairs.mid - pairs) < EXACT
    if policy == "nothing":
        assert found.cost is None
        assert found.cost_per_hour is None
    else:
        assert found.cost is not None
        assert abs(found.cost.low - least) < EXACT
        assert abs(found.cost.high - most) < EXACT


def test_uptake_is_a_range_and_so_is_all_that_follows() -> None:
    found = total(three_bands(), "screen_pair", Assumptions(prices=PRICES, uptake=Range(0.25, 0.5)))
    assert abs(found.helped.low - 20.0) < EXACT
    assert abs(found.helped.high - 40.0) < EXACT
    assert found.cost is not None
    assert abs(found.cost.low - (500 + 20 * 120.0)) < EXACT
    assert abs(found.cost.high - (500 + 40 * 180.0)) < EXACT


def test_draws_make_a_range_even_at_one_price() -> None:
    one = team_with(
        weight=[100.0], group=[4], present=[4.0], general=[4.0], screen_pair=[4.0], draws=11
    )
    better = one.screen_pair + np.linspace(0.0, 2.0, 11)
    found = total(Team(**{**vars(one), "screen_pair": better}), "screen_pair", Assumptions())
    assert found.helped.low == 0.0
    assert found.helped.high == 100.0
    assert abs(found.helped.mid - 100 * 7 / 11) < EXACT, "gains of 0.8 to 2.0 h, in steps of 0.2"


@pytest.mark.parametrize("blank", ["eye_test", "screen_pair"])
def test_a_blank_price_is_not_zero(blank: str) -> None:
    prices: dict[str, Range | None] = {**PRICES, blank: None}
    found = total(three_bands(), "screen_pair", Assumptions(prices=prices))
    assert found.cost is None
    assert found.cost_per_hour is None
    assert len(found.no_price_for) == 1
    assert found.helped.mid == 80.0, "what it does is known without a price"
    zero = total(three_bands(), "screen_pair", Assumptions(prices={**PRICES, blank: Range(0, 0)}))
    assert zero.cost is not None


def test_a_price_that_is_not_needed_is_not_missed() -> None:
    prices = {name: price for name, price in PRICES.items() if name != "desk_move"}
    assert total(three_bands(), "screen_pair", Assumptions(prices=prices)).cost is not None
    found = total(three_bands(), "desk_first", Assumptions(prices=prices))
    assert found.no_price_for == ("moving a screen",)


def test_the_cost_of_an_hour_and_what_workers_add() -> None:
    """500 once and 80 times 120 to 180, over the four years a pair is worn, for 145 h a day."""
    assumed = Assumptions(prices=PRICES, years=4)
    found = total(three_bands(), "screen_pair", assumed)
    assert found.cost_per_hour is not None
    assert abs(found.cost_per_hour.low - (500 + 80 * 120) / 4 / 145) < EXACT
    assert abs(found.cost_per_hour.high - (500 + 80 * 180) / 4 / 145) < EXACT
    shared = total(three_bands(), "contribution", assumed)
    assert shared.top_up == Range(80 * 40.0, 80 * 90.0)


def test_where_the_law_gives_tests_to_all_the_young_are_counted_and_gain_nothing() -> None:
    assumed = Assumptions(prices=PRICES, tests_for_all=True)
    found, without = (
        total(three_bands(), "screen_pair", one) for one in (assumed, Assumptions(prices=PRICES))
    )
    assert (found.offered.mid, without.offered.mid) == (180.0, 80.0)
    assert found.cost is not None
    assert without.cost is not None
    assert abs(found.cost.low - without.cost.low - 100 * 20.0) < EXACT
    assert found.gained_h == without.gained_h


def test_an_uptake_of_a_contribution_nobody_said_is_never_above_that_of_a_paid_pair() -> None:
    assert top_up_uptake(Range(1.0, 1.0)) == UPTAKE_NOT_SAID == Range(0.3, 0.9)
    assert top_up_uptake(Range(0.2, 0.5)) == Range(0.2, 0.5)


def test_the_sampling_error_is_that_of_a_mean_of_the_draws() -> None:
    """Totals of 2, 4, 4 and 6 h: their SD is 1.63 h, a mean of four is off by 0.82 h of 4 h."""
    hours = np.array([[2.0, 4.0, 4.0, 6.0]])
    gain = Gain(hours, hours > 0, hours > 0, hours < 0, np.array([True]))
    found = sampling_error(gain, np.array([1.0]))
    assert found is not None
    assert abs(found - np.sqrt(8 / 3) / 2 / 4) < EXACT
    assert sampling_error(replace(gain, hours=0 * hours), np.array([1.0])) is None


def test_as_many_draws_as_are_needed_make_the_error_that_was_aimed_at() -> None:
    """Of 400 people whose hours vary by themselves, a tenth is enough to tell how often to draw."""
    dice = np.random.default_rng(5)
    draws = 400
    base = team(people=400, seed=3)
    able = replace(base, young=np.zeros(400, dtype=bool), group=np.full(400, 4))

    def drawn(times: int) -> Team:
        hours = base.screen_pair + dice.normal(0.0, 1.5, (400, times))
        present = np.repeat(base.present, times, axis=1)
        return replace(
            able, present=present, screen_pair=hours, present_moved=present, screen_pair_moved=hours
        )

    keep = np.arange(0, 400, 10)
    pilot = drawn(5)
    parts = {name: getattr(pilot, name)[keep] for name in HOURS if name != "general"}
    small = replace(pilot, general=base.general[keep], young=pilot.young[keep], **parts)
    needed = draws_needed(small, rows=400, error=0.005)
    gain = gain_of(drawn(draws), "screen_pair")
    error = sampling_error(gain, np.ones(400))
    assert error is not None
    at_needed = error * np.sqrt(draws / needed)
    assert 0.0035 < at_needed < 0.007, "a sample of 40 tells a variance within a half or so"


def counts(*, offered: float) -> dict[str, Spread]:
    """Five pairs that bring 2 to 4 hours a day, 3 in the middle."""
    return {
        "offered": Spread(offered, offered, offered),
        "pairs": Spread(5.0, 5.0, 5.0),
        "desks": Spread(0.0, 0.0, 0.0),
        "helped": Spread(5.0, 5.0, 5.0),
        "gained_h": Spread(2.0, 3.0, 4.0),
    }


def test_an_hour_costs_least_where_most_is_gained() -> None:
    """500 and 10 x 20 + 5 x 100, over 4 h and 2 years; to 500 and 10 x 30 + 5 x 150, over 2 h."""
    found = priced("screen_pair", 10.0, counts(offered=10.0), Assumptions(prices=PRICES))
    assert found.cost_per_hour is not None
    assert abs(found.cost_per_hour.low - 1200 / 4 / 2) < EXACT
    assert abs(found.cost_per_hour.high - 1550 / 2 / 2) < EXACT


@pytest.mark.parametrize("policy", POLICIES)
def test_parts_add_up_to_the_total(policy: str) -> None:
    example, assumed = team(people=300), Assumptions(prices=PRICES)
    parts = [
        total(example, policy, assumed, inside=example.group == group)
        for group in range(len(example.groups))
    ]
    whole = total(example, policy, assumed)
    for name in ("helped", "gained_h", "pairs", "desks", "offered"):
        summed = sum(getattr(part, name).mid for part in parts)
        assert abs(summed - getattr(whole, name).mid) < 1e-6, name


def test_nobody_loses_hours_and_who_must_earn_more_helps_fewer() -> None:
    example = team(people=300)
    for policy in POLICIES:
        assert gain_of(example, policy, earns_h=0.75).hours.min() >= 0.0
        helped = [
            total(example, policy, Assumptions(earns_h=earns_h)).helped.mid
            for earns_h in (0.5, 1.0, 2.0, 4.5)
        ]
        assert helped == sorted(helped, reverse=True)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", None),
        (" ", None),
        ("0", Range(0, 0)),
        ("120", Range(120, 120)),
        ("120-180", Range(120, 180)),
        ("120 to 180", Range(120, 180)),
        ("99,5\u2013101", Range(99.5, 101)),
    ],
)
def test_ranges_as_people_write_them(text: str, found: Range | None) -> None:
    assert Range.read(text, field="price") == found


@pytest.mark.parametrize(
    ("text", "side"),
    [("-5", "low"), ("\u22125", "low"), ("2000000", "high"),
     *[(text, "") for text in ("180-120", "cheap", "1e9", "10-20-30", "-", "120-")]],
)  # fmt: skip
def test_ranges_that_are_refused_say_what_was_typed_and_what_is_allowed(
    text: str, side: str
) -> None:
    with pytest.raises(InputRefusedError) as refused:
        Range.read(text, field="price")
    assert (refused.value.field, refused.value.value) == ("price", text)
    assert refused.value.side == side
    assert "0 to 1,000,000, or two such numbers" in refused.value.sentence


# --- from rows to people ---------------------------------------------------------------------


def bands(**changed: str) -> pd.DataFrame:
    row = dict.fromkeys(columns(), "") | {
        "age_band": "50-54",
        "screen_kind": "monitor",
        "screen_in": "24",
        "hours_screen": "6",
        PEOPLE: "40",
    }
    young = row | {"age_band": "25-34", PEOPLE: "15"}
    frame = pd.DataFrame([row | changed, young])
    return frame.set_axis(pd.RangeIndex(1, len(frame) + 1), axis=0)


def test_a_table_of_bands_becomes_people_of_whom_each_is_drawn() -> None:
    found = team_of(bands(), settings=Settings(draws=2), assumed_present="general_progressive")
    assert found.people == 55.0
    assert found.assumed_present == 40.0
    assert found.young.sum() == 15
    assert len(np.unique(found.present[~found.young])) > 20, "people of a band differ"
    assert (found.present[found.young] == 0.0).all()


@pytest.mark.parametrize("at", [0, 1, 2])
def test_somebody_with_no_hours_is_counted_and_gains_nothing(at: int) -> None:
    frame = roster(3, seed=1)
    hours = [name for name in frame.columns if name.startswith("hours_")]
    others = team_of(frame.drop(index=at + 1), settings=Settings(draws=2), assumed_present="")
    frame.loc[at + 1, hours] = "0"
    found = team_of(frame, settings=Settings(draws=2), assumed_present="")
    assert found.people == 3.0
    for name in HOURS:
        assert (getattr(found, name)[at] == 0.0).all()
        rest = np.delete(getattr(found, name), at, axis=0)
        assert np.abs(rest - getattr(others, name)).max() < 1e-9, "sums in another order"


def test_the_pair_for_the_screen_is_chosen_as_for_a_row_and_not_by_most_hours() -> None:
    frame, settings = roster(40, seed=1), Settings()
    found = team_of(frame, settings=settings, assumed_present="", with_desk=False)
    rows = answer(frame, settings=settings)
    columns_of = [OPTIONS.index(name) for name in SCREEN_PAIRS]
    hours = np.nan_to_num(rows.hours["comfortable_h"])
    chosen, _ = rows.put_first(SCREEN_PAIRS)
    assert set(chosen) <= {*columns_of}
    assert np.array_equal(found.screen_pair[:, 0], hours[np.arange(40), chosen])
    given_up_h = hours[:, columns_of].max(axis=1) - found.screen_pair[:, 0]
    assert given_up_h.max() > 0.05, "somebody gets the one that shows more"


def test_a_large_band_is_drawn_as_fewer_people_who_stand_for_it() -> None:
    frame, weight, problems = expanded(bands(people="1000"))
    assert len(frame) == DRAWN_A_ROW + 15
    assert weight.sum() == 1015.0
    assert not problems


@pytest.mark.parametrize("count", ["0", "-3", "2.5", "many", "100001"])
def test_a_count_that_is_none_is_listed(count: str) -> None:
    found = team_of(
        bands(people=count), settings=Settings(draws=1), assumed_present="general_progressive"
    )
    assert found.people == 15.0
    assert [(one.row, one.column, one.value) for one in found.problems] == [(1, PEOPLE, count)]


def test_a_wrong_band_is_listed_once_with_its_row() -> None:
    found = team_of(
        bands(screen_in="9999"), settings=Settings(draws=1), assumed_present="general_progressive"
    )
    assert [(one.row, one.column) for one in found.problems] == [(1, "screen_in")]


def test_one_assumption_at_a_time_matches_the_totals() -> None:
    frame, settings = bands(), Settings(draws=2)
    assumed, present = Assumptions(prices=PRICES, uptake=Range(0.2, 0.8)), "general_progressive"
    told: list[float] = []
    whole = team_of(frame, settings=settings, assumed_present=present)
    ends = ends_of(frame, settings=settings, assumed_present=present, progress=told.append)
    found = moves(whole, ends, "screen_pair", assumed, typed=True)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert ends.few.people == SAMPLE_PEOPLE
    uptake = next(one for one in found if one.name.startswith("uptake"))
    shown = published(whole, Assumptions(prices=PRICES), typed=True)[2].total
    assert shown is not None
    for end, share in zip(uptake.gained_h, (0.2, 0.8), strict=True):
        assert abs(end - share * shown.gained_h.mid) < EXACT, "a share of what is shown"
    swings = [one.swing_h for one in found]
    assert swings == sorted(swings, reverse=True)
    adds = next(one for one in found if one.name.startswith("power for near"))
    assert adds.swing_h > 0.0, "adds are drawn here, so their mean matters"


def test_the_policies_stand_side_by_side_in_a_table() -> None:
    example, assumed = team(people=300), Assumptions(prices=PRICES)
    table = policy_table(published(example, assumed, typed=True))
    assert list(table["policy"]) == list(POLICIES.values())
    exact = {policy: total(example, policy, assumed) for policy in POLICIES}
    for policy, row in zip(POLICIES, table.to_dict("records"), strict=True):
        assert abs(row["helped_mid"] - exact[policy].helped.mid) < 5.0, "rounded to 5"
