"""Draw how to measure at home, and the pieces of a wearer seen from the side. SVG text, ours."""

from __future__ import annotations

from app.draw import figure, svg
from app.shell import theme
from engine import tables
from engine.wording import fill

Point = tuple[float, float]

_SCALE = 3.4
"""Picture units a centimetre."""
_W, _H = 340.0, 262.0
_EYE: Point = (24.0, 21.0)
"""Place of the eye in the picture, in cm from its upper left corner."""
_DESK_CM, _TOP_CM, _SCREEN_CM = 66.0, 27.0, 84.0
"""Desk and top edge below the picture's upper edge, screen from its left, in cm."""
_PICTURE_CM = 32.0
_USUAL = {"screen": "screen_24", "laptop": "laptop_14"}
"""Whose tilt a screen is drawn with: nobody measures it at home."""
_NECK: tuple[list[Point], list[Point]] = (
    [(-6.0, -5.0), (-5.2, -10.6), (-4.6, -15.5), (-3.0, -19.6)],
    [(-12.0, -3.0), (-13.7, -7.0), (-15.0, -13.2), (-17.0, -19.0)],
)
"""Front and back, from inside the head down to the trunk."""


def measuring_distance(*, name: str = "measure-distance") -> str:
    """Return the tape from the nose to the middle of the screen."""
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
        description=fill("home_texts", "pictured_distance"),
        name=name,
    )


def measuring_height(*, name: str = "measure-height") -> str:
    """Return the book at the corner of the eye, the tape to the desk, the tape to the top edge."""
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
        description=fill("home_texts", "pictured_height"),
        name=name,
    )


def figure_parts() -> dict[str, object]:
    """Return the wearer from the side in pieces that the script puts together, ten units a cm.

    trunk: with a neck that ends inside the head, which turns over it. head: level. arm: for a desk
    `arm_desk_cm` below the eyes. pivot_cm: of the head, from the eye, y up.
    """

    def at(point: Point) -> Point:
        return 10.0 * point[0], -10.0 * point[1]

    presets = tables.by_id("presets")
    trunk, _, arm = figure.body(at, desk_cm=figure.ARM_DESK)
    look = {"stroke": theme.ACCENT, "width": 2.0}
    neck = [
        svg.shape([at(point) for point in (*_NECK[0], *reversed(_NECK[1]))], fill=figure.SKIN,
                  stroke="none"),
        *(svg.path(svg.through([at(one) for one in line], closed=False), **look) for line in _NECK),
    ]  # fmt: skip
    head = figure.head(at, 0.0, figure.Glasses(), ink=theme.ACCENT, behind=False)
    return {
        "trunk": trunk + "".join(neck),
        "head": "".join(head[figure.NECK_PARTS :]),
        "arm": arm,
        "arm_desk_cm": figure.ARM_DESK,
        "shoulder_cm": figure.SHOULDER_DOWN,
        "pivot_cm": figure.PIVOT,
        "tilt_deg": {form: float(presets[name]["tilt_deg"]) for form, name in _USUAL.items()},
    }


def _at(point: Point) -> Point:
    return point[0] * _SCALE, point[1] * _SCALE


def _from_eye(point: Point) -> Point:
    return _at((_EYE[0] + point[0], _EYE[1] - point[1]))


def _scene() -> list[str]:
    """Return a head, a body, a desk and a screen."""
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
