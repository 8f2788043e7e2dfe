"""The home check as a file in a real browser: no server, no network, a phone's window.

Most visits are pressed and typed by one script, for speed; the keyboard has a test of its own.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from app.home_file.build import home_file
from app.shell.wishes import LEAST_PX
from engine import tables
from engine.home.answers import STEPS, HomeAnswers, choices
from engine.home.case import read_visit_file
from engine.units import parse_length_cm
from tests.browser import seen
from tests.browser.harness import PHONE, Browser, browser
from tests.browser.seen import WORDS_RATIO
from tests.browser.walk import pages_of
from tests.home_detector import orders_in, stray_numbers_in
from tests.home_sessions import invented, random_session
from tests.home_visits import NOTHING_MEASURED, READER, TWO_SCREENS, as_asked, presses

VISITS = 60
ALL_CLEAR = ("all is well", "is fine", "are fine", "healthy eyes", "no need", "nothing wrong")
PRESS = """
const at = () => document.getElementById('title').textContent;
const el = (id) => { const found = document.getElementById(id);
  if (!found) throw new Error(`no ${id} at: ${at()}`); return found; };
const press = (steps) => { for (const [id, text] of steps) {
  const before = at();
  if (text === null) el(id).click();
  else { el(id).value = text; el(id).dispatchEvent(new Event('input', {bubbles: true})); }
  if (id === 'next' && at() === before && !document.querySelector('.field .wrong')) el(id).click();
} return at(); };
"""
"""A doubt that does not block holds one back once; the second press goes on."""
VISIT = f"""{PRESS}
return arguments[0].map((steps) => {{
  el('delete').click();
  press(steps);
  const main = document.getElementById('check').cloneNode(true);
  const out = '.facts td:last-child, .bring, footer, svg';
  main.querySelectorAll(out).forEach((one) => one.remove());
  const said = [...main.querySelectorAll('p, li, dd, td')].map((one) => one.textContent);
  return [at(), said.join('\\n'), Check.answers()];
}});
"""
UNSEEN = """
const parts = [...document.querySelectorAll('#check :is(input, button, textarea, summary)')]
  .map(one => one.closest('label') ?? one).filter(one => one.checkVisibility());
return [parts.length, parts.filter(one => {
  one.scrollIntoView({block: 'center', behavior: 'instant'});
  const r = one.getBoundingClientRect();
  const there = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
  return r.width < arguments[0] || r.height < arguments[0] || !there || !one.contains(there);
}).map(one => one.outerHTML.slice(0, 120))];
"""
"""How many fields and buttons are drawn, and those that cannot be seen and hit in their middle."""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The home check, written as anybody gets it."""
    path = tmp_path_factory.mktemp("home") / "home-check.html"
    path.write_text(home_file(), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def phone() -> Iterator[Browser]:
    """One browser of the size of a phone for all tests here."""
    with browser(size=PHONE) as page:
        yield page


@pytest.fixture
def page(phone: Browser, file: Path) -> Browser:
    """The file, opened anew; its hours are ready."""
    phone.resize(PHONE)
    seen.prefer(phone, "light")
    phone.driver.get(file.as_uri())
    phone.wait_for(lambda: phone.driver.execute_script("return Hours.ready"), "the hours")
    return phone


def at(page: Browser, answers: HomeAnswers, until: str = "result") -> None:
    """Go as far as a question, or to the result, with these answers."""
    page.driver.execute_script(f"{PRESS} press(arguments[0])", presses(answers, until=until))


def do(page: Browser, *steps: tuple[str, str | None]) -> str:
    """Press and type; return the heading then."""
    return str(page.driver.execute_script(f"{PRESS} return press(arguments[0])", steps))


def shown(page: Browser, selector: str = "#check") -> str:
    """Return the words of the first such part, none where there is no such part."""
    script = "return (document.querySelector(arguments[0]) || {}).innerText || ''"
    return str(page.driver.execute_script(script, selector))


def test_random_visits_give_their_answers_and_order_nothing(page: Browser) -> None:
    chance, flawed, moves = random.Random(20261125), [], 0
    told = [as_asked(random_session(chance)) for _ in range(VISITS)]
    made = page.driver.execute_script(VISIT, [presses(one) for one in told])
    for answers, (title, said, got) in zip(told, made, strict=True):
        assert title == "Your result", title
        assert got == answers.model_dump(mode="json", exclude_none=True)
        flawed += orders_in(said) + stray_numbers_in(said).split()
        flawed += [words for words in ("NaN", "undefined", "null", "{") if words in said]
        flawed += [words for words in ALL_CLEAR if words in said.lower()]
        moves += "It costs nothing" in said
    assert flawed == []
    assert moves >= VISITS // 20, "the visits must reach the sentences of a move"
    assert [url for url in page.requests() if not url.startswith(("file:", "blob:", "data:"))] == []
    kept = "return [localStorage.length, sessionStorage.length, document.cookie, location.search]"
    assert page.driver.execute_script(kept) == [0, 0, "", ""]


def test_every_question_is_seen_and_clean_in_both_themes_and_fits_a_phone(page: Browser) -> None:
    flaws: dict[str, list[object]] = {}
    page.resize((PHONE[0], 9000))
    for step in ("stop", *STEPS, "result"):
        do(page, ("delete", None))
        if step == "stop":
            do(page, ("flags.eye_injury", None))
        at(page, TWO_SCREENS, "flags" if step == "stop" else step)
        unfold = "document.querySelectorAll('details').forEach(one => one.open = true)"
        page.driver.execute_script(unfold)
        found: list[object] = [*page.axe()]
        for colours in ("light", "dark"):
            seen.prefer(page, colours)
            found += page.axe(colours=True)
            found += [one for one in seen.words_in_pictures(page) if one[1] < WORDS_RATIO]
        wide = page.driver.execute_script(
            "return document.documentElement.scrollWidth - innerWidth"
        )
        many, unseen = page.driver.execute_script(UNSEEN, LEAST_PX)
        assert many >= 3, step
        found += unseen
        flaws |= {step: [*found, wide]} if found or wide > 0 else {}
    assert flaws == {}


def test_a_reader_with_a_laptop_is_answered(page: Browser) -> None:
    at(page, READER)
    lines = shown(page, "dl")
    assert [one for one in ("Today", "At the visit", "Still missing") if one not in lines] == []
    assert "Do not drive, walk or take stairs in reading glasses" in lines
    assert text("known_distance", things="your phone").capitalize() in lines
    told = shown(page, ".told")
    for choice in (*(READER.coping or ()), *(READER.bothers or ())):
        assert answer(choice) in told


def answer(choice: str) -> str:
    """Return what is said to who ticked a choice."""
    return next(row["answer"] for row in tables.rows("home_choices") if row["choice"] == choice)


def text(identity: str, **values: str) -> str:
    """Return a sentence of the home check with its values."""
    return tables.by_id("home_texts")[identity]["text"].format_map(values)


def test_two_screens_too_high_bring_a_code_and_a_file(page: Browser, tmp_path: Path) -> None:
    at(page, TWO_SCREENS)
    assert "lower" in shown(page, "dl")
    assert text("known_all") in shown(page, "dl")
    assert page.driver.execute_script("return document.querySelector('.code svg') !== null")
    page.downloads_to(tmp_path)
    do(page, ("file", None))
    page.wait_for((tmp_path / "my-desk.json").exists, "the file")
    kept = read_visit_file((tmp_path / "my-desk.json").read_text(encoding="utf-8"))
    assert kept == as_asked(TWO_SCREENS)


def test_who_measured_nothing_is_told_so_and_measures_in_a_press(page: Browser) -> None:
    at(page, NOTHING_MEASURED)
    assert text("known_nothing") in shown(page, "dl")
    assert "costs nothing" not in shown(page, "dl"), "nobody knows where the screen is"
    assert not page.driver.execute_script("return document.querySelector('.side')")
    sign = choices("flags")["new_flashes_or_floaters"]
    assert text("seen", sign=sign) in shown(page, ".first")
    assert do(page, ("measure", None)) == title_of("distances")
    assert do(page, ("s0.distance", "70"), ("to_result", None)) == RESULT
    assert "usual desk" not in shown(page, "dl")


def title_of(step: str) -> str:
    """Return the heading of a question."""
    return tables.by_id("home_questions")[step]["title"]


RESULT = "Your result"


@pytest.mark.parametrize("sign", list(choices("flags")))
def test_no_press_leads_past_a_sign_but_a_doctor_or_a_mistake(page: Browser, sign: str) -> None:
    assert do(page, (f"flags.{sign}", None)) == "Please stop here"
    assert "doctor" in shown(page) or "emergency" in shown(page)
    ids = "return [...document.querySelectorAll('#check button')].map((one) => one.id)"
    offered = page.driver.execute_script(ids)
    assert offered == ["stop_mistake", "stop_seen", "delete", "print_blank"]
    assert do(page, ("stop_mistake", None)) == title_of("flags")
    assert do(page, ("next", None)) == title_of("flags"), "the box that says none is not ticked"
    do(page, (f"flags.{sign}", None), ("stop_seen", None))
    assert shown(page, "h2") == title_of("age")


def test_a_doctor_who_saw_one_sign_has_not_seen_the_next(page: Browser) -> None:
    do(page, ("flags.eye_injury", None), ("stop_seen", None), ("back", None))
    assert do(page, ("flags.painful_red_eye", None)) == "Please stop here"


def test_a_skip_drops_what_was_doubted_and_not_only_what_was_refused(page: Browser) -> None:
    at(page, READER, "distances")
    assert do(page, ("s0.distance", "30")) == title_of("distances")
    page.driver.execute_script("document.getElementById('next').click()")
    assert "If you meant inches" in shown(page, "[id='s0.distance-note']")
    assert do(page, ("skip", None)) == title_of("heights")
    told = page.driver.execute_script("return Check.answers()")
    assert "distance_cm" not in told["screens"][0]
    assert told["skipped"] == ["distances"]


def test_a_sign_ticked_later_stops_the_result(page: Browser) -> None:
    at(page, TWO_SCREENS)
    assert do(page, ("change.flags", None), ("flags.eye_injury", None)) == "Please stop here"
    page.driver.execute_script("history.back()")
    page.wait_for(lambda: shown(page, "h2") == "Please stop here", "the stop, still there")


def test_a_half_typed_height_moves_no_page_and_is_dropped_by_skip(page: Browser) -> None:
    at(page, READER, "heights")
    title = title_of("heights")
    assert do(page, ("eyes", "46"), ("s0.top", "2")) == title
    assert do(page, ("next", None)) == title
    assert "44 cm (17 in) below your eyes" in shown(page, "[id='s0.top-note']")
    assert page.focused() == "From the desk up to the top edge of your main screen"
    assert do(page, ("s0.top", "21"), ("next", None)) == title_of("reading")
    do(page, ("back", None), ("s0.top", "1"))
    assert do(page, ("skip", None)) == title_of("reading")
    told = page.driver.execute_script("return Check.answers()")
    assert told["screens"][0]["distance_cm"] == 52
    assert told["eyes_above_desk_cm"] == 46
    assert "top_above_desk_cm" not in told["screens"][0]


def test_one_answer_is_changed_in_one_press(page: Browser) -> None:
    at(page, TWO_SCREENS)
    do(page, ("change.distances", None), ("s0.distance", "75"))
    assert do(page, ("to_result", None)) == RESULT
    assert "75 cm (30 in)" in shown(page, ".facts")


def test_under_40_hears_it_at_the_first_question(page: Browser) -> None:
    do(page, ("flags.none", None), ("next", None), ("age.under_40", None))
    assert shown(page, "h2") == title_of("age")
    assert "works out nothing about glasses" in shown(page, ".doubt")
    young = READER.model_copy(update={"age": "under_40"})
    do(page, ("delete", None))
    at(page, young)
    assert "works out nothing" in shown(page, "dl")


LENGTHS = ["65", "65,5", " 65.5 cm", "500 mm", "0.5 m", "22 in", '22"', "22″", "22 inches"]
NO_LENGTHS = ["6²5", "1e2", "-50", "abc", "5 5", "65 kg", "7 h", "½", "６５"]


def test_lengths_are_read_as_the_interview_reads_them(page: Browser) -> None:
    at(page, READER, "distances")
    for text in LENGTHS:
        do(page, ("s0.distance", text))
        got = page.driver.execute_script("return Check.answers().screens[0].distance_cm")
        assert abs(got - parse_length_cm(text, field="distance")) <= 0.05 + 1e-9, "to a millimetre"
    for text in NO_LENGTHS:
        assert do(page, ("s0.distance", text), ("next", None)) == title_of("distances")
        said = shown(page, "[id='s0.distance-note']")
        assert "15 cm (6 in) to 250 cm (98 in)" in said, text
        assert ("Please write a number" in said) == (text != "-50"), text
    for text, echoed in (("0.2", "0.2 cm"), ("250.4", "250.4 cm"), ("2 in", "2 in")):
        do(page, ("s0.distance", text), ("next", None))
        assert shown(page, "[id='s0.distance-note']").startswith(f"{echoed} does not fit"), text


def test_sheets_of_paper_and_inches_are_units_and_keep_what_was_typed(page: Browser) -> None:
    at(page, READER, "distances")
    for unit, cm, shows in (("a4", 66.8, "2.25"), ("in", 66.8, "26.3"), ("cm", 66.8, "66.8")):
        do(page, (f"unit.{unit}", None))
        if unit == "a4":
            do(page, ("s0.distance", "2.25"))
        field = page.driver.execute_script("return document.getElementById('s0.distance').value")
        assert field == shows
        got = page.driver.execute_script("return Check.answers().screens[0].distance_cm")
        assert abs(got - cm) <= 0.1 + 1e-9, "a hundredth of a unit, to a millimetre"


SCREEN = {"size_in": 24.0, "distance_cm": 65.0, "top_above_desk_cm": 46.0}
HIGH = {**SCREEN, "top_above_desk_cm": 120.0}
"""Its top edge is 72 cm above the eyes: 72 / 0.9 = 80 cm away at the least."""


def reading(papers: float, phone: float | None = None) -> dict[str, object]:
    """Papers and a phone at these distances."""
    pages = {"papers": papers, "phone": phone}
    return {"reading": [{"what": what, "distance_cm": cm} for what, cm in pages.items() if cm]}


DOUBTS = [
    ({"screens": [{**SCREEN, "distance_cm": 34.0}]},
     {"screens": [{**SCREEN, "distance_cm": 33.9}]}),
    ({"screens": [{**SCREEN, "distance_cm": 85.0, "reach": "touch"}]},
     {"screens": [{**SCREEN, "distance_cm": 85.1, "reach": "touch"}]}),
    ({"screens": [{**SCREEN, "distance_cm": 50.0, "reach": "no"}]},
     {"screens": [{**SCREEN, "distance_cm": 49.9, "reach": "no"}]}),
    ({"eyes_above_desk_cm": 70.0}, {"eyes_above_desk_cm": 70.1}),
    ({"eyes_above_desk_cm": 30.0}, {"eyes_above_desk_cm": 29.9}),
    ({"screens": [{**SCREEN, "top_above_desk_cm": 25.9}]},
     {"screens": [{**SCREEN, "top_above_desk_cm": 25.8}]}),
    ({"screens": [{**HIGH, "distance_cm": 80.0}]},
     {"screens": [{**HIGH, "distance_cm": 79.9}]}),
    (reading(75.0), reading(75.1)),
    (reading(20.0), reading(19.9)),
    (reading(40.0, 65.0), reading(40.0, 65.1)),
]  # fmt: skip
"""Measures at the limit of each doubt, and just past it."""


def test_a_height_and_a_distance_that_cannot_both_be_reach_no_result(page: Browser) -> None:
    """A far larger screen is told after the measures; its middle is then too low for 30 cm."""
    low = {"size_in": 19.0, "distance_cm": 30.0, "top_above_desk_cm": 26.0}
    at(page, invented(screens=[low], eyes_above_desk_cm=36.0))
    assert shown(page, "h2") == RESULT
    do(page, ("change.screens", None), ("s0.size", "43"))
    assert do(page, ("to_result", None)) == title_of("heights")
    assert "at that height it is 41 cm (17 in) away or more" in shown(page, ".wrong")
    assert do(page, ("to_result", None)) == title_of("heights")
    do(page, ("back", None), ("back", None), ("s0.size", "19"))
    assert do(page, ("to_result", None)) == RESULT


def test_each_doubt_begins_where_its_number_says(page: Browser) -> None:
    """24 inch, 16:9, is 29.9 cm high: tilted by 30 degrees it reaches 25.9 cm up."""
    for good, bad in DOUBTS:
        for changes, count in ((good, 0), (bad, 1)):
            do(page, ("delete", None))
            usual = {"screens": [SCREEN], "hours": None, "skipped": ["hours"], "others": []}
            answers = invented(**{**usual, "reading": [], **changes})
            script = (
                f"{PRESS} try {{ press(arguments[0]) }} catch {{ /* one that blocks */ }}"
                "return Check.doubts().map((one) => one.text)"
            )
            found = page.driver.execute_script(script, presses(answers, until="others"))
            assert len(found) == count, (changes, found)


def test_the_keyboard_alone_goes_through_the_first_questions(page: Browser) -> None:
    def press(*keys: str) -> None:
        ActionChains(page.driver).send_keys(*keys).perform()

    def tab_to(words: str) -> None:
        for _ in range(40):
            press(Keys.TAB)
            if page.focused().startswith(words):
                return
        raise AssertionError(f"{words} is not reached")

    tab_to("None of these is true")
    press(Keys.SPACE)
    tab_to("Next")
    press(Keys.ENTER)
    assert page.driver.execute_script("return document.activeElement.textContent") == title_of(
        "age"
    )
    tab_to("Under 40")
    press(Keys.SPACE, Keys.ARROW_DOWN)
    assert page.focused().startswith("40 to 44"), "the words drawn anew leave the focus where it is"
    tab_to("Next")
    press(Keys.ENTER)
    assert shown(page, "h2") == title_of("glasses")
    press(Keys.ALT, Keys.LEFT)


def test_back_in_the_browser_is_a_question_back_and_keeps_the_answers(page: Browser) -> None:
    at(page, READER, "coping")
    address = page.driver.current_url
    page.driver.back()
    page.wait_for(lambda: shown(page, "h2") == title_of("glasses"), "the question before")
    checked = "return document.querySelector('input:checked').id"
    assert page.driver.execute_script(checked) == "glasses.sv_near"
    assert page.driver.current_url == address


def test_the_longest_answers_and_the_empty_sheet_print_on_one_page(page: Browser) -> None:
    every = {name: list(choices(name)) for name in ("coping", "bothers", "tell", "others", "needs")}
    screen = {"size_in": 27.0, "distance_cm": 85.0, "top_above_desk_cm": 53.0}
    screens = [screen, {**screen, "side": "left"}, {**screen, "side": "right"}]
    pages = [{"what": what, "distance_cm": 40.0} for what in choices("reading")]
    longest = invented(**every, screens=screens, reading=pages, hours=None, skipped=["hours"])
    at(page, longest)
    page.driver.execute_script("window.print = () => {}")
    for button, words in (("print", "Name (by hand)"), ("print_blank", "question sheet")):
        do(page, (button, None))
        assert pages_of(page, preferCSSPageSize=True) == 1, button
        page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        assert words in page.driver.execute_script("return document.body.innerText")
        page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def test_an_old_page_asks_for_a_new_one(phone: Browser, tmp_path: Path) -> None:
    for made, asks in ((date(2020, 5, 1), True), (date.today(), False)):
        path = tmp_path / f"{made}.html"
        path.write_text(home_file(made=made), encoding="utf-8")
        phone.driver.get(path.as_uri())
        assert ("Ask your optician for a new one" in shown(phone)) is asks


def test_without_script_it_has_the_signs_the_sheet_and_the_way_to_open_it(
    phone: Browser, file: Path
) -> None:
    phone.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    phone.driver.get(file.as_uri())
    phone.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
    said = shown(phone, "body")
    for words in (*choices("flags").values(), "How to open this page", "question sheet"):
        assert words in said
