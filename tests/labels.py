"""Every short label shown to people, read from the code: `python -m tests.labels`.

Labels, headings, commands, options, state words, names in files, colours and marks of at most four
words. `tests/labels.csv` says of each whether the trade uses it, an open standard, everyday
English, or whether it is ours. The command lists those without a standing; with `--write`, rows
of labels that are gone leave the table and new ones come in, for a person to judge.
"""

from __future__ import annotations

import argparse
import ast
import csv
import re
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel

import app.__main__ as pages_command
from app import words
from engine import __main__ as engine_command
from engine import case, cautions, fields, lab_designs, order_types, results, tables, verify_types

ROOT = Path(__file__).resolve().parents[1]
TABLE = Path(__file__).with_name("labels.csv")
COLUMNS = ("label", "where", "standing")
STANDINGS = ("trade", "open standard", "plain English", "ours")
MOST_WORDS = 4

_CODE = re.compile(
    r"""[<>{}=_;#\\"]|\.[a-z]|^--|/[a-z]|'self'|'none'|serif|^ABC|^python |^[a-z]+ [a-z-]+:"""
)
_WORDS_OF_PAGES = re.compile(r"words|questions|telling|figures|ranges|claims|fields|form")
_CELLS = {
    "lens_kinds": ("id", "optician_name", "wearer_name"),
    "home_choices": ("label",),
    "home_questions": ("title",),
    "home_texts": ("text",),
    "wearer_sheet": ("text",),
    "sentences": ("text",),
    "outcome_codes": ("id", "meaning", "next_step"),
    "presets": ("name",),
    "posture_bands": ("band",),
    "placement_ranges": ("body",),
    "evidence": ("topic", "sure"),
    "team_evidence": ("claim", "certainty"),
    "left_out": ("what",),
    "country_rules": ("country",),
    "complaint_causes": ("cause", "remedy"),
    "complaint_signs": ("text",),
    "roster_columns": ("id",),
    "lab_list_columns": ("id", "meaning"),
    "judgements": ("id",),
    "cautions": ("id",),
}
"""Columns of tables that are shown to people or handed on in files."""


def labels() -> list[tuple[str, str]]:
    """Every label with the class it belongs to, each once, sorted."""
    found: set[tuple[str, str]] = set()
    for where, source in (
        ("page", _pages()),
        ("mark", _marks()),
        ("colour", _colours()),
        ("state", _states()),
        ("table", _table_cells()),
        ("JSON key", _keys(case.Case)),
        ("JSON key", _keys(results.Result)),
        ("JSON key", _keys(order_types.Order)),
    ):
        found |= {(label, where) for label in source}
    for module in (engine_command, pages_command):
        found |= set(_commands(module._parser()))
    return sorted(found)


def table() -> dict[tuple[str, str], str]:
    """The standing of each label, as written down."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {(row["label"], row["where"]): row["standing"] for row in csv.DictReader(file)}


def _short(text: str) -> bool:
    return bool(re.search(r"[^\W\d_]", text)) and len(text.split()) <= MOST_WORDS


def _files() -> Iterator[tuple[Path, ast.Module]]:
    for path in sorted((ROOT / "app").rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def _literals(tree: ast.Module) -> Iterator[str]:
    """Text constants, but no docstring, part of a sentence, name of an export or refusal."""
    passed_over: set[int] = set()
    for node in ast.walk(tree):
        inner: ast.AST | None = None
        if isinstance(node, (ast.JoinedStr, ast.Raise)):
            inner = node
        elif isinstance(node, ast.Subscript):
            inner = node.slice
        elif _is_docstring(node) or _is_export(node):
            inner = node.value
        passed_over |= {id(one) for one in ast.walk(inner)} if inner is not None else set()
    for node in ast.walk(tree):
        text = isinstance(node, ast.Constant) and isinstance(node.value, str)
        if text and id(node) not in passed_over:
            yield node.value.strip()


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_export(node: ast.AST) -> bool:
    return isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"


def _dict_values(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        for value in node.values if isinstance(node, ast.Dict) else ():
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                yield value.value.strip()


def _pages() -> Iterator[str]:
    """Literals of the pages that are more than one word, or begin with a capital; and the single
    words that a module of wording gives for an id."""
    for path, tree in _files():
        found = [text for text in _literals(tree) if " " in text or text[:1].isupper()]
        if _WORDS_OF_PAGES.search(path.stem):
            found += _dict_values(tree)
        yield from (
            text for text in found if len(text) > 1 and _short(text) and not _CODE.search(text)
        )


def _marks() -> Iterator[str]:
    """Signs drawn or written that are neither letters nor in ASCII."""
    for _, tree in _files():
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield from (
                    sign
                    for sign in node.value
                    if ord(sign) > 127 and unicodedata.category(sign) in ("So", "Sm")
                )
        for name in re.findall(r'pattern id="\{name\}-([a-z]+)', ast.unparse(tree)):
            yield f"pattern {name}"


def _colours() -> Iterator[str]:
    for path, _ in _files():
        yield from re.findall(r"#[0-9a-fA-F]{6}\b", path.read_text(encoding="utf-8"))


def _states() -> Iterator[str]:
    yield from words.GRADE_WORDS.values()
    for kind in (
        results.Verdict,
        results.Basis,
        cautions.Level,
        fields.Origin,
        fields.Need,
        verify_types.Outcome,
        order_types.Role,
        lab_designs.Reference,
        lab_designs.Verification,
    ):
        yield from get_args(kind)


def _table_cells() -> Iterator[str]:
    for name, columns in _CELLS.items():
        for row in tables.rows(name):
            yield from (row[column] for column in columns if _short(row[column]))


def _keys(model: type[BaseModel], seen: frozenset[str] = frozenset()) -> Iterator[str]:
    """Names of fields of a model and of the models in it, as they stand in a file."""
    if model.__name__ in seen:
        return
    for name, field in model.model_fields.items():
        yield field.alias or name
        for inner in _models(field.annotation):
            yield from _keys(inner, seen | {model.__name__})


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _commands(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                yield name, "command"
                yield from _commands(inner)
        elif action.option_strings:
            yield from ((option, "option") for option in action.option_strings)
        elif action.metavar:
            yield str(action.metavar), "command"


def main() -> int:
    """Print labels without a standing; with --write, bring the table up to date."""
    known, here = table() if TABLE.exists() else {}, labels()
    for label, where in here:
        if not known.get((label, where)):
            print(f"{where}: {label}")
    if "--write" in sys.argv:
        with TABLE.open("w", encoding="utf-8", newline="") as file:
            write = csv.writer(file, lineterminator="\n")
            write.writerow(COLUMNS)
            write.writerows((*one, known.get(one, "")) for one in here)
    return 0


if __name__ == "__main__":
    sys.exit(main())
