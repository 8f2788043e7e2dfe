"""Make a sheet a tagged PDF (ISO 14289-1, PDF/UA-1) with the extra `pdf`."""

from __future__ import annotations

from functools import cache

from app.draw import svg

WANTED = (
    "For PDF files install the extra: pip install 'levelgaze[pdf]'. Any sheet also prints from the "
    "browser, to paper or to a PDF."
)


@cache
def is_there() -> bool:
    """Return whether the extra is installed and finds Pango, the library that draws its text."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        return False
    return True


def of_sheet(page: str) -> bytes:
    """Return one sheet of ours, a whole HTML page with its language and title, as tagged PDF.

    Nothing is fetched: a sheet holds its own style and pictures. Words in pictures lose their paper
    edge, which would be drawn over them.

    Raises:
        ImportError, OSError: where `is_there` says no.
    """
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    inside = URLFetcher(allowed_protocols=("data",))
    return bytes(
        HTML(string=page.replace(svg.HALO, ""), url_fetcher=inside).write_pdf(
            pdf_variant="pdf/ua-1"
        )
    )
