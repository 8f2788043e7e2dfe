"""Make the slip that an employer may hold of an eye test, and of nothing else."""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from engine.errors import InputRefusedError
from engine.units import day_words

FIELDS = "tested and special_pair_needed (true or false), test_date and retest_date (dates)"
FIRST_TESTED = "no date of a test and no special pair where the eyes were not tested"


class EmployerSlip(BaseModel):
    """Four fields and no place for a fifth; whose it is and who tested is written on it by hand.

    >>> slip = EmployerSlip(tested=True, test_date=date(2027, 3, 1), special_pair_needed=True,
    ...                     retest_date=date(2029, 3, 1))
    >>> slip.lines()[:2]
    [('Eyes tested', 'yes'), ('Date of the test', '1 March 2027')]
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    tested: bool = Field(title="eyes tested")
    test_date: date | None = Field(title="date of the test")
    special_pair_needed: bool = Field(title="special pair for the screen needed")
    retest_date: date = Field(title="next test")

    @model_validator(mode="after")
    def _first_tested(self) -> EmployerSlip:
        if self.tested != (self.test_date is not None) or self.special_pair_needed > self.tested:
            raise ValueError(FIRST_TESTED)
        if self.test_date is not None and self.retest_date <= self.test_date:
            raise ValueError("a next test after this one")
        return self

    def lines(self) -> list[tuple[str, str]]:
        """Return what it says, field by field."""
        tested = [("Eyes tested", _yes(self.tested))]
        if self.test_date is not None:
            tested.append(("Date of the test", day_words(self.test_date)))
        needed = ("Special pair for the screen needed", _yes(self.special_pair_needed))
        return [*tested, needed, ("Next test", day_words(self.retest_date))]


def slip_of(content: dict[str, Any]) -> EmployerSlip:
    """Make a slip, or refuse what is none.

    Raises
        InputRefusedError: names the field, not its value, which may be what must not be held.
    """
    try:
        return EmployerSlip.model_validate(content)
    except ValidationError as error:
        found = error.errors(include_input=False, include_url=False)[0]
        field = ".".join(str(part) for part in found["loc"]) or "slip"
        known = field in EmployerSlip.model_fields
        rule = str(found["ctx"]["error"]) if found["type"] == "value_error" else FIELDS
        raise InputRefusedError(
            field=field if known else "slip", value="(not repeated)", allowed=rule
        ) from None


def _yes(value: bool) -> str:
    return "yes" if value else "no"
