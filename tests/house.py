"""The list of modules in DEVELOPERS.md kept whole: `python -m tests.house` writes it anew.

Modules that are there keep their order as far as their imports allow; a new one comes right after
the last it imports. What each is for is the first sentence of its own text.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
ENGINE, PAGE = ROOT / "engine", ROOT / "DEVELOPERS.md"
BLOCK = re.compile(r"(^```text order of imports\n)(.*?)(^```)", re.MULTILINE | re.DOTALL)
WIDTH = 100


def imported_names(path: Path) -> Iterator[str]:
    """Every module a file imports, also for types only and inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: imports are absolute"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def imports_of(module: str) -> set[str]:
    """The modules of the engine that one of them imports."""
    names = imported_names(ENGINE / f"{module}.py")
    return {name.split(".")[1] for name in names if name.startswith("engine.")}


def listed() -> dict[str, str]:
    """Every module listed in DEVELOPERS.md, in order, with what it is for."""
    found = BLOCK.findall(PAGE.read_text(encoding="utf-8"))
    assert len(found) == 1, "DEVELOPERS.md has one fenced block 'text order of imports'"
    lines = [line.split(maxsplit=1) for line in found[0][1].splitlines() if line.strip()]
    names = [line[0] for line in lines]
    assert len(set(names)) == len(names), "a module stands twice"
    return {line[0]: " ".join(line[1:]) for line in lines}


def ordered(before: list[str]) -> list[str]:
    """Every module after those it imports, as near to an earlier order as that allows."""
    left = {path.stem: imports_of(path.stem) for path in ENGINE.glob("*.py")}
    place = {name: number for number, name in enumerate(before)}
    done: list[str] = []
    while left:
        ready = [name for name, needed in left.items() if needed <= set(done)]
        assert ready, f"these import each other: {sorted(left)}"
        new = [name for name in ready if name not in place and name != "__main__"]
        known = [name for name in ready if name in place]
        done.append(min(new) if new else min(known or ready, key=lambda name: place.get(name, 0)))
        del left[done[-1]]
    return done


def purpose(module: str) -> str:
    """The first sentence of a module's text, or as many of its clauses as fit."""
    tree = ast.parse((ENGINE / f"{module}.py").read_text(encoding="utf-8"))
    first = " ".join((ast.get_docstring(tree) or "").split("\n\n")[0].split()).rstrip(".")
    while len(first) > WIDTH - 22 and re.search("[,;:]", first):
        first = re.sub(r"[,;:][^,;:]*$", "", first)
    return first


def written() -> str:
    """DEVELOPERS.md with the list as it should be."""
    lines = [f"{name:<21} {purpose(name)}\n" for name in ordered(list(listed()))]
    text = PAGE.read_text(encoding="utf-8")
    return BLOCK.sub(lambda found: found[1] + "".join(lines) + found[3], text)


if __name__ == "__main__":
    PAGE.write_text(written(), encoding="utf-8")
