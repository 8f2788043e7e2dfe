"""Small pieces of SVG text. Pure: no page library, and every word from outside is escaped."""

from __future__ import annotations

from collections.abc import Iterable

from app.shell import theme

_PLAIN = set(" abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")


def escaped(text: object) -> str:
    """Give text that is neither markup nor Markdown: all but letters, digits, spaces as references.

    >>> escaped("![x](http://a)<b>")
    '&#33;&#91;x&#93;&#40;http&#58;&#47;&#47;a&#41;&#60;b&#62;'
    """
    single_line = " ".join(str(text).split())
    return "".join(
        letter if letter in _PLAIN or ord(letter) > 127 else f"&#{ord(letter)};"
        for letter in single_line
        if letter.isprintable()
    )


def number(value: float) -> str:
    """Return a coordinate to one decimal, without a trailing zero."""
    text = f"{value:.1f}"
    return "0" if text in ("-0.0", "0.0") else text.removesuffix(".0")


def document(
    parts: Iterable[str],
    *,
    width: float,
    height: float,
    title: str,
    description: str,
    name: str,
) -> str:
    """Return a whole picture with its title and its text; `name` keeps ids apart on a page."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" '
        f'viewBox="0 0 {number(width)} {number(height)}" '
        f'aria-labelledby="{name}-title {name}-desc" '
        f"font-family=\"'Source Sans', system-ui, sans-serif\">"
        f'<title id="{name}-title">{escaped(title)}</title>'
        f'<desc id="{name}-desc">{escaped(description)}</desc>'
        f'<rect width="{number(width)}" height="{number(height)}" fill="{theme.PAPER}"/>'
        f"{''.join(parts)}</svg>"
    )


HALO = f' stroke="{theme.PAPER}" stroke-width="3" stroke-linejoin="round" paint-order="stroke"'
"""The paper edge of words, which only browsers draw under them."""


def words(
    text: object,
    *,
    x: float,
    y: float,
    size: float = 12.0,
    anchor: str = "start",
    bold: bool = False,
    fill: str = theme.INK,
) -> str:
    """Return one line of text, with a paper edge so that lines behind it do not cut it."""
    weight = ' font-weight="600"' if bold else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" '
        f'text-anchor="{anchor}" fill="{fill}"{HALO}{weight}>{escaped(text)}</text>'
    )


def line(
    start: tuple[float, float],
    end: tuple[float, float],
    *,
    stroke: str = theme.INK,
    width: float = 1.0,
    dashes: str = "",
) -> str:
    """Return a straight line."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{number(start[0])}" y1="{number(start[1])}" x2="{number(end[0])}" '
        f'y2="{number(end[1])}" stroke="{stroke}" stroke-width="{number(width)}"{dashed}/>'
    )


def shape(
    points: Iterable[tuple[float, float]],
    *,
    fill: str = "none",
    stroke: str = theme.INK,
    width: float = 1.0,
    dashes: str = "",
) -> str:
    """Return a polygon."""
    where = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<polygon points="{where}" fill="{fill}" stroke="{stroke}" '
        f'stroke-width="{number(width)}" stroke-linejoin="round"{dashed}/>'
    )


def through(points: list[tuple[float, float]], *, closed: bool = True) -> str:
    """Return path data of a curve that passes through the points (Catmull-Rom)."""
    count = len(points)

    def point(at: int) -> tuple[float, float]:
        return points[at % count] if closed else points[min(max(at, 0), count - 1)]

    steps = []
    for at in range(count if closed else count - 1):
        before, start, end, after = (point(at + step) for step in (-1, 0, 1, 2))
        one = start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6
        other = end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6
        steps.append("C" + " ".join(number(value) for value in (*one, *other, *end)))
    return f"M{number(points[0][0])} {number(points[0][1])}{''.join(steps)}{'Z' if closed else ''}"


def path(
    data: str,
    *,
    fill: str = "none",
    stroke: str = "none",
    width: float = 1.0,
    dashes: str = "",
    opacity: float = 1.0,
) -> str:
    """Return a drawn path, with round ends and joins."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    clear = f' fill-opacity="{opacity:g}"' if opacity < 1.0 else ""
    return (
        f'<path d="{data}" fill="{fill}"{clear} stroke="{stroke}" stroke-width="{number(width)}" '
        f'stroke-linejoin="round" stroke-linecap="round"{dashed}/>'
    )


def cut(text: str, most: int) -> str:
    """Return at most so many letters, with an ellipsis where some are left out."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
