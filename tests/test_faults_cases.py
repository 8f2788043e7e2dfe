"""Ten thousand wild cases: an answer that holds together, or a refusal that names its field.

The suite runs the first of them; `python -m pytest -m long tests/test_faults_cases.py -v` runs all,
part by part. Warnings are errors here as everywhere.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from engine.__main__ import REFUSED, main
from engine.assemble import advise
from engine.case.model import (
    Activity,
    Case,
    Design,
    Fit,
    Look,
    MeasuredRange,
    OwnedPair,
    Target,
    Wearer,
)
from engine.case.prescription import EyePrescription, Prism
from engine.case.read import read_case
from engine.case.results import GRADES, HOURS_PLACES, Result
from engine.errors import InputRefusedError
from engine.explain import explain
from engine.files.case_json import case_from_json, case_to_json
from engine.order.make import order_for
from engine.order.types import OrderDetails, OrderRefusedError
from tests.made_cases import Made, made_case

SUM_H = 1e-9
"""Room for the last bits of a sum: at most 12 x 12 x 81 shares of a day of up to 24 h."""
ROUNDED_H = 2.0 * 10.0**-HOURS_PLACES + SUM_H
"""Four figures, each rounded to HOURS_PLACES, are off by half of the last place each."""
HOURS = tuple(f"{grade}_h" for grade in GRADES)
SHARES = tuple(f"{grade}_share" for grade in GRADES)
FEW = 70
PART = 500
PARTS = 20
LEAST_ANSWERED = 0.5
"""At least half must be answers: a maker of refusals alone would test little."""


def numbers(value: Any, at: str = "") -> Iterator[tuple[str, float]]:
    """Every number in a document, with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, f"{at}.{key}")
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from numbers(inner, f"{at}.{index}")
    elif isinstance(value, float):
        yield at, value


def check_hours(case: Case, result: Result) -> None:
    for one in (*result.options, *result.plans):
        parts = [getattr(one, name) for name in HOURS]
        assert min(parts) >= 0.0
        assert abs(sum(parts) - case.day_h) <= SUM_H
        low_h, high_h = one.comfortable_range_h
        assert 0.0 <= low_h <= high_h <= case.day_h + SUM_H
        parts = [getattr(one.as_measured, name) for name in HOURS]
        assert min(parts) >= -SUM_H
        assert abs(sum(parts) - case.day_h) <= SUM_H
    for option in result.options:
        for seen in option.targets:
            parts = [getattr(seen, name) for name in SHARES]
            assert all(-SUM_H <= part <= 1.0 + SUM_H for part in (*parts, seen.one_posture_share))
            assert abs(sum(parts) - 1.0) <= SUM_H


def check_plans(case: Case, result: Result) -> None:
    options = {option.option for option in result.options}
    activities = [activity.name for activity in case.activities]
    for plan in result.plans:
        assert {pair.option for pair in plan.pairs} <= options
        assert sorted(name for pair in plan.pairs for name in pair.activities) == sorted(activities)
        assert plan.cost is None or plan.cost >= 0.0
    best = result.recommendation
    names = [plan.plan for plan in result.plans]
    assert len(set(names)) == len(names)
    assert best.plan is None or best.plan in names
    assert best.plan is not None or best.verdict == "not_computed"
    assert (best.plan is None) == (best.verdict == "not_computed")
    assert best.plan is None or 0.0 <= best.clearly_better_share <= 1.0
    assert best.plan is None or best.expected_loss_h >= 0.0
    named = [one.plan for one in (*best.as_good, *best.more_hours, *best.moves)]
    assert set(named) <= {*names}


def check_stop(case: Case, result: Result) -> None:
    """A stop says why, and nothing can be ordered on it."""
    asked = {"sudden_sight_loss", "eye_injury", "painful_red_eye"} & set(case.wearer.conditions)
    assert result.stops or not asked
    if result.stops:
        assert result.options == result.plans == ()
        assert result.recommendation.plan is None
        with pytest.raises(OrderRefusedError):
            order_for(case=case, result=result, option="sv_near", details=OrderDetails())


def check_orders(case: Case, result: Result) -> None:
    """Each option is ordered in finite numbers, or refused with a reason."""
    for option in result.options:
        try:
            order = order_for(case=case, result=result, option=option.option)
        except OrderRefusedError:
            continue
        assert all(math.isfinite(value) for _, value in numbers(order.model_dump()))


def check_printed(case: Case, result: Result) -> None:
    """What the command line prints: finite numbers, sums that hold, lines that fit."""
    content = json.loads(result.to_json(), parse_constant=pytest.fail)
    for one in (*content["options"], *content["plans"]):
        assert abs(sum(one[name] for name in HOURS) - case.day_h) <= ROUNDED_H
    text = explain(case, result)
    assert text.isprintable() or (set(text) - {"\n"} and text.replace("\n", "").isprintable())
    assert not re.search(r"(?<!\w)[-+]?(nan|inf)(?!\w)", text)
    assert max(map(len, text.splitlines())) <= 80


def check_answer(case: Case, result: Result) -> None:
    wrong = [(at, value) for at, value in numbers(result.model_dump()) if not math.isfinite(value)]
    assert not wrong
    check_hours(case, result)
    check_plans(case, result)
    check_stop(case, result)
    check_orders(case, result)
    check_printed(case, result)


def check_refusal(
    refusal: InputRefusedError, path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Field, value and rule; on the command line status 2, one plain line, and no answer."""
    assert refusal.field
    assert refusal.allowed
    capsys.readouterr()
    assert main(["advise", str(path)]) == REFUSED
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert said.err.rstrip("\n").isprintable()
    assert re.search(r"\. (Allowed|Needed): .+\.", said.err)


def try_case(made: Made, number: int, path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """One case by the way of the command line; how it ended."""
    text = json.dumps(made.content, ensure_ascii=number % 2 == 0)
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    try:
        case = read_case(path)
        assert not made.sure, "this must be refused"
        result = advise(case)
    except InputRefusedError as refusal:
        check_refusal(refusal, path, capsys)
        return "refused"
    assert case_from_json(case_to_json(case)).digest() == case.digest()
    check_answer(case, result)
    return "stopped" if result.stops else "answered"


def try_cases(numbers_: range, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Counter[str]:
    """Many of them; a failure names the case, so that it can be made again."""
    ended: Counter[str] = Counter()
    faults = []
    for number in numbers_:
        made = made_case(number)
        try:
            ended[try_case(made, number, tmp_path / "case.json", capsys)] += 1
        except Exception as fault:
            faults.append(f"case {number} ({made.spoilt or 'as made'}): {fault!r:.300}")
    with capsys.disabled():
        print(f"\n  cases {numbers_.start} to {numbers_.stop - 1}: {dict(ended)}")
    assert not faults, "\n".join([f"{len(faults)} of {len(numbers_)}", *faults[:20]])
    return ended


def keys(value: Any) -> set[str]:
    """Every key in a document."""
    if isinstance(value, list):
        return set().union(*map(keys, value))
    if not isinstance(value, dict):
        return set()
    return set(value).union(*map(keys, value.values()))


def test_every_field_of_the_contract_is_made() -> None:
    """A new field is no part of the wild cases until the maker makes it."""
    made = set().union(*(keys(made_case(number).content) for number in range(300)))
    models = (Case, Wearer, EyePrescription, Prism, Fit, OwnedPair, Design, Target, Look)
    for model in (*models, Activity, MeasuredRange):
        fields = {info.alias or name for name, info in model.model_fields.items()}
        assert fields <= made, fields - made


def test_wild_cases_are_answered_or_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended = try_cases(range(FEW), tmp_path, capsys)
    assert ended["answered"] >= LEAST_ANSWERED * FEW
    assert ended["refused"] >= 10
    assert ended["stopped"] >= 1


@pytest.mark.long
@pytest.mark.parametrize("part", range(PARTS))
def test_ten_thousand_wild_cases(
    part: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended = try_cases(range(part * PART, (part + 1) * PART), tmp_path, capsys)
    assert ended["answered"] >= LEAST_ANSWERED * PART
