"""The columns of a roster, roster_columns.csv; their limits are those of the fields of `Case`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

from engine import tables
from engine.case import model as case
from engine.case import prescription
from engine.case.read import limits_of
from engine.errors import InputRefusedError, Limits
from engine.optics.workstation import aspect_ratio
from engine.roster.words import word_for
from engine.units import parse_length_cm, parse_number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic.fields import FieldInfo

HOURS = ("hours_screen", "hours_paper", "hours_people")
_ADD = "EyePrescription.add_d"


@dataclass(frozen=True)
class Column:
    """One column of a roster; see roster_columns.csv."""

    id: str
    kind: str
    needed: bool
    choices: tuple[str, ...]
    unit: str
    limits: Limits
    rule: str
    case_field: str

    def number(self, text: str) -> float:
        """Read a number of this column, within its limits.

        Raises
            InputRefusedError: not a number, or outside the limits.
        """
        parse = parse_length_cm if self.unit == "cm" else parse_number
        try:
            value = parse(text, field=self.id)
        except InputRefusedError as refusal:
            raise refusal.within(self.rule) from None
        if value == 0.0 and self.id in HOURS:
            return value
        is_add = self.case_field == _ADD
        if self.limits.side(value) or (is_add and not prescription.is_an_add(value)):
            limits = prescription.ADD_LIMITS if is_add else self.limits
            raise InputRefusedError(
                field=self.id, value=text, allowed=self.rule, limits=limits, number=value
            )
        return value

    def ratio(self, text: str) -> float:
        """Read a ratio such as 16:9."""
        return aspect_ratio(aspect=text, field=self.id)

    def choice(self, text: str) -> str:
        """Read one of the choices."""
        word = text.strip().lower()
        if word not in self.choices:
            raise InputRefusedError(field=self.id, value=text, allowed=self.rule)
        return word


@cache
def columns() -> Mapping[str, Column]:
    """Return every column by id, in the order of roster_columns.csv."""
    return {row["id"]: _column(row) for row in tables.rows("roster_columns")}


def _column(row: Mapping[str, str]) -> Column:
    choices = tuple(row["choices"].split())
    if choices == ("KINDS",):
        choices = tuple(tables.by_id("lens_kinds"))
    rule, limits = "", Limits()
    if choices:
        rule = "one of " + ", ".join(word_for(one, column=row["id"]) for one in choices)
    if row["case_field"]:
        limits = limits_of(_case_field(row["case_field"]))
        none = replace(limits, above=False) if row["id"] in HOURS else limits
        rule = prescription.ADD_RULE if row["case_field"] == _ADD else none.words
    return Column(
        id=row["id"],
        kind=row["kind"],
        needed=row["needed"] == "yes",
        choices=choices,
        unit=row["unit"],
        limits=limits,
        rule=rule,
        case_field=row["case_field"],
    )


def _case_field(path: str) -> FieldInfo:
    model, field = path.split(".")
    owner = getattr(case, model, None) or getattr(prescription, model)
    found: FieldInfo = owner.model_fields[field]
    return found
