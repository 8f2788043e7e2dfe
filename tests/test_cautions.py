"""Cautions: the table, the conditions, and each number at, just under and just over."""

from __future__ import annotations

import ast
import inspect
import re
from dataclasses import replace
from math import isfinite

import pytest

from engine import tables
from engine.answer import cautions
from engine.case.results import Told
from engine.lenses.kinds import KINDS
from tests.caution_cases import (
    FAR,
    GENERAL,
    NUMBERS,
    PAPER,
    SCREEN,
    STANDARD,
    STEP,
    TABLE,
    add_case,
    case,
    check_values,
    eye,
    ids,
    imbalance_case,
    option,
    seen,
    text_case,
    told_of,
    told_of_case,
)
from tests.reading import ease_of


def test_every_row_has_its_rule_and_every_rule_its_row():
    by_scope = {
        scope: {row["id"] for row in TABLE.values() if row["scope"] == scope}
        for scope in ("case", "option")
    }
    assert by_scope["case"] == set(cautions.CASE_RULES)
    assert by_scope["option"] == set(cautions.OPTION_RULES)
    assert len(TABLE) == len(by_scope["case"]) + len(by_scope["option"])


def test_every_row_is_whole():
    for identity, row in TABLE.items():
        assert cautions.level(identity) in cautions.LEVELS
        assert row["status"] in tables.STATUSES, identity
        assert row["source"], identity
        assert row["locator"], identity
        assert bool(row["limit"]) == bool(row["unit"]), identity
        assert len(row["text"].split()) <= 30, identity
        assert row["text"].endswith("."), identity
        assert re.sub("[°Δ]", "", row["text"]).isascii(), identity


def test_each_limit_is_a_number_or_a_judgement():
    for identity in TABLE:
        for number in cautions.limits(identity, judgements=STANDARD):
            assert isfinite(number), identity


def test_rules_read_their_numbers_from_the_table():
    # 0 and 1 are ends of scales, 2 halves, 10 and 100 change units, 1e-9 is binary residue.
    allowed = {0, 1, 2, 10, 100, 1e-9}
    for node in ast.walk(ast.parse(inspect.getsource(cautions))):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            assert node.value in allowed, node.lineno


def test_texts_name_nobodys_product():
    # A maker or a product would show as a capital inside a sentence.
    allowed = {"D"}
    for identity, row in TABLE.items():
        for text in (row["text"], row["wearer_text"]):
            assert not re.search(r"[®™©*_`<>]", re.sub(r"\{[^}]*\}", "x", text)), identity
            for sentence in re.split(r"(?<=[.:])\s+", text):
                inside = re.findall(r"\b[A-Z]\w*", sentence)[1:]
                assert set(inside) <= allowed, (identity, inside)


def test_wearer_texts_give_no_power_and_promise_no_relief():
    for identity, row in TABLE.items():
        for name in cautions.text_values(identity):
            if name.endswith(("_d", "_pd")):
                assert f"{{{name}" not in row["wearer_text"], identity
        assert not re.search(r"dioptre|\bD\b|prism|degression", row["wearer_text"]), identity
        for text in (row["text"], row["wearer_text"]):
            assert not re.search(r"\b(less|no|relieves?) (pain|ache|strain)", text), identity


def test_wearer_texts_read_at_about_age_twelve():
    # Automated readability index 8: 12 to 13 years. Values are read as one short word.
    for identity, row in TABLE.items():
        text = re.sub(r"\{[^}]*\}", "40", row["wearer_text"])
        if text:
            assert ease_of([text]).ari <= 8.0, identity


def test_wearer_gets_every_grave_caution_that_is_for_a_condition():
    for identity in tables.by_id("conditions"):
        assert TABLE[identity]["wearer_text"], identity


@pytest.mark.parametrize("condition", tables.by_id("conditions"))
def test_each_condition_alone_is_told(condition):
    action = tables.by_id("conditions")[condition]["action"]
    asked = case(wearer={"conditions": [condition]})
    of_case = told_of_case(asked)
    of_lens = [told for kind in KINDS for told in told_of(asked, option(kind))]
    assert condition in ids(of_case) + ids(of_lens)
    stopped = ids(cautions.stops(asked, judgements=STANDARD))
    assert stopped == ([condition] if action == "stop_now" else [])
    wanted = {"stop_now": "stop", "prescriber": "prescriber", "compute": "note", "caution": "care"}
    assert cautions.level(condition) == wanted[action]


def test_red_flags_say_where_to_go_and_how_fast():
    flags = [i for i, row in tables.by_id("conditions").items() if row["action"] == "stop_now"]
    assert len(flags) == 9
    for told in cautions.stops(case(wearer={"conditions": flags}), judgements=STANDARD):
        for text in (told.text, cautions.wearer_text(told)):
            assert re.search(r"emergency|eye doctor", text), told.id
            assert re.search(r"\bnow\b|\btoday\b|same day|at once", text), told.id
        assert cautions.excludes([told.id], with_another_pair=True) == (told.id,)


def test_what_cannot_wait_comes_before_what_can_wait_for_the_day():
    flags = [i for i, row in tables.by_id("conditions").items() if row["action"] == "stop_now"]
    told = cautions.stops(case(wearer={"conditions": flags}), judgements=STANDARD)
    can_wait = ["the same day" in one.text for one in told]
    assert can_wait == sorted(can_wait)
    assert 0 < sum(can_wait) < len(told)
    assert "Call the emergency services" in told[0].text


def test_red_flags_are_all_told_and_other_cautions_stay():
    asked = case(wearer={"conditions": ["eye_injury", "vertigo", "unequal_pupils"]})
    assert ids(cautions.stops(asked, judgements=STANDARD)) == ["unequal_pupils", "eye_injury"]
    assert ids(cautions.case_cautions(asked, judgements=STANDARD)) == ["vertigo"]


def test_a_plain_case_is_told_nothing():
    assert told_of_case(case()) == ()
    assert told_of(case(), option("sv_distance", add_d=0.0)) == ()


def test_every_number_of_the_table_is_tested():
    assert set(NUMBERS) == {identity for identity, row in TABLE.items() if row["limit"]}


@pytest.mark.parametrize("identity", NUMBERS)
def test_number_at_just_under_and_just_over(identity):
    make, wanted = NUMBERS[identity]
    limit = cautions.limits(identity, judgements=STANDARD)[0]
    for value, fires in zip((limit - STEP, limit, limit + STEP), wanted, strict=True):
        if fires is None:  # 4.00 D is the highest add a case may have
            continue
        made = make(value)
        told = told_of(*made) if isinstance(made, tuple) else told_of_case(made)
        assert (identity in ids(told)) is fires, (identity, value)


@pytest.mark.parametrize(
    ("identity", "judgement", "value"),
    [
        ("text_small", "legible_arcmin", 25.0),
        ("text_not_served", "illegible_arcmin", 25.0),
        ("imbalance_felt", "imbalance_comfortable_pd", 0.5),
        ("imbalance_double", "imbalance_awkward_pd", 0.5),
        ("frame_too_shallow", "corridor_to_height_mm", 9.0),
    ],
)
def test_a_changed_judgement_changes_the_caution(identity, judgement, value):
    asked = case()
    lens = option(GENERAL, corridor_mm=14.0, targets=[seen(imbalance=0.8)])
    changed = replace(STANDARD, **{judgement: value})
    assert identity not in ids(told_of_case(asked) + told_of(asked, lens))
    assert identity in ids(told_of_case(asked, changed) + told_of(asked, lens, changed))


def test_second_numbers_of_a_rule():
    # Text of exactly 10 arcmin is small, but served; degression of 0.75 is low enough; imbalance
    # of exactly 2.0 still counts as felt.
    for arcmin, found in ((9.99, "text_not_served"), (10.0, "text_small"), (15.99, "text_small")):
        assert ids(told_of_case(text_case(arcmin))) == [found]
    for degression, fires in ((0.74, False), (0.75, False), (0.76, True)):
        lens = option("office", near_add_d=1.0, degression_d=degression)
        assert ("low_degression" in ids(told_of(add_case(1.0), lens))) is fires
    for imbalance, found in ((1.99, "felt"), (2.0, "felt"), (2.01, "double")):
        told = [i for i in ids(told_of(*imbalance_case(imbalance))) if i.startswith("imbalance")]
        assert told == [f"imbalance_{found}"]


def test_each_text_gets_exactly_the_values_it_names():
    everything = []
    for make, _ in NUMBERS.values():
        for value in (0.5, 1.5, 2.9, 4.0, 9.0, 15.0, 30.0, 61.0, 70.0):
            try:
                made = make(value)
            except ValueError:
                continue
            everything += told_of(*made) if isinstance(made, tuple) else told_of_case(made)
    asked = case(
        wearer={
            "conditions": list(tables.by_id("conditions")),
            "right": eye(add_d=None),
            "left": eye(add_d=None, prism=[{"amount_pd": 1.0, "base": "up"}]),
        },
        targets=[SCREEN, PAPER, FAR],
        needs=[["driving"]],
    )
    everything += told_of_case(asked) + told_of_case(case(wearer={"left": eye(add_d=None)}))
    lost = [seen(name, chin=None) for name in ("screen", "papers", "visitor")]
    for present in KINDS:
        worn = asked.model_copy(update={"owned_pairs": case(present={"kind": present}).owned_pairs})
        for kind in KINDS:
            design = {"near_add_d": 1.5, "degression_d": 1.0} if kind == "office" else {}
            everything += told_of(worn, option(kind, targets=lost, **design))
    check_values(everything)
    assert set(ids(everything)) == set(TABLE)


def test_refusals_of_the_table():
    with pytest.raises(tables.TableError, match="no caution called nonsense"):
        cautions.level("nonsense")
    with pytest.raises(tables.TableError, match="no row called nonsense"):
        cautions.wearer_text(Told(id="nonsense", text=""))
