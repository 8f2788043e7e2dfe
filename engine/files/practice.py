"""Keep what a practice usually orders, and its letter head: nothing about a wearer.

One small file in the folder of the kept cases, readable by this user only. "Delete everything"
removes it.
"""

from __future__ import annotations

import json
from contextlib import suppress
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from engine.case.prescription import wrong
from engine.collection.tolerances import Standard
from engine.files.output import check_readable, removed, written_whole
from engine.files.store_file import default_path
from engine.order.types import USUAL, OrderDetails

if TYPE_CHECKING:
    from pathlib import Path

FILE_NAME = "practice.json"
LARGEST_BYTES = 10_000
MOST_LINES = 4
LINE_RULE = f"up to {MOST_LINES} lines of 60 printed characters"

Line = Annotated[str, Field(pattern=r"^[^\x00-\x1f\x7f]{1,60}$", description=LINE_RULE)]


class Practice(BaseModel):
    """What stands on every order of a practice until something else is typed.

    Attributes:
        letter_head: name, address and the like, a line each, for letters and orders.
        tolerances: the set a finished pair is held against.
        decimal_sign: of every number on pages, sheets and tables of this computer.
        details: of an order, those of `USUAL` only.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    letter_head: tuple[Line, ...] = Field((), max_length=MOST_LINES)
    tolerances: Standard | None = None
    decimal_sign: Literal["point", "comma"] = "point"
    details: OrderDetails = OrderDetails()

    @field_validator("details")
    @classmethod
    def _usual_only(cls, details: OrderDetails) -> OrderDetails:
        """Refuse what belongs to one wearer or one lens."""
        for name in sorted(details.model_fields_set - {*USUAL}):
            raise wrong(name, getattr(details, name), "a detail that is the same for every order")
        return details

    def usual(self) -> dict[str, Any]:
        """Return the details that are given, by name."""
        given = {name: getattr(self.details, name) for name in USUAL}
        told = self.details.model_fields_set
        return {name: value for name, value in given.items() if name in told and value is not None}


def path() -> Path:
    """Return where the file lies: beside the kept cases."""
    return default_path().with_name(FILE_NAME)


def read() -> Practice:
    """Read what is kept; nothing is usual where nothing was kept.

    Raises
        OSError, ValueError: there is something that cannot be read.
    """
    file = path()
    try:
        check_readable(file, field="practice", most_bytes=LARGEST_BYTES)
    except FileNotFoundError:
        return Practice()
    return Practice.model_validate_json(file.read_bytes())


def usual() -> Practice:
    """Return what is kept; nothing is usual where it cannot be read either."""
    with suppress(OSError, ValueError):
        return read()
    return Practice()


def keep(practice: Practice) -> None:
    """Write it whole, in place of what was kept.

    Raises
        OSError: it cannot be written.
    """
    file = path()
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    content = practice.model_dump(mode="json", exclude_unset=True)
    with written_whole(file, field="practice") as out:
        json.dump(content, out, ensure_ascii=False, indent=1)


def forget() -> bool:
    """Remove it; True where there was one.

    Raises
        OSError: it cannot be removed.
    """
    return removed(path())
