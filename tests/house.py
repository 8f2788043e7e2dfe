"""Read the house off the code: its modules, its packages in order, and what imports what."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "DEVELOPERS.md"
_BLOCK = re.compile(r"^```text packages\n(.*?)^```", re.MULTILINE | re.DOTALL)


def modules(*roots: str) -> list[str]:
    """Return the dotted name of every module below some top packages, packages included."""
    paths = (path.relative_to(ROOT) for root in roots for path in (ROOT / root).rglob("*.py"))
    return sorted(".".join(path.with_suffix("").parts).removesuffix(".__init__") for path in paths)


def path_of(module: str) -> Path:
    """Return the file of a module or package."""
    path = ROOT.joinpath(*module.split("."))
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def listed() -> list[str]:
    """Return the packages and single modules DEVELOPERS.md lists, in order."""
    found = _BLOCK.findall(PAGE.read_text(encoding="utf-8"))
    assert len(found) == 1, "DEVELOPERS.md has one fenced block 'text packages'"
    return [line.split()[0] for line in found[0].splitlines() if line.strip()]


def room_of(module: str, rooms: list[str]) -> str:
    """Return the listed package or module that a module belongs to."""
    fitting = [room for room in rooms if module == room or module.startswith(f"{room}.")]
    assert fitting, f"{module} belongs to no package listed in DEVELOPERS.md"
    return max(fitting, key=len)


@cache
def imported_names(module: str) -> tuple[str, ...]:
    """Return every name a module imports, also for types only and inside functions."""
    found: list[str] = []
    for node in ast.walk(ast.parse(path_of(module).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: imports are absolute"
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return tuple(found)


def imports_of(module: str, known: set[str]) -> set[str]:
    """Return the modules of this project that one of them imports."""
    found = set()
    for name in imported_names(module):
        if name.split(".")[0] in {"app", "engine"}:
            found.add(name if name in known else name.rpartition(".")[0])
    return found & known
