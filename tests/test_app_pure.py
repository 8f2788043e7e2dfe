"""The page program without the page library: drafts, answers, pictures, charts, words."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from app.draw import above_view, charts, result_words, side_view
from app.draw import lens as lens_picture
from app.draw.charts import Bar
from app.draw.figure import PIVOT
from app.draw.svg import escaped
from app.form import answers_of_case, case_of_answers, compute, questions
from app.form.presets import main_screens, presets
from app.shell import theme, words
from app.shell.drafts import EXPIRY_S, MOST_DRAFTS, MOST_TEXT, DraftBook
from app.views.interview import rows
from engine import tables
from engine.case.results import GRADES, Hours
from engine.case.scene import scene_of
from engine.desk.sight import FromAbove, Turn
from engine.wording import head_words, hours
from tests.invented_result import invented_result

APP = Path(__file__).resolve().parents[1] / "app"
HOSTILE = "![x](http://example.invalid/x.png)<img src=http://example.invalid/y>"
SVG = "{http://www.w3.org/2000/svg}"


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_only_what_takes_long_tells_how_far_it_is(monkeypatch):
    now, told = [0.0], []
    monkeypatch.setattr(compute, "monotonic", lambda: now[0])
    tell = compute.told_late(told.append)
    for now[0], done in ((0.1, 0.3), (0.3, 0.6), (0.5, 0.9)):
        tell(done)
    assert told == [0.6, 0.9]


def test_a_draft_is_found_by_its_token_and_gone_when_deleted():
    book = DraftBook()
    draft = book.start()
    draft.put("wearer.age_years", "54")
    draft.results["answer"] = object()
    assert book.find(draft.token) is draft
    book.delete(draft.token)
    assert book.find(draft.token) is None
    assert draft.values == {}
    assert draft.results == {}


def test_a_draft_expires_just_after_its_time_and_not_before():
    clock = Clock()
    book = DraftBook(clock=clock)
    token = book.start().token
    clock.now = EXPIRY_S
    assert book.find(token) is not None
    clock.now = 2 * EXPIRY_S + 1
    assert book.find(token) is None
    assert len(book) == 0


def test_the_book_holds_a_bounded_number_of_drafts_and_forgets_the_oldest():
    book = DraftBook()
    first = book.start().token
    for _ in range(MOST_DRAFTS):
        book.start()
    assert len(book) == MOST_DRAFTS
    assert book.find(first) is None


def test_tokens_are_random_and_foreign_ones_find_nothing():
    book = DraftBook()
    tokens = {book.start().token for _ in range(20)}
    assert len(tokens) == 20
    for foreign in (None, "", "a", "../../etc/passwd", "x" * 22, "<script>" * 3):
        assert book.find(foreign) is None


def test_a_draft_counts_changes_and_cuts_long_texts():
    draft = DraftBook().start()
    assert draft.put("a", "1")
    assert not draft.put("a", "1")
    assert draft.revision == 1
    draft.put("a", "9" * (MOST_TEXT + 5))
    assert len(draft.values["a"]) == MOST_TEXT


@pytest.mark.parametrize(
    ("typed", "distance_cm"),
    [("65", 65.0), ("65,5", 65.5), ("65.5", 65.5), ("26 in", 66.04), ("0.65 m", 65.0)],
)
def test_a_distance_is_read_as_people_write_it(typed, distance_cm):
    asked = case_of_answers.ask({"wearer.age_years": "54", "main.distance_cm": typed})
    assert asked.case is not None
    # One ten-thousandth of a centimetre: only the binary residue of the inch.
    assert abs(asked.case.targets[0].distance_cm - distance_cm) <= 1e-4


def test_the_example_is_a_whole_case_and_its_numbers_are_those_typed():
    asked = case_of_answers.ask(questions.EXAMPLE)
    assert asked.refused == {}
    case = asked.case
    assert case is not None
    assert case.wearer.add_d == 2.0
    assert [target.name for target in case.targets] == ["main screen", "papers", "colleague"]
    assert case.targets[0].top_above_eye_cm == 5.0
    assert abs(sum(look.share for look in case.activities[0].looks) - 1.0) <= 1e-9
    assert case.origin["/targets/0/distance_cm"] == "measured"
    assert case.origin["/targets/0/tilt_deg"] == "assumed"
    assert asked.measured + asked.assumed == len(case.origin)


@pytest.mark.parametrize("text", ["+2,25", "add +2.25", "Add: 2.25", "2.25 add", "+2.25 D"])
def test_the_add_alone_is_read_as_people_write_it(text):
    alone = case_of_answers.ask({"wearer.age_years": "54", "prescription": text}).case
    assert alone.wearer.add_d == 2.25
    assert alone.origin["/wearer/right/sphere_d"] == "assumed"


def test_a_whole_prescription_is_measured():
    whole = case_of_answers.ask(
        {"wearer.age_years": "54", "prescription": "R -2.25 -0.50 x 90 L -2.00 DS add +2.00"}
    ).case
    assert (whole.wearer.right.sphere_d, whole.wearer.right.axis_deg) == (-2.25, 90)
    assert whole.origin["/wearer/right/sphere_d"] == "measured"


def test_a_thing_is_put_on_the_desk_under_the_name_it_then_has():
    for name, label in questions.ON_THE_DESK.items():
        assert presets()[name].name in label


def test_without_an_age_nothing_is_asked():
    asked = case_of_answers.ask({"prescription": "2.00"})
    assert asked.case is None
    assert asked.missing == ("wearer.age_years",)
    assert asked.refused == {}


@pytest.mark.parametrize(
    ("answers", "field", "allowed"),
    [
        ({"wearer.age_years": "17"}, "wearer.age_years", "18 to 110"),
        ({"wearer.age_years": "5 4"}, "wearer.age_years", "one number"),
        ({"main.distance_cm": "2"}, "main.distance_cm", "15 to 2000"),
        ({"prescription": "2.00 and then"}, "prescription", ""),
        ({"papers": "yes", "papers.name": HOSTILE}, "papers.name", "letters, digits"),
        ({"fit.fitting_height_mm": "20/21/22"}, "fit.fitting_height_mm", "right/left"),
        ({"day.hours": "25"}, "day.hours", "24"),
        ({"papers": "yes", "papers.share_pct": "120"}, "papers.share_pct", "0 to 100 %"),
        (
            {"papers": "yes", "main.share_pct": "80", "papers.share_pct": "30"},
            "papers.share_pct",
            "100 % at most for all",
        ),
        ({"main.distance_cm": "abc"}, "main.distance_cm", "one number (15 to 2000 cm)"),
        ({"fit.fitting_height_mm": "x/20"}, "fit.fitting_height_mm", "one number (6 to 50 mm)"),
        ({"price.office": "-5"}, "price.office", "at least 0"),
    ],
)
def test_a_refused_value_is_named_under_the_field_it_was_typed_in(answers, field, allowed):
    asked = case_of_answers.ask({"wearer.age_years": "54", **answers})
    assert asked.case is None
    assert field in asked.refused
    assert allowed in asked.refused[field].allowed


def test_each_eye_has_a_height_when_two_are_typed():
    case = case_of_answers.ask({"wearer.age_years": "54", "fit.fitting_height_mm": "20/21,5"}).case
    assert case.fit.heights_mm == (20.0, 21.5)


def test_typed_shares_stand_and_the_rest_is_shared_out():
    case = case_of_answers.ask(
        {"wearer.age_years": "54", "papers": "yes", "papers.share_pct": "40"}
    ).case
    assert {look.target: round(look.share, 3) for look in case.activities[0].looks} == {
        "main screen": 0.6,
        "papers": 0.4,
    }


def test_another_part_of_the_day_has_its_own_hours_and_need():
    case = case_of_answers.ask(
        {
            "wearer.age_years": "54",
            "other0.preset": "colleague",
            "part0.name": "meetings",
            "part0.hours": "2",
            "part0.slots": ["other0"],
            "part0.needs": ["walking", "stairs"],
        }
    ).case
    assert case.day_h == case_of_answers.assumed_h() + 2
    assert case.activities[1].needs == ("walking", "stairs")
    assert case.activities[1].looks[0].target == "colleague"
    assert [look.target for look in case.activities[0].looks] == ["main screen"]


def test_things_of_one_kind_are_told_apart_whatever_they_were_named():
    """A list of two equal lines gave one of them twice, and the page failed."""
    answers = {f"other{index}.preset": "colleague" for index in range(3)}
    answers |= {"other0.name": "Ada", "other2.name": "colleague 3"}
    names = list(case_of_answers.default_names(answers).values())
    assert names == ["main screen", "colleague", "colleague 2", "colleague 3"]


def test_every_preset_makes_a_case_and_names_its_source():
    for name in presets():
        answers = {"wearer.age_years": "54"}
        answers |= {"main.preset": name} if name in main_screens() else {"other0.preset": name}
        assert case_of_answers.ask(answers).case is not None, name
    for table in ("presets", "assumed_spreads"):
        for row in tables.rows(table):
            assert row["source"]
            assert row["locator"]
            assert row["status"] in tables.STATUSES


@pytest.mark.parametrize(
    ("typed", "preset", "distance_cm"),
    [
        ({"offset_cm": "80"}, "second_screen", 93.0),  # hypot(80, 15) / 0.88, whole cm
        ({"offset_cm": "-80"}, "second_screen", 93.0),
        ({"offset_cm": "60 in"}, "colleague", 180.0),  # 152 cm aside, 173 cm are enough
        ({"offset_cm": "-240"}, "wall", 500.0),
        ({"offset_cm": "500"}, "phone", 569.0),
        ({"centre_above_eye_cm": "-60"}, "papers", 69.0),
        ({"top_above_eye_cm": "-70"}, "second_screen", 97.0),
        ({"offset_cm": "40"}, "second_screen", 68.0),
    ],
)
def test_an_assumed_distance_stretches_to_fit_what_was_typed(typed, preset, distance_cm):
    answers = {"wearer.age_years": "54", "prescription": "2.00", "other0.preset": preset}
    answers |= {f"other0.{name}": text for name, text in typed.items()}
    asked = case_of_answers.ask(answers)
    assert asked.refused == {}
    assert asked.case.targets[1].distance_cm == distance_cm
    assert asked.case.origin["/targets/1/distance_cm"] == "assumed"
    assert "targets.1.distance_cm" in asked.assumed_paths
    scene_of([asked.case], judgements=tables.Judgements.standard())  # refuses what cannot stand
    shown = case_of_answers.numbers_of("other0", presets()[preset], answers)["distance_cm"]
    assert shown == distance_cm


@pytest.mark.parametrize("preset", ["papers", "phone", "second_screen", "visitor", "score"])
def test_an_assumed_height_gives_way_to_the_nearest_distance_that_is_taken(preset):
    answers = {"wearer.age_years": "54", "other0.preset": preset, "other0.distance_cm": "20"}
    asked = case_of_answers.ask(answers)
    assert asked.refused == {}
    assert asked.case.targets[1].distance_cm == 20.0
    scene_of([asked.case], judgements=tables.Judgements.standard())
    usual = case_of_answers.ask({**answers, "other0.distance_cm": "60"}).case.targets[1]
    numbers = presets()[preset].numbers
    for name in ("top_above_eye_cm", "centre_above_eye_cm"):
        assert getattr(usual, name) == numbers.get(name)


@pytest.mark.parametrize(
    ("typed", "offset_cm"),
    [
        ({}, 55.0),
        ({"offset_cm": "-70"}, -70.0),
        ({"distance_cm": "60"}, 50.0),  # sqrt((0.88 * 60)^2 - 14.9^2), whole cm
        ({"distance_cm": "17"}, 0.0),  # height and distance leave no room
    ],
)
def test_a_second_screen_is_assumed_beside_the_first_as_far_as_there_is_room(typed, offset_cm):
    answers = {"wearer.age_years": "54", "other0.preset": "second_screen"}
    answers |= {f"other0.{name}": text for name, text in typed.items()}
    asked = case_of_answers.ask(answers)
    assert asked.refused == {}
    assert asked.case.targets[1].offset_cm == offset_cm
    told = "measured" if "offset_cm" in typed else "assumed"
    assert asked.case.origin["/targets/1/offset_cm"] == told
    again = case_of_answers.ask(answers_of_case.answers_of(asked.case)).case
    assert again == asked.case


def test_a_second_screen_straight_ahead_in_a_file_stays_there():
    answers = {"wearer.age_years": "54", "other0.preset": "second_screen", "other0.offset_cm": "0"}
    case = case_of_answers.ask(answers).case
    silent = {at: one for at, one in case.origin.items() if "offset" not in at}
    back = answers_of_case.answers_of(case.model_copy(update={"origin": silent}))
    assert case_of_answers.ask(back).case.targets[1].offset_cm == 0.0


def test_what_was_typed_and_cannot_be_is_refused_all_the_same():
    answers = {"wearer.age_years": "54", "other0.preset": "second_screen"}
    near = case_of_answers.ask({**answers, "other0.distance_cm": "60", "other0.offset_cm": "80"})
    assert list(near.refused) == ["other0.distance_cm"]
    aside = case_of_answers.ask({**answers, "other0.offset_cm": "5000"})
    assert list(aside.refused) == ["other0.offset_cm"]


def test_the_view_stands_where_the_tape_says():
    case = case_of_answers.ask({"wearer.age_years": "54", "main.distance_cm": "65",
                       "main.top_above_eye_cm": "0", "main.tilt_deg": "0"}).case  # fmt: skip
    thing = side_view.seen(case.targets[0], case=case)
    # Half of the 29.9 cm of a 24-inch 16:9 screen; the table of facts gives it to 0.1 cm.
    assert abs(thing.above_cm + 14.95) <= 0.05
    # 65 cm to the lens and 2.65 cm on to the centre of rotation, along the line of sight.
    assert abs((thing.ahead_cm**2 + thing.above_cm**2) ** 0.5 - 67.65) <= 1e-6


def test_the_head_turns_about_the_neck_pivot():
    x, y = side_view.turned((0.0, 0.0), 10.0)
    # engine.workstation.eye_shift_mm(chin_up_deg=10): 9.7 mm back, 15.4 mm up, to 0.05 mm.
    assert abs(x * 10 + 9.7) <= 0.05
    assert abs(y * 10 - 15.4) <= 0.05
    still = side_view.turned(PIVOT, 33.0)
    assert max(abs(a - b) for a, b in zip(still, PIVOT, strict=True)) <= 1e-12


def _view(name: str, posture: side_view.Posture) -> str:
    target = side_view.Seen(name, "screen", 65.0, -12.0, 33.6, 5.0, 65.0)
    return side_view.side_view(target=target, posture=posture)


@pytest.mark.parametrize("distance_cm", [45.0, 65.0, 100.0])
def test_the_words_of_eye_level_touch_no_screen(distance_cm):
    target = side_view.Seen("screen", "screen", distance_cm, -12.0, 33.6, 20.0, distance_cm)
    frame, _ = side_view._fit(target, (), 50.0, 1)
    words_px = len("eye level") * 11 * side_view._WIDE
    (x, _), half_px = frame.at(target.row("top")), 3.0
    assert x + half_px <= side_view.PANEL_W - 4 - words_px


def test_the_side_view_says_its_numbers_and_no_power():
    posture = side_view.Posture("With the general progressive", 9.5, -4.0, ("top", "centre"))
    text = _view("main screen", posture)
    root = ET.fromstring(text)
    assert root.get("role") == "img"
    said = root.find(f"{SVG}desc").text
    assert "65 cm away" in said
    assert "12 cm below" in said
    assert "chin 10° up" in said
    assert "bottom" in said
    assert "dotted: not clear" in "".join(root.itertext())
    assert not re.search(r"[-+]\d\.\d\d|\bD\b|dioptre", "".join(root.itertext()))


def test_a_target_no_posture_clears_says_so():
    text = _view("main screen", side_view.Posture("With it", None, -4.0, ()))
    assert "no head position makes it clear" in "".join(ET.fromstring(text).itertext())


def _above(name: str, turns: tuple[Turn | None, Turn | None]) -> str:
    ahead = above_view.Spot(
        name, "screen", 65.0, FromAbove(65.0, 0.0, ((65.0, -30.0), (65.0, 30.0)))
    )
    aside = above_view.Spot(
        "papers", "page", 50.0, FromAbove(40.0, 30.0, ((33.0, 22.0), (47.0, 38.0)))
    )
    widths = [None if turn is None else width for turn, width in zip(turns, (48, 11), strict=True)]
    lens, today = (
        above_view.Wide(
            f"{heading} {name}", {name: width, "papers": 9.0}, {name: turn, "papers": Turn(20, 6)}
        )
        for heading, width, turn in zip(("office", "today"), widths, turns, strict=True)
    )
    return above_view.above_view(spots=[ahead, aside], looked_at=name, lens=lens, against=today)


def test_the_view_from_above_says_width_and_turn_of_both_lenses_and_no_power():
    root = ET.fromstring(_above("main", (Turn(0.0, 20.0), Turn(-12.0, 5.0))))
    drawn = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
    assert {"48 cm clear", "11 cm clear, head 12°", "main", "papers"} <= set(drawn)
    said = root.find(f"{SVG}desc").text
    assert "main is 65 cm away, straight ahead, 60 cm wide" in said
    assert "11 cm clear without turning the head, head turned 12° to the left" in said
    assert "papers is 50 cm away, 37° to the right" in said
    assert not re.search(r"[-+]\d\.\d\d|\bD\b|dioptre", "".join(root.itertext()))


def test_from_above_a_lens_that_is_not_clear_has_no_field_there():
    both, one = (_above("main", (Turn(0.0, 20.0), turn)) for turn in (Turn(0.0, 5.0), None))
    fields = [ET.fromstring(text).findall(f"{SVG}polygon") for text in (both, one)]
    assert [len(found) for found in fields] == [2, 1]
    assert "not clear" in "".join(ET.fromstring(one).itertext())


def test_two_postures_are_two_heads_on_one_body_and_one_head_where_they_are_the_same():
    target = side_view.Seen("main", "screen", 65.0, -12.0, 33.6, 5.0, 65.0)
    chosen = side_view.Posture("office", -4.0, -4.0)
    dashed = []
    for chin in (8.0, -4.0):
        today = side_view.Posture("today", chin, -4.0, ("centre",))
        root = ET.fromstring(side_view.side_view(target=target, posture=chosen, against=today))
        paths = list(root.iter(f"{SVG}path"))
        dashed.append(sum(path.get("stroke-dasharray") is not None for path in paths))
        said = root.find(f"{SVG}desc").text
        assert f"Dashed, today: {head_words(chin)}. Not clear in any head position: top, b" in said
        assert "office: chin 4° down. Top, centre and bottom can be made clear." in said
    assert dashed[0] > 0 == dashed[1]


@pytest.mark.parametrize("draw", ["side", "lens", "above"])
def test_names_typed_by_a_user_are_only_text(draw):
    if draw == "side":
        text = _view(HOSTILE, side_view.Posture(HOSTILE, 3.0, -4.0))
    elif draw == "above":
        text = _above(HOSTILE, (Turn(0.0, 20.0), Turn(5.0, 5.0)))
    else:
        text = _lens(HOSTILE)
    root = ET.fromstring(text)
    assert {element.tag for element in root.iter()} <= {
        f"{SVG}{tag}"
        for tag in ("svg", "title", "desc", "rect", "text", "line", "path", "circle", "polygon",
                    "polyline", "g", "defs", "pattern", "clipPath")
    }  # fmt: skip
    assert "](" not in text
    assert "<img" not in text
    assert HOSTILE[:6] in "".join(root.itertext())


def _lens(target: str) -> str:
    return lens_picture.lens_picture(
        heading="general progressive",
        power_at=lambda x, y: (np.where(y < -14, 2.0, 0.0), abs(x) / 10),
        frame=lens_picture.FrameShape(52.0, 34.0, 20.0),
        points=[lens_picture.GazePoint(target, "centre", 6.5)],
    )


def test_the_lens_picture_says_where_each_target_is_seen():
    root = ET.fromstring(_lens("papers"))
    said = root.find(f"{SVG}desc").text
    assert "+0.00 D at the fitting point" in said
    assert "+2.00 D at the lower edge" in said
    assert "papers centre 6.5 mm below" in said


def test_no_word_of_the_lens_is_too_small_on_a_phone():
    """There it is 292 px wide."""
    sizes = {
        float(one.get("font-size")) for one in ET.fromstring(_lens("papers")).iter(f"{SVG}text")
    }
    assert min(sizes) * 292 / lens_picture.WIDTH >= 10.5


def _marks(points: list[lens_picture.GazePoint], power_d: float = 0.0) -> ET.Element:
    return ET.fromstring(
        lens_picture.lens_picture(
            heading="office",
            power_at=lambda x, y: (power_d + (y < 0.0) * -y / 10, 0.0 * x),
            frame=lens_picture.FrameShape(52.0, 34.0, 20.0, "Right eye"),
            points=points,
        )
    )


def test_a_mark_stands_where_the_thing_is_seen_and_is_hollow_where_it_is_not_clear():
    point = lens_picture.GazePoint
    root = _marks([point("main", "centre", 6.0), point("aside", "centre", 4.0, 10.0, clear=False)])
    dots = [dot for dot in root.iter(f"{SVG}circle") if dot.get("stroke")]
    assert [dot.get("fill") for dot in dots] == [theme.INK, theme.PAPER]
    (x, y), (other_x, other_y) = [(float(d.get("cx")), float(d.get("cy"))) for d in dots]
    scale = (lens_picture.WIDTH - 2 * lens_picture.MARGIN) / 52.0
    assert abs(x - lens_picture.WIDTH / 2) <= 0.1
    assert abs(other_x - x - 10.0 * scale) <= 0.15
    assert abs(y - other_y - 2.0 * scale) <= 0.15
    said = root.find(f"{SVG}desc").text
    assert "aside centre 4.0 mm below the fitting point, 10.0 mm to the right, not clear" in said
    assert "Right eye" in "".join(text.text for text in root.iter(f"{SVG}text"))


def test_the_numbers_of_the_map_stand_in_the_middle_at_the_height_they_are_of():
    root = _marks([])
    scale = (lens_picture.WIDTH - 2 * lens_picture.MARGIN) / 52.0
    found = {t.text: t for t in root.iter(f"{SVG}text") if re.fullmatch(r"\+\d\.\d\d", t.text)}
    low, high = found["+0.80"], found["+0.40"]  # 8 and 4 mm below the fitting point
    assert abs(float(low.get("y")) - float(high.get("y")) - 4.0 * scale) <= 0.15
    for text in found.values():
        assert text.get("text-anchor") == "end"
        assert 0.0 < lens_picture.WIDTH / 2 - float(text.get("x")) <= 10.0


def test_contours_lie_where_the_power_passes_their_limit():
    root = _marks([])
    scale = (lens_picture.WIDTH - 2 * lens_picture.MARGIN) / 52.0
    limits = [p for p in root.iter(f"{SVG}path") if p.get("stroke") == lens_picture.CONTOUR]
    # The first band begins at 0.125 D, 1.25 mm below the fitting point; 14 mm of lens above it.
    heights = {float(y) for y in re.findall(r"[\d.]+ ([\d.]+)", limits[0].get("d"))}
    at = lens_picture.MARGIN + lens_picture.TOP + (14.0 + 1.25) * scale
    assert heights
    assert max(abs(height - at) for height in heights) <= 0.15


def test_escaping_leaves_no_markup_and_no_markdown():
    assert not set(escaped(HOSTILE + "`*_$:~|\n\x00")) & set("<>![]()`*_$:~|\n\x00")


def by_grade(*hours_h: float) -> Hours:
    """Hours of a day in the order of the grades."""
    names = ("comfortable_h", "awkward_h", "blurred_h", "not_served_h")
    return Hours(**dict(zip(names, hours_h, strict=True)))


def test_the_key_names_every_grade_of_the_engine_in_its_order():
    assert [one.replace(" ", "_") for one in theme.GRADES] == list(GRADES)
    assert set(words.GRADE_MEANING) == set(theme.GRADES)
    shown = charts.key()
    assert [shown.index(f">{grade}</span>") for grade in theme.GRADES] == sorted(
        shown.index(f">{grade}</span>") for grade in theme.GRADES
    )
    assert len({charts.fill(grade, "name") for grade in theme.GRADES}) == len(theme.GRADES)


def test_day_bars_carry_their_hours_and_marks():
    bars = [
        Bar("office lens", by_grade(5.4, 0.4, 0.2, 0.0), chosen=True),
        Bar("other", by_grade(0.5, 0.5, 0.0, 5.0)),
    ]
    spec = charts.day_bars(bars)
    found = [row for rows in spec["datasets"].values() for row in rows]
    figures = {row["figure"] for row in found if "figure" in row}
    assert {"5.4", "0.5", "5"} <= figures
    assert {row["lens"] for row in spec["datasets"]["rules"]} == {"office lens"}
    assert {row["lens"] for row in spec["datasets"]["dots"]} == {"office lens", "other"}
    assert charts.day_bars(bars[:1])["datasets"]["names"] == [
        {"lens": "office lens", "says": "▸ office lens", "ink": theme.ACCENT}
    ]
    assert charts.alt_text(bars).endswith(
        "office lens: 5.4 h comfortable, 0.4 h awkward, 0.2 h blurred, 0 h not served; "
        "other: 0.5 h comfortable, 0.5 h awkward, 0 h blurred, 5 h not served."
    )


def test_the_words_of_the_chart_keep_their_ink_in_the_dark_theme():
    # The page's dark theme overrules a chart's configuration, not what an axis says itself.
    bar = Bar("one", by_grade(1.0, 1.0, 1.0, 1.0))
    axis = charts.day_bars([bar])["layer"][0]["encoding"]["x"]["axis"]
    assert (axis["labelColor"], axis["titleColor"]) == (theme.INK, theme.INK)


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _set(name: str) -> str:
    return str(theme.THEME[f"theme.{name}"])


@pytest.mark.parametrize(
    ("text", "ground"),
    [
        (theme.INK, theme.PAPER),
        (theme.SOFT_INK, theme.PAPER),
        (theme.ACCENT, theme.PAPER),
        (theme.TODAY, theme.PAPER),
        (theme.ACCENT, theme.ACCENT_WASH),
        ("#ffffff", theme.COMFORTABLE),
        (theme.INK, theme.AWKWARD),
        (theme.INK, theme.BLURRED),
        (theme.INK, theme.NOT_SERVED),
        (theme.INK, "#ece9e2"),
        *[(theme.INK, band) for band in lens_picture.BANDS],
        (_set("light.textColor"), _set("light.backgroundColor")),
        (_set("light.primaryColor"), _set("light.backgroundColor")),
        (_set("dark.textColor"), _set("dark.backgroundColor")),
        (_set("dark.primaryColor"), _set("dark.backgroundColor")),
    ],
)  # fmt: skip
def test_words_stand_out_from_their_ground(text, ground):
    assert contrast(text, ground) >= 4.5


def test_the_grades_differ_in_lightness():
    levels = sorted(luminance(colour) for colour in theme.GRADE_COLOURS.values())
    for darker, lighter in pairwise(levels):
        assert (lighter + 0.05) / (darker + 0.05) >= 1.8


@pytest.mark.parametrize(("value", "said"), [(5.4, "5.4"), (6.0, "6"), (-0.0, "0"), (0.04, "0")])
def test_hours_as_a_person_says_them(value, said):
    assert hours(value) == said


def test_the_line_in_view_is_short_and_exact():
    case = case_of_answers.ask(questions.EXAMPLE).case
    line = result_words.recommendation_line(case, invented_result(case))
    assert line.says == "Office lens for the 6 hours at the desk."
    assert (line.comfortable_h, line.day_h, line.verdict) == (5.4, 6.0, "choice: firm")
    assert line.counts == ("8 times in 10 between 4.9 and 5.9; as good: single-vision computer")
    assert len(line.says.split()) <= result_words.LONGEST_LINE_WORDS


def test_the_first_look_is_best_first_and_holds_one_desk_lens_and_what_is_as_good():
    case = case_of_answers.ask(questions.EXAMPLE).case
    result = invented_result(case)
    names = [row.name for row in rows.first_look(case, result)]
    assert names == ["office", "sv_computer", "general_progressive"]
    told = result.recommendation.model_copy(update={"as_good": ()})
    alone = result.model_copy(update={"recommendation": told})
    names = [row.name for row in rows.first_look(case, alone)]
    assert names == ["office", "general_progressive"]


def test_only_the_state_file_touches_the_session():
    """One more module names it: that which holds the internals of the page library."""
    allowed = {"state.py", "internals.py"}
    assert "st.session_state" not in (APP / "shell" / "internals.py").read_text(encoding="utf-8")
    touching = [
        path.name
        for path in APP.rglob("*.py")
        if "session_state" in path.read_text(encoding="utf-8") and path.name not in allowed
    ]
    assert touching == []


def test_no_cache_of_the_page_library_is_used():
    for path in APP.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "@st.cache" not in text, path.name


def test_pure_modules_do_not_import_the_page_library():
    pure = [*APP.glob("draw/*.py"), *APP.glob("views/*/words.py"), *APP.glob("views/*/typed_*.py")]
    made = ("answers_of_case", "case_of_answers", "field_table", "opened", "prescription_field")
    pure += [APP / "form" / f"{name}.py" for name in (*made, "typed")]
    assert len(pure) > 12
    for path in pure:
        assert "streamlit" not in path.read_text(encoding="utf-8"), path.name
