"""Draw day bars: how the hours of a day divide into the four grades, by lens.

The grades are told apart by lightness and by mark: comfortable is solid, awkward is dotted, blurred
is ruled, not served is empty with an outline; the hours are figures in each part. The drawing is
described once with Altair, which takes long to build one; each call fills in rows. Its key is SVG
text.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from app.draw import svg
from app.shell import theme
from app.shell.words import GRADE_MEANING
from engine.case.results import Hours
from engine.wording import hours, say

if TYPE_CHECKING:
    import altair as alt

DOTTED, RULED = "awkward", "blurred"


def patterns(name: str) -> str:
    """Return the dotted and the ruled fill of two grades, under ids of this picture's own."""
    dots = f'<circle cx="3" cy="3" r="1.1" fill="{theme.INK}"/>'
    rules = f'<line x1="3" y1="0" x2="3" y2="6" stroke="{theme.INK}" stroke-width="1.2"/>'
    found = "".join(
        f'<pattern id="{name}-{grade}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<rect width="6" height="6" fill="{theme.GRADE_COLOURS[grade]}"/>{mark}</pattern>'
        for grade, mark in ((DOTTED, dots), (RULED, rules))
    )
    return f"<defs>{found}</defs>"


def fill(grade: str, name: str) -> str:
    """Return what fills a part of that grade."""
    return f"url(#{name}-{grade})" if grade in (DOTTED, RULED) else theme.GRADE_COLOURS[grade]


def key() -> str:
    """Return the four marks with their words, as HTML that wraps on a narrow page."""
    said = "".join(
        f'<li><svg width="34" height="16" viewBox="0 0 34 16" aria-hidden="true">'
        f'<rect width="34" height="16" fill="{theme.PAPER}"/>'
        f"{patterns(f'key{index}')}{box(2, 1, 30, 14, grade, f'key{index}')}</svg>"
        f'<span title="{GRADE_MEANING[grade]}">{grade}</span></li>'
        for index, grade in enumerate(theme.GRADES)
    )
    return f'<ul class="lg-key">{said}</ul>'


def strip(bar: Bar, *, name: str) -> str:
    """Return one day as a still picture: its grades side by side, the numbers in its text."""
    width, height = 520, 18
    x, drawn = 1.0, []
    for grade, part_h in bar.parts():
        part = part_h / bar.day_h * (width - 2)
        drawn += [box(x, 1, part, height - 2, grade, name)] if part_h > 0 else []
        x += part
    return (
        f'<svg role="img" aria-label="{svg.escaped(alt_text([bar]))}" width="{width}" '
        f'height="{height}" viewBox="0 0 {width} {height}">{patterns(name)}{"".join(drawn)}</svg>'
    )


def box(x: float, y: float, width: float, height: float, grade: str, name: str) -> str:
    """Return one part of a bar; `patterns(name)` must be in the same picture."""
    return (
        f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width)}" '
        f'height="{svg.number(height)}" fill="{fill(grade, name)}" stroke="{theme.INK}" '
        f'stroke-width="1.2"/>'
    )


ROW_PX = 54
AXIS_PX = 44
LONE_PX = 24
"""Room for the name above a single bar."""
RULES_A_DAY = 64
"""Ruled lines across a whole day: about 9 px apart on a desk screen, 5 on a phone."""
SMALLEST_FIGURE = 0.07
"""Parts under this share of the day are too narrow for their figure; the alt text gives it."""

_DOTS_AT = (-8, 8)
"""Rows of dots, in px from the middle of a bar: above and below its figure."""

Spec = dict[str, Any]


@dataclass(frozen=True)
class Bar:
    """The hours of one plan, under its name."""

    label: str
    hours: Hours
    chosen: bool = False

    @property
    def day_h(self) -> float:
        """All hours."""
        return sum(self.hours.by_grade())

    def parts(self) -> list[tuple[str, float]]:
        """Return grade and hours, in the order they are drawn."""
        return list(zip(theme.GRADES, self.hours.by_grade(), strict=True))


def day_bars(bars: Sequence[Bar]) -> Spec:
    """Give one bar a lens, in the order given, on the same scale of hours: a Vega-Lite drawing."""
    day = max([bar.day_h for bar in bars], default=1.0) or 1.0
    spans = _spans(bars, day)
    spec = copy.deepcopy(_drawing())
    spec["height"] = ROW_PX * len(bars) + AXIS_PX + (LONE_PX if len(bars) == 1 else 0)
    spec["datasets"] = {
        "parts": spans,
        "rules": _marks(spans, day, RULED),
        "dots": _marks(spans, day, DOTTED),
        "figures": [span for span in spans if span["figure"]],
        "names": [_name(bar) for bar in bars],
    }
    order = [bar.label for bar in bars]
    for layer in _leaves(spec):
        layer["encoding"]["y"]["sort"] = order
        if "scale" in layer["encoding"]["x"]:
            layer["encoding"]["x"]["scale"]["domain"] = [0, day]
    return spec


def alt_text(bars: Sequence[Bar]) -> str:
    """Return the bars in words and numbers."""
    said = [f"{bar.label}: {_says(bar)}" for bar in bars]
    return say("draw_hours_by_lens", lenses="; ".join(said))


def _says(bar: Bar) -> str:
    return ", ".join(f"{hours(value)} h {grade}" for grade, value in bar.parts())


def _spans(bars: Sequence[Bar], day: float) -> list[dict[str, Any]]:
    spans = []
    for bar in bars:
        start = 0.0
        for grade, value in bar.parts():
            if value > 1e-9:
                spans.append(
                    {
                        "lens": bar.label,
                        "grade": grade,
                        "from": start,
                        "to": start + value,
                        "middle": start + value / 2,
                        "figure": hours(value) if value >= SMALLEST_FIGURE * day else "",
                        "ink": "#ffffff" if grade == "comfortable" else theme.INK,
                    }
                )
            start += value
    return spans


def _marks(spans: Sequence[dict[str, Any]], day: float, grade: str) -> list[dict[str, Any]]:
    """Return where the parts of a grade are marked."""
    step = day / RULES_A_DAY
    return [
        {"lens": span["lens"], "at": span["from"] + (index + 0.5) * step}
        for span in spans
        if span["grade"] == grade
        for index in range(int((span["to"] - span["from"]) / step))
    ]


def _name(bar: Bar) -> dict[str, str]:
    return {
        "lens": bar.label,
        "says": f"▸ {bar.label}" if bar.chosen else bar.label,
        "ink": theme.ACCENT if bar.chosen else theme.INK,
    }


def _leaves(spec: Spec) -> list[Spec]:
    """Return the layers that draw something."""
    inner = spec.get("layer")
    return [leaf for layer in inner for leaf in _leaves(layer)] if inner else [spec]


@lru_cache(maxsize=1)
def _drawing() -> Spec:
    """Return the drawing without its rows; it holds nothing of anyone."""
    import altair as alt

    lens = alt.Y("lens:N", axis=None, scale=alt.Scale(paddingInner=0.55, paddingOuter=0.5))
    drawing = (
        alt.layer(_solid(lens), _ruled(lens), *_dotted(lens), *_figures(lens), _names(lens))
        .properties(width="container", background=theme.PAPER)
        .configure_view(strokeWidth=0)
        .configure(font="Source Sans, system-ui, sans-serif", padding=8)
    )
    return drawing.to_dict()


def _solid(lens: alt.Y) -> alt.Chart:
    import altair as alt

    ticks = alt.Axis(
        title="hours of the day",
        titleFontWeight="normal",
        titleFontSize=13,
        labelFontSize=13,
        grid=False,
        tickMinStep=1,
        format="~g",
        labelColor=theme.INK,
        titleColor=theme.INK,
        domainColor=theme.INK,
        tickColor=theme.INK,
    )  # here and not in the chart's configuration, which the page's dark theme would overrule
    colours = alt.Scale(domain=list(theme.GRADES), range=list(theme.GRADE_COLOURS.values()))
    return (
        alt.Chart(alt.NamedData("parts"))
        .mark_bar(stroke=theme.INK, strokeWidth=1.2)
        .encode(
            x=alt.X("from:Q", scale=alt.Scale(domain=[0, 1], nice=False), axis=ticks),
            x2="to:Q",
            y=lens,
            color=alt.Color("grade:N", scale=colours, legend=None),
        )
    )


def _ruled(lens: alt.Y) -> alt.Chart:
    import altair as alt

    return (
        alt.Chart(alt.NamedData("rules"))
        .mark_tick(thickness=1.2, color=theme.INK, height={"band": 1})
        .encode(x="at:Q", y=lens)
    )


def _dotted(lens: alt.Y) -> list[alt.Chart]:
    import altair as alt

    return [
        alt.Chart(alt.NamedData("dots"))
        .mark_circle(size=9, color=theme.INK, opacity=1, yOffset=at)
        .encode(x="at:Q", y=lens)
        for at in _DOTS_AT
    ]


def _figures(lens: alt.Y) -> list[alt.Chart]:
    """Return the hours; on marks they stand on a ground of their own."""
    import altair as alt

    base = alt.Chart(alt.NamedData("figures"))
    look: dict[str, Any] = {"fontSize": 15, "fontWeight": 600, "baseline": "middle"}
    halos = [
        base.mark_text(**look, stroke=theme.GRADE_COLOURS[grade], strokeWidth=5).encode(
            x="middle:Q",
            y=lens,
            text="figure:N",
            opacity=alt.condition(f"datum.grade === '{grade}'", alt.value(1), alt.value(0)),
        )
        for grade in (DOTTED, RULED)
    ]
    figure = base.mark_text(**look).encode(
        x="middle:Q", y=lens, text="figure:N", color=alt.Color("ink:N", scale=None)
    )
    return [*halos, figure]


def _names(lens: alt.Y) -> alt.Chart:
    import altair as alt

    return (
        alt.Chart(alt.NamedData("names"))
        .mark_text(align="left", baseline="bottom", dy=-13, fontSize=14, fontWeight=600)
        .encode(x=alt.value(1), y=lens, text="says:N", color=alt.Color("ink:N", scale=None))
    )
