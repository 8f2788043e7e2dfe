"""From the wearer's phone to the optician's desk: home check, sheet, file, Interview. And the
coordinator's file on a narrow window."""

from __future__ import annotations

from pathlib import Path

from tests.browser import walk
from tests.browser.harness import DESKTOP, PHONE, Served, browser
from tests.browser.home_people import PEOPLE, visit
from tests.browser.seen import MAIN
from tests.browser.test_access_home_team import QUESTIONS
from tests.browser.test_team import HEADER, computed, given, opened, team_rows
from tests.browser.walk import LINE, sideways, upload

PERSON = PEOPLE[0]
NOT_AN_ORDER = ("add", "dioptre", "pupil", "fitting height", "sphere")


def test_the_wearers_phone_makes_a_sheet_and_a_file_that_fills_the_interview(
    served: Served, tmp_path: Path
) -> None:
    flaws: dict[str, list[object]] = {}
    too_wide = []
    with browser(size=PHONE) as phone:

        def look(step: str) -> None:
            flaws[step] = [*phone.axe(context=f"'{MAIN}'")]
            if sideways(phone) > 0:
                too_wide.append(step)

        phone.enter(served, "home", until="Is any of this true now?")
        look("flags")
        visit(phone, PERSON, each=look)
        phone.wait_for_text("What this check cannot see")
        look("result")
        assert len(flaws) == QUESTIONS + 2
        assert {step: found for step, found in flaws.items() if found} == {}
        assert too_wide == []
        assert walk.typed_in_address(phone, "60", "47", "38") == []
        file = walk.saved_file(phone, "Get the file", tmp_path)
        sheet = walk.saved_file(phone, "Get the sheet", tmp_path)
        assert phone.outside_requests() == []
        said = walk.printed(phone, sheet)
    for words in ("main screen", "60 cm", "Glasses with one line", "I lift my chin"):
        assert words.lower() in said.lower(), words
    assert [word for word in NOT_AN_ORDER if word in said.lower()] == []
    with walk.window(DESKTOP) as desk:
        desk.enter(served, "cases", until="Open a file")
        upload(desk, file)
        desk.wait_for_text("From home: what")
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
    rows = [*team_rows(25), "A-900,54,monitor,24,30,general_progressive"]
    with walk.window(PHONE) as page:
        opened(page, served)
        content = "\n".join([HEADER, *rows]).encode()
        given(page, tmp_path / "in.csv", content, until="Rows left out")
        assert "26 rows, 25 of them good" in page.text()
        computed(page)
        assert "of about 25 people would gain" in page.text()
        assert sideways(page) <= 0
        table = walk.saved_file(page, "Download this table", tmp_path)
        text = table.read_text(encoding="utf-8")
        assert text.startswith("policy,people,")
        assert "A-0" not in text
        walk.put(page, "One eye test", "free")
        page.wait_for_text("free is refused; allowed: ", selector=".lg-refused")
        assert walk.in_the_window(page, ".lg-refused")
        assert page.outside_requests() == []
