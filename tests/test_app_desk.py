"""The Desk page: its pieces by hand, and the page without a browser, in numbers a person reads."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from app.form import case_of_answers, clear_ranges, compute, questions
from app.form.compute import Answer
from app.shell import drafts, words
from app.shell.words import hours
from app.views.desk import map, searches
from app.views.desk import words as desk_words
from app.views.desk.map import Column, Mark
from engine.case.results import Told
from engine.case.scene import usable_of
from engine.desk import places as desk_places
from engine.desk.moves import Move
from engine.desk.places import Place
from engine.tables import Judgements
from tests import examples
from tests.invented_result import invented_result

MAIN = Path(__file__).resolve().parents[1] / "app" / "main.py"
LONGEST_S = 120
SVG = "{http://www.w3.org/2000/svg}"
JUDGED = Judgements.standard()
HOSTILE = "x![a](http://example.invalid/a)<img src=//example.invalid/b>"
TALL = {
    **questions.EXAMPLE,
    "main.preset": "screen_24",
    "main.distance_cm": "68",
    "main.top_above_eye_cm": "8",
    "main.text_height_mm": "4",
    "main.desk_below_eye_cm": "60",
    "papers": "no",
    "other0.preset": "",
}
"""A screen far too high over a deep desk: there is room to lower it."""


@pytest.fixture(autouse=True)
def _own_drafts(monkeypatch):
    monkeypatch.setattr(drafts, "BOOK", drafts.DraftBook())
    monkeypatch.setattr("app.shell.state.BOOK", drafts.BOOK)


def case_of(answers):
    found = case_of_answers.ask(answers)
    assert found.case is not None, found.refused
    return found.case


def answer_of(answers) -> Answer:
    case = case_of(answers)
    return Answer(case, compute.answer(case))


# The map's numbers.


def test_the_lens_made_again_gives_the_share_the_search_found():
    found = answer_of(questions.EXAMPLE)
    for option in found.result.options:
        share = searches.sight(found.case, option, 0).share
        # Same arithmetic over the same points: only the order of the sums differs.
        assert abs(share - option.targets[0].comfortable_share) <= 1e-9, option.option


def test_the_region_ends_where_the_engine_says_no():
    case = case_of(questions.EXAMPLE)
    columns = searches.region(case, 0)
    target = case.targets[0]
    stop_mm = case.fit.vertex_mm + JUDGED.stop_beyond_vertex_mm
    tilt = desk_places.place_of(target, stop_mm=stop_mm).tilt_deg

    def limit(height: float, distance: float) -> str | None:
        return desk_places.obstacle(
            target, Place(height, distance, tilt), stop_mm=stop_mm, judgements=JUDGED
        )

    assert len(columns) > 5
    for column in columns:
        for height, way in ((column.low_cm, -1), (column.high_cm, 1)):
            assert limit(height, column.distance_cm) is None
            # Five halvings of 2 cm leave a sixteenth of a centimetre.
            assert limit(height + way * 0.07, column.distance_cm) is not None
    assert columns[0].distance_cm == 50.0


def test_a_screen_that_is_not_movable_has_no_region_and_says_so():
    case = case_of({**TALL, "main.fixed": True})
    assert searches.region(case, 0) == []
    option = next(one for one in compute.answer(case).options if one.option == "present_pair")
    sight = searches.sight(case, option, 0)
    assert (sight.nearest, sight.best) == (None, None)
    lines = desk_words.sight_lines("main screen", option, sight, None)
    assert "No other place is allowed for it." in lines
    assert lines[-1].endswith("it is told as not to be moved.")


def test_the_figures_agree_with_the_map_and_mark_what_is_not_allowed():
    found = answer_of(questions.EXAMPLE)
    option = found.result.option("present_pair")
    cells = searches.table_shares(found.case, option, 0)
    places = searches.sight(found.case, option, 0).places
    row = searches.TABLE_HEIGHTS_CM.index(-30.0)
    at = int(np.argmin(np.abs(places.heights_cm + 30.0)))
    column = int(np.argmin(np.abs(places.distances_cm - 70.0)))
    # The map's row is within 0.8 cm of the table's; one row of nine turning is 1/9 of the screen.
    assert abs(cells[row][2][0] - places.share[at, column]) <= 1 / 9 + 1e-9
    assert [allowed for _, allowed in cells[0]] == [False] * 5
    assert cells[searches.TABLE_HEIGHTS_CM.index(-20.0)][1][1]


def test_a_higher_seat_lowers_and_lengthens_the_line_of_sight():
    """By hand: 50 cm from the eye's centre, 30 below: 40 ahead; 10 higher, 40 below: 56.57."""
    stop_cm = (13.0 + JUDGED.stop_beyond_vertex_mm) / 10
    page = examples.paper(distance_cm=50 - stop_cm, centre_above_eye_cm=-30.0)
    case = examples.case(examples.screen(), page, examples.far())
    raised = searches.seat_raised(case, by_cm=10.0)
    assert raised.targets[1].centre_above_eye_cm == -40.0
    assert abs(raised.targets[1].distance_cm - (np.hypot(40, 40) - stop_cm)) <= 1e-9
    assert raised.targets[0].top_above_eye_cm == -4.0
    assert raised.targets[2] == case.targets[2]


def test_what_is_kept_goes_with_the_case():
    kept: dict = {}
    first, second = case_of(questions.EXAMPLE), case_of(TALL)
    counted = []
    for case in (first, first, second, first):
        work = searches.kept_for(kept, case)
        searches.once(work, "value", lambda: counted.append(1))
    assert len(counted) == 3


# Words.


@pytest.mark.parametrize(
    ("up", "away", "tilt", "said", "short"),
    [
        (-9, 0, 0, "lower the desk by 9 cm", "9 cm lower"),
        (4, 0, 0, "raise the desk by 4 cm", "4 cm higher"),
        (0, 5, 0, "move the desk 5 cm farther away", "5 cm farther"),
        (0, -5, 0, "move the desk 5 cm nearer", "5 cm nearer"),
        (-3, 6, 0, "lower the desk by 3 cm and move it 6 cm farther away",
         "3 cm lower, 6 cm farther"),
        (-3, 0, 10, "lower the desk by 3 cm and tilt its top 10° back",
         "3 cm lower, 10° tilt back"),
        (0, 0, -5, "tilt the top of the desk 5° forward", "5° tilt forward"),
        (0, 0, 0, "leave the desk where it is", ""),
    ],
)  # fmt: skip
def test_a_move_in_words(up, away, tilt, said, short):
    move = Move(Place(0, 0, 0), up, away, tilt, 1.0)
    assert desk_words.move_words(move, "desk") == said
    assert desk_words.short_move(move) == short


def test_every_limit_of_the_engine_has_its_words():
    source = (Path(desk_places.__file__)).read_text(encoding="utf-8")
    limits = set(re.findall(r'yield "(\w+)"', source))
    assert len(limits) == 10
    for limit in limits:
        assert desk_words.limit_words(limit)


def test_the_line_in_view_stays_short():
    found = answer_of(TALL)
    for option in found.result.options:
        look = searches.look_at({}, found, option.option, 0)
        said = desk_words.first_words("main screen", option, look.sight, look.then)
        assert len(said.split()) <= 20, said


def test_a_free_move_that_comes_before_any_lens_is_said_with_its_hours():
    from engine.assemble import advise

    case = case_of(TALL)
    result = advise(case, thorough=True)
    move = result.recommendation.desk_first
    assert move is not None
    assert move.change_cm < 0
    assert (
        f"Before any new lens: lower the main screen by {-move.change_cm:.0f} cm; the pair at hand "
        f"then gives {hours(move.comfortable_h)} h."
    ) in desk_words.sure_lines(case, result)


# The picture.


def drawn(share, *, marks=(), columns=(), title="t"):
    heights, distances = np.linspace(-60, 30, 60), np.linspace(40, 100, 25)
    text = map.desk_map(
        heights_cm=heights,
        distances_cm=distances,
        share=share(heights[:, None], distances[None, :]) * np.ones((60, 25)),
        columns=columns,
        marks=marks,
        title=title,
        description="d",
    )
    return text, ET.fromstring(text)


def area_of(path: str) -> float:
    """Area of the closed pieces of a path in square units, by the shoelace formula."""
    total = 0.0
    for piece in path.split("M")[1:]:
        points, x, y = [], 0.0, 0.0
        for kind, numbers in re.findall(r"([LHV]?)(-?[\d.]+(?: -?[\d.]+)?)", piece):
            values = [float(number) for number in numbers.split()]
            if kind == "H":
                x = values[0]
            elif kind == "V":
                y = values[0]
            else:
                x, y = values
            points.append((x, y))
        pairs = zip(points, points[1:] + points[:1], strict=True)
        total += abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2
    return total


def test_a_band_covers_the_area_where_the_share_is_reached():
    """Share falls with height from 1 at -40 cm to 0 at 10 cm: 0.9 is reached at -35 cm."""
    text, tree = drawn(lambda height, _: np.clip((10.0 - height) / 50.0, 0, 1))
    solid = [p for p in tree.iter(f"{SVG}path") if p.get("fill") == map.fill(3, "x")]
    scale = (map.WIDTH - 48.0) / 60.0
    lowest = next(h for h in np.linspace(-60, 30, 60) if h >= -44.0)  # the first row drawn
    expected = 60.0 * (-35.0 - lowest) * scale**2
    # Straight lines between rows 1.5 cm apart, coordinates to 0.1.
    assert abs(area_of(solid[0].get("d")) - expected) <= 0.01 * expected
    assert "90 &#37;" in text
    assert "50 &#37;" in text


def test_bands_differ_without_colour_and_the_key_names_each():
    assert len({map.fill(band, "n") for band in range(4)}) == 4
    key = html.unescape(map.key())
    for said in map.BAND_WORDS:
        assert said in key


def test_the_picture_is_well_formed_and_takes_no_markup_from_names():
    columns = [Column(50.0, -30.0, -17.0), Column(73.0, -30.0, -17.0)]
    marks = [Mark("now", 120.0, 40.0, HOSTILE), Mark("nearest", 65.0, -30.0, "9 cm lower"),
             Mark("blocked", 20.0, -90.0, "")]  # fmt: skip
    text, tree = drawn(lambda h, d: 0 * h * d, marks=marks, columns=columns, title=HOSTILE)
    assert "<img" not in text
    assert "](" not in text
    width, height = (float(one) for one in tree.get("viewBox").split()[2:])
    for circle in tree.iter(f"{SVG}circle"):
        if circle.get("r") == "6.5":
            assert 0 < float(circle.get("cx")) < width
            assert 0 < float(circle.get("cy")) < height


def test_a_map_without_an_allowed_place_is_drawn():
    text, _ = drawn(lambda h, d: 0 * h * d, marks=[Mark("now", 65.0, -10.0, "now")])
    assert ">now<" in text


# Taped ranges.


def texts(*values: str, number: int = 0) -> dict[str, str]:
    return {
        clear_ranges.widget(number, name): value
        for name, value in zip(clear_ranges.READERS, values, strict=False)
    }


def test_a_range_is_read_as_people_write_it():
    case = examples.case()
    reading = clear_ranges.read(texts("+1,5", "40", "39.37 in"), case)
    (taped,) = reading.taped
    # 100/40 = 2.5 = 1.5 + 0.5 + 0.5 and 100/100 = 1.0 = 1.5 - 0.5; deviations 0.063 and 0.010 D.
    assert clear_ranges.fitted_words(taped) == (
        "Focusing 0.50 D (0.38 to 0.62 D); blur tolerance 0.50 D (0.48 to 0.52 D) for text of "
        "10 arcmin."
    )


@pytest.mark.parametrize(
    ("values", "field", "allowed"),
    [
        (("1.5", "40", "64"), "farthest_clear_cm", "at least 67 cm"),
        (("1.5", "120", "100"), "nearest_clear_cm", "less than the farthest"),
        (("5", "40", "100"), "trial_add_d", "0 to 4 D"),
        (("1.5", "5", "100"), "nearest_clear_cm", "10 to 300 cm"),
        (("1.5", "forty", "100"), "nearest_clear_cm", "one number"),
        (("1.5", "40", "100", "2"), "text_arcmin", "5 to 60 arcmin"),
    ],
)
def test_a_refused_range_is_named_by_its_field(values, field, allowed):
    reading = clear_ranges.read(texts(*values), examples.case())
    assert reading.taped == ()
    assert list(reading.refused) == [clear_ranges.widget(0, field)]
    assert allowed in reading.refused[clear_ranges.widget(0, field)].allowed


def test_an_unfinished_range_is_neither_used_nor_refused():
    reading = clear_ranges.read(texts("1.5", "40"), examples.case())
    assert (reading.taped, reading.refused, reading.unfinished) == ((), {}, (0,))


def test_ranges_go_into_the_case_and_out_again():
    case = examples.case()
    values = texts("1.5", "33.3", "80") | texts("2", "30", "60", number=1)
    with_both = clear_ranges.into_case(case, values)
    assert [one.trial_add_d for one in with_both.measured_ranges] == [1.5, 2.0]
    assert usable_of(with_both, judgements=JUDGED)[1] == "measured_range"
    assert "in place of the 0.50 D that the add implies" in clear_ranges.used_words(with_both)
    assert clear_ranges.into_case(with_both, values | {clear_ranges.USED: False}) == case
    assert clear_ranges.into_case(with_both, {}) == case


# The page.


def whole(page: AppTest) -> AppTest:
    assert not page.exception
    assert words.FAULT not in [one.value for one in page.error]
    return page


def opened(answers=None) -> AppTest:
    """The Desk page on a draft with these answers."""
    book = drafts.BOOK
    draft = book.start()
    for name, value in (answers or {}).items():
        draft.put(name, value)
    page = AppTest.from_file(str(MAIN), default_timeout=LONGEST_S)
    page.query_params["draft"] = draft.token
    page.run()
    page.switch_page("views/desk/page.py")
    page.run()
    return whole(page)


def draft_of(page: AppTest) -> drafts.Draft:
    token = page.query_params["draft"]
    found = drafts.BOOK.find(token[0] if isinstance(token, list) else token)
    assert found is not None
    return found


def said(page: AppTest) -> str:
    """The page's words, without marks of structure."""
    pieces = "\n".join(one.value for one in page.markdown)
    return html.unescape(re.sub(r"<[^>]+>", " ", pieces.replace("<svg", "\n<svg")))


def typed(page: AppTest, **values: str) -> AppTest:
    for label, text in values.items():
        found = [one for one in page.text_input if one.label.startswith(label)]
        found[0].set_value(text)
    page.run()
    return whole(page)


def test_without_a_wearer_the_page_sends_to_the_interview():
    page = opened()
    assert "Type the age and the add there first" in said(page)
    assert not page.slider


def test_lower_the_screen_and_the_present_pair_will_do():
    page = opened(TALL)
    found = answer_of(TALL)
    look = searches.look_at({}, found, "present_pair", 0)
    lower_cm = -look.sight.nearest.up_cm
    assert look.sight.nearest.share >= 0.9
    assert 15 <= lower_cm <= 30
    then = compute.answer(desk_places.moved(found.case, 0, look.sight.nearest.place))
    now_h = found.result.option("present_pair").comfortable_h
    then_h = then.option("present_pair").comfortable_h
    assert then_h > now_h + 1.0
    text = said(page)
    assert f"Lower the main screen by {lower_cm:.0f} cm and the present pair will do." in text
    assert (
        f"the present pair gives {hours(then_h)} of 6 h comfortable; now it gives {hours(now_h)} h."
        in text
    )
    assert f"{lower_cm:.0f} cm lower" in text
    assert "without a move: single-vision computer" in text


def test_a_suggestion_is_solved_again_before_it_is_shown(monkeypatch):
    asked = []
    real = compute.answer

    def watched(case):
        asked.append(case.targets[0])
        return real(case)

    monkeypatch.setattr(compute, "answer", watched)
    opened(TALL)
    now = asked[0]
    moved = [one for one in asked if one.distance_cm == now.distance_cm and one != now]
    assert len(moved) == 1
    assert moved[0].centre_above_eye_cm is not None


def test_where_no_place_works_the_limit_is_named_with_the_best_share():
    text = said(opened(questions.EXAMPLE))
    found = answer_of(questions.EXAMPLE)
    sight = searches.sight(found.case, found.result.option("present_pair"), 0)
    assert sight.nearest is None
    assert f"for {100 * sight.best.share:.0f} % of it" in text
    assert f"{100 * sight.share:.0f} % of the main screen is comfortable" in text
    assert "its bottom edge would be less than 3 cm above the desk" in text
    assert "50 to 73 cm away" in text


def test_another_lens_is_chosen_and_the_map_follows():
    page = opened(questions.EXAMPLE)
    chooser = next(one for one in page.selectbox if one.label == "Through which lens")
    assert chooser.value == "present_pair"
    assert chooser.options[0] == "present pair (general progressive)"
    page = whole(chooser.set_value("office").run())
    assert "The main screen is comfortable through the office lens where it stands." in said(page)
    assert draft_of(page).values["desk.option"] == "office"


def test_the_reverse_names_the_lens_when_the_screen_stays():
    found = answer_of(questions.EXAMPLE)
    text = said(opened(questions.EXAMPLE))
    best = next(p for p in found.result.plans if p.plan == found.result.recommendation.plan)
    assert best.plan == "office"
    assert (
        f"If the main screen stays where it is: office lens, {hours(best.comfortable_h)} h" in text
    )


def test_seat_and_text_are_solved_again_for_every_lens():
    page = opened(TALL)
    page.slider[0].set_value(9)
    page.slider[1].set_value(150)
    page = whole(page.run())
    case = case_of(TALL)
    seat = compute.answer(searches.seat_raised(case, by_cm=9.0)).option("present_pair")
    text = compute.answer(desk_places.text_enlarged(case, 0, factor=1.5)).option("present_pair")
    read = " ".join(said(page).split())
    assert f"seat 9 cm higher {hours(seat.comfortable_h)} h" in read
    assert f"main screen: text at 150 % {hours(text.comfortable_h)} h" in read
    assert "add a footrest" in read


def test_several_stations_name_the_lens_for_all_and_the_one_to_change():
    answers = {
        **questions.EXAMPLE,
        "part0.name": "shop counter",
        "part0.hours": "2",
        "part0.slots": ["other0"],
    }
    case = case_of(answers)
    found = searches.stations_of(case)
    worst = found.stations[0]
    read = " ".join(said(opened(answers)).split())
    assert "One lens for every part of the day" in [one.value for one in opened(answers).header]
    assert f"{worst.activity} {hours(worst.hours)} {100 * worst.share:.0f} %" in read
    if worst.share < 0.9:
        assert f"The part to change is {worst.activity}" in read
    else:
        assert "serves every part of the day" in read


def test_how_sure_is_tested_on_demand_and_kept_with_the_draft_only():
    page = opened(questions.EXAMPLE)
    button = next(one for one in page.button if one.key == "desk-test")
    page = whole(button.click().run())
    result = draft_of(page).results["tested"].result.recommendation
    text = said(page)
    assert "without a move: office lens" in text
    assert f"it stays the best in {100 * result.winner_share:.0f} %." in text
    assert "In 300 trials" in text
    assert not [one for one in page.button if one.key == "desk-test"]
    if result.depends_on is not None and result.depends_on.turns_at is not None:
        turns_at = desk_words.number(result.depends_on.turns_at)
        unit = result.depends_on.unit.replace("ratio", "times the usual")
        assert f"At {turns_at} {unit}" in text
    draft = draft_of(page)
    drafts.BOOK.delete(draft.token)
    assert draft.results == {}


def test_a_taped_range_is_refused_beside_its_field_then_used():
    page = typed(opened(questions.EXAMPLE), Trial="1.5", Nearest="40", Farthest="64")
    alerts = [one.value for one in page.markdown if 'role="alert"' in one.value]
    assert len(alerts) == 1
    assert "64 is refused; allowed: at least 67 cm" in html.unescape(alerts[0])
    assert "15 to 600 cm" in html.unescape(alerts[0])
    assert draft_of(page).results["answer"].case.measured_ranges == ()
    page = typed(page, Farthest="100")
    text = said(page)
    assert "refused" not in text
    assert "Focusing 0.50 D (0.38 to 0.62 D)" in text
    assert "The answer uses 0.50 D of focusing in place of the 0.50 D that the add implies" in text
    answered = draft_of(page).results["answer"]
    assert answered.case.measured_ranges[0].farthest_clear_cm == 100.0
    assert answered.result.usable_accommodation_d.basis == "measured_range"
    page.checkbox[0].uncheck()
    page = whole(page.run())
    assert draft_of(page).results["answer"].case.measured_ranges == ()
    assert "The answer uses 0.50 D of focusing that the add implies." in said(page)


def test_a_stop_takes_the_whole_page(monkeypatch):
    def stops(case):
        stop = Told(id="invented_stop", text="Send to an eye clinic today.")
        return invented_result(case).model_copy(update={"stops": (stop,), "options": ()})

    monkeypatch.setattr(compute, "answer", stops)
    page = opened(questions.EXAMPLE)
    assert "Send to an eye clinic today." in said(page)
    assert not page.selectbox
    assert not page.slider


def test_a_day_without_a_screen_has_nothing_to_move():
    case = examples.case(examples.paper(), examples.far())
    assert searches.screens(case) == []
