"""Define what is asked: the wearer, the frame, the desk and the day, as frozen models.

Limits, units and titles are written in the fields below and nowhere else; the pages and the command
line show them from here. An impossible value is refused. A value outside a published range is
computed with and flagged (see usual_ranges.csv).
"""

from __future__ import annotations

import hashlib
import json
import math
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    field_validator,
    model_validator,
)

from engine import tables
from engine.case.prescription import EyePrescription, Prescription, smaller_add_d, wrong
from engine.errors import InputRefusedError, Limits
from engine.optics.accommodation import Calibration, calibrate

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

STEEPEST = 0.9
"""How far up, down and sideways a target may be, over its distance along the line of sight."""
NAME_RULE = "1 to 40 letters, digits, spaces or - . , ' + & / _, starting with a letter or digit"
NAME_PATTERN = r"^[^\W_][\w \-.,'+&/]{0,39}$"


class Part(BaseModel):
    """A frozen part of what was told or ordered: no unknown keys, no nan, no infinity."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def quantity(title: str, unit: str, *, default: Any = ..., **limits: Any) -> Any:
    """Return a field with its title, unit and limits."""
    if "default_factory" not in limits:
        limits["default"] = default
    return Field(strict=True, title=title, json_schema_extra={"unit": unit}, **limits)


def known(table: str) -> AfterValidator:
    """Return a text that is the id of a row of a table."""

    def check(value: str) -> str:
        if value not in tables.by_id(table):
            raise ValueError(f"one of {', '.join(tables.by_id(table))}")
        return value

    return AfterValidator(check)


Name = Annotated[str, Field(pattern=NAME_PATTERN, title="name", description=NAME_RULE)]
Kind = Annotated[str, known("lens_kinds")]
Condition = Annotated[str, known("conditions")]
Need = Literal["driving", "walking", "stairs"]
Origin = Literal["measured", "default", "assumed", "at_home"]
Turns = Literal["head", "eyes"]
Bother = Literal["screen_blurred", "near_blurred", "far_blurred", "chin_up", "neck", "tired_eyes",
                 "headache", "glare"]  # fmt: skip
PowerFall = Literal["slow", "quick"]
"""How the power of an office lens falls upwards; see `surfaces.OFFICE` for over how many mm."""
BOTHER_WORDS: dict[Bother, str] = {
    "screen_blurred": "the screen is blurred",
    "near_blurred": "papers or the phone are blurred",
    "far_blurred": "things far away are blurred",
    "chin_up": "the head must go back to see",
    "neck": "the neck or shoulders ache",
    "tired_eyes": "the eyes are tired",
    "headache": "headaches",
    "glare": "glare or reflections",
}
"""What a wearer may say bothers them, in their words; it is told on, and no hours hang on it."""
OLD_POWER_FALLS: dict[str, PowerFall] = {"desk": "slow", "room": "quick"}
"""What earlier files call it, under the name shape."""
DEFAULT_FITTING_HEIGHT_MM = 20.0
MM_PER_M = 1000.0
LARGEST_SUM_ERROR = 0.01


def usual_chart_m() -> float:
    """Return the distance from the eyes to the test chart of a refraction, until it is told."""
    return tables.Judgements.standard().usual_chart_m


class MeasuredRange(Part):
    """Nearest and farthest clear distance taped through a known added power."""

    trial_add_d: float = quantity("trial added power", "D", ge=0, le=4)
    nearest_clear_cm: float = quantity("nearest clear without effort", "cm", ge=10, le=300)
    farthest_clear_cm: float = quantity("farthest clear distance", "cm", ge=15, le=600)
    text_arcmin: float = quantity(
        "angular size of the detail of the test", "arcmin", default=10.0, ge=5, le=60
    )

    @model_validator(mode="after")
    def _possible(self) -> Self:
        try:
            self.fitted()
        except InputRefusedError as refusal:
            told = (refusal.field, refusal.value, refusal.allowed)
            raise wrong(*told, limits=refusal.limits) from None
        return self

    def fitted(self) -> Calibration:
        """Return the accommodation and blur tolerance that give this range."""
        return calibrate(
            trial_add_d=self.trial_add_d,
            nearest_clear_cm=self.nearest_clear_cm,
            farthest_clear_cm=self.farthest_clear_cm,
        )


class Wearer(Part):
    """The person, as far as the answer depends on them; no name is wanted.

    Attributes:
        turns: what is turned to look sideways, the head or the eyes; None where not known.
    """

    age_years: float = quantity("age", "years", ge=18, le=110)
    amplitude_d: float | None = quantity("measured amplitude", "D", default=None, ge=0, le=15)
    amplitude_through_lenses: bool = Field(
        False, strict=True, title="amplitude was measured through the distance lenses"
    )
    usable_fraction: float | None = quantity(
        "share of the amplitude that is usable", "ratio", default=None, ge=0.1, le=1
    )
    near_test_distance_cm: float | None = quantity(
        "working distance of the add", "cm", default=None, ge=20, le=100
    )
    chart_distance_m: float = quantity(
        "distance of the test chart", "m", default_factory=usual_chart_m, ge=1, le=20
    )
    right: EyePrescription
    left: EyePrescription
    pd_right_mm: float | None = quantity(
        "right monocular centration distance", "mm", default=None, ge=20, le=42
    )
    pd_left_mm: float | None = quantity(
        "left monocular centration distance", "mm", default=None, ge=20, le=42
    )
    turns: Turns | None = Field(None, title="turns to look sideways with")
    accepts_lined: bool = Field(False, strict=True, title="accepts a visible line")
    wants_one_pair: bool | None = Field(
        None, strict=True, title="wants one pair, without changing glasses"
    )
    conditions: tuple[Condition, ...] = Field((), title="history and symptoms")
    bothers: tuple[Bother, ...] | None = Field(None, title="what bothers the wearer today")

    @property
    def prescription(self) -> Prescription:
        """Both eyes."""
        return Prescription(right=self.right, left=self.left)

    @property
    def add_d(self) -> float | None:
        """The add the one computed eye has: the smaller of the two; None when neither has one."""
        return smaller_add_d(self.right, self.left)

    @property
    def vertical_power_d(self) -> float:
        """Mean power of the two 90-degree meridians, in D."""
        return (self.right.vertical_power_d + self.left.vertical_power_d) / 2

    @property
    def vertical_difference_d(self) -> float:
        """Difference of the two 90-degree meridian powers, in D, without sign."""
        return abs(self.right.vertical_power_d - self.left.vertical_power_d)


class Fit(Part):
    """How the frame sits; every value but the heights has a default."""

    vertex_mm: float = quantity("vertex distance", "mm", default=13.0, ge=5, le=25)
    pantoscopic_deg: float = quantity("pantoscopic tilt", "deg", default=9.0, ge=-5, le=25)
    wrap_deg: float = quantity("face form angle", "deg", default=5.0, ge=-5, le=30)
    lens_width_mm: float = quantity("boxed lens width A", "mm", default=52.0, ge=30, le=75)
    bridge_mm: float = quantity("bridge DBL", "mm", default=18.0, ge=8, le=32)
    lens_depth_mm: float = quantity("boxed lens height B", "mm", default=34.0, ge=15, le=70)
    fitting_height_mm: float | None = quantity("fitting height", "mm", default=None, ge=6, le=50)
    fitting_height_right_mm: float | None = quantity(
        "right fitting height", "mm", default=None, ge=6, le=50
    )
    fitting_height_left_mm: float | None = quantity(
        "left fitting height", "mm", default=None, ge=6, le=50
    )

    @model_validator(mode="after")
    def _heights(self) -> Self:
        one, right, left = self._given_heights()
        if one is not None and (right is not None or left is not None):
            raise wrong("fitting_height_mm", one, "one height, or a right and a left, not both")
        if (right is None) != (left is None):
            side = "right" if right is None else "left"
            raise wrong(f"fitting_height_{side}_mm", None, "a height for both eyes")
        if max(self.heights_mm) >= self.lens_depth_mm:
            allowed = f"less than the boxed lens height, {self.lens_depth_mm:g} mm"
            limits = Limits(high=self.lens_depth_mm, below=True, unit="mm")
            raise wrong("fitting_height_mm", max(self.heights_mm), allowed, limits=limits)
        return self

    def _given_heights(self) -> tuple[float | None, float | None, float | None]:
        return self.fitting_height_mm, self.fitting_height_right_mm, self.fitting_height_left_mm

    @property
    def heights_mm(self) -> tuple[float, float]:
        """Fitting height of the right and the left eye, in mm."""
        one, right, left = self._given_heights()
        if right is not None and left is not None:
            return right, left
        height = one if one is not None else DEFAULT_FITTING_HEIGHT_MM
        return height, height


class Design(Part):
    """The orderable numbers of one lens; which of them count depends on the kind."""

    add_d: float | None = quantity("added power", "D", default=None, ge=0, le=4)
    corridor_mm: float | None = quantity("corridor length", "mm", default=None, ge=8, le=18)
    near_add_d: float | None = quantity("near added power", "D", default=None, ge=0, le=4)
    degression_d: float | None = quantity("degression", "D", default=None, ge=0, le=4)
    power_fall: PowerFall | None = Field(None, title="how the power falls upwards")
    upper_add_d: float | None = quantity("upper added power", "D", default=None, ge=0, le=4)
    line_drop_mm: float | None = quantity(
        "line below the fitting point", "mm", default=None, ge=-5, le=15
    )

    @model_validator(mode="before")
    @classmethod
    def _earlier(cls, content: Any) -> Any:
        """Read a design of an earlier file, where the power fall is a shape."""
        if not isinstance(content, dict) or "shape" not in content:
            return content
        found = in_present_words(content)
        if "shape" in found:
            both = found.get("power_fall") is not None
            allowed = "no shape beside the power fall, its new name" if both else "desk or room"
            raise wrong("shape", found["shape"], allowed)
        return found

    @classmethod
    def choices(cls, name: str) -> tuple[str, ...]:
        """Return the words a field takes; none for a number.

        >>> Design.choices("power_fall"), Design.choices("add_d")
        (('slow', 'quick'), ())
        """
        word = get_args(cls.model_fields[name].annotation)[0]
        return get_args(word)

    def numbers(self) -> dict[str, float | str]:
        """Return the numbers that are given, by name."""
        return self.model_dump(exclude_none=True)


def in_present_words(design: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of a design with the shape of an earlier file as its power fall.

    A shape stays where it is none of the two, and beside a power fall.

    >>> in_present_words({"near_add_d": 2.0, "shape": "desk"})
    {'near_add_d': 2.0, 'power_fall': 'slow'}
    """
    found = dict(design)
    shape = found.get("shape")
    if shape is None:
        found.pop("shape", None)
    elif isinstance(shape, str) and shape in OLD_POWER_FALLS and found.get("power_fall") is None:
        found["power_fall"] = OLD_POWER_FALLS[found.pop("shape")]
    return found


class OwnedPair(Part):
    """A pair the wearer has: worn at the desk today, or lying about.

    Attributes:
        prescription: what it was made to, where that is not the prescription of the case.
        liked: None where nobody asked, which is neither liked nor disliked.
    """

    kind: Kind
    design: Design = Design()
    prescription: Prescription | None = Field(None, title="its own prescription")
    liked: bool | None = Field(None, strict=True, title="worn happily")

    def is_same_pair(self, other: OwnedPair) -> bool:
        """Tell whether both are the same lenses, whether liked or not."""
        unsaid = {"liked": None}
        return self.model_copy(update=unsaid) == other.model_copy(update=unsaid)


MOST_OWNED = 4
_OLD_PAIR, _PAIRS = "present_pair", "owned_pairs"
"""What earlier files call the pair worn at the desk, and where it stands now, first."""


def with_owned_pairs(case: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content of a case with the present pair of an earlier file as an owned one.

    It comes first, and once where it is among the owned pairs too; origins follow. Earlier forms
    never asked whether a pair is disliked, so their `liked: false` is not asked.

    >>> with_owned_pairs({"present_pair": {"kind": "office", "liked": False}})
    {'owned_pairs': [{'kind': 'office'}]}
    """
    found = dict(case)
    worn, others = found.pop(_OLD_PAIR, None), found.get(_PAIRS) or ()
    if worn is None or not isinstance(others, list | tuple):
        return found
    if isinstance(worn, dict) and worn.get("liked") is False:
        worn = {name: value for name, value in worn.items() if name != "liked"}
    twins = [at for at, one in enumerate(others) if _is_same_pair(worn, one)]
    kept = [at for at in range(len(others)) if at not in twins]
    if twins and isinstance(worn, dict) and worn.get("liked") is None:
        worn = worn | _said_of_liking(others[twins[0]])
    found[_PAIRS] = [worn, *(others[at] for at in kept)]
    places = {f"/{_PAIRS}/{at}": f"/{_PAIRS}/0" for at in twins}
    places |= {f"/{_PAIRS}/{at}": f"/{_PAIRS}/{place}" for place, at in enumerate(kept, 1)}
    places[f"/{_OLD_PAIR}"] = f"/{_PAIRS}/0"
    if isinstance(origins := found.get("origin"), dict):
        worn_last = sorted(origins, key=lambda pointer: _is_at(pointer, f"/{_OLD_PAIR}"))
        found["origin"] = {_moved(pointer, places): origins[pointer] for pointer in worn_last}
    return found


def _is_same_pair(one: Any, other: Any) -> bool:
    """Tell whether two pairs of a file, not yet checked, are the same lenses."""
    try:
        pairs = [OwnedPair.model_validate(each) for each in (one, other)]
    except ValidationError:
        return False
    return pairs[0].is_same_pair(pairs[1])


def _said_of_liking(pair: Any) -> dict[str, bool]:
    """Return liked as a pair of a file has it; nothing where it is silent."""
    liked = OwnedPair.model_validate(pair).liked
    return {} if liked is None else {"liked": liked}


def _is_at(pointer: Any, place: str) -> bool:
    """Tell whether a pointer leads to a place or into it."""
    return isinstance(pointer, str) and f"{pointer}/".startswith(f"{place}/")


def _moved(pointer: Any, places: Mapping[str, str]) -> Any:
    """Return the pointer where the place it leads into has moved."""
    for old, new in places.items():
        if _is_at(pointer, old):
            return new + pointer.removeprefix(old)
    return pointer


class Target(Part):
    """One thing the wearer looks at."""

    name: Name
    kind: Literal["screen", "page", "far"]
    distance_cm: float = quantity("distance from the bridge of the nose", "cm", ge=15, le=2000)
    top_above_eye_cm: float | None = quantity(
        "top edge above the eyes", "cm", default=None, ge=-150, le=300
    )
    centre_above_eye_cm: float | None = quantity(
        "centre above the eyes", "cm", default=None, ge=-150, le=300
    )
    diagonal_in: float | None = quantity("diagonal", "in", default=None, ge=3, le=120)
    aspect: str | None = Field(
        None, title="width to height", pattern=r"^[1-9]\d{0,4}:[1-9]\d{0,4}$"
    )
    width_cm: float | None = quantity("width", "cm", default=None, ge=2, le=400)
    height_cm: float | None = quantity("height", "cm", default=None, ge=2, le=400)
    tilt_deg: float | None = quantity("tilt, top away", "deg", default=None, ge=-45, le=90)
    offset_cm: float = quantity("sideways, right +", "cm", default=0.0, ge=-500, le=500)
    text_height_mm: float | None = quantity(
        "height of capitals", "mm", default=None, ge=0.1, le=500
    )
    text_arcmin: float | None = quantity(
        "angular size of the detail", "arcmin", default=None, ge=1, le=1000
    )
    movable: bool = Field(True, strict=True, title="can be moved")
    desk_below_eye_cm: float | None = quantity(
        "desk below the eyes", "cm", default=None, ge=10, le=120
    )
    laptop: bool = Field(False, strict=True, title="laptop")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.top_above_eye_cm is None) == (self.centre_above_eye_cm is None):
            allowed = "the height of the top edge or of the centre, one of them"
            raise wrong("top_above_eye_cm", self.top_above_eye_cm, allowed)
        if (self.text_height_mm is None) == (self.text_arcmin is None):
            allowed = "the height of the text or its angular size, one of them"
            raise wrong("text_height_mm", self.text_height_mm, allowed)
        if self.kind == "far":
            if self.centre_above_eye_cm is None:
                raise wrong(
                    "centre_above_eye_cm",
                    None,
                    "the height of the centre, as the target is far away",
                )
            return self
        by_diagonal = self.diagonal_in is not None and self.aspect is not None
        by_sides = self.width_cm is not None and self.height_cm is not None
        if by_diagonal == by_sides:
            allowed = "the diagonal and the format, or width and height, one of them"
            raise wrong("diagonal_in", self.diagonal_in, allowed)
        return self

    @model_validator(mode="after")
    def _reachable(self) -> Self:
        height = self.centre_above_eye_cm or self.top_above_eye_cm or 0.0
        if math.hypot(height, self.offset_cm) > STEEPEST * self.distance_cm:
            beside_cm = math.hypot(height, self.offset_cm)
            limits = Limits(math.ceil(round(beside_cm / STEEPEST, 6)), unit="cm")
            allowed = (
                f"{limits.low} cm or more along the line of sight, since sideways and up or down"
                f" alone it is {beside_cm:.0f} cm away"
            )
            raise wrong("distance_cm", self.distance_cm, allowed, limits=limits)
        return self


class Look(Part):
    """What share of an activity goes to a target."""

    target: Name
    share: float = quantity("share of looking", "ratio", gt=0, le=1)


class Activity(Part):
    """A part of the day: its hours, what is looked at, and whether clear distance is needed."""

    name: Name
    hours: float = quantity("hours a day", "h", gt=0, le=24)
    looks: tuple[Look, ...] = Field((), title="what is looked at")
    needs: tuple[Need, ...] = Field((), title="needs clear distance for")

    @model_validator(mode="after")
    def _shares(self) -> Self:
        if not self.looks and not self.needs:
            raise wrong("looks", "nothing", "something looked at, or a need for clear distance")
        total = sum(look.share for look in self.looks)
        if self.looks and abs(total - 1.0) > LARGEST_SUM_ERROR + 1e-9:
            allowed = "shares that add up to 1, give or take 0.01"
            raise wrong("looks", round(total, 4), allowed, limits=Limits(1.0, 1.0))
        if len({look.target for look in self.looks}) != len(self.looks):
            raise wrong("looks", "a target twice", "each target once")
        return self


_SHAPE_AT = "/design/shape"
_FRAME_DEFAULTS = ("/fit/vertex_mm", "/fit/pantoscopic_deg")
"""Values with a default that reading a case marks as one where they are left out."""


class Case(Part):
    """Everything that is asked: wearer, frame, pairs owned, desk and day."""

    schema_: Literal[1] = Field(1, alias="schema", title="schema")
    label: Name
    wearer: Wearer
    fit: Fit = Fit()
    owned_pairs: tuple[OwnedPair, ...] = Field(
        (), max_length=MOST_OWNED, title="pairs owned, the one worn at the desk first"
    )
    targets: tuple[Target, ...] = Field(min_length=1, max_length=12)
    activities: tuple[Activity, ...] = Field(min_length=1, max_length=12)
    measured_ranges: tuple[MeasuredRange, ...] = Field((), max_length=6)
    prices: dict[Kind, Annotated[float, Field(strict=True, ge=0, le=1e6)] | None] = Field(
        {}, title="the user's own prices"
    )
    origin: dict[str, Origin] = Field({}, title="where each value comes from")
    extensions: dict[str, Any] = Field({}, title="foreign data, kept and not read")

    @field_validator("schema_", mode="before")
    @classmethod
    def _not_true(cls, value: Any) -> Any:
        return "true" if value is True else value

    @model_validator(mode="before")
    @classmethod
    def _earlier(cls, content: Any) -> Any:
        """Read a case of an earlier file, which knows one pair, the present one."""
        return with_owned_pairs(content) if isinstance(content, dict) else content

    @field_validator("origin", mode="before")
    @classmethod
    def _earlier_paths(cls, value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {_in_present_words(at): one for at, one in value.items()}

    @field_validator("label", mode="before")
    @classmethod
    def _trimmed(cls, value: Any) -> Any:
        return value.strip() if isinstance(value, str) else value

    @model_validator(mode="after")
    def _names(self) -> Self:
        names = [target.name for target in self.targets]
        parts = [activity.name for activity in self.activities]
        for path, given in (("targets", names), ("activities", parts)):
            for index, name in enumerate(given):
                if name in given[:index]:
                    raise wrong(f"{path}.{index}.name", name, "a name used once")
        for number, activity in enumerate(self.activities):
            for place, look in enumerate(activity.looks):
                if look.target not in names:
                    at = f"activities.{number}.looks.{place}.target"
                    raise wrong(at, look.target, f"the name of a target: {', '.join(names)}")
        limits = Limits(high=24, unit="h")
        if limits.side(self.day_h):
            allowed = "24 h at most for all activities"
            raise wrong("activities.hours", self.day_h, allowed, limits=limits)
        return self

    @model_validator(mode="after")
    def _eye_within_the_focus(self) -> Self:
        """Refuse a lens whose focus is no farther than the centre of rotation of the eye.

        Beyond the focus far things are seen upside down, and no gaze is computed for that.
        """
        power_d = self.wearer.vertical_power_d
        behind_mm = tables.Judgements.standard().stop_beyond_vertex_mm
        if power_d * (self.fit.vertex_mm + behind_mm) >= MM_PER_M:
            most_mm = MM_PER_M / power_d - behind_mm
            allowed = f"less than {most_mm:.1f} mm before a lens of {power_d:+.2f} D upright"
            limits = Limits(high=most_mm, below=True, unit="mm")
            raise wrong("fit.vertex_mm", self.fit.vertex_mm, allowed, limits=limits)
        return self

    @model_validator(mode="after")
    def _origins(self) -> Self:
        paths = set(_paths(self.model_dump(by_alias=True, mode="json")))
        for pointer in self.origin:
            if pointer not in paths:
                raise wrong("origin", pointer, "the path of a value, /targets/0/distance_cm")
        return self

    def with_target(self, index: int, target: Target) -> Case:
        """Return the case with another target in the place of one."""
        targets = (*self.targets[:index], target, *self.targets[index + 1 :])
        return self.model_copy(update={"targets": targets})

    @property
    def present_pair(self) -> OwnedPair | None:
        """The pair worn at the desk today, the first of those owned; None where there is none."""
        return self.owned_pairs[0] if self.owned_pairs else None

    @property
    def day_h(self) -> float:
        """Hours of all activities."""
        return sum(activity.hours for activity in self.activities)

    def is_assumed(self, path: str) -> bool:
        """Tell whether nobody gave the value at a path, such as /fit/vertex_mm.

        What is said of a part counts for its values too; what is silent was measured. The one
        fitting height is assumed where one of the two is.
        """
        each = ("/fit/fitting_height_right_mm", "/fit/fitting_height_left_mm")
        if path == "/fit/fitting_height_mm" and self.fit.fitting_height_right_mm is not None:
            return any(map(self.is_assumed, each))
        while path and path not in self.origin:
            path = path.rpartition("/")[0]
        return self.origin.get(path) in ("assumed", "default")

    def digest(self) -> str:
        """Return the SHA-256 of the canonical case without its label.

        Defaults are filled in first, so a default written out and one left out are the same.
        What is not set is left out, so a new field that need not be set changes no digest.
        What earlier files write in other words counts in those (`_in_earlier_words`): a case kept
        then is still the same case. Nor does it count that a value left out is a default.
        """
        content = self.model_dump(by_alias=True, mode="json", exclude={"label"}, exclude_none=True)
        content["origin"] = _origins_given(content)
        text = json.dumps(
            _in_earlier_words(content), sort_keys=True, separators=(",", ":"), ensure_ascii=True
        )
        return hashlib.sha256(text.encode()).hexdigest()


def _in_present_words(pointer: Any) -> Any:
    """Return the pointer to a value of an owned pair that an earlier file calls otherwise."""
    if _is_at(pointer, f"/{_PAIRS}") and pointer.endswith(_SHAPE_AT):
        return pointer.removesuffix(_SHAPE_AT) + "/design/power_fall"
    return pointer


def _origins_given(content: dict[str, Any]) -> dict[str, str]:
    """Return the origins of a case, without what is not set, but those that reading it adds.

    Those are defaults, of values that are not set, and of the frame where nobody says where its
    values come from: the form says it of all of them, the wrap included, and that counts.
    """
    origins: dict[str, str] = content["origin"]
    given = set(_paths(content))
    if "/fit/wrap_deg" not in origins:
        given -= set(_FRAME_DEFAULTS)
    return {at: one for at, one in origins.items() if one != "default" or at in given}


def _in_earlier_words(content: dict[str, Any]) -> dict[str, Any]:
    """Return the content of a case, without what is not set, as the first files write it.

    A test chart at its usual distance is left out. The pair worn at the desk stands alone, with a
    power fall called shape, and liked is false where it is not asked. What they cannot say keeps
    its words: further pairs, and a pair not liked.
    """
    found = dict(content)
    if found["wearer"]["chart_distance_m"] == usual_chart_m():
        found["wearer"] = {k: v for k, v in found["wearer"].items() if k != "chart_distance_m"}
    worn, *others = found.pop(_PAIRS) or [None]
    if worn is None:
        return found
    design = dict(worn["design"])
    if "power_fall" in design:
        earlier = {fall: shape for shape, fall in OLD_POWER_FALLS.items()}
        design["shape"] = earlier[design.pop("power_fall")]
    liked = worn.get("liked")
    found[_OLD_PAIR] = worn | {
        "design": design,
        "liked": bool(liked),
        **({"disliked": True} if liked is False else {}),
    }
    if others:
        found[_PAIRS] = others
    places = {f"/{_PAIRS}/0": f"/{_OLD_PAIR}"}
    found["origin"] = {_moved(at, places): one for at, one in found["origin"].items()}
    return found


def _paths(content: Any, *, at: str = "") -> Iterator[str]:
    """Yield every JSON pointer into a document."""
    if at:
        yield at
    items: Iterator[tuple[Any, Any]] | None = None
    if isinstance(content, dict):
        items = iter(content.items())
    elif isinstance(content, list):
        items = iter(enumerate(content))
    for key, value in items or ():
        yield from _paths(value, at=f"{at}/{key}")
