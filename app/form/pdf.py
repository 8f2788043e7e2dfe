"""Make a sheet a tagged PDF (ISO 14289-1, PDF/UA-1), or a drawing a PNG, with the extra `pdf`."""

from __future__ import annotations

import ctypes
import ctypes.util
import sys
from functools import cache
from importlib.util import find_spec
from types import ModuleType

from app.draw import svg
from engine.wording import say

WANTED = say("pdf_wanted")
PANGO = "libpango-1.0.so.0"
"""The library that draws its text, as Linux calls it."""


@cache
def is_there() -> bool:
    """Return whether the extra is installed and, on Linux, finds Pango; load only the latter."""
    if find_spec("weasyprint") is None:
        return False
    try:
        if sys.platform == "linux":
            ctypes.CDLL(PANGO)
    except OSError:
        return False
    return True


PNG_WIDTH_PX = 1600
"""Wide enough for a page of a memo at 200 dots to the inch."""


_FONTS = "'DejaVu Sans', 'Liberation Sans', 'Noto Sans', Arial, Helvetica"
"""What stands for a browser's system-ui: one of these is on nearly every system."""


@cache
def can_draw() -> bool:
    """Return whether a drawing can be made a PNG; load nothing."""
    return find_spec("resvg_py") is not None


def png_of(drawing: str) -> bytes:
    """Return a drawing of ours, an SVG document, as PNG. Nothing is fetched.

    Raises:
        ImportError: where `can_draw` says no.
    """
    import resvg_py

    found = drawing.replace("system-ui", _FONTS)
    return bytes(resvg_py.svg_to_bytes(svg_string=found, width=PNG_WIDTH_PX))


@cache
def _library() -> ModuleType:
    """Load WeasyPrint without letting ctypes start other programs to look for its libraries.

    It asks for each of them by several names, the full one of Linux among them.
    """
    looked_for = ctypes.util.find_library
    if sys.platform == "linux":
        ctypes.util.find_library = lambda name: None  # noqa: ARG005
    try:
        import weasyprint
    finally:
        ctypes.util.find_library = looked_for
    return weasyprint


def of_sheet(page: str) -> bytes:
    """Return one sheet of ours, a whole HTML page with its language and title, as tagged PDF.

    Nothing is fetched: a sheet holds its own style and pictures. Words in pictures lose their paper
    edge, which would be drawn over them.

    Raises:
        ImportError, OSError: where `is_there` says no.
    """
    library = _library()
    inside = library.urls.URLFetcher(allowed_protocols=("data",))
    sheet = library.HTML(string=page.replace(svg.HALO, ""), url_fetcher=inside)
    return bytes(sheet.write_pdf(pdf_variant="pdf/ua-1"))
