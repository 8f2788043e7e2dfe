"""Kept cases in a real browser: by keyboard, with files, at both widths, and what axe finds."""

from __future__ import annotations

import json

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from app.form import case_of_answers, questions
from engine.files.exchange import LARGEST_UPLOAD_BYTES, prescription_to_fhir
from engine.files.store import Store
from engine.home.answers import answers_from
from engine.home.case import visit_file
from tests.browser import walk
from tests.browser.harness import Browser, Served
from tests.browser.walk import answer, box, keys, retype, tab_to, upload, wait_answered
from tests.test_app_cases import HOME

LABEL = "Label of your choice"


def save_example(page: Browser, served: Served, label: str) -> None:
    """The invented wearer, saved by keyboard."""
    walk.example(page, served)
    wait_answered(page)
    tab_to(page, LABEL, most=120)
    keys(page, label)
    page.settle()
    tab_to(page, "Save", most=5)
    keys(page, Keys.ENTER)
    page.settle()
    page.wait_for_text(f"Case {label}: saved")


def to_cases(page: Browser) -> None:
    """Follow the link of the panel by keyboard."""
    tab_to(page, "Kept cases, and files", most=10)
    keys(page, Keys.ENTER)
    page.wait_for_text("On this computer")
    page.settle()


def test_save_change_compare_and_open_by_keyboard(keeping, shared):
    save_example(shared, keeping, "A12")
    retype(shared, "Distance", "70")
    shared.wait_for_text("unsaved changes since")
    assert "unsaved changes since" in answer(shared)
    wait_answered(shared)
    tab_to(shared, "Save", most=120)
    keys(shared, Keys.ENTER)
    shared.wait_for_text("Case A12: saved")
    shared.settle()
    to_cases(shared)
    shared.wait_for_text("What changed between two saves")
    assert "main screen: distance, cm" in shared.text()
    assert "+5" in shared.text()
    tab_to(shared, "Open in the Interview", most=30)
    keys(shared, Keys.ENTER)
    shared.wait_for(
        lambda: box(shared, "Distance").get_attribute("value") == "70", "the opened case"
    )
    assert "draft=" in shared.driver.current_url
    assert "A12" not in shared.place
    assert shared.outside_requests() == []


def test_two_windows_save_one_case_and_nothing_is_lost(keeping, shared, desktop):
    walk.example(shared, keeping)
    type_into_label(shared, "A12")
    shared.wait_for_text("Case A12: saved")
    desktop.enter(keeping, "cases", until="On this computer")
    tab_to(desktop, "Open in the Interview", most=40)
    keys(desktop, Keys.ENTER)
    desktop.wait_for_text("Case A12: saved")
    retype(desktop, "Age", "60")
    desktop.wait_for_text("unsaved changes since")
    save_again(desktop)
    desktop.wait_for_text("Case A12: saved")
    retype(shared, "Age", "50")
    save_again(shared)
    shared.wait_for_text("revision 1 was opened here, but revision 2 is kept by now")
    tab_to(shared, "Save mine as a copy", most=5)
    keys(shared, Keys.ENTER)
    shared.wait_for_text("Case A12 2: saved")
    with Store(keeping.store) as store:
        assert {one.label: one.revision for one in store.entries()} == {"A12": 2, "A12 2": 1}


def test_files_are_opened_or_refused_with_a_sentence(keeping, shared, tmp_path):
    visit, damaged, large, fhir = (
        tmp_path / name for name in ("visit.json", "damaged.json", "large.json", "fhir.json")
    )
    visit.write_text(visit_file(answers_from(HOME)), encoding="utf-8")
    damaged.write_text('{"schema": 1, "label": ', encoding="utf-8")
    large.write_bytes(b" " * (LARGEST_UPLOAD_BYTES + 400_000))
    case = case_of_answers.ask(
        {**questions.EXAMPLE, "prescription": "R -1.50 DS L -1.25 DS add +2.25"}
    ).case
    fhir.write_text(json.dumps(prescription_to_fhir(case)), encoding="utf-8")
    shared.enter(keeping, "cases", until="Open a file")
    upload(shared, damaged)
    shared.wait_for_text("The file was not opened.")
    assert "whole JSON" in shared.text()
    upload(shared, large)
    shared.wait_for_text("Allowed: at most 5 MB")
    upload(shared, fhir)
    shared.wait_for_text("A prescription, without a desk.")
    tab_to(shared, "Take the prescription", most=40)
    keys(shared, Keys.ENTER)
    shared.wait_for(lambda: bool(box(shared, "Add, or the whole")), "the Interview")
    shared.settle()
    assert box(shared, "Add, or the whole").get_attribute("value") == (
        "R -1.50 DS add +2.25 L -1.25 DS add +2.25"
    )
    shared.enter(keeping, "cases", until="Open a file")
    upload(shared, visit)
    shared.wait_for_text("From home: what")
    tab_to(shared, "Open the file in the Interview", most=40)
    keys(shared, Keys.ENTER)
    shared.wait_for_text("from home")
    assert box(shared, "Distance").get_attribute("value") == "66"
    shared.wait_for(lambda: "0 measured, 9 from home" in answer(shared), "the line")
    assert answer(shared).startswith("Type the add to compare lenses.")
    assert shared.outside_requests() == []


def test_a_label_that_looks_like_markup_calls_nothing(keeping, shared):
    walk.example(shared, keeping)
    type_into_label(shared, "![x](http://example.invalid/x.png)")
    shared.wait_for_text("cannot be used. Allowed: 1 to 40 letters")
    assert shared.driver.find_elements(By.CSS_SELECTOR, "[data-testid=stMain] img") == []
    assert shared.outside_requests() == []


def type_into_label(page: Browser, text: str) -> None:
    retype(page, LABEL, text)
    save_again(page)


def save_again(page: Browser) -> None:
    """Press Save by keyboard, from the field before it."""
    page.driver.execute_script("arguments[0].focus()", box(page, LABEL))
    tab_to(page, "Save", most=5)
    keys(page, Keys.ENTER)
    page.settle()
