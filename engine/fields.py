"""What the fields of a case are made of: title, unit, limits, names, rules between fields."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from engine import tables

NAME_RULE = "1 to 40 letters, digits, spaces or - . , ' + & / _, starting with a letter or digit"
NAME_PATTERN = r"^[^\W_][\w \-.,'+&/]{0,39}$"


class Part(BaseModel):
    """A frozen part of a case: no unknown keys, no nan, no infinity."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def quantity(title: str, unit: str, *, default: Any = ..., **limits: Any) -> Any:
    """A field with its title, unit and limits."""
    return Field(default, strict=True, title=title, json_schema_extra={"unit": unit}, **limits)


def wrong(field: str, value: Any, allowed: str) -> PydanticCustomError:
    """A rule between fields, told under the field that breaks it."""
    context = {"field": field, "value": value, "allowed": allowed}
    return PydanticCustomError("between_fields", "{allowed}", context)


def known(table: str) -> AfterValidator:
    """A text that is the id of a row of a table."""

    def check(value: str) -> str:
        if value not in tables.by_id(table):
            raise ValueError(f"one of {', '.join(tables.by_id(table))}")
        return value

    return AfterValidator(check)


Name = Annotated[str, Field(pattern=NAME_PATTERN, title="name", description=NAME_RULE)]
Kind = Annotated[str, known("lens_kinds")]
Condition = Annotated[str, known("conditions")]
Need = Literal["driving", "walking", "stairs"]
Origin = Literal["measured", "default", "assumed", "at_home"]
