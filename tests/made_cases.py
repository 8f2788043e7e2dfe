"""Wild cases, seeded: the whole contract with its edges, and what lies just outside of it.

A made case is possible in every single value and in most rules between values; about three in ten
are then spoilt at one place. All of it is invented. The limits are read from the fields themselves,
so that a new field is met without a new line here.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from engine import tables
from engine.case.model import (
    BOTHER_WORDS,
    MOST_OWNED,
    Activity,
    Design,
    Fit,
    MeasuredRange,
    Target,
    Wearer,
)
from engine.case.prescription import SMALLEST_ADD_D, EyePrescription, Prism
from tests.made_texts import MARKUP, SCRIPTS

USUAL: dict[str, tuple[float, float]] = {
    "age_years": (40, 75),
    "amplitude_d": (0, 4),
    "near_test_distance_cm": (30, 50),
    "chart_distance_m": (3, 6),
    "sphere_d": (-5, 4),
    "cylinder_d": (-2, 2),
    "add_d": (0.75, 3),
    "amount_pd": (0.5, 4),
    "vertex_mm": (11, 15),
    "pantoscopic_deg": (4, 14),
    "wrap_deg": (0, 10),
    "lens_width_mm": (46, 58),
    "bridge_mm": (15, 21),
    "lens_depth_mm": (26, 42),
    "fitting_height_mm": (14, 24),
    "distance_cm": (30, 120),
    "diagonal_in": (13, 34),
    "width_cm": (15, 70),
    "height_cm": (15, 45),
    "tilt_deg": (-5, 30),
    "text_height_mm": (2, 5),
    "text_arcmin": (10, 40),
    "desk_below_eye_cm": (35, 60),
    "corridor_mm": (10, 15),
    "hours": (0.5, 5),
}
"""Where most of the made values lie; the rest lie anywhere up to the limits."""

NO_NUMBERS = (math.nan, math.inf, -math.inf, 1e308, -1e308, 10**400, -(10**400))
WRONG_TYPES = ("65", "65,5", "", True, [], {}, [65], {"value": 65}, "NaN", "1e5")
NEEDS = ("driving", "walking", "stairs")


@dataclass(frozen=True)
class Made:
    """A case as a file would hold it.

    Attributes:
        spoilt: what was done to it, "" where nothing.
        sure: whether it must be refused.
    """

    content: dict[str, Any]
    spoilt: str
    sure: bool


def _within_focus_mm(eyes: tuple[dict[str, Any], dict[str, Any]]) -> float:
    """A vertex distance at which the centre of rotation, 13.5 mm more, is within the focus."""
    powers = [eye["sphere_d"] + part for eye in eyes for part in (0.0, eye.get("cylinder_d", 0.0))]
    return 1000.0 / max(*powers, 1.0) - 13.6


def made_case(number: int) -> Made:
    """The made case of that number, the same in every run."""
    maker = _Maker(random.Random(f"case {number}"))
    content = maker.case()
    if maker.chance(0.3):
        return maker.spoil(content)
    return Made(content, "", False)


def limits(info: FieldInfo) -> tuple[float, float]:
    """The lowest and the highest value of a field; infinite where it has no limit."""
    low, high = -math.inf, math.inf
    for rule in info.metadata:
        low = max(low, float(getattr(rule, "ge", -math.inf)))
        if hasattr(rule, "gt"):
            low = max(low, math.nextafter(float(rule.gt), math.inf))
        high = min(high, float(getattr(rule, "le", math.inf)))
    return low, high


class _Maker:
    """One case being made."""

    def __init__(self, dice: random.Random) -> None:
        self.dice = dice

    def chance(self, share: float) -> bool:
        return self.dice.random() < share

    def number(self, model: type[BaseModel], name: str) -> float:
        """A value of a field: most in the usual range, some anywhere, some at or by a limit."""
        low, high = limits(model.model_fields[name])
        usual, roll = USUAL.get(name, (low, high)), self.dice.random()
        if roll < 0.9:
            value = self.dice.uniform(*(usual if roll < 0.8 else (low, high)))
            step = self.dice.choice([None, 0.1, 0.25, 1])
            rounded = value if step is None else round(value / step) * step
            return int(rounded) if step == 1 and low <= int(rounded) <= high else value
        edge, inner = self.dice.choice([(low, high), (high, low)])
        return edge if roll < 0.95 else math.nextafter(edge, inner)

    def some(self, model: type[BaseModel], *names: str, share: float = 0.5) -> dict[str, Any]:
        """Some of these fields."""
        return {name: self.number(model, name) for name in names if self.chance(share)}

    def name(self, taken: set[str]) -> str:
        """A name that the rule allows and nothing else has."""
        while True:
            found = self.dice.choice(SCRIPTS)
            if found in taken or self.chance(0.3):
                found = f"{found[:36]} {self.dice.randrange(1000)}"
            if found not in taken:
                taken.add(found)
                return found

    def case(self) -> dict[str, Any]:
        count = 12 if self.chance(0.02) else self.dice.choice([1, 1, 2, 2, 3, 4])
        taken: set[str] = set()
        targets = [self.target(self.name(taken)) for _ in range(count)]
        content = {
            "schema": self.dice.choice([1, 1.0]) if self.chance(0.9) else 1,
            "label": self.name(set()),
            "wearer": self.wearer(),
            "targets": targets,
            "activities": self.activities([target["name"] for target in targets]),
        }
        parts = {
            "fit": (0.7, self.fit),
            "owned_pairs": (0.5, self.owned_pairs),
            "measured_ranges": (0.15, self.measured_ranges),
            "prices": (0.2, self.prices),
            "origin": (0.2, lambda: self.origin(content)),
            "extensions": (0.2, lambda: {"theirs": self.anything(4)}),
        }
        for name, (share, make) in parts.items():
            if self.chance(share):
                content[name] = make()
        if "vertex_mm" in content.get("fit", {}):
            eyes = (content["wearer"]["right"], content["wearer"]["left"])
            content["fit"]["vertex_mm"] = min(content["fit"]["vertex_mm"], _within_focus_mm(eyes))
        return content

    def wearer(self) -> dict[str, Any]:
        right = self.eye()
        alike = {"add_d": right["add_d"]} if "add_d" in right else {}
        left = right if self.chance(0.4) else self.eye() | (alike if self.chance(0.7) else {})
        found = {"age_years": self.number(Wearer, "age_years"), "right": right, "left": left}
        found |= self.some(Wearer, "amplitude_d", "usable_fraction", share=0.2)
        found |= self.some(Wearer, "chart_distance_m", share=0.2)
        if self.chance(0.2):
            found["turns"] = self.dice.choice(["head", "eyes", None])
        found |= self.some(Wearer, "near_test_distance_cm", "pd_right_mm", "pd_left_mm", share=0.2)
        for name in ("accepts_lined", "amplitude_through_lenses", "wants_one_pair"):
            if self.chance(0.5):
                found[name] = self.chance(0.5)
        if self.chance(0.1):
            found["bothers"] = self.dice.sample(list(BOTHER_WORDS), k=self.dice.randint(0, 3))
        if self.chance(0.15):
            known = list(tables.by_id("conditions"))
            found["conditions"] = self.dice.choices(known, k=self.dice.randint(1, 3))
        return found

    def eye(self) -> dict[str, Any]:
        found = {"sphere_d": self.number(EyePrescription, "sphere_d")}
        if self.chance(0.6):
            cylinder = self.number(EyePrescription, "cylinder_d")
            room = 30.0 - abs(found["sphere_d"])
            found["cylinder_d"] = max(-room, min(room, cylinder))
            found["axis_deg"] = self.dice.randint(1, 180)
        found |= self.some(EyePrescription, "add_d", share=0.85)
        if 0.0 < found.get("add_d", 0.0) < SMALLEST_ADD_D:
            found["add_d"] = self.dice.choice([0.0, SMALLEST_ADD_D])
        if self.chance(0.2):
            bases = self.dice.choice([["up"], ["in"], ["down", "out"], ["in", "up"], []])
            found["prism"] = [
                {"amount_pd": self.number(Prism, "amount_pd"), "base": base} for base in bases
            ]
        return found

    def fit(self) -> dict[str, Any]:
        names = [name for name in Fit.model_fields if not name.startswith("fitting_height")]
        found = self.some(Fit, *names)
        low, most = 6.0, min(50.0, math.nextafter(found.get("lens_depth_mm", 34.0), 0))
        heights = [
            max(low, min(most, self.number(Fit, "fitting_height_mm"))),
            max(low, most if self.chance(0.1) else min(most, self.dice.uniform(14, 24))),
        ]
        if most > 20.0 and self.chance(0.3):
            return found
        if self.chance(0.6):
            return found | {"fitting_height_mm": heights[0]}
        sides = ("fitting_height_right_mm", "fitting_height_left_mm")
        return found | dict(zip(sides, heights, strict=True))

    def owned_pairs(self) -> list[dict[str, Any]]:
        return [self.owned_pair() for _ in range(self.dice.choice([1, 1, 1, 2, 3, MOST_OWNED]))]

    def owned_pair(self) -> dict[str, Any]:
        found: dict[str, Any] = {"kind": self.dice.choice(list(tables.by_id("lens_kinds")))}
        if self.chance(0.6):
            names = [name for name in Design.model_fields if not Design.choices(name)]
            found["design"] = self.some(Design, *names)
            if self.chance(0.4):
                found["design"]["power_fall"] = self.dice.choice(["slow", "quick"])
        if self.chance(0.2):
            found["prescription"] = {"right": self.eye(), "left": self.eye()}
        if self.chance(0.5):
            found["liked"] = self.dice.choice([True, False, None])
        return found

    def target(self, name: str) -> dict[str, Any]:
        kind = self.dice.choice(["screen", "screen", "page", "far"])
        found = {"name": name, "kind": kind, "distance_cm": self.number(Target, "distance_cm")}
        if kind == "far" and self.chance(0.8):
            found["distance_cm"] = self.dice.uniform(150, 2000)
        by_centre = kind == "far" or self.chance(0.4)
        height = "centre_above_eye_cm" if by_centre else "top_above_eye_cm"
        reach = found["distance_cm"] * (0.9 if self.chance(0.1) else self.dice.uniform(0, 0.6))
        turn = self.dice.choice([0.0, 0.3, -0.4, math.pi / 2, self.dice.uniform(-3.2, 3.2)])
        if kind != "far" or self.chance(0.1):
            found |= self.size()
        half = 0.0 if by_centre else found.get("height_cm", found.get("diagonal_in", 0)) / 2
        placed = half - reach * math.cos(turn)
        if self.chance(0.95):
            placed = min(placed, 0.8 * found["distance_cm"])
        found[height] = max(-150.0, min(300.0, placed))
        if self.chance(0.5):
            found["offset_cm"] = max(-500.0, min(500.0, 0.5 * reach * math.sin(turn)))
        text = "text_height_mm" if self.chance(0.7) else "text_arcmin"
        found[text] = self.number(Target, text)
        found |= self.some(Target, "tilt_deg", "desk_below_eye_cm", share=0.4)
        for flag in ("movable", "laptop"):
            if self.chance(0.3):
                found[flag] = self.chance(0.5)
        return found

    def size(self) -> dict[str, Any]:
        if self.chance(0.5):
            return {name: self.number(Target, name) for name in ("width_cm", "height_cm")}
        wild = f"{self.dice.randint(1, 99999)}:{self.dice.randint(1, 99999)}"
        aspect = wild if self.chance(0.03) else self.dice.choice(["16:9", "16:10", "4:3", "9:16"])
        return {"diagonal_in": self.number(Target, "diagonal_in"), "aspect": aspect}

    def activities(self, names: list[str]) -> list[dict[str, Any]]:
        count = 12 if self.chance(0.02) else self.dice.choice([1, 1, 2, 3])
        taken: set[str] = set()
        found = [self.activity(self.name(taken), names) for _ in range(count)]
        day_h = sum(one["hours"] for one in found)
        if day_h > 24 or self.chance(0.05):
            for one in found:
                one["hours"] *= 24 / day_h * (1 - 1e-12)
        return found

    def activity(self, name: str, names: list[str]) -> dict[str, Any]:
        found: dict[str, Any] = {"name": name, "hours": self.number(Activity, "hours")}
        if self.chance(0.9):
            seen = self.dice.sample(names, self.dice.randint(1, len(names)))
            parts = [self.dice.choice([1e-12, 0.01, 1, 1, 2, 5]) for _ in seen]
            off = self.dice.choice([1.0, 1.0, 0.99, 1.01])
            whole = [min(1.0, part / sum(parts) * off) for part in parts]
            found["looks"] = [
                {"target": one, "share": share} for one, share in zip(seen, whole, strict=True)
            ]
        if "looks" not in found or self.chance(0.2):
            found["needs"] = self.dice.sample(NEEDS, self.dice.randint(1, 3))
        return found

    def measured_ranges(self) -> list[dict[str, Any]]:
        found = []
        for _ in range(self.dice.choice([1, 1, 2, 6])):
            one = {name: self.number(MeasuredRange, name) for name in MeasuredRange.model_fields}
            if self.chance(0.9):
                trial, usable = self.dice.uniform(0.75, 3.5), self.dice.uniform(0, 1.5)
                tolerance = self.dice.uniform(0.05, min(1.2, trial - 0.2))
                one["trial_add_d"] = trial
                one["farthest_clear_cm"] = 100.0 / (trial - tolerance)
                one["nearest_clear_cm"] = 100.0 / (trial + usable + tolerance)
            found.append(one)
        return found

    def prices(self) -> dict[str, Any]:
        kinds = self.dice.sample(list(tables.by_id("lens_kinds")), 3)
        return {kind: self.dice.choice([0, 1e6, 129.9, 5e-324, None]) for kind in kinds}

    def origin(self, content: dict[str, Any]) -> dict[str, Any]:
        paths = [f"/{'/'.join(map(str, path))}" for path in _paths(content) if "prices" not in path]
        words = ["measured", "default", "assumed", "at_home"]
        return {path: self.dice.choice(words) for path in self.dice.sample(paths, 2)}

    def anything(self, depth: int) -> Any:
        """Any JSON value, as foreign data may be."""
        simple = (None, True, 0, -1.5, 10**30, 1e-320, *SCRIPTS, *MARKUP[:8])
        kind = self.dice.random() if depth else 1.0
        if kind < 0.3:
            return [self.anything(depth - 1) for _ in range(self.dice.randint(0, 3))]
        if kind < 0.6:
            names = self.dice.sample(SCRIPTS, 2)
            return {name: self.anything(depth - 1) for name in names}
        return self.dice.choice(simple)

    def spoil(self, content: dict[str, Any]) -> Made:
        """Spoil one place; what was not given before may also be put in."""
        own = [path for path in _paths(content) if path[0] not in ("extensions", "origin")]
        path = self.dice.choice(own)
        holder: Any = content
        for part in path[:-1]:
            holder = holder[part]
        value, at = holder[path[-1]], "/".join(map(str, path))
        if isinstance(value, dict):
            return self._spoil_object(content, value, at)
        if isinstance(value, list):
            return self._spoil_list(content, holder, path[-1], at)
        if isinstance(value, int | float) and not isinstance(value, bool):
            put, sure = self._no_such_number(path)
        elif isinstance(value, str):
            put = self.dice.choice([*MARKUP, *SCRIPTS, 1, None, True, [], {}, math.nan])
            sure = not isinstance(put, str) and put is not None
        else:
            put, sure = self.dice.choice(["true", "yes", 1, 0, None, [], {}, math.nan]), False
        holder[path[-1]] = put
        return Made(content, f"{at} = {put!r:.40}", sure)

    def _no_such_number(self, path: tuple[Any, ...]) -> tuple[Any, bool]:
        """Something in the place of a number, and whether it must be refused."""
        low, high = self._limits_at(path)
        roll = self.dice.random()
        if roll < 0.5 and math.isfinite(high):
            return self.dice.choice([(math.nextafter(high, math.inf), True), (high * 1.5, True)])
        if roll < 0.7 and math.isfinite(low):
            return math.nextafter(low, -math.inf), True
        if roll < 0.9:
            return self.dice.choice(NO_NUMBERS), True
        put = self.dice.choice([*WRONG_TYPES, None])
        return put, put is not None

    @staticmethod
    def _limits_at(path: tuple[Any, ...]) -> tuple[float, float]:
        for model in (Wearer, EyePrescription, Prism, Fit, Design, Target, Activity, MeasuredRange):
            if path[-1] in model.model_fields and path[-1] in _MODELS[model]:
                if path[-1] == "add_d" and (model is Design) != ("design" in path):
                    continue
                return limits(model.model_fields[path[-1]])
        return -math.inf, math.inf

    def _spoil_object(self, content: dict[str, Any], value: dict[str, Any], at: str) -> Made:
        if value and self.chance(0.5):
            gone = self.dice.choice(list(value))
            del value[gone]
            return Made(content, f"{at} without {gone}", False)
        key = self.dice.choice(["sphere", "name ", "__class__", *MARKUP])
        value[key] = self.dice.choice([1, "x", None, {}, [1]])
        return Made(content, f"{at} with {key!r:.40}", True)

    def _spoil_list(self, content: dict[str, Any], holder: Any, key: Any, at: str) -> Made:
        value = holder[key]
        change = self.dice.choice(["emptied", "twice", "too many", "an object", "a text"])
        holder[key] = {
            "emptied": [],
            "twice": value * 2,
            "too many": value * 40,
            "an object": dict.fromkeys(map(str, range(len(value)))),
            "a text": "list",
        }[change]
        return Made(content, f"{at} {change}", change in ("an object", "a text"))


_MODELS = {
    model: {name for name, info in model.model_fields.items() if math.isfinite(limits(info)[1])}
    for model in (Wearer, EyePrescription, Prism, Fit, Design, Target, Activity, MeasuredRange)
}


def _paths(content: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a document."""
    found = [at] if at else []
    items: Any = ()
    if isinstance(content, dict):
        items = content.items()
    elif isinstance(content, list):
        items = enumerate(content)
    for key, value in items:
        found += _paths(value, (*at, key))
    return found
