"""The slip an employer may hold: tested, special pair needed, date of the next test. No more."""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from engine.errors import InputRefusedError


class EmployerSlip(BaseModel):
    """Three fields and no place for a fourth.

    >>> slip = EmployerSlip(tested=True, special_pair_needed=True, retest_date=date(2028, 3, 1))
    >>> print(slip.text())
    Tested: yes
    Special pair for the screen needed: yes
    Next test: 2028-03-01
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    tested: bool = Field(title="tested")
    special_pair_needed: bool = Field(title="special pair for the screen needed")
    retest_date: date = Field(title="date of the next test")

    def text(self) -> str:
        """The slip as it is handed over; a name is written on it by hand, if at all."""
        return (
            f"Tested: {_yes(self.tested)}\n"
            f"Special pair for the screen needed: {_yes(self.special_pair_needed)}\n"
            f"Next test: {self.retest_date.isoformat()}"
        )


def slip_of(content: dict[str, Any]) -> EmployerSlip:
    """Make a slip, or refuse what is not one of its three fields.

    Raises
        InputRefusedError: names the field, not its value, which may be what must not be held.
    """
    try:
        return EmployerSlip.model_validate(content)
    except ValidationError as error:
        found = error.errors(include_input=False, include_url=False)[0]
        field = ".".join(str(part) for part in found["loc"]) or "slip"
        known = field in EmployerSlip.model_fields
        raise InputRefusedError(
            field=field if known else "slip",
            value="(not repeated)",
            allowed="tested, special_pair_needed (true or false) and retest_date (a date)",
        ) from None


def _yes(value: bool) -> str:
    return "yes" if value else "no"
