"""Draw a wearer and everything looked at from above, as SVG text, true to scale.

For one target it shows how far the head turns and how wide a lens is clear there, for two lenses
over one body; bars on every target show the same of the others. No power is in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import cos, hypot, radians, sin

from app.draw import svg
from app.draw.figure import DASHES, Frame, eyes_above, head_above, shoulders_above
from app.draw.side_view import HEAD_LINES, LINE, PANEL_W, headings
from app.shell import theme
from engine.desk.sight import FromAbove, Turn

FARTHEST_CM = 250.0
"""What is farther away is named, not drawn."""
TALLEST = 250.0
FOOT = 24.0
BARS = "bars: clear without turning the head"


@dataclass(frozen=True)
class Spot:
    """A thing looked at. distance_cm: as measured."""

    name: str
    kind: str
    distance_cm: float
    place: FromAbove

    @property
    def drawn(self) -> bool:
        """Whether it is near enough to be drawn."""
        return self.kind != "far" and self.place.level_cm < FARTHEST_CM

    @property
    def width_cm(self) -> float:
        """From edge to edge."""
        (ahead, aside), (to_ahead, to_aside) = self.place.edges
        return hypot(to_ahead - ahead, to_aside - aside)


@dataclass(frozen=True)
class Wide:
    """How wide one lens is clear at each thing, by its name, and how head and eyes turn to it."""

    heading: str
    clear_cm: dict[str, float | None]
    turns: dict[str, Turn | None]

    def says(self, spot: Spot) -> str:
        """Return width and turn at one thing, short."""
        clear, turn = self.clear_cm[spot.name], self.turns[spot.name]
        if clear is None or turn is None:
            return "not clear"
        head = round(abs(turn.head_deg))
        if spot.kind == "far":
            return f"head {head}°" if head else "head straight"
        return f"{clear:.0f} cm clear" + (f", head {head}°" if head else "")


def above_view(
    *, spots: Sequence[Spot], looked_at: str, lens: Wide, against: Wide | None, name: str = "above"
) -> str:
    """Return one panel, with a title and a description that says in numbers what is drawn."""
    lenses = [lens] if against is None else [lens, against]
    spot = next(one for one in spots if one.name == looked_at)
    frame, height = _fit(spots, len(lenses))
    turns = [one.turns[looked_at] for one in lenses]
    inks = (theme.ACCENT, theme.TODAY)
    parts = [
        *_wedges(frame, spot, turns),
        *shoulders_above(frame.at),
        *_things(frame, spots, looked_at, lenses),
    ]
    for place, turn in enumerate(turns):
        turn_deg = 0.0 if turn is None else turn.head_deg
        if place and turns[0] is not None and abs(turn_deg - turns[0].head_deg) < 1.0:
            continue
        parts += head_above(frame.at, turn_deg, ink=inks[place], behind=bool(place))
    parts += headings([(one.heading, one.says(spot), True) for one in lenses])
    parts.append(svg.words(BARS, x=8, y=height - 7, size=12, fill=theme.SOFT_INK))
    return svg.document(
        parts,
        width=PANEL_W,
        height=height,
        title="From above, "
        + "; ".join(f"{one.heading}, at {looked_at}: {one.says(spot)}" for one in lenses),
        description=describe(spots, spot, lenses),
        name=name,
    )


def describe(spots: Sequence[Spot], spot: Spot, lenses: Sequence[Wide]) -> str:
    """Return the picture in words and numbers."""
    ordered = [spot, *(one for one in spots if one is not spot)]
    return "Seen from above. " + " ".join(_said(one, lenses) for one in ordered)


def _said(spot: Spot, lenses: Sequence[Wide]) -> str:
    aside = round(spot.place.aside_deg)
    where = "straight ahead" if not aside else f"{abs(aside)}° to the {_side(aside)}"
    wide = "" if spot.kind == "far" else f", {spot.width_cm:.0f} cm wide"
    each = "; ".join(f"{one.heading}: {_turn_words(one, spot)}" for one in lenses)
    return f"{spot.name} is {spot.distance_cm:.0f} cm away, {where}{wide}. {each}."


def _side(degrees: float) -> str:
    return "right" if degrees > 0 else "left"


def _turn_words(lens: Wide, spot: Spot) -> str:
    clear, turn = lens.clear_cm[spot.name], lens.turns[spot.name]
    if clear is None or turn is None:
        return "not clear"
    head = round(turn.head_deg)
    turned = f"head turned {abs(head)}° to the {_side(head)}" if head else "head straight"
    width = "" if spot.kind == "far" else f"{clear:.0f} cm clear without turning the head, "
    return f"{width}{turned}, eyes up to {turn.eyes_deg:.0f}° to either side"


def _fit(spots: Sequence[Spot], lines: int) -> tuple[Frame, float]:
    ends = [edge for spot in spots if spot.drawn for edge in spot.place.edges]
    half = max([32.0, *(abs(aside) + 6.0 for _, aside in ends)])
    top, bottom = max([50.0, *(ahead + 12.0 for ahead, _ in ends)]), -25.0
    scale = min(PANEL_W / (2.0 * half), TALLEST / (top - bottom))
    band = HEAD_LINES + lines * LINE - 8.0
    left = -PANEL_W / scale / 2.0
    return Frame(scale, left, top, band), band + (top - bottom) * scale + FOOT


def _wedges(frame: Frame, spot: Spot, turns: Sequence[Turn | None]) -> list[str]:
    """Return what is clear without turning the head; the wider one lies underneath."""
    edges = [hypot(*edge) for edge in spot.place.edges]
    reach = max(edges) * 1.06 if spot.drawn else frame.top - 2.0
    parts = []
    looks = (("#cfe3e2", theme.COMFORTABLE, ""), (theme.TODAY_WASH, theme.TODAY, DASHES))
    found = [(turn, look) for turn, look in zip(turns, looks, strict=False) if turn is not None]
    for turn, (wash, ink, dashes) in sorted(found, key=lambda one: -one[0].eyes_deg):
        start = eyes_above(turn.head_deg)
        low, wide = turn.head_deg - turn.eyes_deg, 2.0 * turn.eyes_deg
        angles = [radians(low + wide * step / 12) for step in range(13)]
        rim = [(start[0] + reach * sin(a), start[1] + reach * cos(a)) for a in angles]
        points = [frame.at(point) for point in (start, *rim)]
        parts.append(svg.shape(points, fill=wash, stroke=ink, width=1.2, dashes=dashes))
    return parts


def _things(
    frame: Frame, spots: Sequence[Spot], looked_at: str, lenses: Sequence[Wide]
) -> list[str]:
    parts, names = [], []
    for spot in spots:
        if not spot.drawn:
            continue
        (one_ahead, one), (other_ahead, other) = spot.place.edges
        ends = frame.at((one, one_ahead)), frame.at((other, other_ahead))
        ink = theme.INK if spot.name == looked_at else theme.RULE
        parts.append(svg.line(*ends, stroke=ink, width=5.0))
        inks = zip(lenses, (theme.COMFORTABLE, theme.TODAY), (6.0, 10.5), strict=False)
        parts += [
            bar
            for lens, colour, off in inks
            for bar in _bar(frame, spot, lens.clear_cm[spot.name], colour, off)
        ]
        names.append((spot, ink))
    return [*parts, *_names(frame, names)]


def _bar(frame: Frame, spot: Spot, clear_cm: float | None, ink: str, off: float) -> list[str]:
    """Return a bar before a thing, as long as what is clear of it at one turn of the head."""
    if clear_cm is None or spot.width_cm <= 0.0:
        return []
    share = min(1.0, clear_cm / spot.width_cm) / 2.0
    (ahead, aside), (to_ahead, to_aside) = spot.place.edges
    towards = off / frame.scale / spot.place.level_cm
    ends = []
    for part in (0.5 - share, 0.5 + share):
        x, y = aside + (to_aside - aside) * part, ahead + (to_ahead - ahead) * part
        ends.append(
            frame.at((x - spot.place.right_cm * towards, y - spot.place.forward_cm * towards))
        )
    return [svg.line(*ends, stroke=ink, width=3.4)]


def _names(frame: Frame, named: Iterable[tuple[Spot, str]]) -> list[str]:
    """Return the names behind the things, moved apart where they would overlap."""
    parts: list[str] = []
    taken: list[tuple[float, float, float]] = []
    for spot, ink in named:
        text = svg.cut(spot.name, 18)
        half = 3.1 * len(text) + 2.0
        off = 1.0 + 17.0 / frame.scale / spot.place.level_cm
        x, y = frame.at((spot.place.right_cm * off, spot.place.forward_cm * off))
        x, y = min(max(x, half), PANEL_W - half), y + 2.0
        for _ in range(6):
            if not any(abs(x - a) < half + h and abs(y - b) < 13.0 for a, b, h in taken):
                break
            y -= 13.0
        taken.append((x, y, half))
        fill = theme.INK if ink == theme.INK else theme.SOFT_INK
        parts.append(svg.words(text, x=x, y=y, size=12, anchor="middle", fill=fill))
    return parts
