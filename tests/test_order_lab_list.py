"""A laboratory's own list: read, or refused cell by cell."""

from __future__ import annotations

import pytest

from engine.errors import InputRefusedError
from engine.order.lab_designs import LabList, read_lab_list, template_csv
from tests.orders import DETAILS, content, order

GOOD = (
    'Desk wide,office,"0.75 1.25",lower_limbus,16,near\n'
    'Room,office,"1,00",pupil_centre,"17,5",on_order\n'
)


def read(rows: str, *, header: str | None = None) -> LabList:
    return read_lab_list((template_csv() if header is None else header) + rows)


def test_the_template_alone_is_an_empty_list() -> None:
    found = read("")
    assert found.designs == ()
    assert found.errors == ()


def test_a_good_list_is_read_with_either_decimal_mark() -> None:
    found = read(GOOD)
    assert found.errors == ()
    assert found.designs[0].degressions_d == (0.75, 1.25)
    assert found.designs[1].minimum_height_mm == 17.5


BAD = [
    ("=SUM(A1),office,0.75,pupil_centre,16,near", "design", "=SUM(A1)"),
    ("A,unaided,,pupil_centre,16,near", "kind", "unaided"),
    ("A,office,,pupil_centre,16,near", "degressions_d", ""),
    ("A,office,9,pupil_centre,16,near", "degressions_d", "9"),
    ("A,sv_near,0.75,pupil_centre,16,near", "degressions_d", "0.75"),
    ("A,office,0.75,pupil,16,near", "reference", "pupil"),
    ("A,office,0.75,pupil_centre,5.9,near", "minimum_height_mm", "5.9"),
    ("A,office,0.75,pupil_centre,50.1,near", "minimum_height_mm", "50.1"),
    ("A,office,0.75,pupil_centre,x,near", "minimum_height_mm", "x"),
    ("A,office,0.75,pupil_centre,16,add", "verification_power", "add"),
    ("A,office,0.75", "row", "3"),
]


@pytest.mark.parametrize(("row", "column", "value"), BAD)
def test_each_wrong_cell_is_told_with_row_column_value_and_rule(
    row: str, column: str, value: str
) -> None:
    found = read(GOOD + row + "\n")
    assert len(found.designs) == 2
    assert [(one.row, one.column, one.value) for one in found.errors] == [(4, column, value)]
    assert found.errors[0].rule


def test_a_name_twice_is_told() -> None:
    found = read(GOOD + GOOD.splitlines()[0] + "\n")
    assert [(one.row, one.column) for one in found.errors] == [(4, "design")]


@pytest.mark.parametrize("height", ["6", "50"])
def test_heights_at_the_limits_are_taken(height: str) -> None:
    assert read(f"A,office,0.75,pupil_centre,{height},near\n").errors == ()


def test_another_table_is_refused() -> None:
    with pytest.raises(InputRefusedError, match="header"):
        read("1,2\n", header="a,b\n")
    with pytest.raises(InputRefusedError, match="header"):
        read_lab_list("")
    with pytest.raises(InputRefusedError, match="lab list"):
        read('"unclosed', header=template_csv())


def test_a_listed_design_gives_reference_height_and_verification_power() -> None:
    design = read("Desk wide,office,0.75 1.00 1.25,pupil_centre,21,near\n").designs[0]
    found = order(content(), details=DETAILS | {"lab_design": design, "office_reference": None})
    assert found.missing == ()
    checks = {check.id: check.passed for check in found.checks}
    assert checks["minimum_height_right"] is False
    right = found.eye("right")
    assert right.verification == next(one.power for one in right.powers if one.zone == "near")


def test_a_degression_the_laboratory_does_not_make_is_a_gap() -> None:
    design = read("Desk wide,office,2.25,pupil_centre,16,on_order\n").designs[0]
    found = order(content(), details=DETAILS | {"lab_design": design})
    assert [gap.field for gap in found.missing] == [
        "design.degression_d",
        "verification_right",
        "verification_left",
    ]
    other = read("Other,sv_near,,pupil_centre,16,near\n").designs[0]
    assert "lab_design" in [
        gap.field for gap in order(content(), details=DETAILS | {"lab_design": other}).missing
    ]
