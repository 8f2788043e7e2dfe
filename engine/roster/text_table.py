"""Read tables of text: in the encodings and with the separators that programs save them in."""

from __future__ import annotations

import codecs
import csv
import io
from typing import TYPE_CHECKING

from engine.errors import InputRefusedError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
TEXT_RULE = "a text file saved as CSV (UTF-8 is safest), an .xlsx or an .ods file"
_BLOCK = 1 << 20
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_NO_TEXT = frozenset(range(32)) - {9, 10, 13}
"""Control signs that no table has."""


def encoding_of(file: BinaryIO, *, field: str) -> str:
    """Return the encoding of a text; the file is read through and left at its start.

    UTF-8 and UTF-16 with or without their mark, else Windows-1252, in which a cell of a roster is
    the same as in every other encoding of one byte.

    Raises
        InputRefusedError: it is no text.
    """
    file.seek(0)
    first = file.read(_BLOCK)
    mark = next((name for start, name in _MARKS if first.startswith(start)), "")
    candidates = [mark] if mark else [*_without_mark(first), "utf-8", "cp1252"]
    for name in candidates:
        if _is_text(file, name):
            file.seek(0)
            return name
    raise InputRefusedError(field=field, value="no text, or a damaged one", allowed=TEXT_RULE)


def _without_mark(first: bytes) -> list[str]:
    """Return UTF-16 where nearly every second byte is 0, as in a table of Latin letters."""
    for name, start in (("utf-16-le", 1), ("utf-16-be", 0)):
        half = first[start::2]
        if half and half.count(0) > 0.8 * len(half) and not first[1 - start :: 2].count(0):
            return [name]
    return []


def _is_text(file: BinaryIO, encoding: str) -> bool:
    decoder = codecs.getincrementaldecoder(encoding)()
    file.seek(0)
    try:
        while block := file.read(_BLOCK):
            if not _NO_TEXT.isdisjoint(map(ord, set(decoder.decode(block)))):
                return False
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def text_rows(
    file: BinaryIO, *, encoding: str, separator: str, field: str
) -> Iterator[tuple[int, list[str]]]:
    """Yield each row with its number, the first is 1; blank rows are counted too.

    Raises
        InputRefusedError: a quote is not closed, or a cell is longer than any.
    """
    file.seek(0)
    text = io.TextIOWrapper(file, encoding=encoding, newline="")
    try:
        yield from enumerate(csv.reader(text, delimiter=separator, strict=True), start=1)
    except csv.Error:
        found = "a broken table, or one that was cut off"
        allowed = f"cells separated by {SEPARATORS[separator]}, every quote closed"
        raise InputRefusedError(field=field, value=found, allowed=allowed) from None
    finally:
        if not text.closed:
            text.detach()
