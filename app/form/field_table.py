"""The fields of the interview, one row each: drawn, read and written back from here. Pure.

A row says where its value stands in a case, how it is asked, what it is called (the model's title
and unit, unless `says` has shorter words), what is assumed while it is empty, and its place on the
page. A row's class is the widget: it draws the field, reads it into a case and writes a case that
was opened back into it. Shares of looking are not rows: they are worked out together.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from pydantic.fields import FieldInfo

from app.form import questions
from app.form.opened import Opened
from app.form.prescription_field import (
    eyes_words,
    prescription_words,
    read_eyes,
    read_powers,
)
from app.form.presets import NUMBERS
from app.form.typed import Typed, reader_of
from engine import tables
from engine.case.model import (
    BOTHER_WORDS,
    DEFAULT_FITTING_HEIGHT_MM,
    Activity,
    Case,
    Design,
    Fit,
    OwnedPair,
    Target,
    Wearer,
)
from engine.case.read import allowed_range
from engine.lenses.kinds import KINDS
from engine.tables import Judgements
from engine.wording import capital

if TYPE_CHECKING:
    from pydantic import BaseModel

    from app.form.fields import Fields

UNITS = {"deg": "°", "h": "", "ratio": ""}
"""How a label writes a unit of the model; h is said in the title, a ratio has none."""


@dataclass(frozen=True)
class Slot:
    """One part of a case, and the widgets that ask for it.

    Attributes:
        at: its path in the case: targets.1.
        name: what the names of its widgets begin with: other0.
        assumed: what goes into the case while a field is empty, by the name of the row.
        origin: where such a value comes from.
        told: the rows whose assumed value was told with another field.
        asks: which of the rows that are asked `sometimes` are asked here.
        says: the label of a row where it is another here.
    """

    at: str
    name: str
    assumed: Mapping[str, Any] = field(default_factory=dict)
    origin: str = "assumed"
    told: Collection[str] = ()
    asks: Collection[str] = ()
    says: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One field of the form.

    Attributes:
        model: the part of a case that holds it.
        name: of the field in the model.
        place: where on the page it is asked.
        says: the label, where the title of the model is too long or says too little.
        within: of a part inside the part.
        alias: the name of the widget where it is not that of the field; {} is the slot's name.
        sometimes: whether a slot must ask for it.
        screens: whether it is drawn of screens only.
        wide: whether it takes a whole row of the page.
        only_with: another field of the slot, without which this one changes nothing.
    """

    model: type[BaseModel]
    name: str
    place: str
    says: str = ""
    within: str = ""
    alias: str = ""
    sometimes: bool = False
    screens: bool = False
    wide: bool = False
    only_with: str = ""

    @property
    def label(self) -> str:
        """What the field is called, with its unit."""
        info = self.model.model_fields.get(self.name)
        extra = info.json_schema_extra if info else None
        unit = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
        unit = UNITS.get(unit, unit)
        said = capital(self.says or (info.title if info else None) or self.name)
        return f"{said} ({unit})" if unit else said

    @property
    def allowed(self) -> str:
        """Between which numbers the model takes it, in words; empty where it says nothing."""
        return allowed_range(self.model.model_fields.get(self.name, FieldInfo()))

    def called(self, slot: Slot) -> str:
        """Return the label under which a slot asks for it."""
        return slot.says.get(self.name, self.label)

    def widget(self, slot: Slot) -> str:
        """Return the name under which a draft holds its text."""
        return self.alias.format(slot.name) if self.alias else f"{slot.name}.{self.name}"

    def path(self, slot: Slot) -> str:
        """Return where its value stands in a case."""
        return ".".join(filter(None, (slot.at, self.within, self.name)))

    def pointer(self, slot: Slot) -> str:
        """Return the same as a JSON pointer."""
        return "/" + self.path(slot).replace(".", "/")

    def is_asked(self, slot: Slot) -> bool:
        """Tell whether a slot asks for it."""
        return not self.sometimes or self.name in slot.asks

    def value(self, part: Any) -> Any:
        """Return its value in a part of a case."""
        for name in filter(None, (self.within, self.name)):
            part = part.get(name) if isinstance(part, Mapping) else getattr(part, name)
        return part

    @property
    def silent(self) -> Any:
        """The value that the model takes where none is given."""
        info = self.model.model_fields.get(self.name)
        if info is None or info.is_required():
            return None
        return info.get_default(call_default_factory=True)

    def draw(self, fields: Fields, slot: Slot, place: Any) -> Any:
        """Draw its widget in a place of the page; return what it holds."""
        raise NotImplementedError

    def read(self, typed: Typed, slot: Slot) -> None:
        """Put what was typed, or is assumed, into the case under construction."""
        raise NotImplementedError

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Put the value of a part of an opened case into its widget."""
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class Number(Row):
    """A typed number; a length also in another unit.

    Attributes:
        usual: what the engine takes where nothing is given; shown, and not put into the case.
        counted: whether it is a measure, with an origin.
    """

    usual: Callable[[], float] | None = None
    counted: bool = True

    def shown(self, slot: Slot) -> str:
        """Return what is assumed while it is empty, as the field shows it."""
        usual = self.usual() if self.usual else self.silent
        return questions.assumed_words(slot.assumed.get(self.name, usual))

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a text field."""
        assumed = self.shown(slot) or None
        return fields.text(self.widget(slot), self.called(slot), assumed=assumed, place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read the number."""
        typed.number(
            self.path(slot),
            widget=self.widget(slot),
            assumed=slot.assumed.get(self.name),
            read=reader_of(self.name),
            origin="measured" if self.name in slot.told else slot.origin,
            counted=self.counted,
            allowed=self.allowed,
        )

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Write the number, unless an empty field says the same."""
        value = self.value(part)
        assumed = slot.assumed.get(self.name, self.silent)
        if value is None or (self.name in slot.told and value == assumed):
            return
        marks = slot.assumed.get(self.name) is not None
        back.unless(self.widget(slot), value, assumed, self.pointer(slot), marks=marks)


@dataclass(frozen=True, kw_only=True)
class Price(Number):
    """The user's own price of a kind of lens; a blank is not zero, and a price is no measure."""

    @property
    def label(self) -> str:
        """The name of the kind."""
        return capital(questions.kind_words(self.name))


@dataclass(frozen=True, kw_only=True)
class BothEyes(Row):
    """One number for both eyes, or right/left.

    Attributes:
        each: the fields of the right and of the left eye; `name` is that of both, where it has one.
    """

    each: tuple[str, str]

    def _at(self, slot: Slot, name: str) -> str:
        return f"{slot.at}.{name}"

    @property
    def _one(self) -> str | None:
        return None if self.name in self.each else self.name

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a text field."""
        assumed = questions.assumed_words(slot.assumed.get(self.name)) or None
        return fields.text(self.widget(slot), self.called(slot), assumed=assumed, place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read one number or two, else what is assumed."""
        one = self._at(slot, self._one) if self._one else None
        right, left = (self._at(slot, name) for name in self.each)
        widget, assumed = self.widget(slot), slot.assumed.get(self.name)
        allowed = allowed_range(self.model.model_fields[self.each[0]])
        told = typed.pair(widget, one=one, each=(right, left), allowed=allowed)
        if not told and one and assumed is not None:
            typed.put(one, assumed, widget=widget, origin=slot.origin)

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Write right/left where both are given, else the one number."""
        widget, root = self.widget(slot), "/" + slot.at.replace(".", "/")
        right, left = (getattr(part, name) for name in self.each)
        if right is not None and left is not None:
            back.put(widget, f"{right:.15g}/{left:.15g}", f"{root}/{self.each[0]}")
        elif self._one and (value := getattr(part, self._one)) is not None:
            assumed = slot.assumed.get(self.name)
            back.unless(widget, value, assumed, self.pointer(slot), marks=assumed is not None)


@dataclass(frozen=True, kw_only=True)
class OneOf(Row):
    """One of a list; the first is what stands until another is chosen.

    Attributes:
        values: what the case holds, by the option; None is not put into it.
        words: an option as it is shown.
        in_view: whether all options are in view.
        counted: whether it is a measure, with an origin.
    """

    values: Mapping[str, Any]
    words: Callable[[str], str] = str
    in_view: bool = False
    counted: bool = False

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a list, or all options in view."""
        ask = fields.either if self.in_view else fields.choice
        options = list(self.values)
        return ask(self.widget(slot), self.called(slot), options, words=self.words, place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read the option that is chosen."""
        widget, path = self.widget(slot), self.path(slot)
        text = typed.text(widget) or next(iter(self.values))
        typed.where[path] = widget
        if (value := self.values.get(text, text or None)) is not None:
            origin = typed.origin_of(widget) if self.counted else None
            typed.put(path, value, widget=widget, origin=origin)

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Choose the option of a value."""
        value = self.value(part)
        option = next((one for one, held in self.values.items() if held == value), value)
        if value is not None and option is not None:
            back.put(self.widget(slot), option, self.pointer(slot) if self.counted else "")


@dataclass(frozen=True, kw_only=True)
class AnyOf(Row):
    """Any number of a list.

    Attributes:
        options: what the case holds, as listed.
        words: an option as it is shown.
        none: what the field says while nothing is chosen.
    """

    options: tuple[str, ...]
    words: Callable[[str], str] = str
    none: str = "none"

    def draw(self, fields: Fields, slot: Slot, place: Any) -> list[str]:
        """Draw a list of which several are taken."""
        return fields.several(
            self.widget(slot),
            self.called(slot),
            list(self.options),
            words=self.words,
            place=place,
            none=self.none,
        )

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read what is chosen; a field that need not be set stays unset for nothing."""
        widget, path = self.widget(slot), self.path(slot)
        typed.where[path] = widget
        chosen = list(typed.answers.get(widget) or [])
        if chosen or self.silent is not None:
            typed.put(path, chosen, widget=widget)

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Choose what a case holds."""
        if (value := self.value(part)) is not None:
            back.values[self.widget(slot)] = list(value)


@dataclass(frozen=True, kw_only=True)
class Tick(Row):
    """Yes or no. on: what the case holds when it is ticked, and not otherwise."""

    on: bool = True

    @property
    def label(self) -> str:
        """What is ticked, as the end of a sentence."""
        return self.says or str(self.model.model_fields[self.name].title)

    def draw(self, fields: Fields, slot: Slot, place: Any) -> bool:
        """Draw a box to tick."""
        return fields.tick(self.widget(slot), self.called(slot), place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read whether it is ticked."""
        widget = self.widget(slot)
        if typed.answers.get(widget):
            typed.put(self.path(slot), self.on, widget=widget)

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Tick it."""
        if self.value(part) == self.on:
            back.values[self.widget(slot)] = True


@dataclass(frozen=True, kw_only=True)
class Called(Row):
    """A name; the slot assumes one."""

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a text field."""
        assumed = slot.assumed.get(self.name)
        return fields.text(self.widget(slot), self.called(slot), assumed=assumed, place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read the name, or take the assumed one."""
        widget = self.widget(slot)
        name = typed.text(widget) or slot.assumed[self.name]
        typed.put(self.path(slot), name, widget=widget)

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Write a name that is not the assumed one."""
        if (name := self.value(part)) != slot.assumed[self.name]:
            back.values[self.widget(slot)] = name


@dataclass(frozen=True, kw_only=True)
class Eyes(Row):
    """The add alone, or the whole prescription of the wearer."""

    @property
    def label(self) -> str:
        """Both that may be typed."""
        return self.says

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a text field."""
        return fields.text(self.widget(slot), self.called(slot), place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read both eyes."""
        read_eyes(typed, at=slot.at, widget=self.widget(slot))

    def write(self, back: Opened, slot: Slot, part: Any) -> None:  # noqa: ARG002
        """Write both eyes, as short as they were told."""
        back.put(self.widget(slot), eyes_words(back.case), f"/{slot.at}/right/add_d")


@dataclass(frozen=True, kw_only=True)
class Powers(Row):
    """The powers of a pair, where they are not those of the prescription."""

    def draw(self, fields: Fields, slot: Slot, place: Any) -> str:
        """Draw a text field."""
        return fields.text(self.widget(slot), self.called(slot), place=place)

    def read(self, typed: Typed, slot: Slot) -> None:
        """Read both eyes, or nothing."""
        read_powers(typed, self.path(slot), widget=self.widget(slot))

    def write(self, back: Opened, slot: Slot, part: Any) -> None:
        """Write both eyes."""
        if (powers := self.value(part)) is not None:
            back.put(self.widget(slot), prescription_words(powers), self.pointer(slot))


def _ids(table: str) -> tuple[str, ...]:
    return tuple(row["id"] for row in tables.rows(table))


def _needs(model_says: str, none: str, place: str) -> AnyOf:
    return AnyOf(
        model=Activity, name="needs", place=place, says=model_says, wide=True,
        options=tuple(questions.NEEDS), words=questions.NEEDS.__getitem__, none=none,
    )  # fmt: skip


_DESIGN_SAYS = {"add_d": "Add", "power_fall": "Power fall upwards"}
_TARGET_SAYS = {
    "distance_cm": "Distance",
    "top_above_eye_cm": "Top edge above (+) or below (−) the eyes",
    "centre_above_eye_cm": "Centre above (+) or below (−) the eyes",
    "text_height_mm": "Height of capitals",
}
_WHERE = ("distance_cm", "top_above_eye_cm", "centre_above_eye_cm")
"""What is asked first of the main screen."""

# fmt: off
WEARER: tuple[Row, ...] = (
    AnyOf(model=Wearer, name="bothers", place="first", wide=True, none="nothing noted",
          options=tuple(BOTHER_WORDS), words=BOTHER_WORDS.__getitem__),
    Number(model=Wearer, name="age_years", place="eyes"),
    Eyes(model=Wearer, name="right", place="eyes", alias="prescription", wide=True,
         says="Add, or the whole prescription"),
    Number(model=Wearer, name="near_test_distance_cm", place="wearer",
           says="Working distance of the add", usual=lambda: 40.0),
    Number(model=Wearer, name="amplitude_d", place="wearer"),
    Number(model=Wearer, name="chart_distance_m", place="wearer",
           says="Distance of the test chart"),
    Number(model=Wearer, name="usable_fraction", place="seldom", wide=True,
           says="Share of the amplitude that can be kept up, 0.1 to 1",
           usual=lambda: Judgements.standard().usable_fraction),
    OneOf(model=Wearer, name="turns", place="wearer", wide=True, in_view=True,
          says="To look sideways the wearer turns", words=questions.TURNS.__getitem__,
          values={"": None, "head": "head", "eyes": "eyes"}),
    Tick(model=Wearer, name="amplitude_through_lenses", place="wearer", wide=True,
         says="amplitude was measured through the glasses", only_with="amplitude_d"),
    Tick(model=Wearer, name="wants_one_pair", place="pairs", wide=True),
    Tick(model=Wearer, name="accepts_lined", place="wearer", wide=True),
    AnyOf(model=Wearer, name="conditions", place="wearer", wide=True, says="History and symptoms",
          options=_ids("conditions"), words=questions.condition_words),
    BothEyes(model=Wearer, name="pd_right_mm", place="fit", alias="pd",
             says="Monocular centration distance R/L", each=("pd_right_mm", "pd_left_mm")),
)
FIT: tuple[Row, ...] = (
    *(Number(model=Fit, name=name, place="fit") for name in Fit.model_fields
      if "fitting_height" not in name),
    BothEyes(model=Fit, name="fitting_height_mm", place="fit", says="Fitting height, or R/L",
             each=("fitting_height_right_mm", "fitting_height_left_mm")),
)
PAIR: tuple[Row, ...] = (
    OneOf(model=OwnedPair, name="kind", place="pair", says="Kind of lens", wide=True, counted=True,
          values={"": None, **{kind: kind for kind in _ids("lens_kinds")}},
          words=questions.kind_words),
    *(Number(model=Design, name=name, place="design", within="design", alias=f"{{}}.{name}",
             sometimes=True, says=_DESIGN_SAYS.get(name, ""))
      for name in Design.model_fields if not Design.choices(name)),
    *(OneOf(model=Design, name=name, place="design", within="design", alias=f"{{}}.{name}",
            sometimes=True, wide=True, says=_DESIGN_SAYS.get(name, ""),
            values={word: word for word in Design.choices(name)},
            words=questions.design_choice_words)
      for name in Design.model_fields if Design.choices(name)),
    Powers(model=OwnedPair, name="prescription", place="design", wide=True,
           says="Its own prescription, if different"),
    OneOf(model=OwnedPair, name="liked", place="liked", wide=True, in_view=True,
          says="Is it liked?", values={"": None, "yes": True, "no": False},
          words=questions.LIKED.__getitem__),
)
TARGET: tuple[Row, ...] = (
    Called(model=Target, name="name", place="name", wide=True),
    *(Number(model=Target, name=name, sometimes=True, says=_TARGET_SAYS.get(name, ""),
             place="where" if name in _WHERE else "target")
      for name in NUMBERS),
    Number(model=Target, name="offset_cm", place="target", says="Sideways: right (+) or left (−)"),
    Number(model=Target, name="desk_below_eye_cm", place="target", screens=True,
           usual=lambda: 50.0),
    Tick(model=Target, name="movable", place="target", alias="{}.fixed", screens=True, wide=True,
         says="cannot be moved", on=False),
)
DAY: tuple[Row, ...] = (
    Called(model=Activity, name="name", place="seldom", says="Name of this part of the day",
           wide=True),
    Number(model=Activity, name="hours", place="day"),
    _needs("Must this pair also do, without changing glasses", "the desk only", "day"),
)
PART: tuple[Row, ...] = (
    Called(model=Activity, name="name", place="part", says="What"),
    _needs("", "nothing", "part_needs"),
    Number(model=Activity, name="hours", place="part_needs", says="Hours"),
)
PRICES: tuple[Row, ...] = tuple(
    Price(model=Case, name=kind.id, place="prices", counted=False)
    for kind in KINDS.values() if kind.is_lens
)
# fmt: on

WEARER_SLOT = Slot("wearer", "wearer")
FIT_SLOT = Slot(
    "fit",
    "fit",
    origin="default",
    assumed={
        row.name: DEFAULT_FITTING_HEIGHT_MM if isinstance(row, BothEyes) else row.silent
        for row in FIT
    },
)
PRICE_SLOT = Slot("prices", "price")


def placed(rows: Iterable[Row], slot: Slot, *places: str) -> Iterator[Row]:
    """Yield the rows that a slot asks in some places of the page, in their order."""
    return (row for row in rows if row.place in places and row.is_asked(slot))


def read(rows: Iterable[Row], typed: Typed, slot: Slot) -> None:
    """Read every row of a part that its slot asks for."""
    for row in rows:
        if row.is_asked(slot):
            row.read(typed, slot)


def write(rows: Iterable[Row], back: Opened, slot: Slot, part: Any) -> None:
    """Write a part of an opened case into its fields."""
    for row in rows:
        if row.is_asked(slot):
            row.write(back, slot, part)
