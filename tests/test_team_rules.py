"""Rules of countries as dated data, and what an employer may hold."""

from __future__ import annotations

import re
from datetime import date

import pytest

from app.views.evidence.page import SURE
from engine import tables
from engine.errors import InputRefusedError
from engine.team.law import (
    LINES,
    NOT_KNOWN,
    NOT_LEGAL_ADVICE,
    VERDICTS,
    cards,
    countries,
    may_hold,
    standing,
)
from engine.team.policies import POLICIES
from engine.team.slip import EmployerSlip

CHECKED = date(2026, 11, 25)


def test_every_country_of_the_task_has_a_dated_card_with_a_source() -> None:
    wanted = {"United Kingdom", "European Union", "Ireland", "Germany", "Austria", "United States"}
    assert set(countries()) == wanted
    for country in countries():
        for card in cards(country=country, today=CHECKED):
            assert card.line in LINES
            assert card.source
            assert card.how_checked
            assert card.date_checked <= CHECKED
            assert card.warning == ""
    assert "not legal advice" in NOT_LEGAL_ADVICE


@pytest.mark.parametrize(
    ("today", "stale"),
    [(date(2027, 11, 24), False), (date(2027, 11, 25), True), (date(2030, 1, 1), True)],
)
def test_a_card_is_stale_after_twelve_months(today: date, stale: bool) -> None:
    for card in cards(country="United Kingdom", today=today):
        assert card.stale is stale
        assert bool(card.warning) is stale


@pytest.mark.parametrize("country", ["United Kingdom", "Ireland", "Germany", "Austria"])
def test_the_lines_of_the_united_kingdom_and_of_the_union_never_stand_together(
    country: str,
) -> None:
    lines = {card.line for card in cards(country=country, today=CHECKED)}
    assert len(lines) == 1
    assert lines == ({"uk"} if country == "United Kingdom" else {"eu"})


def test_the_two_lines_say_different_things_of_a_pair_worn_for_other_things_too() -> None:
    words = tables.by_id("country_rules")
    assert "need not be paid for" in words["uk_pair"]["meaning"]
    assert "need not be worn only at work" in words["eu_pair"]["meaning"]
    assert "C-392/21" in words["eu_pair"]["source"]


def test_an_unknown_country_is_refused_and_not_taken_for_another() -> None:
    with pytest.raises(InputRefusedError, match="country"):
        cards(country="Atlantis", today=CHECKED)


def test_what_an_employer_may_hold_is_the_slip_and_no_more() -> None:
    assert sum(may for may, _, _ in may_hold()) == len(EmployerSlip.model_fields) == 4


def test_no_claim_of_less_neck_pain_and_no_return_on_money() -> None:
    by_id = {row["id"]: row for row in tables.rows("team_evidence")}
    for name in ("neck_pain", "return"):
        assert by_id[name]["finding"].startswith("Not claimed")
    assert all(row["source"] for row in tables.rows("team_evidence"))


def test_a_study_is_as_sure_here_as_on_the_evidence_page() -> None:
    """One scale for both pages; a study that both name has one word on both."""
    claims = tables.rows("evidence")
    shared = 0
    for row in tables.rows("team_evidence"):
        assert row["certainty"] in SURE
        author, year = row["source"].split()[0], re.search(r"\b(19|20)\d\d\b", row["source"])
        same = {one["sure"] for one in claims if year and _is_of(one["source"], author, year[0])}
        shared += bool(same)
        assert not same or row["certainty"] in same, row["id"]
    assert shared >= 6


def _is_of(source: str, author: str, year: str) -> bool:
    return source.startswith(author) and year in source


# --- policies against rules ------------------------------------------------------------------


def test_every_verdict_is_of_a_rule_and_a_policy_there_are() -> None:
    rules = tables.by_id("country_rules")
    for row in tables.rows("policy_law"):
        assert row["id"] == f"{row['rule']}.{row['policy']}"
        assert row["rule"] in rules
        assert row["policy"] in POLICIES
        assert row["verdict"] in VERDICTS
        assert row["why"].endswith(".")


@pytest.mark.parametrize("country", countries())
def test_every_policy_has_a_verdict_in_every_country(country: str) -> None:
    found = cards(country=country, today=CHECKED)
    for policy in POLICIES:
        one = standing(policy, found=found)
        assert one.rule is not None
        assert one.rule in found


def test_the_worst_of_the_rules_decides_and_the_court_says_why() -> None:
    ireland = cards(country="Ireland", today=CHECKED)
    paid, shared = (standing(name, found=ireland) for name in ("screen_pair", "contribution"))
    assert (paid.verdict, shared.verdict) == ("meets", "falls_short")
    assert shared.rule is not None
    assert shared.rule.id == "eu_pair"
    assert standing("screen_pair", found=()) == NOT_KNOWN


def test_nothing_falls_short_wherever_a_rule_gives_a_test_to_everyone() -> None:
    for country in countries():
        found = cards(country=country, today=CHECKED)
        verdict = standing("nothing", found=found).verdict
        assert (verdict == "falls_short") is any(card.for_everyone for card in found), country
