"""From the wearer's phone to the optician's desk: home check, sheet, file, Interview. And the
coordinator's file on a narrow window."""

from __future__ import annotations

from pathlib import Path

from selenium.webdriver.common.by import By

from app.shell import words
from app.views.team import words as team_words
from engine.home.case import read_visit_file
from tests.browser import walk
from tests.browser.harness import DESKTOP, PHONE, Browser, Served, browser
from tests.browser.test_home_file import do, shown
from tests.browser.test_team import HEADER, KNOWN, computed, given, opened, team_rows
from tests.browser.walk import LINE, sideways, upload
from tests.home_visits import FRONT_DESK, as_asked, presses


def into_the_frame(page: Browser) -> None:
    """Turn to the home check in the frame of its page, once its hours are ready."""
    frame = "iframe[title='Home check']"
    page.wait_for(lambda: bool(page.driver.find_elements(By.CSS_SELECTOR, frame)), "the frame")
    page.driver.switch_to.frame(page.driver.find_element(By.CSS_SELECTOR, frame))
    ready = "return typeof Hours === 'object' && Hours.ready"
    page.wait_for(lambda: page.driver.execute_script(ready), "the hours")


def test_the_page_shows_the_file_and_what_it_saves_fills_the_interview(
    served: Served, tmp_path: Path
) -> None:
    with browser(size=PHONE) as phone:
        phone.enter(served, "home", until=words.HOME_SAVE)
        assert sideways(phone) <= 0
        into_the_frame(phone)
        assert do(phone, *presses(FRONT_DESK)) == "Your result"
        assert "You lift your chin." in shown(phone, ".told")
        phone.downloads_to(tmp_path)
        do(phone, ("file", None))
        file = tmp_path / "my-desk.json"
        phone.wait_for(file.exists, "the file")
        phone.driver.switch_to.default_content()
        assert walk.typed_in_address(phone, "60", "47", "38") == []
        assert phone.outside_requests() == []
    assert read_visit_file(file.read_text(encoding="utf-8")) == as_asked(FRONT_DESK)
    with walk.window(DESKTOP) as desk:
        desk.enter(served, "cases", until="Open a file")
        upload(desk, file)
        desk.wait_for_text("From home: what the wearer measured")
        walk.press(desk, "Open the file in the Interview")
        walk.holds(desk, Distance="60")
        desk.wait_for_text("from home")
        assert "9 above the desk" not in desk.text()
        assert walk.held(desk, "Top edge") == "-9", "38 above the desk, the eyes 47 above it"
        assert walk.held(desk, "Hours a day") == "6.5"
        walk.fill(desk, {"Age": "52", "Add, or the whole": "2.00"})
        desk.wait_for(lambda: "h comfortable" in desk.text(LINE), "an answer")
        assert "from home" in desk.text(LINE)
        assert "assumed" in desk.text(LINE)


def test_the_coordinators_file_comes_to_the_table_on_a_narrow_window(
    served: Served, tmp_path: Path
) -> None:
    bad = "A-900,54,monitor,24,30,general_progressive" + "," * len(KNOWN)
    header, rows = ",".join([HEADER, *KNOWN]), [*team_rows(25), bad]
    with walk.window(PHONE) as page:
        opened(page, served)
        content = "\n".join([header, *rows]).encode()
        given(page, tmp_path / "in.csv", content, until="Rows left out")
        assert "26 rows, 25 of them good" in page.text()
        computed(page)
        text = page.text()
        assert "of about 25 people" in text or team_words.TOO_FEW in text
        assert sideways(page) <= 0
        table = walk.saved_file(page, "Download this table", tmp_path)
        text = table.read_text(encoding="utf-8")
        assert text.startswith("Policy,People,")
        assert "A-0" not in text
        walk.put(page, "One eye test", "free")
        page.wait_for_text("free cannot be used. Allowed: ", selector=".lg-refused")
        assert walk.in_the_window(page, ".lg-refused")
        assert page.outside_requests() == []
