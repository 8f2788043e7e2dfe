"""Read prescriptions as people write them; nothing is guessed.

What people type is folded to one spelling and cut into tokens; the eyes are told apart; each eye is
read from left to right: sphere, cylinder, axis, then add and prism in any order. Anything unknown,
any number without its decimal point and anything that could be read in two ways is refused, and the
refusal says what to write instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NoReturn

from pydantic import BaseModel, ValidationError

from engine.case.prescription import EyePrescription, Prescription, Prism
from engine.case.read import allowed_range, limits_of
from engine.errors import InputRefusedError
from engine.units import parse_number, plain_text, refuse_folded_digits

LONGEST_TEXT = 300
EXAMPLE = "-2.25 -0.50 x 180 add +2.00"
BASES = ("up", "down", "in", "out")
EYE_NAMES = ("right", "left", "both")
_KINDS = {
    "right": "r rt re od right",
    "left": "l lt le os left",
    "both": "ou be both",
    "times": "x × * axis ax",
    "at": "@ at",
    "add": "add adds addition",
    "near": "near reading read nv n",
    "between": "intermediate inter int computer screen",
    "plano": "plano plan pl ∞ infinity",
    "sphere": "ds sph sphere",
    "cylinder": "dc cyl cylinder",
    "unit": "d dpt dptr dioptre dioptres diopter diopters",
    "mark": "^ δ ∆ △",
    "pd": "pd",
    "prism": "prism prisms",
    "base": "base",
    "up": "up bu",
    "down": "down dn bd",
    "in": "in bi",
    "out": "out bo",
    "degree": "° deg degree degrees",
    "none": "no nil none",
    "filler": "eye eyes rx dist distance dv and with",
    "balance": "bal balance",
}
_KIND_OF = {word: kind for kind, words in _KINDS.items() for word in words.split()}
_STEPS = ("125", "375", "625", "875")
_POINTLESS = ("12", "13", "25", "37", "38", "50", "62", "63", "75", "87", "88")
"""Two digits that are the decimals of an eighth or quarter step."""
_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"))
_DEGREE_LOOKALIKES = {ord("º"): "°", ord("˚"): "°"}
_BOTH = re.compile(r"\b(?:right|re|od|r)\s*(?:[+&/]|and)\s*(?:left|le|os|l)\b")
_ACUITY = re.compile(r"(?<![0-9.,/+-])(?:6|20)/[0-9]{1,3}\b")
_TOKEN = re.compile(
    r"(?P<gap>[\s.,;:/|()\[\]=&\\]*?)"
    r"(?:(?P<number>(?:[+-]\s*)*[.,]?[0-9]+(?:[.,][0-9]+)*)"
    r"|(?P<word>(?:ds|dc|d|sph|cyl)(?=x(?![a-z]))|[^\W\d_]+|[×*@^∆△°∞])|(?P<sign>[+-])|(?P<end>$)|(?P<other>[^\s.,;:/|()\[\]=&\\]))"
)


@dataclass(frozen=True)
class Token:
    """One word, sign or number, with the separators that stood before it."""

    kind: str
    text: str
    gap: str = ""

    @property
    def sign(self) -> str:
        """Every sign before the number."""
        return "".join(c for c in self.text if c in "+-")

    @property
    def body(self) -> str:
        """The number without its signs."""
        return self.text.lstrip("+- \t\n")


def refuse(field: str, value: str, allowed: str) -> NoReturn:
    """Refuse a part of a prescription."""
    raise InputRefusedError(field=field, value=value, allowed=allowed)


def tokens_of(text: str, *, field: str) -> list[Token]:
    """Cut a text into its numbers and known words; fillers are dropped.

    Raises
        InputRefusedError: a part that is not understood.

    >>> [token.kind for token in tokens_of("PL/-0.75x90", field="prescription")]
    ['plano', 'number', 'times', 'number']
    """
    if len(text) > LONGEST_TEXT:
        refuse(field, text, f"at most {LONGEST_TEXT} characters")
    found: list[Token] = []
    gap = ""
    for match in _TOKEN.finditer(_folded(text, field)):
        kind, gap = match.lastgroup or "other", gap + match["gap"]
        word = match[kind]
        if kind == "end":
            break
        if kind == "word":
            kind = _KIND_OF.get(word, "other")
        if kind == "other":
            refuse(field, word, f"a prescription such as {EXAMPLE}; this part is not understood")
        if kind == "number" and word[0] in ".," and (word[0] == "," or (found and not gap)):
            refuse(field, word, "a digit or a sign before the decimal mark")
        if kind != "filler":
            found.append(Token(kind, word, gap))
            gap = ""
    if not found:
        refuse(field, text, f"a prescription such as {EXAMPLE}")
    return found


def _folded(text: str, field: str) -> str:
    """Return lower case with one kind of minus and abbreviations without points.

    Refuses digits that are not plain, and a visual acuity.
    """
    text = text.translate(_INVISIBLE).translate(_DEGREE_LOOKALIKES)
    allowed = "plain digits with a decimal point, such as 0.50 for a half"
    refuse_folded_digits(text, field=field, allowed=allowed)
    text = plain_text(text).lower().replace("\u2010", "-")
    acuity = _ACUITY.search(text)
    if acuity:
        refuse(field, acuity[0], "powers only: leave the visual acuity out")
    text = re.sub(r"\b([a-z])\.([a-z])\b\.?", r"\1\2", text)
    text = re.sub(r"\bbase\s*[-:]\s*", "base ", text)
    return _BOTH.sub(" ou ", text)


def power_of(token: Token, *, field: str) -> float:
    """Read the power in a number: at most one sign and decimal mark, quarters with their point.

    Raises
        InputRefusedError: two signs, two decimal marks, a missing point, too many decimals.

    >>> power_of(Token("number", "-2,25"), field="sphere")
    -2.25
    """
    if len(token.sign) > 1:
        refuse(field, token.text, "one sign")
    whole, *parts = re.split("[.,]", token.body)
    if len(parts) > 1:
        refuse(field, token.text, "one decimal mark in a number, and a space between numbers")
    decimals = "".join(parts)
    if not decimals and whole.strip("0"):
        _refuse_missing_point(token, field)
    if len(decimals) > 2 and decimals.rstrip("0") not in _STEPS and len(decimals.rstrip("0")) > 2:
        refuse(field, token.text, "at most two decimals, or an eighth such as 0.125")
    return parse_number(token.sign + token.body, field=field)


def _refuse_missing_point(token: Token, field: str) -> None:
    """Refuse "-225" and "-25", which may be meant with a point; "-2" and "-10" stand."""
    sign, digits = token.sign, token.body
    readings = [int(digits) / 100]
    if len(digits) == 2:
        if digits[0] != "0" and digits not in _POINTLESS:
            return
        readings = [int(digits) / (10 if digits[0] == "0" else 100), float(digits)]
    if len(digits) > 1:
        meant = " or ".join(f"{sign}{reading:.2f}" for reading in readings)
        refuse(field, token.text, f"a number with its decimal point: {meant}, whichever is meant")


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
        """Return what the words after a number make of it."""
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
    info = model.model_fields[path[-1]] if found["loc"] else None
    limits = context.get("limits") if info is None else limits_of(info)
    value = context.get("value", draft.texts.get(path[0], found["input"]))
    raise InputRefusedError(
        field=f"{field}.{path[0]}",
        value=value,
        allowed=(limits.words if info is not None and limits else "") or found["msg"],
        limits=limits,
        number=context.get("value", found["input"]) if limits else None,
    )


_NAMES_RULE = "one name before each eye: R and L, OD and OS, or OU for both"
_NEAR_RULE = "the near power as an add: near sphere minus distance sphere, such as add +2.00"


def parse_eye(text: str, *, field: str = "prescription") -> EyePrescription:
    """Read the prescription of one eye.

    Parameters
        text: sphere, cylinder x axis, add, prism; either cylinder form.
        field: path named in a refusal.

    Raises
        InputRefusedError: unreadable, ambiguous or outside the limits; nothing is guessed.

    >>> parse_eye("PL/-0.75x90").cylinder_d
    -0.75
    """
    tokens = tokens_of(text, field=field)
    _refuse_near_power(tokens, field)
    for token in tokens:
        if token.kind in EYE_NAMES:
            refuse(field, token.text, "the prescription of one eye, without naming the eye")
    return built_eye(EyeReader(tokens, field).read(), field)


def parse_prescription(text: str, *, field: str = "prescription") -> Prescription:
    """Read the prescription of both eyes, each named: R and L, OD and OS, or OU for both.

    An add written once after the second eye counts for both eyes; "+2.00/+2.25" after the
    word add is right, then left. An add for the first eye alone is refused unless the other
    says "no add".

    Raises
        InputRefusedError: as for `parse_eye`; an eye missing, or given twice.

    >>> parse_prescription("R -2.25 DS L -2.00 DS add +1.75").right.add_d
    1.75
    """
    tokens = tokens_of(text, field=field)
    _refuse_near_power(tokens, field)
    tokens, shared = _without_shared_add(tokens)
    parts = _by_eye(tokens, field)
    drafts = {side: EyeReader(part, f"{field}.{side}").read() for side, part in parts.items()}
    for side, token in shared.items():
        if "add_d" in drafts[side].values:
            refuse(f"{field}.{side}.add_d", token.text, "one add for each eye, written once")
        reader = EyeReader([Token("add", "add"), token], f"{field}.{side}")
        reader.clause()
        drafts[side].values |= reader.draft.values
        drafts[side].texts |= reader.draft.texts
    _share_last_add(drafts, field)
    return Prescription(
        right=built_eye(drafts["right"], f"{field}.right"),
        left=built_eye(drafts["left"], f"{field}.left"),
    )


def _refuse_near_power(tokens: list[Token], field: str) -> None:
    """Refuse a near power in full; "near add" and "add near" are adds."""
    kinds = ["start", *(token.kind for token in tokens), "end"]
    for place, token in enumerate(tokens, start=1):
        if token.kind == "near" and "add" not in (kinds[place - 1], kinds[place + 1]):
            refuse(field, token.text, _NEAR_RULE)


def _without_shared_add(tokens: list[Token]) -> tuple[list[Token], dict[str, Token]]:
    """Take an add for named eyes, or for right/left in turn, off the end of the text."""
    last = max((i for i, token in enumerate(tokens) if token.kind == "add"), default=-1)
    if last < 0:
        return tokens, {}
    head, tail = tokens[:last], [t for t in tokens[last + 1 :] if t.kind != "unit"]
    kinds = [token.kind for token in tail]
    numbers = [token for token in tail if token.kind == "number"]
    if kinds == ["both"] and head and head[-1].kind == "number":
        numbers, head = [head[-1]], head[:-1]
    elif kinds == ["number"] and len(head) > 1 and head[-1].kind == "both":
        kinds, head = ["both", "number"], head[:-1]
    elif kinds == ["number", "number"] and set(tail[1].gap) & set("/,;"):
        kinds = ["right", "number", "left", "number"]
    if head and head[-1].kind == "near":
        head = head[:-1]
    sides = [kind for kind in kinds if kind != "number"]
    if len(numbers) == 1 and sides == ["both"]:
        return head, {"right": numbers[0], "left": numbers[0]}
    if len(numbers) == 2 and kinds[1::2] == ["number"] * 2 and set(sides) == {"right", "left"}:
        return head, dict(zip(sides, numbers, strict=True))
    return tokens, {}


def _by_eye(tokens: list[Token], field: str) -> dict[str, list[Token]]:
    """Return the tokens that belong to each eye, in the order written."""
    parts: dict[str, list[Token]] = {}
    names = [i for i, token in enumerate(tokens) if token.kind in EYE_NAMES]
    if not names or names[0] > 0:
        refuse(field, tokens[0].text, _NAMES_RULE)
    for start, stop in zip(names, [*names[1:], len(tokens)], strict=True):
        kind = tokens[start].kind
        for side in ("right", "left") if kind == "both" else (kind,):
            if side in parts:
                refuse(f"{field}.{side}", tokens[start].text, "each eye once")
            parts[side] = _without_dash(tokens[start + 1 : stop], f"{field}.{side}.sphere_d")
    for side in ("right", "left"):
        if side not in parts:
            refuse(f"{field}.{side}", "nothing", f"both eyes: the {side} eye is missing")
    return parts


def _without_dash(tokens: list[Token], field: str) -> list[Token]:
    """Leave out a dash after the name of an eye; refuse what may be the minus of its sphere."""
    if not tokens:
        return tokens
    first, rest = tokens[0], tokens[1:]
    if first.kind == "sign" and first.text == "-":
        return rest
    if first.kind == "number" and re.match(r"-\s", first.text):
        if len(first.sign) == 2:
            return [replace(first, text=first.text[1:].strip()), *rest]
        if not set(first.gap) & set(":="):
            refuse(field, first.text, "a minus next to its number, as -2.25; or R: for a dash")
    return tokens


def _share_last_add(drafts: dict[str, Draft], field: str) -> None:
    """Give the add after the second eye to both; refuse one that only the first eye has."""
    first, last = drafts  # in the order written
    if "add_d" not in drafts[first].values and drafts[last].ends_in_add:
        drafts[first].values["add_d"] = drafts[last].values["add_d"]
    given = {side: draft.values.get("add_d", "missing") for side, draft in drafts.items()}
    for side, value in given.items():
        other = given["left" if side == "right" else "right"]
        if value == "missing" and other not in ("missing", None):
            rule = "the add of this eye, or no add; one add for both stands after the second eye"
            refuse(f"{field}.{side}.add_d", "nothing", rule)
