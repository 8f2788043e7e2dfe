"""Kept cases in a real browser: by keyboard, with files, at both widths, and what axe finds."""

from __future__ import annotations

import json
from pathlib import Path

from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from app.form import case_of_answers, questions
from engine.files.exchange import LARGEST_UPLOAD_BYTES, prescription_to_fhir
from engine.files.store import Store
from engine.home.answers import answers_from
from engine.home.case import visit_file
from tests.browser.harness import PHONE, Browser, Served, browser
from tests.browser.test_interview import (
    answer,
    keys,
    load_example,
    tab_to,
    wait_tested,
)
from tests.browser.walk import box, retype
from tests.test_app_cases import HOME

LABEL = "Label of your choice"


def save_example(page: Browser, served: Served, label: str) -> None:
    """The invented wearer, saved by keyboard."""
    page.enter(served, until="Interview")
    load_example(page)
    wait_tested(page)
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


def upload(page: Browser, path: Path) -> None:
    """Give the uploader a file."""
    page.wait_for(
        lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, "input[type=file]")), "an uploader"
    )
    page.driver.find_element(By.CSS_SELECTOR, "input[type=file]").send_keys(str(path))
    page.settle()


def test_save_change_compare_and_open_by_keyboard(keeping, desktop):
    save_example(desktop, keeping, "A12")
    retype(desktop, "Distance", "70")
    desktop.wait_for_text("unsaved changes since")
    assert "unsaved changes since" in answer(desktop)
    wait_tested(desktop)
    tab_to(desktop, "Save", most=120)
    keys(desktop, Keys.ENTER)
    desktop.wait_for_text("Case A12: saved")
    desktop.settle()
    to_cases(desktop)
    desktop.wait_for_text("What changed between two saves")
    assert "main screen: distance, cm" in desktop.text()
    assert "+5" in desktop.text()
    tab_to(desktop, "Open in the Interview", most=30)
    keys(desktop, Keys.ENTER)
    desktop.wait_for(
        lambda: box(desktop, "Distance").get_attribute("value") == "70", "the opened case"
    )
    assert "draft=" in desktop.driver.current_url
    assert "A12" not in desktop.place
    assert desktop.outside_requests() == []


def test_two_windows_save_one_case_and_nothing_is_lost(keeping, desktop):
    save_example(desktop, keeping, "A12")
    with browser() as other:
        other.enter(keeping, "cases", until="On this computer")
        tab_to(other, "Open in the Interview", most=40)
        keys(other, Keys.ENTER)
        other.wait_for_text("Case A12: saved")
        retype(other, "Age", "60")
        other.wait_for_text("unsaved changes since")
        tab_to(other, "Save", most=120)
        keys(other, Keys.ENTER)
        other.wait_for_text("Case A12: saved")
    retype(desktop, "Age", "50")
    tab_to(desktop, "Save", most=120)
    keys(desktop, Keys.ENTER)
    desktop.wait_for_text("revision 1 was opened here, but revision 2 is kept by now")
    tab_to(desktop, "Save mine as a copy", most=5)
    keys(desktop, Keys.ENTER)
    desktop.wait_for_text("Case A12 2: saved")
    with Store(keeping.store) as store:
        assert {one.label: one.revision for one in store.entries()} == {"A12": 2, "A12 2": 1}


def test_files_are_opened_or_refused_with_a_sentence(keeping, desktop, tmp_path):
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
    desktop.enter(keeping, "cases", until="Open a file")
    upload(desktop, damaged)
    desktop.wait_for_text("The file was not opened.")
    assert "whole JSON" in desktop.text()
    upload(desktop, large)
    desktop.wait_for_text("File must be 5.0MB or smaller.")
    upload(desktop, fhir)
    desktop.wait_for_text("A prescription, without a desk.")
    tab_to(desktop, "Take the prescription", most=40)
    keys(desktop, Keys.ENTER)
    desktop.wait_for(lambda: bool(box(desktop, "Add, or the whole")), "the Interview")
    desktop.settle()
    assert box(desktop, "Add, or the whole").get_attribute("value") == (
        "R -1.50 DS add +2.25 L -1.25 DS add +2.25"
    )
    desktop.enter(keeping, "cases", until="Open a file")
    upload(desktop, visit)
    desktop.wait_for_text("A visit file")
    tab_to(desktop, "Open the file in the Interview", most=40)
    keys(desktop, Keys.ENTER)
    desktop.wait_for_text("from home")
    assert box(desktop, "Distance").get_attribute("value") == "66"
    assert "0 measured, 9 from home" in answer(desktop)
    assert desktop.outside_requests() == []


def test_a_label_that_looks_like_markup_calls_nothing(keeping, desktop):
    desktop.enter(keeping, until="Interview")
    load_example(desktop)
    type_into_label(desktop, "![x](http://example.invalid/x.png)")
    desktop.wait_for_text("is refused; allowed: 1 to 40 letters")
    assert desktop.driver.find_elements(By.CSS_SELECTOR, "[data-testid=stMain] img") == []
    assert desktop.outside_requests() == []


def type_into_label(page: Browser, text: str) -> None:
    retype(page, LABEL, text)
    tab_to(page, "Save", most=5)
    keys(page, Keys.ENTER)
    page.settle()


def test_the_phone_shows_kept_cases_without_sideways_scrolling(keeping):
    with browser(size=PHONE) as page:
        page.enter(keeping, until="Interview")
        load_example(page)
        type_into_label(page, "A12")
        page.wait_for_text("Case A12: saved")
        page.enter(keeping, "cases", until="On this computer")
        wide = page.driver.execute_script(
            "const m = document.querySelector('[data-testid=stMain]');"
            "return [m.scrollWidth, m.clientWidth]"
        )
        assert wide[0] <= wide[1]
        assert "A12" in page.text()
