"""Case and result as JSON, files from outside, and what changed between two of them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from engine.case.model import Case
from engine.case.read import LARGEST_BYTES, build_case, read_case
from engine.case.results import RESULTS_VERSION, Result
from engine.errors import InputRefusedError
from engine.examples import EXAMPLES
from engine.files.case_json import case_content, case_from_json, case_to_json
from engine.files.changes import changes, version_changes
from engine.files.exchange import read_upload
from engine.files.fhir import bundle, prescription_to_fhir
from engine.files.store import Store
from tests.invented_result import first_edition, invented_result

CASES = sorted(EXAMPLES.glob("*.json"))
CASE = read_case(CASES[0])
RESULT = invented_result(CASE).to_json()


def edited(text: str, *path: Any, to: Any) -> str:
    """The JSON text with one value set; a value of None takes the key away."""
    content = json.loads(text)
    here = content
    for step in path[:-1]:
        here = here[step]
    if to is None:
        del here[path[-1]]
    else:
        here[path[-1]] = to
    return json.dumps(content)


@pytest.mark.parametrize("path", CASES, ids=[path.stem for path in CASES])
def test_a_case_comes_back_equal(path: Path) -> None:
    case = read_case(path)
    text = case_to_json(case)
    assert case_from_json(text) == case
    assert case_from_json(text.encode()).digest() == case.digest()
    assert case_to_json(case_from_json(text)) == text


def test_numbers_foreign_data_and_prices_come_back_exactly() -> None:
    content = case_content(CASE)
    content["extensions"] = {"theirs": {"kept": None, "π": [0.1, 1e-7, "\u2028"]}}
    content["prices"] = {"office": None, "sv_computer": 120.55}
    content["wearer"]["age_years"] = 54.300000000000004
    case = build_case(content)
    back = case_from_json(case_to_json(case))
    assert back == case
    assert back.extensions["theirs"]["kept"] is None
    assert "nearest" not in case_to_json(case)


def test_a_result_comes_back_equal() -> None:
    result = invented_result(CASE)
    back = Result.model_validate_json(result.to_json())
    assert back.to_json() == result.to_json()
    assert back.option("office").design == result.option("office").design


DAMAGED: list[tuple[str, str | bytes, str]] = [
    ("nothing", "", "an empty file"),
    ("only spaces", "  \n", "an empty file"),
    ("cut", case_to_json(CASE)[:200], "whole JSON"),
    ("a list", "[]", "one JSON object"),
    ("a text", '"case"', "one JSON object"),
    ("nested deeply", "[" * 100_000, "nested too deeply"),
    ("another encoding", case_to_json(CASE).encode("utf-16"), "JSON in UTF-8"),
    ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00", "JSON in UTF-8"),
    ("half a character", '{"label": "\\ud800"}', "broken characters"),
    ("a key twice", '{"schema": 1, "schema": 1}', "schema: this is there twice"),
    ("not a number", '{"x": NaN}', "finite numbers"),
    ("infinite", '{"x": 1e999}', "finite numbers"),
    ("endless digits", '{"x": ' + "9" * 5000 + "}", "out of range"),
    ("a newer schema", edited(case_to_json(CASE), "schema", to=2), "a newer version"),
    ("an unknown key", edited(case_to_json(CASE), "colour", to="red"), "extensions"),
    ("an inner unknown key", edited(case_to_json(CASE), "fit", "hinge_mm", to=3), "fit.hinge_mm"),
    ("a value gone", edited(case_to_json(CASE), "wearer", to=None), "wearer"),
    (
        "a value out of range",
        edited(case_to_json(CASE), "targets", 0, "distance_cm", to=3),
        "15 to 2000 cm",
    ),
]


@pytest.mark.parametrize(
    ("content", "reason"), [row[1:] for row in DAMAGED], ids=[row[0] for row in DAMAGED]
)
def test_a_damaged_case_is_refused_with_its_reason(content: str | bytes, reason: str) -> None:
    with pytest.raises(InputRefusedError) as told:
        case_from_json(content)
    assert reason in str(told.value)
    if isinstance(content, bytes):
        with pytest.raises(InputRefusedError):
            read_upload(content)


def test_an_uploaded_case_is_told_by_what_it_holds() -> None:
    found = read_upload(b"\xef\xbb\xbf" + case_to_json(CASE).encode())
    assert (found.kind, found.case) == ("case", CASE)
    assert found.prescription == CASE.wearer.prescription


def test_an_uploaded_prescription_gives_the_powers_and_names_the_rest() -> None:
    resource = prescription_to_fhir(CASE) | {"patient": {"display": "Invented Person"}}
    found = read_upload(json.dumps(resource).encode())
    assert (found.kind, found.case) == ("prescription", None)
    assert found.prescription == CASE.wearer.prescription
    assert found.set_aside == ("VisionPrescription.patient",)


def test_an_uploaded_bundle_gives_the_case() -> None:
    found = read_upload(json.dumps(bundle(CASE)).encode())
    assert found.kind == "bundle"
    assert found.case == CASE.model_copy(update={"label": "opened case"})


def test_another_programs_bundle_gives_its_prescription() -> None:
    patient = {"resource": {"resourceType": "Patient", "name": [{"family": "Invented"}]}}
    resource = {"resource": prescription_to_fhir(CASE)}
    content = {"resourceType": "Bundle", "type": "searchset", "entry": [patient, resource]}
    found = read_upload(json.dumps(content).encode())
    assert (found.kind, found.prescription) == ("prescription", CASE.wearer.prescription)
    assert found.set_aside == ("Bundle.entry.0: Patient",)


def test_an_exported_record_gives_its_newest_revision(tmp_path: Path) -> None:
    newer = edited(case_to_json(CASE), "targets", 0, "distance_cm", to=71)
    with Store(tmp_path / "cases.sqlite3") as store:
        store.save(label=CASE.label, case_json=case_to_json(CASE))
        store.save(label=CASE.label, case_json=newer, result_json=RESULT, expected_revision=1)
        record = store.export(label=CASE.label)
    found = read_upload(record.encode())
    assert found.kind == "record"
    assert found.case == case_from_json(newer)
    assert found.result_json == RESULT
    assert found.set_aside == ("revision 1",)
    damaged = [
        ("levelgaze_record", 2, "another version"),
        ("revisions", [], "at least one"),
        ("revisions", [{"revision": 1}], "each with a case"),
        ("revisions", "none", "at least one"),
    ]
    for key, value, reason in damaged:
        with pytest.raises(InputRefusedError, match=reason):
            read_upload(edited(record, key, to=value).encode())


def test_a_file_beyond_the_limit_is_refused_unread() -> None:
    padded = case_to_json(CASE).encode()
    padded += b" " * (LARGEST_BYTES - len(padded))
    assert read_upload(padded).case == CASE
    with pytest.raises(InputRefusedError, match="at most 5 MB"):
        read_upload(padded + b" ")


def test_nothing_changed_is_no_change() -> None:
    text = case_to_json(CASE)
    assert changes(old_case=text, new_case=text, old_result=RESULT, new_result=RESULT) == ()


def test_what_changed_is_told_by_part_path_old_and_new() -> None:
    old = case_to_json(CASE)
    new = edited(old, "wearer", "left", "add_d", to=2.25)
    new = edited(new, "wearer", "age_years", to=57)
    new = edited(new, "fit", "wrap_deg", to=8)
    new = edited(new, "targets", 0, "distance_cm", to=72)
    new = edited(new, "activities", 0, "hours", to=4.5)
    answer = edited(RESULT, "recommendation", "plan", to="sv_computer")
    answer = edited(answer, "options", 1, "design", "corridor_mm", to=14)
    answer = edited(answer, "recommendation", "reasons", 0, "text", to="Invented otherwise.")
    answer = edited(answer, "plans", 0, "comfortable_h", to=1.5)
    found = changes(old_case=old, new_case=new, old_result=RESULT, new_result=answer)
    target, activity = CASE.targets[0], CASE.activities[0]
    assert [(one.part, one.path, one.old, one.new) for one in found] == [
        ("prescription", ("wearer", "left", "add_d"), 2.5, 2.25),
        ("wearer", ("wearer", "age_years"), CASE.wearer.age_years, 57),
        ("frame", ("fit", "wrap_deg"), 5.0, 8),
        ("desk", ("targets", target.name, "distance_cm"), target.distance_cm, 72),
        ("day", ("activities", activity.name, "hours"), activity.hours, 4.5),
        ("answer", ("recommendation", "plan"), "office", "sv_computer"),
        ("answer", ("options", "general_progressive", "design", "corridor_mm"), 11.0, 14),
        (
            "answer",
            ("plans", "office", "comfortable_h"),
            invented_result(CASE).plans[0].comfortable_h,
            1.5,
        ),
    ]
    assert found[2].difference == 3.0
    assert found[5].difference is None


def test_another_order_is_no_change_and_a_new_target_is_one() -> None:
    old = case_to_json(CASE)
    content = json.loads(old)
    content["targets"].reverse()
    assert changes(old_case=old, new_case=json.dumps(content)) == ()
    added = {**content["targets"][0], "name": "second shelf"}
    content["targets"].append(added)
    (found,) = changes(old_case=old, new_case=json.dumps(content))
    assert (found.path, found.old, found.new) == (("targets", "second shelf"), None, added)


def test_a_first_answer_is_told() -> None:
    text = case_to_json(CASE)
    found = changes(old_case=text, new_case=text, new_result=RESULT)
    assert {one.part for one in found} == {"answer"}
    assert all(one.old is None for one in found)


def test_another_version_of_the_numbers_says_what_changed_and_by_how_much() -> None:
    stored = edited(RESULT, "results_version", to="0")
    stored = edited(stored, "options", 0, "comfortable_h", to=1.0)
    stored = edited(stored, "options", 1, "comfortable_h", to=2.5)
    seen = ("as_measured", "targets", 0, "rows", 1, "chin_up_deg")
    stored = edited(stored, "options", 0, *seen, to=-9.5)
    stored = edited(stored, "recommendation", "verdict", to="toss_up")
    fresh = edited(RESULT, "options", 0, "comfortable_h", to=1.25)
    fresh = edited(fresh, "options", 1, "comfortable_h", to=2.4)
    fresh = edited(fresh, "options", 0, *seen, to=-7.5)
    found = version_changes(stored_result=stored, fresh_result=fresh)
    assert (found.stored_version, found.fresh_version) == ("0", RESULTS_VERSION)
    assert not found.same_version
    by_name = {shift.quantity: shift for shift in found.shifts}
    assert set(by_name) == {"comfortable_h", "chin_up_deg"}
    assert by_name["comfortable_h"].places == 2
    assert by_name["comfortable_h"].largest_difference == 0.25
    assert by_name["chin_up_deg"].largest_difference == 2.0
    paths = [one.path for one in found.changes]
    assert ("recommendation", "verdict") in paths
    name = CASE.targets[0].name
    centre = ("options", "office", "as_measured", "targets", name, "rows", "centre", "chin_up_deg")
    assert centre in paths


def test_the_same_version_of_the_numbers_gives_no_change() -> None:
    found = version_changes(stored_result=RESULT, fresh_result=RESULT)
    assert found.same_version
    assert (found.changes, found.shifts) == ((), ())


def test_what_an_older_version_kept_need_not_fit_todays_form() -> None:
    stored = edited(edited(RESULT, "results_version", to="0"), "stops", to=None)
    stored = edited(stored, "options", 0, "formerly", to=[1, "x", {"y": None}])
    found = version_changes(stored_result=stored, fresh_result=RESULT)
    assert {one.path[-1] for one in found.changes} == {"stops", "formerly"}


def test_an_answer_of_the_first_edition_can_be_compared_by_what_both_have() -> None:
    old = first_edition(RESULT)
    found = version_changes(stored_result=old, fresh_result=RESULT)
    assert (found.stored_version, found.fresh_version) == ("1", RESULTS_VERSION)
    told = changes(
        old_case=case_to_json(CASE), new_case=case_to_json(CASE),
        old_result=old, new_result=RESULT,
    )  # fmt: skip
    paths = [one.path for one in told]
    assert ("options", "office", "strained_h") in paths
    assert ("options", "office", "awkward_h") in paths
    assert ("recommendation", "verdict") in paths
    assert ("recommendation", "plan") not in paths


def in_earlier_words(text: str) -> str:
    """A file as it was when a power fall was a shape."""
    for fall, shape in (("slow", "desk"), ("quick", "room")):
        text = text.replace(f'"power_fall": "{fall}"', f'"shape": "{shape}"')
    text = text.replace("design/power_fall", "design/shape")
    assert "power_fall" not in text
    return text


def test_what_was_kept_when_a_power_fall_was_a_shape_still_opens(tmp_path: Path) -> None:
    content = case_content(CASE)
    design = {"near_add_d": 2.0, "degression_d": 1.0, "power_fall": "quick"}
    content["present_pair"] = {"kind": "office", "design": design}
    content["origin"]["/present_pair/design/power_fall"] = "assumed"
    case = build_case(content)
    today, answer = case_to_json(case), invented_result(case).to_json()
    old = in_earlier_words(today)
    old_answer = in_earlier_words(answer)
    with Store(tmp_path / "cases.sqlite3") as store:
        store.save(label=case.label, case_json=old, result_json=old_answer)
        kept = store.open(label=case.label)
    opened = case_from_json(kept.case_json)
    assert opened == case
    assert case_to_json(opened) == today
    assert kept.result_json == old_answer
    told = changes(old_case=old, new_case=today, old_result=old_answer, new_result=answer)
    assert [one for one in told if one.part != "other"] == []
    versions = version_changes(stored_result=old_answer, fresh_result=answer)
    assert versions.changes == ()


def test_a_kept_present_pair_is_no_change_once_it_is_an_owned_pair() -> None:
    pair = {"kind": "office", "design": {"near_add_d": 2.0, "degression_d": 1.0}}
    content = case_content(CASE)
    today = case_to_json(build_case(content | {"owned_pairs": [pair]}))
    old = {name: value for name, value in content.items() if name != "owned_pairs"}
    kept = json.dumps(old | {"present_pair": pair | {"liked": False}})
    assert [one for one in changes(old_case=kept, new_case=today) if one.part != "other"] == []
    none = case_to_json(build_case(content | {"owned_pairs": []}))
    del old["wearer"]["chart_distance_m"]
    told = changes(old_case=json.dumps(old), new_case=none)
    assert [one for one in told if one.part != "other"] == []
    (found,) = changes(
        old_case=kept, new_case=today.replace('"degression_d": 1.0', '"degression_d": 1.5')
    )
    assert (found.part, found.path) == ("frame", ("owned_pairs", "1", "design", "degression_d"))


def test_a_case_kept_under_the_earlier_word_has_the_same_digest() -> None:
    """It was computed when the field was still called shape, so it is the digest of kept orders."""
    content = case_content(CASE) | {"present_pair": {"kind": "office", "design": {"shape": "room"}}}
    assert build_case(content).digest() == (
        "efe44723fa9698033fe426de034c121fbb82b5382c41be060ed5ede809691b51"
    )


def test_every_case_keeps_its_form(tmp_path: Path) -> None:
    """Store and exchange together: the case that is opened is the case that was saved."""
    with Store(tmp_path / "cases.sqlite3") as store:
        for path in CASES:
            case = read_case(path)
            store.save(label=case.label, case_json=case_to_json(case))
        kept: list[Case] = [
            case_from_json(store.open(label=entry.label).case_json) for entry in store.entries()
        ]
    assert {case.digest() for case in kept} == {read_case(path).digest() for path in CASES}
