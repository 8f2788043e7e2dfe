"""Ranges of the policies, and what moves a total: Vega-Lite drawings. No page library.

Nothing is told by colour: a range is a box with a line at its middle and its figures written above
it; of two ends the first is an open ring and the second a full dot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import zip_longest
from textwrap import wrap
from typing import Any

from app.shell import theme

ROW_PX = 52
MOVE_PX = 64
AXIS_PX = 48
LINE_PX = 17
LINE_SIGNS = 50
"""Signs of a line of words beside a phone's narrowest chart."""
LARGE = 1000.0
FONT = "Source Sans, system-ui, sans-serif"

Spec = dict[str, Any]


@dataclass(frozen=True)
class Bar:
    """A figure with its range; None where it is hidden or not known, and `why`."""

    label: str
    span: tuple[float, float, float] | None
    why: str = ""

    @property
    def says(self) -> str:
        """Return the label with its figures."""
        return f"{self.label}: {self.figures}"

    @property
    def figures(self) -> str:
        """Return middle and range, or why there are none."""
        if self.span is None:
            return self.why
        low, mid, high = map(rounded, self.span)
        if low == high:
            return figure(mid)
        return f"{figure(mid)} ({figure(low)} to {figure(high)})"


@dataclass(frozen=True)
class Ends:
    """A total with one assumption at its low and at its high end."""

    label: str
    at_low: float
    at_high: float

    @property
    def says(self) -> str:
        """Return both ends without signs."""
        ends = dict.fromkeys(map(figure, (self.at_low, self.at_high)))
        return " to ".join(ends)

    @property
    def figures(self) -> str:
        """Return both ends."""
        if self.at_low == self.at_high:
            return f"no change ({figure(self.at_low)})"
        return f"{figure(self.at_low)} ○ to {figure(self.at_high)} ●"


def rounded(value: float) -> float:
    """Give a large number in three figures, as it is said beside a bar; the table has all of them.

    >>> rounded(7275.0), rounded(31350.0), rounded(145.0), rounded(0.25)
    (7280.0, 31400.0, 145.0, 0.25)
    """
    return float(f"{value:.3g}") if abs(value) >= LARGE else value


def figure(value: float) -> str:
    """Give a number as a person reads it: thousands apart, no decimals where it is whole or large.

    >>> figure(31350.0), figure(0.09), figure(45)
    ('31,350', '0.09', '45')
    """
    return f"{value:,.0f}" if value == int(value) or abs(value) >= 100 else f"{value:.2f}"


def ranges(bars: Sequence[Bar], *, axis: str) -> Spec:
    """Return a box a policy, on one scale from zero."""
    drawn = [
        {"label": bar.label, "low": bar.span[0], "mid": bar.span[1], "high": bar.span[2]}
        for bar in bars
        if bar.span is not None
    ]
    says, lines = _lines("says", [(f"{bar.label}:", bar.figures) for bar in bars])
    names = [{"label": bar.label, **said} for bar, said in zip(bars, says, strict=True)]
    most = max([row["high"] for row in drawn], default=0.0) or 1.0
    y = _rows([bar.label for bar in bars])
    scale = {"domain": [0, most], "nice": True}
    box = {"type": "bar", "fill": theme.ACCENT_WASH, "stroke": theme.INK, "strokeWidth": 1.2}
    return _chart(
        {"drawn": drawn, "names": names},
        [
            {
                "data": {"name": "drawn"},
                "mark": {**box, "height": {"band": 0.8}},
                "encoding": {
                    "x": {**_field("low"), "scale": scale, "axis": _axis(axis)},
                    "x2": {"field": "high"},
                    "y": y,
                },
            },
            {
                "data": {"name": "drawn"},
                "mark": {
                    "type": "tick",
                    "thickness": 4,
                    "color": theme.ACCENT,
                    "opacity": 1,
                    "height": {"band": 0.8},
                },
                "encoding": {"x": _field("mid"), "y": y},
            },
            *(
                _text("names", name, y, dy=-(12 + LINE_PX * above), bold=True)
                for above, name in enumerate(lines)
            ),
        ],
        height=_high(ROW_PX, len(bars), lines),
    )


def moves(ends: Sequence[Ends], *, axis: str, middle: float) -> Spec:
    """Return a line an assumption, between its two ends; the dashed line is the total as it is."""
    names, lines = _lines("name", [(one.label,) for one in ends])
    rows = [
        {"label": one.label, "low": one.at_low, "high": one.at_high, "says": one.figures, **name}
        for one, name in zip(ends, names, strict=True)
    ]
    y = _rows([one.label for one in ends])
    values = [middle, *(row[name] for row in rows for name in ("low", "high"))]
    scale = {"domain": [min(values), max(values)], "nice": True, "zero": False}
    dot = {"type": "point", "size": 110, "stroke": theme.INK, "strokeWidth": 2, "opacity": 1}
    return _chart(
        {"rows": rows, "middle": [{"middle": middle}]},
        [
            {
                "data": {"name": "middle"},
                "mark": {"type": "rule", "color": theme.SOFT_INK, "strokeDash": [4, 4]},
                "encoding": {"x": {**_field("middle"), "scale": scale, "axis": _axis(axis)}},
            },
            {
                "data": {"name": "rows"},
                "mark": {"type": "rule", "color": theme.INK, "strokeWidth": 3},
                "encoding": {"x": _field("low"), "x2": {"field": "high"}, "y": y},
            },
            {
                "data": {"name": "rows"},
                "mark": {**dot, "fill": theme.INK},
                "encoding": {"x": _field("high"), "y": y},
            },
            {
                "data": {"name": "rows"},
                "mark": {**dot, "fill": theme.PAPER},
                "encoding": {"x": _field("low"), "y": y},
            },
            *(
                _text("rows", name, y, dy=-(10 + LINE_PX * above), bold=name != "says", halo=halo)
                for above, name in enumerate(("says", *lines))
                for halo in (True, False)
            ),
        ],
        height=_high(MOVE_PX, len(ends), lines),
    )


def ranges_text(bars: Sequence[Bar], *, title: str) -> str:
    """Return the boxes in words and numbers."""
    return f"{title}. " + "; ".join(bar.says for bar in bars) + "."


def moves_text(ends: Sequence[Ends], *, title: str, middle: float) -> str:
    """Return the ends in words and numbers."""
    said = "; ".join(f"{one.label}: {figure(one.at_low)} to {figure(one.at_high)}" for one in ends)
    return f"{title}, as it is {figure(middle)}. {said}."


def _lines(name: str, texts: Sequence[Sequence[str]]) -> tuple[list[dict[str, str]], list[str]]:
    """Return words in lines that a phone has room for, and the names of the lines, the last first.

    texts: each in its parts, which share a line where they fit. A drawing does not wrap words: a
    line too long squeezes all the rest, and is cut.
    """
    wrapped = []
    for parts in texts:
        whole = " ".join(parts)
        split = [whole] if len(whole) <= LINE_SIGNS else parts
        wrapped.append([line for part in split for line in _wrap(part)][::-1])
    names = [f"{name}{above}" for above in range(max(map(len, wrapped), default=1))]
    return [dict(zip_longest(names, lines, fillvalue="")) for lines in wrapped], names


_wrap = partial(wrap, width=LINE_SIGNS, break_on_hyphens=False)


def _high(row_px: int, rows: int, lines: Sequence[str]) -> int:
    return (row_px + LINE_PX * (len(lines) - 1)) * rows + AXIS_PX


def _chart(datasets: Spec, layers: list[Spec], *, height: int) -> Spec:
    return {
        "datasets": datasets,
        "layer": layers,
        "width": "container",
        "height": height,
        "background": theme.PAPER,
        "config": {"view": {"stroke": None}, "font": FONT, "padding": 8},
    }


def _rows(order: Sequence[str]) -> Spec:
    return {
        "field": "label",
        "type": "nominal",
        "axis": None,
        "sort": list(order),
        "scale": {"paddingInner": 0.6, "paddingOuter": 0.55},
    }


def _field(name: str) -> Spec:
    return {"field": name, "type": "quantitative"}


def _text(data: str, field: str, y: Spec, *, dy: int, bold: bool, halo: bool = False) -> Spec:
    """Return a line of words; with a halo only the paper around it, so that no line cuts it."""
    around = {"stroke": theme.PAPER, "strokeWidth": 5, "strokeJoin": "round"} if halo else {}
    return {
        "data": {"name": data},
        "mark": {
            "type": "text",
            "align": "left",
            "baseline": "bottom",
            "dy": dy,
            "fontSize": 13.5,
            "fontWeight": 600 if bold else 400,
            "color": theme.INK,
            **around,
        },
        "encoding": {"x": {"value": 1}, "y": y, "text": {"field": field, "type": "nominal"}},
    }


def _axis(title: str) -> Spec:
    return {
        "title": title,
        "titleFontWeight": "normal",
        "titleFontSize": 13,
        "labelFontSize": 13,
        "grid": False,
        "tickCount": 5,
        "labelColor": theme.INK,
        "titleColor": theme.INK,
        "domainColor": theme.INK,
        "tickColor": theme.INK,
    }
