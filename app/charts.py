"""Day bars: how the hours of a day divide into the three grades, by lens. Altair, no page library.

The grades are told apart by lightness and by mark: comfortable is solid, strained is ruled, not
served is empty with an outline; the hours stand in each part as figures. The drawing is described
once with Altair (building it takes longer than the engine's whole answer); each call fills in rows.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import altair as alt

from app import theme
from app.words import hours

ROW_PX = 54
AXIS_PX = 44
LONE_PX = 24
"""Room for the name above a single bar."""
RULES_A_DAY = 64
"""Ruled lines across a whole day: about 9 px apart on a desk screen, 5 on a phone."""
SMALLEST_FIGURE = 0.07
"""Parts under this share of the day are too narrow for their figure; the alt text gives it."""

Spec = dict[str, Any]


@dataclass(frozen=True)
class DayBar:
    """The hours of one lens."""

    label: str
    comfortable_h: float
    strained_h: float
    not_served_h: float
    chosen: bool = False

    @property
    def day_h(self) -> float:
        """All hours."""
        return self.comfortable_h + self.strained_h + self.not_served_h

    def parts(self) -> list[tuple[str, float]]:
        """Grade and hours, in the order they are drawn."""
        numbers = (self.comfortable_h, self.strained_h, self.not_served_h)
        return list(zip(theme.GRADES, numbers, strict=True))


def day_bars(bars: Sequence[DayBar]) -> Spec:
    """One bar a lens, in the order given, on the same scale of hours: a Vega-Lite drawing."""
    day = max([bar.day_h for bar in bars], default=1.0) or 1.0
    spans = _spans(bars, day)
    spec = copy.deepcopy(_drawing())
    spec["height"] = ROW_PX * len(bars) + AXIS_PX + (LONE_PX if len(bars) == 1 else 0)
    spec["datasets"] = {
        "parts": spans,
        "rules": _rules(spans, day),
        "figures": [span for span in spans if span["figure"]],
        "names": [_name(bar) for bar in bars],
    }
    order = [bar.label for bar in bars]
    for layer in _leaves(spec):
        layer["encoding"]["y"]["sort"] = order
        if "scale" in layer["encoding"]["x"]:
            layer["encoding"]["x"]["scale"]["domain"] = [0, day]
    return spec


def alt_text(bars: Sequence[DayBar]) -> str:
    """The bars in words and numbers."""
    said = [f"{bar.label}: {_says(bar)}" for bar in bars]
    return "Hours of the day by lens. " + "; ".join(said) + "."


def _says(bar: DayBar) -> str:
    return ", ".join(f"{hours(value)} h {grade}" for grade, value in bar.parts())


def _spans(bars: Sequence[DayBar], day: float) -> list[dict[str, Any]]:
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


def _rules(spans: Sequence[dict[str, Any]], day: float) -> list[dict[str, Any]]:
    step = day / RULES_A_DAY
    return [
        {"lens": span["lens"], "at": span["from"] + (index + 0.5) * step}
        for span in spans
        if span["grade"] == "strained"
        for index in range(int((span["to"] - span["from"]) / step))
    ]


def _name(bar: DayBar) -> dict[str, str]:
    return {
        "lens": bar.label,
        "says": f"▸ {bar.label}" if bar.chosen else bar.label,
        "ink": theme.ACCENT if bar.chosen else theme.INK,
    }


def _leaves(spec: Spec) -> list[Spec]:
    """The layers that draw something."""
    inner = spec.get("layer")
    return [leaf for layer in inner for leaf in _leaves(layer)] if inner else [spec]


@lru_cache(maxsize=1)
def _drawing() -> Spec:
    """The drawing without its rows; it holds nothing of anyone."""
    lens = alt.Y("lens:N", axis=None, scale=alt.Scale(paddingInner=0.55, paddingOuter=0.5))
    drawing = (
        alt.layer(_solid(lens), _ruled(lens), _figures(lens), _names(lens))
        .properties(width="container", background=theme.PAPER)
        .configure_view(strokeWidth=0)
        .configure(font="Source Sans, system-ui, sans-serif", padding=8)
    )
    return drawing.to_dict()


def _solid(lens: alt.Y) -> alt.Chart:
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
    return (
        alt.Chart(alt.NamedData("rules"))
        .mark_tick(thickness=1.2, color=theme.INK, height={"band": 1})
        .encode(x="at:Q", y=lens)
    )


def _figures(lens: alt.Y) -> alt.LayerChart:
    base = alt.Chart(alt.NamedData("figures"))
    look: dict[str, Any] = {"fontSize": 15, "fontWeight": 600, "baseline": "middle"}
    halo = base.mark_text(**look, stroke=theme.STRAINED, strokeWidth=5).encode(
        x="middle:Q",
        y=lens,
        text="figure:N",
        opacity=alt.condition("datum.grade === 'strained'", alt.value(1), alt.value(0)),
    )
    figure = base.mark_text(**look).encode(
        x="middle:Q", y=lens, text="figure:N", color=alt.Color("ink:N", scale=None)
    )
    return alt.layer(halo, figure)


def _names(lens: alt.Y) -> alt.Chart:
    return (
        alt.Chart(alt.NamedData("names"))
        .mark_text(align="left", baseline="bottom", dy=-13, fontSize=14, fontWeight=600)
        .encode(x=alt.value(1), y=lens, text="says:N", color=alt.Color("ink:N", scale=None))
    )
