"""Sheets on paper: one self-contained HTML file each, and the buttons that give it.

One A4 or Letter page, printed from the browser. No script and nothing from outside; every word of
a user is escaped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import streamlit as st

from app.form import decimal_sign, keep, pdf, tied
from app.shell import theme
from engine.wording import capital

SHEET = f"""
@page {{ size: auto; margin: 11mm; }}
body {{ font: 9.5pt/1.3 'Source Sans', system-ui, sans-serif; color: {theme.INK};
  background: {theme.PAPER}; max-width: 18.6cm; margin: 0 auto; padding: 0.2cm; }}
h1 {{ font: 600 16pt/1.2 'Source Serif', Georgia, serif; margin: 0 0 0.15cm;
  border-left: 6px solid {theme.ACCENT}; padding-left: 0.25cm; }}
h2 {{ font: 600 10.5pt/1.2 'Source Serif', Georgia, serif; margin: 0.25cm 0 0.05cm; }}
p, ul {{ margin: 0.05cm 0; }} ul {{ padding-left: 0.5cm; }}
table {{ border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }}
th, td {{ text-align: left; vertical-align: top; padding: 0.03cm 0.15cm 0.03cm 0;
  border-bottom: 1px solid #c9ccd0; font-weight: 400; }}
thead th {{ font-weight: 600; border-bottom: 2px solid {theme.INK}; }}
.state {{ border: 2px solid {theme.INK}; padding: 0.1cm 0.25cm; font-weight: 600; }}
.say {{ border-left: 4px solid {theme.ACCENT}; padding-left: 0.25cm; }}
.columns {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 0.7cm; }}
.two {{ columns: 2; column-gap: 0.7cm; }} .two li {{ break-inside: avoid; }}
.head {{ text-align: right; }}
.signed {{ display: grid; grid-template-columns: 1fr 1fr; gap: 0 0.7cm; margin-top: 0.4cm; }}
.signed p {{ border-bottom: 1px solid {theme.INK}; padding-bottom: 0.7cm; }}
.first th, .first td {{ font-weight: 600; }}
.small {{ font-size: 8pt; line-height: 1.25; }}
.large {{ font-size: 11pt; }}
.large h2 {{ font-size: 12.5pt; }}
.many {{ font-size: 8pt; line-height: 1.2; }}
.many h2 {{ margin-top: 0.12cm; font-size: 9pt; }}
.many svg {{ display: block; width: 4.6cm; height: auto; }}
.many .looks {{ columns: 2; column-gap: 0.6cm; }}
.large svg {{ display: block; width: 7.4cm; height: auto; float: right; margin: 0 0 0.1cm 0.5cm; }}
@media (max-width: 640px) {{ .columns {{ grid-template-columns: 1fr; }}
  .two, .many .looks {{ columns: 1; }}
  .large svg, .many svg {{ float: none; width: 100%; margin: 0; }} }}
"""


_LONG = 6
"""A list of more lines stands in two columns where its sheet is narrow of room."""


def page(title: str, body: str, *, style: str = SHEET) -> str:
    """Return the whole file of a sheet; body is markup. style: of a sheet that has its own."""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{style}</style></head>"
        f"<body><main>{tied.with_units(body)}</main></body></html>"
    )


def table(
    headings: Sequence[str], rows: Sequence[Sequence[str]], *, first: int | None = None
) -> str:
    """Return a table whose first column names its rows. first: place of the row in bold."""
    head = "".join(f'<th scope="col">{escape(capital(name))}</th>' for name in headings)
    body = "".join(
        f'<tr{" class=first" if at == first else ""}><th scope="row">{escape(name)}</th>'
        + "".join(f"<td>{escape(cell)}</td>" for cell in cells)
        + "</tr>"
        for at, (name, *cells) in enumerate(rows)
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def bullets(lines: Iterable[str], *, small: bool = False, fold: bool = True) -> str:
    """Return a list, nothing where there is no line; a long one folds into two columns."""
    said = list(lines)
    items = "".join(f"<li>{escape(one)}</li>" for one in said)
    two = fold and len(said) > _LONG
    names = [name for name, wanted in (("small", small), ("two", two)) if wanted]
    opening = f'<ul class="{" ".join(names)}">' if names else "<ul>"
    return f"{opening}{items}</ul>" if items else ""


def part(heading: str, lines: Iterable[str]) -> str:
    """Return a heading with its list, nothing where there is no line."""
    listed = bullets(lines)
    return f"<h2>{escape(heading)}</h2>{listed}" if listed else ""


def download(title: str, page: str, label: str, ending: str, *, also_pdf: bool = False) -> None:
    """Draw a button that gives one sheet as a file, and one that gives it as a PDF.

    The PDF is made when its button is pressed, and only with the extra.
    """
    page = decimal_sign.shown(page)
    st.download_button(
        title,
        page.encode(),
        file_name=keep.file_name(label, ending),
        mime="text/html",
        on_click="ignore",
        width="stretch",
        key=f"sheet{ending}",
    )
    if also_pdf and pdf.is_there():
        st.download_button(
            f"{title} (PDF)",
            lambda: pdf.of_sheet(page),
            file_name=keep.file_name(label, ending.removesuffix(".html") + ".pdf"),
            mime="application/pdf",
            on_click="ignore",
            width="stretch",
            key=f"pdf{ending}",
        )
