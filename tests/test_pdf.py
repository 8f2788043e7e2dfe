"""Order and letter as PDF: a structure tree a screen reader can follow, one page, nothing fetched.

The tags and entries looked for are those of ISO 14289-1 (PDF/UA-1) as ISO 32000-1 names them; the
files are read by pikepdf, another library than the one that wrote them.
"""

from __future__ import annotations

import subprocess
import sys
from base64 import b64encode
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from PIL import Image

from app.draw import svg
from app.form import pdf
from tests.house import ROOT
from tests.orders import DETAILS, content
from tests.test_order_sheets import sheets


def elements(node: object, parents: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Each structure element with the tags above it, in reading order."""
    if isinstance(node, pikepdf.Array):
        for one in node:
            yield from elements(one, parents)
    elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
        tag = str(node["/S"]).removeprefix("/")
        yield parents, tag
        if "/K" in node:
            yield from elements(node["/K"], (*parents, tag))


@pytest.fixture(scope="module")
def made() -> dict[str, pikepdf.Pdf]:
    pages = sheets(content(), DETAILS)
    return {name: pikepdf.open(BytesIO(pdf.of_sheet(pages[name]))) for name in ("order", "letter")}


@pytest.mark.parametrize("name", ["order", "letter"])
def test_a_sheet_is_one_tagged_page_with_its_language_and_title(
    made: dict[str, pikepdf.Pdf], name: str
) -> None:
    file = made[name]
    assert len(file.pages) == 1
    assert str(file.Root.Lang) == "en"
    assert file.Root.MarkInfo.Marked
    assert file.Root.ViewerPreferences.DisplayDocTitle
    with file.open_metadata() as told:
        assert told["pdfuaid:part"] == "1"
        assert told["dc:title"] in ("Spectacle lens order", "To the prescriber")


def test_the_tags_follow_the_sheet(made: dict[str, pikepdf.Pdf]) -> None:
    order = list(elements(made["order"].Root.StructTreeRoot.K))
    tags = [tag for _, tag in order]
    headings = [tag for tag in tags if tag in ("H1", "H2", "H3")]
    assert headings == ["H1", *["H2"] * (len(headings) - 1)]
    assert tags.count("Table") == 1
    assert {above[-1] for above, tag in order if tag in ("TH", "TD")} == {"TR"}
    assert {above[-1] for above, tag in order if tag == "LI"} == {"L"}
    rows = [above for above, tag in order if tag == "TD"]
    assert len(rows) >= 16
    letter = [tag for _, tag in elements(made["letter"].Root.StructTreeRoot.K)]
    assert letter.count("H1") == 1
    assert letter.count("H2") >= 5


def test_every_font_is_inside_the_file(made: dict[str, pikepdf.Pdf]) -> None:
    for file in made.values():
        fonts = [one for one in file.objects if _is(one, "/FontDescriptor")]
        assert fonts
        assert all({"/FontFile", "/FontFile2", "/FontFile3"} & set(one.keys()) for one in fonts)


def _is(one: object, kind: str, sort: str | None = None) -> bool:
    if not isinstance(one, pikepdf.Dictionary | pikepdf.Stream) or one.get("/Type") != kind:
        return False
    return sort is None or one.get("/Subtype") == sort


def test_nothing_outside_a_sheet_is_fetched(tmp_path: Path) -> None:
    outside = tmp_path / "red.png"
    Image.new("RGB", (9, 9), "red").save(outside)
    inside = "data:image/png;base64," + b64encode(outside.read_bytes()).decode()
    for address, drawn in ((inside, True), (outside.as_uri(), False)):
        page = f'<html lang="en"><title>x</title><h1>x</h1><p><img alt="red" src="{address}">'
        with pikepdf.open(BytesIO(pdf.of_sheet(page))) as file:
            pictures = [one for one in file.objects if _is(one, "/XObject", "/Image")]
            assert bool(pictures) is drawn


def test_words_in_a_picture_are_drawn_in_ink() -> None:
    words = svg.words("seen", x=9, y=40, size=40)
    picture = svg.document([words], width=200, height=60, title="t", description="d", name="p")
    page = f'<html lang="en"><title>x</title><h1>x</h1>{picture}</html>'
    with pikepdf.open(BytesIO(pdf.of_sheet(page))) as file:
        parts = [file.pages[0], *(one for one in file.objects if _is(one, "/XObject", "/Form"))]
        drawn = [one for part in parts for one in pikepdf.parse_content_stream(part)]
    modes = [int(one.operands[0]) for one in drawn if str(one.operator) == "Tr"]
    assert {"Tj", "TJ"} & {str(one.operator) for one in drawn}
    assert set(modes) <= {0}, "filled, without an edge in paper colour over the ink"


def test_no_other_program_is_started_to_make_one() -> None:
    """In a process of its own, for a library is loaded once."""
    code = (
        "import sys\n"
        "seen = []\n"
        "sys.addaudithook(lambda event, args: seen.append(args) if 'Popen' in event else None)\n"
        "from app.form import pdf\n"
        "assert pdf.is_there()\n"
        "made = pdf.of_sheet('<html lang=en><title>x</title><h1>x</h1>')\n"
        "assert made.startswith(b'%PDF-')\n"
        "assert not seen, seen\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
