"""Tell what is installed: the version, that of the results, the extras, where kept cases lie."""

from __future__ import annotations

from importlib import import_module

from engine import __version__
from engine.case.results import RESULTS_VERSION
from engine.files.store_file import default_path

EXTRAS = {
    "cluster": "distributed",
    "codes": "zxingcpp",
    "fast": "numba",
    "fhir": "fhir.resources",
    "pdf": "weasyprint",
    "sheets": "python_calamine",
}
"""Extras of pyproject.toml that a user may want, and the module each brings."""


def told() -> str:
    """Return what `--version` prints: four lines, without opening what is kept."""
    path = default_path()
    kept = path if path.exists() else f"{path} (nothing kept yet)"
    found = ", ".join(f"{extra} {_state(module)}" for extra, module in EXTRAS.items())
    return (
        f"levelgaze {__version__}\n"
        f"results version {RESULTS_VERSION}\n"
        f"extras: {found}\n"
        f"kept cases: {kept}\n"
    )


def _state(module: str) -> str:
    try:
        import_module(module)
    except (ImportError, OSError):
        return "not found"
    return "found"
