"""What the wild cases and rows found, each in the smallest form that showed it."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from app.form.case_of_answers import ask
from app.form.questions import EXAMPLE
from engine.__main__ import REFUSED, main
from engine.assemble import advise
from engine.case.scene import scene_of
from engine.case.targets import centre_above_eye_cm
from engine.desk.moves import measured_shares
from engine.desk.places import place_of
from engine.desk.screen import sight
from engine.errors import InputRefusedError
from engine.explain import explain
from engine.files.case_json import case_content
from engine.lenses.kinds import KINDS
from engine.lenses.lens import Lens
from engine.order.make import order_for
from engine.order.types import OrderDetails, OrderRefusedError
from engine.roster.answer import answer
from engine.roster.columns import columns
from engine.tables import Judgements
from engine.units import parse_length_cm, parse_number
from tests import examples
from tests.roster_examples import roster

STANDARD = Judgements.standard()
SETTLED_CM = 1e-6
"""The square root in the closed form leaves about ten digits of a height of some centimetres."""


@pytest.mark.parametrize(
    ("change", "field", "value"),
    [
        ({"distance_cm": 38, "top_above_eye_cm": 0, "diagonal_in": 100}, "distance_cm", 38),
        ({"aspect": "900:16"}, "aspect", "900:16"),
        (
            {"distance_cm": 15, "top_above_eye_cm": 0, "tilt_deg": 90, "diagonal_in": 119},
            "distance_cm",
            15,
        ),
    ],
    ids=["too tall to stand there", "a shape no screen has", "through the glasses"],
)
def test_a_target_that_cannot_stand_there_is_refused_by_its_field(
    change: dict[str, Any], field: str, value: object
) -> None:
    """The form shows a refusal at the field it names; a bare "distance_cm" was no field."""
    second = examples.screen(**{**change, "name": "second"})
    case = examples.case(examples.paper(), second)
    with pytest.raises(InputRefusedError) as told:
        advise(case)
    assert told.value.field == f"targets.1.{field}"
    assert told.value.value == value
    assert told.value.allowed


def test_the_form_shows_the_refusal_where_the_distance_was_typed() -> None:
    typed = {"main.distance_cm": "30", "main.diagonal_in": "90", "main.top_above_eye_cm": "0"}
    asked = ask({**EXAMPLE, **typed})
    assert asked.case is not None
    with pytest.raises(InputRefusedError) as told:
        advise(asked.case)
    (field,) = asked.with_refusal(told.value).refused
    assert field == "main.distance_cm"


def test_a_page_held_square_has_a_centre_wherever_its_top_is() -> None:
    """Near and tall, the iteration swings for ever: the centre it stopped at was either end."""
    page = examples.paper(distance_cm=15, height_cm=40, top_above_eye_cm=0)
    del page["centre_above_eye_cm"]
    target = examples.case(page).targets[0]
    reach_cm = 15 + 2.65
    centre = centre_above_eye_cm(target, stop_mm=26.5)
    half_seen = 20 * math.sqrt(1 - (centre / reach_cm) ** 2)
    assert abs(centre + half_seen) <= SETTLED_CM


@pytest.mark.parametrize(
    ("eye", "details"),
    [
        ({"sphere_d": 29.0}, OrderDetails()),
        (
            {"sphere_d": 20.0, "cylinder_d": 9.5, "axis_deg": 90},
            OrderDetails(refraction_vertex_mm=25.0, power_basis="at_fitted_vertex"),
        ),
    ],
    ids=["the add on top", "at another vertex distance"],
)
def test_a_power_beyond_what_can_be_prescribed_is_no_order(
    eye: dict[str, Any], details: OrderDetails
) -> None:
    """It was an error of the library of models, which no page catches."""
    both = {side: {**eye, "add_d": 2.0} for side in ("right", "left")}
    case = examples.case(wearer=both, fit={"vertex_mm": 5})
    with pytest.raises(OrderRefusedError, match="more than a prescription can hold"):
        order_for(case=case, result=advise(case), option="sv_near", details=details)


def test_a_key_cannot_write_on_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A key of a file is part of the refusal; it must not colour, clear or turn round the line."""
    content = case_content(examples.case()) | {"a\x1b[2J\u202eb" + "x" * 5000: 1}
    path = tmp_path / "case.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    assert main(["advise", str(path)]) == REFUSED
    said = capsys.readouterr().err
    assert said.startswith("a\\x1b[2J\\u202ebxxx")
    assert said.rstrip("\n").isprintable()
    assert len(said) <= 400


def test_one_row_that_cannot_stand_there_does_not_stop_the_roster() -> None:
    """Its height is not known: no height that could be drawn lets it stand so near."""
    frame = roster(3, targets=1)
    wall = {"screen_in": "120", "screen_aspect": "9:16", "screen_distance_cm": "51"}
    frame.loc[2, list(wall)] = list(wall.values())
    frame.loc[2, "screen_top_cm"] = ""
    found = answer(frame)
    assert found.rows.row.tolist() == [1, 3]
    (problem,) = found.rows.problems
    assert (problem.row, problem.column, problem.value) == (2, "screen_distance_cm", "51")
    assert problem.rule == "at least half the height of the screen"


@pytest.mark.parametrize("text", ["26″", "26 ′′", "26''", '26"', "26 ”"])
def test_every_sign_of_inches_is_read(text: str) -> None:
    assert abs(parse_length_cm(text, field="screen") - 66.04) <= 1e-9  # the last bits of a product


def test_a_roster_may_have_no_row_that_can_be_computed() -> None:
    frame = pd.DataFrame([dict.fromkeys(columns(), "")], index=[1], dtype=object)
    assert len(answer(frame).rows.row) == 0


def test_a_screen_that_only_just_stands_there_is_answered_though_a_draw_reaches_the_glasses() -> (
    None
):
    screen = examples.screen(
        width_cm=60, height_cm=90, distance_cm=25, tilt_deg=80, top_above_eye_cm=10
    )
    del screen["diagonal_in"], screen["aspect"]
    case = examples.case(screen)
    assert scene_of([case], judgements=STANDARD).demand_d.max() > 20.0
    for option in advise(case).options:
        assert abs(sum(option.by_grade()) - case.day_h) <= 1e-9


def test_assumed_values_at_the_edge_of_what_can_be_are_drawn_all_the_same() -> None:
    """Low down, ten centimetres nearer is no place for the screen, and small text may not be none.

    It was a fault of the whole page.
    """
    low = examples.screen(distance_cm=65, top_above_eye_cm=-48, text_height_mm=0.2)
    paths = ("/targets/0/distance_cm", "/targets/0/text_height_mm", "/fit/pantoscopic_deg")
    case = examples.case(low).model_copy(update={"origin": dict.fromkeys(paths, "assumed")})
    result = advise(case)
    for option in result.options:
        assert abs(sum(option.by_grade()) - case.day_h) <= 1e-9
        assert min(option.by_grade()) >= 0.0
    assert all(math.isfinite(one.worth_h) for one in result.recommendation.measure_next)


@pytest.mark.parametrize(
    "change",
    [
        {"distance_cm": 75, "offset_cm": 34, "centre_above_eye_cm": 1},
        {"distance_cm": 114, "diagonal_in": 100, "centre_above_eye_cm": -80, "tilt_deg": 52},
    ],
    ids=["a second screen at the side", "so large that parts would reach the glasses"],
)
def test_the_map_of_places_leaves_out_where_a_screen_cannot_stand(change: dict[str, Any]) -> None:
    """One such place of 1500 took the whole map, and the Desk page with it."""
    screen = {**examples.screen(), **change}
    del screen["top_above_eye_cm"]
    case = examples.case(screen)
    result = advise(case)
    found = sight(case, result, result.options[0].option, 0, judgements=STANDARD)
    shares = found.places.share
    assert ((shares >= 0.0) & (shares <= 1.0)).all()
    nearest_lowest = shares[0, 0]
    assert nearest_lowest == 0.0
    assert shares.max() > 0.0


def test_a_screen_that_reaches_behind_the_face_is_no_division_by_nothing() -> None:
    """Points never in front of the face stand at the same angle at both ends of the band."""
    large = examples.screen(tilt_deg=90, width_cm=300, height_cm=300, distance_cm=60)
    large = {name: large[name] for name in large if name not in ("diagonal_in", "aspect")}
    case = examples.case(large)
    wearers = scene_of([case], judgements=STANDARD).wearers
    target = case.targets[0]
    places = [place_of(target, stop_mm=float(wearers.stop_mm[0]))]
    distance = KINDS["sv_distance"]
    lens = Lens(distance, distance.families(STANDARD)[0], 0.0)
    shares = measured_shares(wearers, target, places, lens=lens, judgements=STANDARD)
    assert 0.0 <= shares[0] < 0.5


def test_the_shortest_hours_there_are_have_a_verdict() -> None:
    """Half of the least number above 0 is 0: no part of it may be divided by the sum of them."""
    hours = [
        examples.activity(5e-324, screen=0.5, papers=0.5),
        examples.activity(5e-324, name="later", screen=1),
    ]
    case = examples.case(examples.screen(), examples.paper(), activities=hours)
    result = advise(case)
    told = result.recommendation
    text = explain(case, result)
    assert "0 of under 0.1 h comfortable" in text
    assert max(map(len, text.splitlines())) <= 80
    assert told.verdict != "not_computed"
    assert told.clearly_better_share is not None
    assert 0.0 <= told.clearly_better_share <= 1.0


@pytest.mark.parametrize("text", ["65²", "6⁵", "⑥", "½"])
def test_a_sign_that_only_folds_into_digits_is_refused(text: str) -> None:
    """65 squared was read as 652."""
    for read in (parse_number, parse_length_cm):
        with pytest.raises(InputRefusedError, match="plain digits"):
            read(text, field="distance")
    assert parse_number("\uff16\uff15", field="distance") == 65.0  # full-width digits are digits
