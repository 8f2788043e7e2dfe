"""Levelgaze: find the lens that lets a presbyope see a day's work, clear and with a level head.

>>> from engine import advise, build_case
"""

from __future__ import annotations

from importlib import import_module

TYPE_CHECKING = False
"""As that of typing, which takes long to load: a stop is heeded only after this module."""
if TYPE_CHECKING:
    from typing import Any

    from engine.assemble import advise
    from engine.case.model import Case
    from engine.case.read import build_case
    from engine.case.results import Result
    from engine.errors import InputRefusedError

__version__ = "0.8.2"
"""Raised with each change that users notice; the list is at the end of README.md."""

__all__ = ["Case", "InputRefusedError", "Result", "advise", "build_case"]
_HOMES = {
    "Case": "engine.case.model",
    "InputRefusedError": "engine.errors",
    "Result": "engine.case.results",
    "advise": "engine.assemble",
    "build_case": "engine.case.read",
}


def __getattr__(name: str) -> Any:
    """Load an exported name when it is first asked for, so that a light import stays light."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
