"""A row of the table of figures, and how the table is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

HEAD = ("figure", "measured", "beside it, in the same run", "reference", "ratio", "target", "")
INFORMATION = "-"


@dataclass(frozen=True)
class Row:
    """One figure with what was measured beside it.

    Attributes:
        figure, measured: the numerator: what it is, and its value.
        beside, reference: the denominator: a floor or another way to the same, in the same run.
        target: a limit of `of`, the value itself or the ratio; None where the row only informs.
        judge: whether the target is the most or the least allowed.
        source: where the target was set: an issue's number, or "ours".
    """

    figure: str
    measured: float
    unit: str
    beside: str
    reference: float
    target: float | None = None
    of: Literal["value", "ratio"] = "value"
    judge: Literal["most", "least"] = "most"
    source: str = ""

    @property
    def ratio(self) -> float:
        """Numerator by denominator; not a number where the denominator is 0."""
        return self.measured / self.reference if self.reference else float("nan")

    @property
    def met(self) -> bool | None:
        """Whether the target is met; None without one. What is no number meets no target."""
        if self.target is None:
            return None
        judged = self.ratio if self.of == "ratio" else self.measured
        return judged <= self.target if self.judge == "most" else judged >= self.target

    @property
    def verdict(self) -> str:
        """In one word."""
        return {None: INFORMATION, True: "met", False: "MISSED"}[self.met]

    @property
    def wanted(self) -> str:
        """The target in words."""
        if self.target is None:
            return INFORMATION
        sign = "<=" if self.judge == "most" else ">="
        unit = "x" if self.of == "ratio" else self.unit
        source = f" ({self.source})" if self.source else ""
        return f"{sign} {self.target:g} {unit}{source}".rstrip()

    def cells(self) -> tuple[str, ...]:
        """As they stand in the table, in the order of HEAD."""
        return (
            self.figure,
            f"{self.measured:.4g} {self.unit}".rstrip(),
            self.beside,
            f"{self.reference:.4g} {self.unit}".rstrip(),
            f"{self.ratio:.3g}",
            self.wanted,
            self.verdict,
        )


def table(rows: Sequence[Row]) -> str:
    """All rows under one head, each column as wide as its widest cell."""
    lines = [HEAD, *(row.cells() for row in rows)]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    written = [_line(line, widths) for line in lines]
    return "\n".join([written[0], "-" * max(map(len, written)), *written[1:], count(rows)])


def count(rows: Sequence[Row]) -> str:
    """How many targets were met."""
    judged = [row.met for row in rows if row.met is not None]
    return f"{sum(judged)} of {len(judged)} targets met; {len(rows) - len(judged)} for information"


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    figures = {1, 3, 4}
    return "  ".join(
        cell.rjust(width) if place in figures else cell.ljust(width)
        for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ).rstrip()
