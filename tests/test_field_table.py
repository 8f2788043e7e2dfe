"""The one table of the interview's fields: no part of a case lacks a row, each row is whole."""

from __future__ import annotations

from typing import Any

import pytest

from app.form import answers_of_case, case_of_answers, field_table
from app.form.field_table import Number, Row, Slot, Tick
from app.form.opened import Opened
from app.form.typed import Typed
from engine.case.model import Activity, Design, Fit, OwnedPair, Target, Wearer
from engine.case.read import build_case
from engine.order.letter import letter_fields
from tests.invented_result import invented_result

ROWS = {
    Wearer: field_table.WEARER,
    Fit: field_table.FIT,
    OwnedPair: field_table.PAIR,
    Design: field_table.PAIR,
    Target: field_table.TARGET,
    Activity: field_table.DAY,
}
ELSEWHERE = {
    Wearer: {"left"},  # the one field of the prescription is the row of the right eye
    OwnedPair: {"design"},  # its numbers are rows
    Target: {"kind", "aspect", "laptop"},  # they come with the thing that is chosen
    Activity: {"looks"},  # shares are worked out together
}
PARTS = (
    field_table.WEARER, field_table.FIT, field_table.PAIR, field_table.TARGET, field_table.DAY,
    field_table.PART, field_table.PRICES,
)  # fmt: skip


@pytest.mark.parametrize("model", ROWS, ids=lambda model: model.__name__)
def test_every_field_of_the_model_has_a_row(model: type[Any]) -> None:
    asked = set()
    for row in ROWS[model]:
        asked |= {row.name, *getattr(row, "each", ())} if row.model is model else set()
    assert asked == set(model.model_fields) - ELSEWHERE.get(model, set())


@pytest.mark.parametrize("rows", PARTS, ids=len)
def test_no_two_rows_of_a_part_share_a_widget_or_a_label(rows: tuple[Row, ...]) -> None:
    slot = Slot("targets.3", "other2")
    for names in ([row.widget(slot) for row in rows], [row.label for row in rows]):
        assert len(set(names)) == len(names)
        assert all(names)


def test_one_row_is_enough_to_draw_read_and_write_back_a_field() -> None:
    drawn: list[tuple[str, str, object]] = []

    class Page:
        def text(self, name: str, label: str, *, assumed: object, place: Any) -> str:
            drawn.append((name, label, assumed))
            return str(place)

    row, slot = Number(model=Target, name="width_cm", place="any"), Slot("targets.0", "main")
    row.draw(Page(), slot, None)  # type: ignore[arg-type]
    assert drawn == [("main.width_cm", "Width (cm)", None)]
    typed = Typed({"main.width_cm": "20 in"})
    row.read(typed, slot)
    assert typed.content["targets"]["0"] == {"width_cm": 50.8}
    assert typed.origin == {"/targets/0/width_cm": "measured"}
    case = case_of_answers.ask(
        {"wearer.age_years": "54", "papers": "yes", "papers.width_cm": "50.8"}
    ).case
    back = Opened(case)
    row.write(back, Slot("targets.1", "papers"), case.targets[1])
    assert back.values == {"papers.width_cm": "50.8"}


def test_a_tick_that_is_ticked_for_no_is_read_and_written_back() -> None:
    row = next(row for row in field_table.TARGET if isinstance(row, Tick))
    answers = {"wearer.age_years": "54", "main.fixed": True}
    case = case_of_answers.ask(answers).case
    assert case.targets[0].movable is False
    back = Opened(case)
    row.write(back, Slot("targets.0", "main"), case.targets[0])
    assert back.values == {"main.fixed": True}


def test_two_equal_heights_that_were_measured_come_back_measured() -> None:
    case = case_of_answers.ask({"wearer.age_years": "54", "fit.fitting_height_mm": "20/20"}).case
    answers = answers_of_case.answers_of(build_case(case.model_dump(by_alias=True, mode="json")))
    assert answers["fit.fitting_height_mm"] == "20/20"
    assert case_of_answers.ask(answers).case == case


TWO_ALIKE = {
    "wearer.age_years": "54",
    "papers": "yes",
    "other0.preset": "papers",
    "other1.preset": "papers",
}


def test_things_of_one_kind_are_numbered_until_they_are_named() -> None:
    case = case_of_answers.ask(TWO_ALIKE).case
    assert [one.name for one in case.targets] == ["main screen", "papers", "papers 2", "papers 3"]
    answers = answers_of_case.answers_of(case)
    assert not [name for name in answers if name.endswith(".name")]
    assert case_of_answers.ask(answers).case == case
    named = case_of_answers.ask({**TWO_ALIKE, "papers.name": "music", "other1.name": "papers"}).case
    assert [one.name for one in named.targets] == ["main screen", "music", "papers 3", "papers"]
    assert case_of_answers.ask(answers_of_case.answers_of(named)).case == named


def test_a_name_typed_twice_is_refused_in_its_field() -> None:
    asked = case_of_answers.ask({**TWO_ALIKE, "papers.name": "music", "other1.name": "music"})
    assert asked.case is None
    assert list(asked.refused) == ["other1.name"]


def test_what_bothers_the_wearer_is_kept_and_told_on_and_changes_no_case_without_it() -> None:
    plain = {"wearer.age_years": "54"}
    told = {**plain, "wearer.bothers": ["neck", "chin_up"]}
    case, silent = case_of_answers.ask(told).case, case_of_answers.ask(plain).case
    assert case.wearer.bothers == ("neck", "chin_up")
    assert case_of_answers.ask(answers_of_case.answers_of(case)).case == case
    assert "bothers" not in silent.model_dump(exclude_none=True)["wearer"]
    fields = {one.id: one.lines for one in letter_fields(case=case, result=invented_result(case))}
    assert fields["bothers"] == ("The neck or shoulders ache", "The head must go back to see")
    assert "bothers" not in {
        one.id for one in letter_fields(case=silent, result=invented_result(silent))
    }


def test_a_whole_prescription_has_room_for_all_of_it() -> None:
    """Half a phone, or half a column, hid the add at its end."""
    rows = [row for part in PARTS for row in part]
    powers = [row for row in rows if isinstance(row, field_table.Eyes | field_table.Powers)]
    assert len(powers) == 2
    assert all(row.wide for row in powers)
