"""The hours of every policy as a picture by itself, with its title, unit and day. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from app.draw import svg
from app.shell import theme
from app.views.team.charts import Bar, figure, ranges_text

WIDE, LEFT, RIGHT = 640.0, 8.0, 24.0
HEAD, ROW, FOOT = 44.0, 46.0, 58.0
BOX = 16.0
STEPS = (1.0, 2.0, 5.0)
MOST_TICKS = 6
LONGEST_NOTE = 105


def ranges_svg(bars: Sequence[Bar], *, title: str, axis: str, note: str) -> str:
    """Return a box a policy from low to high, a line at its middle, on one scale from zero."""
    high = HEAD + ROW * len(bars)
    most = max([bar.span[2] for bar in bars if bar.span is not None], default=0.0) or 1.0
    ticks = _ticks(most)
    across = (WIDE - LEFT - RIGHT) / ticks[-1]
    parts: list[str] = [svg.words(title, x=LEFT, y=24, size=16, bold=True)]
    for at, bar in enumerate(bars):
        parts += _row(bar, top=HEAD + ROW * at, across=across)
    parts.append(svg.line((LEFT, high), (LEFT + ticks[-1] * across, high)))
    for tick in ticks:
        x = LEFT + tick * across
        anchor = "start" if tick == 0.0 else "middle"
        parts.append(svg.line((x, high), (x, high + 5)))
        parts.append(svg.words(figure(tick), x=x, y=high + 18, anchor=anchor))
    parts.append(svg.words(axis, x=LEFT, y=high + 35))
    parts.append(svg.words(svg.cut(note, LONGEST_NOTE), x=LEFT, y=high + 52, size=11))
    return svg.document(
        parts,
        width=WIDE,
        height=high + FOOT,
        title=title,
        description=ranges_text(bars, title=title),
        name="team-ranges",
    )


def _row(bar: Bar, *, top: float, across: float) -> Iterator[str]:
    yield svg.words(bar.says, x=LEFT, y=top + 14, size=13, bold=True)
    if bar.span is None:
        return
    low, mid, high = (LEFT + value * across for value in bar.span)
    box = [(low, top + 20), (high, top + 20), (high, top + 20 + BOX), (low, top + 20 + BOX)]
    yield svg.shape(box, fill=theme.ACCENT_WASH, width=1.2)
    yield svg.line((mid, top + 18), (mid, top + 22 + BOX), stroke=theme.ACCENT, width=4)


def _ticks(most: float) -> list[float]:
    """Return round numbers from 0 to no less than the most."""
    step = next(one for one in _steps() if one * (MOST_TICKS - 1) >= most)
    count = next(at for at in range(1, MOST_TICKS) if at * step >= most)
    return [step * at for at in range(count + 1)]


def _steps() -> Iterable[float]:
    scale = 0.1
    while True:
        yield from (one * scale for one in STEPS)
        scale *= 10.0
