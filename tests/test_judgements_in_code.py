"""Numbers that nobody published are rows of a table, never constants in code."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from dataclasses import dataclass
from pathlib import Path

import pytest

from engine import tables

ROOT = Path(__file__).parent.parent
ADMITS = re.compile(
    r"judge(d|ment)|no source|common practice|\b(ours|our own|guessed|arbitrary|rule of thumb)\b",
    re.IGNORECASE,
)
"""Words by which a comment or docstring says that nobody published the number."""
SHOWN = {"READER_LESS_D", "SHIFTS"}
"""Numbers that no answer depends on: each is shown as a what-if beside it, with its size."""


@dataclass(frozen=True)
class Constant:
    """An upper-case constant that holds a number, with what is said about it."""

    name: str
    line: int
    said: str


def constants(text: str) -> list[Constant]:
    """Return every upper-case constant with a number in it, of modules and classes.

    What is said is the string under it, comments on its lines and comment lines right above it.
    """
    comments = {
        token.start[0]: token.string
        for token in tokenize.generate_tokens(io.StringIO(text).readline)
        if token.type == tokenize.COMMENT
    }
    lines = text.splitlines()
    found = []
    for owner in ast.walk(ast.parse(text)):
        if not isinstance(owner, ast.Module | ast.ClassDef):
            continue
        for place, node in enumerate(owner.body):
            names = [name for name in _names(node) if name.isupper()]
            if names and _holds_number(node):
                said = [_text_under(owner.body, place)]
                last = node.end_lineno or node.lineno
                said += [comments.get(line, "") for line in range(node.lineno, last + 1)]
                above = node.lineno - 1
                while above and lines[above - 1].lstrip().startswith("#"):
                    said.append(comments[above])
                    above -= 1
                found += [Constant(name, node.lineno, " ".join(said)) for name in names]
    return found


def _names(node: ast.stmt) -> list[str]:
    if isinstance(node, ast.Assign):
        targets = node.targets
    elif isinstance(node, ast.AnnAssign):
        targets = [node.target]
    else:
        return []
    return [part.id for one in targets for part in ast.walk(one) if isinstance(part, ast.Name)]


def _holds_number(node: ast.stmt) -> bool:
    value = getattr(node, "value", None)
    return value is not None and any(
        isinstance(part, ast.Constant) and type(part.value) in (int, float)
        for part in ast.walk(value)
    )


def _text_under(body: list[ast.stmt], place: int) -> str:
    under = body[place + 1] if place + 1 < len(body) else None
    if isinstance(under, ast.Expr) and isinstance(under.value, ast.Constant):
        return str(under.value.value)
    return ""


def admitted(found: list[Constant]) -> list[Constant]:
    """Return the constants said to be a judgement."""
    return [one for one in found if ADMITS.search(one.said) and one.name not in SHOWN]


@pytest.mark.parametrize("folder", ["engine", "app"])
def test_no_constant_is_said_to_be_a_judgement(folder: str) -> None:
    seen, wrong = 0, []
    for path in sorted((ROOT / folder).rglob("*.py")):
        found = constants(path.read_text(encoding="utf-8"))
        seen += len(found)
        where = path.relative_to(ROOT)
        wrong += [f"{where}:{one.line} {one.name}: {one.said}" for one in admitted(found)]
    assert seen > 50, "constants are found at all"
    assert not wrong, "move these to judgements.csv:\n" + "\n".join(wrong)


@pytest.mark.parametrize(
    "text",
    [
        'LEAST_D = 0.5\n"""Judgement of the authors."""\n',
        "LEAST_D = 0.5  # guessed\n",
        "# common practice, no source\nLEAST_D: float = 0.5\n",
        'NEAR, FAR = 0.5, 2\n"""Ours."""\n',
        'SHARES = {"screen": 3.0}\n"""Shares of the day (judged)."""\n',
        "class A:\n    LEAST_D = -0.5\n    '''A rule of thumb.'''\n",
    ],
)
def test_a_constant_said_to_be_a_judgement_is_found(text: str) -> None:
    assert admitted(constants(text))


@pytest.mark.parametrize(
    "text",
    [
        'LEAST_D = 0.5\n"""Smallest step of an order (ISO 8980)."""\n',
        'WORDS = "a guess"\n"""Ours."""\n',
        "KEY_BYTES = 12\n'''Beyond guessing.'''\n",
        "LEAST_D = 0.5\n\n\ndef guess() -> None:\n    '''A guess.'''\n",
        'is_judged = 1\n"""Judged."""\n',
    ],
)
def test_other_constants_are_left_alone(text: str) -> None:
    assert not admitted(constants(text))


def test_every_number_of_the_home_check_is_read_by_name() -> None:
    named = {
        node.value
        for folder in ("engine/home", "app/home_file")
        for path in (ROOT / folder).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant)
    }
    unread = set(tables.by_id("home_numbers")) - named
    assert not unread, f"changing these would change nothing: {sorted(unread)}"
