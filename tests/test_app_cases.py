"""Keeping a case, opening one, files, and two sessions: what a person reads."""

from __future__ import annotations

import html
import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest
from streamlit.testing.v1 import AppTest

from app.form import answers_of_case, case_of_answers, change_words, keep, questions
from app.form.typed import LOADED
from engine.case.read import LARGEST_BYTES, build_case
from engine.errors import InputRefusedError
from engine.examples import EXAMPLES
from engine.files import practice
from engine.files.case_json import case_from_json, case_to_json
from engine.files.changes import Change, changes, version_changes
from engine.files.fhir import bundle, prescription_to_fhir
from engine.files.practice import Practice
from engine.files.store import Store
from engine.files.store_file import StoreFullError, default_path
from engine.home.answers import answers_from
from engine.home.case import case_content
from engine.team import secret
from engine.wording import say
from tests.home_visits import visit_file
from tests.invented_result import first_edition, invented_result
from tests.pages import markup, opened, pressed, said, typed, whole, widget
from tests.test_app_rows import TWO_PARTS

CASES = sorted(EXAMPLES.glob("*.json"))
HOME = {
    "flags": [],
    "age": "50_54",
    "screens": [
        {
            "form": "screen", "size_in": 27.0, "movable": True,
            "distance_cm": 66.0, "top_above_desk_cm": 52.0,
        }
    ],
    "eyes_above_desk_cm": 47.0,
    "reading": [{"what": "papers", "distance_cm": 41.0}],
    "hours": {"main screen": 5.0, "papers": 1.0},
    "needs": ["driving", "stairs"],
}  # fmt: skip
"""An invented visit: two things taped, two needs."""


@pytest.fixture(autouse=True)
def store_path(invented_answers):  # noqa: ARG001
    return default_path()


def opened_page(name: str = "interview", page: AppTest | None = None) -> AppTest:
    """A page by name, in a session of its own or as the next one of another."""
    if page is None:
        return opened(name, is_unfolded=False)
    page.switch_page(f"views/{name}/page.py")
    return whole(page.run())


def open_there(page: AppTest, label: str = "Open in the Interview") -> AppTest:
    """Press the button that opens, and follow it: the page tester does not change pages itself."""
    pressed(page, label)
    page.switch_page("views/interview/page.py")
    return whole(page.run())


def kept_page(label: str = "A12") -> AppTest:
    """The invented wearer, saved."""
    page = pressed(opened_page(), "Load an invented wearer")
    page = typed(page, **{"Label of your choice, no name needed": label})
    return pressed(page, "Save")


def test_a_case_is_saved_and_changes_are_marked_in_words():
    page = pressed(opened_page(), "Load an invented wearer")
    assert "Not saved." in said(page)
    page = pressed(typed(page, **{"Label of your choice, no name needed": "A12"}), "Save")
    with Store() as store:
        record = store.open(label="A12")
    clock = f"{record.entry.saved_at.astimezone():%H:%M}"
    assert f"Case A12: saved {clock}." in said(page)
    assert f"20 assumed; saved {clock}" in said(page)
    assert case_from_json(record.case_json).wearer.age_years == 54
    assert json.loads(record.result_json)["recommendation"]["plan"] == "office"
    page = typed(page, **{"Age (years)": "55"})
    assert f"unsaved changes since {clock}" in said(page)
    page = typed(page, **{"Age (years)": "54"})
    assert f"Case A12: saved {clock}." in said(page)


def test_a_label_that_breaks_its_rule_is_refused_and_nothing_is_kept():
    page = pressed(opened_page(), "Load an invented wearer")
    field = "Label of your choice, no name needed"
    page = pressed(typed(page, **{field: "![x](http://a)"}), "Save")
    told = 'role="alert">Label: ![x](http://a) cannot be used. Allowed: 1 to 40 letters'
    assert told in html.unescape(markup(page))
    page = pressed(typed(page, **{field: " "}), "Save")
    assert "Label: nothing is given" in said(page)
    with Store() as store:
        assert store.count() == 0


def test_a_refused_value_cannot_be_saved():
    page = typed(kept_page(), **{"Age (years)": "540"})
    assert widget(page, "button", "Save").disabled
    assert "unsaved changes since" in said(page)


def test_the_later_of_two_sessions_is_told_and_loses_nothing():
    first = kept_page()
    second = opened_page("cases", opened_page())
    second = open_there(second)
    second = pressed(typed(second, **{"Age (years)": "60"}), "Save")
    assert "Case A12: saved" in said(second)
    first = pressed(typed(first, **{"Age (years)": "50"}), "Save")
    assert "save 1 was opened here, but save 2 is kept by now" in said(first)
    assert widget(first, "text_input", "Age (years)").value == "50"
    assert "The copy is called A12 2." in said(first)
    first = pressed(first, "Save mine as a copy")
    assert "Case A12 2: saved" in said(first)
    second = pressed(typed(second, **{"Age (years)": "61"}), "Save")
    with Store() as store:
        ages = {
            entry.label: case_from_json(store.open(label=entry.label).case_json).wearer.age_years
            for entry in store.entries()
        }
    assert ages == {"A12": 61, "A12 2": 50}


def test_mine_can_be_saved_on_top_and_theirs_stays_as_a_revision():
    first = kept_page()
    second = open_there(opened_page("cases", opened_page()))
    pressed(typed(second, **{"Age (years)": "60"}), "Save")
    first = pressed(typed(first, **{"Age (years)": "50"}), "Save")
    first = pressed(first, "Save mine on top")
    assert "Case A12: saved" in said(first)
    with Store() as store:
        ages = [
            case_from_json(store.open(label="A12", revision=r.revision).case_json).wearer.age_years
            for r in store.revisions(label="A12")
        ]
    assert ages == [54, 60, 50]


def test_a_case_deleted_meanwhile_can_be_saved_again():
    page = kept_page()
    with Store() as store:
        store.delete(label="A12")
    page = pressed(typed(page, **{"Age (years)": "50"}), "Save")
    assert "this case was deleted after save 1 was opened here" in said(page)
    page = pressed(page, "Save as a new case again")
    assert "Case A12: saved" in said(page)


def test_kept_cases_are_listed_searched_copied_and_deleted():
    kept_page("A12")
    page = opened_page("cases", kept_page("B 7_x_"))
    text = said(page)
    assert "1 to 2 of 2, the last saved first" in text
    assert text.index("B 7_x_") < text.index("A12")
    page = typed(page, **{"Search the labels": "a1"})
    assert "1 to 1 of 1" in said(page)
    assert widget(page, "selectbox", "Case").options == ["A12"]
    page = typed(page, **{"Search the labels": "zzz"})
    assert "None of the 2 kept cases has this in its label." in said(page)
    page = typed(page, **{"Search the labels": ""})
    page = pressed(typed(page, **{"Label of the copy": "C3"}), "Copy")
    assert "A12 is copied as C3." in said(page)
    assert widget(page, "selectbox", "Case").value == "C3"
    page = pressed(page, "Copy")
    assert "Label: nothing is given" in said(page)
    assert widget(page, "button", "Delete").disabled
    sure = widget(page, "checkbox", "Yes, delete its")
    assert sure.label == "Yes, delete its one save for good"
    sure.check()
    page.run()
    page = pressed(page, "Delete")
    assert "C3 is deleted." in said(page)
    assert "C3 is deleted." in said(page.run()), "a run asked for by another tab took it away"
    assert "C3 is deleted." not in said(opened_page("cases", opened_page("interview", page)))
    with Store() as store:
        assert [entry.label for entry in store.entries()] == ["B 7_x_", "A12"]


def test_delete_everything_takes_all_cases_and_the_key_of_team_figures(store_path):
    kept_page("A12")
    page = kept_page("A13")
    key = secret.secret()
    practice.keep(Practice(letter_head=("Invented Optics",)))
    for file in (secret, practice):
        assert file.path().parent == store_path.parent
    assert secret.path().read_bytes() == key
    page = opened_page("cases", page)
    assert widget(page, "button", "Delete everything").disabled
    widget(page, "checkbox", "Yes, delete all").check()
    page.run()
    pressed(page, "Delete everything")
    assert "Everything is deleted: 2 cases" in said(page)
    assert "No case is kept yet" in said(page)
    assert not secret.path().exists()
    assert not practice.path().exists()
    assert b"A12" not in store_path.read_bytes()
    assert secret.secret() != key, "the next answer starts another"


def delete_everything(page: AppTest) -> str:
    """Press what deletes everything, and return what is said."""
    page = opened_page("cases", page)
    widget(page, "checkbox", "Yes, delete all").check()
    page.run()
    return said(pressed(page, "Delete everything"))


def test_the_key_stays_where_the_cases_could_not_be_deleted(store_path, monkeypatch):
    page, key = kept_page("A12"), secret.secret()

    def full(_: Store) -> int:
        raise StoreFullError(store_path, "there is no room left for this test.")

    monkeypatch.setattr(Store, "delete_all", full)
    text = delete_everything(page)
    assert "there is no room left for this test." in text
    assert "eleted:" not in text
    assert secret.path().read_bytes() == key
    with Store() as store:
        assert store.count() == 1


def test_the_cases_are_gone_where_the_key_is_protected(monkeypatch):
    page, key = kept_page("A12"), secret.secret()

    def protected() -> bool:
        raise PermissionError(secret.path())

    monkeypatch.setattr(secret, "forget", protected)
    text = delete_everything(page)
    assert "Deleted: 1 case." in text
    assert f"The key of Team figures stays: {secret.path()} is protected." in text
    assert secret.path().read_bytes() == key
    with Store() as store:
        assert store.count() == 0


def test_the_key_goes_though_traces_of_the_cases_are_still_on_the_disk(monkeypatch):
    page = kept_page("A12")
    assert secret.secret()
    monkeypatch.setattr(Store, "_scrubbed", lambda _: False)
    text = delete_everything(page)
    assert "Deleted: 1 case." in text
    assert "its last traces could not be removed" in text
    assert not secret.path().exists()


def test_what_stopped_a_deletion_is_told_though_the_store_then_fails_in_another_way(
    store_path, monkeypatch
):
    counted = Store.count
    broken: list[bool] = []

    def first(_: Store, *, label: str) -> None:
        broken.append(True)
        raise StoreFullError(store_path, f"{label} is not deleted, for the disk is full.")

    def second(store: Store, *, search: str = "") -> int:
        if broken:
            broken.clear()
            raise StoreFullError(store_path, "the second trouble")
        return counted(store, search=search)

    page = opened_page("cases", kept_page("A12"))
    monkeypatch.setattr(Store, "delete", first)
    monkeypatch.setattr(Store, "count", second)
    widget(page, "checkbox", "Yes, delete its").check()
    page.run()
    broken.clear()
    assert "A12 is not deleted, for the disk is full." in said(pressed(page, "Delete"))


def test_a_copy_of_everything_is_brought_back_by_the_page():
    page = kept_page("A12")
    with Store() as store:
        copy = store.as_bytes()
        store.delete(label="A12")
    page = opened_page("cases", page)
    assert "No case is kept yet" in said(page)
    given = next(one for one in page.file_uploader if one.label == "A copy to bring back")
    given.set_value(("copy.sqlite3", copy, "application/vnd.sqlite3"))
    page.run()
    page = pressed(page, "Bring the copy back")
    assert "1 case brought back." in said(page)
    with Store() as store:
        assert [entry.label for entry in store.entries()] == ["A12"]
    page = pressed(page, "Bring the copy back")
    assert "0 cases brought back; 1 case kept already." in said(page)
    given = next(one for one in page.file_uploader if one.label == "A copy to bring back")
    given.set_value(("copy.sqlite3", b"something else", "application/vnd.sqlite3"))
    page.run()
    page = pressed(page, "Bring the copy back")
    assert "Allowed: a copy of everything" in said(page)
    with Store() as store:
        assert store.count() == 1


def with_codings(count: int) -> bytes:
    """A prescription whose product is named in so many codes of somebody else's."""
    found = prescription_to_fhir(case_of_answers.ask(questions.EXAMPLE).case)
    product = found["lensSpecification"][0]["product"]
    product["coding"] += [{"system": "http://example.invalid", "code": "x"}] * count
    return json.dumps(found).encode()


def test_all_that_is_left_out_of_a_long_file_is_listed():
    short = keep.read_file(with_codings(3))
    assert short.aside == ()
    assert any("product.coding.3" in line for line in short.lines)
    page = opened_page("cases")
    given = next(one for one in page.file_uploader if one.label.startswith("Case, record"))
    given.set_value(("long.json", with_codings(300), "application/json"))
    whole(page.run())
    text = html.unescape(markup(page))
    for place in range(1, 301):
        assert f"<li>VisionPrescription.lensSpecification.0.product.coding.{place}</li>" in text
    assert "left out: 300 parts, listed under Kept cases." in text
    huge = keep.read_file(with_codings(keep.MOST_PARTS + 5))
    assert len(huge.aside) == keep.MOST_PARTS + 1
    assert huge.aside[-1] == "5 more"


def test_a_deleted_case_leaves_the_answers_but_they_are_no_longer_saved():
    page = opened_page("cases", kept_page())
    widget(page, "checkbox", "Yes, delete its").check()
    page.run()
    page = pressed(page, "Delete")
    page.switch_page("views/interview/page.py")
    page.run()
    assert "Not saved." in said(page)
    assert widget(page, "text_input", "Age (years)").value == "54"


def test_what_changed_between_two_saves_stands_side_by_side():
    page = kept_page()
    page = typed(page, **{"Distance (cm)": "70"})
    page = typed(page, **{"Add, or the whole prescription": "R +0.50 DS L +0.50 DS add +2.25"})
    page = pressed(page, "Save")
    page = opened_page("cases", page)
    text = html.unescape(markup(page))
    assert "<caption>Prescription</caption>" in text
    text = text.replace(' class="lg-figure"', "")
    assert '<th scope="row">right: add, D</th><td>2</td><td>2.25</td><td>+0.25</td>' in text
    assert '<th scope="row">main screen: distance, cm</th><td>65</td><td>70</td><td>+5</td>' in text


def test_another_case_and_a_new_save_begin_with_the_newest_save():
    kept_page("B7")
    page = kept_page("A12")
    page = pressed(typed(page, **{"Distance (cm)": "70"}), "Save")
    page = opened_page("cases", page)
    assert chosen(page) == {"Case": "A12", "Which save": 2, "Earlier save": 1, "Later save": 2}
    for case, save in (("B7", 1), ("A12", 2)):
        widget(page, "selectbox", "Case").set_value(case)
        page.run()
        assert chosen(page)["Which save"] == save, "a save of the case before was still chosen"
    widget(page, "selectbox", "Which save").set_value(1)
    page.run()
    assert chosen(page)["Which save"] == 1
    page = opened_page("interview", page)
    page = pressed(typed(page, **{"Distance (cm)": "71"}), "Save")
    page = opened_page("cases", page)
    assert chosen(page) == {"Case": "A12", "Which save": 3, "Earlier save": 2, "Later save": 3}


def chosen(page: AppTest) -> dict[str, object]:
    """What the lists of the page are at."""
    return {one.label: one.value for one in page.selectbox}


def test_opening_over_unsaved_answers_says_so():
    page = kept_page()
    page = opened_page("cases", page)
    assert [one.label for one in page.button if one.label.startswith("Open in")] == [
        "Open in the Interview"
    ]
    page.switch_page("views/interview/page.py")
    page = typed(page.run(), **{"Age (years)": "60"})
    page = opened_page("cases", page)
    assert "The answers in the Interview are not saved." in said(page)
    page = open_there(page, "Open in the Interview and drop the unsaved answers")
    assert widget(page, "text_input", "Age (years)").value == "54"


def test_an_answer_of_an_older_version_says_what_changed_and_by_how_much():
    case = case_of_answers.ask(questions.EXAMPLE, label="old").case
    stored = json.loads(invented_result(case).to_json())
    stored["results_version"] = "0"
    stored["options"][0]["comfortable_h"] -= 0.7
    stored["recommendation"]["plan"] = "sv_computer"
    with Store() as store:
        store.save(label="old", case_json=case_to_json(case), result_json=json.dumps(stored))
    page = opened_page("cases", opened_page())
    for words_ in (
        "This answer was kept under version 0 of the numbers. Today's is version",
        "Recommended: single-vision computer before, office lens now.",
        "Comfortable, h: +0.7 at most, in 1 place.",
    ):
        assert words_ in said(page)
    page = open_there(page)
    assert "Comfortable, h: +0.7 at most, in 1 place." in said(page)
    page = pressed(page, "Read")
    assert "at most, in 1 place" not in said(page)


def test_an_answer_of_the_first_edition_opens_and_says_what_is_recommended_now():
    case = case_of_answers.ask(questions.EXAMPLE, label="old").case
    stored = json.loads(first_edition(invented_result(case).to_json()))
    stored["recommendation"]["plan"] = "sv_computer"
    lines = keep.older_lines(case, json.dumps(stored))
    assert lines[0].startswith("This answer was kept under version 1 of the numbers")
    assert "Recommended: single-vision computer before, office lens now." in lines
    assert "How sure: not compared with others before, firm now." in lines
    assert not any("winner" in line or "depends on" in line.lower() for line in lines), lines


def test_a_damaged_or_foreign_store_is_a_sentence_and_the_answers_stay(store_path):
    store_path.parent.mkdir(parents=True)
    store_path.write_bytes(b"not a database at all, but long enough to have a head" * 4)
    page = pressed(opened_page(), "Load an invented wearer")
    page = pressed(typed(page, **{"Label of your choice, no name needed": "A12"}), "Save")
    assert "this file does not hold kept cases. It was left as it is." in said(page)
    assert widget(page, "text_input", "Age (years)").value == "54"
    page = opened_page("cases", page)
    assert "this file does not hold kept cases" in said(page)


@pytest.mark.parametrize("sign", ["point", "comma"])
def test_a_case_with_a_damaged_time_is_counted_and_the_others_are_listed(store_path, sign):
    practice.keep(Practice(decimal_sign=sign))
    with Store() as store:
        for label in ("A12", "B7"):
            case = case_of_answers.ask(questions.EXAMPLE, label=label).case
            store.save(label=label, case_json=case_to_json(case))
    with closing(sqlite3.connect(store_path)) as file, file:
        file.execute("UPDATE cases SET saved_at = 'damaged' WHERE label = 'B7'")
    page = opened_page("cases")
    assert say("cases_damaged_not_listed_copy", cases="One kept case is") in said(page)
    assert "1 to 1 of 2" in said(page)
    assert "None" not in markup(page).splitlines()


def test_a_case_of_a_newer_version_is_handed_on_as_it_is_and_not_opened():
    with Store() as store:
        store.save(label="A12", case_json=json.dumps({"label": "A12", "schema": 99}))
    page = opened_page("cases")
    assert said(page).count("a newer version of this program wrote this case") == 3
    offered = [one.label for one in page.get("download_button")]
    assert "This save, the case alone (JSON)" in offered
    assert "Prescription (HL7 FHIR)" not in offered


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_every_example_case_opens_whole(path):
    case = case_from_json(path.read_text(encoding="utf-8"))
    answers = answers_of_case.answers_of(case)
    asked = case_of_answers.ask(answers, label=case.label)
    assert asked.refused == {}
    assert answers_of_case.left_aside(case, answers) == ()
    shown = asked.case
    assert {one.name: one for one in shown.targets} == {one.name: one for one in case.targets}
    for old, new in zip(case.activities, shown.activities, strict=True):
        shares = {look.target: look.share for look in new.looks}
        # A share goes through per cent and back: the residue of one binary division.
        assert all(abs(shares[look.target] - look.share) <= 1e-12 for look in old.looks)
        assert (old.name, old.hours, old.needs) == (new.name, new.hours, new.needs)
    doubted = {at for at in shown.origin if shown.is_assumed(at) and not case.is_assumed(at)}
    assert {at for at in doubted if not at.startswith("/fit/") and "/looks/" not in at} == set()


@pytest.mark.parametrize("answers", [questions.EXAMPLE, TWO_PARTS, {"wearer.age_years": "54"}])
def test_what_the_form_asked_comes_back_equal(answers):
    case = case_of_answers.ask(answers).case
    assert case_of_answers.ask(answers_of_case.answers_of(case)).case == case


def test_a_rich_case_comes_back_equal():
    answers = {
        **TWO_PARTS,
        "prescription": "R -2.25 -0.75 x 15 add +2.00 1.50 base in L -1.37 DS add +2.25",
        "wearer.amplitude_d": "3.2", "wearer.usable_fraction": "0.4", "wearer.accepts_lined": True,
        "pd": "31/32,5", "fit.fitting_height_mm": "19/20", "fit.vertex_mm": "12",
        "price.office": "300", "day.name": "studio", "day.needs": ["stairs"],
        "main.tilt_deg": "12", "main.fixed": True, "other0.offset_cm": "-40",
        "range0.trial_add_d": "2", "range0.nearest_clear_cm": "38",
        "range0.farthest_clear_cm": "62", "range0.text_arcmin": "10",
        "part1.name": "lab", "part1.hours": "1", "part1.slots": ["papers", "main"],
        "part1.papers.share_pct": "60", "papers.share_pct": "20",
    }  # fmt: skip
    asked = case_of_answers.ask(answers)
    assert asked.refused == {}
    assert len(asked.case.measured_ranges) == 1
    assert case_of_answers.ask(answers_of_case.answers_of(asked.case)).case == asked.case


OWNED = {
    **questions.EXAMPLE,
    "present.liked": "no",
    "owned1.kind": "office", "owned1.near_add_d": "1.75", "owned1.power_fall": "quick",
    "owned1.liked": "yes", "owned1.prescription": "R +0.25 DS L +0.50 -0.25 x 90 add +1.75",
    "owned2.kind": "sv_near", "owned2.add_d": "1.5",
    "wearer.turns": "eyes", "wearer.chart_distance_m": "4,5",
}  # fmt: skip
"""An invented wearer with three pairs, who was asked how they turn."""


def test_pairs_owned_are_asked_for_and_read_back():
    asked = case_of_answers.ask(OWNED)
    assert asked.refused == {}
    case = asked.case
    pairs = [(pair.kind, pair.liked) for pair in case.owned_pairs]
    assert pairs == [("general_progressive", False), ("office", True), ("sv_near", None)]
    powers = [pair.prescription for pair in case.owned_pairs]
    assert (powers[0], powers[2]) == (None, None)
    assert (powers[1].right.add_d, powers[1].left.cylinder_d) == (1.75, -0.25)
    assert case.owned_pairs[1].design.power_fall == "quick"
    assert (case.wearer.turns, case.wearer.chart_distance_m) == ("eyes", 4.5)
    assert case.origin["/owned_pairs/1/prescription"] == "measured"
    back = answers_of_case.answers_of(case)
    assert case_of_answers.ask(back).case == case
    assert answers_of_case.left_aside(case, back) == ()


def test_without_a_pair_at_the_desk_no_other_is_taken_for_it():
    assert case_of_answers.ask({**OWNED, "present.kind": ""}).case.owned_pairs == ()
    two = case_of_answers.ask({**OWNED, "owned1.kind": ""}).case
    assert [pair.kind for pair in two.owned_pairs] == ["general_progressive", "sv_near"]


def test_a_refused_value_of_a_pair_is_named_under_its_field():
    for name, text in (
        ("owned1.near_add_d", "7"),
        ("owned2.add_d", "x"),
        ("owned1.prescription", "R +0.25 DS"),
        ("wearer.chart_distance_m", "600"),
    ):
        asked = case_of_answers.ask({**OWNED, name: text})
        assert asked.case is None
        assert list(asked.refused) == [name]


def test_no_add_needed_is_typed_as_nothing_and_read_back():
    asked = case_of_answers.ask({"wearer.age_years": "33", "prescription": "0"})
    assert asked.case.wearer.add_d == 0.0
    assert case_of_answers.ask(answers_of_case.answers_of(asked.case)).case == asked.case


def test_what_changed_of_pairs_is_told_by_pair():
    old = case_of_answers.ask(OWNED).case
    less = {name: value for name, value in OWNED.items() if name != "owned2.kind"}
    turned = {"owned1.liked": "no", "present.add_d": "2.25", "wearer.turns": "head"}
    new = case_of_answers.ask(less | turned | {"wearer.chart_distance_m": ""}).case
    found = dict(
        change_words.tables_of(changes(old_case=case_to_json(old), new_case=case_to_json(new)))
    )
    assert [row[:3] for row in found["Wearer"]] == [
        ["distance of the test chart, m", "4.5", "6"],
        ["turns", "eyes", "head"],
    ]
    frame = [row[:3] for row in found["Frame and pairs owned"]]
    assert ["present pair: add, D", "2", "2.25"] in frame
    assert ["pair owned 2: liked", "yes", "no"] in frame
    assert ["pair owned 3", "kind single-vision near; design add, D 1.5", "–"] in frame


def test_a_changed_value_is_called_what_the_form_calls_it():
    assert change_words.what(("targets", "papers", "centre_above_eye_cm")) == (
        "papers: centre above the eyes, cm"
    )
    assert change_words.what(("fit", "wrap_deg")) == "face form angle, °"
    assert change_words.what(("moves", "main screen", "before_h")) == (
        "move at the desk: main screen: without it, h"
    )


def test_what_the_form_cannot_show_is_named():
    content = json.loads(CASES[0].read_text(encoding="utf-8"))
    content["wearer"] |= {"pd_left_mm": None}
    content["present_pair"] = {"kind": "sv_distance", "design": {"add_d": 0.0}}
    case = build_case(content)
    lines = keep._aside_lines(case, answers_of_case.answers_of(case))
    assert len(lines) == 1
    assert "right monocular centration distance, mm (31.5)" in lines[0]


def test_a_file_from_home_starts_with_the_same_numbers_marked_from_home():
    answers = answers_from(HOME)
    found = keep.read_file(visit_file(answers).encode())
    assert found.kind == "visit"
    expected = build_case(case_content(answers))
    asked = case_of_answers.ask(found.answers)
    assert asked.refused == {}
    shown = asked.case
    for old, new in zip(expected.targets, shown.targets, strict=True):
        assert (old.distance_cm, old.top_above_eye_cm, old.centre_above_eye_cm) == (
            new.distance_cm, new.top_above_eye_cm, new.centre_above_eye_cm
        )  # fmt: skip
    assert shown.activities[1].needs == ("driving", "stairs")
    assert shown.wearer.add_d is None
    assert shown.origin["/targets/0/distance_cm"] == "at_home"
    assert asked.brought["main.distance_cm"] == "at_home"
    assert asked.from_home >= 5
    typed_over = case_of_answers.ask({**found.answers, "main.distance_cm": "70"})
    assert typed_over.case.origin["/targets/0/distance_cm"] == "measured"
    assert typed_over.from_home == asked.from_home - 1


def test_a_prescription_and_a_bundle_are_read():
    case = case_of_answers.ask(
        {**questions.EXAMPLE, "prescription": "R -2.25 -0.75 x 15 L -1.50 DS add +2.25"}
    ).case
    alone = keep.read_file(json.dumps(prescription_to_fhir(case)).encode())
    assert (alone.kind, alone.whole) == ("prescription", False)
    again = case_of_answers.ask({**questions.EXAMPLE, **alone.answers}).case
    assert again.wearer.prescription == case.wearer.prescription
    both = keep.read_file(json.dumps(bundle(case)).encode())
    assert both.whole
    assert case_of_answers.ask(both.answers).case.targets == case.targets


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "An empty file cannot be used"),
        (b"{", "whole JSON"),
        (b"[]", "one JSON object"),
        (b"\xff\xfe{}", "JSON in UTF-8"),
        (b'{"schema": 9, "label": "x"}', "a newer version of this program wrote this case"),
        (
            b'{"file": "levelgaze home check", "version": 7}',
            "Version: 7 cannot be used. Allowed: 1",
        ),
        (b" " * (LARGEST_BYTES + 1), "5.1 MB is too large. Allowed: at most 5 MB"),
    ],
)
def test_a_file_that_cannot_be_opened_says_why(content, reason):
    with pytest.raises(InputRefusedError) as refused:
        keep.read_file(content)
    assert reason in keep.trouble(refused.value)


def test_times_are_told_in_local_time_and_the_day_when_it_is_another():
    now = datetime(2026, 5, 4, 12, 0, tzinfo=UTC).astimezone()
    assert keep.when_words(now.replace(hour=9, minute=5), now=now) == "09:05"
    assert keep.when_words(now - timedelta(days=3), now=now).startswith("1 May, ")
    assert keep.when_words(now - timedelta(days=365), now=now).startswith("4 May 2025, ")


def test_changes_are_words_with_units_and_never_raw_keys():
    old = case_of_answers.ask(questions.EXAMPLE).case
    new = case_of_answers.ask({**TWO_PARTS, "wearer.age_years": "60", "main.tilt_deg": "3"}).case
    found = changes(
        old_case=case_to_json(old),
        new_case=case_to_json(new),
        old_result=invented_result(old).to_json(),
        new_result=invented_result(new).to_json(),
    )
    tables = change_words.tables_of(found)
    assert [caption for caption, _ in tables] == ["Wearer", "Desk", "Day", "Answer"]
    cells = [cell for _, rows in tables for row in rows for cell in row]
    assert not any("_" in cell for cell in cells), cells
    assert ["age, years", "54", "60", "+6"] in tables[0][1]


def test_an_answer_that_changed_is_told_with_its_unit():
    share = ("recommendation", "clearly_better_share")
    moved = ("recommendation", "moves", "office", "change", "up_cm")
    good = ("recommendation", "as_good", "sv_computer", "comfortable_h")
    found = [
        Change("answer", share, 0.172, 0.152),
        Change("answer", moved, -12.0, -8.0),
        Change("answer", good, 4.21, 4.92),
        Change("answer", good, 4.21, 4.24),
        Change("answer", share, None, 0.1),
    ]
    said = "another plan clearly better, % of such wearers"
    assert change_words.tables_of(found)[0][1] == [
        [said, "17", "15", "−2"],
        ["move at the desk: office lens: up, cm", "−12", "−8", "+4"],
        ["equally good: single-vision computer: comfortable, h", "4.2", "4.9", "+0.7"],
        [said, "–", "10", ""],
    ]


def test_of_two_answers_the_lenses_that_matter_are_told():
    result = invented_result(case_of_answers.ask(questions.EXAMPLE).case).to_json()
    lenses = ("office", "sv_computer", "general_progressive")
    found = [Change("answer", ("options", lens, "comfortable_h"), 4.21, 4.92) for lens in lenses]
    every, told = change_words.tables_of(found), change_words.tables_of(found, results=[result] * 2)
    assert len(every[0][1]) == len(lenses)
    assert [row[0] for row in told[0][1]] == [
        "office lens: comfortable, h", "single-vision computer: comfortable, h"
    ]  # fmt: skip


def test_the_same_version_has_nothing_to_tell():
    text = invented_result(case_of_answers.ask(questions.EXAMPLE).case).to_json()
    assert change_words.version_lines(version_changes(stored_result=text, fresh_result=text)) == []


def test_file_names_hold_only_letters_and_digits():
    assert keep.file_name("A12 / b.c", ".json") == "A12-b-c.json"
    assert LOADED == "opened.origins"


def test_what_an_answer_depends_on_is_told_in_words():
    decides = {"field": "targets.1.distance_cm", "turns_at": 84.107, "unit": "cm"}
    change = change_words.Change("answer", ("recommendation", "depends_on"), decides, None)
    assert change_words.row_of(change) == [
        "depends on", "distance of thing 2, turning at 84.107 cm", "–", ""
    ]  # fmt: skip
    field = ("recommendation", "depends_on", "field")
    moved = change_words.Change("answer", field, "wearer.usable_accommodation_d", "fit.vertex_mm")
    assert change_words.row_of(moved)[1:3] == ["usable accommodation", "vertex"]


def test_from_ten_reports_on_kept_cases_shows_how_predictions_held():
    heading = "Predicted and reported"
    told = {"foretold": {"predicted_h": 6.0, "reported_h": 5.0}}
    for number in range(9):
        case = build_case(json.loads(CASES[0].read_text("utf-8")))
        pairs = {"levelgaze_collection": told}
        if number == 8:  # the tenth is the second pair of the ninth wearer
            assert heading not in [one.value for one in opened_page("cases").header]
            pairs["levelgaze_collection_2"] = told
        case = case.model_copy(update={"label": f"R{number}", "extensions": pairs})
        with Store() as store:
            store.save(label=f"R{number}", case_json=case_to_json(case))
    page = opened_page("cases")
    assert heading in [one.value for one in page.header]
    text = " ".join(one.value for one in page.markdown)
    assert "10 pairs of glasses" in text
