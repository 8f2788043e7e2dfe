"""Pictures of the home check: how to measure, and rulers true to scale. SVG text, ours.

A ruler is drawn in centimetres of its document, so it is true where the page is printed at full
size; on a screen only after the wearer has matched it to a bank card.
"""

from __future__ import annotations

from app.draw import figure, svg
from app.shell import theme
from engine.home.text import number

Point = tuple[float, float]

_SCALE = 3.4
"""Picture units a centimetre."""
_W, _H = 340.0, 262.0
_EYE: Point = (24.0, 21.0)
"""Place of the eye in the picture, in cm from its upper left corner."""
_DESK_CM, _TOP_CM, _SCREEN_CM = 66.0, 27.0, 84.0
"""Desk and top edge below the picture's upper edge, screen from its left, in cm."""
_PICTURE_CM = 32.0


def measuring_distance(*, name: str = "measure-distance") -> str:
    """The tape from the nose to the middle of the screen."""
    nose = (_EYE[0] + 3.0, _EYE[1] + 1.2)
    middle = (_SCREEN_CM, _TOP_CM + _PICTURE_CM / 2)
    parts = [*_scene(), _tape(nose, middle), *_end(nose), *_end(middle)]
    parts.append(svg.words("from your nose", x=104, y=62, size=13, bold=True))
    parts.append(svg.words("to the middle", x=278, y=170, size=13, anchor="end", bold=True))
    return svg.document(
        parts,
        width=_W,
        height=_H,
        title="Measure how far the screen is",
        description="Side view of a person at a desk. A tape runs straight from the top of the "
        "nose, between the eyes, to the middle of the screen.",
        name=name,
    )


def measuring_height(*, name: str = "measure-height") -> str:
    """The book at the corner of the eye, the tape to the desk, the tape to the top edge."""
    book = (_EYE[0] - 2.0, _EYE[1])
    foot = (book[0] + 20.0, _DESK_CM)
    top = (_SCREEN_CM, _TOP_CM)
    parts = [
        *_scene(),
        _book(book),
        _tape((foot[0], book[1] + 0.4), foot),
        _tape((top[0] - 4.0, top[1]), (top[0] - 4.0, _DESK_CM)),
        svg.line(_at((top[0] - 6.5, top[1])), _at(top), width=1.2),
        svg.words("1", x=foot[0] * _SCALE + 7, y=150, size=20, bold=True, fill=theme.ACCENT),
        svg.words("2", x=(top[0] - 4.0) * _SCALE - 16, y=170, size=20, bold=True,
                  fill=theme.ACCENT),
        svg.words("book, held level", x=104, y=50, size=13, bold=True),
        svg.words("eyes to desk", x=foot[0] * _SCALE + 7, y=126, size=13),
        svg.words("desk to top edge", x=335, y=251, size=13, anchor="end"),
    ]  # fmt: skip
    return svg.document(
        parts,
        width=_W,
        height=_H,
        title="Measure how high your eyes and the screen are",
        description="Side view of a person at a desk. A book is held flat and level at the corner "
        "of the eye. Tape 1 hangs from the book down to the desk. Tape 2 goes from the desk up to "
        "the top edge of the picture on the screen.",
        name=name,
    )


def ruler(*, length_cm: int, first_cm: int = 0, unit: str = "cm", name: str = "ruler") -> str:
    """A ruler in centimetres with a mark where a bank card ends.

    Parameters
        length_cm: whole centimetres. first_cm: what its left end reads.
        unit: what one drawn centimetre is in the document: "cm", or pixels as "37.8px".
    """
    parts = [
        f'<path d="M0 0.02H{length_cm}" stroke="{theme.INK}" stroke-width="0.04" fill="none"/>'
    ]
    for half in range(2 * length_cm + 1):
        whole = half % 2 == 0
        parts.append(_tick(half / 2, 0.55 if whole else 0.3))
        if whole:
            parts.append(_figure(half / 2, 0.95, str(first_cm + half // 2), length_cm))
    card = number("card_cm") - first_cm
    if 0 < card <= length_cm:
        parts.append(
            f'<path d="M{card:.3f} 0V1.45" stroke="{theme.ACCENT}" stroke-width="0.06"/>'
            f'<text x="{card - 0.12:.2f}" y="1.42" font-size="0.34" text-anchor="end" '
            f'fill="{theme.ACCENT}">a bank card ends here</text>'
        )
    size = _sized(length_cm, unit)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" class="ruler" {size} '
        f'viewBox="-0.4 0 {length_cm + 0.8} 1.6" aria-labelledby="{name}-title" '
        f"font-family=\"'Source Sans', system-ui, sans-serif\">"
        f'<title id="{name}-title">Ruler from {first_cm} to {first_cm + length_cm} cm</title>'
        f"{''.join(parts)}</svg>"
    )


def card_bar(*, px_a_cm: float) -> str:
    """A bar as wide as the short side of a bank card, at some pixels a centimetre."""
    wide, high = number("card_short_cm") * px_a_cm, 2.2 * px_a_cm
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{wide:.1f}" '
        f'height="{high:.1f}" aria-label="A bar to match to a bank card">'
        f'<rect x="1" y="1" width="{wide - 2:.1f}" height="{high - 2:.1f}" rx="8" '
        f'fill="{theme.ACCENT_WASH}" stroke="{theme.ACCENT}" stroke-width="2"/></svg>'
    )


def _sized(length_cm: int, unit: str) -> str:
    wide, high = length_cm + 0.8, 1.6
    if unit == "cm":
        return f'width="{wide}cm" height="{high}cm"'
    scale = float(unit.removesuffix("px"))
    return f'width="{wide * scale:.1f}" height="{high * scale:.1f}"'


def _tick(x: float, high: float) -> str:
    return f'<path d="M{x} 0V{high}" stroke="{theme.INK}" stroke-width="0.035" fill="none"/>'


def _figure(x: float, y: float, text: str, length_cm: int) -> str:
    size = 0.36 if length_cm <= 30 else 0.3
    return (
        f'<text x="{x}" y="{y}" font-size="{size}" text-anchor="middle" fill="{theme.INK}">'
        f"{text}</text>"
    )


def _at(point: Point) -> Point:
    return point[0] * _SCALE, point[1] * _SCALE


def _from_eye(point: Point) -> Point:
    return _at((_EYE[0] + point[0], _EYE[1] - point[1]))


def _scene() -> list[str]:
    """A head, a body, a desk and a screen."""
    top, bottom = _at((_SCREEN_CM, _TOP_CM)), _at((_SCREEN_CM, _TOP_CM + _PICTURE_CM))
    return [
        *figure.body(_from_eye, desk_cm=_DESK_CM - _EYE[1]),
        *figure.head(_from_eye, 0.0, figure.Glasses(), ink=theme.INK, behind=False),
        svg.line(_at((34.0, _DESK_CM)), _at((100.0, _DESK_CM)), width=4.0),
        svg.line(top, bottom, width=5.0),
        svg.line(_at((_SCREEN_CM + 1.5, _TOP_CM + 18.0)), _at((_SCREEN_CM + 5.0, _DESK_CM)),
                 stroke=theme.RULE, width=3.0),
    ]  # fmt: skip


def _book(corner: Point) -> str:
    (x, y), (right, _) = _at(corner), _at((corner[0] + 24.0, 0.0))
    return (
        f'<rect x="{x:.1f}" y="{y - 7:.1f}" width="{right - x:.1f}" height="8" rx="1.5" '
        f'fill="{theme.BLURRED}" stroke="{theme.INK}" stroke-width="1.4"/>'
    )


def _tape(start: Point, end: Point) -> str:
    return svg.line(_at(start), _at(end), stroke=theme.ACCENT, width=2.6, dashes="6 3")


def _end(point: Point) -> list[str]:
    x, y = _at(point)
    return [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{theme.ACCENT}"/>']
