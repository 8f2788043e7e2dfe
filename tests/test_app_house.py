"""The pages share pieces through app.form and app.shell, and no page borrows from another."""

from __future__ import annotations

import ast

from app.views.team import words as team_words
from engine.team.policies import POLICIES, PRICES
from tests.house import imports_of, modules, path_of

PAGES = "app.views."
BORROWED = {"collection": {"order"}}
"""Pages built on another page's work: a finished pair is held against the order."""


def test_one_module_hands_html_to_the_page_library() -> None:
    handing = {
        module
        for module in modules("app")
        for node in ast.walk(ast.parse(path_of(module).read_text(encoding="utf-8")))
        if isinstance(node, ast.keyword) and node.arg == "unsafe_allow_html"
    }
    assert handing == {"app.form.html"}


def test_a_page_imports_nothing_from_the_package_of_another() -> None:
    known = set(modules("app"))
    for module in known:
        if module.startswith(PAGES):
            page = module.split(".")[2]
            borrowed = {
                other.split(".")[2]
                for other in imports_of(module, known)
                if other.startswith(PAGES) and other.split(".")[2] != page
            }
            assert borrowed <= BORROWED.get(page, set()), f"{module} borrows from {borrowed}"


def test_every_policy_and_every_price_of_a_team_has_its_words() -> None:
    assert set(team_words.LONG) == set(POLICIES)
    assert set(team_words.PRICE_LABELS) == set(PRICES)
