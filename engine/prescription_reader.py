"""Reads the prescription of one eye from its tokens, from left to right.

The order is sphere, cylinder, axis, then add and prism in any order. What could be read in two
ways is refused, and the refusal says what to write instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Literal, NoReturn

from pydantic import BaseModel, ValidationError

from engine.case_input import allowed_range
from engine.errors import InputRefusedError
from engine.prescription import EyePrescription, Prism
from engine.prescription_words import BASES, EXAMPLE, Token, power_of, refuse

_ADD_RULE = "an add is written after the word, such as add +2.00"
_SIGN_RULE = "a sign: write + or - before the number"
_BASE_RULE = "an amount and a base that is up, down, in or out, such as 2 base up"
_NO_CYLINDER_RULE = "no axis without a cylinder: write the cylinder, or leave the axis out"
_NO_PLACE = {
    "at": "x before the axis: @ may also mean the power in that meridian",
    "between": "only the add for near: an intermediate power is worked out, not entered",
    "balance": "a power: a balance lens has none of its own to compute with",
    "pd": "no pupil distance here: it has a field of its own",
    "sign": "a number directly after the sign",
    "number": f"no number that belongs to nothing; {_ADD_RULE}, a prism as 2 base up",
    "degree": "a degree sign after an axis only",
}


@dataclass
class Draft:
    """What one eye was found to be, before its limits are checked."""

    values: dict[str, Any] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    ends_in_add: bool = False


class EyeReader:
    """Reads the tokens of one eye from left to right."""

    def __init__(self, tokens: list[Token], field: str) -> None:
        self.tokens, self.field, self.at, self.draft = tokens, field, 0, Draft()

    def read(self) -> Draft:
        """Read the whole eye."""
        self._sphere()
        self._cylinder()
        self._axis()
        while self.at < len(self.tokens):
            self.clause()
        return self.draft

    def _kind(self, ahead: int = 0) -> str:
        at = self.at + ahead
        return self.tokens[at].kind if at < len(self.tokens) else "end"

    def _take(self) -> Token:
        self.at += 1
        return self.tokens[self.at - 1]

    def _skip(self, *kinds: str) -> bool:
        start = self.at
        while self._kind() in kinds:
            self.at += 1
        return self.at > start

    def _refuse(self, name: str, allowed: str) -> NoReturn:
        text = self.tokens[self.at].text if self.at < len(self.tokens) else "nothing"
        refuse(f"{self.field}.{name}" if name else self.field, text, allowed)

    def _keep(self, name: str, token: Token, value: float) -> None:
        self.draft.values[name], self.draft.texts[name] = value, token.text

    def _role(self, ahead: int = 0) -> Literal["power", "add", "prism"]:
        """What the words after a number make of it."""
        after = ahead + 1
        while self._kind(after) == "unit":
            after += 1
        if self._kind(after) == "prism":  # "2 prism base up", but not "90 prism 2 base up"
            while self._kind(after) in ("prism", "unit", "base"):
                after += 1
            is_mark = self._kind(after) in BASES and self._kind(after + 1) != "number"
            return "prism" if is_mark else "power"
        if self._kind(after) == "pd" and self._kind(after + 1) == "number":
            return "power"
        if self._kind(after) in ("mark", "pd", "base", *BASES):
            return "power" if self.tokens[self.at + ahead].sign else "prism"
        after += self._kind(after) == "near"
        if self._kind(after) != "add" or self._kind(after + 1) in ("none", "near"):
            return "power"
        owns_number = self._kind(after + 1) == "number" and self._role(after + 1) == "power"
        return "power" if owns_number else "add"

    def _sphere(self) -> None:
        self._skip("sphere")
        if self._kind() == "plano":
            self._keep("sphere_d", self._take(), 0.0)
        elif self._kind() == "number" and self._role() == "power":
            token = self.tokens[self.at]
            value = power_of(token, field=f"{self.field}.sphere_d")
            if value and not token.sign:
                self._refuse("sphere_d", _SIGN_RULE)
            self._keep("sphere_d", self._take(), value)
        else:
            rule = f"the sphere first, such as {EXAMPLE}"
            self._refuse("sphere_d", _NO_PLACE.get(self._kind().replace("number", ""), rule))
        self._skip("unit", "sphere")

    def _cylinder(self) -> None:
        if self._kind() == "none" and self._kind(1) == "cylinder":
            self.at += 2
            return
        named = self._skip("cylinder")
        if self._kind() == "number" and self._role() == "power":
            token = self.tokens[self.at]
            if not token.sign and not named and re.fullmatch(r"[0-9]{2,3}", token.body):
                self._refuse("axis_deg", _NO_CYLINDER_RULE)
            value = power_of(token, field=f"{self.field}.cylinder_d")
            if value and not token.sign:
                self._refuse("cylinder_d", _SIGN_RULE)
            self._keep("cylinder_d", self._take(), value)
            self._skip("unit", "cylinder")
        elif named:
            self._refuse("cylinder_d", "a number with its sign")

    def _axis(self) -> None:
        if self._kind() == "at":
            self._refuse("axis_deg", _NO_PLACE["at"])
        cylinder_d = self.draft.values.get("cylinder_d", 0.0)
        limits = allowed_range(EyePrescription.model_fields["axis_deg"])
        marked = self._skip("times")
        is_number = self._kind() == "number" and (marked or self._role() == "power")
        if not cylinder_d:
            if marked or is_number:
                self._refuse("axis_deg", _NO_CYLINDER_RULE)
            return
        if not is_number or (self.tokens[self.at].sign and not marked):
            self._refuse("axis_deg", f"the axis of the cylinder, {limits}; {_ADD_RULE}")
        token = self.tokens[self.at]
        if not re.fullmatch(r"[0-9]{1,3}", token.text) or int(token.text) == 0:
            self._refuse(
                "axis_deg", f"a whole number without sign, {limits}; 180 where it is level"
            )
        self._keep("axis_deg", self._take(), int(token.text))
        self._skip("degree")

    def clause(self) -> None:
        """Read one add or one prism."""
        self.draft.ends_in_add = False
        if self._kind() == "none" and self._kind(1) in ("add", "prism"):
            if self._kind(1) == "add":
                self._keep_add(None)
            self.at += 2
        elif self._kind() == "add" or (self._kind() == "near" and self._kind(1) == "add"):
            self._add()
        elif self._kind() == "number" and self._role() == "add":
            self._keep_add(self._take())
            self._skip("unit", "near", "add")
        elif self._kind() in ("prism", "base", *BASES) or (
            self._kind() == "number" and self._role() == "prism"
        ):
            self._prism()
        else:
            self._refuse("", _NO_PLACE.get(self._kind(), f"the order of {EXAMPLE}"))

    def _add(self) -> None:
        self._skip("add", "near")
        if self._kind() == "none":
            self.at += 1
            self._keep_add(None)
        elif self._kind() == "number" and self._role() == "power":
            self._keep_add(self._take())
            self._skip("unit")
        else:
            self._refuse("add_d", _ADD_RULE)

    def _keep_add(self, token: Token | None) -> None:
        where = f"{self.field}.add_d"
        written = token.text if token else "no add"
        if "add_d" in self.draft.values:
            refuse(where, written, "one add for each eye, written once")
        if token and "-" in token.sign:
            refuse(where, written, "an add is plus power for near, never minus")
        self.draft.values["add_d"] = power_of(token, field=where) if token else None
        self.draft.texts["add_d"] = written
        self.draft.ends_in_add = True

    def _prism(self) -> None:
        self._skip("prism")
        if self._kind() in ("base", *BASES):
            base = self._base()
            amount = self._amount()
        else:
            amount = self._amount()
            base = self._base()
        self.draft.values.setdefault("prism", []).append({"amount_pd": amount, "base": base})

    def _amount(self) -> float:
        if self._kind() != "number":
            self._refuse("prism", _BASE_RULE)
        if self.tokens[self.at].sign:
            self._refuse("prism", "a prism without sign: the base says which way")
        amount = power_of(self._take(), field=f"{self.field}.prism")
        self._skip("mark", "pd", "prism", "unit")
        return amount

    def _base(self) -> str:
        self._skip("base")
        if self._kind() not in BASES:
            self._refuse("prism", _BASE_RULE)
        return self._take().kind


def built_eye(draft: Draft, field: str) -> EyePrescription:
    """Make the eye; what its fields refuse is refused with their limits."""
    try:
        return EyePrescription(**draft.values)
    except ValidationError as error:
        found = error.errors()[0]
    context = found.get("ctx", {})
    path = [str(part) for part in found["loc"]] or [context["field"]]
    model: type[BaseModel] = Prism if len(path) > 1 else EyePrescription
    limits = allowed_range(model.model_fields[path[-1]]) if found["loc"] else found["msg"]
    value = context.get("value", draft.texts.get(path[0], found["input"]))
    raise InputRefusedError(field=f"{field}.{path[0]}", value=value, allowed=limits or found["msg"])
