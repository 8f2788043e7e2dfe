"""Prescriptions as people write them, read or refused; nothing is guessed.

Here the eyes are told apart and an add written once is shared; `prescription_words` knows the
words and `prescription_reader` reads one eye.
"""

from __future__ import annotations

import re
from dataclasses import replace

from engine.prescription import EyePrescription, Prescription
from engine.prescription_reader import Draft, EyeReader, built_eye
from engine.prescription_words import EYE_NAMES, Token, refuse, tokens_of

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
    tokens = _without_near_power(tokens_of(text, field=field), field)
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
    tokens = _without_near_power(tokens_of(text, field=field), field)
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


def _without_near_power(tokens: list[Token], field: str) -> list[Token]:
    """Refuse a near power in full; "near add" and "add near" are adds."""
    kinds = ["start", *(token.kind for token in tokens), "end"]
    for place, token in enumerate(tokens, start=1):
        if token.kind == "near" and "add" not in (kinds[place - 1], kinds[place + 1]):
            refuse(field, token.text, _NEAR_RULE)
    return tokens


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
    """The tokens that belong to each eye, in the order written."""
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
    """Tell a dash after the name of an eye from the minus of its sphere."""
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
    first, last = drafts  # in the order written
    if "add_d" not in drafts[first].values and drafts[last].ends_in_add:
        drafts[first].values["add_d"] = drafts[last].values["add_d"]
    given = {side: draft.values.get("add_d", "missing") for side, draft in drafts.items()}
    for side, value in given.items():
        other = given["left" if side == "right" else "right"]
        if value == "missing" and other not in ("missing", None):
            rule = "the add of this eye, or no add; one add for both stands after the second eye"
            refuse(f"{field}.{side}.add_d", "nothing", rule)
