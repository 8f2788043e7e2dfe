"""Read the code of the Home check from a picture, with the extra `codes`. Pure."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from engine.errors import InputRefusedError
from engine.home.code import holds_code

if TYPE_CHECKING:
    from PIL.Image import Image

BEGINS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")
"""How a PNG and a JPEG begin."""
ENDINGS = ("png", "jpg", "jpeg")
LARGEST_MB = 20
"""Of a picture: the largest that phones take has about 15."""
MOST_DOTS = 80_000_000
"""Of a picture: phones usually take 12 or 50 million; far more would fill the memory."""


def is_picture(content: bytes) -> bool:
    """Tell whether a file is a picture of a kind that can be read."""
    return content.startswith(BEGINS)


def text_in(content: bytes) -> str:
    """Return the text of the Home check's code in a picture.

    Raises
        InputRefusedError: the extra is missing, the picture is damaged or too large, or no such
            code is seen in it.
    """
    if len(content) > LARGEST_MB * 1_000_000:
        raise _refused("a picture this large", f"at most {LARGEST_MB} MB")
    try:
        import zxingcpp
        from PIL import Image
    except ImportError:
        allowed = "a file or pasted text; pictures need levelgaze[codes] installed"
        raise _refused("a picture", allowed) from None
    try:
        with Image.open(BytesIO(content), formats=["PNG", "JPEG"]) as opened:
            is_small = opened.width * opened.height <= MOST_DOTS
            picture = _grey(opened) if is_small else None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        picture = None
    except (OSError, SyntaxError, ValueError, EOFError):
        raise _refused("a damaged or cut off picture", "a whole PNG or JPEG") from None
    if picture is None:
        raise _refused("a picture this large", f"at most {MOST_DOTS // 1_000_000} million dots")
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
    texts = [one.text for one in found]
    for text in texts:
        if holds_code(text):
            return text
    if texts:
        raise _refused("another code", "the code at the end of the Home check")
    allowed = "a sharp picture of the whole code with its white edge, taken from straight ahead"
    raise _refused("a picture without a code that can be read", allowed)


def _grey(picture: Image) -> Image:
    """Return the picture in grey, of a JPEG as small as a code can be read from."""
    picture.draft("L", (2000, 2000))
    return picture.convert("L")


def _refused(value: str, allowed: str) -> InputRefusedError:
    return InputRefusedError(field="file", value=value, allowed=allowed)
