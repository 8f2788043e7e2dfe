"""Draw predicted hours against those that wearers report. Pure: no page library."""

from __future__ import annotations

from collections.abc import Sequence

from app.draw import svg
from app.shell import theme
from engine.collection.followup import Foretold
from engine.wording import counted, say

WIDTH, HEIGHT, EDGE, FOOT = 360.0, 330.0, 46.0, 44.0
HEAD = 32.0
"""Room over the plot for the name of its upright axis."""
DOT = 4.5


def foretold_picture(pairs: Sequence[Foretold]) -> str:
    """Return one dot a pair of glasses, over a line on which both are the same."""
    most_h = max(2.0, *(max(one.predicted_h, one.reported_h) for one in pairs))
    step_h = 1 if most_h <= 6 else 2
    end_h = step_h * -(-int(most_h + 0.999) // step_h)

    def at(predicted_h: float, reported_h: float) -> tuple[float, float]:
        across, up = WIDTH - EDGE - 14.0, HEIGHT - FOOT - HEAD
        return EDGE + across * predicted_h / end_h, HEIGHT - FOOT - up * reported_h / end_h

    parts = [
        svg.line(at(0, 0), at(end_h, 0)),
        svg.line(at(0, 0), at(0, end_h)),
        svg.line(at(0, 0), at(end_h, end_h), stroke=theme.RULE, dashes="5 4"),
    ]
    for hour in range(0, end_h + 1, step_h):
        x, y = at(hour, 0)
        parts.append(svg.words(hour, x=x, y=y + 16, anchor="middle"))
        x, y = at(0, hour)
        parts.append(svg.words(hour, x=x - 8, y=y + 4, anchor="end"))
    parts += [
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="{svg.number(DOT)}" '
        f'fill="{theme.ACCENT}" stroke="{theme.INK}"/>'
        for x, y in (at(one.predicted_h, one.reported_h) for one in pairs)
    ]
    parts.append(svg.words("predicted, hours a day", x=WIDTH - 14, y=HEIGHT - 8, anchor="end"))
    parts.append(svg.words("reported, hours a day", x=8, y=12, bold=False))
    return svg.document(
        parts,
        width=WIDTH,
        height=HEIGHT,
        title="Predicted hours and reported hours",
        description=describe(pairs),
        name="foretold",
    )


def describe(pairs: Sequence[Foretold]) -> str:
    """Return the picture in words.

    >>> describe([Foretold(predicted_h=6, reported_h=5), Foretold(predicted_h=4, reported_h=4)])
    '2 pairs of glasses. On average, wearers report 0.5 h less than predicted.'
    """
    mean_h = sum(one.reported_h - one.predicted_h for one in pairs) / len(pairs)
    count = counted(len(pairs), "pair")
    if abs(mean_h) < 0.05:
        return say("draw_foretold_same", pairs=count)
    way = "more" if mean_h > 0 else "less"
    return say("draw_foretold_differs", pairs=count, hours_h=f"{abs(mean_h):.1f}", way=way)
