"""The key of the three grades, and the same marks as a small bar for sheets. SVG text."""

from __future__ import annotations

from app import svg, theme
from app.words import GRADE_MEANING, hours


def patterns(name: str) -> str:
    """The ruled fill of the strained grade, under an id of this picture's own."""
    return (
        f'<defs><pattern id="{name}-strained" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<rect width="6" height="6" fill="{theme.STRAINED}"/>'
        f'<line x1="3" y1="0" x2="3" y2="6" stroke="{theme.INK}" stroke-width="1.2"/>'
        f"</pattern></defs>"
    )


def fill(grade: str, name: str) -> str:
    """What fills a part of that grade."""
    return f"url(#{name}-strained)" if grade == "strained" else theme.GRADE_COLOURS[grade]


def key(*, name: str = "key") -> str:
    """The three marks with their words, as HTML that wraps on a narrow page."""
    said = "".join(
        f'<li><svg width="34" height="16" viewBox="0 0 34 16" aria-hidden="true">'
        f'<rect width="34" height="16" fill="{theme.PAPER}"/>'
        f"{patterns(f'{name}{index}')}{_box(2, 1, 30, 14, grade, f'{name}{index}')}</svg>"
        f'<span title="{GRADE_MEANING[grade]}">{grade}</span></li>'
        for index, grade in enumerate(theme.GRADES)
    )
    return f'<ul class="lg-key">{said}</ul>'


def day_bar(
    *, comfortable_h: float, strained_h: float, not_served_h: float, label: str, name: str
) -> str:
    """One day as a bar, for a sheet: the same marks as the chart."""
    numbers = dict(zip(theme.GRADES, (comfortable_h, strained_h, not_served_h), strict=True))
    day = sum(numbers.values()) or 1.0
    parts, start = [patterns(name)], 2.0
    for grade, value in numbers.items():
        width = 356 * value / day
        if value > 0:
            parts.append(_box(start, 2, width, 18, grade, name))
        start += width
    said = ", ".join(f"{hours(value)} h {grade}" for grade, value in numbers.items())
    return svg.document(
        parts, width=360, height=22, title=label, description=f"{label}: {said}", name=name
    )


def _box(x: float, y: float, width: float, height: float, grade: str, name: str) -> str:
    return (
        f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width)}" '
        f'height="{svg.number(height)}" fill="{fill(grade, name)}" stroke="{theme.INK}" '
        f'stroke-width="1.2"/>'
    )
