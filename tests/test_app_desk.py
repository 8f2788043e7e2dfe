"""The Desk page: its pieces by hand, and the page without a browser, in numbers a person reads."""

from __future__ import annotations

import html
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app.form import case_of_answers, clear_ranges, compute, questions
from app.form.compute import Answer
from app.views.desk import kept as desk_kept
from app.views.desk import map
from app.views.desk import words as desk_words
from app.views.desk.map import Mark
from engine import wording
from engine.case.results import Told
from engine.case.scene import usable_of
from engine.desk import moves, screen
from engine.desk import places as desk_places
from engine.desk.places import Place
from engine.desk.region import Column, region
from engine.desk.stations import stations
from engine.tables import Judgements
from engine.wording import capital, hours, shift
from tests import examples
from tests.as_read import as_read
from tests.invented_result import invented_result
from tests.pages import draft_of, opened, said, typed, whole, widget

SVG = "{http://www.w3.org/2000/svg}"
JUDGED = Judgements.standard()
HOSTILE = "x![a](http://example.invalid/a)<img src=//example.invalid/b>"
ANSWERS: dict[str, Answer] = {}
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
SHOP = {
    **questions.EXAMPLE,
    "part0.name": "shop counter",
    "part0.hours": "2",
    "part0.slots": ["other0"],
}
"""Two parts of a day, served best by two pairs."""


pytestmark = pytest.mark.usefixtures("own_drafts", "answers_once")


def case_of(answers):
    found = case_of_answers.ask(answers)
    assert found.case is not None, found.refused
    return found.case


def answer_of(answers) -> Answer:
    key = repr(sorted(answers.items(), key=str))
    if key not in ANSWERS:
        case = case_of(answers)
        ANSWERS[key] = Answer(case, compute.answer(case))
    return ANSWERS[key]


def seen(found: Answer, name: str):
    return screen.sight(found.case, found.result, name, 0, judgements=JUDGED)


# The page's numbers.


def test_every_lens_made_again_gives_the_hours_of_the_answer():
    found = answer_of(questions.EXAMPLE)
    for option in found.result.options:
        assert abs(seen(found, option.option).hours_h - option.comfortable_h) <= 1e-9


def test_two_pairs_made_again_give_the_hours_of_the_answer():
    found = answer_of(SHOP)
    plans = [one for one in found.result.plans if len(one.pairs) == 2]
    assert plans
    for plan in plans[:3]:
        there = seen(found, plan.plan)
        assert abs(there.hours_h - plan.comfortable_h) <= 1e-9
        assert there.option in {pair.option for pair in plan.pairs}


def test_every_plan_the_recommendation_names_is_among_the_plans():
    said_of = answer_of(SHOP).result.recommendation
    names = [said_of.plan, *(one.plan for one in (*said_of.as_good, *said_of.more_hours))]
    assert len(names) > 2
    for name in names:
        assert answer_of(SHOP).result.plan(name).plan == name


def test_the_move_shown_is_the_one_the_recommendation_tells():
    found = answer_of(TALL)
    told = found.result.recommendation.moves
    assert {one.plan for one in told} >= {"present_pair"}
    for one in told:
        move = seen(found, one.plan).move
        assert (move.change, move.before_h, move.after_h) == (
            one.change, one.before_h, one.after_h,
        )  # fmt: skip


def test_the_region_ends_where_the_engine_says_no():
    case = case_of(questions.EXAMPLE)
    target = case.targets[0]
    stop_mm = case.fit.vertex_mm + JUDGED.stop_beyond_vertex_mm
    found = region(case, 0, stop_mm=stop_mm, judgements=JUDGED)
    tilt = desk_places.place_of(target, stop_mm=stop_mm).tilt_deg

    def limit(height: float, distance: float) -> str | None:
        places = [Place(height, distance, tilt)]
        (found,) = desk_places.obstacles(target, places, stop_mm=stop_mm, judgements=JUDGED)
        return found

    assert len(found.columns) > 5
    for column in found.columns:
        for height, way in ((column.low_cm, -1), (column.high_cm, 1)):
            assert limit(height, column.distance_cm) is None
            # Five halvings of 2 cm leave a sixteenth of a centimetre.
            assert limit(height + way * 0.07, column.distance_cm) is not None
    assert found.columns[0].distance_cm == 50.0
    assert {"near", "high", "desk"} <= set(found.limits)


def test_a_screen_that_is_not_movable_has_no_region_and_says_so():
    found = answer_of({**TALL, "main.fixed": True})
    look = desk_kept.look_at({}, found, "present_pair", 0)
    assert look.sight.region.columns == ()
    assert look.sight.move is None
    lines = desk_words.sight_lines(found.case, look)
    assert "No other place is allowed for it." in lines
    assert lines[-1].endswith("it cannot be moved.")


def test_the_figures_agree_with_the_map_and_mark_what_is_not_allowed():
    there = seen(answer_of(questions.EXAMPLE), "present_pair")
    row = screen.FIGURE_HEIGHTS_CM.index(-30.0)
    at = int(np.argmin(np.abs(there.places.heights_cm + 30.0)))
    column = int(np.argmin(np.abs(there.places.distances_cm - 70.0)))
    assert there.places.heights_cm[at] == -30.0
    assert there.places.distances_cm[column] == 70.0
    assert abs(there.figures[row][2].share - there.places.share[at, column]) <= 1e-9
    assert [one.is_allowed for one in there.figures[0]] == [False] * 5
    assert there.figures[screen.FIGURE_HEIGHTS_CM.index(-20.0)][1].is_allowed


def test_what_is_kept_goes_with_the_case():
    kept: dict = {}
    first, second = case_of(questions.EXAMPLE), case_of(TALL)
    counted = []
    for case in (first, first, second, first):
        work = desk_kept.kept_for(kept, case)
        desk_kept.once(work, "value", lambda: counted.append(1))
    assert len(counted) == 3


# Words.


def test_every_limit_of_the_engine_has_its_words():
    source = (Path(desk_places.__file__)).read_text(encoding="utf-8")
    limits = set(re.findall(r'yield "(\w+)"', source))
    assert len(limits) == 10
    for limit in limits:
        assert desk_words.limit_words(limit)


def test_the_line_in_view_stays_short():
    found = answer_of(TALL)
    for option in found.result.options[:5]:
        look = desk_kept.look_at({}, found, option.option, 0)
        said = desk_words.first_words("main screen", look)
        assert len(said.split()) <= 20, said


def test_the_line_without_a_move_says_why():
    """Comfortable already, nothing allowed, and nothing that is worth it: each its own words."""
    found = answer_of(TALL)
    look = desk_kept.look_at({}, found, "present_pair", 0)
    still = replace(look.sight, move=None, is_comfortable=False)
    nowhere = replace(still, region=replace(still.region, columns=()))
    for sight, words in (
        (replace(still, is_comfortable=True), "it is comfortable through the present pair."),
        (still, "no allowed move gains a quarter of an hour"),
        (nowhere, "Leave the main screen where it is: about "),
    ):
        assert words in desk_words.first_words("main screen", replace(look, sight=sight))
        assert desk_words.stands_words(found.result, replace(look, sight=sight)).startswith(
            "recommended: "
        )
    assert look.sight.move is not None
    assert desk_words.stands_words(found.result, look).startswith("without the move: ")


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


def test_no_word_of_the_map_is_too_small_on_a_phone():
    """There it is 326 px wide."""
    marks = [Mark("now", 60.0, -10.0, "now"), Mark("best", 60.0, -20.0, "10 cm lower")]
    _, root = drawn(lambda height, _: -height / 60, marks=marks)
    sizes = {float(one.get("font-size")) for one in root.iter(f"{SVG}text")}
    assert min(sizes) * 326 / map.WIDTH >= 11


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
    for words in map.BAND_WORDS:
        assert words in key


def test_the_picture_is_well_formed_and_takes_no_markup_from_names():
    columns = [Column(50.0, -30.0, -17.0), Column(73.0, -30.0, -17.0)]
    marks = [Mark("now", 120.0, 40.0, HOSTILE), Mark("best", 65.0, -30.0, "9 cm lower"),
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
        for name, value in zip(clear_ranges.ASKED, values, strict=False)
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
        (("", "-5"), "nearest_clear_cm", "10 to 300 cm"),
        (("", "", "", "2"), "text_arcmin", "5 to 60 arcmin"),
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
    assert "in place of the 0.50 D from the prescribed add" in clear_ranges.used_words(with_both)
    assert clear_ranges.into_case(with_both, values | {clear_ranges.USED: False}) == case
    assert clear_ranges.into_case(with_both, {}) == case


# The page.


def test_no_figure_is_parted_from_its_unit_at_the_end_of_a_line():
    pieces = (one.value for one in opened("desk", questions.EXAMPLE).markdown)
    words = re.sub(r"<[^>]+>", "", "\n".join(one for one in pieces if "<svg" not in one))
    assert re.findall(r"\d (?:cm\b|h\b|%|&#37;)", words) == []
    assert "\u00a0cm" in words


def test_without_a_wearer_the_page_sends_to_the_interview():
    page = opened("desk")
    assert "Type the age and the add there first" in said(page)
    assert not page.slider


def told_of(found: Answer, plan: str):
    return next(one for one in found.result.recommendation.moves if one.plan == plan)


def test_the_page_says_the_hours_before_and_after_that_the_answer_tells():
    found = answer_of(TALL)
    move = told_of(found, "present_pair")
    assert move.after_h > move.before_h + 1.0
    page = opened("desk", {**TALL, "desk.option": "present_pair"})
    text = said(page)
    what = capital(wording.move("the main screen", **move.change.model_dump()))
    assert f"{what}: {hours(move.after_h)} instead of {hours(move.before_h)} h." in text
    assert f"{what}: {hours(move.after_h)} of 6 h instead of {hours(move.before_h)}." in text
    assert shift(**move.change.model_dump()) in text
    there = desk_kept.look_at({}, found, "present_pair", 0).there
    if [one.option for one in there.best] == ["present_pair"]:
        assert "There the present pair is still the best choice." in text
    else:
        assert f"The best choice there: {desk_words.best_words(there)}." in text


def test_a_move_put_first_is_the_plan_to_choose_there():
    """What `advise` puts first and what the page says of the moved desk are one answer."""
    found = answer_of({**TALL, "present.liked": "yes", "main.text_height_mm": "4.5"})
    for move in found.result.recommendation.moves:
        there = desk_kept.look_at({}, found, move.plan, 0).there
        if move.put_first:
            assert [one.option for one in there.best] == ["present_pair"]


def test_where_no_place_is_comfortable_the_limit_is_named():
    found = answer_of(questions.EXAMPLE)
    look = desk_kept.look_at({}, found, "present_pair", 0)
    assert not look.sight.is_comfortable_after
    text = said(opened("desk", {**questions.EXAMPLE, "desk.option": "present_pair"}))
    assert f"About {100 * look.sight.share:.0f} % of it is comfortable" in text
    assert desk_words.limit_words(look.sight.blocked.limit) in text
    assert "50 to 73 cm away" in text


def test_the_page_follows_what_is_put_first_until_a_lens_is_chosen():
    found = answer_of(questions.EXAMPLE)
    page = opened("desk", questions.EXAMPLE)
    chooser = widget(page, "selectbox", "Through which lens")
    assert chooser.value == desk_kept.IN_VIEW
    assert chooser.options[0].startswith("recommended: ")
    assert chooser.options[1] == "present pair (general progressive)"
    first = desk_words.lens_words([found.result.option(found.result.recommendation.plan)])
    assert f"through {first}" in said(page)
    page = whole(chooser.set_value("bifocal_desk").run())
    assert "through the intermediate/near bifocal" in said(page)
    assert draft_of(page).values["desk.option"] == "bifocal_desk"


def test_the_reverse_names_the_plan_when_the_screen_stays():
    found = answer_of(questions.EXAMPLE)
    text = said(opened("desk", questions.EXAMPLE))
    best = found.result.plans[0]
    said_of_best = desk_words.plan_words(found.result, best)
    assert said_of_best.endswith(f"{hours(best.comfortable_h)} h")
    assert f"If the main screen stays where it is: {said_of_best}" in text


def test_a_lens_that_gives_more_hours_is_not_called_the_next():
    found = answer_of(questions.EXAMPLE).result
    best = found.plans[0]
    worn = [pair.option for pair in best.pairs]
    other = next(one for one in found.options if one.recommendable and one.option not in worn)
    more = replace_hours(found, other.option, best.comfortable_h + 0.2)
    assert "Next: " in desk_words.fixed_words(found, "screen")
    text = desk_words.fixed_words(more, "screen")
    assert "Next: " not in text
    assert "Hours alone do not decide here" in text


def replace_hours(result, option, comfortable_h):
    """The same result with other hours of one lens."""
    options = tuple(
        one.model_copy(update={"comfortable_h": comfortable_h}) if one.option == option else one
        for one in result.options
    )
    return result.model_copy(update={"options": options})


def test_seat_and_text_hold_the_lens_and_choose_the_plan_anew():
    page = opened("desk", {**TALL, "desk.option": "present_pair"})
    page.slider[0].set_value(9)
    page.slider[1].set_value(150)
    page = whole(page.run())
    found = answer_of(TALL)
    seat = desk_places.seat_raised(found.case, by_cm=9.0, judgements=JUDGED)
    text = desk_places.text_enlarged(found.case, 0, factor=1.5)
    read = " ".join(said(page).split())
    for what, desk in (("seat raised by 9 cm", seat), ("main screen: text at 150 %", text)):
        way = screen.way(found.case, found.result, "present_pair", desk, judgements=JUDGED)
        assert f"{what} {hours(way.held_h)} h {desk_words.best_words(way)}" in read
    assert "Add a footrest" in read


def test_a_changed_desk_answers_as_the_case_so_changed():
    """Held and chosen over the same draws, so other luck is all that may differ."""
    found = answer_of(TALL)
    raised = desk_places.seat_raised(found.case, by_cm=9.0, judgements=JUDGED)
    way = screen.way(found.case, found.result, "present_pair", raised, judgements=JUDGED)
    again = compute.answer(raised)
    assert abs(way.held_h - again.option("present_pair").comfortable_h) <= 0.1
    assert [one.option for one in way.best] == [p.option for p in again.plans[0].pairs]
    assert way.held_h > found.result.option("present_pair").comfortable_h


def test_the_best_lens_at_a_changed_desk_is_never_worse_than_the_same_one_held(monkeypatch):
    """Chosen on a quarter of the draws, a design had some minutes less: "5.5 h" beside "5.4 h"."""
    found = answer_of(TALL)
    lowered = desk_places.seat_raised(found.case, by_cm=9.0, judgements=JUDGED)
    ways = {
        name: screen.way(found.case, found.result, name, lowered, judgements=JUDGED)
        for name in (one.option for one in found.result.options)
    }
    (best,) = {tuple(one.option for one in way.best) for way in ways.values()}
    monkeypatch.setattr(screen, "held_h", lambda *_: ways[best[0]].best_h + 0.1)
    way = screen.way(found.case, found.result, best[0], lowered, judgements=JUDGED)
    assert [one.option for one in way.best] == [*best]
    assert way.best_h == way.held_h


def test_several_stations_name_the_lens_for_all_and_the_one_to_change():
    case = case_of(SHOP)
    found = stations(case, judgements=JUDGED)
    worst = found.stations[0]
    page = opened("desk", SHOP)
    read = " ".join(said(page).split())
    assert "One lens for every part of the day" in [one.value for one in page.header]
    assert f"{worst.activity} {hours(worst.hours)} {100 * worst.share:.0f} %" in read
    if found.serves_all:
        assert "suits every part of the day" in read
    else:
        assert f"Weakest part: {worst.activity}" in read


def test_how_sure_is_said_at_once_with_what_to_measure():
    found = answer_of(questions.EXAMPLE)
    page = opened("desk", questions.EXAMPLE)
    text = said(page)
    share = found.result.recommendation.clearly_better_share
    assert f"Of 100 wearers and desks as uncertain as this, {round(100 * share)} " in text
    for one in found.result.recommendation.measure_next:
        assert one.text in text
    assert not [one for one in page.button if one.key == "desk-test"]


def test_a_taped_range_is_refused_beside_its_field_then_used():
    page = typed(opened("desk", questions.EXAMPLE), Trial="1.5", Nearest="40", Farthest="64")
    alerts = [one.value for one in page.markdown if 'role="alert"' in one.value]
    assert len(alerts) == 1
    assert "64 is too near. Allowed: at least 67 cm" in as_read(html.unescape(alerts[0]))
    assert "15 to 600 cm" in as_read(html.unescape(alerts[0]))
    assert draft_of(page).results["answer"].case.measured_ranges == ()
    page = typed(page, Farthest="100")
    text = said(page)
    assert "Allowed:" not in text
    assert "Focusing 0.50 D (0.38 to 0.62 D)" in text
    assert (
        "The answer uses 0.50 D of focusing in place of the 0.50 D from the prescribed add" in text
    )
    answered = draft_of(page).results["answer"]
    assert answered.case.measured_ranges[0].farthest_clear_cm == 100.0
    assert answered.result.usable_accommodation_d.basis == "measured_range"
    page.checkbox[0].uncheck()
    page = whole(page.run())
    assert draft_of(page).results["answer"].case.measured_ranges == ()
    assert "The answer uses 0.50 D of focusing from the prescribed add." in said(page)


def test_a_stop_takes_the_whole_page(monkeypatch):
    def stops(case, **_):
        stop = Told(id="invented_stop", text="Send to an eye clinic today.")
        return invented_result(case).model_copy(update={"stops": (stop,), "options": ()})

    monkeypatch.setattr(compute, "answer", stops)
    page = opened("desk", questions.EXAMPLE)
    assert "Send to an eye clinic today." in said(page)
    assert not page.selectbox
    assert not page.slider


def test_a_day_without_a_screen_has_nothing_to_move():
    case = examples.case(examples.paper(), examples.far())
    assert moves.screens(case) == []
